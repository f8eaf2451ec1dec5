// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What stops a job, what used gears were before, and what was looked into.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "job_fixture.h"
#include "support/refusal.h"

using namespace shimsight;
using namespace shimsight::test;
using Catch::Matchers::Contains;

namespace {

JobStep stepOf(const JobRecord& job, const std::string& key) {
    for (const JobStep& step : jobStatus(job).steps)
        if (step.key == key) return step;
    throw std::logic_error("no such step");
}

std::string nextOf(const JobRecord& job) {
    for (const JobStep& step : jobStatus(job).steps)
        if (step.state == StepState::Next) return step.key;
    return {};
}

/// A job with runout and preload in order, and a trial that was read as good.
JobRecord acceptedJob() {
    JobRecord job = labJob();
    (void)addRunout(job, {stampAt(1), RunoutPlace::RingGear, 0.05});
    (void)addPreload(job, {stampAt(2), 1.7, {}, false});
    (void)addTrial(job, labTrial(10, Verdict::Accept));
    return job;
}

BacklashEntry roundAt(int minute, std::vector<double> thousandths) {
    for (double& value : thousandths) value = Length::fromThou(value).mm();
    return {stampAt(minute), equalSteps(thousandths), DialReading::SquareToTooth};
}

/// A job of used gears with what they were before, drawn by hand.
JobRecord usedJob() {
    JobRecord job = labJob();
    job.build = BuildKind::UsedGears;
    TrialEntry before = labTrial(1, Verdict::Accept, 0.42);
    before.measurement->advice.reset();
    before.backlashMm = 0.33;
    before.drawnDrive = "photos/bbbbbbbbbbbbbbbb.png";
    before.origin = PatternOrigin::Drawn;
    (void)addBefore(job, before);
    return job;
}

}  // namespace

TEST_CASE("marks of used gears are judged by where they were before, not by the rule for new ones") {
    JobRecord job = usedJob();
    const auto judged = [&](double rootTip) { return judgeTrial(job, labTrial(5, Verdict::Accept, rootTip)); };
    const auto resultOf = [&](double rootTip, Judged what) {
        for (const Judgement& one : judged(rootTip))
            if (one.what == what) return one;
        FAIL("not judged");
        return Judgement{};
    };
    // It lay at 45 % along and 42 % up.
    CHECK(resultOf(0.45, Judged::DrivePattern).result == JudgedAs::Pass);
    CHECK_THAT(resultOf(0.45, Judged::DrivePattern).sentence,
               Contains("as before the gears came apart (45 % and 42 %)"));
    CHECK(resultOf(0.58, Judged::DrivePattern).result == JudgedAs::Fail);
    CHECK_THAT(resultOf(0.58, Judged::DrivePattern).sentence, Contains("not where it lay before"));
    // Far out on new gears, right where these ran.
    job.before[0].measurement->drive->rootTip = 0.70;
    job.before[0].measurement->drive->runsOff.tip = true;
    CHECK(resultOf(0.72, Judged::DrivePattern).result == JudgedAs::Pass);
    CHECK(resultOf(0.45, Judged::DrivePattern).result == JudgedAs::Fail);
    CHECK(patternRuleOf(job, Side::Drive)->rootTip.low == Approx(0.60));
    // Not known: not judged.
    job.before.clear();
    CHECK(resultOf(0.45, Judged::DrivePattern).result == JudgedAs::NoLimitKnown);
    CHECK_THAT(resultOf(0.45, Judged::DrivePattern).sentence, Contains("so it is not judged"));
    CHECK_FALSE(patternRuleOf(job, Side::Drive));
    job.build = BuildKind::NewGears;
    CHECK(resultOf(0.45, Judged::DrivePattern).result == JudgedAs::Pass);
}

