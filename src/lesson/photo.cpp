#include "shimsight/photo.h"

#include <algorithm>

#include "shimsight/lesson.h"
#include "shimsight/render.h"

namespace shimsight {
namespace {

/// The part of the picture that shows the painted flanks, with some gear round them; 3 : 2.
Picture croppedToFlanks(const Picture& picture, const std::vector<FlankTruth>& flanks, Side side) {
    double left = picture.width, right = 0, top = picture.height, bottom = 0;
    for (const FlankTruth& flank : flanks) {
        if (flank.side != side || flank.state != ToothState::Rolled) continue;
        for (const PixelPoint& corner : flank.corners) {
            left = std::min(left, corner.x);
            right = std::max(right, corner.x);
            top = std::min(top, corner.y);
            bottom = std::max(bottom, corner.y);
        }
    }
    if (left >= right || top >= bottom) return picture;
    constexpr double kAspect = 1.5, kRoom = 1.5, kLeastShare = 0.4;
    const double wide = std::min<double>(
        picture.width,
        std::max({kRoom * (right - left), kRoom * (bottom - top) * kAspect, kLeastShare * picture.width}));
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

}  // namespace

std::vector<std::uint8_t> benchPhoto(const ToothContact& contact, const Bench& bench, Side faced, std::uint64_t seed) {
    RenderRequest request;
    request.error = bench.error;
    request.modification = bench.modification;
    request.filmMm = bench.filmMm;
    request.faced = faced;
    // Just enough to read a mark by eye: the time grows with pixels times samples (tests/unit/lesson/photo_test.cpp).
    request.widthPx = 1080;
    request.heightPx = 720;
    request.samplesPerPixel = 4;
    request.variety = 0.3;  // a tidy bench: the mark is the lesson, not the photo
    request.seed = seed;
    constexpr int kQuality = 82;
    const RenderResult result = renderPhoto(contact, request);
    return encodeJpeg(croppedToFlanks(result.picture, result.flanks, faced), kQuality);
}

std::vector<std::uint8_t> drillPhoto(const Exercise& exercise, Side faced) {
    return benchPhoto(*exercise.contact, exercise.bench, faced,
                      exercise.seed + static_cast<std::uint64_t>(exercise.number));
}

}  // namespace shimsight
