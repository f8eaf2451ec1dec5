// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "gear/mesh_fold.h"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "shimsight/core.h"

using namespace shimsight;

namespace {

constexpr int kColumns = 16, kRows = 8, kCells = kColumns * kRows;

/// A flank of the size of a real one, drawn at random.
struct DrawnFlank {
    std::array<std::vector<float>, 11> values;
    std::vector<float> lengthPart, twistPart, profilePart, height;

    explicit DrawnFlank(Random& random, double phases) {
        const auto draw = [&](std::vector<float>& numbers, int count, double middle, double spread) {
            for (int k = 0; k < count; ++k)
                numbers.push_back(static_cast<float>(middle + spread * random.uniform(-1, 1)));
        };
        for (std::size_t q = 0; q < values.size(); ++q) {
            if (q == 4) draw(values[q], kCells, 70, 20);
            if (q == 5)
                for (const float lever : values[4]) values[q].push_back(1 / lever);
            if (q == 6) draw(values[q], kCells, phases / 2, phases / 2);
            if (q < 4) draw(values[q], kCells, 0, 0.7);
            if (q > 6) draw(values[q], kCells, 0, 9);
        }
        draw(lengthPart, kColumns, 0, 0.02);
        draw(twistPart, kColumns, 0, 0.01);
        draw(profilePart, kRows, 0, 0.02);
        draw(height, kRows, 0, 1);
    }
    gear::FoldedFlank flank() const {
        const auto at = [&](std::size_t k) { return values[k].data(); };
        return {.perDepth = at(0),
                .perRing = at(1),
                .perOffset = at(2),
                .perShaft = at(3),
                .lever = at(4),
                .inverseLever = at(5),
                .phaseAtRest = at(6),
                .delayDepth = at(7),
                .delayRing = at(8),
                .delayOffset = at(9),
                .delayShaft = at(10),
                .columns = kColumns,
                .rows = kRows};
    }
    gear::FoldedError error(float size) const {
        return {.depth = 0.2F * size,
                .ring = -0.1F * size,
                .offset = 0.05F * size,
                .shaft = 0.001F * size,
                .lengthPart = lengthPart.data(),
                .twistPart = twistPart.data(),
                .profilePart = profilePart.data(),
                .height = height.data()};
    }
};

/// The phase of a cell, and the share beyond it, as the definition has them: the remainder of a division.
std::pair<int, double> phaseOf(const gear::FoldedFlank& f, const gear::FoldedError& e, int cell) {
    const double turned = double(f.phaseAtRest[cell]) + double(e.depth) * f.delayDepth[cell] +
                          double(e.ring) * f.delayRing[cell] + double(e.offset) * f.delayOffset[cell] +
                          double(e.shaft) * f.delayShaft[cell];
    const double folded = turned - gear::kPhasesPerPitch * std::floor(turned / gear::kPhasesPerPitch);
    return {static_cast<int>(folded), folded - std::floor(folded)};
}

}  // namespace

TEST_CASE("every processor folds a mesh to the same numbers", "[gear]") {
    Random random(3);
    std::vector<float> plain(kCells), own(kCells);
    for (int k = 0; k < 200; ++k) {
        // With a narrow flank in every third case, so that phases stay empty.
        const DrawnFlank drawn(random, k % 3 == 0 ? 5 : 24);
        const gear::FoldedError error = drawn.error(k % 5 == 0 ? 40.0F : 1.0F);
        gear::plain::separation(drawn.flank(), error, plain.data());
        gear::separation(drawn.flank(), error, own.data());
        REQUIRE(plain == own);
    }
}

TEST_CASE("cells that come into mesh together differ by their gaps alone", "[gear]") {
    Random random(4);
    std::vector<float> off(kCells);
    const DrawnFlank drawn(random, 24);
    const gear::FoldedFlank flank = drawn.flank();
    const gear::FoldedError error = drawn.error(0.01F);
    gear::separation(flank, error, off.data());
    int pairs = 0;  // to a hundredth of a phase
    for (int a = 0; a < kCells; ++a)
        for (int b = 0; b < a; ++b) {
            const auto [phaseA, shareA] = phaseOf(flank, error, a);
            const auto [phaseB, shareB] = phaseOf(flank, error, b);
            if (phaseA != phaseB || std::abs(shareA - shareB) > 0.01) continue;
            const auto rotation = [&](int c) {
                const int i = c % kColumns, j = c / kColumns;
                return (double(error.lengthPart[i]) + error.profilePart[j] + error.twistPart[i] * error.height[j] +
                        error.depth * flank.perDepth[c] + error.ring * flank.perRing[c] +
                        error.offset * flank.perOffset[c] + error.shaft * flank.perShaft[c]) /
                       flank.lever[c];
            };
            const double expected = rotation(a) - rotation(b),
                         got = double(off[static_cast<std::size_t>(a)]) / flank.lever[a] -
                               double(off[static_cast<std::size_t>(b)]) / flank.lever[b];
            ++pairs;
            CHECK(std::abs(expected - got) < 3e-5);
        }
    CHECK(pairs > 5);
}
