// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <catch2/catch.hpp>

#include "job/words.h"
#include "job_fixture.h"
#include "shimsight/units.h"
#include "support/refusal.h"

using namespace shimsight;
using namespace shimsight::test;
using Catch::Matchers::Contains;

TEST_CASE("times are read with their zone") {
    // Seconds since 1970 as POSIX.1-2017 4.16 counts them; 1500000000 is 2017-07-14 02:40:00 UTC.
    CHECK(secondsOf("1970-01-01T00:00:00Z") == 0);
    CHECK(secondsOf("2017-07-14T02:40:00Z") == 1'500'000'000);
    CHECK(secondsOf("2017-07-14T04:40:00+02:00") == 1'500'000'000);
    CHECK(secondsOf("2017-07-13T21:10:00-05:30") == 1'500'000'000);
    CHECK(secondsOf("2000-03-01T00:00:00Z") - secondsOf("2000-02-28T00:00:00Z") == 2 * 86'400);
    CHECK(secondsOf("2100-03-01T00:00:00Z") - secondsOf("2100-02-28T00:00:00Z") == 86'400);
    for (const char* bad :
         {"", "2026-03-02", "2026-03-02T14:05:00", "2026-13-02T14:05:00Z", "2026-03-02 14:05:00Z",
          "2026-03-02T25:05:00Z", "2026-03-02T14:05:00+1:00", "2026-03-02T14:05:00Zjunk", "0000-00-00T00:00:00Z"})
        CHECK_THAT(refusalOf([&] { checkTime(bad, "--at"); }), Catch::StartsWith("--at: "));
}

TEST_CASE("bolt torques in three units") {
    // 1 ft-lb = 1.3558179 Nm, 1 in-lb = 0.1129848 Nm (NIST SP 811, appendix B.8).
    CHECK(parseBoltTorqueNm("60ft-lb", "x") == Approx(81.349).epsilon(1e-5));
    CHECK(parseBoltTorqueNm("240 in-lb", "x") == Approx(27.1164).epsilon(1e-5));
    CHECK(parseBoltTorqueNm("80Nm", "x") == 80);
    CHECK(formatBoltTorque(81.349) == "60 ft-lb (81 Nm)");
    CHECK(formatBoltTorque(10) == "7.4 ft-lb (10.0 Nm)");
    CHECK(formatBoltTorqueRange({220, 550}) == "162 to 406 ft-lb (220 to 550 Nm)");
    CHECK(formatBoltTorqueRange({10, 15}) == "7.4 to 11.1 ft-lb (10.0 to 15.0 Nm)");
    CHECK(inUnits(formatBoltTorqueRange({220, 550}), Units::Metric) == "220 to 550 Nm");
    CHECK(inUnits(formatBoltTorqueRange({220, 550}), Units::Inch) == "162 to 406 ft-lb");
    for (const char* bad : {"80", "Nm", "-3Nm", "1e9Nm", "nanNm", "60 foot"})
        CHECK_THAT(refusalOf([&] { (void)parseBoltTorqueNm(bad, "--torque"); }), Catch::StartsWith("--torque: "));
}

TEST_CASE("entries are numbered, and what no axle has is refused") {
    JobRecord job = labJob();
    CHECK(addRunout(job, {stampAt(1), RunoutPlace::RingGear, 0.05}) == "r1");
    CHECK(addRunout(job, {stampAt(2), RunoutPlace::RingGear, 0.05}) == "r2");
    CHECK(job.changedAt == atMinute(2));
    CHECK_THAT(refusalOf([&] {
                   (void)addRunout(job, {stampAt(1), RunoutPlace::RingGear, -1});
               }),
               Contains("runout: -1 mm"));
    CHECK_THAT(refusalOf([&] { (void)addPreload(job, {stampAt(1), 1e9, {}, false}); }), Contains("preload"));
    CHECK_THAT(refusalOf([&] { (void)addBacklash(job, {stampAt(1), {}, {}}); }), Contains("at least one"));
    CHECK_THAT(refusalOf([&] { (void)addBacklash(job, {stampAt(1), {{400, 0.2}}, {}}); }), Contains("degrees"));
    CHECK_THAT(refusalOf([&] { (void)addCarrier(job, {}); }), Contains("at least one number"));
    CHECK_THAT(refusalOf([&] { (void)addRunout(job, {{}, RunoutPlace::RingGear, 0.05}); }), Contains("not a time"));
    CHECK_THAT(refusalOf([&] {
                   WorkEntry work;
                   work.stamp = stampAt(1);
                   work.afterTrial = "t7";
                   work.shimChangeMm = 0.1;
                   (void)addWork(job, work);
               }),
               Contains("no trial \"t7\""));
    JobStamp long_ = stampAt(1);
    long_.note.assign(kMaxJobText + 1, 'x');
    CHECK_THAT(refusalOf([&] { (void)addRunout(job, {long_, RunoutPlace::RingGear, 0.05}); }), Contains("at most"));
    CHECK(job.runouts.size() == 2);
    for (std::size_t i = 0; i < kMaxJobTrials; ++i) (void)addTrial(job, labTrial(3, Verdict::Accept));
    CHECK_THAT(refusalOf([&] { (void)addTrial(job, labTrial(3, Verdict::Accept)); }), Contains("20"));
}

TEST_CASE("control characters of a text become spaces") {
    JobRecord job = labJob();
    addRemark(job, {atMinute(1), "Mi\tra", "red \x1b[31m\nand \x7f"});
    CHECK(job.remarks[0].text == "red  [31m\nand  ");
    CHECK(job.remarks[0].by == "Mi ra");
}

TEST_CASE("an entry is struck out, not deleted") {
    JobRecord job = fullJob();
    CHECK_THAT(refusalOf([&] { strikeOut(job, "p9", {atMinute(60), "Mira", "wrong"}); }), Contains("no entry"));
    CHECK_THAT(refusalOf([&] { strikeOut(job, "p1", {atMinute(60), "Mira", ""}); }), Contains("say why"));
    strikeOut(job, "p1", {atMinute(60), "Mira", "misread"});
    CHECK_THAT(refusalOf([&] { strikeOut(job, "p1", {atMinute(60), "Mira", "again"}); }), Contains("already"));
    CHECK(job.preloads.size() == 2);
    CHECK_FALSE(job.preloads[0].stamp.counts());
    for (const Judgement& one : judgeAll(job)) CHECK(one.entryId != "p1");
}

TEST_CASE("an entry that was struck out counts again, and both stay to be seen") {
    JobRecord job = fullJob();
    CHECK_THAT(refusalOf([&] { restoreEntry(job, "p1", atMinute(60), "Mira"); }), Contains("it counts"));
    CHECK_THAT(refusalOf([&] { restoreEntry(job, "p9", atMinute(60), "Mira"); }), Contains("no entry"));
    strikeOut(job, "t1", {atMinute(60), "Mira", "photo of another axle", "request-a"});
    REQUIRE(historyOf(job).size() == job.trials.size() - 1);
    restoreEntry(job, "t1", atMinute(61), "Kim", "request-b");
    CHECK(historyOf(job).size() == job.trials.size());
    CHECK(job.changedAt == atMinute(61));
    // The history says so after writing and reading, too.
    const JobRecord read = parseJob(writeJob(job), "job.json");
    REQUIRE(read.trials[0].stamp.restored.size() == 1);
    const TakenBack& back = read.trials[0].stamp.restored[0];
    CHECK(back.struck.why == "photo of another axle");
    CHECK(back.struck.request == "request-a");
    CHECK(back.at == atMinute(61));
    CHECK(back.by == "Kim");
    CHECK(back.request == "request-b");
    for (std::size_t i = 1; i < kMaxTakenBack; ++i) {
        strikeOut(job, "t1", {atMinute(62), "Mira", "again"});
        restoreEntry(job, "t1", atMinute(63), "Mira");
    }
    strikeOut(job, "t1", {atMinute(62), "Mira", "once more"});
    CHECK_THAT(refusalOf([&] { restoreEntry(job, "t1", atMinute(63), "Mira"); }), Contains("Enter it anew"));
}

TEST_CASE("a trial struck out or restored changes the advice of the trials after it") {
    JobRecord job = labJob();
    for (const double rootTip : {0.75, 0.6}) (void)addTrial(job, labTrial(10, Verdict::Change, rootTip));
    job.trials.back().measurement->advice->trials = 2;
    strikeOut(job, "t1", {atMinute(60), "Mira", "misread"});
    CHECK(adviseAgain(job, "t1", atMinute(60), "Mira"));
    CHECK(job.trials.back().measurement->advice->trials == 1);
    restoreEntry(job, "t1", atMinute(61), "Mira");
    CHECK(adviseAgain(job, "t1", atMinute(61), "Mira"));
    CHECK(job.trials.back().measurement->advice->trials == 2);
    // The last one itself learns from those before it, which did not change.
    CHECK_FALSE(adviseAgain(job, "t2", atMinute(62), "Mira"));
}

TEST_CASE("a job is corrected, what stood there is kept, and its check lists follow the set") {
    JobRecord job = labJob();
    tickCheck(job, "pinion-support-bolts", {.torqueNm = 80, .at = atMinute(5), .by = "Mira"});
    (void)addCheck(job, CheckList::FinalAssembly, "Tag on the key");
    JobCorrection wanted{.gearSet = labGearSet("lab-farm-truck-rear-axle.json"),
                         .axle = "Van 14",
                         .customer = {},
                         .at = atMinute(9),
                         .by = "Kim"};
    correctJob(job, wanted);
    CHECK(job.axle == "Van 14");
    CHECK(job.gearSet.data.name != labGearSet().data.name);
    REQUIRE(job.remarks.size() == 2);
    CHECK_THAT(job.remarks[0].text, Contains("Van 12, rear axle"));
    CHECK_THAT(job.remarks[1].text, Contains(labGearSet().data.name) && Contains("43 and 11"));
    const auto line = [&](const std::string& key) {
        return std::any_of(job.checks.begin(), job.checks.end(), [&](const CheckItem& one) { return one.key == key; });
    };
    CHECK(line("own-1"));
    CHECK(line("pinion-support-bolts"));  // ticked: it stays
    JobRecord untouched = labJob();
    REQUIRE(std::any_of(untouched.checks.begin(), untouched.checks.end(),
                        [](const CheckItem& one) { return one.key == "pinion-support-bolts"; }));
    wanted.gearSet = labGearSet("lab-van-rear-axle-b.json");  // no support, no bolts of it
    correctJob(untouched, wanted);
    CHECK(std::none_of(untouched.checks.begin(), untouched.checks.end(),
                       [](const CheckItem& one) { return one.key == "pinion-support-bolts"; }));
    wanted.axle = "";
    CHECK_THAT(refusalOf([&] { correctJob(job, wanted); }), Contains("which axle"));
    (void)parseJob(writeJob(job), "job.json");
}

TEST_CASE("a job with steps open is signed off only with a reason, and then closed") {
    JobRecord job = fullJob();
    JobStamp stamp = stampAt(90);
    CHECK_THAT(refusalOf([&] { signOff(job, stamp); }),
               Contains("still open: Parts and match numbers; Pinion seal and nut, for good; Preload of the pinion "
                        "bearings, for good; Torques; Final pattern; Final assembly"));
    stamp.note = "the workshop closes for the week";
    signOff(job, stamp);
    REQUIRE(signedOff(job) != nullptr);
    CHECK(signedOff(job)->open == std::vector<std::string>{"Parts and match numbers", "Pinion seal and nut, for good",
                                                           "Preload of the pinion bearings, for good", "Torques",
                                                           "Final pattern", "Final assembly"});
    CHECK_THAT(refusalOf([&] {
                   (void)addRunout(job, {stampAt(91), RunoutPlace::RingGear, 0.05});
               }),
               Contains("signed off by Mira") && Contains(timeWords(stamp.at)) && !Contains(stamp.at));
    CHECK_THAT(refusalOf([&] { tickCheck(job, "cover", {}); }), Contains("signed off"));
    reopen(job, {atMinute(95), "Mira", "seals came in"});
    CHECK(signedOff(job) == nullptr);
    CHECK(addRunout(job, {stampAt(96), RunoutPlace::RingGear, 0.05}) == "r3");
}

namespace {

std::string nextStep(const JobRecord& job) {
    for (const JobStep& step : jobStatus(job).steps)
        if (step.state == StepState::Next) return step.key;
    return {};
}

StepState stateOf(const JobRecord& job, const std::string& key) {
    for (const JobStep& step : jobStatus(job).steps)
        if (step.key == key) return step.state;
    throw std::logic_error("no such step");
}

std::string nextWords(const JobRecord& job) { return text(jobStatus(job).next); }

/// A torque that no joint of an axle makes odd, where the line is of one.
Tick tickAt(const CheckItem& item, int minute) {
    Tick tick;
    tick.at = atMinute(minute);
    if (takesTorque(item)) tick.torqueNm = item.key == "pinion-nut" ? 240 : item.key == "adjuster-locks" ? 20 : 60;
    return tick;
}

void tickAll(JobRecord& job, CheckList list, int minute) {
    for (std::size_t i = 0; i < job.checks.size(); ++i)
        if (job.checks[i].list == list) tickCheck(job, job.checks[i].key, tickAt(job.checks[i], minute));
}

const CheckItem& lineOf(const JobRecord& job, std::string_view key) {
    return *std::find_if(job.checks.begin(), job.checks.end(), [&](const CheckItem& item) { return item.key == key; });
}

std::string detailOf(const JobRecord& job, const std::string& key) {
    for (const JobStep& step : jobStatus(job).steps)
        if (step.key == key) return text(step.detail);
    throw std::logic_error("no such step");
}

DepthEntry marksEntry(int minute) {
    DepthEntry entry;
    entry.stamp = stampAt(minute);
    entry.oldFigureMm = 0.0508, entry.newFigureMm = -0.0254, entry.shimStackMm = 0.762;
    return entry;
}

/// Parts, start and preload for rolling, runout, carrier and backlash: all that comes before the first trial.
void getReadyToRoll(JobRecord& job, bool forTrial) {
    tickAll(job, CheckList::Parts, 1);
    (void)addDepth(job, marksEntry(2));
    (void)addPreload(job, {stampAt(3), 1.7, {}, false, forTrial});
    (void)addRunout(job, {stampAt(4), RunoutPlace::RingGear, 0.05});
    CarrierEntry carrier;
    carrier.stamp = stampAt(5);
    carrier.torqueNm = 2.5;
    (void)addCarrier(job, carrier);
    (void)addBacklash(job, {stampAt(6), {{0, 0.2}}, DialReading::SquareToTooth});
}

/// A job whose pinion has a crush sleeve and its shims behind the head.
JobRecord sleeveJob() {
    JobRecord job = newJob(labGearSet("lab-van-rear-axle-b.json"), "Van 14", "", "Mira", "2026-03-02T08:00:00+01:00");
    job.gearSet.data.limits.preloadNewNm = Interval{1.58, 1.81};
    return job;
}

}  // namespace

TEST_CASE("a start that no longer fits the corrected gear set is asked for again, and the job still opens") {
    // With these marks the shims get thinner in one place and thicker in the other, and there are few of them.
    DepthEntry few = marksEntry(2);
    few.oldFigureMm = -0.0508, few.newFigureMm = 0.0508, few.shimStackMm = 0.10;
    int fitting = 0;
    for (const PinionShim place : {PinionShim::BehindPinionHead, PinionShim::UnderPinionSupport}) {
        JobRecord job = labJob();
        job.gearSet.data.build.pinionShim = place;
        try {
            (void)addDepth(job, few);
        } catch (const InputError&) {
            continue;
        }
        ++fitting;
        tickAll(job, CheckList::Parts, 1);
        CHECK(nextStep(job) == "trial-preload");
        job.gearSet.data.build.pinionShim =
            place == PinionShim::BehindPinionHead ? PinionShim::UnderPinionSupport : PinionShim::BehindPinionHead;
        CHECK_FALSE(fittingStartOf(job, job.depths.front()));
        CHECK(nextStep(job) == "start-depth");
    }
    CHECK(fitting == 1);
}

TEST_CASE("the whole way to the sign-off, each step in its turn") {
    JobRecord job = labJob();
    CHECK(nextStep(job) == "parts");
    tickAll(job, CheckList::Parts, 1);
    CHECK(nextStep(job) == "start-depth");
    (void)addDepth(job, marksEntry(2));
    CHECK(nextStep(job) == "trial-preload");
    CHECK_THAT(nextWords(job), Contains("in its support, on the bench"));
    (void)addPreload(job, {stampAt(3), 4.0, {}, false});
    CHECK(nextStep(job) == "trial-preload");  // far above the limits of 14 to 16 in-lb
    (void)addPreload(job, {stampAt(4), 1.7, {}, false});
    CHECK(nextStep(job) == "runout");
    (void)addRunout(job, {stampAt(5), RunoutPlace::RingGear, 0.3});
    CHECK(nextStep(job) == "runout");  // far above the limit of 0.0762 mm
    (void)addRunout(job, {stampAt(6), RunoutPlace::RingGear, 0.05});
    CHECK(nextStep(job) == "carrier");
    CHECK_THAT(nextWords(job), Contains("by the adjusters"));
    CarrierEntry carrier;
    carrier.stamp = stampAt(7);
    carrier.torqueNm = 2.5;
    (void)addCarrier(job, carrier);
    CHECK(nextStep(job) == "backlash");
    (void)addBacklash(job, {stampAt(8), {{0, 0.2}}, DialReading::SquareToTooth});
    CHECK(nextStep(job) == "pattern");
    (void)addTrial(job, labTrial(10, Verdict::Change));
    CHECK_THAT(nextWords(job), Contains("Take out 0.005 in (0.13 mm) of shim under the pinion support"));
    WorkEntry work;
    work.stamp = stampAt(20);
    work.shimChangeMm = -0.127;
    (void)addWork(job, work);
    // Bearings in a support stay as they are when shims go under it, and the next trial brings its own backlash.
    CHECK(nextStep(job) == "pattern");
    CHECK_THAT(nextWords(job), Contains("Paint"));
    TrialEntry second = labTrial(30, Verdict::Accept);
    second.shimStackMm = 0.635;
    (void)addTrial(job, second);
    const auto tickEach = [&](CheckList list, const char* step, int minute) {
        for (std::size_t i = 0; i < job.checks.size(); ++i)
            if (job.checks[i].list == list) {
                CHECK(nextStep(job) == step);
                tickCheck(job, job.checks[i].key, tickAt(job.checks[i], minute));
            }
    };
    // Seal and nut go in when the pattern is right; the preload is read with them, whatever was read before.
    CHECK(nextStep(job) == "pinion");
    CHECK_THAT(nextWords(job), Contains("Take the pinion nut off once more") && Contains("fingers out of its way"));
    CHECK(stateOf(job, "preload") == StepState::Open);
    tickEach(CheckList::Pinion, "pinion", 40);
    CHECK(nextStep(job) == "preload");
    CHECK_THAT(detailOf(job, "preload"), Contains("Read before the pinion was in for good"));
    (void)addPreload(job, {stampAt(41), 1.75, {}, true});
    tickEach(CheckList::Torque, "torques", 42);
    // That trial was rolled before all this was tight.
    CHECK(nextStep(job) == "final-pattern");
    CHECK_THAT(detailOf(job, "final-pattern"),
               Contains("Trial t2 was rolled before this was done for good: preload of the pinion, oil-seals") &&
                   Contains("pinion-nut") && Contains("bearing-caps") && Contains("ring-gear-bolts"));
    second.stamp = stampAt(43);
    (void)addTrial(job, second);
    CHECK(stateOf(job, "final-pattern") == StepState::Done);
    tickEach(CheckList::FinalAssembly, "final-assembly", 44);
    CHECK(nextStep(job) == "sign-off");
    CHECK(jobStatus(job).attention.empty());
    signOff(job, stampAt(50));
    CHECK(nextStep(job).empty());
}

TEST_CASE("a crush sleeve: rolled with set-up bearings, crushed once, read with its seal, rolled once more") {
    JobRecord job = sleeveJob();
    tickAll(job, CheckList::Parts, 1);
    (void)addDepth(job, marksEntry(2));
    CHECK_THAT(nextWords(job), Contains("set-up bearings or the old sleeve"));
    getReadyToRoll(job, true);
    CHECK(nextStep(job) == "pattern");
    CHECK(stateOf(job, "preload") == StepState::Open);  // for rolling only
    WorkEntry work;
    (void)addTrial(job, labTrial(10, Verdict::Change));
    work.stamp = stampAt(20);
    work.shimChangeMm = 0.05;
    (void)addWork(job, work);
    CHECK(nextStep(job) == "trial-preload");  // the pinion was out
    (void)addPreload(job, {stampAt(21), 1.6, {}, false, true});
    CHECK(nextStep(job) == "pattern");
    TrialEntry second = labTrial(30, Verdict::Accept);
    second.shimStackMm = 0.812;
    (void)addTrial(job, second);
    CHECK(nextStep(job) == "pinion");
    CHECK_THAT(nextWords(job), Contains("carrier and pinion out once more") &&
                                   Contains("the new crush sleeve, the pinion seal, the flange and the nut for good") &&
                                   Contains("Never back the nut off"));
    tickAll(job, CheckList::Pinion, 31);
    CHECK(nextStep(job) == "preload");
    CHECK_THAT(nextWords(job), Contains("Never back the nut off"));
    SECTION("the sheet has a figure with the seal") {
        job.gearSet.data.limits.preloadWithSeal.newNm = Interval{2.0, 2.6};
        (void)addPreload(job, {stampAt(31), 2.9, {}, true});
        CHECK(nextStep(job) == "preload");
        CHECK_THAT(nextWords(job), Contains("never back the nut off"));
        (void)addPreload(job, {stampAt(32), 2.3, {}, true});
        CHECK(judgePreload(job, job.preloads.back()).result == JudgedAs::Pass);
    }
    SECTION("the sheet has only the one without: no dead end") {
        (void)addPreload(job, {stampAt(31), 1.2, {}, true});
        CHECK(nextStep(job) == "preload");  // below what the bearings alone must have, seal and all
        (void)addPreload(job, {stampAt(32), 2.3, {}, true});
        CHECK(judgePreload(job, job.preloads.back()).result == JudgedAs::NoLimitKnown);
        CHECK_THAT(judgePreload(job, job.preloads.back()).sentence, Contains("Do not back the nut off"));
    }
    CHECK(nextStep(job) == "torques");
    tickAll(job, CheckList::Torque, 33);
    CHECK(nextStep(job) == "final-pattern");
    CHECK_THAT(nextWords(job), Contains("once more"));
    second.stamp = stampAt(40);
    (void)addTrial(job, second);
    CHECK(nextStep(job) == "final-assembly");
    tickAll(job, CheckList::FinalAssembly, 41);
    CHECK(nextStep(job) == "sign-off");
    CHECK(jobStatus(job).attention.empty());
}

TEST_CASE("the cover and the shafts are tightened last, after the last trial") {
    const JobRecord job = labJob();
    std::vector<std::string> final;
    for (const CheckItem& item : job.checks)
        if (item.list == CheckList::FinalAssembly) final.push_back(item.key);
    const auto at = [&](const char* key) { return std::find(final.begin(), final.end(), key) - final.begin(); };
    for (const char* key : {"cover", "shaft-bolts"}) {
        CHECK(lineOf(job, key).list == CheckList::FinalAssembly);
        CHECK(takesTorque(lineOf(job, key)));
    }
    CHECK(at("paste-cleaned") < at("o-ring"));
    CHECK(at("o-ring") < at("cover"));
    CHECK(at("cover") < at("oil-filled"));
    CHECK(at("shaft-retainers") < at("shaft-bolts"));
    CHECK_FALSE(takesTorque(lineOf(job, "brakes")));
}

TEST_CASE("what closes the axle before the last trial is told") {
    JobRecord job = labJob();
    getReadyToRoll(job, false);
    (void)addTrial(job, labTrial(10, Verdict::Accept));
    tickCheck(job, "cover", tickAt(lineOf(job, "cover"), 11));
    REQUIRE(jobStatus(job).attention.size() == 1);
    CHECK(jobStatus(job).attention[0].kind == AttentionKind::FittedEarly);
    CHECK_THAT(text(jobStatus(job).attention[0].sentence), Contains("\"cover\"") && Contains("come off again"));
}

TEST_CASE("a change of the setting undoes what had to come apart for it") {
    JobRecord job = sleeveJob();
    getReadyToRoll(job, true);
    (void)addTrial(job, labTrial(10, Verdict::Accept));
    tickAll(job, CheckList::Pinion, 11);
    tickAll(job, CheckList::Torque, 12);
    WorkEntry work;
    work.stamp = stampAt(20);
    work.backlashMm = 0.18;
    SECTION("the ring gear was moved: the caps were loose") {
        work.shimChangeMm = 0;
        (void)addWork(job, work);
        CHECK(stateOf(job, "pinion") == StepState::Done);
        CHECK_THAT(detailOf(job, "torques"),
                   Contains("bearing-caps (ticked before the last change)") && !Contains("ring-gear-bolts (ticked"));
        CHECK(openAgain(job, lineOf(job, "bearing-caps")) == OpenAgain::BeforeChange);
        CHECK(openAgain(job, lineOf(job, "ring-gear-bolts")) == std::nullopt);
    }
    SECTION("the ring gear ran out: it came off its case") {
        (void)addRunout(job, {stampAt(20), RunoutPlace::RingGear, 0.3});
        CHECK(openAgain(job, lineOf(job, "ring-gear-bolts")) == std::nullopt);
        (void)addRunout(job, {stampAt(21), RunoutPlace::RingGear, 0.02});
        CHECK(openAgain(job, lineOf(job, "ring-gear-bolts")) == OpenAgain::BeforeChange);
        CHECK(openAgain(job, lineOf(job, "bearing-caps")) == std::nullopt);
    }
    SECTION("the pinion was out: nut, seal and sleeve too") {
        work.shimChangeMm = 0.05;
        (void)addWork(job, work);
        CHECK_THAT(detailOf(job, "pinion"),
                   Contains("new-sleeve (ticked before the last change)") && Contains("pinion-nut (ticked"));
        tickAll(job, CheckList::Pinion, 21);
        CHECK(detailOf(job, "pinion") == "4 of 4 done.");
    }
}

TEST_CASE("a torque line is done with a value, or with a note that says why there is none") {
    JobRecord job = labJob();
    Tick tick;
    tick.at = atMinute(5);
    for (const char* key : {"pinion-nut", "bearing-caps", "cover"}) {
        CHECK_THAT(refusalOf([&] { tickCheck(job, key, tick); }),
                   Catch::StartsWith(key) && Contains("Enter the torque as tightened, or a note"));
        CHECK(lineOf(job, key).state == CheckState::Open);
    }
    tickCheck(job, "oil-seals", tick);  // no joint
    (void)addCheck(job, CheckList::Torque, "Bolts of the stone guard");
    CHECK_THAT(refusalOf([&] { tickCheck(job, "own-1", tick); }), Contains("Enter the torque"));
    tick.note = "by angle, as the sheet says";
    tickCheck(job, "bearing-caps", tick);
    CHECK_THAT(detailOf(job, "torques"), !Contains("bearing-caps"));
    // Older records have ticks without either: these lines are open.
    job.checks.front().state = CheckState::Open;
    for (CheckItem& item : job.checks)
        if (item.key == "pinion-nut") item.state = CheckState::Done, item.stamp.at = atMinute(6);
    CHECK_THAT(detailOf(job, "pinion"), Contains("pinion-nut (no torque)"));
    CHECK(openAgain(job, lineOf(job, "pinion-nut")) == OpenAgain::WithoutTorque);
    tick.note.clear();
    tick.state = CheckState::NotNeeded;
    tickCheck(job, "adjuster-locks", tick);
    CHECK_THAT(detailOf(job, "torques"), !Contains("adjuster-locks"));
}

TEST_CASE("a record of the former order opens with its ticks, each line where its work is done") {
    JobRecord job = labJob();
    for (CheckItem& item : job.checks) {
        const bool torque = takesTorque(item);
        if (item.list != CheckList::Parts) item.list = torque ? CheckList::Torque : CheckList::FinalAssembly;
        item.state = CheckState::Done;
        item.stamp.at = atMinute(50), item.stamp.by = "Mira";
        if (torque) item.torqueNm = 60;
    }
    for (CheckItem& item : job.checks)
        if (item.key == "pinion-nut") item.torqueNm = 240;
    (void)addTrial(job, labTrial(10, Verdict::Accept));
    (void)addPreload(job, {stampAt(46), 1.65, {}, false});
    (void)addCheck(job, CheckList::Torque, "Bolts of the stone guard");
    JobRecord read = parseJob(writeJob(job), "job.json");
    CHECK(read.checks.size() == job.checks.size());
    CHECK(lineOf(read, "pinion-nut").list == CheckList::Pinion);
    CHECK(lineOf(read, "oil-seals").list == CheckList::Pinion);
    CHECK(lineOf(read, "cover").list == CheckList::FinalAssembly);
    CHECK(lineOf(read, "cap-torque").list == CheckList::Torque);
    CHECK(lineOf(read, "own-1").list == CheckList::Torque);
    CHECK(lineOf(read, "cover").torqueNm == 60);
    CHECK(lineOf(read, "cover").stamp.at == atMinute(50));
    CHECK(stateOf(read, "pinion") == StepState::Done);
    // Not signed off, it is asked for what the former order did not ask; signed off, it stays as it was signed.
    CHECK(stateOf(read, "preload") == StepState::Open);
    SignOff sign;
    sign.stamp = stampAt(60);
    sign.open = {"Backlash"};
    read.signOffs.push_back(sign);
    CHECK(stateOf(read, "preload") == StepState::Done);
    CHECK(stateOf(read, "final-pattern") == StepState::Done);
    CHECK(detailOf(read, "final-pattern") == "Counted as done when the job was signed off.");
    CHECK(stateOf(read, "torques") == StepState::Open);  // a line of it is
    CHECK(jobStatus(read).attention.size() == 1);        // signed off with the backlash open, nothing else
}

TEST_CASE("witness marks and locks by what holds the carrier; where the file does not say it, no locks are asked for") {
    JobRecord job = labJob();
    const auto has = [&](const char* key) {
        return std::any_of(job.checks.begin(), job.checks.end(),
                           [&](const CheckItem& item) { return item.key == key; });
    };
    CHECK(lineOf(job, "witness-marks").text == "Witness marks across pinion nut, cap bolts and adjusters");
    CHECK(has("adjuster-locks"));
    for (const std::optional<CarrierSetting>& carrier :
         {std::optional(CarrierSetting::CarrierShims), std::optional(CarrierSetting::OutboardShims),
          std::optional<CarrierSetting>()}) {
        job.gearSet.data.build.carrier = carrier;
        fitCheckLists(job);
        CHECK(lineOf(job, "witness-marks").text == "Witness marks across pinion nut and cap bolts");
        CHECK_FALSE(has("adjuster-locks"));
    }
}

TEST_CASE("readings that no axle gives are asked about, and taken with a note") {
    JobRecord job = labJob(), shims = sleeveJob();
    constexpr double kInchPound = 0.1129848;
    const auto asks = [](const auto& add, const char* what) {
        CHECK_THAT(refusalOf(add), Contains(what) && Contains("Was it read in the right unit?") &&
                                       Contains("enter it with a note that says so"));
    };
    JobStamp noted = stampAt(1);
    noted.note = "read twice";
    for (const bool forTrial : {false, true}) {
        PreloadEntry preload{stampAt(1), 500 * kInchPound, {}, false, forTrial};
        asks([&] { (void)addPreload(job, preload); },
             "500 in-lb (56.49 Nm) is high for the turning torque of a pinion");
        preload.stamp = noted;
        (void)addPreload(job, preload);
    }
    RunoutEntry runout{stampAt(1), RunoutPlace::RingGear, 5.08};
    asks([&] { (void)addRunout(job, runout); }, "0.200 in (5.08 mm) is high for the runout of a ring gear");
    runout.mm = 0.3;  // far outside its limit, but a ring gear can have it
    (void)addRunout(job, runout);
    BacklashEntry backlash{stampAt(1), {{0, 0.2}, {90, 2.54}}, {}};
    asks([&] { (void)addBacklash(job, backlash); }, "0.100 in (2.54 mm) is high for the backlash of an axle");
    backlash.stamp = noted;
    CHECK(addBacklash(job, backlash) == "b1");
    CarrierEntry carrier;
    carrier.stamp = stampAt(1);
    carrier.leftNotches = 900;
    asks([&] { (void)addCarrier(job, carrier); }, "900 notches is high for an adjuster");
    carrier.leftNotches = -3;
    CHECK(addCarrier(job, carrier) == "c1");
    carrier = {};
    carrier.stamp = stampAt(1);
    carrier.torqueNm = 500 * kInchPound;
    asks([&] { (void)addCarrier(job, carrier); }, "is high for a turning torque");
    carrier.torqueNm.reset();
    carrier.leftShimsMm = 30;
    asks([&] { (void)addCarrier(shims, carrier); }, "is high for the shims at one side");
    carrier.leftShimsMm = 2.3, carrier.spreadMm = 5;
    asks([&] { (void)addCarrier(shims, carrier); }, "is high for the spread of a housing");
    WorkEntry work;
    work.stamp = stampAt(1);
    work.rightNotches = -400;
    asks([&] { (void)addWork(job, work); }, "400 notches is high for an adjuster");
    // What the sheet itself asks for is not odd.
    job.gearSet.data.limits.preloadNewNm = Interval{50, 60};
    CHECK(addPreload(job, {stampAt(2), 500 * kInchPound, {}, false}) == "p3");
}

TEST_CASE("notches on an axle with side shims, and side shims on one with adjusters, are refused") {
    JobRecord adjusters = labJob(), shims = sleeveJob(), unknown = labJob();
    unknown.gearSet.data.build.carrier.reset();
    CarrierEntry notches, sides;
    notches.stamp = sides.stamp = stampAt(1);
    notches.stamp.note = sides.stamp.note = "as read";  // a note does not make it another axle
    notches.leftNotches = 2;
    sides.rightShimsMm = 2.3;
    CHECK_THAT(refusalOf([&] { (void)addCarrier(shims, notches); }), Contains("side shims and no threaded adjusters"));
    CHECK_THAT(refusalOf([&] { (void)addCarrier(adjusters, sides); }),
               Contains("threaded adjusters and no side shims"));
    CHECK(addCarrier(adjusters, notches) == "c1");
    CHECK(addCarrier(shims, sides) == "c1");
    CHECK(addCarrier(unknown, notches) == "c1");
    CHECK(addCarrier(unknown, sides) == "c2");
    WorkEntry work;
    work.stamp = stampAt(2);
    work.leftNotches = 1;
    CHECK_THAT(refusalOf([&] { (void)addWork(shims, work); }), Contains("no threaded adjusters"));
}

TEST_CASE("each axle is asked only for what it has") {
    const auto keys = [](const JobRecord& job, CheckList list) {
        std::vector<std::string> found;
        for (const CheckItem& item : job.checks)
            if (item.list == list) found.push_back(item.key);
        return found;
    };
    const auto has = [](const std::vector<std::string>& list, const char* key) {
        return std::find(list.begin(), list.end(), key) != list.end();
    };
    const JobRecord sleeve = sleeveJob(), support = labJob();
    CHECK(has(keys(sleeve, CheckList::Pinion), "new-sleeve"));
    CHECK_FALSE(has(keys(support, CheckList::Pinion), "new-sleeve"));
    for (const JobRecord* one : {&sleeve, &support})
        for (const char* key : {"oil-seals", "new-nut", "pinion-nut"}) CHECK(has(keys(*one, CheckList::Pinion), key));
    CHECK(has(keys(support, CheckList::Torque), "pinion-support-bolts"));
    CHECK_FALSE(has(keys(sleeve, CheckList::Torque), "pinion-support-bolts"));
    CHECK(has(keys(support, CheckList::Torque), "adjuster-locks"));
    CHECK_FALSE(has(keys(sleeve, CheckList::Torque), "adjuster-locks"));
    for (const char* key : {"shaft-retainers", "brakes", "cover", "break-in", "oil-filled"})
        CHECK(has(keys(sleeve, CheckList::FinalAssembly), key));
    for (const char* key : {"match-numbers", "ring-bolts-kind", "ring-gear-on"})
        CHECK(has(keys(sleeve, CheckList::Parts), key));
    // Dry for the trial fitting; with thread locker at the end, in one go with the torque, before the caps.
    for (const JobRecord* one : {&sleeve, &support}) {
        CHECK_THAT(lineOf(*one, "ring-gear-on").text, Contains("no thread locker yet"));
        CHECK_THAT(lineOf(*one, "ring-gear-bolts").text, Contains("thread locker") && Contains("torqued at once"));
        CHECK_FALSE(has(keys(*one, CheckList::Parts), "thread-locker"));
        CHECK(keys(*one, CheckList::Torque).front() == "ring-gear-bolts");
    }
    // A carrier that is set by side shims is not asked for notches.
    JobRecord shims = sleeve;
    tickAll(shims, CheckList::Parts, 1);
    (void)addDepth(shims, marksEntry(2));
    (void)addPreload(shims, {stampAt(3), 1.7, {}, false, true});
    (void)addRunout(shims, {stampAt(4), RunoutPlace::RingGear, 0.05});
    CHECK(nextStep(shims) == "carrier");
    CHECK_THAT(nextWords(shims), Contains("by the shims at both sides"));
    // Nothing is taken apart for a check; used gears go back with their shims.
    JobRecord check = labJob();
    check.build = BuildKind::CheckOnly;
    fitCheckLists(check);
    CHECK(keys(check, CheckList::Parts).empty());
    CHECK(stateOf(check, "parts") == StepState::NotNeeded);
    CHECK(nextStep(check) == "runout");
    CHECK_FALSE(has(keys(check, CheckList::Pinion), "oil-seals"));
    JobRecord used = labJob();
    used.build = BuildKind::UsedGears;
    fitCheckLists(used);
    CHECK(stateOf(used, "start-depth") == StepState::NotNeeded);
    CHECK(nextStep(used) == "pattern");  // their wear is read before anything comes apart
    CHECK_THAT(used.checks.front().text, Contains("the pair that ran together"));
    // Lists that somebody has worked on stay.
    tickAll(used, CheckList::Parts, 1);
    used.build = BuildKind::CheckOnly;
    fitCheckLists(used);
    CHECK_FALSE(keys(used, CheckList::Parts).empty());
    // A record from before the list of parts is asked for none.
    JobRecord old = labJob();
    old.checks.erase(std::remove_if(old.checks.begin(), old.checks.end(),
                                    [](const CheckItem& item) { return item.list == CheckList::Parts; }),
                     old.checks.end());
    CHECK(stateOf(old, "parts") == StepState::NotNeeded);
}

TEST_CASE("an odd torque is asked about, unless the sheet holds it or a note says that it is right") {
    JobRecord job = labJob();
    Tick tick;
    tick.at = atMinute(50);
    tick.torqueNm = 5 * 1.3558179;
    CHECK_THAT(refusalOf([&] { tickCheck(job, "pinion-nut", tick); }),
               Contains("5.0 ft-lb (6.8 Nm) is low for a pinion nut") && Contains("with a note"));
    CHECK_THAT(refusalOf([&] { tickCheck(job, "bearing-caps", tick); }), Contains("is low for bearing caps"));
    tick.wantedNm = Interval{5, 10};
    tickCheck(job, "pinion-nut", tick);
    CHECK(judgeTorque(job, *std::find_if(job.checks.begin(), job.checks.end(),
                                         [](const CheckItem& item) { return item.key == "pinion-nut"; }))
              .result == JudgedAs::Pass);
    tick.wantedNm.reset();
    tick.note = "garden tractor";
    tickCheck(job, "bearing-caps", tick);
    const auto caps = std::find_if(job.checks.begin(), job.checks.end(),
                                   [](const CheckItem& item) { return item.key == "bearing-caps"; });
    CHECK(judgeTorque(job, *caps).result == JudgedAs::NoLimitKnown);
    CHECK_THAT(judgeTorque(job, *caps).sentence, Contains("Was it read in the right unit?"));
    tick.torqueNm = 2500;
    tick.note.clear();
    CHECK_THAT(refusalOf([&] { tickCheck(job, "cover", tick); }), Contains("is high for the cover"));
}

TEST_CASE("torques, carrier and flanges are judged by what the file gives, and by nothing else") {
    JobRecord job = labJob();
    CarrierEntry carrier;
    carrier.stamp = stampAt(5);
    carrier.torqueNm = 2.5;
    carrier.spreadMm = 0.20;
    CHECK(judgeCarrier(job, carrier).result == JudgedAs::NoLimitKnown);
    CHECK_THAT(judgeCarrier(job, carrier).sentence, Contains("The gear-set file gives no limit for it"));
    LimitsData& limits = job.gearSet.data.limits;
    limits.total.newNm = Interval{2.0, 3.0};
    CHECK(judgeCarrier(job, carrier).result == JudgedAs::Pass);
    CHECK_THAT(judgeCarrier(job, carrier).sentence, Contains("In all, 22 in-lb (2.50 Nm) is inside the limits"));
    limits.carrierSpreadMm = Interval{0.05, 0.15};
    CHECK(judgeCarrier(job, carrier).result == JudgedAs::Fail);
    CHECK_THAT(judgeCarrier(job, carrier).sentence, Contains("too tight, and it may bend the housing"));
    limits.carrierSpreadMm.reset();
    // What the carrier adds to the pinion's own torque, where that was read.
    limits.carrierPreload.newNm = Interval{0.3, 0.6};
    CHECK(judgeCarrier(job, carrier).result == JudgedAs::Pass);
    (void)addPreload(job, {stampAt(3), 1.7, {}, false});
    CHECK_THAT(judgeCarrier(job, carrier).sentence, Contains("add 7.1 in-lb (0.80 Nm)"));
    CHECK(judgeCarrier(job, carrier).result == JudgedAs::Fail);
    // With the seal in, the limits with the seal count, and those without do not.
    carrier.withOilSeal = true;
    CHECK(judgeCarrier(job, carrier).result == JudgedAs::NoLimitKnown);

    limits.carrierFlangeRunoutMm = 0.0762;
    CHECK(judgeRunout(job, {stampAt(1), RunoutPlace::CarrierFlange, 0.05}).result == JudgedAs::Pass);
    CHECK(judgeRunout(job, {stampAt(1), RunoutPlace::CarrierFlange, 0.10}).result == JudgedAs::Fail);
    CHECK(judgeRunout(job, {stampAt(1), RunoutPlace::PinionFlange, 0.10}).result == JudgedAs::NoLimitKnown);

    limits.torquesNm[index(Joint::PinionNut)] = Interval{220, 260};
    fitCheckLists(job);
    const auto nut = std::find_if(job.checks.begin(), job.checks.end(),
                                  [](const CheckItem& item) { return item.key == "pinion-nut"; });
    CHECK(nut->wantedNm == Interval{220, 260});
    CHECK(nut->wantedByGearSet);
    CHECK_THAT(wantedSource(job, *nut), Contains("the gear-set file"));
}

TEST_CASE("depth tool and marks that disagree: the marks decide, and why") {
    JobRecord job = labJob();
    DepthEntry tool;
    tool.stamp = stampAt(1);
    tool.measuredMm = 66.80, tool.wantedMm = 66.70, tool.shimStackMm = 0.889;
    (void)addDepth(job, tool);
    // 0.10 mm too shallow at 0.889 mm under the support; with 0.762 mm there it is 0.027 mm too deep.
    TrialEntry trial = labTrial(10, Verdict::Change);
    trial.measurement->advice->depthErrorMm = {0.02, -0.03, 0.07};
    (void)addTrial(job, trial);
    CHECK(jobStatus(job).attention.empty());
    job.trials.back().measurement->advice->depthErrorMm = {-0.20, -0.25, -0.15};
    REQUIRE(jobStatus(job).attention.size() == 1);
    CHECK(jobStatus(job).attention[0].kind == AttentionKind::ToolAgainstMarks);
    CHECK_THAT(text(jobStatus(job).attention[0].sentence),
               Contains("Go by the marks") && Contains("0.001 in (0.03 mm) too deep") &&
                   Contains("0.008 in (0.20 mm) too shallow") && Contains("0.003 in (0.08 mm) either way"));
    CHECK_THAT(refusalOf([&] {
                   tool.oldFigureMm = tool.newFigureMm = 0;
                   (void)addDepth(job, tool);
               }),
               Contains("not both"));
}

TEST_CASE(
    "depth tool against marks without the stacks: the same shims, a change that was entered, or what is missing") {
    JobRecord job = labJob();
    DepthEntry tool;
    tool.stamp = stampAt(1);
    tool.measuredMm = 66.80, tool.wantedMm = 66.70;  // 0.10 mm too shallow
    (void)addDepth(job, tool);
    TrialEntry trial = labTrial(10, Verdict::Change);
    trial.shimStackMm.reset();
    trial.measurement->advice->depthErrorMm = {-0.10, -0.15, -0.05};
    const auto told = [&] {
        std::string all;
        for (const Attention& one : jobStatus(job).attention) all += text(one.sentence) + " ";
        return all;
    };
    SECTION("no work between: the stacks are the same") {
        (void)addTrial(job, trial);
        CHECK(told().empty());
        job.trials.back().measurement->advice->depthErrorMm = {0.15, 0.10, 0.20};
        CHECK_THAT(told(), Contains("Go by the marks") && Contains("so they are taken as the same"));
    }
    SECTION("a change that was entered is reckoned with") {
        WorkEntry work;
        work.stamp = stampAt(5);
        work.shimChangeMm = -0.25;  // out from under the support: deeper
        (void)addWork(job, work);
        trial.measurement->advice->depthErrorMm = {0.15, 0.10, 0.20};
        (void)addTrial(job, trial);
        CHECK(told().empty());
        job.trials.back().measurement->advice->depthErrorMm = {-0.10, -0.15, -0.05};
        CHECK_THAT(told(), Contains("Go by the marks") && !Contains("taken as the same"));
    }
    SECTION("a change of which nobody knows how much: what is missing is said") {
        WorkEntry work;
        work.stamp = stampAt(5);
        work.shimStackMm = 0.8;
        (void)addWork(job, work);
        (void)addTrial(job, trial);
        CHECK_THAT(told(), Contains("cannot be compared") && Contains("neither stack is entered"));
        job.depths[0].shimStackMm = 0.8;
        CHECK_THAT(told(), Contains("the stack of the trial is not entered"));
        job.depths[0].shimStackMm.reset();
        job.trials[0].shimStackMm = 0.8;
        CHECK_THAT(told(), Contains("was in when the tool measured is not entered"));
    }
}

TEST_CASE("the start of the depth knows units, bearings and housing, and keeps them") {
    JobRecord job = labJob();
    DepthEntry marks = marksEntry(2);
    marks.figuresInTwoUnits = true;
    marks.oldBearingMm = 31.75, marks.newBearingMm = 31.80;
    (void)addDepth(job, marks);
    const StartShim start = startShimOf(job, job.depths[0]);
    CHECK_THAT(texts(start.questions).front(), Contains("One figure was given in inches"));
    for (const std::string& question : texts(start.questions))
        CHECK_THAT(question, !Contains("as tall as the old one"));  // that is answered
    // 0.0762 mm deeper by the marks, 0.05 of it by the taller bearing.
    CHECK(start.thicknessChangeMm == Approx(-0.0262));
    CHECK_THAT(detailOf(job, "start-depth"), Contains("must sit") && Contains("of shim under the pinion support"));
    const JobRecord read = parseJob(writeJob(job), "job.json");
    CHECK(read.depths[0].figuresInTwoUnits);
    CHECK(read.depths[0].oldBearingMm == 31.75);
    CHECK(read.depths[0].newBearingMm == 31.80);
    CHECK_FALSE(read.depths[0].otherHousing);
    marks.otherHousing = true;
    CHECK_THAT(refusalOf([&] { (void)addDepth(job, marks); }), Contains("housing"));
    CHECK(job.depths.size() == 1);
}

TEST_CASE("a torque that is off keeps its line open") {
    JobRecord job = fullJob();
    Tick tick;
    tick.at = atMinute(50);
    tick.torqueNm = 60, tick.wantedNm = Interval{75, 85}, tick.note = "a small axle";
    tickCheck(job, "pinion-nut", tick);
    const Judgement judged = judgeTorque(job, lineOf(job, "pinion-nut"));
    CHECK(judged.result == JudgedAs::Fail);
    CHECK_THAT(judged.sentence,
               Contains("44 ft-lb (60 Nm) is less than the 55 ft-lb (75 Nm) to 63 ft-lb (85 Nm) wanted"));
    CHECK_THAT(detailOf(job, "pinion"), Contains("pinion-nut (wrong torque)"));
    CHECK_THAT(refusalOf([&] { tickCheck(job, "wheel", tick); }), Contains("this job has: match-numbers"));
    CHECK(addCheck(job, CheckList::Torque, "Bolts of the stone guard") == "own-1");
}

TEST_CASE("what does not fit together is told") {
    JobRecord job = fullJob();
    Tick tick;
    tick.at = atMinute(50);
    CHECK(jobStatus(job).attention.empty());
    SECTION("a seal before the pattern is accepted") {
        (void)addTrial(job, labTrial(55, Verdict::Change));
        tickCheck(job, "oil-seals", tick);
        REQUIRE(jobStatus(job).attention.size() == 1);
        CHECK_THAT(text(jobStatus(job).attention[0].sentence), Contains("oil-seals"));
    }
    SECTION("the stacks and the work contradict each other") {
        TrialEntry trial = labTrial(60, Verdict::Accept);
        trial.shimStackMm = 0.9;
        WorkEntry work;
        work.stamp = stampAt(55);
        work.shimChangeMm = 0.05;
        (void)addWork(job, work);
        (void)addTrial(job, trial);
        REQUIRE_FALSE(jobStatus(job).attention.empty());
        CHECK_THAT(text(jobStatus(job).attention[0].sentence),
                   Contains("Before trial t3") && Contains("the two stacks"));
    }
    SECTION("the same photo in two trials") {
        TrialEntry trial = labTrial(60, Verdict::Accept);
        trial.photos = job.trials[0].photos;
        (void)addTrial(job, trial);
        REQUIRE(jobStatus(job).attention.size() == 1);
        CHECK(jobStatus(job).attention[0].kind == AttentionKind::SamePhoto);
        CHECK_THAT(text(jobStatus(job).attention[0].sentence), Contains("is also in trial t1"));
    }
    SECTION("trials by their ids, or by the numbers of those that count") {
        strikeOut(job, "t1", {atMinute(51), "Mira", "another axle"});
        TrialEntry trial = labTrial(60, Verdict::Accept);
        trial.photos.push_back(photoNamed("photos/aa.jpg", "of trial t2.jpg"));
        job.trials[1].photos.push_back(trial.photos.back());
        (void)addTrial(job, trial);
        REQUIRE(jobStatus(job).attention.size() == 1);
        const Message sentence = jobStatus(job).attention[0].sentence;
        CHECK_THAT(text(sentence), Contains("The photo of trial t2.jpg of trial t3 is also in trial t2:"));
        // What a person typed stays as it is.
        CHECK_THAT(text(withTrialNumbers(sentence, job)),
                   Contains("The photo of trial t2.jpg of trial 2 is also in trial 1:"));
        CHECK(text(withTrialNumbers(message("job.trial-good", message("job.trial-id", "t1")), job)) ==
              "Trial t1 (struck out) is good: the advice was to leave it.");
    }
    SECTION("a trial dated before the one before it") {
        (void)addTrial(job, labTrial(5, Verdict::Accept));
        REQUIRE(jobStatus(job).attention.size() == 1);
        CHECK_THAT(text(jobStatus(job).attention[0].sentence), Contains("\"t3\" is dated before \"t2\""));
    }
}

TEST_CASE("what a limit's source names is told in words, whatever the file calls it") {
    for (const char* file :
         {"delivery-truck-rear-axle", "farm-truck-rear-axle", "farm-truck-spiral-bevel", "light-truck-rear-axle",
          "pickup-front-axle", "pickup-rear-axle", "van-front-axle", "van-rear-axle-a", "van-rear-axle-b"}) {
        INFO(file);
        const JobGearSet set =
            jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-" + file + ".json");
        const JobRecord job = newJob(set, "axle", "", "", "2026-03-02T08:00:00Z");
        for (const char* field :
             {"limits.acceptance", "limits.backlash_mm", "limits.backlash_variation_mm",
              "limits.carrier_flange_runout_mm", "limits.carrier_spread_mm", "limits.pinion_preload_nm",
              "limits.pinion_preload_with_seal_nm", "limits.ring_runout_mm", "limits.torques_nm"})
            CHECK_THAT(job::sourceOf(set, field), !Contains("limits.") && !Contains("_mm") && !Contains("_nm"));
        for (const CheckItem& item : job.checks)
            if (item.wantedNm) CHECK_THAT(wantedSource(job, item), !Contains("limits."));
    }
}

TEST_CASE("a wanted torque is the gear-set file's or a person's, in records of older programs too") {
    const JobGearSet set =
        jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-delivery-truck-rear-axle.json");
    const JobRecord job = newJob(set, "axle", "", "", "2026-03-02T08:00:00Z");
    const auto nutOf = [](const JobRecord& record) {
        return *std::find_if(record.checks.begin(), record.checks.end(),
                             [](const CheckItem& item) { return item.key == "pinion-nut"; });
    };
    const auto readBack = [&](const std::string& from) {
        std::string text = writeJob(job);
        const std::size_t nut = text.find("\"key\": \"pinion-nut\"");
        const std::string present = "\"wanted_from\": null";
        REQUIRE(nut != std::string::npos);
        const std::size_t at = text.find(present, nut);
        REQUIRE(at != std::string::npos);
        return nutOf(parseJob(text.replace(at, present.size(), "\"wanted_from\": " + from), "job.json"));
    };
    const std::string source = wantedSource(job, nutOf(job));
    CHECK_THAT(source, Contains("the gear-set file"));
    CHECK(wantedSource(job, readBack("null")) == source);
    CHECK(wantedSource(job, readBack("\"the gear-set file lab.json: limits.torques_nm: assumed\"")) == source);
    CHECK(wantedSource(job, readBack("\"workshop sheet\"")) == "workshop sheet");
}

TEST_CASE("readings are judged by the sheet, with the source of the limit") {
    const JobRecord job = labJob();
    SECTION("backlash: 0.006 to 0.010 in") {
        BacklashEntry entry{stampAt(1), {{0, Length::fromThou(6).mm()}}, {}};
        CHECK(judgeBacklash(job, entry)[0].result == JudgedAs::Pass);  // the limit itself
        CHECK_THAT(judgeBacklash(job, entry)[0].sentence, Contains("as close to the limit as a dial can be read"));
        CHECK_THAT(judgeBacklash(job, entry)[0].source,
                   Contains("the gear-set file: backlash 0.006 to 0.010 in (0.15 to 0.25 mm)"));
        entry.points[0].mm = Length::fromThou(5.5).mm();
        CHECK(judgeBacklash(job, entry)[0].result == JudgedAs::Fail);
        entry.points[0].mm = Length::fromThou(8).mm();
        CHECK(judgeBacklash(job, entry).size() == 1);
        CHECK_THAT(
            judgeBacklash(job, entry)[0].sentence,
            Contains("Backlash 0.008 in (0.20 mm) is inside the limits 0.006 in (0.15 mm) to 0.010 in (0.25 mm)."));
        entry.points = equalSteps(std::vector<double>{0.20, 0.24, 0.20, 0.17});
        REQUIRE(judgeBacklash(job, entry).size() == 2);
        CHECK(judgeBacklash(job, entry)[0].result == JudgedAs::Pass);
        CHECK(judgeBacklash(job, entry)[1].result == JudgedAs::Fail);  // 0.07 mm over 0.0508 mm
        CHECK_THAT(judgeBacklash(job, entry)[1].sentence, Contains("varies by 0.07 mm (about 0.003 in)"));
        entry.points = equalSteps(std::vector<double>{0.22, 0.26, 0.24});
        CHECK_THAT(judgeBacklash(job, entry)[0].sentence,
                   Contains("The largest backlash, at 120 degrees") && Contains("above"));
        // Along the circle at the heel the dial sees more than square to the tooth.
        const BacklashEntry square{stampAt(1), {{0, 0.26}}, DialReading::SquareToTooth};
        const BacklashEntry round{stampAt(1), {{0, 0.26}}, DialReading::OuterCircumference};
        CHECK(judgeBacklash(job, square)[0].result == JudgedAs::Fail);
        CHECK(judgeBacklash(job, round)[0].result == JudgedAs::Pass);
        CHECK_THAT(judgeBacklash(job, round)[0].sentence,
                   Contains("along the circle at the heel, which is ") && Contains("square to the tooth at mid-face"));
        // A sheet whose limits stand for the dial along the circle is compared as it is.
        JobRecord along = job;
        along.gearSet.data.limits.dial = DialReading::OuterCircumference;
        CHECK(judgeBacklash(along, round)[0].result == JudgedAs::Fail);
        CHECK(judgeBacklash(along, round)[0].sentence.find("which is") == std::string::npos);
        CHECK(judgeBacklash(along, {stampAt(1), {{0, 0.24}}, DialReading::SquareToTooth})[0].result == JudgedAs::Fail);
    }
    SECTION("preload: 14 to 16 in-lb with new bearings, none known for used ones") {
        CHECK(judgePreload(job, {stampAt(1), 1.7, {}, false}).result == JudgedAs::Pass);
        CHECK(judgePreload(job, {stampAt(1), 2.6, {}, false}).result == JudgedAs::Fail);
        CHECK(judgePreload(job, {stampAt(1), 1.7, {}, true}).result == JudgedAs::NoLimitKnown);
        JobRecord used = job;
        used.bearings = Bearings::Used;
        CHECK(judgePreload(used, {stampAt(1), 1.7, {}, false}).result == JudgedAs::NoLimitKnown);
        // For people no field of the file; who fills it in gets that apart.
        CHECK_THAT(judgePreload(used, {stampAt(1), 1.7, {}, false}).sentence, !Contains("limits."));
        CHECK(judgePreload(used, {stampAt(1), 1.7, {}, false}).missingField == "limits.pinion_preload_nm.used");
        CHECK(judgePreload(job, {stampAt(1), 1.7, {}, false}).missingField.empty());
    }
    SECTION("runout: 0.0025 in at the ring gear, none at a flange") {
        CHECK(judgeRunout(job, {stampAt(1), RunoutPlace::RingGear, Length::fromThou(2.5).mm()}).result ==
              JudgedAs::Pass);
        CHECK(judgeRunout(job, {stampAt(1), RunoutPlace::RingGear, Length::fromThou(3.5).mm()}).result ==
              JudgedAs::Fail);
        CHECK(judgeRunout(job, {stampAt(1), RunoutPlace::PinionFlange, 0.01}).result == JudgedAs::NoLimitKnown);
    }
    SECTION("patterns by the acceptance rule") {
        const std::vector<Judgement> good = judgeTrial(job, labTrial(1, Verdict::Accept));
        REQUIRE(good.size() == 3);
        CHECK(good[1].result == JudgedAs::Pass);
        const std::vector<Judgement> high = judgeTrial(job, labTrial(1, Verdict::Change, 0.75));
        CHECK(high[1].result == JudgedAs::Fail);
        CHECK_THAT(high[1].sentence, Contains("too near the tip"));
    }
}

TEST_CASE("a limit that the file leaves out is not known, though the program assumes one") {
    JobRecord job = labJob();
    job.gearSet = labGearSet("lab-unknown-rear-axle.json");
    for (const Judgement& one : judgeBacklash(job, {stampAt(1), equalSteps(std::vector<double>{0.1, 9e-3, 4}), {}})) {
        CHECK(one.result == JudgedAs::NoLimitKnown);
        CHECK(one.source.empty());
        CHECK_THAT(one.sentence, Contains("maker's sheet"));
    }
}

TEST_CASE("what the job says of the spacer counts where the gear-set file is silent") {
    JobRecord job = labJob();
    job.gearSet.data.build.preloadSpacer.reset();
    CHECK_FALSE(advisedGearSet(job).build.preloadSpacer);
    job.spacer = PinionSpacer::CrushSleeve;
    CHECK(advisedGearSet(job).build.preloadSpacer == PreloadSpacer::CrushSleeve);
    job.spacer = PinionSpacer::SolidSpacer;
    CHECK(advisedGearSet(job).build.preloadSpacer == PreloadSpacer::SolidSpacer);
    // What the file gives stays.
    job.gearSet.data.build.preloadSpacer = PreloadSpacer::CrushSleeve;
    CHECK(advisedGearSet(job).build.preloadSpacer == PreloadSpacer::CrushSleeve);
}

TEST_CASE("the history is what the trials say, struck ones left out, shim changes carried on") {
    JobRecord job = fullJob();
    std::vector<JobTrial> history = historyOf(job);
    REQUIRE(history.size() == 2);
    CHECK(history[0].seen.backlashRoundMm.size() == 4);
    CHECK(history[0].seen.fromPhotos);
    CHECK(history[0].seen.extentNoise == kPhotoExtentNoise);
    CHECK_FALSE(history[1].seen.fromPhotos);  // drawn by hand
    CHECK(history[1].seen.extentNoise == 1);
    CHECK(history[1].shimChangeMm == Approx(-0.127));
    CHECK(historyOf(job, "t1").size() == 1);

    TrialEntry third = labTrial(60, Verdict::Accept);
    third.shimStackMm.reset();
    third.backlashMm.reset();
    third.backlashRound = equalSteps(std::vector<double>{0.2, 0.22});
    WorkEntry work;
    work.stamp = stampAt(55);
    work.shimChangeMm = 0.05;
    (void)addWork(job, work);
    (void)addTrial(job, third);
    history = historyOf(job);
    CHECK(history[2].shimChangeMm == Approx(0.05));
    CHECK(history[2].seen.backlashMm == Approx(0.21));
    strikeOut(job, "t2", {atMinute(70), "Mira", "photo of another axle"});
    history = historyOf(job);
    REQUIRE(history.size() == 2);
    CHECK(history[1].shimChangeMm == Approx(0.05 - 0.127));
    strikeOut(job, "w2", {atMinute(71), "Mira", "not done after all"});
    CHECK_FALSE(historyOf(job)[1].shimChangeMm);  // nobody knows now
    TrialEntry uneven = labTrial(1, Verdict::Accept);
    uneven.backlashRound = {{0, 0.2}, {10, 0.2}, {20, 0.2}, {30, 0.2}};
    CHECK(observationOf(uneven).backlashRoundMm.empty());
    CHECK(adviceOptionsOf(job).usedGears == false);
}
