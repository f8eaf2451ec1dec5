// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/quality.h"

#include <catch2/catch.hpp>

#include "accuracy/advice/simulated_trial.h"

using namespace shimsight;
using namespace shimsight::advice;

namespace {

/// A mark of middling size in the middle of the tooth, off every edge.
Pattern middling() {
    Pattern mark;
    mark.toeHeel = 0.47;
    mark.rootTip = 0.5;
    mark.length = 0.6;
    mark.height = 0.6;
    return mark;
}

/// Limits and acceptance rule of its own are not given; `drive` alone is judged, the coast side is at its best.
double badnessOf(const Pattern& drive, const GearSet& gearSet = simulated::demonstrationSet(Cut::FaceMilled)) {
    return badness({drive, middling()}, {middling(), middling()}, gearSet);
}

}  // namespace

TEST_CASE("a mark that fills the height evenly has no load, one at the tip alone has") {
    Pattern full = middling();
    full.edgeTip = full.edgeRoot = 0.8;
    CHECK(loadOf(middling()) == 0);
    CHECK(loadOf(full) == 0);
    Pattern tip = full;
    tip.edgeRoot = 0;
    CHECK(loadOf(tip) > 1);
}

TEST_CASE("load at the tip is worse than at the root") {
    Pattern tip = middling(), root = middling();
    tip.edgeTip = root.edgeRoot = 0.6;
    CHECK(loadOf(root) > 0);
    CHECK(loadOf(tip) > 1.5 * loadOf(root));
}

TEST_CASE("a mark off one end is worse than one off both ends alike, and either end is as bad") {
    Pattern toe = middling(), heel = middling(), both = middling();
    toe.edgeToe = heel.edgeHeel = both.edgeToe = both.edgeHeel = 0.6;
    CHECK(loadOf(both) > 0);
    CHECK(loadOf(toe) > 2 * loadOf(both));
    CHECK(loadOf(toe) == Approx(loadOf(heel)));
}

TEST_CASE("a mark too short is bad, and worse the shorter it is") {
    Pattern usual = middling(), brief = middling(), dot = middling();
    usual.length = 0.4;
    brief.length = 0.25;
    dot.length = 0.05;
    CHECK(loadOf(usual) == 0);
    CHECK(loadOf(brief) > 0.1);
    CHECK(loadOf(dot) > loadOf(brief) + 1);
    CHECK_FALSE(looksBad(brief));
}

TEST_CASE("distance counts alike toward both ends and toward tip and root, and squared") {
    const auto moved = [](double along, double up) {
        Pattern mark = middling();
        mark.toeHeel += along;
        mark.rootTip += up;
        return badnessOf(mark);
    };
    CHECK(moved(0, 0) == 0);
    CHECK(moved(0.1, 0) == Approx(moved(-0.1, 0)));
    CHECK(moved(0, 0.1) == Approx(moved(0, -0.1)));
    CHECK(moved(0.2, 0) == Approx(4 * moved(0.1, 0)));
    CHECK(moved(0.1, 0.1) == Approx(moved(0.1, 0) + moved(0, 0.1)));
    CHECK(moved(kLengthTolerance, 0) == Approx(1));
    CHECK(moved(0, kHeightTolerance) == Approx(1));
}

TEST_CASE("both sides count, and a side that should have a mark and shows none counts most") {
    const GearSet set = simulated::demonstrationSet(Cut::FaceMilled);
    const Marks best{middling(), middling()};
    Pattern off = middling();
    off.rootTip += 0.1;
    CHECK(badness({off, off}, best, set) ==
          Approx(badness({off, middling()}, best, set) + badness({middling(), off}, best, set)));
    CHECK(badness({middling(), std::nullopt}, best, set) > 10 * badness({middling(), off}, best, set));
    CHECK(badness({middling(), std::nullopt}, {middling(), std::nullopt}, set) == 0);
}

TEST_CASE("of load only what goes beyond the set's own at its best counts") {
    const GearSet set = simulated::demonstrationSet(Cut::FaceMilled);
    Pattern tip = middling();
    tip.edgeTip = 0.6;
    CHECK(badness({tip, middling()}, {middling(), middling()}, set) == Approx(loadOf(tip)));
    CHECK(badness({tip, middling()}, {tip, middling()}, set) == 0);
    CHECK(badness({middling(), middling()}, {tip, middling()}, set) == 0);
}

TEST_CASE("acceptance limits count only where the file gives its own") {
    GearSet own = simulated::demonstrationSet(Cut::FaceMilled), usual = own;
    own.given.acceptance = true;
    usual.given.acceptance = false;
    Pattern inside = middling(), outside = middling();
    inside.rootTip = own.limits.acceptance.rootTip.high - 0.01;
    outside.rootTip = own.limits.acceptance.rootTip.high + 0.01;
    CHECK(badnessOf(inside, own) == badnessOf(inside, usual));
    CHECK(badnessOf(outside, own) == Approx(badnessOf(outside, usual) + kOutsideLimits));
}

TEST_CASE("backlash outside limits of the file is worse than as far outside the usual ones") {
    GearSet known = simulated::demonstrationSet(Cut::FaceMilled), usual = known;
    known.given.backlashLimits = true;
    known.limits.backlashMm = kUsualBacklashMilledMm;
    usual.given.backlashLimits = false;
    usual.limits.backlashMm = {0.01, 0.9};  // assumed limits do not count: the usual ones of the cut do
    const Interval& limits = kUsualBacklashMilledMm;
    for (const double off : {0.005, 0.05}) {
        for (const double backlash : {limits.low - off, limits.high + off}) {
            CHECK(backlashBadness(backlash, usual) > 0);
            CHECK(backlashBadness(backlash, known) > backlashBadness(backlash, usual) + 0.2);
        }
    }
    CHECK(backlashBadness(limits.high + 0.05, known) > backlashBadness(limits.high + 0.005, known) + 1);
    for (const double backlash : {limits.low, limits.middle(), limits.high}) {
        CHECK(backlashBadness(backlash, known) == 0);
        CHECK(backlashBadness(backlash, usual) == 0);
    }
    // Hobbed sets run with less.
    const GearSet hobbed = simulated::demonstrationSet(Cut::FaceHobbed);
    CHECK_FALSE(hobbed.given.backlashLimits);
    CHECK(backlashBadness(0.10, usual) > 0);
    CHECK(backlashBadness(0.10, hobbed) == 0);
}

TEST_CASE("the chance of a comeback grows from none to certain") {
    CHECK(comebackChance(0) == 0);
    CHECK(comebackChance(0.01) == Approx(0.01).epsilon(0.01));
    CHECK(comebackChance(1) > 0.5);
    CHECK(comebackChance(1) < comebackChance(2));
    CHECK(comebackChance(50) == Approx(1));
}

TEST_CASE("what looks bad by itself: load at an edge, or far from the middle") {
    CHECK_FALSE(looksBad(middling()));
    Pattern mark = middling();
    mark.rootTip = 0.85;
    CHECK(looksBad(mark));
    mark = middling();
    mark.toeHeel = 0.1;
    CHECK(looksBad(mark));
    mark = middling();
    mark.edgeTip = 1;
    mark.edgeHeel = 0.6;
    CHECK(looksBad(mark));
}
