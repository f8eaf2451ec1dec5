// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Photos made in the test: by the codecs' own writers, or byte by byte where no writer offers the case.
#pragma once

#include <libheif/heif.h>
#include <turbojpeg.h>
#include <webp/encode.h>
#include <webp/mux.h>
#include <zlib.h>

#include <cstdint>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/photo.h"

namespace shimsight::test {

using Bytes = std::vector<std::uint8_t>;

inline void append(Bytes& bytes, std::string_view text) { bytes.insert(bytes.end(), text.begin(), text.end()); }
inline void append(Bytes& bytes, const Bytes& more) { bytes.insert(bytes.end(), more.begin(), more.end()); }

/// A number of `length` bytes, most significant first when `big`.
inline void appendNumber(Bytes& bytes, std::uint32_t value, int length, bool big = true) {
    for (int i = 0; i < length; ++i) {
        const int shift = 8 * (big ? length - 1 - i : i);
        bytes.push_back(static_cast<std::uint8_t>(value >> shift));
    }
}

inline void require(bool holds, const char* sentence) {
    if (!holds) throw std::runtime_error(sentence);
}

inline std::size_t find(const Bytes& bytes, std::string_view text) {
    const std::string_view all(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    const std::size_t at = all.find(text);
    require(at != std::string_view::npos, "fixture: bytes not found");
    return at;
}

// Pictures ----------------------------------------------------------------------------------------------------------

struct Colour {
    int red = 0, green = 0, blue = 0;
};
constexpr Colour kRed{230, 30, 30}, kGreen{30, 200, 40}, kGrey{150, 150, 150};
constexpr int kStrip = 16;  ///< width of the strips of strips(), pixels

template <typename ColourAt>
Picture paint(int width, int height, ColourAt colourAt) {
    Picture picture{width, height, {}};
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            const Colour colour = colourAt(x, y);
            for (const int value : {colour.red, colour.green, colour.blue}) {
                picture.rgb.push_back(static_cast<std::uint8_t>(value));
            }
        }
    }
    return picture;
}

/// Grey, the first rows red, the first columns green: tells all eight orientations apart.
inline Picture strips(int width = 96, int height = 64) {
    return paint(width, height, [](int x, int y) { return y < kStrip ? kRed : x < kStrip ? kGreen : kGrey; });
}

/// Smooth, with no two rows or columns alike.
inline Picture slopes(int width, int height) {
    return paint(width, height, [=](int x, int y) {
        return Colour{255 * x / width, 255 * y / height, 128 + 127 * (x - y) / (width + height)};
    });
}

inline Colour at(const Picture& picture, int x, int y) {
    const std::size_t i = std::size_t{3} * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
                                            static_cast<std::size_t>(x));
    return {picture.rgb.at(i), picture.rgb.at(i + 1), picture.rgb.at(i + 2)};
}

inline bool near(Colour a, Colour b, int tolerance) {
    return std::abs(a.red - b.red) <= tolerance && std::abs(a.green - b.green) <= tolerance &&
           std::abs(a.blue - b.blue) <= tolerance;
}

/// Largest difference of one sample; the pictures have the same size.
inline int largestDifference(const Picture& a, const Picture& b) {
    require(a.width == b.width && a.height == b.height && a.rgb.size() == b.rgb.size(), "the sizes differ");
    int largest = 0;
    for (std::size_t i = 0; i < a.rgb.size(); ++i) largest = std::max(largest, std::abs(a.rgb[i] - b.rgb[i]));
    return largest;
}

// EXIF --------------------------------------------------------------------------------------------------------------

/// A TIFF block with orientation, time taken and focal length on 35 mm film.
inline Bytes exifBlock(int orientation, bool big = false, std::string_view time = "2026:03:14 09:26:53",
                       int focalLength = 26) {
    Bytes block;
    append(block, big ? "MM" : "II");
    appendNumber(block, 42, 2, big);
    appendNumber(block, 8, 4, big);
    const auto entry = [&](std::uint32_t tag, std::uint32_t type, std::uint32_t count, std::uint32_t value) {
        appendNumber(block, tag, 2, big);
        appendNumber(block, type, 2, big);
        appendNumber(block, count, 4, big);
        if (type == 3) {
            appendNumber(block, value, 2, big);
            appendNumber(block, 0, 2, big);
        } else {
            appendNumber(block, value, 4, big);
        }
    };
    appendNumber(block, 2, 2, big);
    entry(0x0112, 3, 1, static_cast<std::uint32_t>(orientation));
    entry(0x8769, 4, 1, 38);  // 8 + 2 + 2 * 12 + 4
    appendNumber(block, 0, 4, big);
    appendNumber(block, 2, 2, big);
    entry(0x9003, 2, 20, 68);  // 38 + 2 + 2 * 12 + 4
    entry(0xA405, 3, 1, static_cast<std::uint32_t>(focalLength));
    appendNumber(block, 0, 4, big);
    append(block, time);
    block.push_back(0);
    return block;
}

// JPEG --------------------------------------------------------------------------------------------------------------

