// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// How bad a mark is where it lies, in degrees, judged by what its own set can reach.
///
/// For each side, with (u, v) the centre of the mark and (u0, v0) where this set's mark lies when pinion and ring gear
/// are where the drawing has them, in its own housing as far as that is a good one, all under the usual coat:
///   distance  ((u - u0) / kLengthTolerance)^2 + ((v - v0) / kHeightTolerance)^2
///   load      (tip over root / kTipLoad)^2 + (root over tip / kRootLoad)^2 + (one end over the other / kEndLoad)^2
///             + (both ends alike / kBothEndsLoad)^2 + (shortness / kShortness)^2
/// of the shares that the mark covers of the flank's edges. A mark that reaches tip and root alike fills the height:
/// that is no load. Of load only what goes beyond the set's own at its best counts; a mark outside the file's own
/// acceptance limits, where the best one is inside, counts kOutsideLimits more. The sum D over both sides, with the
/// backlash's part, gives the chance that a set left like this comes back: 1 - exp(-D). The tolerances are such that a
/// pinion 0.002 in off its depth, which the trade lets pass, is about where another correction begins to pay on usual
/// sets, and 0.006 in off comes back in nine of ten (common practice, no source).
#pragma once

#include <array>
#include <optional>

#include "shimsight/advice.h"
#include "shimsight/gear_set.h"
#include "shimsight/pattern.h"

namespace shimsight::advice {

inline constexpr double kLengthTolerance = 0.24, kHeightTolerance = 0.20;
inline constexpr double kTipLoad = 0.50, kRootLoad = 0.80, kEndLoad = 0.50, kBothEndsLoad = 1.20, kShortness = 0.20;
inline constexpr double kOutsideLimits = 0.3;
/// Backlash beyond its limits: at once, and per distance, mm. Less where the limits are only the usual ones.
inline constexpr double kBacklashOutside = 0.8, kBacklashOutsideUsual = 0.3, kBacklashToleranceMm = 0.04;

/// The limits that count in D: the file's own, else the usual ones of its cut.
Interval backlashLimitsOf(const GearSet& gearSet);

/// The marks of both sides by index(side); nullopt: none.
using Marks = std::array<std::optional<Pattern>, 2>;

/// The load of one mark by itself.
double loadOf(const Pattern& mark);

/// D of both marks against the best ones; a side that should have a mark and shows none counts 4.
double badness(const Marks& marks, const Marks& best, const GearSet& gearSet);

/// The part of the backlash in D.
double backlashBadness(double backlashMm, const GearSet& gearSet);

/// 1 - exp(-D).
double comebackChance(double badness);

/// Whether a mark is bad by itself, whatever the set: loaded at an edge, far from the middle, or very short.
bool looksBad(const Pattern& mark);

}  // namespace shimsight::advice
