// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Pictures of a workshop without a ring gear, to learn and to test what must not be taken for one.
#include <Eigen/Geometry>

#include "render/develop.h"
#include "render/pick.h"
#include "render/shot.h"
#include "render/solids.h"
#include "render/tracer.h"
#include "training_pictures/training_pictures.h"

namespace shimsight {
namespace render {
namespace {

using Outline = std::vector<std::array<float, 2>>;

void quad(Mesh& mesh, Vec a, Vec b, Vec c, Vec d, Vec outward) {
    Vec n = normalize(cross(b - a, d - a));
    if (dot(n, outward) < 0) n = -n;
    const std::uint32_t first = mesh.add(a, n, {a.x, a.y});
    mesh.add(b, n, {b.x, b.y});
    mesh.add(c, n, {c.x, c.y});
    mesh.add(d, n, {d.x, d.y});
    mesh.triangle.push_back({first, first + 1, first + 2});
    mesh.triangle.push_back({first, first + 2, first + 3});
}

/// A star-shaped outline pulled up from z = 0 to `height`, turned by `twist` rad on the way and shrunk by the share
/// `taper`, with a round bore.
Mesh pulledUp(Material material, const Outline& outline, float height, float bore, float twist, float taper = 0) {
    constexpr int kLayers = 6;
    Mesh mesh;
    mesh.material = material;
    const std::size_t n = outline.size();
    const auto at = [&](std::size_t k, float t) {
        const auto& p = outline[k % n];
        const float a = twist * t, size = 1 - taper * t, c = size * std::cos(a), s = size * std::sin(a);
        return Vec{c * p[0] - s * p[1], s * p[0] + c * p[1], height * t};
    };
    const auto boreAt = [&](std::size_t k, float t) {
        const Vec p = at(k, t);
        const float r = std::max(std::hypot(p.x, p.y), 1e-3f);
        return Vec{p.x * bore / r, p.y * bore / r, p.z};
    };
    for (std::size_t k = 0; k < n; ++k) {
        for (int layer = 0; layer < kLayers; ++layer) {
            const float t0 = static_cast<float>(layer) / kLayers, t1 = static_cast<float>(layer + 1) / kLayers;
            const Vec a = at(k, t0), b = at(k + 1, t0);
            const Vec side{b.y - a.y, a.x - b.x, 0};
            quad(mesh, a, b, at(k + 1, t1), at(k, t1), side);
        }
        quad(mesh, boreAt(k, 0), boreAt(k + 1, 0), boreAt(k + 1, 1), boreAt(k, 1), -at(k, 0.5f));
        quad(mesh, at(k, 1), at(k + 1, 1), boreAt(k + 1, 1), boreAt(k, 1), {0, 0, 1});
        quad(mesh, at(k, 0), at(k + 1, 0), boreAt(k + 1, 0), boreAt(k, 0), {0, 0, -1});
    }
    return mesh;
}

/// Straight teeth of involute-like, trapezoid or rectangular section.
Outline toothedOutline(float radius, int teeth, float depth, float tipShare, float rootShare) {
    Outline outline;
    for (int k = 0; k < teeth; ++k) {
        const double pitch = 2 * kPi / teeth, middle = k * pitch;
        const double tip = 0.5 * pitch * static_cast<double>(tipShare),
                     root = 0.5 * pitch * (1 - static_cast<double>(rootShare));
        const std::array<std::array<double, 2>, 6> corners{{{-root, 0},
                                                            {-0.5 * (root + tip) - 0.02 * pitch, 0.5},
                                                            {-tip, 1},
                                                            {tip, 1},
                                                            {0.5 * (root + tip) + 0.02 * pitch, 0.5},
                                                            {root, 0}}};
        for (const auto& [angle, out] : corners) {
            const double r = static_cast<double>(radius) + (out - 1) * static_cast<double>(depth);
            outline.push_back(
                {static_cast<float>(r * std::cos(middle + angle)), static_cast<float>(r * std::sin(middle + angle))});
        }
    }
    return outline;
}

Outline polygon(float radius, int corners) {
    Outline outline;
    for (int k = 0; k < corners; ++k) {
        const double a = 2 * kPi * k / corners;
        outline.push_back({radius * static_cast<float>(std::cos(a)), radius * static_cast<float>(std::sin(a))});
    }
    return outline;
}

Material anyMaterial(Random& random) {
    constexpr std::array kMaterials{Material::CastIron,       Material::MachinedIron, Material::BoltSteel,
                                    Material::BearingSteel,   Material::Pinion,       Material::GasketFace,
                                    Material::HousingOutside, Material::PaintedTube,  Material::Rubber,
                                    Material::GearTurned,     Material::Wood,         Material::Cardboard,
                                    Material::SheetSteel,     Material::TopLand,      Material::ToothEnd};
    return kMaterials[static_cast<std::size_t>(random.integer(0, static_cast<int>(kMaterials.size()) - 1))];
}

Material anyMetal(Random& random) {
    constexpr std::array kMetals{Material::CastIron,     Material::MachinedIron, Material::BoltSteel,
                                 Material::BearingSteel, Material::Pinion,       Material::GearTurned,
                                 Material::TopLand};
    return kMetals[static_cast<std::size_t>(random.integer(0, static_cast<int>(kMetals.size()) - 1))];
}

/// Spur or helical gear.
std::vector<Mesh> spurGear(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float radius = scale * pick(random, 0.5, 1.1);
    const int teeth = random.integer(11, 60);
    const float depth = radius * pick(random, 1.6, 4.6) / static_cast<float>(teeth);
    const float twist = random.chance(0.5) ? 0 : pick(random, -0.35, 0.35);
    meshes.push_back(pulledUp(anyMetal(random),
                              toothedOutline(radius, teeth, depth, pick(random, 0.22, 0.48), pick(random, 0.3, 0.55)),
                              radius * pick(random, 0.15, 0.9), radius * pick(random, 0.15, 0.75), twist));
    return meshes;
}

/// Disc with holes, as of a brake.
std::vector<Mesh> discWithHoles(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float outer = scale * pick(random, 0.8, 1.5), inner = outer * pick(random, 0.3, 0.65),
                thick = outer * pick(random, 0.04, 0.2);
    const Material material = anyMetal(random);
    meshes.push_back(turned(material, {{inner, 0}, {outer, 0}, {outer, thick}, {inner, thick}, {inner, 0}}, 96));
    const int holes = random.integer(5, 40);
    for (int k = 0; k < holes; ++k) {
        const double a = 2 * kPi * k / holes;
        const float r = mix(inner, outer, random.chance(0.5) ? 0.35f : 0.7f), size = 0.05f * outer;
        append(meshes, {turned(Material::Rubber, {{size, 0}, {0, 0}}, 20)},
               translation({r * static_cast<float>(std::cos(a)), r * static_cast<float>(std::sin(a)), thick + 0.1f}));
    }
    return meshes;
}

/// Row of blades or cooling fins, upright or leaning.
std::vector<Mesh> rowOfBlades(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const int blades = random.integer(4, 18);
    const float length = scale * pick(random, 0.5, 1.6), step = scale * pick(random, 0.06, 0.25),
                thick = step * pick(random, 0.15, 0.7), height = scale * pick(random, 0.15, 0.6);
    const Material material = anyMaterial(random);
    for (int k = 0; k < blades; ++k)
        meshes.push_back(roundedBox(
            material, {-0.5f * length, step * (static_cast<float>(k) - 0.5f * static_cast<float>(blades)), 0},
            {0.5f * length, step * (static_cast<float>(k) - 0.5f * static_cast<float>(blades)) + thick, height},
            0.2f * thick));
    meshes.push_back(roundedBox(material, {-0.55f * length, -0.55f * step * static_cast<float>(blades), 0},
                                {0.55f * length, 0.55f * step * static_cast<float>(blades), 0.2f * height}, 0.5f));
    return meshes;
}

/// Box or block, more than one on each other.
std::vector<Mesh> stackOfBlocks(Random& random, float scale) {
    std::vector<Mesh> meshes;
    float z = 0;
    const int blocks = random.integer(1, 3);
    for (int k = 0; k < blocks; ++k) {
        const float a = scale * pick(random, 0.2, 1), b = scale * pick(random, 0.2, 1),
                    h = scale * pick(random, 0.05, 0.5);
        meshes.push_back(roundedBox(anyMaterial(random), {-a, -b, z}, {a, b, z + h}, 0.06f * std::min({a, b, h})));
        z += h;
    }
    return meshes;
}

/// Can, roller, bearing ring, pulley with grooves.
std::vector<Mesh> roundThing(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float radius = scale * pick(random, 0.2, 0.9), height = scale * pick(random, 0.2, 1.4);
    std::vector<std::array<float, 2>> profile{{radius, 0}};
    const int grooves = random.integer(0, 6);
    for (int k = 0; k < grooves; ++k) {
        const float z0 = height * (static_cast<float>(k) + 0.5f) / static_cast<float>(grooves + 1),
                    dz = height * 0.4f / static_cast<float>(grooves + 1);
        profile.push_back({radius, z0});
        profile.push_back({radius * 0.88f, z0 + 0.5f * dz});
        profile.push_back({radius, z0 + dz});
    }
    profile.push_back({radius, height});
    profile.push_back({radius * pick(random, 0, 0.8), height});
    meshes.push_back(turned(anyMaterial(random), profile, 72));
    return meshes;
}

/// Splined or threaded shaft, lying.
std::vector<Mesh> splinedShaft(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float radius = scale * pick(random, 0.12, 0.35);
    const int teeth = random.integer(8, 30);
    Mesh shaft = pulledUp(
        anyMetal(random),
        toothedOutline(radius, teeth, radius * pick(random, 0.08, 0.2), pick(random, 0.3, 0.5), pick(random, 0.3, 0.5)),
        scale * pick(random, 0.6, 2.2), 0.1f * radius, random.chance(0.6) ? 0 : pick(random, -3, 3));
    meshes.push_back(placed(std::move(shaft), Rigid{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {-scale, 0, radius}}));
    return meshes;
}

/// Bolts and nuts.
std::vector<Mesh> boltsAndNuts(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const int count = random.integer(1, 12);
    for (int k = 0; k < count; ++k) {
        const float across = scale * pick(random, 0.15, 0.5);
        const Rigid at = translation({scale * pick(random, -1, 1), scale * pick(random, -1, 1), 0}) *
                         rotationZ(random.uniform(0, 6.28));
        if (random.chance(0.5)) {
            append(meshes,
                   {pulledUp(Material::BoltSteel, polygon(0.58f * across, 6), 0.45f * across, 0.28f * across, 0)}, at);
        } else {
            append(meshes, hexHead(across, 0.6f * across), at);
            append(meshes,
                   {turned(Material::BoltSteel,
                           {{0.3f * across, 0.6f * across}, {0.3f * across, 2.5f * across}, {0, 2.5f * across}}, 24)},
                   at);
        }
    }
    return meshes;
}

/// Flat ring with inner teeth or a sprocket, thin.
std::vector<Mesh> thinToothedRing(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float radius = scale * pick(random, 0.6, 1.4);
    const int teeth = random.integer(14, 60);
    meshes.push_back(pulledUp(anyMetal(random),
                              toothedOutline(radius, teeth, radius * pick(random, 2.5, 5) / static_cast<float>(teeth),
                                             pick(random, 0.1, 0.4), pick(random, 0.3, 0.6)),
                              scale * pick(random, 0.03, 0.12), radius * pick(random, 0.5, 0.85), 0));
    return meshes;
}

/// Spanner: a bar with two round ends.
std::vector<Mesh> spanner(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float length = scale * pick(random, 0.8, 1.8), width = scale * pick(random, 0.1, 0.25), thick = 0.4f * width;
    meshes.push_back(
        roundedBox(Material::BoltSteel, {-length, -0.5f * width, 0}, {length, 0.5f * width, thick}, 0.3f * thick));
    for (const float end : {-length, length})
        append(meshes, {pulledUp(Material::BoltSteel, polygon(width, 24), thick, 0.55f * width, 0)},
               translation({end, 0, 0}));
    return meshes;
}

/// One thing standing on z = 0, pointing up to +Z.
std::vector<Mesh> anything(Random& random, float scale) {
    switch (random.integer(0, 9)) {
        case 0:
        case 1:
            return spurGear(random, scale);
        case 2:
            return discWithHoles(random, scale);
        case 3:
            return rowOfBlades(random, scale);
        case 4:
            return stackOfBlocks(random, scale);
        case 5:
            return roundThing(random, scale);
        case 6:
            return splinedShaft(random, scale);
        case 7:
            return boltsAndNuts(random, scale);
        case 8:
            return thinToothedRing(random, scale);
        default:
            return spanner(random, scale);
    }
}

/// A round bar along a curve of points.
Mesh swept(Material material, const std::vector<Vec>& path, float radius) {
    constexpr int kRound = 10;
    Mesh mesh;
    mesh.material = material;
    for (std::size_t i = 0; i < path.size(); ++i) {
        const Vec along = normalize(path[std::min(i + 1, path.size() - 1)] - path[i > 0 ? i - 1 : 0]);
        // One reference for the whole curve keeps the rings from turning against each other.
        const Vec a = normalize(cross(along, std::abs(along.z) > 0.95f ? Vec{1, 0, 0} : Vec{0, 0, 1})),
                  b = cross(along, a);
        for (int k = 0; k < kRound; ++k) {
            const float angle = 2 * static_cast<float>(kPi) * static_cast<float>(k) / kRound;
            const Vec out = a * std::cos(angle) + b * std::sin(angle);
            mesh.add(path[i] + out * radius, out, {static_cast<float>(i), static_cast<float>(k)});
        }
    }
    for (std::size_t i = 0; i + 1 < path.size(); ++i) {
        for (std::uint32_t k = 0; k < kRound; ++k) {
            const auto first = static_cast<std::uint32_t>(i) * kRound;
            const std::uint32_t next = (k + 1) % kRound;
            mesh.triangle.push_back({first + k, first + next, first + kRound + next});
            mesh.triangle.push_back({first + k, first + kRound + next, first + kRound + k});
        }
    }
    return mesh;
}

/// Things between two rings: rollers upright, leaning or balls; with or without the outer ring.
std::vector<Mesh> bearing(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float inner = scale * pick(random, 0.25, 0.6), roller = inner * pick(random, 0.12, 0.3),
                height = random.chance(0.25) ? 2 * roller : roller * pick(random, 2, 5);
    const bool balls = height <= 2 * roller;
    const float lean = balls || random.chance(0.3) ? 0 : pick(random, 0.08, 0.3);
    const float middle = inner + 1.05f * roller, outer = middle + 1.05f * roller;
    meshes.push_back(turned(Material::BearingSteel,
                            {{inner, 0}, {inner, height}, {inner * 0.8f, height}, {inner * 0.8f, 0}, {inner, 0}}, 64));
    if (random.chance(0.5)) {
        const Material ring = random.chance(0.6) ? Material::BearingSteel : anyMetal(random);
        const float thick = roller * pick(random, 0.4, 1);
        meshes.push_back(turned(
            ring, {{outer, height}, {outer, 0}, {outer + thick, 0}, {outer + thick, height}, {outer, height}}, 64));
    }
    const int most = static_cast<int>(kPi * static_cast<double>(middle / roller));
    const int count = std::max(5, static_cast<int>(most * random.uniform(0.6, 0.97)));
    const float small = roller * (1 - lean * pick(random, 0.3, 1));
    std::vector<std::array<float, 2>> profile;
    if (balls) {
        for (int k = 0; k <= 12; ++k) {
            const double a = kPi * (k / 12.0 - 0.5);
            profile.push_back({roller * static_cast<float>(std::cos(a)), roller * static_cast<float>(1 + std::sin(a))});
        }
    } else {
        profile = {{0, 0}, {0.85f * roller, 0}, {roller, 0.1f * roller}, {small, height}, {0, height}};
    }
    for (int k = 0; k < count; ++k) {
        append(meshes, {turned(Material::BearingSteel, profile, 20)},
               rotationZ(2 * kPi * k / count) * translation({middle, 0, 0}) *
                   Rigid{{std::cos(lean), 0, std::sin(lean)}, {0, 1, 0}, {-std::sin(lean), 0, std::cos(lean)}, {}});
    }
    if (random.chance(0.5))
        meshes.push_back(turned(anyMaterial(random),
                                {{middle + 0.3f * roller, 0.75f * height},
                                 {middle + 0.3f * roller, 0.95f * height},
                                 {middle - 0.3f * roller, 0.95f * height},
                                 {middle - 0.3f * roller, 0.75f * height}},
                                64));
    return meshes;
}

/// Hub with blades: fan, pump wheel, vented disc.
std::vector<Mesh> bladed(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float hub = scale * pick(random, 0.2, 0.8), tip = hub + scale * pick(random, 0.2, 0.8),
                height = scale * pick(random, 0.06, 0.5);
    const int blades = random.integer(5, 48);
    const float pitch = 2 * static_cast<float>(kPi) * hub / static_cast<float>(blades),
                thick = std::min(0.5f * height, pitch * pick(random, 0.08, 0.6));
    const double tilt = random.chance(0.5) ? 0 : random.uniform(-0.9, 0.9), sweep = random.uniform(-0.8, 0.8);
    const Material material = anyMaterial(random);
    const Mesh blade = roundedBox(material, {0, -0.5f * thick, -0.5f * height},
                                  {tip - hub, 0.5f * thick, 0.5f * height}, 0.3f * thick);
    for (int k = 0; k < blades; ++k)
        append(meshes, {blade},
               rotationZ(2 * kPi * k / blades) * translation({hub * 0.97f, 0, 0.55f * height}) * rotationZ(sweep) *
                   rotationX(tilt));
    meshes.push_back(turned(anyMaterial(random), {{hub, 0}, {hub, 1.1f * height}, {0.4f * hub, 1.1f * height}}, 64));
    if (random.chance(0.5))
        meshes.push_back(
            turned(material, {{0.4f * hub, 0}, {tip, 0}, {tip, 0.08f * height}, {0.4f * hub, 0.08f * height}}, 64));
    if (random.chance(0.25))
        meshes.push_back(turned(material, {{tip, 0}, {tip * 1.05f, 0}, {tip * 1.05f, height}, {tip, height}}, 64));
    return meshes;
}

/// Bevel gear with straight teeth.
std::vector<Mesh> straightBevelGear(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float radius = scale * pick(random, 0.4, 1.1);
    const int teeth = random.integer(9, 46);
    const float taper = pick(random, 0.15, 0.5), height = radius * taper * pick(random, 0.3, 1.8);
    meshes.push_back(pulledUp(anyMetal(random),
                              toothedOutline(radius, teeth, radius * pick(random, 3, 5) / static_cast<float>(teeth),
                                             pick(random, 0.2, 0.42), pick(random, 0.25, 0.45)),
                              height, radius * pick(random, 0.1, 0.45), 0, taper));
    if (random.chance(0.5))
        meshes.push_back(turned(anyMetal(random),
                                {{0.5f * radius, -0.1f * radius},
                                 {0.95f * radius, -0.1f * radius},
                                 {0.95f * radius, 0.02f * radius},
                                 {0.5f * radius, 0.02f * radius}},
                                64));
    return meshes;
}

/// Threaded rod or hose: many fine rings, lying or standing.
std::vector<Mesh> ringedRod(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const auto step = [](int k, int n) { return static_cast<float>(k) / static_cast<float>(n); };
    const float radius = scale * pick(random, 0.08, 0.4), length = scale * pick(random, 0.8, 2.4);
    const int rings = random.integer(10, 60);
    const float deep = pick(random, 0.04, 0.2);
    std::vector<std::array<float, 2>> profile{{0, 0}, {radius, 0}};
    for (int k = 0; k < rings; ++k) {
        profile.push_back({radius * (1 - deep), length * step(2 * k + 1, 2 * rings)});
        profile.push_back({radius, length * step(k + 1, rings)});
    }
    profile.push_back({0, length});
    Mesh rod = turned(anyMaterial(random), profile, 48);
    if (random.chance(0.8))
        rod = placed(std::move(rod), Rigid{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {-0.5f * length, 0, radius}});
    meshes.push_back(std::move(rod));
    return meshes;
}

/// Coil spring, standing or lying.
std::vector<Mesh> coilSpring(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float radius = scale * pick(random, 0.2, 0.6), wire = radius * pick(random, 0.06, 0.22);
    const int turns = random.integer(3, 14);
    const float rise = wire * pick(random, 2.1, 6);
    std::vector<Vec> path;
    for (int k = 0; k <= 28 * turns; ++k) {
        const float a = 2 * static_cast<float>(kPi) * static_cast<float>(k) / 28;
        path.push_back({radius * std::cos(a), radius * std::sin(a), wire + rise * static_cast<float>(k) / 28});
    }
    Mesh spring = swept(anyMaterial(random), path, wire);
    if (random.chance(0.5))
        spring = placed(std::move(spring), Rigid{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {-scale, 0, radius + wire}});
    meshes.push_back(std::move(spring));
    return meshes;
}

/// Cable, chain-like wave, rope.
std::vector<Mesh> cable(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const auto step = [](int k, int n) { return static_cast<float>(k) / static_cast<float>(n); };
    std::vector<Vec> path;
    const float reach = scale * pick(random, 0.8, 2), swing = scale * pick(random, 0.05, 0.7),
                rate = pick(random, 1, 12), wire = scale * pick(random, 0.02, 0.1);
    for (int k = 0; k <= 240; ++k) {
        const float t = step(k, 240);
        path.push_back(
            {reach * (2 * t - 1), swing * std::sin(rate * 6.28f * t), wire + 0.3f * wire * std::cos(rate * 9 * t)});
    }
    meshes.push_back(swept(anyMaterial(random), path, wire));
    return meshes;
}

/// Tray of small parts in rows.
std::vector<Mesh> trayOfParts(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const int across = random.integer(2, 7), along = random.integer(2, 6);
    const float cell = scale * pick(random, 0.25, 0.6);
    const Material wall = anyMaterial(random);
    meshes.push_back(roundedBox(
        wall, {-0.5f * cell, -0.5f * cell, -0.2f},
        {cell * (static_cast<float>(across) - 0.5f), cell * (static_cast<float>(along) - 0.5f), 0.1f}, 0.05f));
    for (int i = 0; i <= across; ++i)
        meshes.push_back(
            roundedBox(wall, {cell * (static_cast<float>(i) - 0.53f), -0.5f * cell, 0},
                       {cell * (static_cast<float>(i) - 0.47f), cell * (static_cast<float>(along) - 0.5f), 0.3f * cell},
                       0.01f * cell));
    const std::vector<Mesh> part = anything(random, 0.3f * cell);
    const std::vector<Mesh> other = anything(random, 0.3f * cell);
    for (int i = 0; i < across; ++i) {
        for (int j = 0; j < along; ++j)
            append(meshes, random.chance(0.7) ? part : other,
                   translation({cell * static_cast<float>(i), cell * static_cast<float>(j), 0.1f}) *
                       rotationZ(random.uniform(-0.3, 0.3)));
    }
    return meshes;
}

/// Screwdriver or hammer, lying.
std::vector<Mesh> screwdriverOrHammer(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float length = scale * pick(random, 1, 2), grip = length * pick(random, 0.06, 0.14);
    const Rigid lying{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {-0.5f * length, 0, grip}};
    const int edges = random.integer(6, 16);
    append(meshes,
           {pulledUp(anyMaterial(random), toothedOutline(grip, edges, 0.12f * grip, 0.5f, 0.3f), 0.45f * length,
                     0.1f * grip, 0)},
           lying);
    append(meshes,
           {turned(Material::BoltSteel, {{0.3f * grip, 0.4f * length}, {0.3f * grip, length}, {0, length}}, 24)},
           lying);
    if (random.chance(0.5))
        append(meshes,
               {roundedBox(Material::BoltSteel, {-grip, -3 * grip, 0.9f * length},
                           {grip, 3 * grip, 0.9f * length + 2 * grip}, 0.3f * grip)},
               lying);
    return meshes;
}

/// Stack or fan of thin plates, as shims or cards.
std::vector<Mesh> thinPlates(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const int plates = random.integer(4, 16);
    const float a = scale * pick(random, 0.3, 1), b = scale * pick(random, 0.2, 0.8),
                thick = scale * pick(random, 0.008, 0.05);
    const double fan = random.uniform(-0.25, 0.25);
    for (int k = 0; k < plates; ++k)
        append(meshes, {roundedBox(anyMaterial(random), {-a, -b, 0}, {a, b, thick}, 0.2f * thick)},
               translation({0, 0, static_cast<float>(k) * thick * 1.4f}) * rotationZ(fan * k));
    return meshes;
}

/// Housing with ribs around a bore.
std::vector<Mesh> ribbedHousing(Random& random, float scale) {
    std::vector<Mesh> meshes;
    const float bore = scale * pick(random, 0.3, 0.8), outer = bore + scale * pick(random, 0.2, 0.7);
    const int ribs = random.integer(4, 24);
    const float height = scale * pick(random, 0.1, 0.5), thick = scale * pick(random, 0.03, 0.1);
    meshes.push_back(turned(Material::CastIron,
                            {{bore, 0}, {bore * 1.15f, 0}, {bore * 1.15f, height}, {bore, height}, {bore, 0}}, 64));
    meshes.push_back(
        turned(Material::HousingOutside, {{bore, 0}, {outer, 0}, {outer, 0.2f * height}, {bore, 0.2f * height}}, 64));
    for (int k = 0; k < ribs; ++k)
        append(meshes,
               {roundedBox(Material::CastIron, {bore, -0.5f * thick, 0},
                           {outer, 0.5f * thick, height * pick(random, 0.5, 1)}, 0.3f * thick)},
               rotationZ(2 * kPi * k / ribs));
    return meshes;
}

/// Things beyond those of `anything`.
std::vector<Mesh> anythingMore(Random& random, float scale) {
    switch (random.integer(0, 11)) {
        case 0:
        case 1:
            return straightBevelGear(random, scale);
        case 2:
        case 3:
            return bearing(random, scale);
        case 4:
            return bladed(random, scale);
        case 5:
            return ringedRod(random, scale);
        case 6:
            return coilSpring(random, scale);
        case 7:
            return cable(random, scale);
        case 8:
            return trayOfParts(random, scale);
        case 9:
            return screwdriverOrHammer(random, scale);
        case 10:
            return thinPlates(random, scale);
        default:
            return ribbedHousing(random, scale);
    }
}

void drawLooks(Looks& looks, Random& random) {
    looks.darkCoat = random.chance(0.3) ? pick(random, 0.5, 1) : pick(random, 0, 0.3);
    looks.steelTone = pick(random, 0.6, 1.05);
    looks.roughAlong = pick(random, 0.1, 0.35);
    looks.roughAcross = looks.roughAlong * pick(random, 1, 2);
    looks.oil = random.chance(0.4) ? 0 : pick(random, 0.1, 0.9);
    looks.rust = random.chance(0.25) ? pick(random, 0.1, 0.7) : 0;
    looks.dirt = pick(random, 0, 0.8);
    const auto colour = [&] { return Vec{pick(random, 0.02, 0.6), pick(random, 0.02, 0.6), pick(random, 0.02, 0.6)}; };
    looks.castColour = mix(colour(), Vec{0.12f, 0.12f, 0.12f}, pick(random, 0, 1));
    looks.housingColour = mix(colour(), Vec{0.1f, 0.1f, 0.1f}, pick(random, 0, 1));
    looks.ragColour = colour();
    looks.woodColour = mix(colour(), Vec{0.35f, 0.22f, 0.12f}, pick(random, 0.3, 1));
    looks.tubeColour = colour();
    looks.benchStain = pick(random, 0, 1);
    looks.stainOffset = {pick(random, 0, 60), pick(random, 0, 60), pick(random, 0, 60)};
}

Camera rolled(Camera camera, double angle) {
    const Eigen::AngleAxisd turn(angle, camera.forward);
    camera.right = turn * camera.right;
    camera.down = turn * camera.down;
    return camera;
}

Scene sceneOfThings(const RenderRequest& request, bool more) {
    const Random root(request.seed);
    Random things = root.fork(21), looks = root.fork(22), view = root.fork(23), lamps = root.fork(24);
    Scene scene;
    drawLooks(scene.looks, looks);

    // Bench at z = 0, up = -Z as in the other scenes.
    std::vector<Object> objects;
    constexpr std::array kGrounds{Material::Wood, Material::SheetSteel, Material::Cardboard,
                                  Material::Rag,  Material::CastIron,   Material::GasketFace};
    objects.push_back(benchObject(kGrounds[static_cast<std::size_t>(things.integer(0, 5))], 0));
    if (things.chance(0.35)) objects.push_back(ragObject(-0.5f, pick(things, 5, 80), things));
    const int count = things.chance(0.08) ? 0 : things.integer(1, 9);
    const Rigid toBench{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}, {0, 0, 0}};
    for (int k = 0; k < count; ++k) {
        Object object;
        const float scale = std::exp(pick(things, std::log(14.0), std::log(110.0)));
        object.meshes = more && things.chance(0.55) ? anythingMore(things, scale) : anything(things, scale);
        Rigid tilt;
        if (things.chance(0.3)) tilt = translation({0, 0, 0.4f * scale}) * rotationX(things.uniform(-1.5, 1.5));
        const float reach = k == 0 ? 20 : more ? 95 : 170;
        object.places = {toBench * translation({pick(things, -reach, reach), pick(things, -reach, reach), 0}) *
                         rotationZ(things.uniform(0, 2 * kPi)) * tilt};
        // The same thing again in a row, as on a shelf.
        const int again = more && things.chance(0.12) ? things.integer(1, 7) : 0;
        Vec next;
        if (again > 0) next = {scale * pick(things, -2.5, 2.5), scale * pick(things, -2.5, 2.5), 0};
        for (int copy = 0; copy < again; ++copy)
            object.places.push_back(translation(next * static_cast<float>(copy + 1)) * object.places.front());
        objects.push_back(std::move(object));
    }
    for (Object& thing : clutter(0, 30, 20, things.integer(0, 4), things)) objects.push_back(std::move(thing));
    scene.world = std::make_unique<World>(std::move(objects));

