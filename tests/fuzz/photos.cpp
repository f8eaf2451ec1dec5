// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Photos as anyone may send them: decoding, the camera's notes, and the copy without them.
#include "fuzz/targets.h"
#include "shimsight/core.h"
#include "shimsight/photo.h"
#include "shimsight/photo_clean.h"

namespace shimsight::fuzz {
namespace {

/// Small, so that a run is short; what is larger is refused by what it claims, which is tried too.
constexpr DecodeLimits kSmall{.maxPixels = 1'000'000, .maxSide = 4'096, .maxFileBytes = 1'000'000};

void holdsTogether(const Picture& picture) {
    promise(picture.width > 0 && picture.height > 0, "a decoded picture has pixels");
    promise(picture.rgb.size() ==
                std::size_t{3} * static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height),
            "a decoded picture has three bytes a pixel");
}

}  // namespace

void photo(Bytes bytes) {
    std::optional<Photo> whole;
    try {
        whole = decodePhoto(bytes, {.limits = kSmall});
        holdsTogether(whole->picture);
        holdsTogether(decodePhoto(bytes, {.limits = kSmall, .targetLongSide = 64}).picture);
    } catch (const InputError&) {
    }
    CleanPhoto clean;
    try {
        clean = cleanPhoto(bytes, kSmall);
    } catch (const InputError&) {
        return;
    }
    if (clean.reencoded || !whole) return;
    const Photo again = decodePhoto(clean.bytes, {.limits = kSmall});  // what is kept must open again
    promise(again.picture.rgb == whole->picture.rgb, "a cleaned photo has the same pixels");
    promise(cleanPhoto(clean.bytes, kSmall).bytes == clean.bytes, "a cleaned photo is clean");
}

void exif(Bytes bytes) {
    // The notes of a JPEG, its segment in front of a picture that is good.
    static const std::vector<std::uint8_t> picture = encodeJpeg({8, 8, std::vector<std::uint8_t>(192, 90)}, 80);
    if (bytes.size() > 60'000) return;
    std::vector<std::uint8_t> file(picture.begin(), picture.begin() + 2);
    const std::size_t length = bytes.size() + 8;
    for (const std::size_t byte : {std::size_t{0xFF}, std::size_t{0xE1}, length >> 8U, length & 0xFFU})
        file.push_back(static_cast<std::uint8_t>(byte));
    for (const char letter : {'E', 'x', 'i', 'f', '\0', '\0'}) file.push_back(static_cast<std::uint8_t>(letter));
    file.insert(file.end(), bytes.begin(), bytes.end());
    file.insert(file.end(), picture.begin() + 2, picture.end());
    const CameraNotes notes = readCameraNotes(file);
    if (notes.takenAt) promise(notes.takenAt->size() == 19, "a time is told as it is promised");
    if (notes.focalLength35mm) promise(*notes.focalLength35mm > 0, "a focal length is positive");
    const CleanPhoto clean = cleanPhoto(file, kSmall);
    const Photo before = decodePhoto(file, {.limits = kSmall}), after = decodePhoto(clean.bytes, {.limits = kSmall});
    promise(before.picture.rgb == after.picture.rgb, "a cleaned photo stands the same way up");
}

}  // namespace shimsight::fuzz
