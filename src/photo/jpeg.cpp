// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <turbojpeg.h>

#include <algorithm>
#include <cstring>
#include <memory>

#include "photo/decoders.h"
#include "shimsight/core.h"

namespace shimsight {
namespace codec {
namespace {

using Turbo = std::unique_ptr<void, decltype(&tjDestroy)>;

/// Reductions that TurboJPEG makes while it decodes, the strongest first.
constexpr int kDenominators[] = {8, 4, 2};

/// A file may be coded in many scans over the whole picture, each a pass over all pixels: scans times pixels. Writers
/// of progressive files make about ten scans, so the largest picture (DecodeLimits::maxPixels) passes; a few hundred
/// scans would take minutes.
constexpr std::int64_t kMaxScanPixels = 1'200'000'000;

/// What the markers before the picture data say.
struct Markers {
    Header header;
    bool adobe = false;  ///< with it, CMYK is stored inverted
};

/// Start of a frame, which says the picture's size (ITU-T T.81, table B.1 and B.2.2).
bool isFrame(int marker) {
    return marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
}

Markers readMarkers(Bytes bytes) {
    Markers markers;
    bool exifSeen = false;
    std::size_t at = 2;
    while (at + 4 <= bytes.size() && bytes[at] == 0xFF) {
        const int marker = bytes[at + 1];
        if (marker == 0xFF) {  // fill byte
            ++at;
            continue;
        }
        if (marker == 0xDA || marker == 0xD9) break;  // picture data, end
        const std::size_t length = bigEndian(bytes, at + 2, 2);
        if (length < 2 || length > bytes.size() - at - 2) break;
        const Bytes content = bytes.subspan(at + 4, length - 2);
        if (marker == 0xE1 && !exifSeen && hasText(content, 0, {"Exif\0\0", 6})) {
            markers.header.exif = readExif(content);
            exifSeen = true;
        }
        if (isFrame(marker) && content.size() >= 5) {
            markers.header.height = static_cast<int>(bigEndian(content, 1, 2));
            markers.header.width = static_cast<int>(bigEndian(content, 3, 2));
        }
        if (marker == 0xEE && hasText(content, 0, "Adobe")) markers.adobe = true;
        at += 2 + length;
    }
    return markers;
}

/// How many scans the file has, by its markers as a decoder meets them (ITU-T T.81 annex B).
std::int64_t scansOf(Bytes bytes) {
    std::int64_t scans = 0;
    std::size_t at = 2;
    while (at + 4 <= bytes.size()) {
        if (bytes[at] != 0xFF) {  // coded data, or bytes that a decoder skips
            const void* next = std::memchr(bytes.data() + at, 0xFF, bytes.size() - at);
            if (next == nullptr) break;
            at = static_cast<std::size_t>(static_cast<const std::uint8_t*>(next) - bytes.data());
            continue;
        }
        const int marker = bytes[at + 1];
        if (marker == 0xD9) break;
        // Fill bytes, stuffed zeros, restarts and markers without content.
        if (marker == 0xFF || marker <= 0x01 || (marker >= 0xD0 && marker <= 0xD8)) {
            at += marker == 0xFF ? 1 : 2;
            continue;
        }
        scans += marker == 0xDA;
        at += 2 + std::max<std::size_t>(2, bigEndian(bytes, at + 2, 2));
    }
    return scans;
}

/// The plain conversion without colour profile: light is what cyan, magenta or yellow and black ink let through.
void cmykToRgb(const std::vector<std::uint8_t>& cmyk, bool inverted, std::vector<std::uint8_t>& rgb) {
    for (std::size_t i = 0, out = 0; i + 3 < cmyk.size(); i += 4) {
        const int black = inverted ? cmyk[i + 3] : 255 - cmyk[i + 3];
        for (std::size_t c = 0; c < 3; ++c) {
            const int ink = inverted ? cmyk[i + c] : 255 - cmyk[i + c];
            rgb[out++] = static_cast<std::uint8_t>((ink * black + 127) / 255);
        }
    }
}

}  // namespace

Header headerOfJpeg(Bytes bytes) { return readMarkers(bytes).header; }

Decoded decodeJpeg(Bytes bytes, const DecodeOptions& options) {
    const Turbo turbo(tjInitDecompress(), &tjDestroy);
    if (!turbo) throw std::bad_alloc();
    const auto size = static_cast<unsigned long>(bytes.size());

    Decoded decoded;
    int subsampling = 0;
    int colourSpace = 0;
    const int header = tjDecompressHeader3(turbo.get(), bytes.data(), size, &decoded.fullWidth, &decoded.fullHeight,
                                           &subsampling, &colourSpace);
    // The header call also fails on rare but valid chroma layouts, with the size already told; the decoder judges
    // those.
    if (header != 0 && (decoded.fullWidth <= 0 || decoded.fullHeight <= 0)) {
        refuseDamaged("JPEG", tjGetErrorStr2(turbo.get()));
    }
    checkSize(decoded.fullWidth, decoded.fullHeight, options.limits);
    const std::int64_t scans = scansOf(bytes);
    if (scans > kMaxScanPixels / (std::int64_t{decoded.fullWidth} * decoded.fullHeight))
        throw InputError(message("photo.too-many-passes", scans));

    const Markers markers = readMarkers(bytes);
    decoded.exif = markers.header.exif;
    for (const int denominator : kDenominators) {
        const int longSide =
            TJSCALED(std::max(decoded.fullWidth, decoded.fullHeight), (tjscalingfactor{1, denominator}));
        if (options.targetLongSide > 0 && longSide >= options.targetLongSide) {
            decoded.denominator = denominator;
            break;
        }
    }
    const tjscalingfactor factor{1, decoded.denominator};
    Picture& picture = decoded.picture;
    picture.width = TJSCALED(decoded.fullWidth, factor);
    picture.height = TJSCALED(decoded.fullHeight, factor);
    const std::size_t pixels = static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height);
    picture.rgb.resize(3 * pixels);

