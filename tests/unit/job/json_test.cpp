// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "job_fixture.h"

using namespace shimsight;
using namespace shimsight::test;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

std::string refusalOf(const std::string& text) {
    try {
        (void)parseJob(text, "job.json");
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

/// A record in the draft form, written by hand.
const char* const kDraft = R"({
 "schema": "shimsight/job/0",
 "created_at": "2026-02-01T09:00:00Z",
 "gear_set": {"schema": "shimsight/gear-set/1", "teeth": {"pinion": 11, "ring": 43}, "ring_gear_diameter_mm": 222, "offset_mm": 36},
 "axle": "Van 3", "set_up_by": "Jon", "new_bearings": false, "used_gears": true,
 "preload": [{"id": "p1", "at": "2026-02-01T09:10:00Z", "torque_in_lb": 15}],
 "backlash": [{"id": "b1", "at": "2026-02-01T09:20:00Z", "readings_mm": [0.2, 0.21, 0.19, 0.2]}],
 "runout": [{"id": "r1", "at": "2026-02-01T09:15:00Z", "place": "ring-gear", "runout_mm": 0.04}],
 "trials": [{"id": "t1", "at": "2026-02-01T10:00:00Z", "photos": ["photos/a.jpg"], "backlash_mm": 0.2,
             "backlash_round_mm": [0.2, 0.22], "reading": null}]
})";

}  // namespace

TEST_CASE("a record comes back as it was written") {
    JobRecord job = fullJob();
    strikeOut(job, "r2", {atMinute(80), "Mira", "wrong flange"});
    JobStamp stamp = stampAt(90);
    stamp.note = "later";
    signOff(job, stamp);
    const std::string text = writeJob(job);
    const JobRecord again = parseJob(text, "job.json");
    CHECK(json::parse(writeJob(again)) == json::parse(text));
    CHECK(again.trials[0].outlines.size() == 1);
    CHECK(again.trials[0].photos[0].removed == job.trials[0].photos[0].removed);
    CHECK(again.trials[1].drawnDrive == job.trials[1].drawnDrive);
    CHECK(again.trials[1].measurement->advice->verdict == Verdict::Accept);
    CHECK(again.gearSet.fileName == "lab-van-rear-axle-a.json");
    CHECK(again.gearSet.data.ringTeeth == 43);
    CHECK(again.runouts[1].stamp.struck->why == "wrong flange");
    CHECK(signedOff(again)->open == signedOff(job)->open);
}

TEST_CASE(
    "a record from before the start of depth, the use of a preload and the list of parts loads, and asks for none") {
    json old = json::parse(writeJob(fullJob()));
    old.erase("depth");
    old.erase("judgements");
    for (json& entry : old["preload"]) entry.erase("for_trial");
    for (json& entry : old["carrier"]) entry.erase("with_oil_seal");
    json kept = json::array();
    for (const json& item : old["checks"])
        if (item["list"] != "parts") kept.push_back(item);
    old["checks"] = kept;
    const JobRecord job = parseJob(old.dump(), "job.json");
    CHECK(job.depths.empty());
    CHECK_FALSE(job.preloads.front().forTrial);
    CHECK_FALSE(job.carriers.front().withOilSeal);
    for (const JobStep& step : jobStatus(job).steps) {
        INFO(step.key);
        if (step.key == "parts" || step.key == "start-depth") CHECK(step.state == StepState::NotNeeded);
    }
    // The demo job of the repository opens as it was signed.
    const OpenedJob demo = openJob(std::string(SHIMSIGHT_SOURCE_DIR) + "/samples/job-van-17");
    CHECK(signedOff(demo.record) != nullptr);
    CHECK(signedOff(demo.record)->open.empty());
    CHECK(jobStatus(demo.record).attention.empty());
}

TEST_CASE("thread locker of an older record belongs to the ring gear bolts, not to the parts") {
    json old = json::parse(writeJob(labJob()));
    for (json& item : old["checks"])
        if (item["key"] == "ring-gear-on") item["key"] = "thread-locker";
    const JobRecord job = parseJob(old.dump(), "job.json");
    std::vector<std::string> torque;
    for (const CheckItem& item : job.checks)
        if (item.list == CheckList::Torque) torque.push_back(item.key);
    REQUIRE(torque.size() > 2);
    CHECK(torque[0] == "thread-locker");
    CHECK(torque[1] == "ring-gear-bolts");
}

TEST_CASE("every entry of a depth comes back as it was written") {
    JobRecord job = labJob();
    DepthEntry marks, tool;
    marks.stamp = tool.stamp = stampAt(1);
    marks.oldFigureMm = 0.05, marks.newFigureMm = -0.02;
    tool.measuredMm = 66.8, tool.wantedMm = 66.7, tool.shimStackMm = 0.762;
    CHECK(addDepth(job, marks) == "d1");
    CHECK(addDepth(job, tool) == "d2");
    strikeOut(job, "d1", {atMinute(2), "Mira", "read upside down"});
    const JobRecord again = parseJob(writeJob(job), "job.json");
    REQUIRE(again.depths.size() == 2);
    CHECK(again.depths[0].oldFigureMm == 0.05);
    CHECK(again.depths[0].stamp.struck->why == "read upside down");
    CHECK(again.depths[1].measuredMm == 66.8);
    CHECK(again.depths[1].shimStackMm == 0.762);
    CHECK_FALSE(again.depths[1].oldFigureMm);
}

