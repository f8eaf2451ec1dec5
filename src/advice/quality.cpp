// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/quality.h"

#include <algorithm>
#include <cmath>

#include "advice/features.h"

namespace shimsight::advice {

namespace {

/// A mark shorter than this is short: 0.35 of the face (published descriptions start at a half; see AcceptanceRule).
constexpr double kShortLength = 0.35;
constexpr double kMarkMissing = 4;
/// A load that is heavy by itself.
constexpr double kHeavyLoad = 4;
/// Centres farther than this from mid-tooth are far, along the face and up the tooth.
constexpr double kFarAlong = 0.30, kFarUp = 0.28;

}  // namespace

double loadOf(const Pattern& mark) {
    const double height = mark.edgeTip - mark.edgeRoot;
    return squared(std::max(height, 0.0) / kTipLoad) + squared(std::max(-height, 0.0) / kRootLoad) +
           squared((mark.edgeToe - mark.edgeHeel) / kEndLoad) +
           squared(std::min(mark.edgeToe, mark.edgeHeel) / kBothEndsLoad) +
           squared(std::max(kShortLength - mark.length, 0.0) / kShortness);
}

double badness(const Marks& marks, const Marks& best, const GearSet& gearSet) {
    double sum = 0;
    for (const Side side : kSides) {
        const auto& mark = marks[index(side)];
        const auto& wanted = best[index(side)];
        if (!mark) {
            if (wanted) sum += kMarkMissing;
            continue;
        }
        // A set whose best mark lies outside them can do no better.
        const AcceptanceRule& rule = gearSet.limits.acceptance;
        if (gearSet.given.acceptance && !isAcceptable(*mark, rule) && (!wanted || isAcceptable(*wanted, rule)))
            sum += kOutsideLimits;
        if (!wanted) continue;
        sum += squared((mark->toeHeel - wanted->toeHeel) / kLengthTolerance) +
               squared((mark->rootTip - wanted->rootTip) / kHeightTolerance) +
               std::max(loadOf(*mark) - loadOf(*wanted), 0.0);
    }
    return sum;
}

Interval backlashLimitsOf(const GearSet& gearSet) {
    if (gearSet.given.backlashLimits) return gearSet.limits.backlashMm;
    return gearSet.cut == Cut::FaceMilled ? kUsualBacklashMilledMm : kUsualBacklashHobbedMm;
}

double backlashBadness(double backlashMm, const GearSet& gearSet) {
    const Interval limits = backlashLimitsOf(gearSet);
    const double outside = std::max({limits.low - backlashMm, backlashMm - limits.high, 0.0});
    if (outside == 0) return 0;
    return (gearSet.given.backlashLimits ? kBacklashOutside : kBacklashOutsideUsual) +
           squared(outside / kBacklashToleranceMm);
}

double comebackChance(double badness) { return -std::expm1(-badness); }

bool looksBad(const Pattern& mark) {
    return loadOf(mark) > kHeavyLoad || std::abs(mark.toeHeel - 0.47) > kFarAlong ||
           std::abs(mark.rootTip - 0.5) > kFarUp;
}

}  // namespace shimsight::advice