    const double sizeFactor = std::max(request.widthPx, request.heightPx) / 1600.0;
    const double focal = sizeFactor * std::exp(view.uniform(std::log(1100), std::log(2900)));
    const double distance = std::exp(view.uniform(std::log(140.0), std::log(700.0)));
    const double elevation = std::asin(view.uniform(0.25, 1)), azimuth = view.uniform(0, 2 * kPi);
    const Eigen::Vector3d target(view.normal(0, 25), view.normal(0, 25), -10);
    const Eigen::Vector3d eye =
        target + distance * Eigen::Vector3d(std::cos(elevation) * std::cos(azimuth),
                                            std::cos(elevation) * std::sin(azimuth), -std::sin(elevation));
    Camera camera = lookAt(eye, target, {0, 0, -1}, view.normal(0, 0.4));
    camera.widthPx = request.widthPx;
    camera.heightPx = request.heightPx;
    camera.focalPx = focal;
    camera.centrePx = {0.5 * request.widthPx, 0.5 * request.heightPx};
    camera.lensRadius = view.uniform(0.3, 1.2);
    camera.focusDistance = distance * (1 + view.normal(0, 0.05));
    if (more) {
        // Detail that fills the picture, and things far off.
        camera.focalPx *= std::exp(view.uniform(-0.5, 1.1));
        if (view.chance(0.3)) camera = rolled(camera, view.uniform(-kPi, kPi));
    }
    scene.camera = camera;

