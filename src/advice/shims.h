// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the shop can fit: shim stacks, side shims, adjuster notches.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/advice_words.h"

namespace shimsight::advice {

/// +1 where a thicker shim puts the pinion deeper, -1 where it takes it away.
double depthPerThickness(PinionShim where);

/// Most shims in one stack: more creep and fret (common practice, no source).
inline constexpr int kMaxShims = 5;
/// Thicknesses are added up in this grain, so that inch shims given to four decimals of a millimetre stay exact.
inline constexpr double kShimGrainMm = 0.0001;

/// Every total that one to kMaxShims shims of the sizes on hand can make, with the fewest shims for each. A size may
/// be used more than once. Exact to kShimGrainMm.
class ShimStacks {
public:
    /// Throws InputError when a thickness is not a shim's (kThinnestShimMm, kThickestShimMm).
    explicit ShimStacks(const std::vector<double>& shimsMm);

    bool anyThickness() const { return sizes_.empty(); }               ///< no list of shims: any total can be made
    const std::vector<double>& totalsMm() const { return totalsMm_; }  ///< ascending

    /// How many shims `totalMm` takes at least; 0 when the shims on hand cannot make it.
    int fewestFor(double totalMm) const;

    /// The fewest shims for one of totalsMm(), thickest first; equal counts: the one with the thickest first shim.
    std::vector<double> stackFor(double totalMm) const;

private:
    std::vector<int> sizes_;            ///< ascending, in grains, each once
    std::vector<double> sizesMm_;       ///< the same as given
    std::vector<std::uint8_t> fewest_;  ///< shims for a total in grains; 0 = cannot be made
    std::vector<double> totalsMm_;
};

/// Changes of thickness within `reachMm` of 0 that the shop can make, ascending, 0 included. Present stack known:
/// totals less the present one. Not known: the differences of two stacks of at most two shims each (some taken, some
/// added). Without a list of shims: steps of kFreeStepMm.
std::vector<double> thicknessChanges(const ShimStacks& stacks, std::optional<double> presentMm, double reachMm);

/// The step of every amount that no list of shims rules: 0.001 in, the finest that is bought, ground and read on a dial
/// (common practice, no source). In whole steps an amount reads the same in both units.
inline constexpr double kFreeStepMm = 0.0254;
/// `mm` in whole steps of kFreeStepMm.
double stepped(double mm);
/// The same, but kept inside `limits` where `mm` lies inside and a step does.
double steppedInside(double mm, const Interval& limits);

/// What a change of the depth shim by `thicknessChangeMm` asks of the shims that set the preload of the pinion
/// bearings; derived in shims.cpp from where cups, cones and spacer stand. For a place that is not given the thickness
/// is that of a shim behind the head or under the cup, to be asked.
PreloadShim preloadShimOf(const GearSet& gearSet, double thicknessChangeMm);

/// Whole notches of both adjusters for a ring gear move (+ toward the pinion); nullopt: no threaded adjusters or
/// notches not known. The adjuster at the ring gear's back tightens as the other loosens by the same, so the preload
/// stays.
std::optional<AdjusterMove> adjusterMove(const GearSet& gearSet, double ringGearMoveMm);

/// Of the moves that changing one side shim for another on each side makes, the one nearest to `moveMm` (not negative);
/// 0: none is nearer than leaving them.
double nearestSideMove(const std::vector<double>& sideShimsMm, double moveMm);

/// Puts the amounts of a correction into what a shop can do, once and for all places: backlash target and ring gear
/// move in whole steps, whether the place of the shims and the limits are given, the shim's depth change, the shims
/// that follow for the preload, the adjusters, and whether all of it changes nothing. Reads shim.thicknessChangeMm,
/// backlashNowMm, backlashTargetMm and ringGearMoveMm.
void fitToShop(const GearSet& gearSet, Advice& advice);

/// Turns of the adjuster at the back of the ring gear, + = tighten.
double adjusterTurns(const Build& build, double ringGearMoveMm);

/// Whether the back of the ring gear is at the left (see AdjusterMove); a pinion above the middle turns it round, and
/// one of a place not given counts as below.
bool backAtLeft(const GearSet& gearSet);

}  // namespace shimsight::advice