TEST_CASE("every field of a wrong kind is refused with its line") {
    const json good = json::parse(writeJob(fullJob()));
    const json flat = good.flatten();
    int tried = 0;
    for (const auto& [pointer, value] : flat.items()) {
        // Judgements are worked out anew and what they hold does not matter.
        if (value.is_null() || pointer.starts_with("/judgements") || pointer.ends_with("_position")) continue;
        json broken = good;
        broken[json::json_pointer(pointer)] = json::array({json::object({{"x", 1}})});
        const std::string what = refusalOf(broken.dump(1));
        INFO(pointer << ": " << what);
        // Texts of the embedded gear set and lists that may be anything are read by their own rules.
        CHECK((what.starts_with("job.json, line ") || what.starts_with("job.json: ")));
        CHECK(what.ends_with("."));
        ++tried;
    }
    CHECK(tried > 150);
}

TEST_CASE("the line that is named is the line of the fault") {
    std::string text = writeJob(fullJob());
    const std::string from = "\"runout_mm\": 0.05";
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
    text.replace(at, from.size(), "\"runout_mm\": \"much\"");
    CHECK_THAT(refusalOf(text), Catch::StartsWith("job.json, line " + std::to_string(line) +
                                                  ": \"runout[0].runout_mm\" must be a number"));
    const std::string whole = writeJob(fullJob());
    const std::string cut = whole.substr(0, whole.size() / 2);
    CHECK_THAT(refusalOf(cut),
               Contains("not valid JSON at line " + std::to_string(1 + std::count(cut.begin(), cut.end(), '\n'))));
}

TEST_CASE("hostile records are refused in one sentence") {
    const json good = json::parse(writeJob(fullJob()));
    const auto with = [&](const char* pointer, const json& value) {
        json broken = good;
        broken[json::json_pointer(pointer)] = value;
        return refusalOf(broken.dump());
    };
    CHECK_THAT(refusalOf(""), Contains("not valid JSON"));
    CHECK_THAT(refusalOf("[]"), Contains("one JSON object"));
    CHECK_THAT(refusalOf("{}"), Contains("schema"));
    CHECK_THAT(refusalOf(std::string(100'000, '[')), Contains("nested"));
    CHECK_THAT(refusalOf("{\"schema\": \"shimsight/job/1\", \"revision\": 1e999}"), Contains("too large"));
    CHECK_THAT(with("/revision", -1), Contains("revision"));
    CHECK_THAT(with("/revision", 1e300), Contains("revision"));
    CHECK_THAT(with("/runout/0/runout_mm", 1e30), Contains("runout_mm"));
    CHECK_THAT(with("/preload/0/id", "p2"), Contains("it must be \"p1\""));
    CHECK_THAT(with("/trials/0/photos/0/file", "/etc/passwd"), Contains("photos/"));
    CHECK_THAT(with("/trials/0/photos/0/file", "photos/../job.json"), Contains("photos/"));
    CHECK_THAT(with("/trials/0/photos/0/file", "photos/.hidden"), Contains("photos/"));
    CHECK_THAT(with("/trials/1/drawn/drive", "photos/a/b.png"), Contains("photos/"));
    CHECK_THAT(with("/trials/0/photos/0/sha256", "zz"), Contains("64"));
    CHECK_THAT(with("/work/0/after_trial", "t9"), Contains("no such trial"));
    CHECK_THAT(with("/checks/1/key", "ring-gear-bolts"), Contains("second time"));
    CHECK_THAT(with("/created_at", "yesterday"), Contains("must be a time"));
    CHECK_THAT(with("/gear_set/data/teeth/ring", -4), Contains("gear_set.data"));
    CHECK_THAT(with("/backlash/0/points", json::array()), Contains("at least one"));
    CHECK_THAT(with("/schema", "shimsight/reading/1"), Contains("not a job record"));
    CHECK_THAT(with("/schema", "shimsight/job/2"), Contains("use a newer Shimsight"));
    CHECK_THAT(with("/schema", "shimsight/job/99999999999999999999"), Contains("not a job record"));
}

TEST_CASE("the draft form opens, and says the same") {
    const JobRecord job = parseJob(kDraft, "job.json");
    CHECK(job.revision == 0);
    CHECK(job.bearings == Bearings::Used);
    CHECK(job.build == BuildKind::UsedGears);
    CHECK(job.gearSet.data.ringTeeth == 43);
    CHECK(job.gearSet.fileName.empty());
    CHECK(job.preloads[0].torqueNm == Approx(15 * 0.1129848));
    REQUIRE(job.backlashes[0].points.size() == 4);
    CHECK(job.backlashes[0].points[1].positionDeg == 90);
    CHECK(job.trials[0].photos[0].file == "photos/a.jpg");
    CHECK(job.trials[0].photos[0].sha256.empty());
    CHECK(job.trials[0].backlashRound[1].mm == 0.22);
    CHECK(job.trials[0].origin == PatternOrigin::None);
    CHECK(job.checks.size() > 10);
    CHECK(job.changedAt == "2026-02-01T09:00:00Z");
    // What is wrong in a draft is named too.
    std::string broken = kDraft;
    broken.replace(broken.find("0.04"), 4, "true");
    CHECK_THAT(refusalOf(broken), Catch::StartsWith("job.json, line 8: \"runout[0].runout_mm\""));
}
