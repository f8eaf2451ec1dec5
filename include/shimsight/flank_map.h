// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The flank map: the common currency between photo, simulation and a person's drawing.
#pragma once

#include <cstdint>
#include <vector>

namespace shimsight {

inline constexpr int kMapWidth = 256;   ///< toe at the left, heel at the right
inline constexpr int kMapHeight = 128;  ///< tip at the top, root at the bottom

/// Contact 0..255 over the working flank, rows from the tip down. Pixel (x, y) covers u = (x + 0.5) / 256,
/// v = 1 - (y + 0.5) / 128.
struct FlankMap {
    std::vector<std::uint8_t> contact = std::vector<std::uint8_t>(static_cast<std::size_t>(kMapWidth) * kMapHeight, 0);
    std::uint8_t at(int x, int y) const {
        return contact[static_cast<std::size_t>(y) * kMapWidth + static_cast<std::size_t>(x)];
    }
    std::uint8_t& at(int x, int y) {
        return contact[static_cast<std::size_t>(y) * kMapWidth + static_cast<std::size_t>(x)];
    }
};

}  // namespace shimsight
