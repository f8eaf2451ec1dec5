// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Photos drawn straight in the picture for tests: ellipses of contact on painted quadrilaterals. Nothing is shared
/// with the renderer or the contact engine.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/gear_set.h"
#include "shimsight/photo.h"
#include "shimsight/rectify.h"

namespace shimsight::test {

inline constexpr int kDrawnWidth = 1200, kDrawnHeight = 900;

struct DrawnFlank {
    std::array<PixelPoint, 4> corners;  ///< toe-root, toe-tip, heel-tip, heel-root
    double u, v;                        ///< centre of the contact
};

/// Place in the flank of a pixel, by a few Newton steps on the bilinear patch.
inline PixelPoint placeIn(const DrawnFlank& flank, double x, double y) {
    const auto& c = flank.corners;
    double u = 0.5, v = 0.5;
    for (int i = 0; i < 8; ++i) {
        const double px = (1 - u) * ((1 - v) * c[0].x + v * c[1].x) + u * ((1 - v) * c[3].x + v * c[2].x) - x;
        const double py = (1 - u) * ((1 - v) * c[0].y + v * c[1].y) + u * ((1 - v) * c[3].y + v * c[2].y) - y;
        const double xu = (1 - v) * (c[3].x - c[0].x) + v * (c[2].x - c[1].x);
        const double yu = (1 - v) * (c[3].y - c[0].y) + v * (c[2].y - c[1].y);
        const double xv = (1 - u) * (c[1].x - c[0].x) + u * (c[2].x - c[3].x);
        const double yv = (1 - u) * (c[1].y - c[0].y) + u * (c[2].y - c[3].y);
        const double det = xu * yv - xv * yu;
        if (std::abs(det) < 1e-9) break;
        u -= (px * yv - py * xv) / det;
        v -= (xu * py - yu * px) / det;
    }
    return {u, v};
}

/// Flanks painted with a yellow paste, the contact wiped down to brushed steel, before a dark ground; uneven light and
/// noise.
inline Picture drawn(const std::vector<DrawnFlank>& flanks, std::uint64_t seed) {
    Random random(seed);
    Picture picture{kDrawnWidth, kDrawnHeight, std::vector<std::uint8_t>(3U * kDrawnWidth * kDrawnHeight)};
    const std::array<double, 3> steel{118, 116, 112}, paste{205, 160, 40}, dark{58, 57, 55};
    for (int y = 0; y < kDrawnHeight; ++y) {
        double grain = 0;
        for (int x = 0; x < kDrawnWidth; ++x) {
            grain = 0.7 * grain + random.normal(0, 7);
            std::array<double, 3> colour = dark;
            for (const DrawnFlank& flank : flanks) {
                const PixelPoint at = placeIn(flank, x + 0.5, y + 0.5);
                if (at.x < -0.03 || at.x > 1.03 || at.y < -0.06 || at.y > 1.06) continue;
                const double r = std::hypot((at.x - flank.u) / 0.27, (at.y - flank.v) / 0.3);
                const double wiped = std::clamp(0.5 + 7 * (1 - r), 0.0, 1.0) * 0.92;
                for (std::size_t k = 0; k < 3; ++k)
                    colour[k] = wiped * (steel[k] + 2 * grain) + (1 - wiped) * (paste[k] + 0.4 * grain);
            }
            const double light = 1.1 - 0.25 * x / kDrawnWidth;
            for (std::size_t k = 0; k < 3; ++k)
                picture.rgb[3 * (static_cast<std::size_t>(y) * kDrawnWidth + static_cast<std::size_t>(x)) + k] =
                    static_cast<std::uint8_t>(std::clamp(colour[k] * light + random.normal(0, 2), 0.0, 255.0));
        }
    }
    return picture;
}

/// Three teeth of one side of a right-hand ring gear, one above the other. Seen from outside with the tip up, the toe
/// lies on the right of a drive flank and on the left of a coast flank.
inline std::vector<DrawnFlank> threeTeeth(Side side, double u, double v) {
    std::vector<DrawnFlank> flanks;
    for (int k = 0; k < 3; ++k) {
        const double y = 120 + 260 * k, x = 180 + 20 * k;
        DrawnFlank flank{{PixelPoint{x, y + 180}, {x + 6, y + 20}, {x + 800, y}, {x + 812, y + 190}}, u + 0.01 * k, v};
        if (side == Side::Drive)
            for (PixelPoint& corner : flank.corners) corner.x = kDrawnWidth - corner.x;
        flanks.push_back(flank);
    }
    return flanks;
}

}  // namespace shimsight::test
