// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <memory>
#include <opencv2/core.hpp>
#include <utility>

#include "photo/decoders.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"

namespace shimsight {
namespace {

using codec::Bytes;

/// Brands by which an ISO base media file says that it holds HEVC pictures (ISO/IEC 23008-12).
constexpr std::string_view kHeicBrands[] = {"heic", "heix", "heim", "heis", "hevc", "hevx"};

bool isHeic(Bytes bytes) {
    if (bytes.size() < 16 || !codec::hasText(bytes, 4, "ftyp")) return false;
    // The major brand, then, after a version, the compatible ones.
    const std::size_t end = std::min<std::size_t>(codec::bigEndian(bytes, 0, 4), bytes.size());
    for (std::size_t at = 8; at + 4 <= end; at += at == 8 ? 8 : 4) {
        for (const std::string_view brand : kHeicBrands) {
            if (codec::hasText(bytes, at, brand)) return true;
        }
    }
    return false;
}

codec::Exif exifOf(PhotoFormat format, Bytes bytes) {
    switch (format) {
        case PhotoFormat::Jpeg:
            return codec::headerOfJpeg(bytes).exif;
        case PhotoFormat::Png:
            return codec::headerOfPng(bytes).exif;
        case PhotoFormat::WebP:
            return codec::headerOfWebP(bytes).exif;
        case PhotoFormat::Heic:
            return codec::exifOfHeic(bytes);
    }
    throw std::logic_error("exifOf: unknown format");
}

codec::Decoded decodeAs(PhotoFormat format, Bytes bytes, const DecodeOptions& options) {
    switch (format) {
        case PhotoFormat::Jpeg:
            return codec::decodeJpeg(bytes, options);
        case PhotoFormat::Png:
            return codec::decodePng(bytes, options);
        case PhotoFormat::WebP:
            return codec::decodeWebP(bytes, options);
        case PhotoFormat::Heic:
            return codec::decodeHeic(bytes, options);
    }
    throw std::logic_error("decodeAs: unknown format");
}

}  // namespace

std::string_view photoFormatName(PhotoFormat format) {
    switch (format) {
        case PhotoFormat::Jpeg:
            return "JPEG";
        case PhotoFormat::Png:
            return "PNG";
        case PhotoFormat::WebP:
            return "WebP";
        case PhotoFormat::Heic:
            return "HEIC";
    }
    throw std::logic_error("photoFormatName: unknown format");
}

std::optional<PhotoFormat> photoFormatOf(std::span<const std::uint8_t> bytes) {
    if (codec::hasText(bytes, 0, "\xFF\xD8\xFF")) return PhotoFormat::Jpeg;
    if (codec::hasText(bytes, 0, "\x89PNG\r\n\x1A\n")) return PhotoFormat::Png;
    if (codec::hasText(bytes, 0, "RIFF") && codec::hasText(bytes, 8, "WEBP")) return PhotoFormat::WebP;
    if (isHeic(bytes)) return PhotoFormat::Heic;
    return std::nullopt;
}

CameraNotes readCameraNotes(std::span<const std::uint8_t> bytes) {
    const auto format = photoFormatOf(bytes);
    if (!format) return {};
    try {
        return exifOf(*format, bytes).notes;
    } catch (const InputError&) {
        return {};
    }
}

Photo decodePhoto(std::span<const std::uint8_t> bytes, const DecodeOptions& options) {
    if (bytes.empty()) throw InputError(message("photo.empty-file"));
    const auto format = photoFormatOf(bytes);
    if (!format) throw InputError(message("photo.no-photo"));
    codec::Decoded decoded = decodeAs(*format, bytes, options);

    Photo photo;
    photo.format = *format;
    photo.scale = 1.0 / decoded.denominator;
    photo.notes = std::move(decoded.exif.notes);
    photo.fullWidth = decoded.fullWidth;
    photo.fullHeight = decoded.fullHeight;
    if (decoded.exif.orientation >= 5) std::swap(photo.fullWidth, photo.fullHeight);
    photo.picture = codec::upright(std::move(decoded.picture), decoded.exif.orientation);
    return photo;
}

Photo loadPhoto(const std::filesystem::path& path, const DecodeOptions& options) {
    auto bytes = std::make_shared<const std::vector<std::uint8_t>>(readFile(path, options.limits.maxFileBytes));
    try {
        Photo photo = decodePhoto(*bytes, options);
        if (photo.scale < 1) photo.file = std::move(bytes);
        return photo;
    } catch (const InputError& error) {
        throw InputError(error.sentence(), path.string());
    }
}

std::shared_ptr<const Photo> atFullSize(const Photo& photo) {
    if (photo.scale >= 1 || !photo.file) return nullptr;
    return std::make_shared<const Photo>(decodePhoto(*photo.file));
}

namespace codec {

void checkSize(std::int64_t width, std::int64_t height, const DecodeLimits& limits) {
    if (width <= 0 || height <= 0) throw InputError(message("photo.no-pixels"));
    if (width > limits.maxSide || height > limits.maxSide || width * height > limits.maxPixels) {
        throw InputError(message("photo.too-large", width, height, limits.maxPixels / 1'000'000, limits.maxSide));
    }
}

void refuseDamaged(std::string_view format, const Message& detail) {
    throw InputError(detail.empty() ? message("photo.damaged", format)
                                    : message("photo.damaged-there", format, detail));
}

Picture onWhite(const std::uint8_t* rgba, std::size_t stride, int width, int height) {
    Picture picture{width, height, {}};
    picture.rgb.resize(std::size_t{3} * static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
    std::uint8_t* out = picture.rgb.data();
    for (int y = 0; y < height; ++y) {
        const std::uint8_t* in = rgba + static_cast<std::size_t>(y) * stride;
        for (int x = 0; x < width; ++x, in += 4) {
            const int alpha = in[3];
            for (int c = 0; c < 3; ++c) {
                *out++ = static_cast<std::uint8_t>((in[c] * alpha + 255 * (255 - alpha) + 127) / 255);
            }
        }
    }
    return picture;
}

Picture upright(Picture picture, int orientation) {
    if (orientation <= 1 || orientation > 8) return picture;
    cv::Mat stored(picture.height, picture.width, CV_8UC3, picture.rgb.data());
    const bool swapsSides = orientation >= 5;
    Picture result{picture.width, picture.height, {}};
    if (swapsSides) std::swap(result.width, result.height);
    result.rgb.resize(picture.rgb.size());
    cv::Mat turned(result.height, result.width, CV_8UC3, result.rgb.data());
    // EXIF 2.3, tag 0x0112: where the stored first row and first column belong.
    switch (orientation) {
        case 2:  // top, right
            cv::flip(stored, turned, 1);
            break;
        case 3:  // bottom, right
            cv::flip(stored, turned, -1);
            break;
        case 4:  // bottom, left
            cv::flip(stored, turned, 0);
            break;
        case 5:  // left, top
            cv::transpose(stored, turned);
            break;
        case 6:  // right, top
            cv::rotate(stored, turned, cv::ROTATE_90_CLOCKWISE);
            break;
        case 7:  // right, bottom
            cv::flip(stored, stored, -1);
            cv::transpose(stored, turned);
            break;
        default:  // 8: left, bottom
            cv::rotate(stored, turned, cv::ROTATE_90_COUNTERCLOCKWISE);
            break;
    }
    check(turned.data == result.rgb.data(), "upright: OpenCV moved the picture to other memory");
    return result;
}

std::uint32_t bigEndian(Bytes bytes, std::size_t position, std::size_t length) {
    std::uint32_t value = 0;
    for (const std::uint8_t byte : bytes.subspan(position, length)) value = value << 8 | byte;
    return value;
}

bool hasText(Bytes bytes, std::size_t position, std::string_view text) {
    if (position > bytes.size() || text.size() > bytes.size() - position) return false;
    const auto part = bytes.subspan(position, text.size());
    return std::equal(part.begin(), part.end(), text.begin(),
                      [](std::uint8_t byte, char c) { return byte == static_cast<std::uint8_t>(c); });
}

}  // namespace codec
}  // namespace shimsight
