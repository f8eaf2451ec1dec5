// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cmath>

#include "shimsight/render.h"
#include "support/gear_sets.h"
#include "training_pictures/training_pictures.h"

namespace shimsight {
namespace {

RenderRequest labelRequest(const GearSet& gearSet) {
    RenderRequest request;
    request.modification = gearSet.modification;
    request.widthPx = 480;
    request.heightPx = 360;
    request.samplesPerPixel = 1;
    request.threads = 2;
    return request;
}

PixelClass classOf(Side side) { return side == Side::Drive ? PixelClass::Convex : PixelClass::Concave; }

}  // namespace

TEST_CASE("labels agree with the truth grid: side, tooth, u and v", "[render]") {
    for (const Hand hand : {Hand::Right, Hand::Left}) {
        for (const SceneKind scene : {SceneKind::Bench, SceneKind::OpenedAxle}) {
            GearSetData data = test::milledData();
            data.hand = hand;
            const ToothContact contact(completeGearSet(data));
            RenderRequest request = labelRequest(contact.gearSet());
            request.scene = scene;
            request.seed = 3;
            const RenderResult photo = renderPhoto(contact, request);
            const LabelPicture labels = renderLabels(contact, request);
            REQUIRE(labels.width == photo.picture.width);
            REQUIRE(labels.height == photo.picture.height);
            REQUIRE(labels.kind.size() ==
                    static_cast<std::size_t>(labels.width) * static_cast<std::size_t>(labels.height));
            int compared = 0, otherPlace = 0;
            double worst = 0;
            for (const FlankTruth& flank : photo.flanks) {
                if (flank.visibleShare < 0.9) continue;
                const auto at = [&](int i, int j) {
                    return flank.grid[static_cast<std::size_t>(j * kTruthColumns + i)];
                };
                for (int j = 1; j + 1 < kTruthRows; ++j) {
                    for (int i = 1; i + 1 < kTruthColumns; ++i) {
                        const PixelPoint p = at(i, j);
                        if (p.x < 0 || p.y < 0 || p.x >= labels.width || p.y >= labels.height) continue;
                        const auto pixel = static_cast<std::size_t>(p.y) * static_cast<std::size_t>(labels.width) +
                                           static_cast<std::size_t>(p.x);
                        ++compared;
                        if (labels.kind[pixel] != classOf(flank.side) || labels.tooth[pixel] != flank.tooth) {
                            ++otherPlace;  // hidden, or within half a pixel of a border
                            continue;
                        }
                        // The pixel's middle is up to half a pixel away each way: what the grid's own steps make of
                        // that.
                        const PixelPoint right = at(i + 1, j), left = at(i - 1, j), up = at(i, j - 1),
                                         down = at(i, j + 1);
                        const double ux = (right.x - left.x) * (kTruthColumns - 1) / 2.0,
                                     uy = (right.y - left.y) * (kTruthColumns - 1) / 2.0;
                        const double vx = (up.x - down.x) * (kTruthRows - 1) / 2.0,
                                     vy = (up.y - down.y) * (kTruthRows - 1) / 2.0;
                        const double du =
                            static_cast<double>(labels.u[pixel]) - static_cast<double>(i) / (kTruthColumns - 1);
                        const double dv =
                            static_cast<double>(labels.v[pixel]) - (1 - static_cast<double>(j) / (kTruthRows - 1));
                        const double dx = std::floor(p.x) + 0.5 - p.x, dy = std::floor(p.y) + 0.5 - p.y;
                        worst = std::max(worst, std::hypot(ux * du + vx * dv - dx, uy * du + vy * dv - dy));
                    }
                }
            }
            INFO(name(scene) << ", " << compared << " points, " << otherPlace << " elsewhere, worst " << worst
                             << " px");
            REQUIRE(compared > 300);
            CHECK(otherPlace < 0.08 * compared);
            CHECK(worst <
                  0.5);  // the meshes have facets: their (u, v) stray a little from the surface between the grid points
        }
    }
}

TEST_CASE("labels name the middle of every flank where the truth has it", "[render]") {
    const ToothContact contact(test::hobbedSet());
    const RenderRequest request = labelRequest(contact.gearSet());
    const RenderResult photo = renderPhoto(contact, request);
    const LabelPicture labels = renderLabels(contact, request);
    REQUIRE(labels.centres.size() == static_cast<std::size_t>(contact.gearSet().ringTeeth));
    int compared = 0;
    for (const FlankTruth& flank : photo.flanks) {
        const auto& centre = labels.centres[static_cast<std::size_t>(flank.tooth)][index(flank.side)];
        REQUIRE(centre);
        const PixelPoint& middle =
            flank.grid[static_cast<std::size_t>((kTruthRows / 2) * kTruthColumns + kTruthColumns / 2)];
        CHECK(centre->x == Approx(middle.x).margin(1e-6));
        CHECK(centre->y == Approx(middle.y).margin(1e-6));
        ++compared;
    }
    CHECK(compared >= 2);
}

TEST_CASE("a picture without a gear is the same bytes on one thread and on two, and another for another seed",
          "[render]") {
    RenderRequest request;
    request.widthPx = 160;
    request.heightPx = 120;
    request.samplesPerPixel = 2;
    request.threads = 1;
    const Picture one = renderWithoutGear(request);
    request.threads = 2;
    CHECK(renderWithoutGear(request).rgb == one.rgb);
    request.seed = 2;
    CHECK(renderWithoutGear(request).rgb != one.rgb);
    REQUIRE(one.rgb.size() == 160u * 120u * 3u);
}

TEST_CASE("the ground is where nothing of the gear is", "[render]") {
    const ToothContact contact(test::milledSet());
    const LabelPicture labels = renderLabels(contact, labelRequest(contact.gearSet()));
    int ground = 0, gear = 0;
    for (std::size_t k = 0; k < labels.kind.size(); ++k) {
        if (labels.tooth[k] >= 0) {
            ++gear;
            CHECK_FALSE(labels.ground[k]);
        }
        ground += labels.ground[k];
    }
    CHECK(gear > 1000);
    CHECK(ground > 1000);
}

}  // namespace shimsight
