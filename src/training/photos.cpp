// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <filesystem>

#include "lesson_page.h"
#include "shimsight/lesson.h"
#include "shimsight/photo.h"
#include "shimsight/training.h"

namespace shimsight {
namespace {

/// At half the size: each pixel the mean of four.
Picture halved(const Picture& picture) {
    Picture half{picture.width / 2, picture.height / 2, {}};
    half.rgb.reserve(3 * static_cast<std::size_t>(half.width) * static_cast<std::size_t>(half.height));
    const auto at = [&](int x, int y, int channel) {
        return picture.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
                                static_cast<std::size_t>(x)) +
                           static_cast<std::size_t>(channel)];
    };
    for (int y = 0; y < 2 * half.height; y += 2)
        for (int x = 0; x < 2 * half.width; x += 2)
            for (int c = 0; c < 3; ++c)
                half.rgb.push_back(static_cast<std::uint8_t>(
                    (at(x, y, c) + at(x + 1, y, c) + at(x, y + 1, c) + at(x + 1, y + 1, c) + 2) / 4));
    return half;
}

}  // namespace

std::vector<std::uint8_t> jobExercisePhoto(const std::filesystem::path& jobFolder, const JobExercise::Photo& photo) {
    constexpr double kMinShare = 0.15;
    constexpr int kMaxWide = 1400, kQuality = 82;
    Picture picture = lesson::croppedTo(loadPhoto(jobFolder / photo.file).picture, photo.flanksPx, kMinShare);
    while (picture.width > kMaxWide) picture = halved(picture);
    return encodeJpeg(picture, kQuality);
}

std::vector<std::uint8_t> drillPhoto(const Exercise& exercise, Side faced) {
    return benchPhoto(*exercise.contact, exercise.bench, faced,
                      exercise.seed + static_cast<std::uint64_t>(exercise.number));
}

}  // namespace shimsight
