// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The things around the ring gear. Frame: housing frame of flank_surface.h, mm.
#pragma once

#include <vector>

#include "render/gear_mesh.h"
#include "render/mesh.h"
#include "shimsight/core.h"

namespace shimsight::render {

/// Differential case in the ring gear's bore, its bearings at lowZ and highZ; turned with the gear by `angle`.
Object carrierObject(const GearShape& shape, float lowZ, float highZ, double angle, Random& random);

/// Bearing caps with bolts and the seats below them, at lowZ and highZ; caps face -X. `depth`: length of the seats
/// toward +X.
Object capsObject(float lowZ, float highZ, float depth, Random& random);

/// Measures of a round housing, mm: rim with bolt holes at x = rimX, centre z = centreZ, cavity behind it.
struct HousingSize {
    float innerRadius = 0, outerRadius = 0;
    float rimX = 0, depth = 0, centreZ = 0;
};
/// The housing, open toward -X; with tubes along Z when `tubes`.
Object housingObject(const HousingSize& size, bool tubes, Random& random);

/// Bench top below the gear (z = level, up = -Z) of the given material.
Object benchObject(Material material, float level);
/// A cloth on the bench; flat under the gear (radius flatRadius), in folds outside.
Object ragObject(float level, float flatRadius, Random& random);

/// Bolts, shims, a tube and a brush lying on z = level, outside `clear` mm from the gear's axis (or inside the bore).
std::vector<Object> clutter(float level, float clear, float bore, int count, Random& random);

}  // namespace shimsight::render
