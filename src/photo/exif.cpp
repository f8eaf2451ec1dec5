// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "photo/exif.h"

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>

namespace shimsight::codec {
namespace {

// Tags and field types of EXIF 2.3.
constexpr std::uint32_t kTagOrientation = 0x0112;
constexpr std::uint32_t kTagExifDirectory = 0x8769;
constexpr std::uint32_t kTagGpsDirectory = 0x8825;
constexpr std::uint32_t kTagDateTimeOriginal = 0x9003;
constexpr std::uint32_t kTagFocalLength35mm = 0xA405;
constexpr std::uint32_t kTypeAscii = 2;
constexpr std::uint32_t kTypeShort = 3;
constexpr std::uint32_t kTypeLong = 4;

constexpr std::size_t kEntryBytes = 12;
constexpr std::size_t kDateTimeBytes = 19;  ///< "YYYY:MM:DD hh:mm:ss" without its final zero

/// Focal lengths of real lenses, mm on 35 mm film; what lies outside is taken for nonsense.
constexpr double kMinFocalLength35mm = 4;
constexpr double kMaxFocalLength35mm = 3000;

/// The block with its byte order; each access is checked.
class Tiff {
public:
    Tiff(std::span<const std::uint8_t> bytes, bool bigEndian) : bytes_(bytes), bigEndian_(bigEndian) {}

    std::optional<std::uint32_t> number(std::size_t position, std::size_t length) const {
        if (position > bytes_.size() || length > bytes_.size() - position) return std::nullopt;
        std::uint32_t value = 0;
        for (std::size_t i = 0; i < length; ++i) {
            value = value << 8 | bytes_[position + (bigEndian_ ? i : length - 1 - i)];
        }
        return value;
    }

