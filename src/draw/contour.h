/// Border lines of a flank map.
#pragma once

#include <vector>

#include "shimsight/flank_map.h"

namespace shimsight::draw {

struct MapPoint {
    double u = 0, v = 0;
};

/// Smooth closed lines where the contact crosses one half; pieces under `leastShare` of the flank are left out.
std::vector<std::vector<MapPoint>> contactContours(const FlankMap& map, double leastShare = 0.002);

}  // namespace shimsight::draw
