// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The geometry ready for rays, the lights and the surroundings. Embree is seen only in world.cpp.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "render/mesh.h"

namespace shimsight::render {

struct Hit {
    Vec position, geometric, normal, tangent;  ///< geometric and normal on the side the ray came from
    Vec local;                                 ///< position in the object's own frame, for textures that stick to it
    Coord coord;
    Material material = Material::CastIron;
    float distance = 0;
    int object = 0, place = 0;
    bool isTooth = false;
};

/// A bright rectangle: softbox, window, strip lamp. Shines from both sides, is seen only in reflections and glints.
struct RectLight {
    Vec corner, edgeX, edgeY;
    Vec radiance;
    /// Light through a door: only places between two planes get it, with hard edges. No normal: every place.
    Vec doorNormal{0, 0, 0};
    float doorLow = 0, doorHigh = 0;
    bool reaches(Vec place) const {
        const float at = dot(place, doorNormal);
        return dot(doorNormal, doorNormal) == 0 || (at > doorLow && at < doorHigh);
    }
    Vec normal() const { return normalize(cross(edgeX, edgeY)); }
    float area() const { return length(cross(edgeX, edgeY)); }
};

/// What lies beyond the scene: a room without detail.
struct Surroundings {
    Vec up{0, 0, 1};
    Vec ceiling, wall, floor;
    /// A cupboard, door or poster far off: a soft rectangle in the directions about `toward`.
    struct Patch {
        Vec toward, acrossX, acrossY;  ///< the axes over the half sizes
        Vec colour;
        float softness = 0.2f;
    };
    std::vector<Patch> patches;
    Vec radiance(Vec direction) const;
};

class World {
public:
    explicit World(std::vector<Object> objects);
    ~World();
    World(const World&) = delete;
    World& operator=(const World&) = delete;

    std::optional<Hit> intersect(Vec origin, Vec direction, float near = 1e-3f) const;
    bool blocked(Vec origin, Vec direction, float distance) const;

    std::vector<RectLight> lights;
    Surroundings surroundings;

private:
    struct Tracer;
    std::unique_ptr<Tracer> tracer_;
    std::vector<Object> objects_;
};

}  // namespace shimsight::render
