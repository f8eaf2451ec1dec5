// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/camera.h"

#include <Eigen/Geometry>

namespace shimsight::render {
namespace {

/// Beyond this the distortion polynomial is not trusted (tangent of 60 degrees off the axis).
constexpr double kMaxTangent = 1.8;

double stretched(const Camera& camera, double r) {
    const double r2 = r * r;
    return r * (1 + camera.k1 * r2 + camera.k2 * r2 * r2);
}

}  // namespace

std::optional<Eigen::Vector2d> Camera::project(const Eigen::Vector3d& point) const {
    const Eigen::Vector3d d = point - origin;
    const double depth = d.dot(forward);
    if (depth <= 1e-6) return std::nullopt;
    const Eigen::Vector2d plane(d.dot(right) / depth, d.dot(down) / depth);
    const double r = plane.norm();
    if (r > kMaxTangent) return std::nullopt;
    const double scale = r > 1e-12 ? stretched(*this, r) / r : 1.0;
    return Eigen::Vector2d(centrePx + focalPx * scale * plane);
}

Eigen::Vector3d Camera::direction(const Eigen::Vector2d& pixel) const {
    const Eigen::Vector2d distorted = (pixel - centrePx) / focalPx;
    const double rd = distorted.norm();
    double r = rd;
    for (int i = 0; i < 4; ++i) {  // Newton; distortion is a few per cent, four steps reach double precision
        const double r2 = r * r;
        const double slope = 1 + 3 * k1 * r2 + 5 * k2 * r2 * r2;
        r -= (stretched(*this, r) - rd) / slope;
    }
    const double scale = rd > 1e-12 ? r / rd : 1.0;
    return (forward + right * (distorted.x() * scale) + down * (distorted.y() * scale)).normalized();
}

Camera lookAt(const Eigen::Vector3d& origin, const Eigen::Vector3d& target, const Eigen::Vector3d& up, double roll) {
    Camera camera;
    camera.origin = origin;
    camera.forward = (target - origin).normalized();
    Eigen::Vector3d right = camera.forward.cross(up);
    if (right.norm() < 1e-6) right = camera.forward.unitOrthogonal();
    right.normalize();
    const Eigen::Vector3d down = camera.forward.cross(right);
    camera.right = std::cos(roll) * right + std::sin(roll) * down;
    camera.down = camera.forward.cross(camera.right);
    return camera;
}

}  // namespace shimsight::render
