// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the network sees in a part of a photo.
#pragma once

#include <vector>

#include "shimsight/photo.h"
#include "shimsight/rectify.h"

namespace shimsight::teeth {

inline constexpr int kInputWidth = 512, kInputHeight = 384;
inline constexpr int kCellSide = 4;  ///< input pixels
inline constexpr int kCellColumns = kInputWidth / kCellSide, kCellRows = kInputHeight / kCellSide;
inline constexpr double kCellArea = kCellSide * kCellSide;  ///< square input pixels

/// The part of the photo that is laid into the network's input, upright or turned by a quarter.
struct Region {
    double x0 = 0, y0 = 0;  ///< corner, full-size photo pixels
    double scale = 1;       ///< input pixels per full-size photo pixel
    bool turned = false;    ///< input x runs up in the photo, input y to the right
    PixelPoint toPhoto(double inputX, double inputY) const;
    PixelPoint toInput(PixelPoint photo) const;
};

/// The largest region that shows the whole rectangle (full-size pixels), turned when that fits better.
Region regionOf(double x0, double y0, double width, double height);

/// One cell (kCellSide x kCellSide input pixels) that shows a flank. Positions in input pixels.
struct FlankCell {
    float x = 0, y = 0;              ///< its middle
    float u = 0, v = 0;              ///< place on the flank
    float error = 0;                 ///< expected |error of u| + |error of v|
    float middleX = 0, middleY = 0;  ///< where the middle of its flank lies
    float convex = 0, concave = 0;   ///< probabilities
    float painted = 0;               ///< logit: somebody painted this tooth
};

struct Seen {
    Region region;
    Picture input;  ///< as the network saw it
    std::vector<FlankCell> cells;
    std::vector<int>
        hints;  ///< cells (row * kCellColumns + column) that are more likely some part of the teeth than ground
};

/// Runs the network. Thread-safe.
Seen look(const Photo& photo, const Region& region);

}  // namespace shimsight::teeth
