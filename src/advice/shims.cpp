// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/shims.h"

#include <algorithm>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

int grains(double mm) { return static_cast<int>(std::lround(mm / kShimGrainMm)); }

}  // namespace

double depthPerThickness(PinionShim where) { return where == PinionShim::UnderPinionSupport ? -1.0 : 1.0; }

double stepped(double mm) { return std::round(mm / kFreeStepMm) * kFreeStepMm + 0.0; }

double steppedInside(double mm, const Interval& limits) {
    const double step = stepped(mm);
    if (!limits.holds(mm) || limits.holds(step)) return step;
    const double other = step + (step < mm ? kFreeStepMm : -kFreeStepMm);
    return limits.holds(other) ? other : mm;
}

// WHERE THE PRELOAD OF THE PINION BEARINGS COMES FROM, and what a depth shim does to it. Ring gear at the left:
//
//          head   inner cone   inner cup                        outer cup   outer cone   flange, nut
//        |      ||    /////    \\\\\ |  h o u s i n g   w a l l  | /////    \\\\\      ||
//        |      ||<a>          seat A |                         | seat B           ||
//        |      ||     ============= spacer, shims beside it =============         ||
//
// The cups stand against the seats A and B of the housing, a fixed distance apart, and open outward. The cones close on
// them from outside, held apart by the spacer with its shims when the nut is tight; the longer the spacer, the looser
// the bearings. Let t be the shim added, and P what must be added beside the spacer for the same preload. With
// x the places along the axis, + toward the flange:
//
//   Under the inner cup: the cup, and with it the cone, moves by -t. The outer cone must stay on its cup. The distance
//   of the cones grows by t: P = +t, with a solid spacer wherever it stands (a spacer on a shoulder of the pinion: the
//   shoulder moves with the pinion by -t, its distance to the outer cone grows by t as well).
//   Behind the head (a): both cups and cones stay, the pinion alone moves by -t. A spacer that stands on the inner
//   bearing stays with the cone: P = 0. One that stands on a shoulder of the pinion moves by -t: P = +t.
//   Under a removable pinion support: cups, cones and spacer move as one with the support: P = 0.
//
// A crush sleeve stands in the place of the spacer and is pressed to the length it needs, once.
PreloadShim preloadShimOf(const GearSet& gearSet, double thicknessChangeMm) {
    const Build& build = gearSet.build;
    if (thicknessChangeMm == 0) return {};
    if (!gearSet.given.pinionShim) {
        if (build.preloadSpacer == PreloadSpacer::CrushSleeve) return {PreloadEffect::Sleeve, 0};
        return {PreloadEffect::AskSpacer, thicknessChangeMm * depthPerThickness(build.pinionShim)};
    }
    if (build.pinionShim == PinionShim::UnderPinionSupport) return {};
    if (!build.preloadSpacer) return {PreloadEffect::AskSpacer, thicknessChangeMm};
    if (*build.preloadSpacer == PreloadSpacer::CrushSleeve) return {PreloadEffect::Sleeve, 0};
    if (build.pinionShim == PinionShim::UnderBearingCup) return {PreloadEffect::Follows, thicknessChangeMm};
    if (!build.spacerSeat) return {PreloadEffect::AskSpacer, thicknessChangeMm};
    if (*build.spacerSeat == SpacerSeat::OnBearing) return {};
    return {PreloadEffect::Follows, thicknessChangeMm};
}

ShimStacks::ShimStacks(const std::vector<double>& shimsMm) {
    sizesMm_ = shimsMm;
    std::sort(sizesMm_.begin(), sizesMm_.end());
    for (const double mm : sizesMm_)
        if (!std::isfinite(mm) || mm < kThinnestShimMm || mm > kThickestShimMm)
            throw InputError(message("advice.shim-range"));
    sizesMm_.erase(
        std::unique(sizesMm_.begin(), sizesMm_.end(), [](double a, double b) { return grains(a) == grains(b); }),
        sizesMm_.end());
    for (const double mm : sizesMm_) sizes_.push_back(grains(mm));
    if (sizes_.empty()) return;

    // Level by level: totals of exactly n shims that fewer do not make.
    fewest_.assign(static_cast<std::size_t>(sizes_.back()) * kMaxShims + 1, 0);
    std::vector<int> level{0};
    for (int count = 1; count <= kMaxShims; ++count) {
        std::vector<int> next;
        for (const int total : level) {
            for (const int size : sizes_) {
                std::uint8_t& known = fewest_[static_cast<std::size_t>(total + size)];
                if (known != 0) continue;
                known = static_cast<std::uint8_t>(count);
                next.push_back(total + size);
            }
        }
        level = std::move(next);
    }
    for (std::size_t total = 1; total < fewest_.size(); ++total)
        if (fewest_[total] != 0) totalsMm_.push_back(static_cast<double>(total) * kShimGrainMm);
}

int ShimStacks::fewestFor(double totalMm) const {
    const int total = grains(totalMm);
    if (total < 0 || static_cast<std::size_t>(total) >= fewest_.size()) return 0;
    return fewest_[static_cast<std::size_t>(total)];
}

