// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/report.h"

#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>

#include "shimsight/files.h"
#include "shimsight/review_words.h"
#include "support/temp_dir.h"

using namespace shimsight;

namespace {

namespace fs = std::filesystem;

/// A small job with a trial whose pattern was drawn, text that must not come through as markup, and one of each entry.
JobRecord hostileRecord() {
    JobRecord job = newJob(jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-van-rear-axle-a.json"),
                           "<script>alert(1)</script>", "A & B", "C \"D\"", "2026-03-02T08:00:00Z");
    JobStamp stamp;
    stamp.at = "2026-03-02T09:00:00Z";
    stamp.by = "<b>me</b>";
    addRunout(job, {stamp, RunoutPlace::RingGear, 0.03});
    addRunout(job, {stamp, RunoutPlace::RingGear, 0.4064});
    addPreload(job, {stamp, 1.7, 0.71, false});
    addBacklash(job, {stamp, equalSteps(std::vector<double>{0.20, 0.21, 0.20, 0.19}), DialReading::SquareToTooth});
    TrialEntry trial;
    trial.stamp = stamp;
    trial.shimStackMm = 1.143;
    trial.backlashMm = 0.2032;
    trial.origin = PatternOrigin::Drawn;
    trial.measurement.emplace();
    Pattern pattern;
    pattern.toeHeel = 0.45;
    pattern.length = 0.6;
    pattern.height = 0.6;
    pattern.area = 0.3;
    trial.measurement->drive = pattern;
    addTrial(job, trial);
    Tick tick;
    tick.at = stamp.at;
    tick.torqueNm = 108;
    tick.wantedNm = Interval{105, 115};
    tick.wantedFrom = "<i>sheet</i>";
    tickCheck(job, "ring-gear-bolts", tick);
    return job;
}

std::string sheetOf(const JobRecord& job) { return buildSheetHtml(job, {}, {"2026-03-03 10:00:00", "job <1>", "0"}); }

bool has(const std::string& html, const std::string& text) { return html.find(text) != std::string::npos; }

/// An executable script in place of a browser.
fs::path script(const test::TempDir& dir, const std::string& body) {
    const fs::path file = dir / "chromium";
    std::ofstream(file) << "#!/bin/sh\n" << body << "\n";
    ::chmod(file.c_str(), 0755);
    return file;
}

}  // namespace

TEST_CASE("joints stand in one table of torques, the other lines in the list of their step", "[report]") {
    const std::string html = sheetOf(hostileRecord());
    const auto at = [&](const char* words) {
        const std::size_t place = html.find(words);
        REQUIRE(place != std::string::npos);
        return place;
    };
    const std::size_t pinion = at("<h2>Pinion seal and nut, for good</h2>"), torques = at("<h2>Torques</h2>"),
                      final = at("<h2>Final assembly</h2>");
    CHECK(pinion < at("Pinion seal and flange fitted"));
    CHECK(at("Pinion seal and flange fitted") < torques);
    for (const char* joint : {"Pinion nut, at full torque", "Bearing cap bolts", "Cover bolts", "Bolts of the drive"}) {
        CHECK(torques < at(joint));
        CHECK(at(joint) < final);
    }
    // No joint: a line below the table.
    CHECK(at("Bolts of the drive") < at("Bearing caps at full torque"));
    CHECK(at("Bearing caps at full torque") < final);
    CHECK(final < at("Marking paste cleaned off"));
}

TEST_CASE("readings stand in the order in which they were read, the axle's load side at the top", "[report]") {
    JobRecord job = newJob(jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-van-front-axle.json"),
                           "axle", "", "", "2026-03-02T08:00:00Z");
    JobStamp stamp;
    stamp.at = "2026-03-02T09:00:00Z";
    addRunout(job, {stamp, RunoutPlace::RingGear, 0.03});
    stamp.at = "2026-03-02T10:00:00Z";
    addBacklash(job, {stamp, equalSteps(std::vector<double>{0.20, 0.21, 0.20, 0.19}), DialReading::SquareToTooth});
    stamp.at = "2026-03-02T11:00:00Z";
    addPreload(job, {stamp, 2.5, {}, false});
    const std::string html = sheetOf(job);
    const std::size_t runout = html.find("Ring gear runout"), round = html.find("Backlash round the ring gear"),
                      preload = html.find("Pinion preload");
    REQUIRE((runout != std::string::npos && round != std::string::npos && preload != std::string::npos));
    CHECK(runout < round);
    CHECK(round < preload);
    CHECK(has(html, "Goes forward on</span>the coast side, the concave flank"));
    CHECK(has(html, "Pinion spacer</span>crush sleeve"));
    CHECK(has(html, "new ring and pinion, new bearings"));
}

