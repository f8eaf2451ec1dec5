#include "flank/laid_flank.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace shimsight::flank {
namespace {

/// Beyond the flank the grid is continued by the parabola through three of its lines, this far apart.
constexpr int kReachU = 8, kReachV = 6;

/// Weights of three grid lines (index, weight) for a place along one axis, in grid steps; inside, of two.
struct Lines {
    std::array<int, 3> at{};
    std::array<double, 3> weight{};
};

Lines linesFor(double place, int count, int reach) {
    const int last = count - 1;
    if (place >= 0 && place <= last) {
        const int k = std::min(static_cast<int>(place), last - 1);
        return {{k, k + 1, k + 1}, {1 - (place - k), place - k, 0}};
    }
    const int end = place < 0 ? 0 : last, way = place < 0 ? 1 : -1;
    const double t = (place - end) * way / reach;  // negative beyond the end
    return {{end, end + way * reach, end + 2 * way * reach},
            {0.5 * (t - 1) * (t - 2), -t * (t - 2), 0.5 * t * (t - 1)}};
}

}  // namespace

PixelPoint placeOnGrid(const std::vector<PixelPoint>& grid, double u, double v) {
    const Lines x = linesFor(u * (kUnwrapGridU - 1), kUnwrapGridU, kReachU),
                y = linesFor((1 - v) * (kUnwrapGridV - 1), kUnwrapGridV, kReachV);
    PixelPoint place;
    for (std::size_t j = 0; j < 3; ++j)
        for (std::size_t i = 0; i < 3; ++i) {
            const double w = x.weight[i] * y.weight[j];
            if (w == 0) continue;
            const PixelPoint p = grid[static_cast<std::size_t>(y.at[j] * kUnwrapGridU + x.at[i])];
            place.x += w * p.x;
            place.y += w * p.y;
        }
    return place;
}

Picture layWithBorder(const Picture& picture, const std::vector<PixelPoint>& grid) {
    Picture laid;
    laid.width = kLaidWidth;
    laid.height = kLaidHeight;
    laid.rgb.resize(3u * kLaidWidth * kLaidHeight);
    // Places at twice the resolution; each pixel is the mean of its four.
    std::size_t out = 0;
    for (int y = 0; y < kLaidHeight; ++y)
        for (int x = 0; x < kLaidWidth; ++x) {
            std::array<double, 3> sum{};
            for (int part = 0; part < 4; ++part) {
                const PixelPoint p = placeOnGrid(grid, uAt(x + 0.25 + 0.5 * (part & 1), kLaidWidth),
                                                 vAt(y + 0.25 + 0.5 * (part >> 1), kLaidHeight));
                const double px = std::clamp(p.x - 0.5, 0.0, picture.width - 1.001),
                             py = std::clamp(p.y - 0.5, 0.0, picture.height - 1.001);
                const int i = static_cast<int>(px), j = static_cast<int>(py);
                const double fx = px - i, fy = py - j;
                const std::uint8_t* a =
                    &picture.rgb[3 * (static_cast<std::size_t>(j) * static_cast<std::size_t>(picture.width) +
                                      static_cast<std::size_t>(i))];
                const std::uint8_t* b = a + 3 * picture.width;
                for (std::size_t c = 0; c < 3; ++c)
                    sum[c] += (1 - fy) * ((1 - fx) * a[c] + fx * a[c + 3]) + fy * ((1 - fx) * b[c] + fx * b[c + 3]);
            }
            for (const double value : sum) laid.rgb[out++] = static_cast<std::uint8_t>(std::lround(value / 4));
        }
    return laid;
}

}  // namespace shimsight::flank
