#include "advice/prior.h"

#include <algorithm>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

/// Smallest crown taken as a scale, um: a set entered with no crown still has some.
constexpr double kLeastCrownUm = 2;
/// Smallest scatter of the backlash in the design position: a dial's reading error.
constexpr double kLeastNominalSpreadMm = 0.012;

/// Heavy-tailed function of a standard normal number: scale x z near 0.
double stretched(double z, double scale, double tail) { return scale * std::sinh(tail * z) / tail; }
double stretchedSlope(double z, double scale, double tail) { return scale * std::cosh(tail * z); }

/// Whether the gear set's crowning of this side is only assumed.
bool crowningAssumed(const GearSet& gearSet, Side side) { return !gearSet.given.crowning[index(side)]; }

}  // namespace

Prior::Prior(const ToothContact& contact, const Suspicion& suspicion) {
    const GearSet& set = contact.gearSet();
    if (suspicion.bentHousing) {
        offsetScaleMm_ = kBentOffsetMm;
        angleScaleRad_ = kBentAngleRad;
        offsetTail_ = angleTail_ = kBentTail;
    }
    for (const Side side : kSides) {
        const bool assumed = crowningAssumed(set, side);
        Flank& flank = flanks_[index(side)];
        flank.centre = set.modification[index(side)];
        flank.centre.lengthCrownUm = std::max(flank.centre.lengthCrownUm, kLeastCrownUm);
        flank.centre.profileCrownUm = std::max(flank.centre.profileCrownUm, kLeastCrownUm);
        flank.crownSpread = assumed ? kCrownSpreadAssumed : kCrownSpreadKnown;
        flank.biasUm = (assumed ? kBiasShareAssumed : kBiasShareKnown) *
                       std::sqrt(flank.centre.lengthCrownUm * flank.centre.profileCrownUm);
        if (suspicion.worn == side) {
            flank.centre.lengthCrownUm *= kWornShare;
            flank.centre.profileCrownUm *= kWornShare;
            flank.crownSpread = kWornSpread;
        }
        flank.lengthShift = assumed ? kLengthShiftScatterAssumed : kLengthShiftScatterKnown;
        flank.profileShift = assumed ? kProfileShiftScatterAssumed : kProfileShiftScatterKnown;
    }
    const Interval& limits = set.limits.backlashMm;
    backlashMiddleMm_ = std::max(limits.middle(), 0.02);
    nominalSpreadMm_ = std::max(kNominalBacklashShare * 0.5 * (limits.high - limits.low), kLeastNominalSpreadMm);

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
    result.error.depthMm = stretched(z[kDepth], kDepthScaleMm, kDepthTail);
    result.error.offsetMm = stretched(z[kOffset], offsetScaleMm_, offsetTail_);
    result.error.shaftAngleRad = stretched(z[kShaftAngle], angleScaleRad_, angleTail_);
    result.backlashMm = backlashMiddleMm_ * std::exp(kBacklashSpread * z[kBacklash]);
    result.nominalBacklashMm = backlashMiddleMm_ + nominalSpreadMm_ * z[kNominalBacklash];
    result.filmMm = kFilmMm * std::exp(kFilmSpread * z[kFilm]);
    for (const Side side : kSides) {
        const Flank& flank = flanks_[index(side)];
        const int first = firstOf(side);
        Modification& modification = result.modification[index(side)];
        modification.lengthCrownUm = flank.centre.lengthCrownUm * std::exp(flank.crownSpread * z[first]);
        modification.profileCrownUm = flank.centre.profileCrownUm * std::exp(flank.crownSpread * z[first + 1]);
        modification.biasUm = flank.centre.biasUm + flank.biasUm * z[first + 2];
        modification.lengthShift = flank.centre.lengthShift + stretched(z[first + 3], flank.lengthShift, kShiftTail);
        modification.profileShift = flank.centre.profileShift + stretched(z[first + 4], flank.profileShift, kShiftTail);
    }
    result.error.ringMm = ringFor(result.backlashMm, result.nominalBacklashMm, result.error);
    return result;
}

Eigen::Matrix<double, 5, 6> Prior::commonSlopes(const Z& z) const {
    Eigen::Matrix<double, 5, 6> slopes = Eigen::Matrix<double, 5, 6>::Zero();
    const double depth = stretchedSlope(z[kDepth], kDepthScaleMm, kDepthTail);
    const double offset = stretchedSlope(z[kOffset], offsetScaleMm_, offsetTail_);
    const double angle = stretchedSlope(z[kShaftAngle], angleScaleRad_, angleTail_);
    slopes(0, kDepth) = depth;
    slopes(2, kOffset) = offset;
    slopes(3, kShaftAngle) = angle;
    slopes(4, kFilm) = kFilmSpread;
    slopes(1, kDepth) = -perDepth_ / perRing_ * depth;
    slopes(1, kOffset) = -perOffset_ / perRing_ * offset;
    slopes(1, kShaftAngle) = -perShaftAngle_ / perRing_ * angle;
    slopes(1, kBacklash) = backlashMiddleMm_ * std::exp(kBacklashSpread * z[kBacklash]) * kBacklashSpread / perRing_;
    slopes(1, kNominalBacklash) = -nominalSpreadMm_ / perRing_;
    return slopes;
}

}  // namespace shimsight::advice
