// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/statistics.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace shimsight {

double quantile(std::vector<double> values, double share) {
    const double rank = share * static_cast<double>(values.size() - 1);
    const auto below = values.begin() + static_cast<std::ptrdiff_t>(std::floor(rank));
    std::nth_element(values.begin(), below, values.end());
    const double part = rank - std::floor(rank);
    if (part == 0 || below + 1 == values.end()) return *below;
    return *below + part * (*std::min_element(below + 1, values.end()) - *below);
}

double median(std::vector<double> values) { return quantile(std::move(values), 0.5); }

}  // namespace shimsight