    std::optional<std::string> text(std::size_t position, std::size_t length) const {
        if (position > bytes_.size() || length > bytes_.size() - position) return std::nullopt;
        const auto part = bytes_.subspan(position, length);
        return std::string(part.begin(), part.end());
    }

private:
    std::span<const std::uint8_t> bytes_;
    bool bigEndian_;
};

struct Entry {
    std::uint32_t tag = 0;
    std::uint32_t type = 0;
    std::uint32_t count = 0;
    std::size_t valuePosition = 0;  ///< of the four bytes that hold the value or its offset
};

/// Calls `use` with each entry of the directory at `position`.
template <typename Use>
void forEachEntry(const Tiff& tiff, std::size_t position, Use use) {
    const auto count = tiff.number(position, 2);
    for (std::size_t i = 0; count && i < *count; ++i) {
        const std::size_t at = position + 2 + i * kEntryBytes;
        const auto tag = tiff.number(at, 2);
        const auto type = tiff.number(at + 2, 2);
        const auto values = tiff.number(at + 4, 4);
        if (!tag || !type || !values || !tiff.number(at + 8, 4)) return;
        use(Entry{*tag, *type, *values, at + 8});
    }
}

/// A single SHORT or LONG.
std::optional<std::uint32_t> integerOf(const Tiff& tiff, const Entry& entry) {
    if (entry.count != 1) return std::nullopt;
    if (entry.type == kTypeShort) return tiff.number(entry.valuePosition, 2);
    if (entry.type == kTypeLong) return tiff.number(entry.valuePosition, 4);
    return std::nullopt;
}

/// "YYYY-MM-DD hh:mm:ss" from EXIF's "YYYY:MM:DD hh:mm:ss"; anything else is no time.
std::optional<std::string> timeOf(const Tiff& tiff, const Entry& entry) {
    if (entry.type != kTypeAscii || entry.count < kDateTimeBytes) return std::nullopt;
    const auto offset = tiff.number(entry.valuePosition, 4);
    auto text = offset ? tiff.text(*offset, kDateTimeBytes) : std::nullopt;
    if (!text) return std::nullopt;
    constexpr std::string_view kShape = "0000:00:00 00:00:00";
    for (std::size_t i = 0; i < kShape.size(); ++i) {
        const char c = (*text)[i];
        if (kShape[i] == '0' ? (c < '0' || c > '9') : c != kShape[i]) return std::nullopt;
    }
    (*text)[4] = (*text)[7] = '-';
    return text;
}

/// The TIFF block without a prefix; nullopt: it is none.
std::optional<Tiff> tiffOf(std::span<const std::uint8_t> block) {
    constexpr std::string_view kPrefix{"Exif\0\0", 6};
    if (block.size() >= kPrefix.size() && std::equal(kPrefix.begin(), kPrefix.end(), block.begin())) {
        block = block.subspan(kPrefix.size());
    }
    if (block.size() < 8 || block[0] != block[1] || (block[0] != 'I' && block[0] != 'M')) return std::nullopt;
    const Tiff tiff(block, block[0] == 'M');
    if (tiff.number(2, 2) != 42) return std::nullopt;
    return tiff;
}

/// One directory of a little-endian TIFF block that is being written.
class Directory {
public:
    void add(std::uint32_t tag, std::uint32_t type, std::uint32_t count, std::uint32_t value) {
        number(tag, 2), number(type, 2), number(count, 4), number(value, 4);  // a SHORT stands first in its four bytes
        ++entries_;
    }
    static std::uint32_t bytesFor(std::uint32_t entries) {
        return 2 + entries * static_cast<std::uint32_t>(kEntryBytes) + 4;
    }
    void writeTo(std::vector<std::uint8_t>& block) const {
        block.push_back(static_cast<std::uint8_t>(entries_)), block.push_back(0);
        block.insert(block.end(), bytes_.begin(), bytes_.end());
        block.insert(block.end(), 4, 0);  // no further directory
    }

private:
    void number(std::uint32_t value, int length) {
        for (int i = 0; i < length; ++i) bytes_.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
    }
    std::vector<std::uint8_t> bytes_;
    std::uint32_t entries_ = 0;
};

}  // namespace

bool namesLocation(std::span<const std::uint8_t> block) {
    const std::optional<Tiff> tiff = tiffOf(block);
    bool found = false;
    if (tiff)
        forEachEntry(*tiff, tiff->number(4, 4).value_or(0),
                     [&](const Entry& entry) { found = found || entry.tag == kTagGpsDirectory; });
    return found;
}

std::vector<std::uint8_t> writeExif(const Exif& exif) {
    const bool turned = exif.orientation != 1, timed = exif.notes.takenAt.has_value(),
               focal = exif.notes.focalLength35mm.has_value();
    if (!turned && !timed && !focal) return {};
    constexpr std::uint32_t kFirst = 8;
    const std::uint32_t second = kFirst + Directory::bytesFor((turned ? 1U : 0U) + (timed || focal ? 1U : 0U));
    const std::uint32_t behind = second + Directory::bytesFor((timed ? 1U : 0U) + (focal ? 1U : 0U));
    std::vector<std::uint8_t> block{'I', 'I', 42, 0, kFirst, 0, 0, 0};
    Directory first;
    if (turned) first.add(kTagOrientation, kTypeShort, 1, static_cast<std::uint32_t>(exif.orientation));
    if (timed || focal) first.add(kTagExifDirectory, kTypeLong, 1, second);
    first.writeTo(block);
    if (!timed && !focal) return block;
    Directory details;
    if (timed) details.add(kTagDateTimeOriginal, kTypeAscii, kDateTimeBytes + 1, behind);
    if (focal) details.add(kTagFocalLength35mm, kTypeShort, 1, static_cast<std::uint32_t>(*exif.notes.focalLength35mm));
    details.writeTo(block);
    if (timed) {
        std::string time = *exif.notes.takenAt;
        time[4] = time[7] = ':';
        block.insert(block.end(), time.begin(), time.end());
        block.push_back(0);
    }
    return block;
}

Exif readExif(std::span<const std::uint8_t> block) {
    Exif exif;
    const std::optional<Tiff> found = tiffOf(block);
    if (!found) return exif;
    const Tiff& tiff = *found;

    std::optional<std::uint32_t> exifDirectory;
    forEachEntry(tiff, tiff.number(4, 4).value_or(0), [&](const Entry& entry) {
        const auto value = integerOf(tiff, entry);
        if (!value) return;
        if (entry.tag == kTagOrientation && *value >= 1 && *value <= 8) exif.orientation = static_cast<int>(*value);
        if (entry.tag == kTagExifDirectory) exifDirectory = value;
    });
    if (!exifDirectory) return exif;
    forEachEntry(tiff, *exifDirectory, [&](const Entry& entry) {
        if (entry.tag == kTagDateTimeOriginal) exif.notes.takenAt = timeOf(tiff, entry);
        if (entry.tag == kTagFocalLength35mm) {
            const double value = integerOf(tiff, entry).value_or(0);
            if (value >= kMinFocalLength35mm && value <= kMaxFocalLength35mm) exif.notes.focalLength35mm = value;
        }
    });
    return exif;
}

}  // namespace shimsight::codec
