// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The whole line on the sample photos: rendered trials whose set-up is known, with seeds that no part was tuned on.
#include <catch2/catch.hpp>
#include <string>

#include "shimsight/measure.h"
#include "shimsight/records.h"

using namespace shimsight;

namespace {

struct Sample {
    const char* folder;
    const char* gearSet;
    double backlashThou;  ///< as in trial.args
    double depthThou;     ///< true error, + too deep
    double ringMm;        ///< true ring gear move, as in the truth files
    Verdict verdict;
};

constexpr Sample kSamples[] = {
    {.folder = "van-a-too-shallow",
     .gearSet = "lab-van-rear-axle-a",
     .backlashThou = 9,
     .depthThou = -6,
     .ringMm = 0,
     .verdict = Verdict::Change},
    {.folder = "light-truck-too-deep",
     .gearSet = "lab-light-truck-rear-axle",
     .backlashThou = 3.5,
     .depthThou = 5,
     .ringMm = -0.038063,
     .verdict = Verdict::Change},
    {.folder = "van-b-good",
     .gearSet = "lab-van-rear-axle-b",
     .backlashThou = 7,
     .depthThou = 0,
     .ringMm = 0,
     .verdict = Verdict::Accept},
};

TrialPhoto photoOf(const Sample& sample, const std::string& side, bool outlined) {
    const std::string stem = std::string(SHIMSIGHT_SOURCE_DIR "/samples/") + sample.folder + "/" + side;
    return {side, openTrialPhoto(stem + ".jpg"),
            outlined ? loadOutline(stem + ".outline.json") : std::vector<FlankOutline>{}};
}

}  // namespace

TEST_CASE("sample photos: centres, depth, direction and verdict", "[measure]") {
    const bool outlined = GENERATE(true, false);
    for (const Sample& sample : kSamples) {
        INFO(sample.folder << (outlined ? ", corners set by hand" : ", teeth found"));
        const GearSetData data =
            loadGearSet(std::string(SHIMSIGHT_SOURCE_DIR "/models/gear-sets/") + sample.gearSet + ".json");
        const Measurement m =
            measureTrial({photoOf(sample, "drive", outlined), photoOf(sample, "coast", outlined)}, &data);
        TrialObservation seen = observationOf(m);
        seen.backlashMm = Length::fromThou(sample.backlashThou).mm();
        const ToothContact contact(completeGearSet(data));
        const SetupError truth{Length::fromThou(sample.depthThou).mm(), sample.ringMm, 0, 0};
        for (const Side side : kSides) {
            const auto& read = side == Side::Drive ? m.drive : m.coast;
            REQUIRE(read);
            const auto real =
                measurePattern(contact.predictMap(side, truth, contact.gearSet().modification[index(side)]));
            REQUIRE(real);
            // The aim is 2 % of length and 4 % of height for the median; a single reading may be off by more.
            CHECK(read->pattern.toeHeel == Approx(real->toeHeel).margin(0.04));
            CHECK(read->pattern.rootTip == Approx(real->rootTip).margin(0.06));
            CHECK(read->pattern.teeth >= 3);
        }
        for (const MeasuredPhoto& photo : m.photos) CHECK(photo.found == !outlined);
        const std::optional<Advice> advice = adviseTrial(m, data, seen);
        REQUIRE(advice);
        CHECK(advice->verdict == sample.verdict);
        CHECK(advice->depthErrorMm.best / 0.0254 == Approx(sample.depthThou).margin(2));
        CHECK(advice->depthErrorMm.low90 / 0.0254 < sample.depthThou);
        CHECK(advice->depthErrorMm.high90 / 0.0254 > sample.depthThou);
        if (sample.verdict == Verdict::Change) {
            // Too shallow under a removable support: shims out. Too deep under a bearing cup: shims out as well.
            CHECK(advice->shim.thicknessChangeMm < 0);
            CHECK((advice->pinionDepthChangeMm.best > 0) == (sample.depthThou < 0));
        }
    }
}

TEST_CASE("a sample from too far away asks to come closer, not to paint anew", "[measure]") {
    const GearSetData data = loadGearSet(SHIMSIGHT_SOURCE_DIR "/models/gear-sets/lab-van-rear-axle-a.json");
    DecodeOptions options;
    options.targetLongSide = 200;
    Photo far = loadPhoto(SHIMSIGHT_SOURCE_DIR "/samples/van-a-too-shallow/drive.jpg", options);
    REQUIRE(far.picture.width == 200);
    far.file = nullptr;
    far.fullWidth = far.picture.width, far.fullHeight = far.picture.height, far.scale = 1;
    const Measurement m = measureTrial({{"drive", far, {}}}, &data);
    REQUIRE(m.photos.at(0).refused);
    INFO(text(m.photos[0].refused->reason));
    CHECK_THAT(text(m.photos[0].refused->whatToDo), Catch::Contains("closer"));
}