inline Bytes makeJpeg(const Picture& picture, int subsampling = TJSAMP_444, int flags = 0, int quality = 95) {
    const std::unique_ptr<void, decltype(&tjDestroy)> turbo(tjInitCompress(), &tjDestroy);
    unsigned char* buffer = nullptr;
    unsigned long size = 0;
    const int result = tjCompress2(turbo.get(), picture.rgb.data(), picture.width, 0, picture.height, TJPF_RGB, &buffer,
                                   &size, subsampling, quality, flags);
    const Bytes bytes(buffer, buffer + size);
    tjFree(buffer);
    require(result == 0, "fixture: JPEG");
    return bytes;
}

/// A CMYK JPEG with an Adobe marker; `cmyk` as TurboJPEG takes it: 255 = no ink.
inline Bytes makeCmykJpeg(int width, int height, const Bytes& cmyk) {
    const std::unique_ptr<void, decltype(&tjDestroy)> turbo(tjInitCompress(), &tjDestroy);
    unsigned char* buffer = nullptr;
    unsigned long size = 0;
    const int result =
        tjCompress2(turbo.get(), cmyk.data(), width, 0, height, TJPF_CMYK, &buffer, &size, TJSAMP_444, 95, 0);
    const Bytes bytes(buffer, buffer + size);
    tjFree(buffer);
    require(result == 0, "fixture: CMYK JPEG");
    return bytes;
}

/// Puts a marker segment right after the start of a JPEG.
inline Bytes withSegment(const Bytes& jpeg, int marker, const Bytes& content) {
    Bytes bytes(jpeg.begin(), jpeg.begin() + 2);
    bytes.push_back(0xFF);
    bytes.push_back(static_cast<std::uint8_t>(marker));
    appendNumber(bytes, static_cast<std::uint32_t>(content.size() + 2), 2);
    append(bytes, content);
    bytes.insert(bytes.end(), jpeg.begin() + 2, jpeg.end());
    return bytes;
}

inline Bytes jpegWithExif(const Bytes& jpeg, const Bytes& exif) {
    Bytes content;
    append(content, std::string_view("Exif\0\0", 6));
    append(content, exif);
    return withSegment(jpeg, 0xE1, content);
}

// PNG ---------------------------------------------------------------------------------------------------------------

inline Bytes chunk(std::string_view type, const Bytes& content) {
    Bytes bytes;
    appendNumber(bytes, static_cast<std::uint32_t>(content.size()), 4);
    append(bytes, type);
    append(bytes, content);
    const auto sum = crc32(0, bytes.data() + 4, static_cast<uInt>(content.size() + 4));
    appendNumber(bytes, static_cast<std::uint32_t>(sum), 4);
    return bytes;
}

/// Kinds of PNG by the numbers of the PNG specification.
enum PngKind { kPngGrey = 0, kPngRgb = 2, kPngPalette = 3, kPngGreyAlpha = 4, kPngRgba = 6 };

/// A PNG from its raw rows, each with its filter byte (0); `between` goes before the picture data.
inline Bytes makePng(int width, int height, int bitDepth, PngKind kind, const Bytes& rows, const Bytes& between = {}) {
    Bytes header;
    appendNumber(header, static_cast<std::uint32_t>(width), 4);
    appendNumber(header, static_cast<std::uint32_t>(height), 4);
    header.push_back(static_cast<std::uint8_t>(bitDepth));
    header.push_back(static_cast<std::uint8_t>(kind));
    for (int i = 0; i < 3; ++i) header.push_back(0);
    uLongf size = compressBound(static_cast<uLong>(rows.size()));
    Bytes data(size);
    require(compress2(data.data(), &size, rows.data(), static_cast<uLong>(rows.size()), 1) == Z_OK, "fixture: PNG");
    data.resize(size);
    Bytes bytes;
    append(bytes, "\x89PNG\r\n\x1A\n");
    append(bytes, chunk("IHDR", header));
    append(bytes, between);
    append(bytes, chunk("IDAT", data));
    append(bytes, chunk("IEND", {}));
    return bytes;
}

/// Puts chunks right after the header of a PNG.
inline Bytes withChunk(const Bytes& png, const Bytes& more) {
    constexpr std::ptrdiff_t kHeaderEnd = 8 + 12 + 13;
    Bytes bytes(png.begin(), png.begin() + kHeaderEnd);
    append(bytes, more);
    bytes.insert(bytes.end(), png.begin() + kHeaderEnd, png.end());
    return bytes;
}

// WebP --------------------------------------------------------------------------------------------------------------

inline Bytes makeWebP(const Picture& picture, bool lossless = false) {
    std::uint8_t* output = nullptr;
    const int stride = 3 * picture.width;
    const std::size_t size =
        lossless ? WebPEncodeLosslessRGB(picture.rgb.data(), picture.width, picture.height, stride, &output)
                 : WebPEncodeRGB(picture.rgb.data(), picture.width, picture.height, stride, 95, &output);
    const Bytes bytes(output, output + size);
    WebPFree(output);
    require(!bytes.empty(), "fixture: WebP");
    return bytes;
}

