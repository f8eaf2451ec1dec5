// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "measure/set_misfit.h"

#include <cmath>
#include <stdexcept>
#include <string>

namespace shimsight {
namespace measure {
namespace {

/// Teeth counted from a photo are off by one or so (42 photos of another renderer, 12 samples), the mean of several
/// photos by that over the root of their number: this far from the set's count, over that root, and explaining the
/// flanks better by this much, they are another set's.
constexpr double kCountOff = 2.5, kCountGain = 0.08;
/// A typical tooth explains the right set's flanks at most a little better than the set's own.
constexpr double kShapeGain = 0.4;

double mean(const std::vector<double>& values) {
    double sum = 0;
    for (const double value : values) sum += value;
    return values.empty() ? 0 : sum / static_cast<double>(values.size());
}

}  // namespace

std::optional<SetMisfit> setMisfitOf(const std::vector<MeasuredPhoto>& photos, const GearSet& gearSet) {
    std::vector<double> counts, countGains, shapeGains;
    int right = 0, left = 0;
    for (const MeasuredPhoto& photo : photos) {
        if (!photo.setFit) continue;
        const SetFit& fit = *photo.setFit;
        if (fit.hand) (*fit.hand == Hand::Right ? right : left) += 1;
        if (fit.ringTeeth) counts.push_back(*fit.ringTeeth), countGains.push_back(fit.countGain);
        shapeGains.push_back(fit.shapeGain);
    }
    // The hand comes first: with the wrong one, everything else is mirrored.
    if (gearSet.given.hand && (gearSet.hand == Hand::Right ? left > 0 && right == 0 : right > 0 && left == 0))
        return SetMisfit{Misfit::Hand, right > 0 ? 1.0 : 0.0, gearSet.hand == Hand::Right ? 1.0 : 0.0};
    const double off = std::abs(mean(counts) - gearSet.ringTeeth) * std::sqrt(static_cast<double>(counts.size()));
    if (off > kCountOff && mean(countGains) > kCountGain)
        return SetMisfit{Misfit::ToothCount, std::round(mean(counts)), static_cast<double>(gearSet.ringTeeth)};
    // A set whose cut is assumed has a shape of ours: that teeth look otherwise is no word on the gears.
    if (gearSet.given.cut && mean(shapeGains) > kShapeGain) return SetMisfit{Misfit::Proportions, 0, 0};
    return std::nullopt;
}

}  // namespace measure

std::string misfitWords(const SetMisfit& misfit) {
    switch (misfit.what) {
        case Misfit::Hand:
            return say(misfit.seen > 0.5 ? "measure.misfit-hand-right" : "measure.misfit-hand-left");
        case Misfit::ToothCount:
            return say("measure.misfit-teeth", std::lround(misfit.seen), std::lround(misfit.given));
        case Misfit::Proportions:
            return say("measure.misfit-proportions");
    }
    throw std::logic_error("a misfit without words");
}

}  // namespace shimsight
