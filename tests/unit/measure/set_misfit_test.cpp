// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Whether photos fit the gear set: the rule on what a fit says, and the samples with another set.
#include "measure/set_misfit.h"

#include <catch2/catch.hpp>
#include <string>

#include "shimsight/records.h"

using namespace shimsight;

namespace {

GearSet setOf(int ringTeeth, std::optional<Hand> hand, std::optional<Cut> cut) {
    GearSetData data;
    data.name = "test";
    data.pinionTeeth = 11;
    data.ringTeeth = ringTeeth;
    data.ringGearDiameterMm = 222;
    data.offsetMm = 36;
    data.hand = hand;
    data.cut = cut;
    return completeGearSet(data);
}

/// What two photos of a right-hand, face-milled ring gear of about 43 teeth say; `gain` against another count.
std::vector<MeasuredPhoto> photosOf43(double gain) {
    std::vector<MeasuredPhoto> photos(2);
    photos[0].setFit = SetFit{Hand::Right, 42.4, gain, 0};
    photos[1].setFit = SetFit{std::nullopt, 43.5, gain, 0.1};
    return photos;
}

std::optional<Misfit> kindOf(const std::optional<SetMisfit>& misfit) {
    if (!misfit) return std::nullopt;
    return misfit->what;
}

}  // namespace

TEST_CASE("a set that fits is no misfit, and one that differs in one thing is that", "[measure]") {
    const auto kind = [](const GearSet& set, double gain) {
        return kindOf(measure::setMisfitOf(photosOf43(gain), set));
    };
    CHECK_FALSE(kind(setOf(43, Hand::Right, Cut::FaceMilled), 0));
    CHECK_FALSE(kind(setOf(42, Hand::Right, Cut::FaceMilled), 0.3));  // nearer than teeth can be counted
    CHECK(kind(setOf(41, Hand::Right, Cut::FaceMilled), 0.3) == Misfit::ToothCount);
    CHECK_FALSE(kind(setOf(39, Hand::Right, Cut::FaceMilled), 0.01));  // the set's own count explains them as well
    CHECK(kind(setOf(39, Hand::Right, Cut::FaceMilled), 0.3) == Misfit::ToothCount);
    CHECK(kind(setOf(43, Hand::Left, Cut::FaceMilled), 0) == Misfit::Hand);
    CHECK_FALSE(kind(setOf(43, std::nullopt, Cut::FaceMilled), 0));
    // What the photos say of the cut is weighed with the marks by the advice.
    CHECK_FALSE(kind(setOf(43, Hand::Right, Cut::FaceHobbed), 0));
    CHECK_FALSE(kind(setOf(43, Hand::Right, std::nullopt), 0));
    auto photos = photosOf43(0);
    for (MeasuredPhoto& photo : photos) photo.setFit->shapeGain = 0.6;
    CHECK(kindOf(measure::setMisfitOf(photos, setOf(43, Hand::Right, Cut::FaceMilled))) == Misfit::Proportions);
    CHECK_FALSE(measure::setMisfitOf(photos, setOf(43, Hand::Right, std::nullopt)));
    CHECK_FALSE(measure::setMisfitOf(std::vector<MeasuredPhoto>(2), setOf(30, Hand::Left, Cut::FaceHobbed)));
}

TEST_CASE("photos of one set read with another: said, and no correction", "[measure]") {
    const std::string samples = SHIMSIGHT_SOURCE_DIR "/samples/van-a-too-shallow/";
    const std::vector<TrialPhoto> photos{{"drive", openTrialPhoto(samples + "drive.jpg"), {}},
                                         {"coast", openTrialPhoto(samples + "coast.jpg"), {}}};
    const auto dataOf = [](const std::string& set) {
        return loadGearSet(SHIMSIGHT_SOURCE_DIR "/models/gear-sets/" + set + ".json");
    };
    const GearSetData ownData = dataOf("lab-van-rear-axle-a");
    const Measurement own = measureTrial(photos, &ownData);
    CHECK_FALSE(own.setMisfit);
    CHECK(adviseTrial(own, ownData, observationOf(own)));
    // Typed as a bench has it, the cut not known: no misfit, and a correction.
    GearSetData typed;
    typed.name = "typed";
    typed.pinionTeeth = ownData.pinionTeeth, typed.ringTeeth = ownData.ringTeeth;
    typed.ringGearDiameterMm = ownData.ringGearDiameterMm, typed.offsetMm = ownData.offsetMm;
    const Measurement asTyped = measureTrial(photos, &typed);
    CHECK_FALSE(asTyped.setMisfit);
    CHECK(adviseTrial(asTyped, typed, observationOf(asTyped)));
    for (const auto& [set, what] : {std::pair{"lab-van-front-axle", Misfit::ToothCount},
                                    {"lab-unknown-rear-axle", Misfit::ToothCount},
                                    {"lab-farm-truck-spiral-bevel", Misfit::Hand}}) {
        INFO(set);
        const GearSetData data = dataOf(set);
        const Measurement other = measureTrial(photos, &data);
        REQUIRE(other.setMisfit);
        CHECK(other.setMisfit->what == what);
        CHECK_FALSE(adviseTrial(other, data, observationOf(other)));
        CHECK_FALSE(misfitWords(*other.setMisfit).empty());
        CHECK_FALSE(whatIsMissing(other, &data, observationOf(other)).empty());
    }
}

TEST_CASE("a real ring gear without compound is called that", "[measure]") {
    const std::string file = SHIMSIGHT_SOURCE_DIR "/tests/accuracy/real/gear-0117.jpg";
    const Measurement m = measureTrial({{file, openTrialPhoto(file), {}}}, nullptr);
    CHECK_FALSE(m.anythingRead());
    REQUIRE(m.photos[0].refused);
    CHECK(m.photos[0].refused->why == Refusal::NoCompound);
    CHECK(m.photos[0].refusedFlanks.size() >= 4);
}
