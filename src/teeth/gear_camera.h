// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// One camera for all flanks of a photo.
#pragma once

#include <optional>
#include <vector>

#include "shimsight/flank_camera.h"
#include "teeth/flank_warp.h"

namespace shimsight::teeth {

/// One flank as its warp has it. Warps work in input pixels of `region`.
struct WarpedFlank {
    const FlankWarp* warp = nullptr;
    Region region;
    Side side = Side::Drive;
    FlankOutline outline;  ///< by the warp, full-size photo pixels
    double weight = 1;
};

struct GearCamera {
    flank::Camera camera;
    double toothTurn = 0;          ///< rad between teeth; the gear set's own, or fitted when it is not known
    std::vector<int> tooth;        ///< of each flank
    std::vector<double> residual;  ///< of each flank from its warp, root mean square of du and dv / 2
    std::vector<bool> numbered;    ///< whether the flank's middle falls on its tooth
    double cost = 0;               ///< robust, per flank: compare shapes by it
};

/// Fits a camera to the warps, robustly: flanks that do not fit count little. `grids` by index(side).
/// `toothTurnKnown` false: the angle between teeth is fitted too. `startFrom`: begins there instead of at cameras of
/// single flanks. nullopt: nothing fits.
std::optional<GearCamera> fitGearCamera(const std::vector<WarpedFlank>& flanks,
                                        const std::array<flank::FlankGrid, 2>& grids, bool toothTurnKnown,
                                        const flank::PictureSize& size, const GearCamera* startFrom = nullptr);

}  // namespace shimsight::teeth
