// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/tooth_contact.h"

#include <catch2/catch.hpp>

#include "gear/exact_contact.h"
#include "shimsight/core.h"
#include "shimsight/pattern.h"
#include "support/gear_sets.h"

using namespace shimsight;

namespace {

constexpr Modification kUsual{22, 14, 0, 0, 0};

Pattern patternOf(const ToothContact& contact, Side side, const SetupError& error,
                  const Modification& modification = kUsual) {
    const auto pattern = measurePattern(contact.predict(side, error, modification));
    REQUIRE(pattern);
    return *pattern;
}

SetupError deeper(const ToothContact& contact, double depthMm) {
    return {depthMm, contact.ringMoveForConstantBacklashMm(depthMm), 0, 0};
}

/// ISO 23509:2016 Annex F samples as gear sets (see blank_test.cpp for their origin).
GearSet isoSample(int number) {
    GearSetData d;
    if (number == 1) {
        d = test::spiralBevelData();
    } else if (number == 2) {
        d.pinionTeeth = 13, d.ringTeeth = 42, d.offsetMm = 15, d.ringGearDiameterMm = 170, d.faceWidthMm = 30;
        d.cut = Cut::FaceMilled, d.pinionSpiralDeg = 50, d.cutterRadiusMm = 63.5, d.addendumAngleDeg = 1,
        d.dedendumAngleDeg = 4;
        d.ringGearAddendumMm = 0.35 * 5.280;
    } else {
        d.pinionTeeth = 9, d.ringTeeth = 34, d.offsetMm = 31.75, d.ringGearDiameterMm = 169.9,
        d.meanPitchDiameterMm = 146.7;
        d.faceWidthMm = 26, d.cut = Cut::FaceHobbed, d.ringSpiralDeg = 21.009, d.ringPitchAngleDeg = 63.212;
        d.cutterRadiusMm = 76, d.bladeGroups = 13, d.workingDepthMm = 8.056, d.ringGearAddendumMm = 2.215;
    }
    return completeGearSet(d);
}

}  // namespace

// Movement tables. Face-milled: US Army TM 5-3805-260-24 pp. 3-244/3-245 and passenger-car service manuals 1968 p.
// 4A-13, 1969 p. 4A-14. Face-hobbed: light-truck workshop manual 2008, ring gear pattern table. Size range: first-order
// contact analysis, not published.
TEST_CASE("movement table, face-milled: deeper moves drive to root and toe, coast to root and heel") {
    for (const GearSet& set : {test::largeCutterMilledSet(), isoSample(1)}) {
        const ToothContact contact(set);
        REQUIRE(contact.blank().lengthwiseRadius / contact.blank().coneDistanceM2 > 1.25);
        for (const Side side : kSides) {
            const Pattern before = patternOf(contact, side, deeper(contact, -0.05)),
                          after = patternOf(contact, side, deeper(contact, 0.05));
            CHECK(after.rootTip < before.rootTip);
            CHECK((after.toeHeel < before.toeHeel) == (side == Side::Drive));
            const double towardRootMm = (before.rootTip - after.rootTip) * contact.blank().workingDepth;
            CHECK(towardRootMm > 0.5);
            CHECK(towardRootMm < 1.5);
        }
    }
}

TEST_CASE("movement table, face-hobbed: deeper moves drive to root and heel, coast to root and toe") {
    for (const GearSet& set : {test::hobbedSet(), isoSample(3)}) {
        const ToothContact contact(set);
        const double ratio = contact.blank().lengthwiseRadius / contact.blank().coneDistanceM2;
        REQUIRE(ratio > 0.62);
        REQUIRE(ratio < 0.72);
        for (const Side side : kSides) {
            const Pattern before = patternOf(contact, side, deeper(contact, -0.05)),
                          after = patternOf(contact, side, deeper(contact, 0.05));
            CHECK(after.rootTip < before.rootTip);
            CHECK((after.toeHeel > before.toeHeel) == (side == Side::Drive));
            const double towardRootMm = (before.rootTip - after.rootTip) * contact.blank().workingDepth;
            CHECK(towardRootMm > 0.5);
            CHECK(towardRootMm < 1.5);
        }
    }
}

