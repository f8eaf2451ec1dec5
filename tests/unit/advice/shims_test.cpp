// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/shims.h"

#include <catch2/catch.hpp>
#include <map>
#include <numeric>

#include "shimsight/core.h"

using namespace shimsight;
using namespace shimsight::advice;

namespace {

/// Fewest shims for every total, by trying every stack.
void everyStack(const std::vector<int>& sizes, std::size_t from, int total, int count, std::map<int, int>& fewest) {
    if (count > 0) {
        const auto [entry, isNew] = fewest.try_emplace(total, count);
        if (!isNew) entry->second = std::min(entry->second, count);
    }
    if (count == kMaxShims) return;
    for (std::size_t i = from; i < sizes.size(); ++i) everyStack(sizes, i, total + sizes[i], count + 1, fewest);
}

std::vector<double> millimetres(const std::vector<int>& micrometres) {
    std::vector<double> result;
    for (const int value : micrometres) result.push_back(value * 1e-3);
    return result;
}

}  // namespace

TEST_CASE("thicker behind the head or under the cup is deeper, under a support shallower") {
    // Published shim positions and signs: behind the head thicker = deeper (many manuals); under a bolted support or
    // cage thicker = shallower (US Army TM 5-3805-260-24, TM 10-3930-660-34, TM 5-3810-306-34).
    CHECK(depthPerThickness(PinionShim::BehindPinionHead) == 1);
    CHECK(depthPerThickness(PinionShim::UnderBearingCup) == 1);
    CHECK(depthPerThickness(PinionShim::UnderPinionSupport) == -1);
}

TEST_CASE("the stack search finds every total, each with the fewest shims") {
    const auto sizes = GENERATE(std::vector<int>{76, 127, 254, 762}, std::vector<int>{50, 100, 200, 500},
                                std::vector<int>{33, 47, 101}, std::vector<int>{80});
    std::map<int, int> fewest;
    everyStack(sizes, 0, 0, 0, fewest);
    const ShimStacks stacks(millimetres(sizes));
    REQUIRE(stacks.totalsMm().size() == fewest.size());
    std::size_t at = 0;
    for (const auto& [total, count] : fewest) {
        const double totalMm = stacks.totalsMm()[at++];
        REQUIRE(totalMm == Approx(total * 1e-3).margin(1e-9));
        CHECK(stacks.fewestFor(totalMm) == count);
        const std::vector<double> stack = stacks.stackFor(totalMm);
        CHECK(stack.size() == static_cast<std::size_t>(count));
        CHECK(std::accumulate(stack.begin(), stack.end(), 0.0) == Approx(totalMm).margin(1e-9));
        for (const double shim : stack) CHECK(std::count(sizes.begin(), sizes.end(), std::lround(shim * 1000)) == 1);
    }
    CHECK(stacks.fewestFor(0.001) == 0);
    CHECK(stacks.fewestFor(-1) == 0);
}

TEST_CASE("only changes that can be stacked are offered") {
    const ShimStacks stacks({0.10, 0.25});
    SECTION("present stack known") {
        const auto changes = thicknessChanges(stacks, 0.45, 0.16);
        // Totals of up to five shims within 0.16 of 0.45: 0.30 0.35 0.40 0.45 0.50 0.55 0.60.
        const std::vector<double> expected{-0.15, -0.10, -0.05, 0, 0.05, 0.10, 0.15};
        REQUIRE(changes.size() == expected.size());
        for (std::size_t i = 0; i < expected.size(); ++i) CHECK(changes[i] == Approx(expected[i]).margin(1e-9));
    }
    SECTION("present stack not known: two shims out, two in at the most") {
        const auto changes = thicknessChanges(stacks, std::nullopt, 0.16);
        const std::vector<double> expected{-0.15, -0.10, -0.05, 0, 0.05, 0.10, 0.15};
        REQUIRE(changes.size() == expected.size());
        for (std::size_t i = 0; i < expected.size(); ++i) CHECK(changes[i] == Approx(expected[i]).margin(1e-9));
    }
    SECTION("no list of shims: any thickness, never under nothing") {
        const auto changes = thicknessChanges(ShimStacks({}), 0.06, 0.11);
        CHECK(changes.front() == Approx(-0.0508));
        CHECK(changes.back() == Approx(0.1016));
        for (const double change : changes) CHECK(stepped(change) == Approx(change).margin(1e-9));
    }
    SECTION("inch shims, in millimetres to four decimals") {
        const ShimStacks inches({0.0762, 0.127, 0.254, 0.762});
        CHECK(inches.stackFor(0.9906) == std::vector<double>{0.762, 0.0762, 0.0762, 0.0762});
        CHECK(inches.fewestFor(0.9900) == 0);
    }
    CHECK_THROWS_AS(ShimStacks({0.1, -0.2}), InputError);
    CHECK_THROWS_AS(ShimStacks({0.1, 20.5}), InputError);
    // What a gear-set file may hold can be stacked.
    CHECK(ShimStacks({15}).fewestFor(15) == 1);
}

