// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// ISO 23509:2016 Annex F samples 1 to 3, values as transcribed in public test files and recomputed from the formulas of
// clause 7; the standard itself was not opened. Tolerance 0.02 mm and 0.02 degrees.
#include "shimsight/blank.h"

#include <catch2/catch.hpp>

#include "shimsight/core.h"

using namespace shimsight;

namespace {

struct Sample {
    const char* name;
    GearSetData data;
    double pitch1, pitch2, cone1, cone2, spiral1, spiral2, diameter1, diameter2, zetaM, zetaMp, module, limit, drive,
        coast;
    double outerCone, innerCone, workingDepth, wholeDepth, clearance, addendum2, dedendum2, face2, root2, spiralE,
        spiralI;
    double thickness1, thickness2, lengthwise;
};

Sample sample1() {
    GearSetData d;
    d.pinionTeeth = 14, d.ringTeeth = 39, d.ringGearDiameterMm = 176.893, d.faceWidthMm = 25.4, d.cut = Cut::FaceMilled;
    d.ringSpiralDeg = 35, d.cutterRadiusMm = 114.3, d.pressureAngleDeg = 20, d.thicknessFactor = 0.0915;
    // k_d, k_c and c_ham of this sample are what the proportions give by themselves.
    d.addendumAngleDeg = 2.1342, d.dedendumAngleDeg = 6.4934;
    return {"F.2", d,     19.747, 70.253, 81.273, 81.273, 35,     35,     54.918, 152.987,
            0,     0,     3.213,  0,      20,     20,     93.973, 68.573, 6.427,  7.230,
            .803,  1.591, 5.639,  72.387, 63.760, 36.846, 33.946, 6.465,  3.511,  114.3};
}

Sample sample2() {
    GearSetData d;
    d.pinionTeeth = 13, d.ringTeeth = 42, d.offsetMm = 15, d.ringGearDiameterMm = 170, d.faceWidthMm = 30;
    d.cut = Cut::FaceMilled, d.pinionSpiralDeg = 50, d.cutterRadiusMm = 63.5, d.pressureAngleDeg = 20,
    d.thicknessFactor = 0.1;
    d.ringGearAddendumMm = 0.35 * 2 * 2.640;  // c_ham; k_d and k_c are what the proportions give
    d.addendumAngleDeg = 1, d.dedendumAngleDeg = 4;
    return {"F.3",  d,      21.288, 68.324, 73.519, 76.337, 49.998, 38.609, 53.383, 141.877,
            10.603, 11.390, 2.640,  -2.253, 17.747, 22.253, 91.468, 61.468, 5.280,  5.939,
            .660,   1.848,  4.092,  69.323, 64.324, 47.674, 30.826, 4.922,  3.241,  63.5};
}

Sample sample3() {
    GearSetData d;
    d.pinionTeeth = 9, d.ringTeeth = 34, d.offsetMm = 31.75, d.ringGearDiameterMm = 169.9,
    d.meanPitchDiameterMm = 146.7;
    d.faceWidthMm = 26, d.cut = Cut::FaceHobbed, d.ringSpiralDeg = 21.009, d.ringPitchAngleDeg = 63.212;
    d.cutterRadiusMm = 76, d.bladeGroups = 13, d.pressureAngleDeg = 20, d.thicknessFactor = 0.1;
    d.workingDepthMm = 2 * 4.028, d.ringGearAddendumMm = 0.275 * 2 * 4.028;  // k_d, c_ham
    return {"F.4",  d,      24.765, 63.212, 61.186, 82.168, 44.990, 21.009, 51.258, 146.7,
            21.647, 23.969, 4.028,  -4.132, 15.868, 24.132, 95.168, 69.168, 8.056,  9.063,
            1.007,  2.215,  6.847,  63.212, 63.212, 31.334, 8.159,  7.969,  4.524,  53.66};
}

}  // namespace

TEST_CASE("blanks of the three ISO 23509 samples") {
    for (const Sample& s : {sample1(), sample2(), sample3()}) {
        INFO("ISO 23509:2016 sample " << s.name);
        const Blank b = designBlank(completeGearSet(s.data));
        const auto close = [](double value) { return Approx(value).margin(0.02).epsilon(0); };
        CHECK(degrees(b.pitchAngle1) == close(s.pitch1));
        CHECK(degrees(b.pitchAngle2) == close(s.pitch2));
        CHECK(b.coneDistanceM1 == close(s.cone1));
        CHECK(b.coneDistanceM2 == close(s.cone2));
        CHECK(degrees(b.spiralM1) == close(s.spiral1));
        CHECK(degrees(b.spiralM2) == close(s.spiral2));
        CHECK(b.diameterM1 == close(s.diameter1));
        CHECK(b.diameterM2 == close(s.diameter2));
        CHECK(degrees(b.offsetAngleAxial) == close(s.zetaM));
        CHECK(degrees(b.offsetAnglePitch) == close(s.zetaMp));
        CHECK(b.moduleMn == close(s.module));
        CHECK(degrees(b.limitPressureAngle) == close(s.limit));
        CHECK(degrees(b.pressureAngleDrive) == close(s.drive));
        CHECK(degrees(b.pressureAngleCoast) == close(s.coast));
        CHECK(b.coneDistanceE2 == close(s.outerCone));
        CHECK(b.coneDistanceI2 == close(s.innerCone));
        CHECK(b.workingDepth == close(s.workingDepth));
        CHECK(b.wholeDepth == close(s.wholeDepth));
        CHECK(b.clearance == close(s.clearance));
        CHECK(b.addendumM2 == close(s.addendum2));
        CHECK(b.dedendumM2 == close(s.dedendum2));
        CHECK(degrees(b.faceAngle2) == close(s.face2));
        CHECK(degrees(b.rootAngle2) == close(s.root2));
        CHECK(degrees(b.spiralE2) == close(s.spiralE));
        CHECK(degrees(b.spiralI2) == close(s.spiralI));
        CHECK(b.lengthwiseRadius == close(s.lengthwise));
        // The printed thicknesses hold a backlash allowance, the same on both members: it is what their sum lacks to a
        // pitch.
        const double allowance = 0.5 * (kPi * s.module - s.thickness1 - s.thickness2);
        CHECK(b.toothThicknessMn1 - allowance == close(s.thickness1));
        CHECK(b.toothThicknessMn2 - allowance == close(s.thickness2));
        // Identity: the spirals differ by the offset angle in the pitch plane.
        CHECK(degrees(b.spiralM1 - b.spiralM2) == close(s.zetaMp));
    }
    CHECK(designBlank(completeGearSet(sample2().data)).limitRadius == Approx(63.5).margin(0.005).epsilon(0));
    CHECK(degrees(designBlank(completeGearSet(sample3().data)).hobbingLead) == Approx(20.151).margin(0.02).epsilon(0));
}

TEST_CASE("the depth taper of sample 1 follows from constant slot width") {
    Sample s = sample1();
    s.data.addendumAngleDeg.reset();
    s.data.dedendumAngleDeg.reset();
    const Blank b = designBlank(completeGearSet(s.data));
    // The printed taper is the full one; ours is bounded to 1.3 times the standard taper, so the split is the check.
    CHECK(b.addendumAngle2 / (b.addendumAngle2 + b.dedendumAngle2) == Approx(2.1342 / (2.1342 + 6.4934)).margin(1e-4));
}