TEST_CASE("a good mark on a crooked gear is not accepted") {
    JobRecord job = acceptedJob();
    REQUIRE(stepOf(job, "pattern").state == StepState::Done);
    REQUIRE_FALSE(jobStop(job));

    SECTION("runout of the ring gear: put right, read again, then a new trial") {
        (void)addRunout(job, {stampAt(20), RunoutPlace::RingGear, 0.3});
        CHECK(stepOf(job, "pattern").state == StepState::Open);
        CHECK(nextOf(job) == "runout");
        CHECK_THAT(text(jobStatus(job).next),
                   Contains("Put the runout of the ring gear right before you set anything"));
        CHECK_THAT(text(jobStop(job)->found), Contains("0.012 in (0.30 mm)") && Contains("is more than the 0.0025 in"));
        (void)addRunout(job, {stampAt(30), RunoutPlace::RingGear, 0.05});
        // The gear was off: the mark of before says nothing any more.
        CHECK_FALSE(jobStop(job));
        CHECK(stepOf(job, "pattern").state == StepState::Next);
        CHECK_THAT(text(stepOf(job, "pattern").detail), Contains("put right after trial t1"));
        (void)addTrial(job, labTrial(40, Verdict::Accept));
        CHECK(stepOf(job, "pattern").state == StepState::Done);
    }
    SECTION("a runout that was only misread is struck out") {
        (void)addRunout(job, {stampAt(20), RunoutPlace::RingGear, 0.3});
        strikeOut(job, "r2", {atMinute(21), "Mira", "dial on a bolt head"});
        CHECK(stepOf(job, "pattern").state == StepState::Done);
    }
    SECTION("a flange's runout has no limit and stops nothing") {
        (void)addRunout(job, {stampAt(20), RunoutPlace::CarrierFlange, 0.3});
        CHECK_FALSE(jobStop(job));
    }
    SECTION("uneven backlash, each reading inside 0.006 to 0.010 in") {
        (void)addBacklash(job, roundAt(20, {6.5, 8, 9.5, 8}));
        CHECK(stepOf(job, "pattern").state == StepState::Open);
        CHECK(stepOf(job, "backlash").state == StepState::Next);
        CHECK_THAT(text(jobStatus(job).next), Contains("Find why the backlash is uneven"));
        // A single reading later does not make it even.
        (void)addBacklash(job, roundAt(30, {8}));
        CHECK(stepOf(job, "pattern").state == StepState::Open);
        TrialEntry trial = labTrial(35, Verdict::Accept);
        (void)addTrial(job, trial);
        CHECK(stepOf(job, "pattern").state == StepState::Open);
        (void)addBacklash(job, roundAt(40, {8, 8.5, 8, 7.5}));
        CHECK(stepOf(job, "pattern").state == StepState::Done);
    }
    SECTION("uneven backlash before the runout was read asks for the runout") {
        strikeOut(job, "r1", {atMinute(15), "Mira", "another axle"});
        (void)addBacklash(job, roundAt(20, {6.5, 8, 9.5, 8}));
        CHECK(nextOf(job) == "runout");
        CHECK_THAT(text(jobStatus(job).next), Contains("read the runout of the ring gear's back face"));
    }
    SECTION("uneven readings entered with the trial stop as well") {
        TrialEntry trial = labTrial(20, Verdict::Accept);
        trial.backlashRound = roundAt(20, {6.5, 8, 9.5, 8}).points;
        (void)addTrial(job, trial);
        CHECK(stepOf(job, "pattern").state == StepState::Open);
    }
    SECTION("the tightest place outside, though even enough") {
        (void)addBacklash(job, roundAt(20, {5, 6, 6.5, 6}));
        CHECK(stepOf(job, "pattern").state == StepState::Open);
        CHECK_THAT(text(jobStatus(job).next), Contains("until every place round it lies inside the limits"));
        // Moved since, as a later reading shows; the pattern is then another one, as the work says.
        (void)addBacklash(job, roundAt(30, {8}));
        CHECK_FALSE(jobStop(job));
    }
    SECTION("no play at all") {
        (void)addBacklash(job, roundAt(20, {0, 4, 4, 2}));
        CHECK_THAT(text(jobStatus(job).next), Contains("No play: do not force the gears round"));
        CHECK_THAT(text(jobStop(job)->found), Contains("no play, the teeth are jammed. Do not force them round"));
    }
    SECTION("no play in a trial") {
        TrialEntry trial = labTrial(20, Verdict::Accept);
        trial.backlashMm = 0;
        (void)addTrial(job, trial);
        CHECK_THAT(judgeTrial(job, job.trials.back())[0].sentence, Contains("jammed"));
        CHECK(judgeTrial(job, job.trials.back())[0].result == JudgedAs::Fail);
        CHECK(nextOf(job) == "backlash");
    }
    SECTION("what the advice of the last trial stops at") {
        TrialEntry trial = labTrial(20, Verdict::Accept);  // a verdict that must not win over the stop
        trial.measurement->advice->stop = Stop{StopKind::UnevenBacklash, "It varies by 0.012 in."};
        (void)addTrial(job, trial);
        CHECK(nextOf(job) == "pattern");
        CHECK_THAT(text(jobStatus(job).next),
                   Contains("Find this before you set anything by trial t2: It varies by 0.012"));
    }
}

