// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The ring gear and the pinion head as meshes, from their real flank surfaces. Frame: flank_surface.h, right-hand.
#pragma once

#include <array>

#include "render/mesh.h"
#include "shimsight/core.h"
#include "shimsight/flank_surface.h"

namespace shimsight::render {

inline Vec toVec(const Eigen::Vector3d& p) {
    return {static_cast<float>(p.x()), static_cast<float>(p.y()), static_cast<float>(p.z())};
}

/// Main sizes of the ring gear blank, mm.
struct GearShape {
    float toeRootRadius = 0, toeRootZ = 0, heelRootRadius = 0, heelRootZ = 0;
    float toeTipRadius = 0, toeTipZ = 0, heelTipRadius = 0, heelTipZ = 0;
    float backZ = 0;  ///< of the back face
    float boreRadius = 0;
    double pitch = 0;  ///< rad between teeth
    int teeth = 0;
};

GearShape shapeOf(const RingFlank& drive, const RingFlank& coast, double backThickness, double boreShare);

/// Tooth 0 and the bottom land up to tooth 1, placed once for every tooth of the ring gear (isTooth).
Object toothObject(const RingFlank& drive, const RingFlank& coast, const GearShape& shape);

/// Front, bore, back and outside of the blank.
Object blankObject(const GearShape& shape);

/// The pinion's head and shaft in the housing frame, turned by `angle` rad about its own axis (+X).
std::vector<Object> pinionObjects(const PinionFlank& drive, const PinionFlank& coast, double angle);

}  // namespace shimsight::render
