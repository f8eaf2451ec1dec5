// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cmath>

#include "shimsight/advice_start.h"
#include "shimsight/core.h"
#include "unit/advice/sets.h"

using namespace shimsight;
using namespace shimsight::test;

namespace {

double thou(double value) { return Length::fromThou(value).mm(); }

}  // namespace

TEST_CASE("start shims of published examples") {
    // Van service manual 1982: shim behind the head, old +2, new -2: add 0.004 in.
    const StartShim van = startShim(thou(2), thou(-2), PinionShim::BehindPinionHead);
    CHECK(van.thicknessChangeMm == Approx(thou(4)));
    CHECK(van.depthChangeMm == Approx(thou(4)));
    CHECK(says(van.because, "must sit 0.004 in (0.10 mm) deeper (nearer to the ring gear) than the old one did"));
    CHECK(says(van.because, "add 0.004 in (0.10 mm) of shim behind the pinion head"));
    // US Army TM 5-3895-369-14 table 5-4: cage-type housing, old +2, new -1: subtract 0.003 in.
    const StartShim cage = startShim(thou(2), thou(-1), PinionShim::UnderPinionSupport);
    CHECK(cage.thicknessChangeMm == Approx(-thou(3)));
    CHECK(cage.depthChangeMm == Approx(thou(3)));
    CHECK(says(cage.because, "take out 0.003 in (0.08 mm) of shim under the pinion support"));
}

TEST_CASE("start shims: metric marks, equal marks, totals, stacks") {
    const StartShim metric = startShim(-0.03, 0.02, PinionShim::UnderBearingCup, 1.30);
    CHECK(metric.depthChangeMm == Approx(-0.05));
    CHECK(metric.thicknessChangeMm == Approx(-0.05));
    REQUIRE(metric.totalMm);
    CHECK(*metric.totalMm == Approx(1.25));
    CHECK(metric.stackMm.empty());  // no list of shims
    CHECK(metric.sigmaMm > 0);

    const StartShim same = startShim(thou(1), thou(1), PinionShim::BehindPinionHead);
    CHECK(same.thicknessChangeMm == 0);
    CHECK(says(same.because, "must sit where the old one did"));
    CHECK(says(same.because, "stay as they are"));

    const StartShim stacked =
        startShim(0, thou(-3), PinionShim::BehindPinionHead, thou(30), {thou(3), thou(5), thou(10), thou(30)});
    REQUIRE(stacked.stackMm.size() == 2);
    CHECK(stacked.stackMm[0] + stacked.stackMm[1] == Approx(thou(33)));
    CHECK(says(stacked.cautions, "maker's sheet"));
}

TEST_CASE("start shims: values that cannot be") {
    CHECK_THROWS_AS(startShim(2, 0, PinionShim::BehindPinionHead), InputError);  // "2" typed as millimetres
    CHECK_THROWS_AS(startShim(std::nan(""), 0, PinionShim::BehindPinionHead), InputError);
    CHECK_THROWS_AS(startShim(0, 0, PinionShim::BehindPinionHead, -1.0), InputError);
    CHECK_THROWS_AS(startShim(0, 0.5, PinionShim::BehindPinionHead, 0.3), InputError);  // more out than is in
}

TEST_CASE("start shims: what is odd is asked about") {
    const auto asked = [](StartInput input) { return startShim(input).questions; };
    StartInput input;
    input.oldFigureMm = thou(8);
    input.newFigureMm = thou(-20);
    CHECK(says(asked(input), "The figures differ by 0.028 in (0.71 mm), which is odd"));
    input.newFigureMm = thou(5);
    CHECK_FALSE(says(asked(input), "which is odd"));
    CHECK(says(asked(input), "as tall as the old one"));
    CHECK_FALSE(says(asked(input), "without a unit"));
    input.figuresInTwoUnits = true;
    CHECK(says(asked(input), "One figure was given in inches and the other in millimetres"));
    input.otherHousing = true;
    CHECK_THROWS_WITH(startShim(input), Catch::Contains("belongs to the other housing"));
}

TEST_CASE("start shims: a taller inner bearing takes its part, whatever the place") {
    StartInput input;
    input.oldFigureMm = input.newFigureMm = 0;
    input.oldBearingMm = 30;
    input.newBearingMm = 30.05;
    input.stackMm = 1;
    // Geometry: the bearing stands between seat and head, so that the head moves with its height.
    CHECK(startShim(input).thicknessChangeMm == Approx(-0.05));
    CHECK(startShim(input).depthChangeMm == 0);
    CHECK_FALSE(says(startShim(input).questions, "as tall"));
    input.place = PinionShim::UnderPinionSupport;
    CHECK(startShim(input).thicknessChangeMm == Approx(0.05));
    CHECK(startShim(input).totalMm == Approx(1.05));
    input.newBearingMm.reset();
    CHECK_THROWS_AS(startShim(input), InputError);
}

