// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// One decoder for each format, and what they share.
#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "photo/exif.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight::codec {

using Bytes = std::span<const std::uint8_t>;

/// A picture as it is stored, and how it is to be turned.
struct Decoded {
    Picture picture;
    int fullWidth = 0;  ///< in the file, before `exif.orientation` is applied
    int fullHeight = 0;
    int denominator = 1;  ///< `picture` is 1 / denominator of the full size
    Exif exif;            ///< orientation still to be applied
};

Decoded decodeJpeg(Bytes bytes, const DecodeOptions& options);
Decoded decodePng(Bytes bytes, const DecodeOptions& options);
Decoded decodeWebP(Bytes bytes, const DecodeOptions& options);
Decoded decodeHeic(Bytes bytes, const DecodeOptions& options);

/// What stands beside the coded picture.
struct Header {
    int width = 0;  ///< as in Decoded: before `exif.orientation` is applied; 0 where the file does not say
    int height = 0;
    Exif exif;
};

/// Header or EXIF block alone, picture not decoded. They may throw InputError where the file is broken.
Header headerOfJpeg(Bytes bytes);
Header headerOfPng(Bytes bytes);
Header headerOfWebP(Bytes bytes);
Exif exifOfHeic(Bytes bytes);

/// Throws InputError when a picture of this size (pixels) is above the limits or has no pixels.
void checkSize(std::int64_t width, std::int64_t height, const DecodeLimits& limits);

/// The InputError for a file of `format` whose content is broken; `detail` is the decoder's own word, or empty.
[[noreturn]] void refuseDamaged(std::string_view format, const Message& detail = {});

/// Lays RGBA pixels (rows of `stride` bytes) on white.
Picture onWhite(const std::uint8_t* rgba, std::size_t stride, int width, int height);

/// The picture turned and mirrored as EXIF orientation 1 to 8 asks, so that it stands upright.
Picture upright(Picture picture, int orientation);

/// Unsigned number of `length` bytes at `position`, most significant byte first. The bytes must be there.
std::uint32_t bigEndian(Bytes bytes, std::size_t position, std::size_t length);

/// Whether `text` stands in `bytes` at `position`.
bool hasText(Bytes bytes, std::size_t position, std::string_view text);

}  // namespace shimsight::codec
