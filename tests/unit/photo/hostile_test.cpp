// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>
#include <catch2/catch.hpp>
#include <chrono>

#include "fixtures.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "support/temp_dir.h"

using namespace shimsight;
using namespace shimsight::test;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

struct Fixture {
    std::string name;
    Bytes bytes;
};

/// Slopes under noise, so that most of a coded file is picture data.
Picture speckled(int width, int height) {
    Random random(5);
    return paint(width, height, [&](int x, int y) {
        return Colour{100 + x + random.integer(-40, 40), 100 + y + random.integer(-40, 40),
                      120 + random.integer(-40, 40)};
    });
}

/// One small file of each kind, with EXIF.
std::vector<Fixture> fixtures() {
    const Picture picture = speckled(48, 40);
    const Bytes exif = exifBlock(6);
    std::vector<Fixture> all = {
        {"JPEG", jpegWithExif(makeJpeg(picture, TJSAMP_420, 0, 80), exif)},
        {"progressive JPEG", makeJpeg(picture, TJSAMP_420, TJFLAG_PROGRESSIVE, 80)},
        {"PNG", withChunk(encodePng(picture), chunk("eXIf", exif))},
        {"lossy WebP", webPWithExif(makeWebP(picture), exif)},
        {"lossless WebP", makeWebP(picture, true)},
    };
    if (hasHevcEncoder()) {
        all.push_back({"HEIC", makeHeic(picture, 6, exif)});
    } else {
        WARN("skipped for HEIC: libheif has no HEVC encoder here; install libheif1 with libx265");
    }
    return all;
}

/// The sentence of the refusal, or "decoded".
std::string outcome(const Bytes& bytes, const DecodeOptions& options = {}) {
    try {
        const Photo photo = decodePhoto(bytes, options);
        const Picture& picture = photo.picture;
        require(picture.width > 0 && picture.height > 0, "a decoded photo has no pixels");
        require(picture.rgb.size() ==
                    std::size_t{3} * static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height),
                "a decoded photo's size and its bytes do not agree");
        return "decoded";
    } catch (const InputError& error) {
        return error.what();
    }
}

void putNumber(Bytes& bytes, std::size_t position, std::uint32_t value, int length) {
    Bytes number;
    appendNumber(number, value, length);
    std::copy(number.begin(), number.end(), bytes.begin() + static_cast<std::ptrdiff_t>(position));
}

}  // namespace