std::vector<double> ShimStacks::stackFor(double totalMm) const {
    int total = grains(totalMm);
    check(fewestFor(totalMm) > 0, "stackFor needs a total that the shims on hand can make");
    std::vector<double> stack;
    while (total > 0) {
        const int left = fewest_[static_cast<std::size_t>(total)] - 1;
        // The thickest shim that leaves a rest which one shim fewer can make.
        for (std::size_t i = sizes_.size(); i-- > 0;) {
            const int rest = total - sizes_[i];
            if (rest < 0 || (rest == 0) != (left == 0) || fewest_[static_cast<std::size_t>(rest)] != left) continue;
            stack.push_back(sizesMm_[i]);
            total = rest;
            break;
        }
    }
    std::sort(stack.rbegin(), stack.rend());
    return stack;
}

std::vector<double> thicknessChanges(const ShimStacks& stacks, std::optional<double> presentMm, double reachMm) {
    std::vector<int> changes{0};
    const int reach = grains(reachMm);
    if (stacks.anyThickness()) {
        const int step = grains(kFreeStepMm);
        for (int change = step; change <= reach; change += step) {
            changes.push_back(change);
            if (!presentMm || *presentMm - change * kShimGrainMm > 0) changes.push_back(-change);
        }
    } else if (presentMm) {
        for (const double total : stacks.totalsMm()) {
            const int change = grains(total - *presentMm);
            if (std::abs(change) <= reach) changes.push_back(change);
        }
    } else {
        std::vector<int> few{0};
        for (const double total : stacks.totalsMm())
            if (stacks.fewestFor(total) <= 2) few.push_back(grains(total));
        for (const int added : few)
            for (const int taken : few)
                if (std::abs(added - taken) <= reach) changes.push_back(added - taken);
    }
    std::sort(changes.begin(), changes.end());
    changes.erase(std::unique(changes.begin(), changes.end()), changes.end());
    std::vector<double> result;
    for (const int change : changes) result.push_back(change * kShimGrainMm);
    return result;
}

bool backAtLeft(const GearSet& gearSet) {
    const bool above = gearSet.build.pinionPosition == PinionPosition::Above;
    return (gearSet.hand == Hand::Right) != above;
}

double adjusterTurns(const Build& build, double ringGearMoveMm) {
    return build.adjusterThreadPitchMm > 0 ? ringGearMoveMm / build.adjusterThreadPitchMm : 0;
}

std::optional<AdjusterMove> adjusterMove(const GearSet& gearSet, double ringGearMoveMm) {
    const Build& build = gearSet.build;
    if (build.carrier != CarrierSetting::ThreadedAdjusters || build.adjusterNotches <= 0 ||
        build.adjusterThreadPitchMm <= 0)
        return std::nullopt;
    // Locks hold whole notches; the dial tells the rest.
    AdjusterMove move;
    move.backSideNotches = static_cast<int>(std::lround(adjusterTurns(build, ringGearMoveMm) * build.adjusterNotches));
    move.toothSideNotches = -move.backSideNotches;
    move.leftNotches = backAtLeft(gearSet) ? move.backSideNotches : move.toothSideNotches;
    move.rightNotches = backAtLeft(gearSet) ? move.toothSideNotches : move.backSideNotches;
    return move;
}

double nearestSideMove(const std::vector<double>& sideShimsMm, double moveMm) {
    double best = 0;
    for (const double change : thicknessChanges(ShimStacks(sideShimsMm), std::nullopt, 2 * moveMm + kFreeStepMm))
        if (change >= 0 && std::abs(change - moveMm) < std::abs(best - moveMm)) best = change;
    return best;
}

void fitToShop(const GearSet& gearSet, Advice& advice) {
    AdviceShim& shim = advice.shim;
    shim.where = gearSet.build.pinionShim;
    shim.placeKnown = gearSet.given.pinionShim;
    shim.depthChangeMm = shim.thicknessChangeMm * depthPerThickness(gearSet.build.pinionShim) + 0.0;
    advice.limitsKnown = gearSet.given.backlashLimits;
    // A backlash that hardly changes stays the one that was read.
    if (advice.backlashNowMm && std::abs(advice.backlashTargetMm - *advice.backlashNowMm) < 0.5 * kFreeStepMm)
        advice.backlashTargetMm = *advice.backlashNowMm;
    else
        advice.backlashTargetMm = steppedInside(advice.backlashTargetMm, gearSet.limits.backlashMm);
    advice.ringGearMoveMm = stepped(advice.ringGearMoveMm);
    advice.changesNothing = shim.thicknessChangeMm == 0 && advice.ringGearMoveMm == 0;
    advice.preloadShim = preloadShimOf(gearSet, shim.thicknessChangeMm);
    advice.adjusters = adjusterMove(gearSet, advice.ringGearMoveMm);
}

}  // namespace shimsight::advice

namespace shimsight {

std::string_view name(PreloadEffect effect) {
    switch (effect) {
        case PreloadEffect::None:
            return "none";
        case PreloadEffect::Follows:
            return "follows";
        case PreloadEffect::Sleeve:
            return "sleeve";
        case PreloadEffect::AskSpacer:
            return "ask-spacer";
    }
    throw std::logic_error("an effect on the preload without a name");
}

}  // namespace shimsight
