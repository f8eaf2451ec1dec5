// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/gear_set.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "../../support/gear_sets.h"
#include "shimsight/blank.h"
#include "shimsight/core.h"

using namespace shimsight;

namespace {

GearSetData bare(int pinion, int ring, double diameterMm, double offsetMm) {
    GearSetData data;
    data.pinionTeeth = pinion, data.ringTeeth = ring;
    data.ringGearDiameterMm = diameterMm, data.offsetMm = offsetMm;
    return data;
}

bool says(const GearSet& set, const std::string& words) {
    return std::any_of(set.assumed.begin(), set.assumed.end(),
                       [&](const Message& line) { return text(line).find(words) != std::string::npos; });
}

/// The InputError of completing `data` and of laying out its blank; "" when there is none.
std::string refusal(const GearSetData& data, Cut cut) {
    try {
        (void)designBlank(withCut(data, cut));
        return "";
    } catch (const InputError& error) {
        return error.what();
    }
}

}  // namespace

TEST_CASE("what a file gives is a field, part by part") {
    const GearSet nothing = completeGearSet(bare(11, 43, 222, 36));
    CHECK_FALSE((nothing.given.hand || nothing.given.cut || nothing.given.cutter || nothing.given.bladeGroups));
    CHECK_FALSE((nothing.given.crowning[0] || nothing.given.crowning[1]));
    CHECK_FALSE((nothing.given.pinionShim || nothing.given.carrier));
    CHECK_FALSE((nothing.given.backlashLimits || nothing.given.backlashVariation || nothing.given.ringRunout ||
                 nothing.given.acceptance));

    GearSetData data = bare(11, 43, 222, 36);
    data.hand = Hand::Left;
    data.cut = Cut::FaceHobbed;
    data.cutterRadiusMm = 88;
    data.modification[index(Side::Coast)].lengthCrownUm = 20;
    CHECK_FALSE(completeGearSet(data).given.crowning[index(Side::Coast)]);
    data.modification[index(Side::Coast)].profileCrownUm = 12;
    data.build.carrier = CarrierSetting::CarrierShims;
    data.build.spacerSeat = SpacerSeat::OnPinionShoulder;
    data.limits.ringRunoutMm = 0.05;
    data.limits.acceptance.mayRunOff = true;
    const Given given = completeGearSet(data).given;
    CHECK((given.hand && given.cut && given.cutter && given.crowning[index(Side::Coast)] && given.carrier &&
           given.ringRunout && given.acceptance));
    CHECK_FALSE((given.bladeGroups || given.crowning[index(Side::Drive)] || given.pinionShim || given.backlashLimits ||
                 given.backlashVariation));
    const Build build = completeGearSet(data).build;
    CHECK(build.spacerSeat == SpacerSeat::OnPinionShoulder);
    CHECK_FALSE(build.preloadSpacer);
    CHECK_FALSE(build.pinionPosition);

    // The other cut's cutter is not the file's.
    const GearSet other = withCut(data, Cut::FaceMilled);
    CHECK(other.cut == Cut::FaceMilled);
    CHECK(other.cutterRadiusMm != 88);
    CHECK_FALSE(other.given.cutter);
    CHECK(other.given.cut);
}

TEST_CASE("without limits the usual ones of the cut are taken and called so") {
    GearSetData data = bare(11, 41, 247, 38);
    data.cut = Cut::FaceHobbed;
    GearSet set = completeGearSet(data);
    // Light-truck workshop manual 2008, face-hobbed sets.
    CHECK(set.limits.backlashMm.low == Approx(Length::fromThou(3).mm()));
    CHECK(set.limits.backlashMm.high == Approx(Length::fromThou(5).mm()));
    CHECK_FALSE(set.given.backlashLimits);
    CHECK(says(set, "usual ones of face-hobbed sets, 0.003 in (0.08 mm) to 0.005 in (0.13 mm)"));
    data.cut = Cut::FaceMilled;
    set = completeGearSet(data);
    CHECK(set.limits.backlashMm == Limits{}.backlashMm);
    CHECK(says(set, "usual ones of face-milled sets, 0.005 in (0.13 mm) to 0.009 in (0.23 mm)"));
    // Not known how it was cut: both models of the advice aim at the same backlash, one that both ranges hold.
    data.cut.reset();
    const Interval either = completeGearSet(data).limits.backlashMm;
    CHECK(withCut(data, Cut::FaceHobbed).limits.backlashMm == either);
    CHECK(either.middle() == Approx(Length::fromThou(5).mm()));
    data.limits.backlashMm = Interval{0.2, 0.3};
    set = completeGearSet(data);
    CHECK(set.limits.backlashMm == Interval{0.2, 0.3});
    CHECK(set.given.backlashLimits);
    CHECK_FALSE(says(set, "backlash limits"));
}

TEST_CASE("the other cut of a set keeps its limits and says which cut was taken") {
    GearSetData data = bare(9, 37, 205, 35);
    CHECK(says(completeGearSet(data), "face-milled (tapered tooth depth) taken"));
    const GearSet hobbed = withCut(data, Cut::FaceHobbed);
    CHECK(says(hobbed, "face-hobbed (uniform tooth depth) taken"));
    CHECK_FALSE(hobbed.cutKnown);
    CHECK_FALSE(hobbed.given.cut);
    data.cut = Cut::FaceMilled;
    CHECK(withCut(data, Cut::FaceHobbed).limits.backlashMm == completeGearSet(data).limits.backlashMm);
}

