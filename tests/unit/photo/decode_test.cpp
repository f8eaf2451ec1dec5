// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "fixtures.h"
#include "shimsight/core.h"
#include "shimsight/photo.h"

using namespace shimsight;
using namespace shimsight::test;

namespace {

/// Error allowed for one sample after lossy coding at high quality, smooth pictures and the middles of even areas.
constexpr int kLossyTolerance = 12;

enum class Edge { Top, Right, Bottom, Left };

/// EXIF 2.3, tag 0x0112: where the first stored row and the first stored column are seen in the upright picture.
struct OrientationRow {
    int orientation;
    Edge firstRow, firstColumn;
};
constexpr OrientationRow kOrientations[] = {
    {1, Edge::Top, Edge::Left},     {2, Edge::Top, Edge::Right},   {3, Edge::Bottom, Edge::Right},
    {4, Edge::Bottom, Edge::Left},  {5, Edge::Left, Edge::Top},    {6, Edge::Right, Edge::Top},
    {7, Edge::Right, Edge::Bottom}, {8, Edge::Left, Edge::Bottom},
};

Colour middleOf(const Picture& picture, Edge edge) {
    constexpr int kIn = kStrip / 2;
    switch (edge) {
        case Edge::Top:
            return at(picture, picture.width / 2, kIn);
        case Edge::Right:
            return at(picture, picture.width - 1 - kIn, picture.height / 2);
        case Edge::Bottom:
            return at(picture, picture.width / 2, picture.height - 1 - kIn);
        case Edge::Left:
            return at(picture, kIn, picture.height / 2);
    }
    throw std::logic_error("no such edge");
}

/// `photo` was made from strips() and asks for `row.orientation`.
void checkUpright(const Photo& photo, const OrientationRow& row) {
    INFO("orientation " << row.orientation);
    const bool swapped = row.orientation >= 5;
    CHECK(photo.picture.width == (swapped ? 64 : 96));
    CHECK(photo.picture.height == (swapped ? 96 : 64));
    CHECK(photo.fullWidth == photo.picture.width);
    CHECK(photo.fullHeight == photo.picture.height);
    for (const Edge edge : {Edge::Top, Edge::Right, Edge::Bottom, Edge::Left}) {
        const Colour expected = edge == row.firstRow ? kRed : edge == row.firstColumn ? kGreen : kGrey;
        INFO("edge " << static_cast<int>(edge));
        CHECK(near(middleOf(photo.picture, edge), expected, kLossyTolerance));
    }
}

/// Skips the rest of a test, in words, where no HEVC encoder is there to make the fixture.
#define NEED_HEVC_ENCODER()                                                               \
    if (!hasHevcEncoder()) {                                                              \
        WARN("skipped: libheif has no HEVC encoder here; install libheif1 with libx265"); \
        return;                                                                           \
    }

}  // namespace

TEST_CASE("each format is told by its content and comes back as it was") {
    const Picture picture = slopes(97, 61);
    const auto check = [&](const Bytes& bytes, PhotoFormat format, int tolerance) {
        const Photo photo = decodePhoto(bytes);
        INFO(photoFormatName(format));
        CHECK(photo.format == format);
        CHECK(photo.fullWidth == 97);
        CHECK(photo.fullHeight == 61);
        CHECK(photo.scale == 1.0);
        CHECK_FALSE(photo.notes.takenAt);
        CHECK_FALSE(photo.notes.focalLength35mm);
        CHECK(largestDifference(photo.picture, picture) <= tolerance);
    };
    check(makeJpeg(picture), PhotoFormat::Jpeg, kLossyTolerance);
    check(makeJpeg(picture, TJSAMP_420, TJFLAG_PROGRESSIVE), PhotoFormat::Jpeg, kLossyTolerance);
    check(encodeJpeg(picture, 95), PhotoFormat::Jpeg, kLossyTolerance);
    check(encodeJpeg(picture, 95, JpegColour::Full), PhotoFormat::Jpeg, kLossyTolerance);
    check(encodePng(picture), PhotoFormat::Png, 0);
    check(makeWebP(picture, true), PhotoFormat::WebP, 0);
    check(makeWebP(picture), PhotoFormat::WebP, kLossyTolerance);
    NEED_HEVC_ENCODER();
    check(makeHeic(picture), PhotoFormat::Heic, kLossyTolerance);
}

