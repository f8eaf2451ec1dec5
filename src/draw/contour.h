// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Border lines of a flank map.
#pragma once

#include <string>
#include <vector>

#include "shimsight/flank_map.h"
#include "shimsight/pattern.h"

namespace shimsight::draw {

struct MapPoint {
    double u = 0, v = 0;
};

/// Smooth closed lines where the contact crosses one half; pieces under `leastShare` of the flank are left out.
std::vector<std::vector<MapPoint>> contactContours(const FlankMap& map, double leastShare = 0.002);

/// Height of a sketched flank at the toe over that at the heel: lower at the toe, as most teeth are, so that the eye
/// finds the toe before reading.
inline constexpr double kToeHeight = 0.78;

/// "42 %" of a share, with a space that does not break.
std::string tiedPercent(double share);

/// The outline of an expected pattern: an ellipse with its centre, size and tilt, kept inside the flank.
std::vector<MapPoint> expectedOutline(const Pattern& pattern);

}  // namespace shimsight::draw
