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
    // Places on every fourth pixel's corner and straight lines between; four samples to a pixel.
    constexpr int kBlock = 4, kSamples = 2;
    constexpr int kAcross = kLaidWidth / kBlock, kDown = kLaidHeight / kBlock, kSteps = kBlock * kSamples;
    static_assert(kLaidWidth % kBlock == 0 && kLaidHeight % kBlock == 0);
    struct Place {
        float x, y;
    };
    std::vector<Place> corner;
    corner.reserve(static_cast<std::size_t>(kAcross + 1) * (kDown + 1));
    for (int j = 0; j <= kDown; ++j)
        for (int i = 0; i <= kAcross; ++i) {
            const PixelPoint p = placeOnGrid(grid, uAt(i * kBlock, kLaidWidth), vAt(j * kBlock, kLaidHeight));
            corner.push_back({static_cast<float>(p.x - 0.5), static_cast<float>(p.y - 0.5)});
        }
    const float lastX = static_cast<float>(picture.width) - 1.001F, lastY = static_cast<float>(picture.height) - 1.001F;
    const std::size_t rowLength = static_cast<std::size_t>(picture.width) * 3;
    Picture laid;
    laid.width = kLaidWidth;
    laid.height = kLaidHeight;
    laid.rgb.resize(3u * kLaidWidth * kLaidHeight);
    for (int j = 0; j < kDown; ++j)
        for (int i = 0; i < kAcross; ++i) {
            const auto at = [&](int di, int dj) {
                return corner[static_cast<std::size_t>((j + dj) * (kAcross + 1) + i + di)];
            };
            const Place a = at(0, 0), b = at(1, 0), c = at(0, 1), d = at(1, 1);
            std::array<unsigned, static_cast<std::size_t>(kBlock) * kBlock * 3> sum{};
            for (int sy = 0; sy < kSteps; ++sy) {
                const float down = (static_cast<float>(sy) + 0.5F) / kSteps;
                const Place from{a.x + down * (c.x - a.x), a.y + down * (c.y - a.y)},
                    to{b.x + down * (d.x - b.x), b.y + down * (d.y - b.y)};
                for (int sx = 0; sx < kSteps; ++sx) {
                    const float across = (static_cast<float>(sx) + 0.5F) / kSteps;
                    const float px = std::clamp(from.x + across * (to.x - from.x), 0.0F, lastX),
                                py = std::clamp(from.y + across * (to.y - from.y), 0.0F, lastY);
                    const int x0 = static_cast<int>(px), y0 = static_cast<int>(py);
                    // Whole-number weights: 256 to a pixel either way.
                    const auto wx = static_cast<unsigned>(256 * (px - static_cast<float>(x0))),
                               wy = static_cast<unsigned>(256 * (py - static_cast<float>(y0)));
                    const unsigned w11 = wx * wy, w10 = (wx << 8) - w11, w01 = (wy << 8) - w11,
                                   w00 = 65536 - w11 - w10 - w01;
                    const std::uint8_t* p = picture.rgb.data() + static_cast<std::size_t>(y0) * rowLength +
                                            static_cast<std::size_t>(x0) * 3;
                    const std::uint8_t* below = p + rowLength;
                    unsigned* cell = &sum[static_cast<std::size_t>((sy / kSamples) * kBlock + sx / kSamples) * 3];
                    for (std::size_t k = 0; k < 3; ++k)
                        cell[k] += w00 * p[k] + w10 * p[k + 3] + w01 * below[k] + w11 * below[k + 3];
                }
            }
            constexpr unsigned kWhole = 65536 * kSamples * kSamples;
            for (int y = 0; y < kBlock; ++y)
                for (int x = 0; x < kBlock; ++x)
                    for (int k = 0; k < 3; ++k)
                        laid.rgb[static_cast<std::size_t>(((j * kBlock + y) * kLaidWidth + i * kBlock + x) * 3 + k)] =
                            static_cast<std::uint8_t>(
                                (sum[static_cast<std::size_t>((y * kBlock + x) * 3 + k)] + kWhole / 2) / kWhole);
        }
    return laid;
}

}  // namespace shimsight::flank
