// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>
#include <vector>

#include "render/vec.h"

namespace shimsight::render {
namespace {

constexpr int kPeriod = 64;

/// Random values on a lattice that repeats, in steps of 1/127: a small table stays in the processor's cache.
const std::vector<std::int8_t>& lattice() {
    static const std::vector<std::int8_t> values = [] {
        std::vector<std::int8_t> table(static_cast<std::size_t>(kPeriod) * kPeriod * kPeriod);
        for (std::size_t i = 0; i < table.size(); ++i) {
            table[i] = static_cast<std::int8_t>(static_cast<int>(splitMix(i * 0x9e3779b97f4a7c15ull + 77) % 255) - 127);
        }
        return table;
    }();
    return values;
}

struct Cell {
    int low, high;
    float weight;
};

Cell cellOf(float v) {
    int i = static_cast<int>(v);
    i -= v < static_cast<float>(i) ? 1 : 0;  // floor without a library call
    const float t = v - static_cast<float>(i);
    return {i & (kPeriod - 1), (i + 1) & (kPeriod - 1), t * t * (3 - 2 * t)};
}

}  // namespace

float noise(Vec p) {
    const std::int8_t* table = lattice().data();
    const Cell x = cellOf(p.x), y = cellOf(p.y), z = cellOf(p.z);
    const auto row = [&](int iy, int iz) {
        const std::int8_t* line = table + (iz * kPeriod + iy) * kPeriod;
        return mix(static_cast<float>(line[x.low]), static_cast<float>(line[x.high]), x.weight);
    };
    const float front = mix(row(y.low, z.low), row(y.high, z.low), y.weight);
    const float back = mix(row(y.low, z.high), row(y.high, z.high), y.weight);
    return mix(front, back, z.weight) * (1.0f / 127.0f);
}

float fractalNoise(Vec p, int octaves) {
    float sum = 0, strength = 0.6f;
    for (int i = 0; i < octaves; ++i) {
        sum += strength * noise(p);
        p = Vec{p.y * 2.03f + 17.1f, p.z * 2.03f + 5.7f, p.x * 2.03f + 31.3f};
        strength *= 0.5f;
    }
    return sum;
}

}  // namespace shimsight::render
