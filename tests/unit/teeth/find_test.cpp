// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The finder on the sample photos, whose flanks' corners are known from rendering, and on pictures without a gear.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "shimsight/photo.h"
#include "shimsight/records.h"
#include "shimsight/teeth.h"
#include "teeth/flank_warp.h"
#include "teeth/network.h"

using namespace shimsight;

namespace {

Photo sample(const std::string& name) { return loadPhoto(std::string(SHIMSIGHT_SOURCE_DIR "/samples/") + name); }

double lengthOf(const std::array<PixelPoint, 4>& c) { return std::hypot(c[3].x - c[0].x, c[3].y - c[0].y); }

/// Worst corner of the found flank nearest to the true one, share of its length; and its side.
std::pair<double, std::optional<Side>> nearest(const FoundTeeth& found, const std::array<PixelPoint, 4>& truth) {
    double best = 1e9;
    std::optional<Side> side;
    for (const FoundFlank& flank : found.flanks) {
        double worst = 0;
        for (std::size_t c = 0; c < 4; ++c)
            worst = std::max(
                worst, std::hypot(flank.outline.corners[c].x - truth[c].x, flank.outline.corners[c].y - truth[c].y) /
                           lengthOf(truth));
        if (worst < best) best = worst, side = flank.outline.side;
    }
    return {best, side};
}

}  // namespace

TEST_CASE("outlined flanks of the sample photos are found, with side and corners", "[teeth]") {
    for (const std::string folder : {"van-a-too-shallow", "light-truck-too-deep", "van-b-good"})
        for (const std::string side : {"drive", "coast"}) {
            INFO(folder << " " << side);
            const auto found = findTeeth(sample(folder + "/" + side + ".jpg"));
            REQUIRE(found);
            const auto truth =
                loadOutline(std::string(SHIMSIGHT_SOURCE_DIR "/samples/") + folder + "/" + side + ".outline.json");
            REQUIRE(truth.size() >= 3);
            for (const FlankOutline& flank : truth) {
                const auto [off, foundSide] = nearest(found.value(), flank.corners);
                // No gear set was given: a typical one's flanks stand in.
                CHECK(off < 0.12);
                CHECK(foundSide == flank.side);
            }
        }
}

TEST_CASE("the gear set makes the corners better", "[teeth]") {
    const GearSetData data = loadGearSet(SHIMSIGHT_SOURCE_DIR "/models/gear-sets/lab-van-rear-axle-a.json");
    const GearSet set = completeGearSet(data);
    const Photo photo = sample("van-a-too-shallow/drive.jpg");
    const auto found = findTeeth(photo, &set);
    REQUIRE(found);
    for (const FlankOutline& flank : loadOutline(SHIMSIGHT_SOURCE_DIR "/samples/van-a-too-shallow/drive.outline.json"))
        CHECK(nearest(found.value(), flank.corners).first < 0.06);
}

TEST_CASE("a photo turned by a quarter gives the same flanks, turned", "[teeth]") {
    const Photo photo = sample("van-b-good/drive.jpg");
    Photo turned = photo;  // clockwise: (x, y) goes to (height - y, x)
    turned.picture.width = photo.picture.height;
    turned.picture.height = photo.picture.width;
    std::swap(turned.fullWidth, turned.fullHeight);
    for (int y = 0; y < photo.picture.height; ++y)
        for (int x = 0; x < photo.picture.width; ++x)
            for (int c = 0; c < 3; ++c)
                turned.picture
                    .rgb[static_cast<std::size_t>(3 * (x * turned.picture.width + turned.picture.width - 1 - y) + c)] =
                    photo.picture.rgb[static_cast<std::size_t>(3 * (y * photo.picture.width + x) + c)];
    const auto found = findTeeth(turned);
    REQUIRE(found);
    for (const FlankOutline& flank : loadOutline(SHIMSIGHT_SOURCE_DIR "/samples/van-b-good/drive.outline.json")) {
        std::array<PixelPoint, 4> corners;
        for (std::size_t k = 0; k < 4; ++k) corners[k] = {photo.fullHeight - flank.corners[k].y, flank.corners[k].x};
        const auto [off, side] = nearest(found.value(), corners);
        CHECK(off < 0.12);
        CHECK(side == flank.side);
    }
}

TEST_CASE("nothing is found where there is no gear", "[teeth]") {
    Photo photo;
    photo.picture = {640, 480, std::vector<std::uint8_t>(3u * 640 * 480, 127)};
    photo.fullWidth = 640;
    photo.fullHeight = 480;
    const auto plain = findTeeth(photo);
    REQUIRE_FALSE(plain);
    CHECK(plain.refused().why == Refusal::NoToothFound);
    CHECK_FALSE(plain.refused().whatToDo.empty());
    for (int y = 0; y < 480; ++y)  // stripes, as of a grating
        for (int x = 0; x < 640; ++x)
            for (int c = 0; c < 3; ++c)
                photo.picture.rgb[static_cast<std::size_t>(3 * (y * 640 + x) + c)] = (x + y / 3) / 20 % 2 ? 210 : 40;
    CHECK_FALSE(findTeeth(photo));
}

