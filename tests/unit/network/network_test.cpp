// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/network.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <thread>

#include "shimsight/core.h"

using namespace shimsight;
using network::Trained;

namespace {

Picture noise(int width, int height, std::uint64_t seed) {
    Picture picture{width, height, {}};
    Random random(seed);
    for (int k = 0; k < 3 * width * height; ++k)
        picture.rgb.push_back(static_cast<std::uint8_t>(random.integer(0, 255)));
    return picture;
}

}  // namespace

TEST_CASE("OpenCV's own threads are off before anybody asks", "[network]") {
    // Turned off at the first question, while another thread was in one of OpenCV's loops, they took the program down.
    CHECK(cv::getNumThreads() == 1);
    CHECK(network::copiesLoaded(Trained::MarkReader) == 0);
}

TEST_CASE("threads that ask at once get what one gets alone", "[network]") {
    std::vector<Picture> pictures;
    std::vector<std::vector<float>> alone;
    for (std::uint64_t seed = 1; seed <= 3; ++seed) {
        pictures.push_back(noise(192, 96, seed));
        alone.push_back(network::infer(Trained::MarkReader, pictures.back()));
    }
    REQUIRE(alone[0].size() == 9u * 48 * 96);
    REQUIRE(alone[0] != alone[1]);
    std::vector<int> wrong(4, 0);
    std::vector<std::thread> threads;
    for (std::size_t t = 0; t < wrong.size(); ++t)
        threads.emplace_back([&, t] {
            for (std::size_t k = 0; k < 12; ++k) {
                const std::size_t which = (k + t) % pictures.size();
                if (network::infer(Trained::MarkReader, pictures[which]) != alone[which]) ++wrong[t];
            }
        });
    for (std::thread& thread : threads) thread.join();
    CHECK(std::count(wrong.begin(), wrong.end(), 0) == 4);
    CHECK(network::copiesLoaded(Trained::MarkReader) <= 4);
}

TEST_CASE("threads that come and go load nothing anew", "[network]") {
    const Picture picture = noise(192, 96, 4);
    (void)network::infer(Trained::MarkReader, picture);
    const std::size_t before = network::copiesLoaded(Trained::MarkReader);
    for (int k = 0; k < 5; ++k) std::thread([&] { (void)network::infer(Trained::MarkReader, picture); }).join();
    CHECK(network::copiesLoaded(Trained::MarkReader) == before);
}
