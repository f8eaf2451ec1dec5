// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The reader of marks on the sample photos, whose contact is known from rendering, and on outlines that are off.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <string>

#include "shimsight/contact.h"
#include "shimsight/photo.h"
#include "shimsight/records.h"
#include "shimsight/rectified_flank.h"

using namespace shimsight;

namespace {

std::string at(const std::string& name) { return std::string(SHIMSIGHT_SOURCE_DIR "/samples/") + name; }

/// The sample's flanks with their outline moved by a share of the flank's height, across its length.
std::vector<RectifiedFlank> flanksOf(const Photo& photo, const std::string& outline, double slip) {
    std::vector<RectifiedFlank> flanks;
    for (const auto& flank : rectifyFlanks(photo, loadOutline(at(outline)))) {
        REQUIRE(flank);
        RectifiedFlank moved = flank.value();
        const std::vector<PixelPoint> grid = moved.gridPx;
        for (int row = 0; row < kFlankGridV; ++row)
            for (int i = 0; i < kFlankGridU; ++i)
                moved.gridPx[static_cast<std::size_t>(row * kFlankGridU + i)] =
                    flank::placeOnGrid(grid, i / double(kFlankGridU - 1), 1 - row / double(kFlankGridV - 1) + slip);
        flanks.push_back(std::move(moved));
    }
    return flanks;
}

std::vector<Outcome<FlankContact>> readAll(const Photo& photo, const std::vector<RectifiedFlank>& flanks,
                                           std::optional<Marking> marking = std::nullopt) {
    std::vector<const RectifiedFlank*> all;
    for (const RectifiedFlank& flank : flanks) all.push_back(&flank);
    return measureContact(photo, all, marking);
}

}  // namespace

TEST_CASE("an outline that is off by a tenth of the height reads the same contact", "[contact]") {
    const Photo photo = loadPhoto(at("van-a-too-shallow/drive.jpg"));
    const auto right = readAll(photo, flanksOf(photo, "van-a-too-shallow/drive.outline.json", 0));
    for (const double slip : {-0.1, 0.1}) {
        const auto off = readAll(photo, flanksOf(photo, "van-a-too-shallow/drive.outline.json", slip));
        REQUIRE(off.size() == right.size());
        for (std::size_t k = 0; k < off.size(); ++k) {
            REQUIRE(right[k]);
            REQUIRE(off[k]);
            CHECK(off[k].value().pattern.toeHeel == Approx(right[k].value().pattern.toeHeel).margin(0.03));
            CHECK(off[k].value().pattern.rootTip == Approx(right[k].value().pattern.rootTip).margin(0.045));
        }
    }
}

TEST_CASE("a found outline that is far off is rectified again and reads nearer", "[contact]") {
    // Every outline 0.14 of the height off: the mean error in height, seen once (as a marked one) and twice (as found).
    std::array<double, 2> error{};
    for (const char* side : {"drive", "coast"}) {
        const Photo photo = loadPhoto(at("van-a-too-shallow/" + std::string(side) + ".jpg"));
        const std::string outline = "van-a-too-shallow/" + std::string(side) + ".outline.json";
        const auto right = readAll(photo, flanksOf(photo, outline, 0));
        for (const double slip : {-0.14, 0.14})
            for (const bool found : {false, true}) {
                std::vector<RectifiedFlank> flanks = flanksOf(photo, outline, slip);
                for (RectifiedFlank& flank : flanks) flank.found = found;
                const auto off = readAll(photo, flanks);
                for (std::size_t k = 0; k < off.size(); ++k) {
                    REQUIRE(right[k]);
                    if (off[k])
                        error[found] += std::abs(off[k].value().pattern.rootTip - right[k].value().pattern.rootTip);
                    else
                        error[found] += 1;
                }
            }
    }
    INFO("seen once " << error[0] << ", twice " << error[1]);
    CHECK(error[1] < 0.85 * error[0]);
}

TEST_CASE("the way of marking is told, and can be said", "[contact]") {
    const Photo photo = loadPhoto(at("van-a-too-shallow/drive.jpg"));
    const auto flanks = flanksOf(photo, "van-a-too-shallow/drive.outline.json", 0);
    for (const auto& reading : readAll(photo, flanks)) {
        REQUIRE(reading);
        CHECK(reading.value().marking == Marking::Wiped);
        CHECK(reading.value().markingCertainty > 0.8);
        CHECK(reading.value().confidence.size() == static_cast<std::size_t>(kMapWidth) * kMapHeight);
        CHECK(reading.value().pattern.sigmaToeHeel > 0);
    }
    for (const auto& reading : readAll(photo, flanks, {Marking::Wiped})) {
        REQUIRE(reading);
        CHECK(reading.value().markingCertainty == 1);
    }
}

TEST_CASE("no contact is made up on even grey and on noise", "[contact]") {
    Photo photo = loadPhoto(at("van-a-too-shallow/drive.jpg"));
    const auto flanks = flanksOf(photo, "van-a-too-shallow/drive.outline.json", 0);
    std::fill(photo.picture.rgb.begin(), photo.picture.rgb.end(), std::uint8_t{120});
    for (const auto& reading : readAll(photo, flanks)) CHECK_FALSE(reading);
    Random random(3);
    for (std::uint8_t& value : photo.picture.rgb) value = static_cast<std::uint8_t>(random.integer(0, 255));
    for (const auto& reading : readAll(photo, flanks)) CHECK_FALSE(reading);
}

TEST_CASE("the border of a laid flank goes on beyond the outline as it bends there", "[contact]") {
    // A grid that is a parabola in both directions is continued exactly.
    const auto x = [](double u, double v) { return 100 + 300 * u + 12 * v + 20 * u * u; };
    const auto y = [](double u, double v) { return 200 - 80 * v + 15 * u + 9 * v * v; };
    std::vector<PixelPoint> grid;
    for (int row = 0; row < kFlankGridV; ++row)
        for (int i = 0; i < kFlankGridU; ++i) {
            const double u = i / double(kFlankGridU - 1), v = 1 - row / double(kFlankGridV - 1);
            grid.push_back({x(u, v), y(u, v)});
        }
    for (const double u : {-0.08, 0.0, 1.0, 1.08})
        for (const double v : {-0.25, 0.0, 1.0, 1.2}) {
            const PixelPoint p = flank::placeOnGrid(grid, u, v);
            CHECK(p.x == Approx(x(u, v)).margin(0.05));
            CHECK(p.y == Approx(y(u, v)).margin(0.05));
        }
}
