// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Small helpers of the plan that others of the module use.
#pragma once

#include <optional>
#include <string>

namespace shimsight::review {

/// Names as a person sorts them: photo2 before photo10.
bool naturalLess(const std::string& a, const std::string& b);

/// Between two camera times, minutes; nullopt: not times.
std::optional<double> minutesBetween(const std::string& earlier, const std::string& later);

/// `text` without `start` in front.
std::string without(std::string text, const std::string& start);

}  // namespace shimsight::review
