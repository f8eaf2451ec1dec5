// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// From corners in a photo to a rectified flank. Module `flank`.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/gear_set.h"
#include "shimsight/photo.h"

namespace shimsight {

struct PixelPoint {
    double x = 0, y = 0;
};  ///< full-size photo pixels after orientation, x right, y down; pixel centres at +0.5

/// One flank as outlined by a person or found by the program.
struct FlankOutline {
    std::optional<Side> side;
    std::array<PixelPoint, 4> corners;          ///< toe-root, toe-tip, heel-tip, heel-root of the working flank
    std::vector<PixelPoint> rootEdge, tipEdge;  ///< optional further points along the edges, toe to heel
    std::vector<PixelPoint> toeEdge, heelEdge;  ///< optional, root to tip
};

/// What the inside of the flank was rectified by.
enum class FlankShape {
    Flat,     ///< the four corners, as on a flat patch
    Edges,    ///< the corners and the edge points
    Typical,  ///< the flank of a typical hypoid set seen by a fitted camera, and the points: no gear set was given
    GearSet,  ///< the real flank of the gear set seen by a fitted camera, and the points
};

inline constexpr int kFlankGridU = 33, kFlankGridV = 17;

/// A flank's place in the photo, point by point.
struct RectifiedFlank {
    std::optional<Side> side;
    FlankOutline outline;
    double lengthPx = 0, heightPx = 0;  ///< mean flank size in the decoded picture
    /// 33 x 17 grid of map positions in photo pixels (row-major from the tip, toe first).
    std::vector<PixelPoint> gridPx;
    FlankShape shape = FlankShape::Flat;
    bool found = false;  ///< the outline was found by the program, not set by hand
    /// Root mean square distance of the outline from the fitted shape, decoded-picture pixels; 0 when Flat.
    double shapeResidualPx = 0;
};

/// A flank must be at least this long and high in the decoded picture: below, paste edges, noise and JPEG blocks can no
/// longer be told apart.
inline constexpr double kMinFlankLengthPx = 60;
inline constexpr double kMinFlankHeightPx = 10;

/// The gear set's flank is used only where the points lie this close to it (root mean square, share of the flank's
/// length): a careful hand sets them to about 0.5 %; another tooth form or a wrong corner order leaves 3 % and more.
inline constexpr double kShapeFitShare = 0.02;

/// Checks an outline against the photo: corners inside (a margin of 2 % of the picture allowed) or at least 75 % of the
/// flank in the picture, not crossing, not mirrored against its side, long enough (kMinFlankLengthPx), then
/// rectifies it. With a gear set whose shape explains the points (kShapeFitShare), the flank's real curvature is used;
/// what the points still depart is spread over the flank. Without a gear set the curvature is that of a typical one,
/// milled or hobbed as the points have it, where the side is known.
Outcome<RectifiedFlank> rectifyFlank(const Photo& photo, const FlankOutline& outline, const GearSet* gearSet = nullptr);

/// All outlined flanks of one photo, in the order given. With a gear set they share one camera (teeth are turns of one
/// another by 2 pi / z2), which is steadier than a camera for each. Flanks that do not fit the common camera stand
/// alone.
std::vector<Outcome<RectifiedFlank>> rectifyFlanks(const Photo& photo, const std::vector<FlankOutline>& outlines,
                                                   const GearSet* gearSet = nullptr);

/// A flank whose shape in the photo is known already (by a finder with a camera): `gridPx` as RectifiedFlank::gridPx,
/// kFlankGridU x kFlankGridV. The outline is checked as in rectifyFlank; no camera is fitted.
Outcome<RectifiedFlank> rectifyAlong(const Photo& photo, const FlankOutline& outline, std::vector<PixelPoint> gridPx,
                                     FlankShape shape);

}  // namespace shimsight
