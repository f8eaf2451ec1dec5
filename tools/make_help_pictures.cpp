// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The pictures of the bench page's help before the shot, and where their flanks lie.
//
//     make_help_pictures GEAR_SET FOLDER
//
// writes help-drive-good.jpg, help-coast-good.jpg (what a photo should look like), help-drive-bad.jpg (too far away),
// help-coast-bad.jpg (out of focus) and help_flanks.js into FOLDER, which is src/server/page.
#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

#include "shimsight/files.h"
#include "shimsight/records.h"
#include "shimsight/render.h"
#include "shimsight/tooth_contact.h"

namespace {

namespace fs = std::filesystem;
using namespace shimsight;

constexpr int kQuality = 72, kBadQuality = 60;
constexpr double kSeenWhole = 0.9;

void write(const fs::path& file, const std::vector<std::uint8_t>& bytes) {
    writeFileAtomically(file, bytes);
    std::printf("%s: %zu bytes\n", file.c_str(), bytes.size());
}

/// The mean of a square about each pixel, three times over: close to what a lens out of focus gives.
Picture blurred(Picture picture, int radius) {
    for (int round = 0; round < 3; ++round) {
        const Picture before = picture;
        for (int y = 0; y < picture.height; ++y)
            for (int x = 0; x < picture.width; ++x)
                for (int c = 0; c < 3; ++c) {
                    int sum = 0, count = 0;
                    for (int v = std::max(0, y - radius); v <= std::min(picture.height - 1, y + radius); ++v)
                        for (int u = std::max(0, x - radius); u <= std::min(picture.width - 1, x + radius); ++u) {
                            sum += before.rgb[static_cast<std::size_t>(3 * (v * picture.width + u) + c)];
                            ++count;
                        }
                    picture.rgb[static_cast<std::size_t>(3 * (y * picture.width + x) + c)] =
                        static_cast<std::uint8_t>(sum / count);
                }
    }
    return picture;
}

std::string flanksScript(const RenderResult& result) {
    std::string text = "{ width: " + std::to_string(result.picture.width) +
                       ", height: " + std::to_string(result.picture.height) + ", flanks: [";
    for (const FlankTruth& flank : result.flanks) {
        if (flank.side != result.request.faced || flank.state != ToothState::Rolled || flank.visibleShare < kSeenWhole)
            continue;
        text += "[";
        for (const PixelPoint& corner : flank.corners)
            text += "[" + std::to_string(static_cast<int>(corner.x)) + "," +
                    std::to_string(static_cast<int>(corner.y)) + "],";
        text += "],";
    }
    return text + "] }";
}

}  // namespace

int main(int count, char** words) {
    if (count != 3) {
        std::fprintf(stderr, "usage: make_help_pictures GEAR_SET FOLDER\n");
        return 2;
    }
    const GearSet gearSet = completeGearSet(readGearSetFile(words[1]).data);
    const fs::path folder = words[2];
    const ToothContact contact(gearSet);
    std::string script =
        "// Where the flanks lie in the help pictures. Written by tools/make_help_pictures.cpp.\nexport const "
        "HELP_FLANKS = {\n";
    for (const Side side : kSides) {
        RenderRequest request;
        request.modification = gearSet.modification;
        request.faced = side;
        request.scene = SceneKind::CarrierOnStand;
        request.colour = "yellow";
        request.variety = 0.3;
        request.widthPx = 560;
        request.heightPx = 420;
        request.samplesPerPixel = 48;
        request.seed = 77;
        const RenderResult good = renderPhoto(contact, request);
        const std::string stem = "help-" + std::string(name(side));
        write(folder / (stem + "-good.jpg"), encodeJpeg(good.picture, kQuality));
        script += "    " + std::string(name(side)) + ": " + flanksScript(good) + ",\n";
        if (side == Side::Coast) {
            write(folder / (stem + "-bad.jpg"), encodeJpeg(blurred(good.picture, 5), kBadQuality));
            continue;
        }
        request.scene = SceneKind::Bench;
        request.variety = 1.6;
        request.seed = 3;
        request.widthPx = 400;
        request.heightPx = 300;
        write(folder / (stem + "-bad.jpg"), encodeJpeg(renderPhoto(contact, request).picture, kBadQuality));
    }
    script += "};\n";
    write(folder / "help_flanks.js", {script.begin(), script.end()});
    return 0;
}