TEST_CASE("a depth tool's reading gives the start, with its uncertainty") {
    StartInput input;
    input.measuredDepthMm = 66.80;
    input.wantedDepthMm = 66.70;
    input.stackMm = thou(30);
    input.shimsMm = {thou(3), thou(4), thou(30)};
    // Measured farther out than wanted: deeper by the difference.
    const StartShim head = startShim(input);
    CHECK(head.depthChangeMm == Approx(0.10));
    CHECK(head.thicknessChangeMm == Approx(0.10));
    CHECK(head.sigmaMm == Approx(kDepthToolSigmaMm));
    CHECK(says(head.because, "must sit 0.004 in (0.10 mm) deeper"));
    CHECK(says(head.because, "The tool gets you near, the contact pattern decides"));
    CHECK(head.stackMm.size() == 2);
    input.place = PinionShim::UnderPinionSupport;
    CHECK(startShim(input).thicknessChangeMm == Approx(-0.10));
    input.measuredDepthMm = 67.3;
    CHECK(says(startShim(input).questions, "Check the tool's zero"));
    input.measuredDepthMm = 70;
    CHECK_THROWS_WITH(startShim(input), Catch::Contains("No shim makes up more"));
    // Off by less than is told of a length: nothing to move.
    input.measuredDepthMm = *input.wantedDepthMm + 0.005;
    CHECK_FALSE(says(startShim(input).because, "0.000 in"));
    CHECK_FALSE(says(startShim(input).because, "must sit"));
    input.measuredDepthMm = 67.55;  // 0.85 mm out of a stack of 0.762 mm
    CHECK_THROWS_WITH(startShim(input), Catch::Contains("more would have to come out than is in"));
    input.oldFigureMm = input.newFigureMm = 0;
    CHECK_THROWS_AS(startShim(input), InputError);
}

TEST_CASE("preload shims: a stack thinner than nothing is never a number") {
    const Interval limits{1.58, 1.81};
    const PreloadAdvice thin = solidSpacerPreload({{thou(1), 5 * kNmPerInchPound}}, limits);
    CHECK(thin.verdict == PreloadVerdict::TooLoose);
    CHECK(thin.noStackHelps);
    CHECK_FALSE((thin.nextChangeMm || thin.nextStackMm));
    CHECK(says(thin.because, "less shim than nothing"));
    const PreloadAdvice none = solidSpacerPreload({{0.0, 5 * kNmPerInchPound}}, limits);
    CHECK(none.noStackHelps);
    CHECK(says(none.because, "none stands beside the spacer"));
    // Of a stack that is not known the change alone can be told.
    const PreloadAdvice open = solidSpacerPreload({{std::nullopt, 5 * kNmPerInchPound}}, limits);
    REQUIRE(open.nextChangeMm);
    CHECK(open.nextChangeMm->best < 0);
    CHECK_FALSE(open.nextStackMm);
    CHECK_THROWS_AS(solidSpacerPreload({{std::nullopt, 2.0}, {1.3, 1.5}}, limits), InputError);
}

TEST_CASE("preload near a limit is said to be") {
    // 25 in-lb of 24 to 32 in-lb: the reading's own error is larger than what is left.
    const Interval limits{24 * kNmPerInchPound, 32 * kNmPerInchPound};
    CHECK(says(crushSleevePreload(25 * kNmPerInchPound, limits).because, "near the lower limit"));
    CHECK(says(solidSpacerPreload({{1.0, 31.5 * kNmPerInchPound}}, limits).because, "near the upper limit"));
    CHECK_FALSE(says(crushSleevePreload(28 * kNmPerInchPound, limits).because, "near the"));
    // 15 in-lb of 14 to 16: the middle of a range is near to neither limit.
    const Interval narrow{14 * kNmPerInchPound, 16 * kNmPerInchPound};
    CHECK_FALSE(says(crushSleevePreload(15 * kNmPerInchPound, narrow).because, "near the"));
}

