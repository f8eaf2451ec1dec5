// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A flank with a border around it, rectified for the network that sees the contact. Module `flank`.
#pragma once

#include <vector>

#include "shimsight/photo.h"
#include "shimsight/rectify.h"

namespace shimsight::flank {

/// The rectified picture covers u from kLowU to kHighU (left to right) and v from kHighV to kLowV (top to bottom): the
/// working flank and what lies around it, so that an outline that is off can be noticed.
inline constexpr int kRectifiedWidth = 192, kRectifiedHeight = 96;
inline constexpr int kCellColumns = 96, kCellRows = 48;  ///< the network answers for cells of 2 x 2 pixels
inline constexpr double kLowU = -0.08, kHighU = 1.08, kLowV = -0.25, kHighV = 1.20;

/// u of a pixel column or cell column whose middle is at `x` of `count` columns; v likewise.
inline constexpr double uAt(double x, int count) { return kLowU + (kHighU - kLowU) * x / count; }
inline constexpr double vAt(double y, int count) { return kHighV - (kHighV - kLowV) * y / count; }

/// Where (u, v) lies by a grid of kFlankGridU x kFlankGridV positions (row-major from the tip, toe first); beyond the
/// flank the grid goes on as it bends at its border.
PixelPoint placeOnGrid(const std::vector<PixelPoint>& grid, double u, double v);

/// The rectified flank, kRectifiedWidth x kRectifiedHeight. `grid` in pixels of `picture`; each pixel is the mean of
/// four places.
Picture rectifyWithBorder(const Picture& picture, const std::vector<PixelPoint>& grid);

}  // namespace shimsight::flank
