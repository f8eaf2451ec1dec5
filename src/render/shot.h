// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The photo of a scene: light carried to the sensor and developed as a phone does it.
#pragma once

#include <vector>

#include "render/scene.h"
#include "shimsight/render.h"

namespace shimsight::render {

struct Shot {
    Picture picture;
    int jpegQuality = 90;
};

/// Traces and develops. `mirrored` turns left and right, as for a left-hand gear set.
Shot takeShot(const Scene& scene, const RenderRequest& request, bool mirrored, int threads);

/// The flanks of which that photo shows a twentieth or more, tooth by tooth.
std::vector<FlankTruth> flanksSeen(const RingFlank& drive, const RingFlank& coast, const Scene& scene, bool mirrored);

}  // namespace shimsight::render