TEST_CASE("solid spacer: the slope is fitted and the next stack lies on the line") {
    const Interval limits{1.58, 1.81};
    // A bearing that loses 20 Nm for each millimetre of shim, read exactly.
    const auto torque = [](double stackMm) { return 1.70 + 20 * (1.40 - stackMm); };
    const PreloadAdvice two = solidSpacerPreload({{1.25, torque(1.25)}, {1.33, torque(1.33)}}, limits);
    CHECK(two.verdict == PreloadVerdict::TooTight);
    REQUIRE(two.nextStackMm);
    CHECK(two.nextStackMm->best == Approx(1.40).margin(0.012));
    CHECK(two.nextStackMm->low90 < 1.40);
    CHECK(two.nextStackMm->high90 > 1.40);
    REQUIRE(two.torquePerShimNmPerMm);
    CHECK(two.torquePerShimNmPerMm->low90 < 20);
    CHECK(two.torquePerShimNmPerMm->high90 > 20);

    // One stack alone leaves more open, and the chance is told lower than with three.
    const PreloadAdvice one = solidSpacerPreload({{1.33, torque(1.33)}}, limits);
    REQUIRE(one.nextChangeMm);
    CHECK(one.nextChangeMm->best > 0);
    CHECK(one.nextChangeMm->high90 - one.nextChangeMm->low90 > two.nextChangeMm->high90 - two.nextChangeMm->low90);
    const PreloadAdvice three =
        solidSpacerPreload({{1.25, torque(1.25)}, {1.33, torque(1.33)}, {1.38, torque(1.38)}}, limits);
    CHECK(three.nextStackMm->best == Approx(1.40).margin(0.008));
    CHECK(three.chanceInRange > one.chanceInRange);

    // Too loose: take shims out.
    const PreloadAdvice loose = solidSpacerPreload({{1.33, torque(1.33)}, {1.44, torque(1.44)}}, limits);
    CHECK(loose.verdict == PreloadVerdict::TooLoose);
    CHECK(loose.nextChangeMm->best < 0);
    CHECK(says(loose.because, "take out"));
}

TEST_CASE("solid spacer: pass, far too tight, impossible") {
    const Interval limits{1.58, 1.81};
    const PreloadAdvice pass = solidSpacerPreload({{1.40, 1.70}}, limits);
    CHECK(pass.verdict == PreloadVerdict::Pass);
    CHECK_FALSE(pass.nextChangeMm);
    CHECK(says(pass.cautions, "maker's sheet"));
    // Far too tight: 0.010 in first (common practice, no source).
    const PreloadAdvice tight = solidSpacerPreload({{1.0, 12.0}}, limits);
    REQUIRE(tight.nextChangeMm);
    CHECK(tight.nextChangeMm->best == Approx(0.254));
    // Torque rising as shims are added beside a solid spacer is a wrong entry.
    CHECK_THROWS_AS(solidSpacerPreload({{1.30, 1.7}, {1.40, 4.0}}, limits), InputError);
    CHECK_THROWS_AS(solidSpacerPreload({{1.30, -1.0}}, limits), InputError);
    CHECK_THROWS_AS(solidSpacerPreload({{-1.30, 1.0}}, limits), InputError);
}

TEST_CASE("crush sleeve: a reading, and what a sleeve tightened too far means") {
    // 20 to 25 in-lb, new bearings, 8.5 in ring gear: truck manual 1988.
    const Interval limits{20 * kNmPerInchPound, 25 * kNmPerInchPound};
    CHECK(crushSleevePreload(22 * kNmPerInchPound, limits).verdict == PreloadVerdict::Pass);
    const PreloadAdvice tight = crushSleevePreload(30 * kNmPerInchPound, limits);
    CHECK(tight.verdict == PreloadVerdict::TooTight);
    CHECK(says(tight.because, "fit a new sleeve"));
    CHECK_FALSE(tight.nextChangeMm);
    CHECK(crushSleevePreload(10 * kNmPerInchPound, limits).verdict == PreloadVerdict::TooLoose);
    for (const PreloadAdvice& advice : {tight, crushSleevePreload(1.0, limits)})
        CHECK(says(advice.cautions, "must be replaced"));
}

TEST_CASE("torques are read and written in both units") {
    // 1 lbf in = 0.1129848 N m (NIST SP 811, appendix B.8).
    CHECK(parseTorqueNm("14in-lb", "--x") == Approx(1.5818).margin(1e-4));
    CHECK(parseTorqueNm("1.6 Nm", "--x") == Approx(1.6));
    CHECK(formatTorque(14 * kNmPerInchPound) == "14 in-lb (1.58 Nm)");
    for (const char* bad : {"14", "in-lb", "x Nm", "-1Nm", "1e9Nm", "nanNm", ""})
        CHECK_THROWS_AS(parseTorqueNm(bad, "--x"), InputError);
}
