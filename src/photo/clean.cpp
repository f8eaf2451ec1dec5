// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <zlib.h>

#include <algorithm>
#include <string_view>
#include <utility>

#include "photo/decoders.h"
#include "shimsight/core.h"
#include "shimsight/photo_clean.h"

namespace shimsight {
namespace {

using codec::Bytes;
using codec::hasText;
using Buffer = std::vector<std::uint8_t>;

/// JPEG quality for HEIC pictures: above the loss that HEIC itself has made.
constexpr int kReencodedQuality = 95;

constexpr std::string_view kExifPrefix{"Exif\0\0", 6};

void append(Buffer& out, Bytes bytes) { out.insert(out.end(), bytes.begin(), bytes.end()); }
void append(Buffer& out, std::string_view text) { out.insert(out.end(), text.begin(), text.end()); }

void appendBig(Buffer& out, std::size_t value, int length) {
    for (int i = length - 1; i >= 0; --i) out.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
}

void appendLittle(Buffer& out, std::size_t value, int length) {
    for (int i = 0; i < length; ++i) out.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
}

/// What was left out, each kind once, in the order of importance.
class Removed {
public:
    enum Kind { Location, CameraData, Texts, OtherData, Trailer };
    void add(Kind kind) { kinds_[kind] = true; }
    std::vector<std::string> words() const {
        static constexpr const char* kWords[] = {"photo.location", "photo.camera-data", "photo.texts",
                                                 "photo.other-data", "photo.trailer"};
        std::vector<std::string> words;
        for (std::size_t i = 0; i < 5; ++i)
            if (kinds_[i]) words.push_back(say(kWords[i]));
        return words;
    }

private:
    bool kinds_[5] = {};
};

void noteExif(Removed& removed, Bytes block) {
    removed.add(Removed::CameraData);
    if (codec::namesLocation(block)) removed.add(Removed::Location);
}

// JPEG (ITU-T T.81 annex B; APP markers: JFIF 1.02, EXIF 2.3, ICC.1 annex B.4)
// -----------------------------------------

/// Segments that the picture needs, or that say how its colours are meant.
bool isJpegPart(int marker, Bytes content) {
    if (marker == 0xFE) return false;                 // a comment
    if (marker < 0xE0 || marker > 0xEF) return true;  // tables, frames, scans
    if (marker == 0xE0) return hasText(content, 0, {"JFIF\0", 5});
    if (marker == 0xE2) return hasText(content, 0, {"ICC_PROFILE\0", 12});
    return marker == 0xEE && hasText(content, 0, "Adobe");
}

void noteJpegSegment(Removed& removed, int marker, Bytes content) {
    if (marker == 0xE1 && hasText(content, 0, kExifPrefix))
        noteExif(removed, content);
    else if (marker == 0xE1 || marker == 0xED || marker == 0xFE)
        removed.add(Removed::Texts);  // XMP, IPTC, comments
    else
        removed.add(Removed::OtherData);
}

/// The JFIF header with version and density; without its small picture, and what else may stand behind.
void appendJfif(Buffer& out, Bytes content, Removed& removed) {
    constexpr std::size_t kHeader = 14, kKept = 12;  // the last two bytes are the small picture's size
    if (content.size() < kHeader) codec::refuseDamaged("JPEG");
    if (content.size() > kHeader) removed.add(Removed::OtherData);
    appendBig(out, 0xFFE0, 2);
    appendBig(out, 2 + kHeader, 2);
    append(out, content.first(kKept));
    appendBig(out, 0, 2);
}

/// Coded data run to the next marker that is neither a stuffed zero nor a restart; fill bytes (0xFF) before one of
/// these belong to the data (ISO/IEC 10918-1, B.1.1.2 and F.1.2.3). Without such a marker they run to the end.
std::size_t endOfCodedData(Bytes bytes, std::size_t at) {
    for (; at < bytes.size(); ++at) {
        if (bytes[at] != 0xFF) continue;
        std::size_t code = at + 1;
        while (code < bytes.size() && bytes[code] == 0xFF) ++code;
        if (code == bytes.size()) break;
        if (bytes[code] != 0 && !(bytes[code] >= 0xD0 && bytes[code] <= 0xD7)) return at;
        at = code;
    }
    return bytes.size();
}

Buffer cleanJpeg(Bytes bytes, const Buffer& exif, Removed& removed) {
    Buffer out{0xFF, 0xD8};
    std::size_t at = 2;
    bool exifWritten = exif.empty();
    const auto writeExif = [&] {
        if (std::exchange(exifWritten, true)) return;
        appendBig(out, 0xFFE1, 2);
        appendBig(out, 2 + kExifPrefix.size() + exif.size(), 2);
        append(out, kExifPrefix);
        append(out, exif);
    };
    bool scanSeen = false;
    while (true) {
        // A picture cut short is kept as far as it goes; its reading says what is wrong with it.
        if (scanSeen && at + 4 > bytes.size()) {
            append(out, bytes.subspan(std::min(at, bytes.size())));
            return out;
        }
        if (at + 4 > bytes.size() && !(at + 2 <= bytes.size() && bytes[at] == 0xFF && bytes[at + 1] == 0xD9))
            codec::refuseDamaged("JPEG");
        if (bytes[at] != 0xFF) codec::refuseDamaged("JPEG");
        const int marker = bytes[at + 1];
        if (marker == 0xFF) {  // fill byte
            ++at;
            continue;
        }
        if (marker == 0xD9) {
            appendBig(out, 0xFFD9, 2);
            if (at + 2 < bytes.size()) removed.add(Removed::Trailer);
            return out;
        }
        if (marker == 0x01 || (marker >= 0xD0 && marker <= 0xD7)) {
            append(out, bytes.subspan(at, 2));
            at += 2;
            continue;
        }
        const std::size_t length = codec::bigEndian(bytes, at + 2, 2);
        if (length < 2 || length > bytes.size() - at - 2) {
            if (!scanSeen) codec::refuseDamaged("JPEG");
            // Cut inside a segment: of notes nothing is kept, not even their beginning.
            if (isJpegPart(marker, {}))
                append(out, bytes.subspan(at));
            else
                removed.add(Removed::OtherData);
            return out;
        }
        const Bytes content = bytes.subspan(at + 4, length - 2);
        if (marker != 0xE0) writeExif();  // behind JFIF, before the rest
        if (marker == 0xE0 && isJpegPart(marker, content))
            appendJfif(out, content, removed);
        else if (isJpegPart(marker, content))
            append(out, bytes.subspan(at, 2 + length));
        else
            noteJpegSegment(removed, marker, content);
        at += 2 + length;
        if (marker != 0xDA) continue;
        scanSeen = true;
        const std::size_t start = at;
        at = endOfCodedData(bytes, at);
        append(out, bytes.subspan(start, at - start));
    }
}

// PNG (ISO/IEC 15948) ------------------------------------------------------------------------------------------------

bool isPngPart(std::string_view type) {
    static constexpr std::string_view kParts[] = {"IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM",
                                                  "sRGB", "iCCP", "sBIT", "bKGD", "pHYs", "cICP"};
    return std::find(std::begin(kParts), std::end(kParts), type) != std::end(kParts);
}

void appendChunk(Buffer& out, std::string_view type, Bytes content) {
    appendBig(out, content.size(), 4);
    const std::size_t start = out.size();
    append(out, type);
    append(out, content);
    appendBig(out, crc32(0, out.data() + start, static_cast<uInt>(out.size() - start)), 4);
}

Buffer cleanPng(Bytes bytes, const Buffer& exif, Removed& removed) {
    constexpr std::size_t kSignature = 8, kAround = 12;
    Buffer out(bytes.begin(), bytes.begin() + kSignature);
    std::size_t at = kSignature;
    bool dataSeen = false;
    while (true) {
        const std::size_t left = bytes.size() - at;
        const std::size_t length = left >= kAround ? codec::bigEndian(bytes, at, 4) : 0;
        if (left < kAround || length > left - kAround) {
            // Cut short inside the picture data: kept as far as it goes.
            if (!dataSeen && !(left > 8 && hasText(bytes, at + 4, "IDAT"))) codec::refuseDamaged("PNG");
            append(out, bytes.subspan(at));
            return out;
        }
        const std::string_view type(reinterpret_cast<const char*>(bytes.data()) + at + 4, 4);
        const Bytes content = bytes.subspan(at + 8, length);
        if (isPngPart(type)) {
            append(out, bytes.subspan(at, length + kAround));
        } else if (type == "eXIf") {
            noteExif(removed, content);
        } else {
            removed.add(type == "tEXt" || type == "zTXt" || type == "iTXt" ? Removed::Texts : Removed::OtherData);
        }
        at += length + kAround;
        if (type == "IHDR" && !exif.empty()) appendChunk(out, "eXIf", exif);
        dataSeen = dataSeen || type == "IDAT";
        if (type == "IEND") {
            if (at < bytes.size()) removed.add(Removed::Trailer);
            return out;
        }
    }
}

// WebP (Google, "WebP Container Specification") ----------------------------------------------------------------------

Buffer cleanWebP(Bytes bytes, const Buffer& exif, Removed& removed) {
    constexpr std::size_t kHeader = 12;
    constexpr std::uint8_t kHasExif = 0x08, kHasXmp = 0x04;
    const auto little = [&](std::size_t at) {
        return static_cast<std::size_t>(bytes[at]) | static_cast<std::size_t>(bytes[at + 1]) << 8 |
               static_cast<std::size_t>(bytes[at + 2]) << 16 | static_cast<std::size_t>(bytes[at + 3]) << 24;
    };
    if (bytes.size() < kHeader) codec::refuseDamaged("WebP");
    const std::size_t end = std::min(bytes.size(), little(4) + 8);
    if (end < bytes.size()) removed.add(Removed::Trailer);
    Buffer out(bytes.begin(), bytes.begin() + kHeader);
    std::optional<std::size_t> flags;
    std::size_t at = kHeader;
    while (at + 8 <= end) {
        const std::string_view type(reinterpret_cast<const char*>(bytes.data()) + at, 4);
        const std::size_t length = little(at + 4);
        if (length > end - at - 8) codec::refuseDamaged("WebP");
        const std::size_t whole = std::min(8 + length + length % 2, end - at);
        if (type == "EXIF") {
            noteExif(removed, bytes.subspan(at + 8, length));
        } else if (type == "XMP ") {
            removed.add(Removed::Texts);
        } else if (type == "VP8X" || type == "VP8 " || type == "VP8L" || type == "ALPH" || type == "ICCP" ||
                   type == "ANIM" || type == "ANMF") {
            if (type == "VP8X" && length > 0) flags = out.size() + 8;
            append(out, bytes.subspan(at, whole));
            if (whole < 8 + length + length % 2) out.push_back(0);
        } else {
            removed.add(Removed::OtherData);
        }
        at += whole;
    }
    if (flags) {
        out[*flags] = static_cast<std::uint8_t>(out[*flags] & ~(kHasExif | kHasXmp));
        if (!exif.empty()) {
            out[*flags] |= kHasExif;
            append(out, "EXIF");
            appendLittle(out, exif.size(), 4);
            append(out, exif);
            if (exif.size() % 2 != 0) out.push_back(0);
        }
    }
    Buffer size;
    appendLittle(size, out.size() - 8, 4);
    std::copy(size.begin(), size.end(), out.begin() + 4);
    return out;
}

CleanPhoto cleanHeic(Bytes bytes, const DecodeLimits& limits) {
    const Photo photo = decodePhoto(bytes, {.limits = limits, .targetLongSide = 0});
    CleanPhoto clean;
    clean.notes = photo.notes;
    clean.reencoded = true;
    clean.width = photo.fullWidth;
    clean.height = photo.fullHeight;
    Removed nothing;
    clean.bytes = cleanJpeg(encodeJpeg(photo.picture, kReencodedQuality, JpegColour::Full),
                            codec::writeExif({.orientation = 1, .notes = photo.notes}), nothing);
    // What an HEIC holds beside its picture is not looked through: nothing of it comes along.
    clean.removed = {say("photo.all-data")};
    return clean;
}

}  // namespace

std::string_view extensionOf(PhotoFormat format) {
    switch (format) {
        case PhotoFormat::Jpeg:
            return "jpg";
        case PhotoFormat::Png:
            return "png";
        case PhotoFormat::WebP:
            return "webp";
        case PhotoFormat::Heic:
            return "heic";
    }
    throw std::logic_error("extensionOf: unknown format");
}

CleanPhoto cleanPhoto(std::span<const std::uint8_t> bytes, const DecodeLimits& limits) {
    if (bytes.empty()) throw InputError(message("photo.empty-file"));
    const auto format = photoFormatOf(bytes);
    if (!format) throw InputError(message("photo.no-photo"));
    if (*format == PhotoFormat::Heic) return cleanHeic(bytes, limits);
    const codec::Header header = *format == PhotoFormat::Jpeg  ? codec::headerOfJpeg(bytes)
                                 : *format == PhotoFormat::Png ? codec::headerOfPng(bytes)
                                                               : codec::headerOfWebP(bytes);
    const Buffer block = codec::writeExif(header.exif);
    CleanPhoto clean;
    clean.format = *format;
    clean.notes = header.exif.notes;
    clean.width = header.width;
    clean.height = header.height;
    if (header.exif.orientation >= 5) std::swap(clean.width, clean.height);
    Removed removed;
    clean.bytes = *format == PhotoFormat::Jpeg  ? cleanJpeg(bytes, block, removed)
                  : *format == PhotoFormat::Png ? cleanPng(bytes, block, removed)
                                                : cleanWebP(bytes, block, removed);
    clean.removed = removed.words();
    return clean;
}

}  // namespace shimsight
