// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "render/scene.h"
#include "support/gear_sets.h"
#include "training_pictures/training_pictures.h"

namespace shimsight {
namespace {

struct MessyScene {
    ToothContact contact{test::milledSet()};
    RingFlank drive{contact.gearSet(), contact.blank(), Side::Drive},
        coast{contact.gearSet(), contact.blank(), Side::Coast};
    RenderRequest request;
    render::Scene scene;

    MessyScene(std::uint64_t seed, PasteMarking marking, int paintedTeeth) {
        request.modification = contact.gearSet().modification;
        request.widthPx = 160;
        request.heightPx = 120;
        request.marking = marking;
        request.paintedTeeth = paintedTeeth;
        scene = render::buildScene(contact, drive, coast, request, 2);
        Random random(seed);
        render::messUp(scene, contact, drive, coast, request, random);
    }
};

/// Mean thickness over the cells of `layer` where the map's contact is full, and where there is none.
std::array<double, 2> meanInsideAndOutside(const render::PasteLayer& layer, const FlankMap& map) {
    std::array<double, 2> sum{};
    std::array<int, 2> count{};
    for (int y = 1; y + 1 < kMapHeight; ++y) {
        for (int x = 1; x + 1 < kMapWidth; ++x) {
            const int contact = map.at(x, y);
            if (contact > 20 && contact < 235) continue;
            const std::size_t k = contact < 235;
            const double u = (x + 0.5) / kMapWidth, v = 1 - (y + 0.5) / kMapHeight;
            sum[k] += static_cast<double>(layer.at(static_cast<float>(u), static_cast<float>(v)).thicknessUm);
            ++count[k];
        }
    }
    return {sum[0] / std::max(1, count[0]), sum[1] / std::max(1, count[1])};
}

}  // namespace

TEST_CASE("a messy scene's states, marks and layers fit each other", "[render]") {
    int fresh = 0, rolled = 0;
    for (const std::uint64_t seed : {1u, 2u, 3u, 4u, 5u, 6u}) {
        const MessyScene messy(seed, PasteMarking::Wiped, 4);
        int layers = 0;
        for (int tooth = 0; tooth < messy.scene.shape.teeth; ++tooth) {
            const auto k = static_cast<std::size_t>(tooth);
            const ToothState state = messy.scene.states[k];
            fresh += state == ToothState::NotRolled;
            rolled += state == ToothState::Rolled;
            for (const Side side : kSides) {
                const auto& layer = messy.scene.looks.layer[k][index(side)];
                CHECK((layer != nullptr) == (messy.scene.marks[k][index(side)] != nullptr));
                if (!layer) continue;
                ++layers;
                CHECK(state != ToothState::Bare);
                CHECK(layer->isRolled() == (state == ToothState::Rolled));
            }
        }
        CHECK(layers > 0);
    }
    CHECK(fresh > 10);
    CHECK(rolled > 10);
}

TEST_CASE("however messy, rolling still clears the contact or prints it", "[render]") {
    for (const PasteMarking marking : {PasteMarking::Wiped, PasteMarking::Transferred}) {
        double inside = 0, outside = 0;
        for (const std::uint64_t seed : {11u, 12u, 13u, 14u, 15u, 16u}) {
            const MessyScene messy(seed, marking, 4);
            for (std::size_t k = 0; k < messy.scene.states.size(); ++k) {
                const auto& layer = messy.scene.looks.layer[k][index(messy.request.faced)];
                if (!layer || messy.scene.states[k] != ToothState::Rolled) continue;
                const auto means = meanInsideAndOutside(*layer, *messy.scene.marks[k][index(messy.request.faced)]);
                inside += means[0];
                outside += means[1];
            }
        }
        INFO("inside " << inside << " um, outside " << outside << " um");
        if (marking == PasteMarking::Wiped) {
            CHECK(outside > 1.7 * inside);
        } else {
            CHECK(inside > 1.7 * outside);
        }
    }
}

TEST_CASE("a tooth that was not rolled shows no contact", "[render]") {
    const ToothContact contact(test::milledSet());
    const FlankMap map = contact.predictMap(Side::Drive, {}, contact.gearSet().modification[0], kFilmMm);
    Random random(5);
    render::PasteStyle style = render::drawPasteStyle(random, PasteMarking::Wiped, "yellow", 1);
    style.mess.comb = style.mess.printBack = style.mess.remnant = style.mess.skips = style.mess.holes = 0.8f;
    style.mess.thick = 1;
    const render::PasteLayer fresh(map, ToothState::NotRolled, PasteMarking::Wiped, style, {34, 9, 120}, 7),
        blind(FlankMap{}, ToothState::NotRolled, PasteMarking::Wiped, style, {34, 9, 120}, 7);
    for (float v = 0.05f; v < 1; v += 0.1f) {
        for (float u = 0.05f; u < 1; u += 0.05f) CHECK(fresh.at(u, v).thicknessUm == blind.at(u, v).thicknessUm);
    }
}

TEST_CASE("a scene without painted teeth stays without", "[render]") {
    const MessyScene messy(3, PasteMarking::Wiped, 0);
    for (const ToothState state : messy.scene.states) CHECK(state == ToothState::Bare);
    for (const auto& pair : messy.scene.looks.layer) CHECK((!pair[0] && !pair[1]));
}

TEST_CASE("light through a door reaches only what lies between its planes", "[render]") {
    render::RectLight light;
    CHECK(light.reaches({5, 5, 5}));
    light.doorNormal = {1, 0, 0};
    light.doorLow = -1;
    light.doorHigh = 2;
    CHECK(light.reaches({0, 9, 9}));
    CHECK_FALSE(light.reaches({-1.5f, 0, 0}));
    CHECK_FALSE(light.reaches({2.5f, 0, 0}));
}

}  // namespace shimsight