TEST_CASE("all eight EXIF orientations are applied for JPEG, PNG and WebP") {
    const Picture picture = strips();
    const Bytes jpeg = makeJpeg(picture);
    const Bytes png = encodePng(picture);
    const Bytes webP = makeWebP(picture);
    for (const OrientationRow& row : kOrientations) {
        for (const bool bigEndian : {false, true}) {
            const Bytes exif = exifBlock(row.orientation, bigEndian);
            checkUpright(decodePhoto(jpegWithExif(jpeg, exif)), row);
            checkUpright(decodePhoto(withChunk(png, chunk("eXIf", exif))), row);
            checkUpright(decodePhoto(webPWithExif(webP, exif)), row);
        }
    }
}

TEST_CASE("HEIC turns by its own boxes, whatever its EXIF says") {
    NEED_HEVC_ENCODER();
    for (const OrientationRow& row : kOrientations) {
        checkUpright(decodePhoto(makeHeic(strips(), row.orientation)), row);
        checkUpright(decodePhoto(makeHeic(strips(), row.orientation, exifBlock(3))), row);
    }
}

TEST_CASE("the time and the focal length are read") {
    const Picture picture = strips();
    const auto check = [](const Bytes& bytes) {
        const Photo photo = decodePhoto(bytes);
        CHECK(photo.notes.takenAt == "2026-03-14 09:26:53");
        CHECK(photo.notes.focalLength35mm == 26.0);
        const CameraNotes alone = readCameraNotes(bytes);
        CHECK(alone.takenAt == photo.notes.takenAt);
        CHECK(alone.focalLength35mm == photo.notes.focalLength35mm);
        CHECK_FALSE(readCameraNotes(std::span(bytes).first(20)).takenAt);
    };
    check(jpegWithExif(makeJpeg(picture), exifBlock(6)));
    check(jpegWithExif(makeJpeg(picture), exifBlock(1, true)));
    check(withChunk(encodePng(picture), chunk("eXIf", exifBlock(6))));
    check(webPWithExif(makeWebP(picture), exifBlock(6)));
    if (hasHevcEncoder()) check(makeHeic(picture, 1, exifBlock(6)));
}

TEST_CASE("the notes of a JPEG stand in its first part") {
    const Bytes jpeg = jpegWithExif(makeJpeg(slopes(801, 603)), exifBlock(6));
    CHECK(readCameraNotes(std::span(jpeg).first(jpeg.size() / 10)).takenAt == "2026-03-14 09:26:53");
    CHECK_FALSE(readCameraNotes(Bytes{'n', 'o'}).takenAt);
    CHECK_FALSE(photoFormatOf(Bytes{'n', 'o'}));
    CHECK(photoFormatOf(std::span(jpeg).first(16)) == PhotoFormat::Jpeg);
}

TEST_CASE("nonsense in EXIF counts as absent") {
    const Bytes jpeg = makeJpeg(strips());
    const auto notes = [&](const Bytes& exif) { return decodePhoto(jpegWithExif(jpeg, exif)).notes; };
    CHECK_FALSE(notes(exifBlock(1, false, "2026-03-14 09:26:53")).takenAt);
    CHECK_FALSE(notes(exifBlock(1, false, "\x1B[31m:03:14 09:26:53")).takenAt);
    CHECK_FALSE(notes(exifBlock(1, false, "2026:03:14 09:26:53", 0)).focalLength35mm);
    CHECK_FALSE(notes(exifBlock(1, false, "2026:03:14 09:26:53", 60000)).focalLength35mm);
    for (const int orientation : {0, 9, 65535}) {
        checkUpright(decodePhoto(jpegWithExif(jpeg, exifBlock(orientation))), kOrientations[0]);
    }
    // Cut anywhere, it is read as far as it goes and never further.
    const Bytes whole = exifBlock(6);
    for (std::size_t length = 0; length < whole.size(); ++length) {
        const Bytes part(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(length));
        const Photo photo = decodePhoto(jpegWithExif(jpeg, part));
        INFO("length " << length);
        CHECK(photo.fullWidth == (length >= 22 ? 64 : 96));  // the orientation's entry ends at 22
        CHECK(photo.notes.takenAt.has_value() == (length + 1 == whole.size()));
    }
}

