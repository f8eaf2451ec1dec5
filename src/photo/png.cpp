// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <png.h>
#include <zlib.h>

#include "photo/decoders.h"
#include "shimsight/core.h"

namespace shimsight {
namespace codec {
namespace {

constexpr std::size_t kSignatureBytes = 8;
constexpr std::size_t kChunkFrameBytes = 12;  ///< length, type and check sum around a chunk's content

struct PngOutline {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    Exif exif;
};

/// Walks the chunks from the first to IEND and checks their lengths and check sums, so that a file that is cut short
/// anywhere is noticed before anything is decoded. Source of the layout: PNG specification, third edition.
PngOutline readOutline(Bytes bytes) {
    if (!hasText(bytes, 0, "\x89PNG\r\n\x1A\n")) throw InputError(message("photo.no-png"));
    PngOutline outline;
    std::size_t at = kSignatureBytes;
    while (bytes.size() - at >= kChunkFrameBytes) {
        const std::size_t length = bigEndian(bytes, at, 4);
        if (length > bytes.size() - at - kChunkFrameBytes) refuseDamaged("PNG");
        const Bytes content = bytes.subspan(at + 8, length);
        const auto sum = crc32(0, bytes.data() + at + 4, static_cast<uInt>(length + 4));
        if (sum != bigEndian(bytes, at + 8 + length, 4)) refuseDamaged("PNG", message("photo.check-sum"));
        const bool isHeader = hasText(bytes, at + 4, "IHDR");
        if (isHeader != (at == kSignatureBytes) || (isHeader && length != 13)) {
            refuseDamaged("PNG", message("photo.header-misplaced"));
        }
        if (isHeader) {
            outline.width = bigEndian(content, 0, 4);
            outline.height = bigEndian(content, 4, 4);
        }
        if (hasText(bytes, at + 4, "eXIf")) outline.exif = readExif(content);
        if (hasText(bytes, at + 4, "IEND")) return outline;
        at += kChunkFrameBytes + length;
    }
    refuseDamaged("PNG");
}

/// libpng's simplified reader or writer; frees what it holds.
class PngImage {
public:
    PngImage() { image_.version = PNG_IMAGE_VERSION; }
    ~PngImage() { png_image_free(&image_); }
    PngImage(const PngImage&) = delete;
    PngImage& operator=(const PngImage&) = delete;
    png_image* operator->() { return &image_; }
    png_image* get() { return &image_; }

private:
    png_image image_{};
};

/// The pixels in one of libpng's 8-bit formats, which it chooses by `formatOf(format of the file)`.
template <typename FormatOf>
std::vector<std::uint8_t> readPixels(Bytes bytes, FormatOf formatOf, png_uint_32& format, const png_color* background) {
    PngImage image;
    if (png_image_begin_read_from_memory(image.get(), bytes.data(), bytes.size()) == 0) {
        refuseDamaged("PNG", image->message);
    }
    // 16-bit files are taken as sRGB like 8-bit ones; libpng would take them as linear light.
    image->flags |= PNG_IMAGE_FLAG_16BIT_sRGB;
    format = image->format = formatOf(image->format);
    std::vector<std::uint8_t> pixels(PNG_IMAGE_SIZE(*image.get()));
    if (png_image_finish_read(image.get(), background, pixels.data(), 0, nullptr) == 0 ||
        PNG_IMAGE_FAILED(*image.get())) {
        refuseDamaged("PNG", image->message);
    }
    return pixels;
}

/// Writes `pixels` in libpng's `format`, rows without padding.
std::vector<std::uint8_t> writePng(int width, int height, png_uint_32 format, const std::uint8_t* pixels) {
    PngImage image;
    image->width = static_cast<png_uint_32>(width);
    image->height = static_cast<png_uint_32>(height);
    image->format = format;
    png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(*image.get());
    std::vector<std::uint8_t> bytes(size);
    if (png_image_write_to_memory(image.get(), bytes.data(), &size, 0, pixels, 0, nullptr) == 0) {
        throw InputError(message("photo.no-png-written", std::string(image->message)));
    }
    bytes.resize(size);
    return bytes;
}

}  // namespace

Header headerOfPng(Bytes bytes) {
    const PngOutline outline = readOutline(bytes);
    return {static_cast<int>(outline.width), static_cast<int>(outline.height), outline.exif};
}

Decoded decodePng(Bytes bytes, const DecodeOptions& options) {
    const PngOutline outline = readOutline(bytes);
    checkSize(outline.width, outline.height, options.limits);
    Decoded decoded;
    decoded.exif = outline.exif;
    decoded.fullWidth = static_cast<int>(outline.width);
    decoded.fullHeight = static_cast<int>(outline.height);
    png_uint_32 format = 0;
    auto pixels = readPixels(
        bytes,
        [](png_uint_32 inFile) {
            return static_cast<png_uint_32>((inFile & PNG_FORMAT_FLAG_ALPHA) != 0 ? PNG_FORMAT_RGBA : PNG_FORMAT_RGB);
        },
        format, nullptr);
    if (format == PNG_FORMAT_RGBA) {
        const std::size_t stride = std::size_t{4} * outline.width;
        decoded.picture = onWhite(pixels.data(), stride, decoded.fullWidth, decoded.fullHeight);
    } else {
        decoded.picture = Picture{decoded.fullWidth, decoded.fullHeight, std::move(pixels)};
    }
    return decoded;
}

}  // namespace codec

std::vector<std::uint8_t> encodePng(const Picture& picture) {
    check(picture.width > 0 && picture.height > 0 &&
              picture.rgb.size() ==
                  std::size_t{3} * static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height),
          "encodePng: the picture's size and its bytes do not agree");
    return codec::writePng(picture.width, picture.height, PNG_FORMAT_RGB, picture.rgb.data());
}

std::vector<std::uint8_t> encodePngGrey(int width, int height, std::span<const std::uint8_t> values) {
    check(
        width > 0 && height > 0 && values.size() == static_cast<std::size_t>(width) * static_cast<std::size_t>(height),
        "encodePngGrey: the picture's size and its bytes do not agree");
    return codec::writePng(width, height, PNG_FORMAT_GRAY, values.data());
}

GreyPicture decodePngGrey(std::span<const std::uint8_t> bytes, const DecodeLimits& limits) {
    const codec::PngOutline outline = codec::readOutline(bytes);
    codec::checkSize(outline.width, outline.height, limits);
    const png_color black{0, 0, 0};
    png_uint_32 format = 0;
    auto values = codec::readPixels(
        bytes, [](png_uint_32) { return static_cast<png_uint_32>(PNG_FORMAT_GRAY); }, format, &black);
    return GreyPicture{static_cast<int>(outline.width), static_cast<int>(outline.height), std::move(values)};
}

}  // namespace shimsight
