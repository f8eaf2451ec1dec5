// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <catch2/catch.hpp>
#include <string_view>

#include "fixtures.h"
#include "shimsight/core.h"
#include "shimsight/photo_clean.h"

using namespace shimsight;
using namespace shimsight::test;

namespace {

/// exifBlock with a directory of positions (tag 0x8825, EXIF 2.3) in place of its second entry's neighbour: the block
/// of exifBlock, then a first directory that also points to a made-up place.
Bytes exifWithLocation(int orientation) {
    Bytes block;
    append(block, "II");
    appendNumber(block, 42, 2, false);
    appendNumber(block, 8, 4, false);
    appendNumber(block, 3, 2, false);
    const auto entry = [&](std::uint32_t tag, std::uint32_t type, std::uint32_t count, std::uint32_t value) {
        appendNumber(block, tag, 2, false);
        appendNumber(block, type, 2, false);
        appendNumber(block, count, 4, false);
        appendNumber(block, value, 4, false);
    };
    entry(0x0112, 3, 1, static_cast<std::uint32_t>(orientation));
    entry(0x8769, 4, 1, 50);
    entry(0x8825, 4, 1, 88);
    appendNumber(block, 0, 4, false);
    REQUIRE(block.size() == 50);
    appendNumber(block, 2, 2, false);
    entry(0x9003, 2, 20, 120);
    entry(0xA405, 3, 1, 26);
    appendNumber(block, 0, 4, false);
    block.resize(88);
    appendNumber(block, 1, 2, false);
    entry(0x001D, 2, 11, 140);
    appendNumber(block, 0, 4, false);
    block.resize(120);
    append(block, "2026:03:14 09:26:53");
    block.push_back(0);
    append(block, "SECRETPLACE");
    return block;
}

bool holds(const Bytes& bytes, std::string_view text) {
    return std::search(bytes.begin(), bytes.end(), text.begin(), text.end()) != bytes.end();
}

bool names(const CleanPhoto& clean, std::string_view word) {
    return std::find(clean.removed.begin(), clean.removed.end(), word) != clean.removed.end();
}

/// Same pixels, same turn, same time; nothing of the place.
void checkClean(const Bytes& original, const CleanPhoto& clean, PhotoFormat format) {
    CHECK(clean.format == format);
    CHECK_FALSE(clean.reencoded);
    CHECK_FALSE(holds(clean.bytes, "SECRET"));
    const Photo before = decodePhoto(original), after = decodePhoto(clean.bytes);
    CHECK(after.picture.width == before.picture.width);
    CHECK(clean.width == before.fullWidth);
    CHECK(clean.height == before.fullHeight);
    CHECK(after.picture.rgb == before.picture.rgb);
    CHECK(after.notes.takenAt == before.notes.takenAt);
    CHECK(after.notes.focalLength35mm == before.notes.focalLength35mm);
    CHECK(clean.notes.takenAt == before.notes.takenAt);
    CHECK(cleanPhoto(clean.bytes).bytes == clean.bytes);
}

Bytes textBytes(std::string_view text) { return {text.begin(), text.end()}; }

}  // namespace

TEST_CASE("a JPEG loses all but picture, turn, time and focal length") {
    for (const int flags : {0, TJFLAG_PROGRESSIVE}) {
        for (const int orientation : {1, 6}) {
            Bytes jpeg = makeJpeg(slopes(97, 61), TJSAMP_420, flags);
            jpeg = withSegment(jpeg, 0xE2, textBytes(std::string_view("ICC_PROFILE\0\1\1profile", 21)));
            jpeg = withSegment(jpeg, 0xE2, textBytes(std::string_view("MPF\0SECRET", 10)));
            jpeg = withSegment(jpeg, 0xE1, textBytes("http://ns.adobe.com/xap/1.0/ SECRET"));
            jpeg = withSegment(jpeg, 0xED, textBytes("Photoshop 3.0 SECRET"));
            jpeg = withSegment(jpeg, 0xFE, textBytes("SECRET comment"));
            jpeg = jpegWithExif(jpeg, exifWithLocation(orientation));
            append(jpeg, "ftypmp42 SECRET film");
            const CleanPhoto clean = cleanPhoto(jpeg);
            checkClean(jpeg, clean, PhotoFormat::Jpeg);
            CHECK(clean.removed.front() == "location");
            CHECK(names(clean, "camera data"));
            CHECK(names(clean, "texts"));
            CHECK(names(clean, "other data with the picture"));
            CHECK(names(clean, "data after the picture"));
            CHECK(holds(clean.bytes, "ICC_PROFILE"));
            CHECK(clean.notes.takenAt == "2026-03-14 09:26:53");
        }
    }
}

TEST_CASE("a JPEG with an Adobe marker keeps its colours") {
    Bytes cmyk(4 * 16 * 16);
    for (std::size_t i = 0; i < cmyk.size(); ++i) cmyk[i] = static_cast<std::uint8_t>(i * 7);
    const Bytes jpeg = makeCmykJpeg(16, 16, cmyk);
    checkClean(jpeg, cleanPhoto(jpeg), PhotoFormat::Jpeg);
    CHECK(cleanPhoto(makeJpeg(strips())).removed.empty());
}

