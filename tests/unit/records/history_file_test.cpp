// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "shimsight/core.h"
#include "shimsight/records.h"

using namespace shimsight;

namespace {

std::vector<JobTrial> twoTrials() {
    Pattern mark;
    mark.toeHeel = 0.62, mark.rootTip = 0.41, mark.length = 0.55, mark.height = 0.7, mark.area = 0.33, mark.tiltDeg = 5;
    mark.sigmaToeHeel = 0.02, mark.sigmaRootTip = 0.03, mark.edgeHeel = 0.2, mark.runsOff.heel = true, mark.teeth = 3;
    JobTrial first;
    first.seen.drive = mark;
    first.seen.backlashMm = 0.20;
    first.seen.shimStackMm = 0.80;
    first.seen.fromPhotos = true;
    first.seen.extentNoise = kPhotoExtentNoise;
    first.seen.patternNoise = kPhotoPatternNoise;
    JobTrial second = first;
    second.seen.coast = mark;
    second.seen.dial = DialReading::OuterCircumference;
    second.seen.backlashRoundMm = {0.18, 0.20, 0.22, 0.20};
    second.shimChangeMm = -0.1;
    second.seen.fromPhotos = false;
    second.seen.extentNoise = second.seen.patternNoise = 1;
    return {first, second};
}

}  // namespace

TEST_CASE("a history comes back as it was written") {
    const HistoryFile read = parseHistoryFile(writeHistory(twoTrials(), true), "job.json");
    CHECK(read.usedGears);
    CHECK(read.warnings.empty());
    REQUIRE(read.trials.size() == 2);
    const JobTrial &first = read.trials[0], &second = read.trials[1];
    REQUIRE(first.seen.drive);
    CHECK_FALSE(first.seen.coast);
    CHECK(first.seen.drive->toeHeel == 0.62);
    CHECK(first.seen.drive->sigmaRootTip == 0.03);
    CHECK(first.seen.drive->edgeHeel == 0.2);
    CHECK(first.seen.drive->runsOff.heel);
    CHECK(first.seen.drive->teeth == 3);
    CHECK(first.seen.backlashMm == 0.20);
    CHECK(first.seen.shimStackMm == 0.80);
    CHECK_FALSE(first.shimChangeMm);
    CHECK(first.seen.fromPhotos);
    CHECK(first.seen.extentNoise == kPhotoExtentNoise);
    CHECK(second.seen.dial == DialReading::OuterCircumference);
    CHECK(second.seen.backlashRoundMm == std::vector<double>{0.18, 0.20, 0.22, 0.20});
    CHECK(second.shimChangeMm == -0.1);
    CHECK_FALSE(second.seen.fromPhotos);
    CHECK(second.seen.extentNoise == 1);
}

TEST_CASE("edges that are not given follow from the words; photos are taken unless said") {
    auto document = nlohmann::json::parse(writeHistory(twoTrials()));
    auto& trial = document["trials"][1];
    trial["drive"].erase("edges");
    trial.erase("read_from");
    const HistoryFile read = parseHistoryFile(document.dump(), "job.json");
    CHECK(read.trials[1].seen.drive->edgeHeel > 0.1);
    CHECK(read.trials[1].seen.drive->edgeToe == 0);
    CHECK(read.trials[1].seen.fromPhotos);
    CHECK(read.trials[1].seen.extentNoise == kPhotoExtentNoise);
}

TEST_CASE("each fault of a history is one sentence that names file and field") {
    const auto refused = [](auto&& spoil) {
        auto document = nlohmann::json::parse(writeHistory(twoTrials()));
        spoil(document);
        try {
            parseHistoryFile(document.dump(), "job.json");
        } catch (const InputError& error) {
            return std::string(error.what());
        }
        return std::string("taken");
    };
    const auto holds = [](const std::string& text, const std::string& part) {
        return text.starts_with("job.json: ") && text.find(part) != std::string::npos && text.ends_with('.');
    };
    CHECK(holds(refused([](auto& d) { d.erase("schema"); }), "\"schema\" is missing"));
    CHECK(holds(refused([](auto& d) { d.erase("trials"); }), "\"trials\" is missing"));
    CHECK(holds(refused([](auto& d) { d["trials"][1] = 7; }), "\"trials[1]\" must be an object"));
    CHECK(
        holds(refused([](auto& d) { d["trials"][0]["drive"].erase("area"); }), "\"trials[0].drive.area\" is missing"));
    CHECK(holds(refused([](auto& d) { d["trials"][0]["drive"]["tilt_deg"] = 100; }), "\"trials[0].drive.tilt_deg\""));
    CHECK(holds(refused([](auto& d) { d["trials"][0]["drive"]["teeth"] = 1.5; }), "must be a whole number"));
    CHECK(holds(refused([](auto& d) { d["trials"][0]["backlash_round_mm"] = {0.1, "x"}; }), "backlash_round_mm"));
    CHECK(holds(refused([](auto& d) { d["trials"][0]["read_from"] = "memory"; }), "\"trials[0].read_from\""));
    CHECK(holds(refused([](auto& d) { d["trials"][0]["backlsh_mm"] = 0.2; }),
                "was \"trials[0].backlash_mm\" meant? Correct"));
}

TEST_CASE("what used gears were before, and what was looked into, come back as they were written") {
    HistoryFile history;
    history.trials = twoTrials();
    history.usedGears = true;
    history.before = twoTrials()[1].seen;
    history.before->backlashMm = 0.33;
    history.checked = {DiagnosisKind::SidesSwapped, DiagnosisKind::HousingOffset, DiagnosisKind::ShaftAngle};
    const HistoryFile read = parseHistoryFile(writeHistory(history), "job.json");
    REQUIRE(read.before);
    CHECK(read.before->backlashMm == 0.33);
    CHECK(read.before->drive->toeHeel == 0.62);
    CHECK(read.before->dial == DialReading::OuterCircumference);
    CHECK(read.checked == history.checked);
    CHECK(read.usedGears);
    // A history of a program that knew neither.
    auto older = nlohmann::json::parse(writeHistory(twoTrials()));
    older.erase("before");
    older.erase("checked");
    const HistoryFile plain = parseHistoryFile(older.dump(), "job.json");
    CHECK_FALSE(plain.before);
    CHECK(plain.checked.empty());
}

TEST_CASE("words for what was looked into") {
    auto document = nlohmann::json::parse(writeHistory(twoTrials()));
    document["checked"] = {"housing", "sides", "shaft-angle"};
    // A look at the housing closes both of its explanations, once.
    CHECK(parseHistoryFile(document.dump(), "job.json").checked ==
          std::vector<DiagnosisKind>{DiagnosisKind::HousingOffset, DiagnosisKind::ShaftAngle,
                                     DiagnosisKind::SidesSwapped});
    document["checked"] = {"luck"};
    CHECK_THROWS_WITH(parseHistoryFile(document.dump(), "job.json"),
                      Catch::StartsWith("job.json: \"checked\" holds \"luck\"; it may hold: sides, cut, housing"));
    document["checked"] = "sides";
    CHECK_THROWS_AS(parseHistoryFile(document.dump(), "job.json"), InputError);
}
