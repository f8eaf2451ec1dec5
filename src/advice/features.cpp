// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/features.h"

#include <algorithm>
#include <cmath>

#include "shimsight/advice.h"
#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

/// A mark is never shorter than this for the noise of its tilt, in face widths.
constexpr double kMinLengthForTilt = 0.15;
/// Length and height share their noise with the area, which therefore tells less than its own noise says.
constexpr double kAreaInflation = 2;
constexpr double kMinAreaSigma = 0.02;

}  // namespace

Features featuresOf(const Pattern& pattern) {
    Features f;
    f << pattern.toeHeel, pattern.rootTip, pattern.length, pattern.height, pattern.area, pattern.tiltDeg,
        pattern.edgeToe, pattern.edgeHeel, pattern.edgeTip, pattern.edgeRoot;
    return f;
}

Features noiseScales(const Pattern& observed, double extentNoise, double patternNoise) {
    const double readT = observed.sigmaToeHeel > 0 ? observed.sigmaToeHeel : kDefaultSigmaToeHeel;
    const double readR = observed.sigmaRootTip > 0 ? observed.sigmaRootTip : kDefaultSigmaRootTip;
    const double t = std::hypot(patternNoise * readT, kModelSigmaToeHeel);
    const double r = std::hypot(patternNoise * readR, kModelSigmaRootTip);
    const double length = std::max(observed.length, kMinLengthForTilt);
    const double height = std::max(observed.height, kMinLengthForTilt);
    const double area =
        std::max(kAreaInflation * observed.area * std::hypot(2 * t / length, 2 * r / height), kMinAreaSigma);
    const double tilt = degrees(std::atan(r / length));
    Features scales;
    scales << t, r, 2 * t, 2 * r, area, tilt, kEdgeSigma, kEdgeSigma, kEdgeSigma, kEdgeSigma;
    scales.tail<kFeatures - 2>() *= extentNoise;
    return scales;
}

double studentWeight(double residualSquared) { return (kNoiseDof + 1) / (kNoiseDof + residualSquared); }
double studentLoss(double residualSquared) { return 0.5 * (kNoiseDof + 1) * std::log1p(residualSquared / kNoiseDof); }

}  // namespace shimsight::advice