TEST_CASE(
    "movement table, ring gear away: milled to the heel on both sides, hobbed drive to the heel and coast to the toe") {
    const auto movement = [](const ToothContact& contact, Side side) {
        const Pattern before = patternOf(contact, side, {0, 0.05, 0, 0}),
                      after = patternOf(contact, side, {0, -0.05, 0, 0});
        // Length 0.2 to 3.6 mm and height at most 0.3 mm per 0.10 mm (first-order contact analysis, not published).
        const double alongMm = (after.toeHeel - before.toeHeel) * contact.gearSet().faceWidthMm;
        CHECK(std::abs(alongMm) > 0.2);
        CHECK(std::abs(alongMm) < 3.6);
        CHECK(std::abs(after.rootTip - before.rootTip) * contact.blank().workingDepth < 0.3);
        return alongMm;
    };
    for (const GearSet& set : {test::largeCutterMilledSet(), isoSample(1)}) {
        const ToothContact contact(set);
        CHECK(movement(contact, Side::Drive) > 0);
        CHECK(movement(contact, Side::Coast) > 0);
    }
    for (const GearSet& set : {test::hobbedSet(), isoSample(3)}) {
        const ToothContact contact(set);
        CHECK(movement(contact, Side::Drive) > 0);
        CHECK(movement(contact, Side::Coast) < 0);
    }
}

TEST_CASE("more offset moves the drive mark to the toe and the coast mark to the heel") {
    // First-order contact analysis, not published.
    for (const GearSet& set : {test::largeCutterMilledSet(), test::hobbedSet(), isoSample(2)}) {
        const ToothContact contact(set);
        CHECK(patternOf(contact, Side::Drive, {0, 0, 0.04, 0}).toeHeel < patternOf(contact, Side::Drive, {}).toeHeel);
        CHECK(patternOf(contact, Side::Coast, {0, 0, 0.04, 0}).toeHeel > patternOf(contact, Side::Coast, {}).toeHeel);
    }
}

TEST_CASE("backlash rates of the ISO samples, dial square to the tooth") {
    // d(backlash) = dG sin d2 (tan aD + tan aC), the pinion with sin d1: derivation from the printed angles of the
    // samples.
    const double gear[] = {0.685, 0.678, 0.654}, pinion[] = {0.246, 0.265, 0.307}, ratio[] = {0.359, 0.391, 0.469};
    for (int i = 0; i < 3; ++i) {
        const ToothContact contact(isoSample(i + 1));
        const BacklashRates rates = contact.backlashRates();
        CHECK(rates.perRingMove == Approx(gear[i]).margin(0.003));
        CHECK(rates.perDepth == Approx(pinion[i]).margin(0.003));
        CHECK(-contact.ringMoveForConstantBacklashMm(1) == Approx(ratio[i]).margin(0.003));
    }
}

TEST_CASE("backlash by carrier shift agrees with workshop tables") {
    // Truck manual 1996, 8-5/8 in gear: 0.003 in of shift for 0.002 in of backlash. 2014 workshop manual, section
    // 205-02, 8.8 in gear: wanted change => shim change in thousandths, every entry change / 0.75 rounded to the
    // nearest 2. The tables are coarse: their slopes are 0.67 and 0.75; a set of that size must lie between 0.62 and
    // 0.80 on one dial or the other.
    const ToothContact contact(test::milledSet());
    const double square = contact.backlashRates(DialReading::SquareToTooth).perRingMove;
    CHECK(square > 0.62);
    CHECK(square < 0.80);
    // The dial along the circle at the heel reads more.
    CHECK(contact.backlashRates(DialReading::OuterCircumference).perRingMove > square);
    CHECK(contact.toSquareReading(DialReading::OuterCircumference) *
              contact.backlashRates(DialReading::OuterCircumference).perRingMove ==
          Approx(square));
    // Published table, all rows: ours, rounded to the next even shim, must be within one 2-thousandths step.
    const int table[] = {2, 2, 4, 6, 6, 8, 10, 10, 12, 14, 14, 16, 18, 18, 20};
    for (int change = 1; change <= 15; ++change)
        CHECK(std::abs(2 * std::lround(change / square / 2) - table[change - 1]) <= 2);
}

TEST_CASE("a dial square to the tooth at the heel reads more than one at mid-face, by radius and spiral angle there") {
    // ISO 23509:2016 Annex F, samples 1 and 2: outer diameter de2, spiral at the heel be2, mean diameter dm2 and spiral
    // bm2 as printed. The dial moves by r cos(spiral) for each radian of the ring gear.
    const double de2[] = {176.893, 170}, be2[] = {36.846, 47.674}, dm2[] = {152.987, 141.877}, bm2[] = {35, 38.609};
    for (int i = 0; i < 2; ++i) {
        const ToothContact contact(isoSample(i + 1));
        const double heel = de2[i] * std::cos(radians(be2[i])), mid = dm2[i] * std::cos(radians(bm2[i]));
        CHECK(contact.toSquareReading(DialReading::SquareAtHeel) == Approx(mid / heel).epsilon(0.002));
        CHECK(contact.toSquareReading(DialReading::SquareAtHeel) >
              contact.toSquareReading(DialReading::OuterCircumference));
        CHECK(contact.backlashRates(DialReading::SquareAtHeel).perRingMove * mid / heel ==
              Approx(contact.backlashRates().perRingMove).epsilon(0.002));
    }
}