TEST_CASE("who ticked a list is told once where it is the same for all its lines", "[report]") {
    JobRecord job = hostileRecord();
    std::vector<std::string> parts;
    for (const CheckItem& item : job.checks)
        if (item.list == CheckList::Parts) parts.push_back(item.key);
    REQUIRE(parts.size() > 2);
    Tick tick;
    tick.at = "2026-03-02T09:00:00Z";
    tick.by = "Kim";
    for (const std::string& key : parts) tickCheck(job, key, tick);
    CHECK(has(sheetOf(job), "All ticked by Kim, 2 March 2026."));
    // One by somebody else: each has its own again.
    tick.by = "Lee";
    tickCheck(job, parts.back(), tick);
    const std::string html = sheetOf(job);
    CHECK_FALSE(has(html, "All ticked by"));
    CHECK(has(html, "Kim, 2 March 2026"));
    CHECK(has(html, "Lee, 2 March 2026"));
}

TEST_CASE("who did all of a job is told once, at the sign-off; another hand gets a column", "[report]") {
    JobRecord job = newJob(jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-van-rear-axle-a.json"),
                           "axle", "", "", "2026-03-02T08:00:00Z");
    JobStamp stamp;
    stamp.at = "2026-03-02T09:00:00Z";
    stamp.by = "Kim";
    addRunout(job, {stamp, RunoutPlace::RingGear, 0.03});
    addPreload(job, {stamp, 1.7, 0.71, false});
    for (CheckItem& item : job.checks) {
        item.state = CheckState::Done;
        item.stamp = stamp;
    }
    const std::string once = sheetOf(job);
    CHECK(has(once, "Read, tightened and ticked by Kim, 2 March 2026."));
    for (const char* told : {"All read by", "All tightened by", "All ticked by", "<td class=\"who\">", ">By</th>"}) {
        INFO(told);
        CHECK_FALSE(has(once, told));
    }
    stamp.by = "Lee";
    addBacklash(job, {stamp, equalSteps(std::vector<double>{0.20, 0.21, 0.20, 0.19}), DialReading::SquareToTooth});
    const std::string two = sheetOf(job);
    CHECK_FALSE(has(two, "Read, tightened and ticked by"));
    CHECK(has(two, "All tightened by Kim, 2 March 2026."));
    CHECK(has(two, "<td class=\"who\">Lee<br>"));
    // A line that nobody ticked: no word of all.
    job.checks.back().state = CheckState::Open;
    CHECK_FALSE(has(sheetOf(job), "Read, tightened and ticked by"));
}

TEST_CASE("the sheet tells each reading with its result, its limit's source, who and when", "[report]") {
    const std::string html = sheetOf(hostileRecord());
    CHECK(has(html, "Pass</span>"));
    CHECK(has(html, "Fail</span>"));
    CHECK(has(html, "0.045\xC2\xA0in\xC2\xA0(1.14\xC2\xA0mm)"));
    CHECK(has(html, "0.008\xC2\xA0in\xC2\xA0(0.20\xC2\xA0mm)"));
    CHECK(has(html, "Where the limits come from"));
    CHECK(has(html, "All read by &lt;b&gt;me&lt;/b&gt;, 2 March 2026."));
    CHECK(has(html, "Not signed off"));
    CHECK(has(html, "maker&#39;s sheet for the axle comes first"));
    CHECK(has(html, tied("80 ft-lb (108 Nm)")));
    // What is wanted breaks before its second unit only.
    const std::string space = "\xC2\xA0", hyphen = "\xE2\x80\x91";
    CHECK(has(html, "77" + space + "to" + space + "85" + space + "ft" + hyphen + "lb (105" + space + "to" + space +
                        "115" + space + "Nm)"));
    CHECK(tied("80 ft-lb (108 Nm)").find_first_of(" -") == std::string::npos);
    // The last runout counts: 0.016 in, not the first one.
    CHECK(has(html, "0.016\xC2\xA0in"));
    CHECK_FALSE(has(html, "0.001\xC2\xA0in\xC2\xA0(0.03\xC2\xA0mm) is"));
    CHECK(has(html, "<path class=\"fk-cross\""));
}

