// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The photo of a scene: light carried to the sensor and developed as a phone does it.
#pragma once

#include "render/scene.h"

namespace shimsight::render {

struct Shot {
    Picture picture;
    int jpegQuality = 90;
};

/// Traces and develops. `mirrored` turns left and right, as for a left-hand gear set.
Shot takeShot(const Scene& scene, const RenderRequest& request, bool mirrored, int threads);

}  // namespace shimsight::render