TEST_CASE("what is no photo is refused") {
    CHECK(outcome({}) == "the file is empty.");
    for (const std::string_view text :
         {"x", "The shim is 0.004 in too thin.", "GIF89a\1\1", "RIFF\4\0\0\0WAVE", "BM", "\xFF\xD8", "\x89PNG"}) {
        Bytes bytes;
        append(bytes, text);
        CHECK_THAT(outcome(bytes), Contains("not a JPEG, PNG, WebP or HEIC photo"));
    }
    CHECK_THAT(outcome(Bytes(100'000)), Contains("not a JPEG"));
    Bytes avif;
    append(avif, std::string_view("\0\0\0\x18"
                                  "ftypavif\0\0\0\0avifmif1",
                                  24));
    CHECK_THAT(outcome(avif), Contains("not a JPEG"));
}

TEST_CASE("a file that is cut anywhere is refused in one sentence") {
    for (const Fixture& fixture : fixtures()) {
        REQUIRE(outcome(fixture.bytes) == "decoded");
        std::size_t decoded = 0;
        for (std::size_t length = 0; length < fixture.bytes.size(); ++length) {
            const Bytes part(fixture.bytes.begin(), fixture.bytes.begin() + static_cast<std::ptrdiff_t>(length));
            const std::string sentence = outcome(part);
            if (sentence == "decoded") {
                ++decoded;
                UNSCOPED_INFO(fixture.name << " was decoded from " << length << " of " << fixture.bytes.size());
            }
            if (length > 16) CHECK(sentence.back() == '.');
        }
        INFO(fixture.name);
        CHECK(decoded == 0);
    }
}

TEST_CASE("one changed byte anywhere in a PNG is noticed by its check sums") {
    const Bytes png = withChunk(encodePng(speckled(12, 10)), chunk("eXIf", exifBlock(6)));
    std::size_t decoded = 0;
    for (std::size_t i = 0; i < png.size(); ++i) {
        Bytes changed = png;
        changed[i] ^= 0x10;
        if (outcome(changed) == "decoded") ++decoded;
    }
    CHECK(decoded == 0);
}

TEST_CASE("random damage never does harm: a picture or one sentence") {
    // Small limits keep the time of a damaged size short.
    const DecodeOptions options{{.maxPixels = 1'000'000, .maxSide = 4096, .maxFileBytes = 1'000'000}, 0};
    constexpr int kRounds = 3000;
    const std::uint64_t seed = Catch::rngSeed();
    Random random(seed);
    for (const Fixture& fixture : fixtures()) {
        int decoded = 0;
        int refused = 0;
        for (int round = 0; round < kRounds; ++round) {
            Bytes bytes = fixture.bytes;
            const auto anywhere = [&] {
                return static_cast<std::size_t>(random.integer(0, static_cast<int>(bytes.size()) - 1));
            };
            const int changes = random.integer(1, 8);
            for (int i = 0; i < changes; ++i) {
                bytes[anywhere()] = static_cast<std::uint8_t>(random.chance(0.2) ? 255 : random.integer(0, 255));
            }
            if (random.chance(0.2)) {  // a piece is missing
                const auto from = anywhere();
                const auto to = std::min(bytes.size(), from + static_cast<std::size_t>(random.integer(1, 64)));
                bytes.erase(bytes.begin() + static_cast<std::ptrdiff_t>(from),
                            bytes.begin() + static_cast<std::ptrdiff_t>(to));
            }
            INFO(fixture.name << ", round " << round << ", seed " << seed);
            const std::string result = outcome(bytes, options);
            result == "decoded" ? ++decoded : ++refused;
            if (result != "decoded" && (result.empty() || result.back() != '.')) FAIL("no sentence: " << result);
        }
        INFO(fixture.name);
        CHECK(decoded + refused == kRounds);
        CHECK(refused > 0);
    }
}

TEST_CASE("damaged PNG chunks with good check sums are held by the decoder") {
    const Picture picture = slopes(48, 40);
    Random random(Catch::rngSeed());
    const DecodeOptions options{{.maxPixels = 1'000'000, .maxSide = 4096, .maxFileBytes = 1'000'000}, 0};
    Bytes rows;
    for (int y = 0; y < 40; ++y) {
        rows.push_back(0);
        rows.insert(rows.end(), picture.rgb.begin() + y * 144, picture.rgb.begin() + (y + 1) * 144);
    }
    int refused = 0;
    for (int round = 0; round < 2000; ++round) {
        const int bitDepth = std::array{1, 2, 4, 8, 16, 7}[static_cast<std::size_t>(random.integer(0, 5))];
        const auto kind = static_cast<PngKind>(random.integer(0, 7));
        Bytes more(static_cast<std::size_t>(random.integer(0, 40)));
        for (auto& byte : more) byte = static_cast<std::uint8_t>(random.integer(0, 255));
        const char* type = std::array{
            "PLTE", "tRNS", "eXIf", "gAMA", "iCCP", "sBIT", "cHRM"}[static_cast<std::size_t>(random.integer(0, 6))];
        const Bytes png =
            makePng(random.integer(0, 60), random.integer(0, 60), bitDepth, kind, rows, chunk(type, more));
        if (outcome(png, options) != "decoded") ++refused;
        try {
            (void)decodePngGrey(png, options.limits);
        } catch (const InputError&) {
            ++refused;
        }
    }
    CHECK(refused > 100);
    CHECK(refused < 4000);
}

TEST_CASE("a size that is claimed is refused before anything is decoded") {
    const std::string tooLarge = "too large (30000 x 30000 pixels)";

    // A JPEG of a few kilobytes: the size stands in the frame header.
    Bytes jpeg = makeJpeg(slopes(200, 150));
    REQUIRE(jpeg.size() < 20'000);
    const std::size_t frame = find(jpeg, "\xFF\xC0");
    putNumber(jpeg, frame + 5, 30'000, 2);
    putNumber(jpeg, frame + 7, 30'000, 2);
    CHECK_THAT(outcome(jpeg), Contains(tooLarge));

    // A whole and correct PNG: 30000 x 30000 black pixels of one bit.
    const Bytes png = makePng(30'000, 30'000, 1, kPngGrey, Bytes(std::size_t{30'000} * (1 + 30'000 / 8)));
    REQUIRE(png.size() < 1'000'000);
    const std::clock_t decoding = std::clock();
    CHECK_THAT(outcome(png), Contains(tooLarge));
    CHECK_THROWS_WITH(decodePngGrey(png), Contains(tooLarge));
    // Decoding it takes seconds of processor and gigabytes.
    CHECK(std::clock() - decoding < CLOCKS_PER_SEC / 2);

    // WebP: 14 bits for each side after the start code.
    Bytes webP = makeWebP(slopes(48, 40));
    const std::size_t start = find(webP, "\x9D\x01\x2A");
    webP[start + 3] = webP[start + 5] = 0xFF;
    webP[start + 4] = webP[start + 6] = 0x3F;
    CHECK_THAT(outcome(webP), Contains("too large (16383 x 16383 pixels)"));

    if (hasHevcEncoder()) {
        Bytes heic = makeHeic(slopes(64, 64));
        const std::size_t size = find(heic, "ispe");
        putNumber(heic, size + 8, 12'000, 4);
        putNumber(heic, size + 12, 12'000, 4);
        CHECK_THAT(outcome(heic), Contains("too large (12000 x 12000 pixels)"));
    } else {
        WARN("skipped for HEIC: libheif has no HEVC encoder here; install libheif1 with libx265");
    }
}

TEST_CASE("the limits hold at their exact values") {
    const Bytes png = encodePng(slopes(100, 50));
    CHECK(outcome(png, {{.maxPixels = 5000, .maxSide = 100}, 0}) == "decoded");
    CHECK_THAT(outcome(png, {{.maxPixels = 4999, .maxSide = 100}, 0}), Contains("too large (100 x 50 pixels)"));
    CHECK_THAT(outcome(png, {{.maxPixels = 5000, .maxSide = 99}, 0}), Contains("too large (100 x 50 pixels)"));
}

TEST_CASE("a JPEG with very many scans is given up") {
    // The first scan of a progressive file again and again: each costs a pass over the whole picture.
    const Bytes jpeg = makeJpeg(slopes(64, 64), TJSAMP_444, TJFLAG_PROGRESSIVE);
    const std::size_t first = find(jpeg, "\xFF\xDA");
    std::size_t second = first + 2;
    while (jpeg[second] != 0xFF || jpeg[second + 1] == 0x00) ++second;
    Bytes bomb(jpeg.begin(), jpeg.begin() + static_cast<std::ptrdiff_t>(first));
    const Bytes scan(jpeg.begin() + static_cast<std::ptrdiff_t>(first),
                     jpeg.begin() + static_cast<std::ptrdiff_t>(second));
    for (int i = 0; i < 2000; ++i) append(bomb, scan);
    bomb.insert(bomb.end(), jpeg.begin() + static_cast<std::ptrdiff_t>(second), jpeg.end());
    CHECK_THAT(outcome(bomb), Contains("more than 500 scans"));
}

TEST_CASE("loadPhoto reads by content and refuses by the file's name") {
    const TempDir dir;
    const auto refusal = [](const std::filesystem::path& path, const DecodeOptions& options = {}) -> std::string {
        try {
            (void)loadPhoto(path, options);
        } catch (const InputError& error) {
            return error.what();
        }
        return "loaded";
    };
    const Bytes png = encodePng(strips());
    writeFileAtomically(dir / "drive.jpg", png);  // a PNG by its content
    CHECK(loadPhoto(dir / "drive.jpg").format == PhotoFormat::Png);

    Bytes text;
    append(text, "no photo");
    writeFileAtomically(dir / "notes.jpg", text);
    CHECK(refusal(dir / "notes.jpg") ==
          (dir / "notes.jpg").string() + ": the file is not a JPEG, PNG, WebP or HEIC photo.");
    writeFileAtomically(dir / "cut.jpg", Bytes(png.begin(), png.begin() + 60));
    CHECK_THAT(refusal(dir / "cut.jpg"), StartsWith((dir / "cut.jpg").string() + ": ") && Contains("damaged"));
    writeFileAtomically(dir / "empty.jpg", Bytes{});
    CHECK_THAT(refusal(dir / "empty.jpg"), StartsWith((dir / "empty.jpg").string() + ": ") && Contains("empty"));
    CHECK_THAT(refusal(dir.path()), Contains("folder"));
    CHECK_THAT(refusal(dir / "missing.jpg"), Contains("no such file"));
    CHECK_THAT(refusal(dir / "drive.jpg", {{.maxFileBytes = 100}, 0}), Contains("larger than"));
}
