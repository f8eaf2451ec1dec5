// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Order statistics, and the width of a normal interval. Module `core`.
#pragma once

#include <vector>

namespace shimsight {

/// Standard deviations of a normal distribution from its middle to the end of its 90 % interval.
inline constexpr double kHalfWidthOf90 = 1.645;

/// The value below which `share` (0..1) of `values` lie: between two of them by linear interpolation of their ranks
/// (definition 7 of Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician 50, 1996).
/// Never called with none.
double quantile(std::vector<double> values, double share);

/// quantile 0.5: the middle one, or the mean of the two in the middle. Never called with none.
double median(std::vector<double> values);

}  // namespace shimsight