TEST_CASE("what is built is accepted with nothing but teeth, diameter and offset", "[many-draws]") {
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed}) {
        CHECK(refusal(bare(13, 46, 280, 70), cut).empty());
        for (const int pinion : {8, 11, 13, 16})
            for (const int ring : {33, 39, 46, 49})
                for (const double diameter : {150.0, 222.0, 420.0})
                    for (const double share : {0.0, 0.05, 0.12, 0.18, 0.22, 0.25, 0.27}) {
                        INFO(pinion << "/" << ring << ", " << diameter << " mm, offset " << share * diameter);
                        const GearSetData data = bare(pinion, ring, diameter, share * diameter);
                        CHECK(refusal(data, cut).empty());
                        const Blank blank = designBlank(withCut(data, cut));
                        CHECK(degrees(blank.pressureAngleDrive) >= 8);
                    }
    }
    CHECK_NOTHROW(designBlank(completeGearSet(bare(13, 46, 280, 70))));
}

TEST_CASE("assumed values give way, given ones do not") {
    // Of large offset a cutter of the usual size would leave the drive side flat: a smaller one is taken.
    GearSetData data = bare(13, 46, 280, 70);
    data.cut = Cut::FaceMilled;
    const GearSet smaller = completeGearSet(data);
    CHECK(smaller.pressureAngleDeg == 20);
    CHECK(smaller.cutterRadiusMm < 130);
    CHECK(says(smaller, "cutter radius"));
    // With the cutter given the pressure angle moves, and is said as it came out.
    data.cutterRadiusMm = 127;
    const GearSet steeper = completeGearSet(data);
    CHECK(steeper.cutterRadiusMm == 127);
    CHECK(steeper.pressureAngleDeg > 20);
    CHECK(says(steeper, "pressure angle: 22.5 degrees"));
    CHECK_NOTHROW(designBlank(steeper));
    // With all of them given there is nothing to give way; the sentence names what was typed.
    data.pressureAngleDeg = 20;
    data.pinionSpiralDeg = 57;
    data.cutterRadiusMm = 180;
    CHECK(completeGearSet(data).cutterRadiusMm == 180);
    CHECK(refusal(data, Cut::FaceMilled).find("offset_mm: with this spiral and cutter") == 0);
}

TEST_CASE("a cutter is found for every lengthwise curvature that is cut") {
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed})
        for (const GearSetData& data : {bare(9, 37, 205, 35), bare(13, 46, 280, 70), bare(11, 40, 265, 0),
                                        bare(16, 33, 150, 20), bare(8, 49, 420, 40)})
            for (const double share : {0.65, 0.80, 1.0, 1.15, 1.30, 1.45}) {
                INFO(data.pinionTeeth << "/" << data.ringTeeth << ", share " << share << ", cut "
                                      << static_cast<int>(cut));
                const GearSet set = withCutter(data, cut, share);
                const Blank blank = designBlank(set);
                CHECK(blank.lengthwiseRadius / blank.coneDistanceM2 == Approx(share).margin(0.01).epsilon(0));
                CHECK(set.cut == cut);
                CHECK_FALSE(set.given.cutter);
                CHECK_FALSE(set.cutKnown);
                CHECK(says(set, "cutter radius"));
                CHECK((set.bladeGroups > 0) == (cut == Cut::FaceHobbed));
            }
    // Far outside what is cut there is none.
    CHECK_THROWS_AS(withCutter(bare(13, 46, 280, 70), Cut::FaceMilled, 6), InputError);
    // A cutter of the other cut does not count as given.
    GearSetData milled = test::milledData();
    CHECK_NOTHROW(withCutter(milled, Cut::FaceHobbed, 0.7));
    CHECK_THROWS_AS(withCutter(milled, Cut::FaceMilled, 1.2), std::logic_error);
}

TEST_CASE("one set of bounds, each fault with its field") {
    const auto fault = [](auto&& spoil) {
        GearSetData data = test::milledData();
        spoil(data);
        const std::optional<FieldFault> found = faultOf(data);
        return found ? found->field + " " + text(found->why) : std::string();
    };
    CHECK(fault([](GearSetData&) {}).empty());
    CHECK(fault([](GearSetData& d) { d.pinionTeeth = 3; }) == "teeth.pinion is 3 teeth; it must be from 4 to 60 teeth");
    CHECK(fault([](GearSetData& d) { d.offsetMm = 100; }).find("offset_mm is 100 mm, beyond") == 0);
    CHECK(fault([](GearSetData& d) { d.build.shimsMm = {0.5, 25}; }).find("build.shims_mm is 25 mm") == 0);
    CHECK(fault([](GearSetData& d) { d.build.shimsMm = {15}; }).empty());
    CHECK(fault([](GearSetData& d) { d.limits.backlashMm = Interval{0.3, 0.2}; }).find("limits.backlash_mm has") == 0);
    CHECK(fault([](GearSetData& d) { d.modification[1].biasUm = 900; }).find("modification.coast.bias_um") == 0);
    CHECK(fault([](GearSetData& d) { d.pressureAngleDeg = std::nan(""); }) ==
          "pressure_angle_deg is not a finite number");
}
