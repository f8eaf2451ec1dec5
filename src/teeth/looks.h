// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Looks at a photo twice: as a whole, then closer where teeth may be.
#pragma once

#include <memory>
#include <vector>

#include "shimsight/teeth.h"
#include "teeth/flank_warp.h"
#include "teeth/network.h"
#include "teeth/patches.h"

namespace shimsight::teeth {

using Grid = std::vector<PixelPoint>;  ///< kFlankGridU x kFlankGridV, row-major from the tip, toe first

/// A flank on its way from patch to outline.
struct Candidate {
    Patch patch;
    FlankWarp warp;
    Region region;
    Grid grid;
    FlankOutline outline;
    Side side = Side::Drive;
    double seenShare = 0, cornerSigma = 0.1;
    OutlineSource source = OutlineSource::Warp;
    int tooth = 0;  ///< its number by the common camera
};

/// Corners and points along root and tip, from the grid.
FlankOutline outlineOf(const Grid& grid, Side side);

struct Looked {
    std::vector<Candidate> candidates;    ///< of all looks, each flank once
    std::shared_ptr<const Photo> larger;  ///< the photo at full size where its flanks are small in the one given
};

/// Every flank that the network sees: in the photo as a whole, and in the parts of it where flanks are small or only
/// hinted at, enlarged. A photo that shows no hint costs one run of the network, else two or three.
Looked lookTwice(const Photo& photo);

}  // namespace shimsight::teeth
