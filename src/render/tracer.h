// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Light carried from the lamps to the camera.
#pragma once

#include <functional>
#include <vector>

#include "render/camera.h"
#include "render/looks.h"
#include "render/world.h"

namespace shimsight::render {

/// Linear radiance, three floats a pixel, rows from the top down.
struct Radiance {
    int width = 0, height = 0;
    std::vector<float> rgb;
    float meter = 1;  ///< typical radiance of the picture, as a light meter would read it
};

/// Path tracing with `samples` paths a pixel, then smoothing of what is left of its noise along surfaces of one kind
/// (guided by their colour, direction and distance, so that borders stay). Every pixel has its own random numbers, so
/// the picture does not depend on `threads`.
Radiance trace(const World& world, const Looks& looks, const Camera& camera, int samples, std::uint64_t seed,
               int threads);

/// Runs work(0) .. work(count - 1) on `threads` threads; each index once, in any order.
void parallelFor(int count, int threads, const std::function<void(int)>& work);

/// 0 becomes the number of processors.
int threadCount(int wished);

}  // namespace shimsight::render