    // A few lamps anywhere above.
    Surroundings& room = scene.world->surroundings;
    room.up = {0, 0, -1};
    room.ceiling = Vec{1, 1, 1} * pick(lamps, 0.2, 0.7);
    room.wall = Vec{1, 0.97f, 0.93f} * pick(lamps, 0.08, 0.35);
    room.floor = Vec{1, 0.95f, 0.9f} * pick(lamps, 0.04, 0.2);
    addPatches(room, lamps.integer(6, 16), lamps);
    const int lights = lamps.integer(1, 4);
    for (int k = 0; k < lights; ++k) {
        const float far = pick(lamps, 300, 2200), wide = far * pick(lamps, 0.05, 0.7),
                    high = wide * pick(lamps, 0.1, 1);
        const double up = std::asin(lamps.uniform(0.15, 1)), around = lamps.uniform(0, 2 * kPi);
        const Vec at =
            toVec(Eigen::Vector3d(std::cos(up) * std::cos(around), std::cos(up) * std::sin(around), -std::sin(up))) *
            far;
        const Vec n = normalize(-at), a = anyPerpendicular(n), b = cross(n, a);
        const float power = pick(lamps, 0.6, 4) * far * far / (wide * high);
        const Vec tint{pick(lamps, 0.85, 1.35), 1, pick(lamps, 0.6, 1.15)};
        scene.world->lights.push_back({at - a * (0.5f * wide) - b * (0.5f * high), a * wide, b * high, tint * power});
    }
    return scene;
}

}  // namespace

Scene sceneWithoutGear(const RenderRequest& request) { return sceneOfThings(request, false); }

Scene sceneOfOtherParts(const RenderRequest& request) {
    Scene scene = sceneOfThings(request, true);
    Random style = Random(request.seed).fork(25);
    restyle(scene, style);
    return scene;
}

}  // namespace render

Picture renderWithoutGear(const RenderRequest& request) {
    return render::takeShot(render::sceneWithoutGear(request), request, false, render::threadCount(request.threads))
        .picture;
}

}  // namespace shimsight
