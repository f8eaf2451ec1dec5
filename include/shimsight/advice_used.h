// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// When gears that ran together are back where they were before they came apart. One rule for what judges a reading and
/// for what advises a move.
#pragma once

namespace shimsight {

/// Their backlash, mm: two readings of a dial hardly differ by more, and that of new gears may vary as much round the
/// ring gear, 0.002 in (common practice, no source).
inline constexpr double kUsedBacklashMm = 0.05;

/// The middle of a mark, as a share of the flank's length and height: about as much as 0.002 in of depth moves a worn
/// mark and two careful paintings differ (common practice, no source).
inline constexpr double kUsedPatternShare = 0.1;

}  // namespace shimsight