TEST_CASE("a large JPEG is reduced while it is decoded, to no less than asked for") {
    const Bytes jpeg = jpegWithExif(makeJpeg(slopes(801, 603)), exifBlock(6));
    struct Row {
        int target, width, height;
        double scale;
    };
    // Sides round up: the last pixel may reach past the edge.
    for (const Row& row :
         {Row{0, 603, 801, 1}, Row{801, 603, 801, 1}, Row{402, 603, 801, 1}, Row{401, 302, 401, 0.5},
          Row{202, 302, 401, 0.5}, Row{201, 151, 201, 0.25}, Row{101, 76, 101, 0.125}, Row{1, 76, 101, 0.125}}) {
        const Photo photo = decodePhoto(jpeg, {{}, row.target});
        INFO("target " << row.target);
        CHECK(photo.picture.width == row.width);
        CHECK(photo.picture.height == row.height);
        CHECK(photo.scale == row.scale);
        CHECK(photo.fullWidth == 603);
        CHECK(photo.fullHeight == 801);
        // The upright picture's x runs against the stored y, its y along the stored x: the middle stays the middle.
        CHECK(near(at(photo.picture, row.width / 2, row.height / 2), {127, 127, 137}, kLossyTolerance));
        CHECK(near(at(photo.picture, row.width / 2, row.height / 4), {63, 127, 119}, kLossyTolerance));
    }
}

TEST_CASE("a reduced photo is had again at full size from its file") {
    const std::filesystem::path path = SHIMSIGHT_SOURCE_DIR "/samples/van-b-good/drive.jpg";
    const Photo reduced = loadPhoto(path, {.limits = {}, .targetLongSide = 400});
    REQUIRE(reduced.scale < 1);
    const auto full = atFullSize(reduced);
    REQUIRE(full);
    CHECK(full->scale == 1);
    CHECK(full->picture.rgb == loadPhoto(path).picture.rgb);
    CHECK_FALSE(atFullSize(*full));
    CHECK_FALSE(loadPhoto(path).file);
}

TEST_CASE("grey and CMYK JPEGs become RGB") {
    const Photo grey = decodePhoto(makeJpeg(paint(40, 30, [](int, int) { return Colour{90, 90, 90}; }), TJSAMP_GRAY));
    CHECK(near(at(grey.picture, 20, 15), {90, 90, 90}, 2));

    const auto cmykJpeg = [](Bytes pixel) {
        Bytes all;
        for (int i = 0; i < 32 * 16; ++i) append(all, pixel);
        return makeCmykJpeg(32, 16, all);
    };
    // With the Adobe marker 255 is no ink (common practice of the programs that write such files, no source).
    CHECK(near(at(decodePhoto(cmykJpeg({255, 255, 255, 255})).picture, 16, 8), {255, 255, 255}, 3));
    CHECK(near(at(decodePhoto(cmykJpeg({255, 0, 0, 255})).picture, 16, 8), {255, 0, 0}, 3));
    CHECK(near(at(decodePhoto(cmykJpeg({0, 200, 255, 255})).picture, 16, 8), {0, 200, 255}, 3));
    CHECK(near(at(decodePhoto(cmykJpeg({255, 255, 255, 100})).picture, 16, 8), {100, 100, 100}, 3));
    // Without the marker 255 is full ink, so the same black plane means black.
    Bytes plain = cmykJpeg({255, 255, 255, 255});
    const std::size_t marker = find(plain, "\xFF\xEE");
    const auto begin = plain.begin() + static_cast<std::ptrdiff_t>(marker);
    plain.erase(begin, begin + 2 + 14);
    CHECK(near(at(decodePhoto(plain).picture, 16, 8), {0, 0, 0}, 3));
}

TEST_CASE("every kind of PNG becomes 8-bit RGB") {
    const auto pixel = [](const Bytes& png) { return at(decodePhoto(png).picture, 0, 0); };
    CHECK(near(pixel(makePng(1, 1, 8, kPngGrey, {0, 77})), {77, 77, 77}, 0));
    CHECK(near(pixel(makePng(1, 1, 1, kPngGrey, {0, 0x80})), {255, 255, 255}, 0));
    CHECK(near(pixel(makePng(1, 1, 16, kPngGrey, {0, 0x4D, 0x4D})), {77, 77, 77}, 0));
    CHECK(near(pixel(makePng(1, 1, 16, kPngRgb, {0, 10, 10, 100, 100, 200, 200})), {10, 100, 200}, 0));
    const Bytes palette = chunk("PLTE", {1, 2, 3, 40, 50, 60});
    CHECK(near(pixel(makePng(1, 1, 8, kPngPalette, {0, 1}, palette)), {40, 50, 60}, 0));
    // Transparent parts are laid on white.
    CHECK(near(pixel(makePng(1, 1, 8, kPngRgba, {0, 10, 100, 200, 255})), {10, 100, 200}, 0));
    CHECK(near(pixel(makePng(1, 1, 8, kPngRgba, {0, 10, 100, 200, 0})), {255, 255, 255}, 0));
    CHECK(near(pixel(makePng(1, 1, 8, kPngRgba, {0, 0, 100, 200, 51})), {204, 224, 244}, 0));
    CHECK(near(pixel(makePng(1, 1, 8, kPngGreyAlpha, {0, 100, 51})), {224, 224, 224}, 0));
    CHECK(near(pixel(makePng(1, 1, 8, kPngPalette, {0, 0},
                             [&] {
                                 Bytes both = palette;
                                 append(both, chunk("tRNS", {0}));
                                 return both;
                             }())),
               {255, 255, 255}, 0));
}

