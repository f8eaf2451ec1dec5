// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A smooth map between a flank and the picture, fitted to the cells of one flank.
#pragma once

#include <Eigen/Core>
#include <optional>

#include "teeth/patches.h"

namespace shimsight::teeth {

/// u and v as polynomials of second degree in the place in the input, fitted robustly (Cauchy weights by iteration,
/// each cell by its expected error). Second degree is enough: over a flank perspective and curvature leave less than
/// 1 % of its length (rendered flanks).
class FlankWarp {
public:
    /// nullopt: too few cells, or they do not spread over the flank enough to tell both directions.
    static std::optional<FlankWarp> fit(const std::vector<FlankCell>& cells);

    Eigen::Vector2d uvAt(double x, double y) const;

    /// Input position of (u, v); nullopt where the polynomials have no such place near the flank.
    std::optional<PixelPoint> at(double u, double v) const;

    /// + when u, v turn the same way as x, y (y down) at the flank's middle.
    double orientation() const { return orientation_; }
    double residual() const { return residual_; }    ///< root mean square of |du| + |dv| over the cells kept
    double keptShare() const { return keptShare_; }  ///< of the cells, within three times the expected error

private:
    Eigen::Matrix<double, 6, 2> coefficients_;
    double centreX_ = 0, centreY_ = 0, unit_ = 1;
    double orientation_ = 0, residual_ = 0, keptShare_ = 0;
};

}  // namespace shimsight::teeth
