/// What is measured at every point of an unwrapped flank to tell paste from steel.
#pragma once

#include <array>
#include <vector>

#include "shimsight/unwrap.h"

namespace shimsight::compound {

/// Working grid: the flank map halved. Finer detail is texture of paste and steel, not of the pattern.
inline constexpr int kColumns = 128, kRows = 64, kCells = kColumns * kRows;

/// 0, 1: log colour ratios red/green and blue/green (what paste colour is about, whatever the light's strength);
/// 2: log brightness; 3: log strength of the fine texture (paste hides machining marks and is matt).
inline constexpr int kFeatures = 4;

struct FlankFeatures {
    std::array<std::vector<float>, kFeatures> value;  ///< kCells each, rows from the tip
    std::vector<float> weight;  ///< 0..1: how far a cell can be trusted (gloss, darkness, outside)
    double meanLight = 0;       ///< linear, 0..1
    double burntShare = 0;      ///< share of the flank at the sensor's limit
    double darkShare = 0;       ///< share too dark to have a colour
    double visibleShare = 0;
    double saturation = 0;  ///< mean distance of the colour ratios from neutral
};

FlankFeatures measureFeatures(const UnwrappedFlank& flank);

}  // namespace shimsight::compound
