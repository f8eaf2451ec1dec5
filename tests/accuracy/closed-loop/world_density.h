// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The density of the world of world.h over that of the advice's prior: for references that know the world.
#pragma once

#include <cmath>

#include "gear_under_study.h"

namespace shimsight::closed_loop {

/// Density of skewed(): a gamma variable of shape 4, less 4, halved.
inline double skewedDensity(double value) {
    const double g = 2 * value + 4;
    return g <= 0 ? 0 : 2 * g * g * g * std::exp(-g) / 6;
}
inline double skewedBelow(double value) {
    const double g = 2 * value + 4;
    return g <= 0 ? 0 : 1 - std::exp(-g) * (1 + g * (1 + g / 2 * (1 + g / 3)));
}

/// z of a set-up, if the scatter has that z.
inline advice::Z zOf(const GearUnderStudy& gear, const advice::SetUp& setUp, double zScatter = 0) {
    using namespace advice;
    const double scatter = std::exp(kScatterSpread * zScatter);
    const auto unstretched = [scatter](double value, double scale, double tail) {
        return std::asinh(tail * value / (scatter * scale)) / tail;
    };
    const GearSet& set = gear.contact.gearSet();
    Z z = Z::Zero();
    z[kScatter] = zScatter;
    z[kDepth] = Prior::zOfDepth(setUp.error.depthMm);
    z[kBacklash] = gear.prior.zOfBacklash(setUp.backlashMm);
    const Interval& limits = set.limits.backlashMm;
    z[kNominalBacklash] =
        (setUp.nominalBacklashMm - limits.middle()) / (0.5 * kNominalBacklashShare * (limits.high - limits.low));
    z[kOffset] = unstretched(setUp.error.offsetMm, kOffsetScaleMm, kOffsetTail);
    z[kShaftAngle] = unstretched(setUp.error.shaftAngleRad, kShaftAngleScaleRad, kShaftAngleTail);
    z[kFilm] = std::log(setUp.filmMm / kFilmMm) / kFilmSpread;
    for (const Side side : kSides) {
        const int first = firstOf(side);
        const Modification& m = setUp.modification[index(side)];
        const Modification& centre = set.modification[index(side)];
        z[first] = std::log(m.lengthCrownUm / centre.lengthCrownUm) / kCrownSpreadKnown;
        z[first + 1] = std::log(m.profileCrownUm / centre.profileCrownUm) / kCrownSpreadKnown;
        z[first + 2] = (m.biasUm - centre.biasUm) /
                       (scatter * kBiasShare * std::sqrt(centre.lengthCrownUm * centre.profileCrownUm));
        z[first + 3] = unstretched(m.lengthShift - centre.lengthShift, kLengthShiftScatter, kShiftTail);
        z[first + 4] = unstretched(m.profileShift - centre.profileShift, kProfileShiftScatter, kShiftTail);
    }
    return z;
}

/// log of the density of the world at the set-up over that of the prior at its z; unknowns with `given` are left out.
/// The scatter is no number of the world: it keeps the prior's density, and the world's is over the other z given it.
inline double logWorldOverPrior(const GearUnderStudy& gear, const advice::Z& z, const advice::SetUp& setUp,
                                const std::array<bool, advice::kUnknowns>& given) {
    using namespace advice;
    const Interval& limits = gear.contact.gearSet().limits.backlashMm;
    const auto normal = [](double x) { return std::exp(-0.5 * x * x) / std::sqrt(2 * kPi); };
    double log = 0;
    int place = 0;
    const auto count = [&](double worldDensityInZ, double at) {
        if (!given[static_cast<std::size_t>(place++)]) log += std::log(std::max(worldDensityInZ, 1e-30) / normal(at));
    };
    const double scatter = std::exp(kScatterSpread * z[kScatter]);
    const auto stretchedSlope = [scatter](double at, double scale, double tail) {
        return scatter * scale * std::cosh(tail * at);
    };
    const auto eitherSign = [](double value) { return 0.5 * (skewedDensity(value) + skewedDensity(-value)); };

    count(std::abs(setUp.error.depthMm) <= kFarthestDepthMm ? Prior::depthSlope(z[kDepth]) / (2 * kFarthestDepthMm) : 0,
          z[kDepth]);
    const bool inRange = setUp.backlashMm >= 0.5 * limits.low && setUp.backlashMm <= 2 * limits.high;
    count(inRange ? kBacklashSpread / std::log(4 * limits.high / limits.low) : 0, z[kBacklash]);
    count(limits.holds(setUp.nominalBacklashMm) ? 0.25 : 0, z[kNominalBacklash]);
    const double offset = setUp.error.offsetMm;
    const double bent = (skewedBelow((offset + 0.10) / 0.018) - skewedBelow((offset - 0.10) / 0.018)) / 0.20;
    count((29.0 / 30 * skewedDensity(offset / 0.018) / 0.018 + bent / 30) *
              stretchedSlope(z[kOffset], kOffsetScaleMm, kOffsetTail),
          z[kOffset]);
    count(eitherSign(setUp.error.shaftAngleRad / 0.0003) / 0.0003 *
              stretchedSlope(z[kShaftAngle], kShaftAngleScaleRad, kShaftAngleTail),
          z[kShaftAngle]);
    count(skewedDensity(z[kFilm] * kFilmSpread / 0.30) * kFilmSpread / 0.30, z[kFilm]);
    ++place;  // the scatter
    for (const Side side : kSides) {
        const int first = firstOf(side);
        const Modification& m = setUp.modification[index(side)];
        const Modification& centre = gear.contact.gearSet().modification[index(side)];
        for (int i = 0; i < 2; ++i)
            count(skewedDensity(z[first + i] * kCrownSpreadKnown / 0.15) * kCrownSpreadKnown / 0.15, z[first + i]);
        const double biasScale = scatter * kBiasShare / 0.18;
        count(skewedDensity(z[first + 2] * biasScale) * biasScale, z[first + 2]);
        count(skewedDensity((m.lengthShift - centre.lengthShift) / 0.036) / 0.036 *
                  stretchedSlope(z[first + 3], kLengthShiftScatter, kShiftTail),
              z[first + 3]);
        count(eitherSign((m.profileShift - centre.profileShift) / 0.024) / 0.024 *
                  stretchedSlope(z[first + 4], kProfileShiftScatter, kShiftTail),
              z[first + 4]);
    }
    return log;
}

}  // namespace shimsight::closed_loop