TEST_CASE("a PNG loses texts, times and positions") {
    Bytes png = encodePng(slopes(40, 30));
    Bytes more = chunk("eXIf", exifWithLocation(3));
    append(more, chunk("tEXt", textBytes("Author SECRET")));
    append(more, chunk("tIME", {7, 234, 1, 1, 1, 1, 1}));
    append(more, chunk("gAMA", {0, 0, 177, 143}));
    png = withChunk(png, more);
    append(png, "SECRET");
    const CleanPhoto clean = cleanPhoto(png);
    checkClean(png, clean, PhotoFormat::Png);
    CHECK(clean.removed == std::vector<std::string>{"location", "camera data", "texts", "other data with the picture",
                                                    "data after the picture"});
    CHECK(holds(clean.bytes, "gAMA"));
}

TEST_CASE("a WebP loses its notes, lossy or not") {
    for (const bool lossless : {false, true}) {
        const Bytes plain = makeWebP(slopes(41, 33), lossless);
        CHECK(cleanPhoto(plain).bytes == plain);
        Bytes webP = webPWithExif(plain, exifWithLocation(8));
        append(webP, "SECRET");
        const CleanPhoto clean = cleanPhoto(webP);
        checkClean(webP, clean, PhotoFormat::WebP);
        CHECK(names(clean, "location"));
    }
}

TEST_CASE("an HEIC becomes an upright JPEG, and says so") {
    if (!hasHevcEncoder()) {
        WARN("no HEVC encoder here: not tested");
        return;
    }
    const Picture picture = strips(96, 64);
    const Bytes heic = makeHeic(picture, 6, exifWithLocation(6));
    const CleanPhoto clean = cleanPhoto(heic);
    CHECK(clean.reencoded);
    CHECK(clean.format == PhotoFormat::Jpeg);
    CHECK_FALSE(holds(clean.bytes, "SECRET"));
    const Photo before = decodePhoto(heic), after = decodePhoto(clean.bytes);
    CHECK(largestDifference(before.picture, after.picture) <= 8);
    CHECK(after.notes.takenAt == before.notes.takenAt);
}

TEST_CASE("a photo cut short is cleaned as far as it goes, or refused; never read beyond") {
    Bytes jpeg = jpegWithExif(makeJpeg(slopes(97, 61), TJSAMP_420, TJFLAG_PROGRESSIVE), exifWithLocation(6));
    append(jpeg, "SECRET");
    const Bytes png = withChunk(encodePng(slopes(40, 30)), chunk("tEXt", textBytes("SECRET")));
    const Bytes webP = webPWithExif(makeWebP(slopes(41, 33)), exifWithLocation(8));
    int refused = 0, kept = 0;
    for (const Bytes& whole : {jpeg, png, webP}) {
        for (std::size_t length = 0; length < whole.size(); ++length) {
            try {
                const CleanPhoto clean = cleanPhoto(Bytes(whole.begin(), whole.begin() + static_cast<long>(length)));
                CHECK_FALSE(holds(clean.bytes, "SECRET"));
                ++kept;
            } catch (const InputError& error) {
                CHECK(std::string_view(error.what()).ends_with('.'));
                ++refused;
            }
        }
    }
    CHECK(refused > 100);
    CHECK(kept > 100);
}

TEST_CASE("broken bytes in a photo never take the cleaner astray") {
    const Bytes jpeg = jpegWithExif(makeJpeg(slopes(97, 61)), exifWithLocation(6));
    const Bytes png = withChunk(encodePng(slopes(40, 30)), chunk("eXIf", exifWithLocation(3)));
    const Bytes webP = webPWithExif(makeWebP(slopes(41, 33)), exifWithLocation(8));
    Random random(7);
    for (const Bytes& whole : {jpeg, png, webP}) {
        for (int i = 0; i < 3000; ++i) {
            Bytes broken = whole;
            for (int k = random.integer(1, 6); k > 0; --k)
                broken[static_cast<std::size_t>(
                    random.integer(3, static_cast<int>(std::min<std::size_t>(broken.size(), 400)) - 1))] =
                    static_cast<std::uint8_t>(random.integer(0, 255));
            try {
                (void)cleanPhoto(broken);
            } catch (const InputError&) {
                continue;
            }
        }
    }
    SUCCEED();
}

TEST_CASE("a JPEG's JFIF header loses its small picture, and a cut segment behind the picture its beginning") {
    const Bytes plain = encodeJpeg(paint(64, 48, [](int, int) { return kGreen; }), 90);
    const std::size_t header = find(plain, "JFIF");
    // ITU-T T.871: size of the small picture in the last two bytes, then its pixels.
    Bytes large(plain.begin(), plain.begin() + static_cast<std::ptrdiff_t>(header + 12));
    append(large, {4, 1});
    append(large, "SECRETPIXEL.");
    large.insert(large.end(), plain.begin() + static_cast<std::ptrdiff_t>(header + 14), plain.end());
    large[header - 1] = static_cast<std::uint8_t>(16 + 12);
    const CleanPhoto clean = cleanPhoto(large);
    CHECK_FALSE(holds(clean.bytes, "SECRET"));
    CHECK(names(clean, "other data with the picture"));
    CHECK(decodePhoto(clean.bytes).picture.rgb == decodePhoto(plain).picture.rgb);

    Bytes cut(plain.begin(), plain.end() - 2);
    append(cut, {0xFF, 0xE1, 0x40, 0x00});
    append(cut, "Exif SECRETPLACE");
    CHECK_FALSE(holds(cleanPhoto(cut).bytes, "SECRET"));
}
