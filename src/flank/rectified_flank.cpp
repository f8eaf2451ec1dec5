// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/rectified_flank.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

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
    const Lines x = linesFor(u * (kFlankGridU - 1), kFlankGridU, kReachU),
                y = linesFor((1 - v) * (kFlankGridV - 1), kFlankGridV, kReachV);
    PixelPoint place;
    for (std::size_t j = 0; j < 3; ++j)
        for (std::size_t i = 0; i < 3; ++i) {
            const double w = x.weight[i] * y.weight[j];
            if (w == 0) continue;
            const PixelPoint p = grid[static_cast<std::size_t>(y.at[j] * kFlankGridU + x.at[i])];
            place.x += w * p.x;
            place.y += w * p.y;
        }
    return place;
}

Picture rectifyWithBorder(const Picture& picture, const std::vector<PixelPoint>& grid) {
    // Places on every fourth pixel's corner and straight lines between; four samples to a pixel.
    constexpr int kBlock = 4, kSamples = 2;
    constexpr int kAcross = kRectifiedWidth / kBlock, kDown = kRectifiedHeight / kBlock, kSteps = kBlock * kSamples;
    static_assert(kRectifiedWidth % kBlock == 0 && kRectifiedHeight % kBlock == 0);
    std::vector<cv::Point2f> corner;
    corner.reserve(static_cast<std::size_t>(kAcross + 1) * (kDown + 1));
    for (int j = 0; j <= kDown; ++j)
        for (int i = 0; i <= kAcross; ++i) {
            const PixelPoint p = placeOnGrid(grid, uAt(i * kBlock, kRectifiedWidth), vAt(j * kBlock, kRectifiedHeight));
            // OpenCV's pixel positions lie half a pixel lower than ours.
            corner.emplace_back(static_cast<float>(p.x - 0.5), static_cast<float>(p.y - 0.5));
        }
    cv::Mat places(kRectifiedHeight * kSamples, kRectifiedWidth * kSamples, CV_32FC2);
    for (int y = 0; y < places.rows; ++y) {
        const float down = (static_cast<float>(y % kSteps) + 0.5F) / kSteps;
        const cv::Point2f* above = &corner[static_cast<std::size_t>(y / kSteps * (kAcross + 1))];
        const cv::Point2f* below = above + kAcross + 1;
        auto* row = places.ptr<cv::Point2f>(y);
        for (int i = 0; i < kAcross; ++i) {
            const cv::Point2f from = above[i] + down * (below[i] - above[i]),
                              step = (above[i + 1] + down * (below[i + 1] - above[i + 1]) - from) / float(kSteps);
            for (int k = 0; k < kSteps; ++k) row[i * kSteps + k] = from + (static_cast<float>(k) + 0.5F) * step;
        }
    }
    const cv::Mat photo(picture.height, picture.width, CV_8UC3, const_cast<std::uint8_t*>(picture.rgb.data()));
    cv::Mat fine;
    cv::remap(photo, fine, places, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    Picture laid;
    laid.width = kRectifiedWidth;
    laid.height = kRectifiedHeight;
    laid.rgb.resize(3u * kRectifiedWidth * kRectifiedHeight);
    cv::Mat out(kRectifiedHeight, kRectifiedWidth, CV_8UC3, laid.rgb.data());
    cv::resize(fine, out, out.size(), 0, 0, cv::INTER_AREA);
    return laid;
}

}  // namespace shimsight::flank
