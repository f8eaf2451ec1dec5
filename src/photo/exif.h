// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A small bounded reader for the three EXIF fields that we use.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "shimsight/photo.h"

namespace shimsight::codec {

struct Exif {
    int orientation = 1;  ///< 1 to 8 as EXIF numbers them; 1 when absent or nonsense
    CameraNotes notes;
};

/// Reads a TIFF block as EXIF stores it ("II" or "MM" first; an "Exif\0\0" before it is skipped). Never throws and
/// never reads outside `block`; whatever is broken counts as absent. Source of the layout and the tags: CIPA DC-008
/// (EXIF 2.3), TIFF 6.0.
Exif readExif(std::span<const std::uint8_t> block);

/// Whether the block has a directory of positions (GPS).
bool namesLocation(std::span<const std::uint8_t> block);

/// A TIFF block with these fields and nothing else; empty when there is nothing to say.
std::vector<std::uint8_t> writeExif(const Exif& exif);

}  // namespace shimsight::codec