TEST_CASE("teeth that are small in a large photo are found and read at its own size", "[teeth]") {
    // The sample in a grey photo of 12 megapixels, at its own size and at half: flanks an eleventh and a twenty-second
    // of the photo's width long.
    const int shrink = GENERATE(1, 2);
    INFO("shrunk by " << shrink);
    Photo gear = sample("van-b-good/drive.jpg");
    Picture small{gear.picture.width / shrink, gear.picture.height / shrink, {}};
    small.rgb.resize(static_cast<std::size_t>(3) * static_cast<std::size_t>(small.width * small.height));
    for (int y = 0; y < small.height; ++y)
        for (int x = 0; x < small.width; ++x)
            for (int c = 0; c < 3; ++c) {
                int sum = 0;
                for (int j = 0; j < shrink; ++j)
                    for (int i = 0; i < shrink; ++i)
                        sum += gear.picture.rgb[static_cast<std::size_t>(
                            3 * ((y * shrink + j) * gear.picture.width + x * shrink + i) + c)];
                small.rgb[static_cast<std::size_t>(3 * (y * small.width + x) + c)] =
                    static_cast<std::uint8_t>(sum / (shrink * shrink));
            }
    gear.picture = small;
    Photo photo;
    photo.picture = {4032, 3024, std::vector<std::uint8_t>(3u * 4032 * 3024, 110)};
    photo.fullWidth = 4032, photo.fullHeight = 3024;
    constexpr int kX = 2200, kY = 1500;
    for (int y = 0; y < gear.picture.height; ++y)
        for (int x = 0; x < 3 * gear.picture.width; ++x)
            photo.picture.rgb[static_cast<std::size_t>(3 * (kY + y) * 4032 + 3 * kX + x)] =
                gear.picture.rgb[static_cast<std::size_t>(3 * y * gear.picture.width + x)];
    const auto found = findTeeth(photo);
    REQUIRE(found);
    for (FlankOutline& flank : loadOutline(SHIMSIGHT_SOURCE_DIR "/samples/van-b-good/drive.outline.json")) {
        for (PixelPoint& p : flank.corners) p = {p.x / shrink + kX, p.y / shrink + kY};
        CHECK(nearest(found.value(), flank.corners).first < 0.15);
    }
}

TEST_CASE("only flanks of the side that is asked for", "[teeth]") {
    const auto found = findTeeth(sample("van-a-too-shallow/drive.jpg"), nullptr, {Side::Coast});
    if (found)
        for (const FoundFlank& flank : found.value().flanks) CHECK(flank.outline.side == Side::Coast);
    const auto drive = findTeeth(sample("van-a-too-shallow/drive.jpg"), nullptr, {Side::Drive});
    REQUIRE(drive);
    CHECK(drive.value().flanks.size() >= 3);
}

TEST_CASE("positions in a region and in the photo are the same place", "[teeth]") {
    for (const auto& region : {teeth::regionOf(100, 50, 800, 600), teeth::regionOf(10, 20, 300, 900)}) {
        const PixelPoint there{333.25, 444.5}, input = region.toInput(there), back = region.toPhoto(input.x, input.y);
        CHECK(back.x == Approx(there.x));
        CHECK(back.y == Approx(there.y));
    }
    CHECK(teeth::regionOf(0, 0, 300, 900).turned);
}

TEST_CASE("a warp gives back the bent and tapered flank that its cells come from", "[teeth]") {
    // u, v as smooth functions of the place, with errors on single cells and a tenth of them wild.
    Random random(7);
    const auto uOf = [](double x, double y) {
        return (x - 100) / 200 + 0.0002 * (y - 80) + 2e-6 * (x - 200) * (x - 200);
    };
    const auto vOf = [](double x, double y) {
        return (120 - y) / 60 - 1e-5 * (x - 200) * (x - 200) + 0.0003 * (x - 200);
    };
    std::vector<teeth::FlankCell> cells;
    for (int y = 61; y < 130; y += 2)
        for (int x = 101; x < 300; x += 2) {
            teeth::FlankCell cell;
            cell.x = static_cast<float>(x);
            cell.y = static_cast<float>(y);
            const bool wild = random.chance(0.1);
            cell.u = static_cast<float>(uOf(x, y) + random.normal(0, wild ? 0.3 : 0.02));
            cell.v = static_cast<float>(vOf(x, y) + random.normal(0, wild ? 0.3 : 0.04));
            cell.error = 0.05F;
            if (vOf(x, y) > 0 && vOf(x, y) < 1 && uOf(x, y) > 0 && uOf(x, y) < 1) cells.push_back(cell);
        }
    const auto warp = teeth::FlankWarp::fit(cells);
    REQUIRE(warp);
    for (const double u : {0.0, 0.5, 1.0})
        for (const double v : {0.0, 0.5, 1.0}) {
            const auto p = warp->at(u, v);
            REQUIRE(p);
            CHECK(uOf(p->x, p->y) == Approx(u).margin(0.01));
            CHECK(vOf(p->x, p->y) == Approx(v).margin(0.02));
        }
}