TEST_CASE("adjusters: the back tightens to push the ring gear to the pinion, the other side loosens as much") {
    GearSet set;
    set.hand = Hand::Right;
    set.build.carrier = CarrierSetting::ThreadedAdjusters;
    set.build.adjusterThreadPitchMm = 1.5;
    set.build.adjusterNotches = 30;
    // A notch moves the adjuster 1.5 / 30 = 0.05 mm.
    const auto move = adjusterMove(set, 0.10);
    REQUIRE(move);
    CHECK(move->backSideNotches == 2);
    CHECK(move->toothSideNotches == -2);
    CHECK(move->leftNotches == 2);
    CHECK(move->rightNotches == -2);
    CHECK(adjusterMove(set, -0.07)->backSideNotches == -1);  // whole notches only
    CHECK(adjusterMove(set, 0.02)->backSideNotches == 0);
    // A pinion above the middle: the same gear, the axle turned round; the sides of the gear stay.
    set.build.pinionPosition = PinionPosition::Above;
    CHECK(adjusterMove(set, 0.10)->leftNotches == -2);
    CHECK(adjusterMove(set, 0.10)->backSideNotches == 2);
    set.hand = Hand::Left;
    CHECK(adjusterMove(set, 0.10)->leftNotches == 2);
    CHECK(adjusterMove(set, 0.10)->backSideNotches == 2);
    set.build.pinionPosition.reset();
    const auto mirrored = adjusterMove(set, 0.10);
    REQUIRE(mirrored);
    CHECK(mirrored->leftNotches == -2);
    CHECK(mirrored->rightNotches == 2);
    CHECK(mirrored->backSideNotches == 2);
    set.build.adjusterNotches = 0;
    CHECK_FALSE(adjusterMove(set, 0.10));
    CHECK(adjusterTurns(set.build, -0.15) == Approx(-0.1));
    set.build.adjusterNotches = 30;
    set.build.carrier = CarrierSetting::CarrierShims;
    CHECK_FALSE(adjusterMove(set, 0.10));
}

TEST_CASE("amounts come in whole thousandths, a backlash inside its limits") {
    CHECK(stepped(0.15) == Approx(0.1524));
    CHECK(stepped(-0.15) == Approx(-0.1524));
    CHECK(stepped(0.012) == 0);
    CHECK(steppedInside(0.13, {0.13, 0.23}) == Approx(0.1524));  // 0.005 in lies just outside
    CHECK(steppedInside(0.23, {0.13, 0.23}) == Approx(0.2286));
    CHECK(steppedInside(0.14, {0.135, 0.145}) == Approx(0.14));  // no step lies inside
    CHECK(steppedInside(0.31, {0.13, 0.23}) == Approx(0.3048));  // wanted outside
}

// The bearings of a pinion as springs would feel them: the distance of the cones that the spacer gives, less the one
// that the cups ask for. What preloadShimOf says must keep it as it was.
TEST_CASE("the preload shims keep the cones as far apart as the cups ask") {
    struct Axle {
        PinionShim place;
        SpacerSeat seat;
    };
    const Axle axle = GENERATE(Axle{PinionShim::BehindPinionHead, SpacerSeat::OnBearing},
                               Axle{PinionShim::BehindPinionHead, SpacerSeat::OnPinionShoulder},
                               Axle{PinionShim::UnderBearingCup, SpacerSeat::OnBearing},
                               Axle{PinionShim::UnderBearingCup, SpacerSeat::OnPinionShoulder},
                               Axle{PinionShim::UnderPinionSupport, SpacerSeat::OnBearing},
                               Axle{PinionShim::UnderPinionSupport, SpacerSeat::OnPinionShoulder});
    const double change = GENERATE(-0.127, 0.0508);
    GearSet set;
    set.given.pinionShim = true;
    set.build.pinionShim = axle.place;
    set.build.preloadSpacer = PreloadSpacer::SolidSpacer;
    set.build.spacerSeat = axle.seat;
    const PreloadShim preload = preloadShimOf(set, change);

    // Places along the axis, + toward the flange, before the change all 0 but for the seat of the outer cup.
    const double outerCup = 60, spacer = 40;
    const double innerCup = axle.place == PinionShim::UnderBearingCup ? -change : 0;  // the support moves as one
    const double innerCone = innerCup;
    // The head stands against the cone, or against the shim before it.
    const double shoulder = axle.place == PinionShim::BehindPinionHead ? innerCone - change : innerCone;
    const double spacerStands = axle.seat == SpacerSeat::OnBearing ? innerCone : shoulder;
    const double outerCone = spacerStands + spacer + preload.thicknessChangeMm;
    const double slackBefore = outerCup - spacer, slackAfter = outerCup - outerCone;
    CHECK(slackAfter == Approx(slackBefore).margin(1e-12));
    CHECK(preload.effect == (preload.thicknessChangeMm == 0 ? PreloadEffect::None : PreloadEffect::Follows));
}

TEST_CASE("what sets the preload is asked where it matters") {
    GearSet set;
    set.given.pinionShim = true;
    const auto effect = [&](double change) { return preloadShimOf(set, change).effect; };
    for (const PinionShim place :
         {PinionShim::BehindPinionHead, PinionShim::UnderBearingCup, PinionShim::UnderPinionSupport}) {
        set.build.pinionShim = place;
        const bool support = place == PinionShim::UnderPinionSupport;
        set.build.preloadSpacer.reset();
        CHECK(effect(0.1) == (support ? PreloadEffect::None : PreloadEffect::AskSpacer));
        set.build.preloadSpacer = PreloadSpacer::CrushSleeve;
        CHECK(effect(0.1) == (support ? PreloadEffect::None : PreloadEffect::Sleeve));
        CHECK(effect(0) == PreloadEffect::None);
    }
    set.build.pinionShim = PinionShim::BehindPinionHead;
    set.build.preloadSpacer = PreloadSpacer::SolidSpacer;
    CHECK(effect(0.1) == PreloadEffect::AskSpacer);
    set.given.pinionShim = false;
    CHECK(effect(0.1) == PreloadEffect::AskSpacer);
    set.build.preloadSpacer = PreloadSpacer::CrushSleeve;
    CHECK(effect(0.1) == PreloadEffect::Sleeve);
}
