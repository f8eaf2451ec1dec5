// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The features of a pattern that the likelihood compares, with the scale of their noise.
#pragma once

#include <Eigen/Core>

#include "shimsight/pattern.h"

namespace shimsight::advice {

inline double squared(double value) { return value * value; }

enum Feature : int { kToeHeel, kRootTip, kLength, kHeight, kArea, kTilt, kEdgeToe, kEdgeHeel, kEdgeTip, kEdgeRoot };
inline constexpr int kFeatures = 10;
using Features = Eigen::Matrix<double, kFeatures, 1>;

Features featuresOf(const Pattern& pattern);

/// Scales of the Student-t noise of the features of an observed pattern, model error included. See advice.h.
Features noiseScales(const Pattern& observed, double extentNoise = 1, double patternNoise = 1);

/// Weight of a squared residual (in scales) in iterated least squares, and its negative log density without the
/// constant.
double studentWeight(double residualSquared);
double studentLoss(double residualSquared);

}  // namespace shimsight::advice
