/// Area-aware resampling of a quadrilateral patch, and how sharp the picture is there.
#pragma once

#include <vector>

#include "shimsight/photo.h"
#include "shimsight/unwrap.h"

namespace shimsight::flank {

struct Resampled {
    Picture picture;               ///< kMapWidth x kMapHeight
    std::vector<float> sharpness;  ///< picture pixels per map pixel (area)
    std::vector<std::uint8_t> visible;
    double blurPx = 0;  ///< one sigma, pixels of the decoded picture
};

/// `grid`: positions in the decoded picture's pixels, kUnwrapGridU x kUnwrapGridV, row-major from the tip, toe first.
/// `usedWidth`, `usedHeight`: the part of the picture that holds the photo.
Resampled resample(const Picture& picture, const std::vector<PixelPoint>& grid, double usedWidth, double usedHeight);

}  // namespace shimsight::flank