TEST_CASE("limits that the sheet has at the heel are turned into readings at mid-face") {
    GearSetData data = test::milledData();
    data.limits.backlashMm = Interval{0.15, 0.25};
    data.limits.backlashVariationMm = 0.05;
    const GearSet plain = completeGearSet(data);
    CHECK(plain.limits.backlashMm == Interval{0.15, 0.25});
    CHECK(plain.limits.sheetToSquare == 1);
    data.limits.dial = DialReading::SquareAtHeel;
    const GearSet heel = completeGearSet(data);
    const double factor = ToothContact(heel).toSquareReading(DialReading::SquareAtHeel);
    CHECK(factor < 0.97);
    CHECK(heel.limits.sheetToSquare == Approx(factor));
    CHECK(heel.limits.backlashMm.low == Approx(0.15 * factor));
    CHECK(heel.limits.backlashMm.high == Approx(0.25 * factor));
    CHECK(heel.limits.backlashVariationMm == Approx(0.05 * factor));
    // What nobody gave stays as this engine takes it, whatever dial the sheet has.
    data.limits.backlashMm.reset();
    CHECK(completeGearSet(data).limits.backlashMm == Limits{}.backlashMm);
}

TEST_CASE("depth at constant backlash keeps the backlash") {
    const ToothContact contact(test::hobbedSet());
    CHECK(contact.backlashChangeMm(deeper(contact, 0.1)) == Approx(0).margin(1e-12));
    CHECK(contact.backlashChangeMm({0, 0.1, 0, 0}) < 0);
    CHECK(contact.backlashChangeMm({0.1, 0, 0, 0}) < 0);
}

TEST_CASE("the fast model holds against the exact solver for errors up to 0.25 mm", "[many-draws]") {
    Random random(20);
    for (const GearSet& set :
         {test::milledSet(), test::largeCutterMilledSet(), test::hobbedSet(), test::spiralBevelSet()}) {
        const ToothContact contact(set);
        int compared = 0;
        for (int trial = 0; trial < 14; ++trial) {
            const double depth = random.uniform(-0.25, 0.25);
            const SetupError error{depth, random.uniform(-0.25, 0.25), random.uniform(-0.03, 0.03),
                                   random.uniform(-2e-4, 2e-4)};
            const Modification modification{random.uniform(12, 35), random.uniform(8, 20), random.uniform(-5, 5),
                                            random.uniform(-0.1, 0.1), random.uniform(-0.1, 0.1)};
            for (const Side side : kSides) {
                const auto fast = measurePattern(contact.predictMap(side, error, modification));
                const auto exact = measurePattern(contact.exactMap(side, error, modification));
                REQUIRE(fast.has_value() == exact.has_value());
                if (!fast) continue;
                ++compared;
                CHECK(fast->toeHeel == Approx(exact->toeHeel).margin(0.01));
                CHECK(fast->rootTip == Approx(exact->rootTip).margin(0.02));
            }
        }
        CHECK(compared >= 20);
    }
}

TEST_CASE("the exact solver's contact point has equal positions and opposed normals, and lies on the mark") {
    const ToothContact contact(test::milledSet());
    const Blank& blank = contact.blank();
    const SetupError error{0.08, -0.05, 0.01, 1e-4};
    for (const Side side : kSides) {
        const PinionFlank pinion(RingFlank(contact.gearSet(), blank, side), kUsual);
        const DisplacedPair pair(pinion, error);
        const FlankMap map = contact.exactMap(side, error, kUsual);
        const auto pattern = measurePattern(map);
        REQUIRE(pattern);
        const double roll = pinion.rollAngle(pinion.ring().at(pattern->toeHeel, pattern->rootTip));
        const auto point = pair.contactAt(pinion.ratio() * roll, pattern->toeHeel, pattern->rootTip, roll);
        REQUIRE(point);
        CHECK(point->positionResidualMm < 1e-6);
        CHECK(point->normalResidual < 1e-6);
        CHECK(point->u == Approx(pattern->toeHeel).margin(0.12));
        CHECK(point->v == Approx(pattern->rootTip).margin(0.12));
        CHECK(map.at(static_cast<int>(point->u * kMapWidth), static_cast<int>((1 - point->v) * kMapHeight)) > 200);
        // The point that touches at the least rotation is the contact point: its neighbours need more.
        const double closing = side == Side::Drive ? -1 : 1;
        for (const auto& [du, dv] : {std::pair{0.05, 0.0}, {-0.05, 0.0}, {0.0, 0.05}, {0.0, -0.05}}) {
            const auto beside = pair.touchOf(point->u + du, point->v + dv, pinion.ratio() * roll, roll);
            REQUIRE(beside);
            CHECK(closing * beside->ringAngle > closing * point->ringAngle);
        }
    }
}

