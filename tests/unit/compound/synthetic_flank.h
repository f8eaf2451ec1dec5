/// Quick flanks drawn straight on the map for tests of the segmentation: an ellipse of contact on brushed steel under
/// uneven light, marked either way. Nothing here is shared with the renderer.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>

#include "shimsight/compound.h"
#include "shimsight/core.h"
#include "shimsight/flank_map.h"
#include "shimsight/unwrap.h"

namespace shimsight::test {

using Colour = std::array<double, 3>;  ///< linear

struct NamedColour {
    const char* name;
    Colour albedo;
};
inline constexpr std::array<NamedColour, 6> kPastes{{{"yellow", {0.70, 0.42, 0.04}},
                                                     {"white", {0.72, 0.71, 0.67}},
                                                     {"red-brown", {0.28, 0.07, 0.03}},
                                                     {"blue", {0.03, 0.07, 0.30}},
                                                     {"grey", {0.42, 0.43, 0.44}},
                                                     {"green", {0.06, 0.27, 0.10}}}};

struct SyntheticFlank {
    double u = 0.45, v = 0.55, halfU = 0.25, halfV = 0.3, tilt = 0.2;  ///< the contact ellipse
    bool contact = true;  ///< false with Wiped: full coat; with Transferred: bare steel
    Marking marking = Marking::Wiped;
    Colour paste = kPastes[0].albedo;
    double light = 0.6;     ///< brightness of the light
    double gradient = 0.6;  ///< how much it falls from toe to heel
    int glossSpots = 2;
    double shadow = 0;   ///< share of the flank in shadow at the heel
    double noise = 2.0;  ///< 8-bit steps
    double smear = 0;    ///< 0..1: how far the paste is drawn over everything
    std::uint64_t seed = 1;
};

inline std::uint8_t encoded(double linear) {
    const double l = std::clamp(linear, 0.0, 1.0);
    return static_cast<std::uint8_t>(
        std::lround(255 * (l <= 0.0031308 ? 12.92 * l : 1.055 * std::pow(l, 1 / 2.4) - 0.055)));
}

/// Sum of a few random waves, about -1..1.
class Waves {
public:
    Waves(Random& random, double frequencyU, double frequencyV) {
        for (auto& w : waves_)
            w = {random.normal(0, frequencyU), random.normal(0, frequencyV), random.uniform(0, 2 * kPi)};
    }
    double operator()(double u, double v) const {
        double sum = 0;
        for (const auto& w : waves_) sum += std::sin(2 * kPi * (w[0] * u + w[1] * v) + w[2]);
        return sum / 3;
    }

private:
    std::array<std::array<double, 3>, 9> waves_{};
};

struct DrawnFlank {
    UnwrappedFlank flank;
    FlankMap truth;
};

inline DrawnFlank draw(const SyntheticFlank& s) {
    Random random(s.seed);
    const Waves fine(random, 3, 22), marks(random, 30, 6), broad(random, 1.2, 1.5), streak(random, 9, 1.5),
        border(random, 5, 4), patch(random, 4, 4);
    std::array<std::array<double, 3>, 8> spots{};
    for (auto& spot : spots) spot = {random.uniform(), random.uniform(), random.uniform(0.01, 0.035)};
    DrawnFlank out;
    out.flank.picture.width = kMapWidth;
    out.flank.picture.height = kMapHeight;
    out.flank.picture.rgb.resize(static_cast<std::size_t>(kMapWidth) * kMapHeight * 3);
    out.flank.visible.assign(static_cast<std::size_t>(kMapWidth) * kMapHeight, 1);
    out.flank.sharpness.assign(static_cast<std::size_t>(kMapWidth) * kMapHeight, 4);
    out.flank.lengthPx = 512;
    out.flank.heightPx = 128;
    out.flank.side = Side::Drive;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double u = (x + 0.5) / kMapWidth, v = 1 - (y + 0.5) / kMapHeight;
            const double du = u - s.u, dv = v - s.v - s.tilt * du;
            const double r = std::hypot(du / s.halfU, dv / s.halfV);
            const double clear = s.contact ? std::clamp(0.5 + 6 * (1 - r), 0.0, 1.0) : 0;
            out.truth.at(x, y) = static_cast<std::uint8_t>(255 * clear);
            const double ragged = s.contact ? std::clamp(0.5 + 5 * (1 - r + 0.08 * border(u, v)), 0.0, 1.0) : 0;
            double cover;
            if (s.marking == Marking::Wiped) {
                const double painted = 0.93 + 0.07 * fine(u, v);
                const double remnant = 0.10 + 0.08 * streak(u, v);
                cover = painted * (1 - ragged) + remnant * ragged;
            } else {
                const double film = 0.55 + 0.25 * patch(u, v) + 0.1 * streak(u, v);
                cover = film * ragged + 0.02;
            }
            cover = std::clamp(cover + s.smear * (0.5 + 0.5 * patch(u, v) - cover), 0.0, 1.0);
            double light = s.light * (1 + s.gradient * (0.5 - u) + 0.25 * broad(u, v));
            if (s.shadow > 0) light *= u > 1 - s.shadow ? 0.22 : 1;
            const double metal = 0.45 * (1 + 0.35 * marks(u, v) + 0.25 * fine(u, v) + 0.3 * broad(v, u));
            double gloss = 0;
            for (int k = 0; k < s.glossSpots; ++k) {
                const auto& spot = spots[static_cast<std::size_t>(k)];
                gloss +=
                    1.5 * std::exp(-std::pow((u - spot[0]) / spot[2], 2) - std::pow((v - spot[1]) / (2 * spot[2]), 2));
            }
            for (std::size_t c = 0; c < 3; ++c) {
                const double tint = std::array{1.04, 1.0, 0.93}[c];
                const double value =
                    light * tint * (cover * s.paste[c] * (1 + 0.06 * fine(u, v)) + (1 - cover) * metal) + gloss;
                const double bytes = encoded(value) + random.normal(0, s.noise);
                out.flank.picture.rgb[3 * static_cast<std::size_t>(y * kMapWidth + x) + c] =
                    static_cast<std::uint8_t>(std::clamp(bytes, 0.0, 255.0));
            }
        }
    return out;
}

}  // namespace shimsight::test