TEST_CASE("a job that is stopped is signed off only with a reason") {
    JobRecord job = fullJob();
    (void)addRunout(job, {stampAt(60), RunoutPlace::RingGear, 0.3});
    JobStamp stamp = stampAt(90);
    CHECK_THAT(refusalOf([&] { signOff(job, stamp); }),
               Contains("still open: Parts and match numbers; Runout of the ring gear; Contact pattern"));
    stamp.note = "customer takes it as it is";
    signOff(job, stamp);
    CHECK(signedOff(job)->open[1] == "Runout of the ring gear");
    CHECK_THAT(text(jobStatus(job).attention[0].sentence), Contains("0.012 in (0.30 mm)"));
}

TEST_CASE("a jammed reading fails even where the file has no limit") {
    JobRecord job = labJob();
    job.gearSet = labGearSet("lab-unknown-rear-axle.json");
    JobRecord stale = job;
    (void)addBacklash(stale, roundAt(1, {0, 4, 4, 2}));
    REQUIRE(jobStop(stale));
    WorkEntry work;
    work.stamp = stampAt(2);
    work.backlashMm = 0.2;
    (void)addWork(stale, work);
    CHECK_FALSE(jobStop(stale));  // play was given since
    CHECK(judgeBacklash(job, roundAt(1, {0}))[0].result == JudgedAs::Fail);
    CHECK_THAT(judgeBacklash(job, roundAt(1, {0}))[0].sentence, Contains("Do not force"));
}

TEST_CASE("used gears are asked for what they were before the first trial") {
    JobRecord job = labJob();
    job.build = BuildKind::UsedGears;
    (void)addRunout(job, {stampAt(1), RunoutPlace::RingGear, 0.05});
    (void)addPreload(job, {stampAt(2), 1.7, {}, false});
    CHECK_THAT(text(jobStatus(job).next), Contains("Enter what these gears were before they came apart: the marks"));
    TrialEntry backlash;
    backlash.stamp = stampAt(3);
    backlash.backlashMm = 0.33;
    CHECK(addBefore(job, backlash) == "u1");
    CHECK_THAT(text(jobStatus(job).next), Contains("the marks (photos of drive and coast side)."));
    TrialEntry marks = labTrial(4, Verdict::Accept, 0.42);
    marks.backlashMm.reset();
    marks.photos = {photoNamed("photos/0123456789abcdef.jpg", "before.jpg")};
    CHECK(addBefore(job, marks) == "u2");
    CHECK(nextOf(job) == "parts");

    const AdviceOptions options = adviceOptionsOf(job);
    CHECK(options.usedGears);
    REQUIRE(options.before);
    CHECK(options.before->backlashMm == 0.33);
    CHECK(options.before->drive->rootTip == 0.42);
    CHECK(options.before->extentNoise == kPhotoExtentNoise);
    CHECK(options.ringRunoutMm == 0.05);
    // A newer reading counts, a struck one does not.
    backlash.backlashMm = 0.36;
    (void)addBefore(job, backlash);
    CHECK(beforeOf(job)->backlashMm == 0.36);
    strikeOut(job, "u3", {atMinute(9), "Mira", "read on the old bearings"});
    CHECK(beforeOf(job)->backlashMm == 0.33);
    CHECK(beforeOf(job)->drive);
}

