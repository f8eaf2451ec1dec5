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

}  // namespace

Exif readExif(std::span<const std::uint8_t> block) {
    constexpr std::string_view kPrefix{"Exif\0\0", 6};
    if (block.size() >= kPrefix.size() && std::equal(kPrefix.begin(), kPrefix.end(), block.begin())) {
        block = block.subspan(kPrefix.size());
    }
    Exif exif;
    if (block.size() < 8 || block[0] != block[1] || (block[0] != 'I' && block[0] != 'M')) return exif;
    const Tiff tiff(block, block[0] == 'M');
    if (tiff.number(2, 2) != 42) return exif;

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