TEST_CASE("transparent parts of WebP and HEIC are laid on white") {
    Bytes rgba;
    for (int i = 0; i < 16 * 16; ++i) append(rgba, Bytes{0, 100, 200, 51});
    const Photo photo = decodePhoto(makeWebPWithAlpha(16, 16, rgba));
    CHECK(near(at(photo.picture, 8, 8), {204, 224, 244}, 0));
    NEED_HEVC_ENCODER();
    const Picture colour = paint(64, 64, [](int, int) { return Colour{0, 100, 200}; });
    CHECK(near(at(decodePhoto(makeHeic(colour, 1, {}, 51)).picture, 32, 32), {204, 224, 244}, kLossyTolerance));
}

TEST_CASE("grey PNGs come back byte for byte; colour becomes luminance") {
    Bytes values(256 * 128);
    for (std::size_t i = 0; i < values.size(); ++i) values[i] = static_cast<std::uint8_t>(i * 7 + i / 256);
    const GreyPicture map = decodePngGrey(encodePngGrey(256, 128, values));
    CHECK(map.width == 256);
    CHECK(map.height == 128);
    CHECK(map.values == values);

    const auto grey = [](const Bytes& png) { return static_cast<int>(decodePngGrey(png).values.at(0)); };
    for (const int value : {0, 1, 100, 254, 255}) {
        const Colour colour{value, value, value};
        CHECK(grey(encodePng(paint(1, 1, [&](int, int) { return colour; }))) == value);
    }
    CHECK(grey(makePng(1, 1, 16, kPngGrey, {0, 0x4D, 0x4D})) == 77);
    CHECK(grey(makePng(1, 1, 8, kPngGreyAlpha, {0, 200, 0})) == 0);
    const int red = grey(encodePng(paint(1, 1, [](int, int) { return Colour{255, 0, 0}; })));
    const int green = grey(encodePng(paint(1, 1, [](int, int) { return Colour{0, 255, 0}; })));
    CHECK(red > 50);
    CHECK(green > red);
    CHECK(green < 255);

    CHECK_THROWS_AS(decodePngGrey(makeJpeg(strips())), InputError);
    CHECK_THROWS_AS(decodePngGrey(encodePngGrey(256, 128, values), DecodeLimits{1000, 1000, 1000}), InputError);
}

TEST_CASE("an encoder refuses a picture whose size and bytes disagree") {
    CHECK_THROWS_AS(encodePng(Picture{2, 2, Bytes(11)}), std::logic_error);
    CHECK_THROWS_AS(encodeJpeg(Picture{2, 2, Bytes(13)}, 90), std::logic_error);
    CHECK_THROWS_AS(encodeJpeg(Picture{0, 0, {}}, 90), std::logic_error);
    CHECK_THROWS_AS(encodePngGrey(2, 2, Bytes(3)), std::logic_error);
}

TEST_CASE("a JPEG in more passes over its pixels than any camera makes is refused before it is decoded") {
    // Twelve megapixels of grey; a hundred passes are the most.
    const Bytes once = encodeJpeg(paint(4000, 3000, [](int, int) { return kGrey; }), 90);
    const std::size_t scan = find(once, "\xFF\xDA"), end = once.size() - 2;
    const auto repeated = [&](int scans) {
        Bytes often(once.begin(), once.begin() + static_cast<std::ptrdiff_t>(scan));
        for (int i = 0; i < scans; ++i)
            often.insert(often.end(), once.begin() + static_cast<std::ptrdiff_t>(scan),
                         once.begin() + static_cast<std::ptrdiff_t>(end));
        append(often, "\xFF\xD9");
        return often;
    };
    CHECK_THROWS_WITH(decodePhoto(repeated(101)), Catch::Contains("101 passes"));
    CHECK_THROWS_WITH(decodePhoto(repeated(100)), !Catch::Contains("passes"));  // damaged, and quickly known to be
    CHECK_NOTHROW(decodePhoto(once));
}
