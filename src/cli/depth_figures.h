// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Depth figures of pinions as they are typed: with their unit, which says more than the length.
#pragma once

#include <optional>
#include <string>

namespace shimsight::cli {

/// Millimetres of a figure; nullopt: not given. Throws UsageError beginning with `option`.
std::optional<double> figureMm(const std::optional<std::string>& text, const char* option);

/// One in inches, the other in millimetres; a figure of 0 is the same in both.
bool inTwoUnits(const std::optional<std::string>& oldFigure, const std::optional<std::string>& newFigure);

}  // namespace shimsight::cli
