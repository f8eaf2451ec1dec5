// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/render.h"

#include <Eigen/Geometry>
#include <catch2/catch.hpp>
#include <cmath>

#include "render/camera.h"
#include "render/scene.h"
#include "support/gear_sets.h"

namespace shimsight {
namespace {

RenderRequest smallRequest(const GearSet& gearSet) {
    RenderRequest request;
    request.modification = gearSet.modification;
    request.widthPx = 160;
    request.heightPx = 120;
    request.samplesPerPixel = 2;
    request.threads = 2;
    return request;
}

const ToothContact& milledContact() {
    static const ToothContact contact(test::milledSet());
    return contact;
}

render::Scene sceneOf(const ToothContact& contact, const RingFlank& drive, const RingFlank& coast,
                      const RenderRequest& request) {
    return render::buildScene(contact, drive, coast, request, 2);
}

int rolledAndWhole(const RenderResult& result) {
    int count = 0;
    for (const FlankTruth& flank : result.flanks) {
        if (flank.side == result.request.faced && flank.state == ToothState::Rolled && flank.visibleShare > 0.9)
            ++count;
    }
    return count;
}

}  // namespace

TEST_CASE("a photo is the same bytes on one thread and on two", "[render]") {
    for (const SceneKind scene : {SceneKind::Bench, SceneKind::CarrierOnStand, SceneKind::OpenedAxle}) {
        RenderRequest request = smallRequest(milledContact().gearSet());
        request.scene = scene;
        request.threads = 1;
        const RenderResult one = renderPhoto(milledContact(), request);
        request.threads = 2;
        const RenderResult two = renderPhoto(milledContact(), request);
        INFO(name(scene));
        REQUIRE(one.picture.width == 160);
        REQUIRE(one.picture.height == 120);
        REQUIRE(one.picture.rgb.size() == 160u * 120u * 3u);
        CHECK(one.picture.rgb == two.picture.rgb);
        REQUIRE(one.flanks.size() == two.flanks.size());
        CHECK(one.jpegQuality == two.jpegQuality);
        request.seed = 2;
        CHECK(renderPhoto(milledContact(), request).picture.rgb != one.picture.rgb);
    }
}

TEST_CASE("every grid point of the truth is where the flank is seen, within half a pixel", "[render][many-draws]") {
    for (const auto& gearSet : {test::milledSet(), test::hobbedSet()}) {
        const ToothContact contact(gearSet);
        const RingFlank drive(contact.gearSet(), contact.blank(), Side::Drive),
            coast(contact.gearSet(), contact.blank(), Side::Coast);
        for (const Side faced : kSides) {
            for (const std::uint64_t seed : {1u, 2u, 3u}) {
                RenderRequest request = smallRequest(gearSet);
                request.faced = faced;
                request.seed = seed;
                const RenderResult result = renderPhoto(contact, request);
                // The same scene at the size of a real photo: its code is (tooth, side, u, v) along the chief ray.
                request.widthPx = 1600;
                request.heightPx = 1200;
                const render::Scene scene = sceneOf(contact, drive, coast, request);
                REQUIRE(scene.camera.k1 != 0);
                int compared = 0;
                double worst = 0;
                for (const FlankTruth& flank : result.flanks) {
                    if (flank.visibleShare < 0.9) continue;
                    REQUIRE(flank.grid.size() == static_cast<std::size_t>(kTruthColumns * kTruthRows));
                    const auto at = [&](int i, int j) {
                        const PixelPoint& p = flank.grid[static_cast<std::size_t>(j * kTruthColumns + i)];
                        return Eigen::Vector2d(10 * p.x, 10 * p.y);  // the picture is ten times as large
                    };
                    for (int j = 1; j + 1 < kTruthRows; ++j) {
                        for (int i = 1; i + 1 < kTruthColumns; ++i) {
                            const Eigen::Vector3d ray = scene.camera.direction(at(i, j));
                            const auto hit =
                                scene.world->intersect(render::toVec(scene.camera.origin), render::toVec(ray));
                            if (!hit || !hit->isTooth || hit->place != flank.tooth) continue;
                            const auto wanted =
                                flank.side == Side::Drive ? render::Material::DriveFlank : render::Material::CoastFlank;
                            if (hit->material != wanted) continue;
                            // From the difference in (u, v) to pixels, by the grid's own steps.
                            const double u = static_cast<double>(i) / (kTruthColumns - 1),
                                         v = 1 - static_cast<double>(j) / (kTruthRows - 1);
                            const Eigen::Vector2d stepU = (at(i + 1, j) - at(i - 1, j)) * (kTruthColumns - 1) / 2.0;
                            const Eigen::Vector2d stepV = (at(i, j - 1) - at(i, j + 1)) * (kTruthRows - 1) / 2.0;
                            const Eigen::Vector2d off = stepU * (static_cast<double>(hit->coord.u) - u) +
                                                        stepV * (static_cast<double>(hit->coord.v) - v);
                            worst = std::max(worst, off.norm());
                            ++compared;
                        }
                    }
                }
                INFO(gearSet.name << ", seed " << seed << ", worst " << worst << " px of 1600 over " << compared
                                  << " points");
                // Enough to tell; how many there are depends on the scene, which another compiler draws in another
                // order.
                CHECK(compared > 250);
                CHECK(worst < 0.5);
            }
        }
    }
}

TEST_CASE("the compound shows the contact of the true map at the truth's places", "[render][many-draws]") {
    // Yellow on steel: blue is weak where compound lies.
    RenderRequest request = smallRequest(milledContact().gearSet());
    request.widthPx = 640;
    request.heightPx = 480;
    request.samplesPerPixel = 4;
    request.colour = "yellow";
    request.variety = 0.2;
    request.error.depthMm = 0.08;  // off centre, so that a flipped axis would show
    for (const Side faced : kSides) {
        for (const PasteMarking marking : {PasteMarking::Wiped, PasteMarking::Transferred}) {
            request.faced = faced;
            request.marking = marking;
            const RenderResult result = renderPhoto(milledContact(), request);
            double inside = 0, outside = 0;
            int insideCount = 0, outsideCount = 0;
            for (const FlankTruth& flank : result.flanks) {
                if (flank.side != faced || flank.state != ToothState::Rolled || flank.visibleShare < 0.9) continue;
                for (int j = 1; j + 1 < kTruthRows; ++j) {
                    for (int i = 1; i + 1 < kTruthColumns; ++i) {
                        const int mx = std::min(i * kMapWidth / (kTruthColumns - 1), kMapWidth - 1),
                                  my = std::min(j * kMapHeight / (kTruthRows - 1), kMapHeight - 1);
                        const int contact = result.trueMap[index(faced)].at(mx, my);
                        if (contact > 20 && contact < 235) continue;
                        const PixelPoint& p = flank.grid[static_cast<std::size_t>(j * kTruthColumns + i)];
                        const auto k = 3 * (static_cast<std::size_t>(p.y) * 640 + static_cast<std::size_t>(p.x));
                        const double yellow = 1.0 - result.picture.rgb[k + 2] / (1.0 + result.picture.rgb[k]);
                        (contact >= 235 ? inside : outside) += yellow;
                        ++(contact >= 235 ? insideCount : outsideCount);
                    }
                }
            }
            REQUIRE(insideCount > 50);
            REQUIRE(outsideCount > 50);
            inside /= insideCount;
            outside /= outsideCount;
            INFO("yellow inside " << inside << ", outside " << outside);
            if (marking == PasteMarking::Wiped) {
                CHECK(outside > inside + 0.15);
            } else {
                CHECK(inside > outside + 0.15);
            }
        }
    }
}

TEST_CASE("the true maps are the prediction for the request", "[render]") {
    RenderRequest request = smallRequest(milledContact().gearSet());
    request.error.depthMm = 0.1;
    request.error.ringMm = -0.05;
    request.toothToToothMm = 0.03;
    const RenderResult result = renderPhoto(milledContact(), request);
    for (const Side side : kSides) {
        const FlankMap map =
            milledContact().predictMap(side, request.error, request.modification[index(side)], request.filmMm);
        CHECK(result.trueMap[index(side)].contact == map.contact);
    }
}

TEST_CASE("a left-hand gear set gives the mirrored truth", "[render]") {
    GearSetData data = test::milledData();
    data.hand = Hand::Left;
    const ToothContact left(completeGearSet(data));
    const RenderRequest request = smallRequest(left.gearSet());
    const RenderResult a = renderPhoto(milledContact(), request), b = renderPhoto(left, request);
    REQUIRE(a.flanks.size() == b.flanks.size());
    REQUIRE(!a.flanks.empty());
    for (std::size_t k = 0; k < a.flanks.size(); ++k) {
        CHECK(a.flanks[k].side == b.flanks[k].side);
        CHECK(a.flanks[k].visibleShare == Approx(b.flanks[k].visibleShare));
        // Toe to heel and root to tip turn the other way round in the picture; the places are mirrored.
        for (std::size_t c = 0; c < 4; ++c) {
            CHECK(a.flanks[k].corners[c].x == Approx(160 - b.flanks[k].corners[c].x));
            CHECK(a.flanks[k].corners[c].y == Approx(b.flanks[k].corners[c].y));
        }
    }
}

TEST_CASE("rolled flanks of the faced side are in view in every scene", "[render][many-draws]") {
    for (const auto& gearSet : {test::milledSet(), test::hobbedSet(), test::spiralBevelSet()}) {
        const ToothContact contact(gearSet);
        for (const SceneKind scene : {SceneKind::Bench, SceneKind::CarrierOnStand, SceneKind::OpenedAxle}) {
            for (const Side faced : kSides) {
                RenderRequest request = smallRequest(gearSet);
                request.widthPx = 80;
                request.heightPx = 64;
                request.samplesPerPixel = 1;
                request.scene = scene;
                request.faced = faced;
                int most = 0;
                for (const std::uint64_t seed : {1u, 2u, 3u}) {
                    request.seed = seed;
                    most = std::max(most, rolledAndWhole(renderPhoto(contact, request)));
                }
                INFO(gearSet.name << ", " << name(scene) << ", side " << index(faced));
                CHECK(most >= 2);
            }
        }
    }
}

TEST_CASE("requests that cannot be drawn are refused", "[render]") {
    const RenderRequest good = smallRequest(milledContact().gearSet());
    const auto refused = [&](auto change) {
        RenderRequest request = good;
        change(request);
        CHECK_THROWS_AS(renderPhoto(milledContact(), request), InputError);
    };
    refused([](RenderRequest& r) { r.widthPx = 63; });
    refused([](RenderRequest& r) { r.heightPx = 6001; });
    refused([](RenderRequest& r) { r.samplesPerPixel = 0; });
    refused([](RenderRequest& r) { r.variety = 2.5; });
    refused([](RenderRequest& r) { r.variety = std::nan(""); });
    refused([](RenderRequest& r) { r.colour = "mauve"; });
    refused([](RenderRequest& r) { r.paintedTeeth = -1; });
    refused([](RenderRequest& r) { r.filmMm = 0; });
}

TEST_CASE("the camera's rays are the inverse of its projection", "[render]") {
    render::Camera camera = render::lookAt({10, -20, -300}, {0, 5, 30}, {0, -1, 0}, 0.3);
    camera.widthPx = 1600;
    camera.heightPx = 1200;
    camera.focalPx = 1300;
    camera.centrePx = {803, 597};
    camera.k1 = -0.09;
    camera.k2 = 0.02;
    CHECK(camera.right.dot(camera.down) == Approx(0).margin(1e-12));
    CHECK((camera.right.cross(camera.down) - camera.forward).norm() < 1e-12);
    for (double x = 0; x <= 1600; x += 200) {
        for (double y = 0; y <= 1200; y += 200) {
            const Eigen::Vector3d point = camera.origin + 250 * camera.direction({x, y});
            const auto pixel = camera.project(point);
            REQUIRE(pixel.has_value());
            CHECK((*pixel - Eigen::Vector2d(x, y)).norm() < 1e-6);
        }
    }
    CHECK_FALSE(camera.project(camera.origin - camera.forward).has_value());
}

}  // namespace shimsight
