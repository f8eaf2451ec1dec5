// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Writes the files that the command-line cases need into the folder named: good photos, and every kind of bad one.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/records.h"
#include "shimsight/tooth_contact.h"
#include "support/drawn_photo.h"

using namespace shimsight;
using namespace shimsight::test;

namespace {

using Bytes = std::vector<std::uint8_t>;

Bytes bytesOf(const std::string& text) { return {text.begin(), text.end()}; }

std::vector<PhotoOutline> marked(const std::vector<DrawnFlank>& flanks, std::optional<Side> side,
                                 const std::string& photo) {
    std::vector<PhotoOutline> result;
    for (const DrawnFlank& flank : flanks) {
        PhotoOutline one;
        one.outline.side = side;
        one.outline.corners = flank.corners;
        // Drawn as a flat patch, so the edges are marked as the straight lines they are.
        const auto middle = [](PixelPoint a, PixelPoint b) { return PixelPoint{0.5 * (a.x + b.x), 0.5 * (a.y + b.y)}; };
        one.outline.rootEdge = {middle(flank.corners[0], flank.corners[3])};
        one.outline.tipEdge = {middle(flank.corners[1], flank.corners[2])};
        one.photo = photo;
        result.push_back(one);
    }
    return result;
}

/// The place of the frame header (SOF0 to SOF2) in a JPEG.
std::size_t frameHeader(const Bytes& jpeg) {
    for (std::size_t i = 2; i + 9 < jpeg.size();) {
        if (jpeg[i] == 0xFF && jpeg[i + 1] >= 0xC0 && jpeg[i + 1] <= 0xC2) return i;
        i += 2U + 256U * jpeg[i + 2] + jpeg[i + 3];
    }
    check(false, "a JPEG without a frame header");

    return 0;
}

/// The check sum of a PNG chunk.
std::uint32_t crc(const Bytes& bytes) {
    std::uint32_t c = 0xFFFFFFFFU;
    for (const std::uint8_t byte : bytes) {
        c ^= byte;
        for (int k = 0; k < 8; ++k) c = (c >> 1) ^ (0xEDB88320U & (0U - (c & 1U)));
    }
    return c ^ 0xFFFFFFFFU;
}

void big(Bytes& out, std::uint32_t value) {
    for (int shift = 24; shift >= 0; shift -= 8) out.push_back(static_cast<std::uint8_t>(value >> shift));
}

/// A PNG whose header claims 30,000 x 30,000 pixels, the rest taken from a real one.
Bytes claiming(Bytes png) {
    Bytes header = bytesOf("IHDR");
    big(header, 30'000);
    big(header, 30'000);
    header.insert(header.end(), png.begin() + 24, png.begin() + 29);
    std::copy(header.begin(), header.end(), png.begin() + 12);
    Bytes sum;
    big(sum, crc(header));
    std::copy(sum.begin(), sum.end(), png.begin() + 29);
    return png;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 3) {
        std::fprintf(stderr, "usage: make_fixtures DIR GEAR_SETS\n");
        return 2;
    }
    const std::filesystem::path folder = argv[1], gearSets = argv[2];
    std::filesystem::create_directories(folder);
    const auto write = [&](const std::string& name, const Bytes& bytes) { writeFileAtomically(folder / name, bytes); };

    const auto drive = threeTeeth(Side::Drive, 0.35, 0.4), coast = threeTeeth(Side::Coast, 0.55, 0.45);
    const Bytes jpeg = encodeJpeg(drawn(drive, 1), 90);
    write("drive.jpg", jpeg);
    write("coast.jpg", encodeJpeg(drawn(coast, 2), 90));
    write("coast.png", encodePng(drawn(coast, 2)));
    write("drive.json", bytesOf(writeOutline(marked(drive, Side::Drive, ""))));
    write("coast.json", bytesOf(writeOutline(marked(coast, Side::Coast, ""))));
    write("no-side.json", bytesOf(writeOutline(marked(drive, std::nullopt, ""))));
    auto both = marked(drive, Side::Drive, "drive.jpg");
    for (const PhotoOutline& flank : marked(coast, Side::Coast, "coast.jpg")) both.push_back(flank);
    write("both.json", bytesOf(writeOutline(both)));

    write("named.json", bytesOf(writeOutline(marked(drive, Side::Drive, "drive.jpg"))));

    write("empty.jpg", {});
    write("text.jpg", bytesOf("This is a letter, not a photo.\n"));
    write("half.jpg", Bytes(jpeg.begin(), jpeg.begin() + static_cast<std::ptrdiff_t>(jpeg.size() / 2)));
    write("stub.jpg", Bytes(jpeg.begin(), jpeg.begin() + 12));
    Bytes lying = encodeJpeg(Picture{160, 120, std::vector<std::uint8_t>(3U * 160 * 120, 99)}, 90);
    const std::size_t frame = frameHeader(lying);
    for (const std::size_t at : {frame + 5, frame + 7}) {
        lying[at] = 30'000 / 256;
        lying[at + 1] = 30'000 % 256;
    }
    write("lying.jpg", lying);
    const Bytes png = encodePngGrey(64, 64, Bytes(64U * 64U, 200));
    write("huge.png", claiming(png));
    write("cut.png", Bytes(png.begin(), png.begin() + static_cast<std::ptrdiff_t>(png.size() / 2)));
    write("small-map.png", png);
    write("empty-map.png",
          encodePngGrey(kMapWidth, kMapHeight, Bytes(static_cast<std::size_t>(kMapWidth) * kMapHeight, 0)));
    write("grey.jpg",
          encodeJpeg(
              Picture{kDrawnWidth, kDrawnHeight, std::vector<std::uint8_t>(3U * kDrawnWidth * kDrawnHeight, 120)}, 90));
    // Photos that show nothing for a fault of their own: brightness from `low` to `high` over stripes of a tenth of the
    // width, hard or soft.
    const auto stripes = [&](const std::string& name, double low, double high, bool hard) {
        Picture picture{kDrawnWidth, kDrawnHeight, {}};
        for (int y = 0; y < kDrawnHeight; ++y)
            for (int x = 0; x < kDrawnWidth; ++x) {
                const double wave = std::sin(2 * kPi * x / (0.2 * kDrawnWidth));
                const double share = hard ? (wave > 0 ? 1 : 0) : 0.5 + 0.5 * wave;
                picture.rgb.insert(picture.rgb.end(), 3, static_cast<std::uint8_t>(low + share * (high - low)));
            }
        write(name, encodeJpeg(picture, 90));
    };
    stripes("dark.jpg", 0, 25, true);
    stripes("blown.jpg", 90, 255, true);
    stripes("soft.jpg", 40, 200, false);
    stripes("fence.jpg", 40, 200, true);
    std::filesystem::create_directories(folder / "folder.jpg");

    const auto outlineWith = [&](const std::string& name, std::array<PixelPoint, 4> corners) {
        write(name, bytesOf(writeOutline(marked({{corners, 0.5, 0.5}}, Side::Drive, ""))));
    };
    outlineWith("outside.json", {PixelPoint{1500, 300}, {1500, 120}, {2300, 120}, {2300, 300}});
    outlineWith("crossing.json", {PixelPoint{180, 300}, {980, 140}, {186, 140}, {992, 310}});
    outlineWith("tiny.json", {PixelPoint{180, 310}, {180, 300}, {200, 300}, {200, 310}});
    outlineWith("point.json", {PixelPoint{180, 300}, {180, 300}, {180, 300}, {180, 300}});
    outlineWith("mirrored.json", {drive[0].corners[3], drive[0].corners[2], drive[0].corners[1], drive[0].corners[0]});

    // Flank maps of a pinion 0.15 mm too deep at the nominal backlash.
    const ToothContact contact(completeGearSet(loadGearSet(gearSets / "lab-van-rear-axle-a.json")));
    const SetupError deep{0.15, contact.ringMoveForConstantBacklashMm(0.15), 0, 0};
    for (const Side side : kSides) {
        const FlankMap map = contact.predictMap(side, deep, contact.gearSet().modification[index(side)]);
        write(side == Side::Drive ? "deep-drive.png" : "deep-coast.png",
              encodePngGrey(kMapWidth, kMapHeight, map.contact));
    }
    return 0;
}