TEST_CASE("used gears are judged by the backlash that they had, not by the limits for new ones") {
    JobRecord job = usedJob();  // 0.33 mm before
    const auto judged = [&](double mm) { return judgeBacklash(job, {stampAt(9), {{0, mm}}, {}})[0]; };
    CHECK(judged(0.33).result == JudgedAs::Pass);  // the limits for new gears end at 0.25 mm
    CHECK(judged(0.37).result == JudgedAs::Pass);
    CHECK(judged(0.20).result == JudgedAs::Fail);
    CHECK_THAT(judged(0.20).sentence, Contains("less than the 0.013 in (0.33 mm) that these gears had before"));
    CHECK(judged(0.0).result == JudgedAs::Fail);
    CHECK_THAT(judged(0.0).sentence, Contains("jammed"));
    (void)addBacklash(job, {stampAt(20), equalSteps(std::vector<double>{0.32, 0.34, 0.33, 0.32}), {}});
    CHECK_FALSE(jobStop(job));
    strikeOut(job, "u1", {atMinute(21), "Mira", "another axle"});
    CHECK(judged(0.20).result == JudgedAs::NoLimitKnown);
    CHECK_THAT(judged(0.20).sentence, Contains("what they had is not entered"));
}

TEST_CASE("what was before belongs to used gears, and holds something") {
    JobRecord fresh = labJob();
    TrialEntry backlash;
    backlash.stamp = stampAt(3);
    backlash.backlashMm = 0.33;
    CHECK_THAT(refusalOf([&] { (void)addBefore(fresh, backlash); }), Contains("this job sets up new gears"));
    JobRecord used = labJob();
    used.build = BuildKind::UsedGears;
    backlash.backlashMm.reset();
    CHECK_THAT(refusalOf([&] { (void)addBefore(used, backlash); }), Contains("give photos of the marks"));
    backlash.backlashMm = 9;
    CHECK_THAT(refusalOf([&] { (void)addBefore(used, backlash); }), Contains("is not from 0 to 5 mm"));
    CHECK(used.before.empty());
}

TEST_CASE("used gears whose wear nobody knows: the reason is told, and it is no acceptance") {
    JobRecord job = labJob();
    job.build = BuildKind::UsedGears;
    (void)addRunout(job, {stampAt(1), RunoutPlace::RingGear, 0.05});
    (void)addPreload(job, {stampAt(2), 1.7, {}, false});
    TrialEntry trial = labTrial(10, Verdict::MeasureAgain);
    trial.measurement->advice->stop = Stop{StopKind::WearNotKnown, "Nobody knows what these gears were."};
    (void)addTrial(job, trial);
    CHECK(stepOf(job, "pattern").state == StepState::Next);
    CHECK_THAT(text(stepOf(job, "pattern").detail), Contains("Nobody knows"));
    CHECK_THAT(text(jobStatus(job).next), Contains("from before they came apart"));
    // A check in which nothing is changed needs no number.
    job.build = BuildKind::CheckOnly;
    CHECK(stepOf(job, "pattern").state == StepState::Done);
}

TEST_CASE("what was looked into closes its explanation, the housing both of its own") {
    JobRecord job = acceptedJob();
    CHECK(addChecked(job, {stampAt(20), DiagnosisKind::SidesSwapped}) == "q1");
    CHECK(addChecked(job, {stampAt(21), DiagnosisKind::ShaftAngle}) == "q2");
    CHECK(adviceOptionsOf(job).checked == std::vector<DiagnosisKind>{DiagnosisKind::SidesSwapped,
                                                                     DiagnosisKind::HousingOffset,
                                                                     DiagnosisKind::ShaftAngle});
    strikeOut(job, "q1", {atMinute(22), "Mira", "looked at the wrong photo"});
    CHECK(adviceOptionsOf(job).checked.size() == 2);
    CHECK(parseLookedInto("sides", "x") == DiagnosisKind::SidesSwapped);
    CHECK(parseLookedInto("entry-backlash", "x") == DiagnosisKind::EntryBacklash);
    CHECK_THAT(refusalOf([] { (void)parseLookedInto("runout", "--checked"); }),
               Contains("--checked: runout is settled by a dial"));
    CHECK_THAT(refusalOf([] { (void)parseLookedInto("sidez", "--checked"); }), Contains("it is one of: sides, cut"));
}

