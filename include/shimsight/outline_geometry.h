// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Plane geometry of an outlined flank: homography, edge curves, and the warp that meets all points. Module `flank`.
#pragma once

#include <Eigen/Dense>
#include <array>
#include <optional>
#include <vector>

#include "shimsight/rectify.h"

namespace shimsight::flank {

/// Homography taking from[k] to to[k]; nullopt when three of the points lie on a line.
std::optional<Eigen::Matrix3d> homographyBetween(const std::array<PixelPoint, 4>& from,
                                                 const std::array<PixelPoint, 4>& to);

/// Area by the shoelace rule; with y down, positive = the corners run clockwise as seen.
double signedArea(const std::array<PixelPoint, 4>& corners);

/// Mean of root and tip chord, and of toe and heel chord, px.
double outlineLength(const FlankOutline& outline);
double outlineHeight(const FlankOutline& outline);

struct NearestOnLine {
    double t = 0;  ///< 0 at the first point, 1 at the last, by point number
    PixelPoint point;
    double signedDistance = 0;  ///< square to the line (to its extension beyond the ends)
};
NearestOnLine nearestOnLine(const std::vector<PixelPoint>& line, PixelPoint p);

/// The likely height of the flank at the toe over that at the heel on the metal, from the same ratio in the picture:
/// teeth are either face-milled (much lower at the toe) or face-hobbed (even), and perspective adds its share. Without
/// this a tapered flank would be taken for an even one seen in strong perspective, which shifts its middle by a tenth
/// of its length.
double likelyTaper(double heightRatioInPicture);

/// The grid of a flat patch of likely taper with these corners (row-major from the tip, toe first).
std::vector<PixelPoint> flatGrid(const std::array<PixelPoint, 4>& corners);

/// Moves `grid` so that it meets the outline: corner residuals bilinear over the flank, then the residuals of the
/// edge points blended inside (Coons patch of the displacement).
/// `share`: how far to go; points are not perfect, and where the shape is known well it is more to be trusted.
void meetPoints(std::vector<PixelPoint>& grid, const FlankOutline& outline, double share = 1);

}  // namespace shimsight::flank
