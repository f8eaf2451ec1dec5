// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Lengths and torques in the units that a person wishes. Module `core`.
///
/// Sentences bear both units, "0.004 in (0.10 mm)", "15 in-lb (1.69 Nm)": a pair that converts, because it is rounded
/// once (formatLength); or, where a metric length has no inches that convert, "0.12 mm (about 0.005 in)". Whoever
/// wishes one unit gets the sentence with the other one taken out, at the last moment, so that no place words a
/// sentence twice.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace shimsight {

enum class Units { Both, Inch, Metric };
std::string_view name(Units units);                   ///< "both", "in", "mm"
std::optional<Units> unitsOf(std::string_view word);  ///< nullopt: none of these words

/// What stands before inches that are not quite those of the millimetres before them.
inline constexpr std::string_view kAboutInches = "about ";

/// `text` with each pair of lengths, torques, weights, pressures, ways or speeds, "A in (B mm)", "A ft-lb (B Nm)", left
/// to one of its halves; "C mm (about D in)" to "C mm" or "about D in". Ranges "A to B" and "A and B" within a pair,
/// signs, ends of lines, and no-break spaces and hyphens are understood; all else stays. Linear in the length of the
/// text.
std::string inUnits(std::string_view text, Units units);

}  // namespace shimsight
