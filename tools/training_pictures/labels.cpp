// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/shot.h"
#include "render/tracer.h"
#include "training_pictures/training_pictures.h"

namespace shimsight {
namespace render {
namespace {

PixelClass classOf(Material material) {
    switch (material) {
        case Material::DriveFlank:
            return PixelClass::Convex;
        case Material::CoastFlank:
            return PixelClass::Concave;
        case Material::TopLand:
            return PixelClass::TopLand;
        case Material::Root:
            return PixelClass::Root;
        default:
            return PixelClass::Background;
    }
}

bool isGround(Material material) {
    return material == Material::Wood || material == Material::SheetSteel || material == Material::Rag ||
           material == Material::Cardboard;
}

}  // namespace

LabelPicture labelScene(const RingFlank& drive, const RingFlank& coast, const Scene& scene, bool mirrored,
                        int threads) {
    const Camera& camera = scene.camera;
    LabelPicture labels;
    labels.width = camera.widthPx;
    labels.height = camera.heightPx;
    const auto pixels = static_cast<std::size_t>(labels.width) * static_cast<std::size_t>(labels.height);
    labels.kind.assign(pixels, PixelClass::Background);
    labels.tooth.assign(pixels, -1);
    labels.u.assign(pixels, 0);
    labels.v.assign(pixels, 0);
    std::vector<std::uint8_t> painted(pixels, 0), ground(pixels, 1);  // bits of one byte cannot be written side by side
    parallelFor(labels.height, threads, [&](int y) {
        for (int x = 0; x < labels.width; ++x) {
            const double seenX = mirrored ? labels.width - 1 - x + 0.5 : x + 0.5;
            const auto hit = scene.world->intersect(toVec(camera.origin), toVec(camera.direction({seenX, y + 0.5})));
            const auto at =
                static_cast<std::size_t>(y) * static_cast<std::size_t>(labels.width) + static_cast<std::size_t>(x);
            if (hit && !isGround(hit->material)) ground[at] = 0;
            if (!hit || !hit->isTooth) continue;
            labels.kind[at] = classOf(hit->material);
            labels.tooth[at] = static_cast<std::int16_t>(hit->place);
            if (labels.kind[at] != PixelClass::Convex && labels.kind[at] != PixelClass::Concave) continue;
            painted[at] = scene.states[static_cast<std::size_t>(hit->place)] != ToothState::Bare;
            labels.u[at] = hit->coord.u;
            labels.v[at] = hit->coord.v;
        }
    });
    labels.painted.assign(painted.begin(), painted.end());
    labels.ground.assign(ground.begin(), ground.end());
    for (int tooth = 0; tooth < scene.shape.teeth; ++tooth) {
        std::array<std::optional<PixelPoint>, 2> centres;
        for (const RingFlank* flank : {&drive, &coast}) {
            const auto seen = camera.project(flankPosition(*flank, 0.5, 0.5, tooth, scene));
            if (seen)
                centres[index(flank->side())] =
                    PixelPoint{mirrored ? camera.widthPx - seen->x() : seen->x(), seen->y()};
        }
        labels.centres.push_back(centres);
    }
    return labels;
}

}  // namespace render

LabelPicture renderLabels(const ToothContact& contact, const RenderRequest& request) {
    const RingFlank drive(contact.gearSet(), contact.blank(), Side::Drive),
        coast(contact.gearSet(), contact.blank(), Side::Coast);
    const int threads = render::threadCount(request.threads);
    const render::Scene scene = render::buildScene(contact, drive, coast, request, threads);
    return render::labelScene(drive, coast, scene, contact.gearSet().hand == Hand::Left, threads);
}

}  // namespace shimsight
