// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Small single-precision vectors and repeatable noise for the ray tracer.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "shimsight/core.h"

namespace shimsight::render {

inline constexpr float kPiF = 3.14159265f;

struct Vec {
    float x = 0, y = 0, z = 0;
};

inline Vec operator+(Vec a, Vec b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
inline Vec operator-(Vec a, Vec b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
inline Vec operator-(Vec a) { return {-a.x, -a.y, -a.z}; }
inline Vec operator*(Vec a, Vec b) { return {a.x * b.x, a.y * b.y, a.z * b.z}; }
inline Vec operator*(Vec a, float s) { return {a.x * s, a.y * s, a.z * s}; }
inline Vec operator*(float s, Vec a) { return a * s; }
inline Vec operator/(Vec a, float s) { return a * (1.0f / s); }
inline Vec& operator+=(Vec& a, Vec b) { return a = a + b; }
inline Vec& operator*=(Vec& a, Vec b) { return a = a * b; }
inline Vec& operator*=(Vec& a, float s) { return a = a * s; }
inline float dot(Vec a, Vec b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
inline Vec cross(Vec a, Vec b) { return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x}; }
inline float length(Vec a) { return std::sqrt(dot(a, a)); }
inline Vec normalize(Vec a) {
    const float n = length(a);
    return n > 0 ? a / n : Vec{0, 0, 1};
}
inline float mix(float a, float b, float t) { return a + (b - a) * t; }
inline Vec mix(Vec a, Vec b, float t) { return a + (b - a) * t; }
inline float luminance(Vec c) { return 0.2126f * c.x + 0.7152f * c.y + 0.0722f * c.z; }
inline float maxOf(Vec c) { return std::max(c.x, std::max(c.y, c.z)); }
inline float clamp01(float v) { return std::clamp(v, 0.0f, 1.0f); }
inline float smoothstep(float low, float high, float v) {
    const float t = clamp01((v - low) / (high - low));
    return t * t * (3 - 2 * t);
}
inline Vec anyPerpendicular(Vec n) {
    return normalize(std::abs(n.x) > 0.7f ? cross(n, Vec{0, 1, 0}) : cross(n, Vec{1, 0, 0}));
}

/// Rotation (columns) and translation; world from object.
struct Rigid {
    Vec cx{1, 0, 0}, cy{0, 1, 0}, cz{0, 0, 1}, t;
    Vec turn(Vec v) const { return cx * v.x + cy * v.y + cz * v.z; }
    Vec operator*(Vec p) const { return turn(p) + t; }
    Rigid operator*(const Rigid& b) const { return {turn(b.cx), turn(b.cy), turn(b.cz), *this * b.t}; }
};
inline Rigid rotationZ(double angle) {
    const auto c = static_cast<float>(std::cos(angle)), s = static_cast<float>(std::sin(angle));
    return {{c, s, 0}, {-s, c, 0}, {0, 0, 1}, {}};
}
inline Rigid rotationX(double angle) {
    const auto c = static_cast<float>(std::cos(angle)), s = static_cast<float>(std::sin(angle));
    return {{1, 0, 0}, {0, c, s}, {0, -s, c}, {}};
}
inline Rigid translation(Vec t) { return {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, t}; }
/// The object's Z axis along `axis`, its origin at `at`.
inline Rigid alongAxis(Vec at, Vec axis) {
    const Vec z = normalize(axis), x = anyPerpendicular(z);
    return {x, cross(z, x), z, at};
}

inline float unitFloat(std::uint64_t bits) { return static_cast<float>(bits >> 40) * (1.0f / 16777216.0f); }

/// One pixel's random numbers: fast, seeded by pixel, so that threads do not matter.
class PixelRandom {
public:
    explicit PixelRandom(std::uint64_t seed) : state_(splitMix(seed)) {}
    float uniform() {
        state_ += 0x9e3779b97f4a7c15ull;
        return unitFloat(splitMix(state_));
    }

private:
    std::uint64_t state_;
};

/// Smooth noise of period 64 in each axis, about -1..1, standard deviation near 0.33.
float noise(Vec p);
/// Sum of octaves, each twice as fine and half as strong; about -1..1.
float fractalNoise(Vec p, int octaves);

}  // namespace shimsight::render