TEST_CASE("the last advice is worked out again by what it depends on, and the former one kept") {
    JobRecord job = acceptedJob();
    REQUIRE(job.trials[0].measurement->advice->verdict == Verdict::Accept);
    (void)addChecked(job, {stampAt(20), DiagnosisKind::SidesSwapped});
    REQUIRE(adviseAgain(job, "q1", atMinute(20), "Mira"));
    REQUIRE(job.remarks.size() == 1);
    CHECK_THAT(job.remarks[0].text, Catch::StartsWith("The advice of trial t1 was worked out again after q1. Until "));
    // The same as from outside the job.
    const Advice again = adviseJob(job.gearSet.data, historyOf(job), adviceOptionsOf(job));
    CHECK(job.trials[0].measurement->advice->chanceAcceptableNow == again.chanceAcceptableNow);
    // Neither a trial's own entries nor another place's runout touch it.
    CHECK_FALSE(adviseAgain(job, "b1", atMinute(21), "Mira"));
    (void)addRunout(job, {stampAt(22), RunoutPlace::PinionFlange, 0.3});
    CHECK_FALSE(adviseAgain(job, "r2", atMinute(22), "Mira"));
    // Nor a gear that was put right: that is another setting.
    (void)addRunout(job, {stampAt(23), RunoutPlace::RingGear, 0.3});
    CHECK(adviseAgain(job, "r3", atMinute(23), "Mira"));
    (void)addRunout(job, {stampAt(24), RunoutPlace::RingGear, 0.05});
    CHECK_FALSE(adviseAgain(job, "r4", atMinute(24), "Mira"));
    CHECK(job.remarks.size() == 2);
    // Nor is it worked out again once the setting was changed.
    WorkEntry work;
    work.stamp = stampAt(25);
    work.backlashMm = 0.2;
    (void)addWork(job, work);
    (void)addChecked(job, {stampAt(26), DiagnosisKind::WrongGearData});
    CHECK_FALSE(adviseAgain(job, "q2", atMinute(26), "Mira"));
}

TEST_CASE("what was before and what was looked into come back as they were written") {
    JobRecord job = usedJob();
    (void)addChecked(job, {stampAt(20), DiagnosisKind::WrongGearData});
    strikeOut(job, "q1", {atMinute(21), "Mira", "did not look after all"});
    const std::string text = writeJob(job);
    const JobRecord again = parseJob(text, "job.json");
    CHECK(nlohmann::json::parse(writeJob(again)) == nlohmann::json::parse(text));
    REQUIRE(again.before.size() == 1);
    CHECK(again.before[0].backlashMm == 0.33);
    CHECK(again.before[0].drawnDrive == "photos/bbbbbbbbbbbbbbbb.png");
    REQUIRE(again.checked.size() == 1);
    CHECK(again.checked[0].kind == DiagnosisKind::WrongGearData);
    CHECK(again.checked[0].stamp.struck->why == "did not look after all");
    CHECK(findBefore(again, "u1") != nullptr);
    CHECK(findBefore(again, "t1") == nullptr);

    // A record of a program that knew neither.
    nlohmann::json old = nlohmann::json::parse(text);
    old.erase("before");
    old.erase("checked");
    const JobRecord older = parseJob(old.dump(), "job.json");
    CHECK(older.before.empty());
    CHECK(older.checked.empty());
    nlohmann::json wrong = nlohmann::json::parse(text);
    wrong["checked"][0]["kind"] = "luck";
    CHECK_THAT(refusalOf([&] { (void)parseJob(wrong.dump(), "job.json"); }),
               Contains("checked[0].kind") && Contains("\"luck\"; it must be one of: sides, cut, housing"));
    wrong = nlohmann::json::parse(text);
    wrong["before"][0]["id"] = "t1";
    CHECK_THAT(refusalOf([&] { (void)parseJob(wrong.dump(), "job.json"); }), Contains("it must be \"u1\""));
}
