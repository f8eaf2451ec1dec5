// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Quantiles in the tables of studies.
#pragma once

#include <utility>
#include <vector>

#include "shimsight/statistics.h"

namespace shimsight {

/// quantile; 0 of nothing, which a table shows beside its count.
inline double quantileOrZero(std::vector<double> values, double share) {
    return values.empty() ? 0 : quantile(std::move(values), share);
}

}  // namespace shimsight