    // A warning means that data was missing or made up: refused like an error. The scans of a progressive file are
    // limited, because thousands of empty ones fit in a small file; above, by the pixels that each goes over.
    const bool cmyk = colourSpace == TJCS_CMYK || colourSpace == TJCS_YCCK;
    std::vector<std::uint8_t> inks(cmyk ? 4 * pixels : 0);
    if (tjDecompress2(turbo.get(), bytes.data(), size, cmyk ? inks.data() : picture.rgb.data(), picture.width, 0,
                      picture.height, cmyk ? TJPF_CMYK : TJPF_RGB, TJFLAG_LIMITSCANS) != 0) {
        refuseDamaged("JPEG", tjGetErrorStr2(turbo.get()));
    }
    if (cmyk) cmykToRgb(inks, markers.adobe, picture.rgb);
    return decoded;
}

}  // namespace codec

std::vector<std::uint8_t> encodeJpeg(const Picture& picture, int quality, JpegColour colour) {
    check(picture.width > 0 && picture.height > 0 &&
              picture.rgb.size() ==
                  std::size_t{3} * static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height),
          "encodeJpeg: the picture's size and its bytes do not agree");
    check(quality >= 1 && quality <= 100, "encodeJpeg: quality must be 1 to 100");
    const codec::Turbo turbo(tjInitCompress(), &tjDestroy);
    if (!turbo) throw std::bad_alloc();
    const int subsampling = colour == JpegColour::Full ? TJSAMP_444 : TJSAMP_420;
    std::vector<std::uint8_t> bytes(tjBufSize(picture.width, picture.height, subsampling));
    unsigned char* buffer = bytes.data();
    auto size = static_cast<unsigned long>(bytes.size());
    if (tjCompress2(turbo.get(), picture.rgb.data(), picture.width, 0, picture.height, TJPF_RGB, &buffer, &size,
                    subsampling, quality, TJFLAG_NOREALLOC) != 0) {
        throw InputError(message("photo.no-jpeg-written", tjGetErrorStr2(turbo.get())));
    }
    bytes.resize(size);
    return bytes;
}

}  // namespace shimsight
