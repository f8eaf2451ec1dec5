// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/prior.h"

#include <algorithm>
#include <cmath>

#include "shimsight/core.h"
#include "shimsight/statistics.h"

namespace shimsight::advice {

namespace {

/// Smallest crown taken as a scale, um: a set entered with no crown still has some.
constexpr double kMinCrownUm = 2;
/// Smallest scatter of the backlash in the design position: a dial's reading error.
constexpr double kMinNominalSpreadMm = 0.012;

/// Heavy-tailed function of a standard normal number: scale x z near 0.
double stretched(double z, double scale, double tail) { return scale * std::sinh(tail * z) / tail; }
double stretchedSlope(double z, double scale, double tail) { return scale * std::cosh(tail * z); }

/// A crown with its log standard deviation, when the usual coat marks between `low` and `high` of the flank in nine
/// sets of ten: the gap at the flank's end is the film over the square of the share marked.
struct CrownBelief {
    double um, spread;
};
CrownBelief crownOfContact(double low, double high) {
    return {1000 * kFilmMm / (low * high), 2 * std::log(high / low) / (2 * kHalfWidthOf90)};
}

}  // namespace

Prior::Prior(const ToothContact& contact, const Suspicion& suspicion) {
    const GearSet& set = contact.gearSet();
    if (suspicion.bentHousing) {
        offsetScaleMm_ = kBentOffsetMm;
        angleScaleRad_ = kBentAngleRad;
        offsetTail_ = angleTail_ = kBentTail;
    }
    for (const Side side : kSides) {
        const bool known = set.given.crowning[index(side)];
        Flank& flank = flanks_[index(side)];
        flank.centre = set.modification[index(side)];
        flank.lengthCrownSpread = flank.profileCrownSpread = kCrownSpreadKnown;
        if (!known) {
            const CrownBelief along = crownOfContact(kContactLengthLow, kContactLengthHigh);
            const CrownBelief up = crownOfContact(kContactHeightLow, kContactHeightHigh);
            flank.centre.lengthCrownUm = along.um;
            flank.centre.profileCrownUm = up.um;
            flank.lengthCrownSpread = along.spread;
            flank.profileCrownSpread = up.spread;
        }
        flank.centre.lengthCrownUm = std::max(flank.centre.lengthCrownUm, kMinCrownUm);
        flank.centre.profileCrownUm = std::max(flank.centre.profileCrownUm, kMinCrownUm);
        flank.biasUm = kBiasShare * std::sqrt(flank.centre.lengthCrownUm * flank.centre.profileCrownUm);
        if (suspicion.worn == side) {
            flank.centre.lengthCrownUm *= kWornShare;
            flank.centre.profileCrownUm *= kWornShare;
            flank.lengthCrownSpread = flank.profileCrownSpread = kWornSpread;
        }
    }
    const Interval& limits = set.given.backlashLimits ? set.limits.backlashMm : kUsualBacklashHobbedMm;
    backlashMiddleMm_ = std::max(limits.middle(), 0.02);
    nominalSpreadMm_ = set.given.backlashLimits
                           ? std::max(kNominalBacklashShare * 0.5 * (limits.high - limits.low), kMinNominalSpreadMm)
                           : kNominalBacklashAssumedMm;

    // The change of backlash is linear in the errors.
    perRing_ = contact.backlashChangeMm({0, 1, 0, 0});
    perDepth_ = contact.backlashChangeMm({1, 0, 0, 0});
    perOffset_ = contact.backlashChangeMm({0, 0, 1, 0});
    perShaftAngle_ = contact.backlashChangeMm({0, 0, 0, 0.001}) / 0.001;
    check(std::abs(perRing_) > 0.05, "moving the ring gear must change the backlash");
}

double Prior::ringFor(double backlashMm, double nominalBacklashMm, const SetupError& error) const {
    return (backlashMm - nominalBacklashMm - perDepth_ * error.depthMm - perOffset_ * error.offsetMm -
            perShaftAngle_ * error.shaftAngleRad) /
           perRing_;
}

double Prior::depthOf(double zDepth) { return stretched(zDepth, kDepthScaleMm, kDepthTail); }

double Prior::zOfDepth(double depthMm) { return std::asinh(kDepthTail * depthMm / kDepthScaleMm) / kDepthTail; }

double Prior::depthSlope(double zDepth) { return stretchedSlope(zDepth, kDepthScaleMm, kDepthTail); }

double Prior::zOfBacklash(double backlashMm) const {
    return std::log(std::max(backlashMm, 0.001) / backlashMiddleMm_) / kBacklashSpread;
}

SetUp Prior::setUp(const Z& z) const {
    SetUp result;
    const double scatter = std::exp(kScatterSpread * z[kScatter]);
    result.error.depthMm = stretched(z[kDepth], kDepthScaleMm, kDepthTail);
    result.error.offsetMm = scatter * stretched(z[kOffset], offsetScaleMm_, offsetTail_);
    result.error.shaftAngleRad = scatter * stretched(z[kShaftAngle], angleScaleRad_, angleTail_);
    result.backlashMm = backlashMiddleMm_ * std::exp(kBacklashSpread * z[kBacklash]);
    result.nominalBacklashMm = backlashMiddleMm_ + nominalSpreadMm_ * z[kNominalBacklash];
    result.filmMm = kFilmMm * std::exp(kFilmSpread * z[kFilm]);
    for (const Side side : kSides) {
        const Flank& flank = flanks_[index(side)];
        const int first = firstOf(side);
        Modification& modification = result.modification[index(side)];
        modification.lengthCrownUm = flank.centre.lengthCrownUm * std::exp(flank.lengthCrownSpread * z[first]);
        modification.profileCrownUm = flank.centre.profileCrownUm * std::exp(flank.profileCrownSpread * z[first + 1]);
        modification.biasUm = flank.centre.biasUm + scatter * flank.biasUm * z[first + 2];
        modification.lengthShift =
            flank.centre.lengthShift + scatter * stretched(z[first + 3], kLengthShiftScatter, kShiftTail);
        modification.profileShift =
            flank.centre.profileShift + scatter * stretched(z[first + 4], kProfileShiftScatter, kShiftTail);
    }
    result.error.ringMm = ringFor(result.backlashMm, result.nominalBacklashMm, result.error);
    return result;
}

Eigen::Matrix<double, 5, kFlankFirst> Prior::commonJacobian(const Z& z) const {
    Eigen::Matrix<double, 5, kFlankFirst> jacobian = Eigen::Matrix<double, 5, kFlankFirst>::Zero();
    const double scatter = std::exp(kScatterSpread * z[kScatter]);
    const double depth = stretchedSlope(z[kDepth], kDepthScaleMm, kDepthTail);
    const double offset = scatter * stretchedSlope(z[kOffset], offsetScaleMm_, offsetTail_);
    const double angle = scatter * stretchedSlope(z[kShaftAngle], angleScaleRad_, angleTail_);
    jacobian(0, kDepth) = depth;
    jacobian(2, kOffset) = offset;
    jacobian(3, kShaftAngle) = angle;
    jacobian(2, kScatter) = kScatterSpread * scatter * stretched(z[kOffset], offsetScaleMm_, offsetTail_);
    jacobian(3, kScatter) = kScatterSpread * scatter * stretched(z[kShaftAngle], angleScaleRad_, angleTail_);
    jacobian(4, kFilm) = kFilmSpread;
    // The ring gear keeps the backlash.
    jacobian(1, kDepth) = -perDepth_ / perRing_ * depth;
    for (const int unknown : {kOffset, kShaftAngle, kScatter})
        jacobian(1, unknown) = -(perOffset_ * jacobian(2, unknown) + perShaftAngle_ * jacobian(3, unknown)) / perRing_;
    jacobian(1, kBacklash) = backlashMiddleMm_ * std::exp(kBacklashSpread * z[kBacklash]) * kBacklashSpread / perRing_;
    jacobian(1, kNominalBacklash) = -nominalSpreadMm_ / perRing_;
    return jacobian;
}

Eigen::Matrix<double, kFlankUnknowns, 1> Prior::scatterJacobian(const Z& z, Side side) {
    const int first = firstOf(side);
    const auto stretchedShare = [](double at) { return std::tanh(kShiftTail * at) / kShiftTail; };
    Eigen::Matrix<double, kFlankUnknowns, 1> jacobian;
    jacobian << 0, 0, z[first + 2], stretchedShare(z[first + 3]), stretchedShare(z[first + 4]);
    return kScatterSpread * jacobian;
}

}  // namespace shimsight::advice
