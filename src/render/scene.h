// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Chooses and builds what is photographed: gear, bench or axle around it, lamps, paint on the teeth, the camera's
/// place.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "render/camera.h"
#include "render/gear_mesh.h"
#include "render/looks.h"
#include "render/world.h"
#include "shimsight/render.h"

namespace shimsight::render {

struct Scene {
    std::unique_ptr<World> world;
    Looks looks;
    Camera camera;
    GearShape shape;
    double gearAngle = 0;            ///< rad, the ring gear turned about Z
    std::vector<ToothState> states;  ///< by tooth
    /// The contact on each painted tooth, by tooth and index(side); null = bare.
    std::vector<std::array<std::shared_ptr<const FlankMap>, 2>> marks;
    int centreTooth = 0;
    double wavePhase = 0;     ///< rad, of the once-per-turn runout of the ring gear
    double keyStops = 0;      ///< exposure wished by the photographer, in stops from the meter's
    Vec lampColour{1, 1, 1};  ///< of the strongest lamp, for the white balance
    std::string note;
};

/// Position in the picture's world (housing frame) of a flank point of tooth k.
Eigen::Vector3d flankPosition(const RingFlank& flank, double u, double v, int tooth, const Scene& scene);

/// Soft dark and bright shapes all around: what polished steel mirrors and what stands out of focus behind. Needs the
/// room's `up` and `wall`.
void addPatches(Surroundings& room, int count, Random& random);

Scene buildScene(const ToothContact& contact, const RingFlank& drive, const RingFlank& coast,
                 const RenderRequest& request, int threads);

}  // namespace shimsight::render
