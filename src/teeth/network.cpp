// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "teeth/network.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "shimsight/network.h"

namespace shimsight::teeth {
namespace {

// Planes of the network's output, see models/flank-finder/README.md.
enum Plane {
    kBackground,
    kConvex,
    kConcave,
    kTopLand,
    kRoot,
    kU,
    kV,
    kMiddleX,
    kMiddleY,
    kLogError,
    kPainted,
    kPlanes
};
constexpr float kMiddleUnit = 64;    // input pixels
constexpr std::uint8_t kGrey = 127;  // of the padding
/// A cell is of a flank when convex and concave together have this probability.
constexpr float kFlankProbability = 0.5f;
/// A cell hints at teeth when one of their parts comes this near to the ground's logit.
constexpr float kHint = 1;

/// The region as the network's input, grey where it reaches beyond the photo.
Picture inputOf(const Photo& photo, const Region& region) {
    const Picture& picture = photo.picture;
    const cv::Mat all(picture.height, picture.width, CV_8UC3, const_cast<std::uint8_t*>(picture.rgb.data()));
    const double pixel = 1 / region.scale;  // photo pixels to an input pixel
    const double wide = (region.turned ? kInputHeight : kInputWidth) * pixel,
                 high = (region.turned ? kInputWidth : kInputHeight) * pixel;
    const int left = std::max(0, static_cast<int>(std::floor(region.x0 * photo.scale))),
              top = std::max(0, static_cast<int>(std::floor(region.y0 * photo.scale)));
    const int right = std::min(picture.width, static_cast<int>(std::ceil((region.x0 + wide) * photo.scale))),
              bottom = std::min(picture.height, static_cast<int>(std::ceil((region.y0 + high) * photo.scale)));
    Picture laid{kInputWidth, kInputHeight,
                 std::vector<std::uint8_t>(static_cast<std::size_t>(kInputWidth) * kInputHeight * 3, kGrey)};
    if (right <= left || bottom <= top) return laid;
    cv::Mat input(kInputHeight, kInputWidth, CV_8UC3, laid.rgb.data());
    cv::Mat part = all(cv::Rect(left, top, right - left, bottom - top));
    // What shrinks much is halved first, then one step of linear interpolation does no harm.
    const double zoom = region.scale / photo.scale;  // input pixels to a picture pixel
    double step = zoom;
    for (; step <= 0.5 && part.cols > 1 && part.rows > 1; step *= 2) {
        cv::Mat halved;
        part = part(cv::Rect(0, 0, part.cols / 2 * 2, part.rows / 2 * 2));
        cv::resize(part, halved, cv::Size(part.cols / 2, part.rows / 2), 0, 0, cv::INTER_AREA);
        part = halved;
    }
    const double tx = (left / photo.scale - region.x0) * region.scale,
                 ty = (top / photo.scale - region.y0) * region.scale;
    // OpenCV's pixel positions lie half a pixel lower than ours.
    const cv::Matx23d move =
        region.turned ? cv::Matx23d(0, -step, kInputWidth - (ty + 0.5 * step) - 0.5, step, 0, tx + 0.5 * step - 0.5)
                      : cv::Matx23d(step, 0, tx + 0.5 * step - 0.5, 0, step, ty + 0.5 * step - 0.5);
    cv::warpAffine(part, input, move, input.size(), cv::INTER_LINEAR, cv::BORDER_CONSTANT, cv::Scalar::all(kGrey));
    return laid;
}

}  // namespace

PixelPoint Region::toPhoto(double inputX, double inputY) const {
    if (!turned) return {x0 + inputX / scale, y0 + inputY / scale};
    return {x0 + inputY / scale, y0 + (kInputWidth - inputX) / scale};
}

PixelPoint Region::toInput(PixelPoint photo) const {
    const double a = (photo.x - x0) * scale, b = (photo.y - y0) * scale;
    if (!turned) return {a, b};
    return {kInputWidth - b, a};
}

Region regionOf(double x0, double y0, double width, double height) {
    Region region;
    region.turned = height > width;
    const double wide = region.turned ? height : width, high = region.turned ? width : height;
    region.scale = std::min(kInputWidth / wide, kInputHeight / high);
    // The rectangle lies in the middle of the region.
    const double coverX = (region.turned ? kInputHeight : kInputWidth) / region.scale,
                 coverY = (region.turned ? kInputWidth : kInputHeight) / region.scale;
    region.x0 = x0 - 0.5 * (coverX - width);
    region.y0 = y0 - 0.5 * (coverY - height);
    return region;
}

Seen look(const Photo& photo, const Region& region) {
    Seen seen;
    seen.region = region;
    seen.input = inputOf(photo, region);
    const std::vector<float> planes = network::infer(network::Trained::FlankFinder, seen.input);
    constexpr std::size_t kCells = static_cast<std::size_t>(kCellColumns) * kCellRows;
    check(planes.size() == kPlanes * kCells, "the flank finder gives the planes of its card");
    for (int j = 0; j < kCellRows; ++j) {
        const float* row[kPlanes];
        for (int p = 0; p < kPlanes; ++p)
            row[p] = planes.data() + static_cast<std::size_t>(p) * kCells + static_cast<std::size_t>(j) * kCellColumns;
        for (int i = 0; i < kCellColumns; ++i) {
            const float best = std::max({row[kBackground][i], row[kTopLand][i], row[kRoot][i]});
            if (std::max({row[kConvex][i], row[kConcave][i], row[kTopLand][i], row[kRoot][i]}) + kHint >
                row[kBackground][i])
                seen.hints.push_back(j * kCellColumns + i);
            const float flank = std::max(row[kConvex][i], row[kConcave][i]);
            if (flank < best - 1) continue;  // far from a flank: spare the exponentials
            float sum = 0, e[5];
            const float top = std::max(best, flank);
            for (int p = 0; p < 5; ++p) sum += e[p] = std::exp(row[p][i] - top);
            const float convex = e[kConvex] / sum, concave = e[kConcave] / sum;
            if (convex + concave < kFlankProbability) continue;
            FlankCell cell;
            cell.x = kCellSide * (static_cast<float>(i) + 0.5f);
            cell.y = kCellSide * (static_cast<float>(j) + 0.5f);
            cell.u = row[kU][i];
            cell.v = row[kV][i];
            cell.error = std::exp(std::clamp(row[kLogError][i], -6.0f, 2.0f));
            cell.middleX = cell.x + kMiddleUnit * row[kMiddleX][i];
            cell.middleY = cell.y + kMiddleUnit * row[kMiddleY][i];
            cell.convex = convex;
            cell.concave = concave;
            cell.painted = row[kPainted][i];
            seen.cells.push_back(cell);
        }
    }
    return seen;
}

}  // namespace shimsight::teeth
