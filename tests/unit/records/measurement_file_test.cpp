// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <string>

#include "records_json.h"
#include "shimsight/core.h"
#include "shimsight/records.h"

using namespace shimsight;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

Pattern pattern(double toeHeel) {
    Pattern p;
    p.toeHeel = toeHeel, p.rootTip = 0.41, p.sigmaToeHeel = 0.011, p.sigmaRootTip = 0.02;
    p.length = 0.55, p.height = 0.6, p.area = 0.3, p.tiltDeg = -4.5;
    p.edgeToe = 0.4, p.edgeHeel = 0.01;
    p.runsOff.toe = true;
    p.toothSpread = 0.02, p.teeth = 7;
    return p;
}

/// Every field set to something of its own.
MeasurementRecord fullReading() {
    MeasurementRecord record;
    RecordedPhoto photo;
    photo.file = "photos/a.jpg";
    photo.found = true;
    photo.cutEvidence = RecordedCutEvidence{0.9, "the teeth taper."};
    photo.flanks.push_back({.side = Side::Coast,
                            .outline = {PixelPoint{1, 2}, {3, 4}, {5, 6.25}, {7, 8}},
                            .confidence = 0.7,
                            .marking = Marking::Wiped,
                            .markingCertainty = 0.8,
                            .used = false,
                            .pattern = pattern(0.31)});
    photo.refusedFlanks.push_back(
        {std::nullopt, {PixelPoint{1, 2}, {3, 4}, {5, 6}, {7, 8}}, {Refusal::Glare, "it glares.", "Turn the lamp."}});
    record.photos.push_back(photo);
    photo = {};
    photo.file = "photos/b.jpg";
    photo.refused = Refused{Refusal::OutOfFocus, "it is blurred.", "Hold still."};
    record.photos.push_back(photo);
    record.coast = pattern(0.3);
    record.setMisfit = SetMisfit{Misfit::ToothCount, 39, 43};
    Advice advice;
    advice.verdict = Verdict::Change;
    advice.pinionDepthChangeMm = {0.1, 0.05, 0.15};
    advice.depthErrorMm = {-0.1, -0.15, -0.05};
    advice.backlashNowMm = 0.2;
    advice.backlashTargetMm = 0.19;
    advice.ringGearMoveMm = -0.03;
    advice.shim = {PinionShim::UnderBearingCup, false, 0.1, 0.1, {0.762, 0.127}};
    advice.stop = Stop{StopKind::Runout, "it runs out."};
    advice.certainty = Certainty::Likely;
    advice.lookFirst = {"look."};
    advice.changesNothing = false, advice.limitsKnown = false;
    advice.preloadShim = {PreloadEffect::Follows, 0.1};
    advice.adjusters = AdjusterMove{2, -2, 2, -2};
    advice.chanceAcceptableNext = 0.8, advice.chanceAcceptableNow = 0.1, advice.chanceFaceMilled = 0.6;
    advice.readAgainFirst = true;
    advice.expectedHours = 2.5;
    advice.runnerUp = RunnerUp{0.127, 0.18, 0.7, 3};
    advice.diagnoses.push_back({DiagnosisKind::EntryChange, 0.4, "the marks moved the other way.", true, true});
    advice.trials = 3;
    advice.expectedDrive = pattern(0.45), advice.expectedCoast = pattern(0.46);
    advice.spreadDrive = PatternSpread{0.01, 0.02, 0.03, 0.04};
    advice.because = {"one.", "two."}, advice.cautions = {"careful."};
    record.advice = advice;
    record.notes = {"a note."}, record.assumed = {"hand"};
    return record;
}

}  // namespace

TEST_CASE("a reading comes back as it was written, every field", "[records]") {
    const std::string text = writeMeasurement(fullReading());
    const MeasurementRecord again = parseMeasurement(text, "reading.json");
    CHECK(json::parse(writeMeasurement(again)) == json::parse(text));
    CHECK(again.photos[0].refusedFlanks[0].refused.why == Refusal::Glare);
    CHECK(again.advice->diagnoses[0].kind == DiagnosisKind::EntryChange);
    CHECK(again.advice->expectedDrive->toeHeel == 0.45);
    CHECK_FALSE(again.drive);
}

TEST_CASE("a reading with any field of a wrong kind is refused by the field's name", "[records]") {
    const json good = json::parse(writeMeasurement(fullReading()));
    int tried = 0;
    const json flat = good.flatten();
    for (const auto& [pointer, value] : flat.items()) {
        if (value.is_null() || pointer.ends_with("_position")) continue;
        json broken = good;
        broken[json::json_pointer(pointer)] = {{"no", "such"}};
        std::string what;
        try {
            (void)parseMeasurement(broken.dump(), "r.json");
        } catch (const InputError& error) {
            what = error.what();
        }
        INFO(pointer << ": " << what);
        CHECK(what.starts_with("r.json: \""));
        ++tried;
    }
    CHECK(tried > 100);
}

TEST_CASE("the line of a field is found in any layout", "[records]") {
    const std::string text =
        "{\n \"a\": [1, {\"x\\\"y\": \"}\", \"b\":\n  2}],\n \"c\": {\"d\": null,\n\"e\": [3,\n4]}}";
    CHECK(lineOfField(text, "a") == 2);
    CHECK(lineOfField(text, "a[1].b") == 3);
    CHECK(lineOfField(text, "c.d") == 4);
    CHECK(lineOfField(text, "c.e[1]") == 6);
    CHECK(lineOfField(text, "c.missing") == 4);
    CHECK(lineOfField(text, "") == 1);
    CHECK(lineOfField("", "a[") == 1);
}