TEST_CASE("thin film marks less, and a mark of a fraction f needs end crowning of film / f squared") {
    // Arithmetic on the ease-off parabola: film 6.35 um, crown 25.4 um => half the face (film from memory, classic
    // practice).
    const ToothContact contact(test::spiralBevelSet());
    const Modification modification{25.4, 14, 0, 0, 0};
    const auto wide = measurePattern(contact.predictMap(Side::Drive, {}, modification, kFilmMm));
    const auto thin = measurePattern(contact.predictMap(Side::Drive, {}, modification, 0.5 * kFilmMm));
    REQUIRE(wide);
    REQUIRE(thin);
    CHECK(thin->area < wide->area);
    // Contact lines run aslant, so the mark on a whole flank is longer than the section along one line.
    CHECK(wide->length == Approx(0.5).margin(0.12));
}

TEST_CASE("coarse, fine and drawn predictions agree") {
    const ToothContact contact(test::hobbedSet());
    for (const Side side : kSides) {
        const SetupError error{0.06, -0.04, 0, 0};
        const auto coarse = measurePattern(contact.predictCoarse(side, error, kUsual), 32, 16);
        const auto drawn = measurePattern(contact.predictMap(side, error, kUsual));
        const Pattern fine = patternOf(contact, side, error);
        REQUIRE(coarse);
        REQUIRE(drawn);
        CHECK(coarse->toeHeel == Approx(fine.toeHeel).margin(0.006));
        CHECK(coarse->rootTip == Approx(fine.rootTip).margin(0.01));
        CHECK(drawn->toeHeel == Approx(fine.toeHeel).margin(0.004));
        CHECK(drawn->rootTip == Approx(fine.rootTip).margin(0.006));
    }
}

TEST_CASE("errors beyond any gear are reckoned with, not fallen over") {
    const ToothContact contact(test::hobbedSet());
    for (const double metres : {-1e3, -10.0, 10.0, 1e3}) {
        const SetupError error{metres * 1e3, 0, metres * 1e3, 0};
        for (const Side side : kSides)
            for (const float mark : contact.predictCoarse(side, error, kUsual)) CHECK((mark >= 0 && mark <= 1));
    }
}

TEST_CASE("impossible gear sets are refused with the field's name") {
    const auto refusal = [](auto change) {
        GearSetData d = test::milledData();
        change(d);
        try {
            const ToothContact contact(completeGearSet(d));
        } catch (const InputError& error) {
            return std::string(error.what());
        }
        return std::string("accepted");
    };
    CHECK(refusal([](GearSetData&) {}) == "accepted");
    CHECK(refusal([](GearSetData& d) { d.pinionTeeth = 0; }).find("teeth.pinion") == 0);
    CHECK(refusal([](GearSetData& d) { d.ringTeeth = 11; }).find("teeth.ring") == 0);
    CHECK(refusal([](GearSetData& d) { d.offsetMm = 150; }).find("offset_mm") == 0);
    CHECK(refusal([](GearSetData& d) { d.offsetMm = -1; }).find("offset_mm") == 0);
    CHECK(refusal([](GearSetData& d) { d.ringGearDiameterMm = std::nan(""); }).find("ring_gear_diameter_mm") == 0);
    CHECK(refusal([](GearSetData& d) { d.faceWidthMm = 90; }).find("face_width_mm") == 0);
    CHECK(refusal([](GearSetData& d) { d.pinionSpiralDeg = 6; }).find("offset_mm, spiral and cutter") == 0);
    CHECK(refusal([](GearSetData& d) { d.offsetMm = 85, d.pinionSpiralDeg = 20; }).find("offset_mm") == 0);
}

TEST_CASE("teeth, diameter and offset alone give a whole set, with every assumption named") {
    GearSetData d;
    d.pinionTeeth = 10, d.ringTeeth = 41, d.ringGearDiameterMm = 200, d.offsetMm = 30;
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed}) {
        const GearSet set = withCut(d, cut);
        CHECK_FALSE(set.cutKnown);
        CHECK(set.assumed.size() >= 8);
        const ToothContact contact(set);
        for (const Side side : kSides) CHECK(measurePattern(contact.predict(side, {}, set.modification[index(side)])));
    }
}
