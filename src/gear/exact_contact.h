// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Exact contact of two displaced flank surfaces: the reference that the fast model is held against.
#pragma once

#include <optional>

#include "shimsight/flank_surface.h"
#include "shimsight/tooth_contact.h"

namespace shimsight {

/// The two flanks in the housing frame under a set-up error. The pinion leads: for a pinion angle phi1 (rad about its
/// own +X axis) the ring gear turns by phi2 about +Z until the flanks touch.
class DisplacedPair {
public:
    DisplacedPair(const PinionFlank& pinion, const SetupError& error);

    FlankPoint ringInHousing(double u, double v, double ringAngle) const;
    FlankPoint pinionInHousing(double a, double b, double pinionAngle) const;

    struct Touch {
        double a = 0, b = 0;  ///< pinion flank parameters that meet the ring point
        double ringAngle = 0;
    };
    /// Ring gear angle at which ring point (u, v) lies on the pinion surface: three position equations by Newton.
    /// Nullopt when the surfaces end before they meet.
    std::optional<Touch> touchOf(double u, double v, double pinionAngle, double ringAngleGuess) const;

    struct ContactPoint {
        double u = 0, v = 0, a = 0, b = 0, ringAngle = 0;
        double positionResidualMm = 0, normalResidual = 0;
    };
    /// Contact at `pinionAngle`: equal position and opposed normals, five equations (F. L. Litvin, NASA RP-1406, 1997)
    /// for u, v, a, b and the ring gear angle. Nullopt when Newton leaves the neighbourhood of the flank.
    std::optional<ContactPoint> contactAt(double pinionAngle, double u, double v, double ringAngleGuess) const;

    const PinionFlank& pinion() const { return pinion_; }

private:
    std::optional<Touch> touchBySteps(double u, double v, double pinionAngle, double ringAngleGuess) const;
    std::optional<ContactPoint> contactBySteps(double pinionAngle, double u, double v, double ringAngleGuess) const;

    PinionFlank pinion_;
    SetupError error_;
    Eigen::Matrix3d shaftTurn_;
};

}  // namespace shimsight
