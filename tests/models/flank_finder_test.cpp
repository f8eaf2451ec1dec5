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

const std::string kFolder = std::string(SHIMSIGHT_SOURCE_DIR) + "/models/flank-finder/";

constexpr int kWidth = 512, kHeight = 384, kPlanes = 11, kStep = 2;  // the case holds every other cell each way

cv::Mat answer(const std::vector<unsigned char>& rgb) {
    return answerOf(kFolder + "flank-finder.onnx", rgb, kWidth, kHeight);
}

}  // namespace

TEST_CASE("OpenCV gives what the training framework gave for the same picture", "[models]") {
    const auto rgb = readAll<unsigned char>(kFolder + "parity/input.rgb", 3u * kWidth * kHeight);
    constexpr int kRows = kHeight / 4, kColumns = kWidth / 4;
    const auto expected = readAll<float>(kFolder + "parity/output.f32",
                                         static_cast<std::size_t>(kPlanes) * (kRows / kStep) * (kColumns / kStep));
    const cv::Mat planes = answer(rgb);
    REQUIRE(planes.dims == 4);
    REQUIRE(planes.size[1] == kPlanes);
    REQUIRE(planes.size[2] == kRows);
    REQUIRE(planes.size[3] == kColumns);
    float worst = 0, largest = 0;
    std::size_t k = 0;
    for (int p = 0; p < kPlanes; ++p) {
        for (int j = 0; j < kRows; j += kStep) {
            for (int i = 0; i < kColumns; i += kStep, ++k) {
                worst = std::max(worst, std::abs(planes.ptr<float>(0, p, j)[i] - expected[k]));
                largest = std::max(largest, std::abs(expected[k]));
            }
        }
    }
    INFO("largest difference " << worst << ", largest value " << largest);
    REQUIRE(largest > 1);  // a case with something in it
    CHECK(worst < 1e-3f);  // single precision through some fifty layers; logits reach 15
    // A different picture must not pass.
    auto turned = rgb;
    std::reverse(turned.begin(), turned.end());
    const cv::Mat other = answer(turned);
    CHECK(std::abs(other.ptr<float>(0, 0, 0)[0] - expected[0]) > 1e-3f);
}

TEST_CASE("the network's file is as small as promised", "[models]") {
    CHECK(std::filesystem::file_size(kFolder + "flank-finder.onnx") < 8u * 1024 * 1024);
}
