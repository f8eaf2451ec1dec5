/// Pictures of a workshop without a ring gear, to learn and to test what must not be taken for one.
#include <Eigen/Geometry>

#include "render/develop.h"
#include "render/shot.h"
#include "render/solids.h"
#include "render/tracer.h"

namespace shimsight {
namespace render {
namespace {

float pick(Random& random, double low, double high) { return static_cast<float>(random.uniform(low, high)); }

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

/// A star-shaped outline pulled up from z = 0 to `height`, turned by `twist` rad on the way, with a round bore.
Mesh pulledUp(Material material, const Outline& outline, float height, float bore, float twist) {
    constexpr int kLayers = 6;
    Mesh mesh;
    mesh.material = material;
    const std::size_t n = outline.size();
    const auto at = [&](std::size_t k, float t) {
        const auto& p = outline[k % n];
        const float a = twist * t, c = std::cos(a), s = std::sin(a);
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

/// One thing standing on z = 0, pointing up to +Z.
std::vector<Mesh> anything(Random& random, float scale) {
    std::vector<Mesh> meshes;
    switch (random.integer(0, 9)) {
        case 0:
        case 1: {  // spur or helical gear
            const float radius = scale * pick(random, 0.5, 1.1);
            const int teeth = random.integer(11, 60);
            const float depth = radius * pick(random, 1.6, 4.6) / static_cast<float>(teeth);
            const float twist = random.chance(0.5) ? 0 : pick(random, -0.35, 0.35);
            meshes.push_back(
                pulledUp(anyMetal(random),
                         toothedOutline(radius, teeth, depth, pick(random, 0.22, 0.48), pick(random, 0.3, 0.55)),
                         radius * pick(random, 0.15, 0.9), radius * pick(random, 0.15, 0.75), twist));
            break;
        }
        case 2: {  // disc with holes, as of a brake
            const float outer = scale * pick(random, 0.8, 1.5), inner = outer * pick(random, 0.3, 0.65),
                        thick = outer * pick(random, 0.04, 0.2);
            const Material material = anyMetal(random);
            meshes.push_back(
                turned(material, {{inner, 0}, {outer, 0}, {outer, thick}, {inner, thick}, {inner, 0}}, 96));
            const int holes = random.integer(5, 40);
            for (int k = 0; k < holes; ++k) {
                const double a = 2 * kPi * k / holes;
                const float r = mix(inner, outer, random.chance(0.5) ? 0.35f : 0.7f), size = 0.05f * outer;
                append(meshes, {turned(Material::Rubber, {{size, 0}, {0, 0}}, 20)},
                       translation(
                           {r * static_cast<float>(std::cos(a)), r * static_cast<float>(std::sin(a)), thick + 0.1f}));
            }
            break;
        }
        case 3: {  // row of blades or cooling fins, upright or leaning
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
                                        {0.55f * length, 0.55f * step * static_cast<float>(blades), 0.2f * height},
                                        0.5f));
            break;
        }
        case 4: {  // box or block, more than one on each other
            float z = 0;
            const int blocks = random.integer(1, 3);
            for (int k = 0; k < blocks; ++k) {
                const float a = scale * pick(random, 0.2, 1), b = scale * pick(random, 0.2, 1),
                            h = scale * pick(random, 0.05, 0.5);
                meshes.push_back(
                    roundedBox(anyMaterial(random), {-a, -b, z}, {a, b, z + h}, 0.06f * std::min({a, b, h})));
                z += h;
            }
            break;
        }
        case 5: {  // can, roller, bearing ring, pulley with grooves
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
            break;
        }
        case 6: {  // splined or threaded shaft, lying
            const float radius = scale * pick(random, 0.12, 0.35);
            const int teeth = random.integer(8, 30);
            Mesh shaft =
                pulledUp(anyMetal(random),
                         toothedOutline(radius, teeth, radius * pick(random, 0.08, 0.2), pick(random, 0.3, 0.5),
                                        pick(random, 0.3, 0.5)),
                         scale * pick(random, 0.6, 2.2), 0.1f * radius, random.chance(0.6) ? 0 : pick(random, -3, 3));
            meshes.push_back(placed(std::move(shaft), Rigid{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {-scale, 0, radius}}));
            break;
        }
        case 7: {  // bolts and nuts
            const int count = random.integer(1, 12);
            for (int k = 0; k < count; ++k) {
                const float across = scale * pick(random, 0.15, 0.5);
                const Rigid at = translation({scale * pick(random, -1, 1), scale * pick(random, -1, 1), 0}) *
                                 rotationZ(random.uniform(0, 6.28));
                if (random.chance(0.5)) {
                    append(
                        meshes,
                        {pulledUp(Material::BoltSteel, polygon(0.58f * across, 6), 0.45f * across, 0.28f * across, 0)},
                        at);
                } else {
                    append(meshes, hexHead(across, 0.6f * across), at);
                    append(meshes,
                           {turned(Material::BoltSteel,
                                   {{0.3f * across, 0.6f * across}, {0.3f * across, 2.5f * across}, {0, 2.5f * across}},
                                   24)},
                           at);
                }
            }
            break;
        }
        case 8: {  // flat ring with inner teeth or a sprocket, thin
            const float radius = scale * pick(random, 0.6, 1.4);
            const int teeth = random.integer(14, 60);
            meshes.push_back(
                pulledUp(anyMetal(random),
                         toothedOutline(radius, teeth, radius * pick(random, 2.5, 5) / static_cast<float>(teeth),
                                        pick(random, 0.1, 0.4), pick(random, 0.3, 0.6)),
                         scale * pick(random, 0.03, 0.12), radius * pick(random, 0.5, 0.85), 0));
            break;
        }
        default: {  // spanner: a bar with two round ends
            const float length = scale * pick(random, 0.8, 1.8), width = scale * pick(random, 0.1, 0.25),
                        thick = 0.4f * width;
            meshes.push_back(roundedBox(Material::BoltSteel, {-length, -0.5f * width, 0}, {length, 0.5f * width, thick},
                                        0.3f * thick));
            for (const float end : {-length, length})
                append(meshes, {pulledUp(Material::BoltSteel, polygon(width, 24), thick, 0.55f * width, 0)},
                       translation({end, 0, 0}));
        }
    }
    return meshes;
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

}  // namespace

Scene sceneWithoutGear(const RenderRequest& request) {
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
        object.meshes = anything(things, scale);
        Rigid tilt;
        if (things.chance(0.3)) tilt = translation({0, 0, 0.4f * scale}) * rotationX(things.uniform(-1.5, 1.5));
        const float reach = k == 0 ? 20 : 170;
        object.places = {toBench * translation({pick(things, -reach, reach), pick(things, -reach, reach), 0}) *
                         rotationZ(things.uniform(0, 2 * kPi)) * tilt};
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

}  // namespace render

Picture renderWithoutGear(const RenderRequest& request) {
    return render::takeShot(render::sceneWithoutGear(request), request, false, render::threadCount(request.threads))
        .picture;
}

}  // namespace shimsight
