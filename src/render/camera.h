// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The phone camera: a pinhole with radial distortion, a small thin lens and a little shake.
#pragma once

#include <Eigen/Core>
#include <optional>

#include "render/vec.h"

namespace shimsight::render {

/// Camera frame: x right, y down, z forward; pixels x right, y down, centre of the first pixel at (0.5, 0.5).
struct Camera {
    Eigen::Vector3d origin, right, down, forward;
    int widthPx = 0, heightPx = 0;
    double focalPx = 0;
    Eigen::Vector2d centrePx;
    double k1 = 0, k2 = 0;          ///< x_distorted = x (1 + k1 r^2 + k2 r^4), r in units of the focal length
    double lensRadius = 0;          ///< mm
    double focusDistance = 0;       ///< mm along `forward`
    Eigen::Vector2d shakePx{0, 0};  ///< path of the picture during the exposure

    /// Where a point is seen (chief ray, middle of the exposure); nullopt behind the camera or beyond the lens's model.
    std::optional<Eigen::Vector2d> project(const Eigen::Vector3d& point) const;

    /// Unit direction of the chief ray of a pixel position.
    Eigen::Vector3d direction(const Eigen::Vector2d& pixel) const;
};

/// Looks from `origin` at `target`; `up` turned by `roll` rad about the viewing direction.
Camera lookAt(const Eigen::Vector3d& origin, const Eigen::Vector3d& target, const Eigen::Vector3d& up, double roll);

}  // namespace shimsight::render
