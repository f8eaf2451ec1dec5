// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Photos in, pictures out: decoding by content, with bounds, and the writing of pictures.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace shimsight {

/// An 8-bit RGB picture. Rows run from the top down, three bytes a pixel (red, green, blue), no padding. Positions in
/// it are in pixels, x to the right, y down; the centre of the first pixel is at (0.5, 0.5), its outer corner at (0,
/// 0).
struct Picture {
    int width = 0;
    int height = 0;
    std::vector<std::uint8_t> rgb;  ///< 3 * width * height bytes
};

/// An 8-bit grey picture: rows from the top down, one byte a pixel, no padding.
struct GreyPicture {
    int width = 0;
    int height = 0;
    std::vector<std::uint8_t> values;  ///< width * height bytes
};

/// The most that is decoded. A file of a few kilobytes can claim gigabytes of pixels, so the size that it claims is
/// compared with these before anything is decoded.
struct DecodeLimits {
    std::int64_t maxPixels = 60'000'000;      ///< above phone cameras' 12 to 50 MP; 180 MB decoded
    int maxSide = 16'384;                     ///< pixels; no camera's still picture is wider, and WebP ends there too
    std::int64_t maxFileBytes = 200'000'000;  ///< above any photo of maxPixels; bounds what loadPhoto reads
};

enum class PhotoFormat : std::uint8_t { Jpeg, Png, WebP, Heic };

/// "JPEG", "PNG", "WebP" or "HEIC".
std::string_view photoFormatName(PhotoFormat format);

struct DecodeOptions {
    DecodeLimits limits{};
    /// Above 0: a JPEG is decoded at 1/2, 1/4 or 1/8 of its size, the smallest whose long side still has this many
    /// pixels. Saves time and memory. The other formats always come at full size.
    int targetLongSide = 0;
};

/// Long side for reading flanks (DecodeOptions::targetLongSide): a flank a tenth of the picture long still fills the
/// flank map, and a 12-megapixel JPEG comes at half size, in less than half the time and a quarter of the memory.
inline constexpr int kReadingLongSide = 2000;

/// What the camera wrote beside the picture. Anyone can write anything there: for display and first guesses only.
struct CameraNotes {
    std::optional<std::string> takenAt;     ///< "YYYY-MM-DD hh:mm:ss", the camera's local time
    std::optional<double> focalLength35mm;  ///< focal length on 36 x 24 mm film with the same diagonal view, mm
};

struct Photo {
    Picture picture;  ///< upright: the orientation that the file asks for is applied
    PhotoFormat format = PhotoFormat::Jpeg;
    int fullWidth = 0;  ///< of the photo in the file after orientation, pixels
    int fullHeight = 0;
    double scale = 1;  ///< picture pixels per full-size pixel: 1, 0.5, 0.25 or 0.125. Full-size position * scale is the
                       ///< position in `picture`; its last row and column may reach past the photo's edge.
    CameraNotes notes;
    std::shared_ptr<const std::vector<std::uint8_t>> file;  ///< the photo's file, where `picture` is smaller than it
};

/// Decodes a JPEG, PNG, WebP or HEIC photo. The format is told by the content, never by a name.
///
/// EXIF orientation is applied for JPEG, PNG and WebP; HEIC has its own rotation and mirroring, and its EXIF
/// orientation is not used. Transparent parts are laid on white; 16-bit samples are rounded to 8; grey, palette and
/// CMYK become RGB. Colour profiles are not applied. Throws InputError with one sentence, without a file name, for
/// anything that is no such photo, is larger than the limits, or is cut short or damaged.
Photo decodePhoto(std::span<const std::uint8_t> bytes, const DecodeOptions& options = {});

/// Reads and decodes the file at `path`. As decodePhoto; the sentence of InputError begins with the path. A missing or
/// empty file, a folder and a file larger than limits.maxFileBytes are refused.
Photo loadPhoto(const std::filesystem::path& path, const DecodeOptions& options = {});

/// The photo decoded at its full size; null where it is that already, or its file is not at hand. Its `file` is empty.
std::shared_ptr<const Photo> atFullSize(const Photo& photo);

/// The photo format that `bytes`, the file or its first hundred bytes, begin with; nullopt: none of the four.
std::optional<PhotoFormat> photoFormatOf(std::span<const std::uint8_t> bytes);

/// What the camera wrote beside the picture, without decoding the picture. Of a JPEG the first part of the file is
/// enough (the notes stand before the picture, in the first kilobytes); the other formats need the whole file. Empty
/// for anything that is broken or no photo; never throws InputError.
CameraNotes readCameraNotes(std::span<const std::uint8_t> bytes);

/// Colour detail in a JPEG: Halved as phones write photos (4:2:0), Full (4:4:4) for thin coloured lines.
enum class JpegColour : std::uint8_t { Halved, Full };

/// The picture as a JPEG file; `quality` 1 (worst) to 100.
std::vector<std::uint8_t> encodeJpeg(const Picture& picture, int quality, JpegColour colour = JpegColour::Halved);

/// The picture as a PNG file; nothing is lost.
std::vector<std::uint8_t> encodePng(const Picture& picture);

/// `values` (width * height bytes, rows from the top down) as an 8-bit grey PNG file; nothing is lost.
std::vector<std::uint8_t> encodePngGrey(int width, int height, std::span<const std::uint8_t> values);

/// Decodes a PNG to grey, as flank maps are kept. 8-bit grey comes back byte for byte; colour is turned to grey by its
/// luminance, 16-bit samples are rounded to 8, transparent parts are laid on black (no contact). Throws InputError with
/// one sentence, without a file name, when it is no PNG, too large or damaged.
GreyPicture decodePngGrey(std::span<const std::uint8_t> bytes, const DecodeLimits& limits = {});

}  // namespace shimsight
