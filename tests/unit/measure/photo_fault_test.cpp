// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "measure/photo_fault.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace shimsight;
using namespace shimsight::measure;

namespace {

/// Stripes a twentieth of the picture wide, their edges spread over `edgePx`.
Picture stripes(int width, double low, double high, double edgePx) {
    Picture picture{width, width * 3 / 4, {}};
    for (int y = 0; y < picture.height; ++y)
        for (int x = 0; x < width; ++x) {
            const double wave = std::sin(2 * kPi * x / (width / 10.0)) * (width / 10.0) / (2 * kPi * edgePx);
            const double share = 0.5 + 0.5 * std::clamp(wave, -1.0, 1.0);
            for (int c = 0; c < 3; ++c)
                picture.rgb.push_back(static_cast<std::uint8_t>(std::lround(low + share * (high - low))));
        }
    return picture;
}

std::optional<Refusal> faultOf(const Picture& picture) {
    const auto refused = photoFault(picture);
    return refused ? std::optional(refused->why) : std::nullopt;
}

}  // namespace

TEST_CASE("a photo's own faults are told apart, at any size", "[measure]") {
    for (const int width : {640, 1600, 4000}) {
        INFO(width);
        CHECK_FALSE(faultOf(stripes(width, 40, 200, 1)));
        CHECK(faultOf(stripes(width, 0, 25, 1)) == Refusal::TooDark);
        CHECK(faultOf(stripes(width, 90, 255, 1)) == Refusal::Glare);
        CHECK(faultOf(stripes(width, 40, 200, 0.016 * width)) == Refusal::OutOfFocus);
    }
    // One even surface is neither sharp nor soft, and a picture of a few pixels is no photo.
    CHECK_FALSE(faultOf(stripes(800, 120, 121, 1)));
    CHECK_FALSE(faultOf(Picture{1, 1, {9, 9, 9}}));
}