inline Bytes makeWebPWithAlpha(int width, int height, const Bytes& rgba) {
    std::uint8_t* output = nullptr;
    const std::size_t size = WebPEncodeLosslessRGBA(rgba.data(), width, height, 4 * width, &output);
    const Bytes bytes(output, output + size);
    WebPFree(output);
    require(!bytes.empty(), "fixture: WebP with alpha");
    return bytes;
}

inline Bytes webPWithExif(const Bytes& webP, const Bytes& exif) {
    const WebPData image{webP.data(), webP.size()};
    const WebPData block{exif.data(), exif.size()};
    const std::unique_ptr<WebPMux, decltype(&WebPMuxDelete)> mux(WebPMuxCreate(&image, 1), &WebPMuxDelete);
    require(mux != nullptr, "fixture: WebP container");
    require(WebPMuxSetChunk(mux.get(), "EXIF", &block, 1) == WEBP_MUX_OK, "fixture: WebP EXIF");
    WebPData assembled{nullptr, 0};
    require(WebPMuxAssemble(mux.get(), &assembled) == WEBP_MUX_OK, "fixture: WebP assembly");
    const Bytes bytes(assembled.bytes, assembled.bytes + assembled.size);
    WebPDataClear(&assembled);
    return bytes;
}

// HEIC --------------------------------------------------------------------------------------------------------------

inline bool hasHevcEncoder() { return heif_have_encoder_for_format(heif_compression_HEVC) != 0; }

/// An HEIC; the rotation is written as irot and imir boxes. `exif`, a TIFF block, is added when there is one. `alpha`
/// adds an alpha plane with that value everywhere.
inline Bytes makeHeic(const Picture& picture, int orientation = 1, const Bytes& exif = {},
                      std::optional<int> alpha = std::nullopt) {
    const std::unique_ptr<heif_context, decltype(&heif_context_free)> context(heif_context_alloc(), &heif_context_free);
    heif_encoder* rawEncoder = nullptr;
    require(
        heif_context_get_encoder_for_format(context.get(), heif_compression_HEVC, &rawEncoder).code == heif_error_Ok,
        "fixture: HEVC encoder");
    const std::unique_ptr<heif_encoder, decltype(&heif_encoder_release)> encoder(rawEncoder, &heif_encoder_release);
    heif_encoder_set_lossy_quality(encoder.get(), 90);

    heif_image* rawImage = nullptr;
    const int channels = alpha ? 4 : 3;
    require(heif_image_create(picture.width, picture.height, heif_colorspace_RGB,
                              alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB, &rawImage)
                    .code == heif_error_Ok,
            "fixture: HEIC picture");
    const std::unique_ptr<heif_image, decltype(&heif_image_release)> image(rawImage, &heif_image_release);
    require(heif_image_add_plane(image.get(), heif_channel_interleaved, picture.width, picture.height, 8).code ==
                heif_error_Ok,
            "fixture: HEIC plane");
    int stride = 0;
    std::uint8_t* plane = heif_image_get_plane(image.get(), heif_channel_interleaved, &stride);
    for (int y = 0; y < picture.height; ++y) {
        for (int x = 0; x < picture.width; ++x) {
            const Colour colour = at(picture, x, y);
            std::uint8_t* pixel = plane + y * stride + x * channels;
            pixel[0] = static_cast<std::uint8_t>(colour.red);
            pixel[1] = static_cast<std::uint8_t>(colour.green);
            pixel[2] = static_cast<std::uint8_t>(colour.blue);
            if (alpha) pixel[3] = static_cast<std::uint8_t>(*alpha);
        }
    }

    const std::unique_ptr<heif_encoding_options, decltype(&heif_encoding_options_free)> options(
        heif_encoding_options_alloc(), &heif_encoding_options_free);
    options->image_orientation = static_cast<heif_orientation>(orientation);
    heif_image_handle* rawHandle = nullptr;
    require(heif_context_encode_image(context.get(), image.get(), encoder.get(), options.get(), &rawHandle).code ==
                heif_error_Ok,
            "fixture: HEIC encoding");
    const std::unique_ptr<heif_image_handle, decltype(&heif_image_handle_release)> handle(rawHandle,
                                                                                          &heif_image_handle_release);
    if (!exif.empty()) {
        require(heif_context_add_exif_metadata(context.get(), handle.get(), exif.data(), static_cast<int>(exif.size()))
                        .code == heif_error_Ok,
                "fixture: HEIC EXIF");
    }
    Bytes bytes;
    heif_writer writer{};
    writer.writer_api_version = 1;
    writer.write = [](heif_context*, const void* data, std::size_t size, void* target) {
        const auto* begin = static_cast<const std::uint8_t*>(data);
        static_cast<Bytes*>(target)->assign(begin, begin + size);
        return heif_error{heif_error_Ok, heif_suberror_Unspecified, "ok"};
    };
    require(heif_context_write(context.get(), &writer, &bytes).code == heif_error_Ok, "fixture: HEIC file");
    return bytes;
}

}  // namespace shimsight::test
