// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The cells of the network's answer, parted into flanks.
#pragma once

#include <vector>

#include "teeth/network.h"

namespace shimsight::teeth {

/// The cells of one flank.
struct Patch {
    std::vector<FlankCell> cells;
    PixelPoint middle;     ///< as the cells vote, input pixels
    double convexity = 0;  ///< mean of convex less concave probability, -1..1
    double painted = 0;    ///< mean logit
};

/// Parts the cells by their votes for the middle of their flank. Patches of fewer than kMinCells are dropped.
std::vector<Patch> partIntoFlanks(const std::vector<FlankCell>& cells);

inline constexpr int kMinCells = 6;

}  // namespace shimsight::teeth