TEST_CASE("the sheet names limits in words, and each amount where columns stand one below the other", "[report]") {
    const JobRecord job = hostileRecord();
    ReviewedJob reviewed;
    reviewed.trials.emplace_back();
    reviewed.trials.back().id = job.trials.front().stamp.id;
    const std::string html = buildSheetHtml(job, reviewed, {"", "job", "0", Units::Both, ""});
    for (const char* raw : {"limits.", "build.", "_mm", "_nm", ".json"}) {
        INFO(raw);
        CHECK_FALSE(has(html, raw));
    }
    CHECK(has(html, "The gear-set file: ring gear runout"));
    // What the file does not give is said without the name of its field, too.
    JobRecord bare =
        newJob(jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-farm-truck-spiral-bevel.json"),
               "axle", "", "", "2026-03-02T08:00:00Z");
    PreloadEntry preload;
    preload.stamp.at = "2026-03-02T09:00:00Z";
    preload.torqueNm = 2;
    (void)addPreload(bare, preload);
    const std::string without = sheetOf(bare);
    // A reading without a limit is told alone; what to do about it is for who sets up.
    CHECK(has(without, tied("18 in-lb (2.00 Nm), without oil seal.")));
    CHECK(has(without, "No limit given</span>"));
    CHECK(has(without, "hold no figure for it"));
    CHECK_FALSE(has(without, "compare it"));
    // Where no torque is wanted the joints have no column for it.
    CHECK_FALSE(has(without, "Wanted"));
    CHECK(has(without, "<td data-of=\"Tightened to\">"));
    CHECK_FALSE(has(html, "hold no figure for it"));
    // In one unit the sources are told in it as well.
    const std::string metric = buildSheetHtml(job, reviewed, {"", "job", "0", Units::Metric, ""});
    CHECK(has(metric, "ring gear runout"));
    CHECK(metric.find("\xC2\xA0in<") == std::string::npos);
    CHECK(metric.find(" in<") == std::string::npos);
    CHECK(metric.find("\xC2\xA0in:") == std::string::npos);
    CHECK_FALSE(has(without, "limits."));
    for (const char* named : {"Shims", "Backlash", "Drive centre", "Wanted", "Tightened to"}) {
        INFO(named);
        CHECK(has(html, (std::string("<td data-of=\"") + named + "\">").c_str()));
    }
}

TEST_CASE("a sheet that was signed off with steps open says so at its top, and not in green", "[report]") {
    JobRecord job = hostileRecord();
    JobStamp stamp;
    stamp.at = "2026-03-02T10:00:00Z";
    stamp.by = "Kim";
    stamp.note = "The rest on Monday.";
    signOff(job, stamp);
    REQUIRE_FALSE(job.signOffs.back().open.empty());
    const std::string open = sheetOf(job);
    CHECK(has(open, "<span class=\"mark open\">Signed off, with points left open</span>"));
    CHECK_FALSE(has(open, "<span class=\"mark pass\">Signed off"));
    job.signOffs.back().open.clear();
    CHECK(has(sheetOf(job), "<span class=\"mark pass\">Signed off</span>"));
}

TEST_CASE("a job without anything in it gives a sheet too", "[report]") {
    const JobRecord job =
        newJob(jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/lab-unknown-rear-axle.json"), "axle",
               "", "", "2026-03-02T08:00:00Z");
    const std::string html = sheetOf(job);
    CHECK(has(html, "Nothing entered yet."));
    CHECK(has(html, "No trial yet."));
}

