// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <string>
#include <vector>

#include "parity.h"

namespace {

const std::string kFolder = std::string(SHIMSIGHT_SOURCE_DIR) + "/models/mark-reader/";

constexpr int kWidth = 192, kHeight = 96, kPlanes = 9;

cv::Mat answer(const std::vector<unsigned char>& rgb) {
    return answerOf(kFolder + "mark-reader.onnx", rgb, kWidth, kHeight);
}

}  // namespace

TEST_CASE("OpenCV gives for a flank what the training framework gave", "[models]") {
    const auto rgb = readAll<unsigned char>(kFolder + "parity/input.rgb", 3u * kWidth * kHeight);
    constexpr std::size_t kCount = static_cast<std::size_t>(kPlanes) * (kHeight / 2) * (kWidth / 2);
    const auto expected = readAll<float>(kFolder + "parity/output.f32", kCount);
    const cv::Mat planes = answer(rgb);
    REQUIRE(planes.total() == kCount);
    float worst = 0, largest = 0;
    for (std::size_t k = 0; k < kCount; ++k) {
        worst = std::max(worst, std::abs(planes.ptr<float>()[k] - expected[k]));
        largest = std::max(largest, std::abs(expected[k]));
    }
    INFO("largest difference " << worst << ", largest value " << largest);
    REQUIRE(largest > 1);  // a case with something in it
    CHECK(worst < 1e-3f);  // single precision through some forty layers
    auto turned = rgb;
    std::reverse(turned.begin(), turned.end());
    CHECK(std::abs(answer(turned).ptr<float>()[0] - expected[0]) > 1e-3f);
}

TEST_CASE("both networks together are as small as promised", "[models]") {
    CHECK(std::filesystem::file_size(kFolder + "mark-reader.onnx") +
              std::filesystem::file_size(kFolder + "../flank-finder/flank-finder.onnx") <
          8u * 1024 * 1024);
}
