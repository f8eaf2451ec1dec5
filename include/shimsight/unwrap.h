/// From marked corners in a photo to a flank laid flat. Module `flank`.
#pragma once

#include "shimsight/core.h"
#include "shimsight/gear_set.h"
#include "shimsight/photo.h"

#include <array>
#include <optional>
#include <vector>

namespace shimsight {

struct PixelPoint { double x = 0, y = 0; };  ///< full-size photo pixels after orientation, x right, y down; pixel centres at +0.5

/// One flank as marked by a person or found by a detector.
struct FlankOutline {
    std::optional<Side> side;
    std::array<PixelPoint, 4> corners;             ///< toe-root, toe-tip, heel-tip, heel-root of the working flank
    std::vector<PixelPoint> rootEdge, tipEdge;     ///< optional further points along the edges, toe to heel
    std::vector<PixelPoint> toeEdge, heelEdge;     ///< optional, root to tip
};

/// A flank resampled to the flank map's grid (kMapWidth x kMapHeight, tip at the top, toe at the left).
struct UnwrappedFlank {
    std::optional<Side> side;
    FlankOutline outline;
    Picture picture;                       ///< kMapWidth x kMapHeight
    std::vector<float> sharpness;          ///< per map pixel: photo pixels per map pixel (area), low = little detail
    std::vector<std::uint8_t> visible;     ///< 1 inside the photo
    double lengthPx = 0, heightPx = 0;     ///< mean flank size in the decoded picture
    std::vector<PixelPoint> gridPx;        ///< 33 x 17 grid of map positions in photo pixels (row-major from the tip, toe first)
};

/// Checks an outline against the photo: corners inside (a margin of 2 % of the picture allowed), not crossing, not
/// mirrored against its side, long enough (kMinFlankLengthPx), then lays it flat. With a gear set whose shape explains the
/// corners better than a flat patch, the flank's real curvature is used.
Outcome<UnwrappedFlank> unwrapFlank(const Photo& photo, const FlankOutline& outline, const GearSet* gearSet = nullptr);

}  // namespace shimsight
