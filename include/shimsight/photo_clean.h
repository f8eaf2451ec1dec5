// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A photo without what a camera writes beside the picture: where it was taken, with which camera, by whom.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "shimsight/photo.h"

namespace shimsight {

struct CleanPhoto {
    std::vector<std::uint8_t> bytes;
    PhotoFormat format = PhotoFormat::Jpeg;  ///< of `bytes`: JPEG, PNG or WebP
    int width = 0;                           ///< upright, pixels, as the file says; 0 where it does not
    int height = 0;                          ///< the same
    CameraNotes notes;                       ///< what was kept of the camera's notes
    bool reencoded = false;                  ///< HEIC: its pixels, upright, as a JPEG of high quality
    std::vector<std::string> removed;        ///< in plain words, "location" first; empty: there was nothing to remove
};

/// "jpg", "png", "webp".
std::string_view extensionOf(PhotoFormat format);

/// The photo with the same pixels, bit for bit where it is JPEG, PNG or WebP: only parts of the file beside the coded
/// picture are left out (also what stands behind its end, such as the film of a moving photo). Of the camera's notes
/// the orientation, the time and the focal length are written anew; colour profiles stay. HEIC cannot be cleaned
/// without coding it again and becomes a JPEG. Throws InputError with one sentence, without a file name, for anything
/// that is no such photo or whose parts cannot be told from one another.
CleanPhoto cleanPhoto(std::span<const std::uint8_t> bytes, const DecodeLimits& limits = {});

}  // namespace shimsight
