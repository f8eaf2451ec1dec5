// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "draw/contour.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "shimsight/core.h"

namespace shimsight::draw {

std::vector<std::vector<MapPoint>> contactContours(const FlankMap& map, double leastShare) {
    // Drawn with a border of no contact, so that a pattern that runs off closes along the flank's edge.
    cv::Mat1b mask(kMapHeight + 2, kMapWidth + 2, static_cast<std::uint8_t>(0));
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) mask(y + 1, x + 1) = map.at(x, y) > 127 ? 255 : 0;
    std::vector<std::vector<cv::Point>> found;
    cv::findContours(mask, found, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
    std::vector<std::vector<MapPoint>> out;
    for (const auto& line : found) {
        if (cv::contourArea(line) < leastShare * kMapWidth * kMapHeight || line.size() < 8) continue;
        const int n = static_cast<int>(line.size());
        constexpr int reach = 4;
        std::vector<MapPoint> smooth;
        for (int k = 0; k < n; k += 2) {
            double x = 0, y = 0;
            for (int d = -reach; d <= reach; ++d) {
                const auto& p = line[static_cast<std::size_t>((k + d + n) % n)];
                x += p.x;
                y += p.y;
            }
            x = x / (2 * reach + 1) - 0.5;
            y = y / (2 * reach + 1) - 0.5;
            smooth.push_back({std::clamp(x / kMapWidth, 0.0, 1.0), std::clamp(1 - y / kMapHeight, 0.0, 1.0)});
        }
        out.push_back(std::move(smooth));
    }
    return out;
}

std::vector<MapPoint> expectedOutline(const Pattern& pattern) {
    // Length and height leave out 1 % of the mark at each end: of a full ellipse that is 0.935 of its axes.
    constexpr double kMeasuredShare = 0.935;
    const double halfU = 0.5 * pattern.length / kMeasuredShare, halfV = 0.5 * pattern.height / kMeasuredShare;
    // The regression slope of the mark in (u, v); the tilt is told on a map drawn twice as long as high.
    const double slope = 2 * std::tan(radians(pattern.tiltDeg));
    const double skew = std::clamp(slope * halfU, -0.95 * halfV, 0.95 * halfV);
    const double rest = std::sqrt(halfV * halfV - skew * skew);
    std::vector<MapPoint> out;
    for (int k = 0; k < 96; ++k) {
        const double t = 2 * kPi * k / 96;
        out.push_back({std::clamp(pattern.toeHeel + halfU * std::cos(t), 0.0, 1.0),
                       std::clamp(pattern.rootTip + skew * std::cos(t) + rest * std::sin(t), 0.0, 1.0)});
    }
    return out;
}

std::string tiedPercent(double share) { return tied(percent(share)); }

}  // namespace shimsight::draw