TEST_CASE("the customer's sheet holds no chance figures, whatever the advice was", "[report]") {
    JobRecord job = hostileRecord();
    for (const Verdict verdict : {Verdict::Accept, Verdict::Change, Verdict::NoShimWillHelp, Verdict::MeasureAgain}) {
        Advice advice;
        advice.verdict = verdict;
        advice.certainty = Certainty::Likely;
        advice.chanceAcceptableNow = advice.chanceAcceptableNext = 0.995;
        advice.changesNothing = verdict != Verdict::Change;
        advice.shim.thicknessChangeMm = verdict == Verdict::Change ? -0.1524 : 0;
        advice.backlashTargetMm = 0.1778;
        job.trials.front().measurement->advice = advice;
        const std::string html = sheetOf(job);
        for (const char* text : {"hance", "over 99", "in nine jobs of ten", "right: "}) {
            INFO(text);
            CHECK_FALSE(has(html, text));
        }
    }
    job.trials.front().measurement->advice->verdict = Verdict::Accept;
    CHECK(has(sheetOf(job), "The pattern is good and was left"));
}

TEST_CASE("the sheet in the units that are wished, with the shop's name", "[report]") {
    const JobRecord job = hostileRecord();
    const std::string metric = buildSheetHtml(job, {}, {"", "job", "0", Units::Metric, "College <lab>"});
    CHECK(has(metric, "College &lt;lab&gt;: build sheet"));
    CHECK(has(metric, "1.14\xC2\xA0mm"));
    CHECK(has(metric, "Lengths in millimetres."));
    CHECK_FALSE(has(metric, "\xC2\xA0in\xC2\xA0("));
    // Inch-pounds stay only where the gear-set file's own words on its sources have them.
    CHECK_FALSE((has(metric, "ft\xE2\x80\x91lb") || has(metric, "lb\xC2\xA0(1")));
    CHECK(has(metric, "1.70\xC2\xA0Nm"));
    const std::string inches = buildSheetHtml(job, {}, {"", "job", "0", Units::Inch, ""});
    CHECK(has(inches, "0.045\xC2\xA0in"));
    CHECK_FALSE(has(inches, "\xC2\xA0mm"));
}

TEST_CASE("text of the record is text on the sheet", "[report]") {
    const std::string html = sheetOf(hostileRecord());
    for (const char* text : {"<script", "<b>me", "<i>sheet", "job <1>", "=\"http", "url(", "@import"}) {
        INFO(text);
        CHECK_FALSE(has(html, text));
    }
    CHECK(has(html, "&lt;script&gt;alert(1)&lt;/script&gt;"));
    CHECK(has(html, "default-src &#39;none&#39;") != has(html, "default-src 'none'"));
}

TEST_CASE("a browser that fails is told, and nothing is left behind", "[report]") {
    const test::TempDir dir;
    const fs::path pdf = dir / "out.pdf";
    CHECK_THROWS_AS(writePdf("<p>", pdf, script(dir, "exit 1")), InputError);
    CHECK_THROWS_AS(writePdf("<p>", pdf, script(dir, "exit 0")), InputError);  // done, but no file
    CHECK_THROWS_AS(writePdf("<p>", pdf, dir / "missing"), InputError);
    CHECK_FALSE(fs::exists(pdf));
    // One that does as asked: the words that it gets are those of printing a page to a file.
    writePdf("<p>page", pdf,
             script(dir,
                    "for word; do case $word in --print-to-pdf=*) out=${word#*=};; file://*) in=${word#file://};; "
                    "esac; done; cat $in > $out"));
    CHECK(readFile(pdf, 100) == std::vector<std::uint8_t>{'<', 'p', '>', 'p', 'a', 'g', 'e'});
}

TEST_CASE("the browser is found on the path", "[report]") {
    const test::TempDir dir;
    const std::string before = std::getenv("PATH") != nullptr ? std::getenv("PATH") : "";
    ::setenv("PATH", dir.path().c_str(), 1);
    CHECK(findChromium().empty());
    const fs::path file = script(dir, "exit 0");
    CHECK(findChromium() == file);
    ::setenv("PATH", (":/nonexistent::" + dir.path().string()).c_str(), 1);
    CHECK(findChromium() == file);
    ::chmod(file.c_str(), 0644);
    CHECK(findChromium().empty());
    ::setenv("PATH", before.c_str(), 1);
}
