// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/pick.h"
#include "render/scene.h"
#include "training_pictures/training_pictures.h"

namespace shimsight::render {
namespace {

Vec anyColour(Random& random, double low, double high, double saturation) {
    const float grey = std::exp(pick(random, std::log(low), std::log(high)));
    const Vec colour{pick(random, low, high), pick(random, low, high), pick(random, low, high)};
    return mix(Vec{grey, grey, grey}, colour, pick(random, 0, saturation));
}

void dim(Surroundings& room, float by) {
    room.ceiling *= by;
    room.wall *= by;
    room.floor *= by;
    for (Surroundings::Patch& patch : room.patches) patch.colour *= by;
}

void flatLight(Scene& scene, Random& random) {
    Looks& looks = scene.looks;
    Surroundings& room = scene.world->surroundings;
    room.patches.clear();
    // Light from everywhere, a little more from above: no mirrored shapes, soft contact shadows only.
    const float level = pick(random, 0.3, 0.7);
    room.ceiling = Vec{1, 1, 1} * level;
    room.wall = room.ceiling * pick(random, 0.5, 1);
    room.floor = room.ceiling * pick(random, 0.2, 0.8);
    const float lamps = pick(random, 0, 0.5);
    for (RectLight& light : scene.world->lights) light.radiance *= lamps;
    looks.roughAlong = looks.roughAcross = pick(random, 0.35, 0.7);
    looks.toolLinesDepth *= pick(random, 0, 0.5);
    looks.oil = 0;
}

void harshLight(Scene& scene, Random& random) {
    std::vector<RectLight>& lights = scene.world->lights;
    dim(scene.world->surroundings, pick(random, 0.03, 0.25));
    if (lights.empty()) return;
    const auto kept = static_cast<std::size_t>(random.integer(0, static_cast<int>(lights.size()) - 1));
    RectLight only = lights[kept];
    // Smaller and brighter: hard shadows.
    const float shrink = pick(random, 0.15, 0.8);
    only.corner += (only.edgeX + only.edgeY) * (0.5f * (1 - shrink));
    only.edgeX *= shrink;
    only.edgeY *= shrink;
    only.radiance *= 1 / (shrink * shrink);
    lights.assign(1, only);
}

}  // namespace

void restyle(Scene& scene, Random& random) {
    if (random.chance(0.35)) return;
    Looks& looks = scene.looks;
    const double light = random.uniform();
    if (light < 0.3) {
        flatLight(scene, random);
    } else if (light < 0.5) {
        harshLight(scene, random);
    } else if (light < 0.65) {
        dim(scene.world->surroundings, pick(random, 0.3, 2));
        scene.world->surroundings.patches.clear();
    }

    const double steel = random.uniform();
    if (steel < 0.16) {  // oxide
        looks.darkCoat = pick(random, 0.85, 1);
        looks.wear *= pick(random, 0, 1);
    } else if (steel < 0.28) {  // rusty
        looks.rust = pick(random, 0.5, 1);
        looks.dirt = pick(random, 0.2, 0.9);
        looks.oil *= 0.4f;
    } else if (steel < 0.44) {  // spotless
        looks.rust = looks.dirt = looks.oil = looks.landSmear = 0;
    } else if (steel < 0.66) {  // no metal: a drawing, a model, a plastic gear
        looks.matte = random.chance(0.7) ? 1 : pick(random, 0.3, 1);
        looks.matteColour = anyColour(random, 0.03, 0.65, 0.5);
        looks.roughAlong = looks.roughAcross = pick(random, 0.2, 0.7);
        looks.darkCoat = 0;
        if (random.chance(0.7)) looks.dirt = looks.rust = looks.oil = looks.wear = 0;
        looks.toolLinesDepth *= pick(random, 0, 0.6);
    }
    if (random.chance(0.35))
        looks.steelTint = Vec{pick(random, 0.7, 1.2), pick(random, 0.75, 1.1), pick(random, 0.65, 1.2)};
    if (random.chance(0.2)) looks.toolLinesDepth = 0;

    if (random.chance(0.35)) {
        looks.plainGround = 1;
        looks.groundColour = anyColour(random, 0.02, 0.8, 0.8);
    }
    if (random.chance(0.3)) {
        looks.castColour = anyColour(random, 0.02, 0.5, 0.8);
        looks.housingColour = anyColour(random, 0.02, 0.5, 0.8);
    }
    if (random.chance(0.35)) {
        looks.paste.colour.albedo = anyColour(random, 0.03, 0.8, 1);
        looks.paste.colour.hidingUm *= std::exp(pick(random, -0.7, 0.7));
    }
    if (random.chance(0.4)) looks.paste.gloss = random.chance(0.5) ? 0 : pick(random, 0, 1);
}

}  // namespace shimsight::render
