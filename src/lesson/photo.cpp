// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/photo.h"

#include <algorithm>
#include <array>

#include "lesson_page.h"
#include "shimsight/lesson.h"
#include "shimsight/render.h"

namespace shimsight {
namespace {

/// Round the painted flanks of one side.
std::array<double, 4> flankBox(const Picture& picture, const std::vector<FlankTruth>& flanks, Side side) {
    std::array<double, 4> box{static_cast<double>(picture.width), static_cast<double>(picture.height), 0, 0};
    for (const FlankTruth& flank : flanks) {
        if (flank.side != side || flank.state != ToothState::Rolled) continue;
        for (const PixelPoint& corner : flank.corners) {
            box[0] = std::min(box[0], corner.x);
            box[1] = std::min(box[1], corner.y);
            box[2] = std::max(box[2], corner.x);
            box[3] = std::max(box[3], corner.y);
        }
    }
    return box;
}

constexpr int kQuality = 82;

}  // namespace

Picture lesson::croppedTo(const Picture& picture, const std::array<double, 4>& box, double leastShare) {
    const auto [left, top, right, bottom] = box;
    if (!(left < right && top < bottom)) return picture;
    constexpr double kAspect = 1.5, kRoom = 1.5;
    const double wide = std::min<double>(
        picture.width,
        std::max({kRoom * (right - left), kRoom * (bottom - top) * kAspect, leastShare * picture.width}));
    Picture crop;
    crop.width = static_cast<int>(wide);
    crop.height = std::min(picture.height, static_cast<int>(wide / kAspect));
    const auto begin = [](double middle, int size, int most) {
        return std::clamp(static_cast<int>(middle - 0.5 * size), 0, most - size);
    };
    const int x0 = begin(0.5 * (left + right), crop.width, picture.width);
    const int y0 = begin(0.5 * (top + bottom), crop.height, picture.height);
    for (int y = 0; y < crop.height; ++y) {
        const auto row = picture.rgb.begin() + 3 * (static_cast<std::ptrdiff_t>(y0 + y) * picture.width + x0);
        crop.rgb.insert(crop.rgb.end(), row, row + 3 * static_cast<std::ptrdiff_t>(crop.width));
    }
    return crop;
}

std::vector<std::uint8_t> benchPhoto(const ToothContact& contact, const Bench& bench, Side faced, std::uint64_t seed) {
    RenderRequest request;
    request.error = bench.error;
    request.modification = bench.modification;
    request.filmMm = bench.filmMm;
    request.faced = faced;
    // Just enough to read a mark by eye: the time grows with pixels times samples (tests/unit/training/photo_test.cpp).
    request.widthPx = 1080;
    request.heightPx = 720;
    request.samplesPerPixel = 4;
    request.variety = 0.3;  // a tidy bench: the mark is the lesson, not the photo
    request.seed = seed;
    constexpr double kMinShare = 0.4;
    const RenderResult result = renderPhoto(contact, request);
    return encodeJpeg(lesson::croppedTo(result.picture, flankBox(result.picture, result.flanks, faced), kMinShare),
                      kQuality);
}

}  // namespace shimsight
