// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/solids.h"

#include "render/pick.h"

namespace shimsight::render {
namespace {

const Rigid kZToX{{0, 1, 0}, {0, 0, 1}, {1, 0, 0}, {}};  ///< object z -> x, x -> y, y -> z

Mesh tube(Material material, float radius, float length, int segments = 40) {
    const float edge = std::min(0.8f, 0.2f * radius);
    return turned(
        material,
        {{0, 0}, {radius - edge, 0}, {radius, edge}, {radius, length - edge}, {radius - edge, length}, {0, length}},
        segments);
}

}  // namespace

Object carrierObject(const GearShape& s, float lowZ, float highZ, double angle, Random& random) {
    Object object;
    const float journal = pick(random, 21, 27),
                body = std::min(s.boreRadius - 3.0f, s.toeRootRadius * pick(random, 0.66, 0.78));
    const float shoulder = lowZ + pick(random, 22, 30), neck = s.toeRootZ + 0.1f * (s.backZ - s.toeRootZ);
    const float flange = mix(s.boreRadius, s.heelRootRadius, 0.86f);
    const std::vector<std::array<float, 2>> profile{{journal, highZ},
                                                    {journal, s.backZ + 34},
                                                    {journal + 16, s.backZ + 22},
                                                    {journal + 20, s.backZ + 13},
                                                    {flange, s.backZ + 13},
                                                    {flange, s.backZ + 0.1f},
                                                    {s.boreRadius - 0.1f, s.backZ + 0.1f},
                                                    {s.boreRadius - 0.1f, neck},
                                                    {body + 2, neck},
                                                    {body, neck - 3},
                                                    {body, shoulder + 14},
                                                    {body - 4, shoulder + 6},
                                                    {body - 14, shoulder + 1},
                                                    {journal + 4, shoulder},
                                                    {journal, shoulder - 3},
                                                    {journal, lowZ},
                                                    {journal - 8, lowZ},
                                                    {journal - 8, highZ}};
    const double window = random.uniform(0, 3.14);
    const double halfOpening = random.uniform(0.45, 0.65);
    const auto isOpen = [&](double a, int piece) {
        if (piece != 9 && piece != 10) return false;  // only the body's wall
        const double d = std::remainder(a - window, 3.14159265358979);
        return std::abs(d) < halfOpening;
    };
    object.meshes.push_back(turned(Material::CastIron, profile, 144, 0, 2 * kPi, isOpen));
    // Through the window: the inside, a side gear's cone and the cross shaft.
    object.meshes.push_back(
        turned(Material::CastIron, {{body - 5, neck}, {body - 5, shoulder + 8}}, 72, 0, 2 * kPi,
               [&](double a, int) { return std::abs(std::remainder(a - window, 3.14159265358979)) < halfOpening; }));
    object.meshes.push_back(turned(
        Material::MachinedIron,
        {{8, neck}, {0.75f * body, neck - 4}, {0.8f * body, neck - 14}, {0.35f * body, neck - 26}, {0, neck - 26}},
        48));
    object.meshes.push_back(turned(Material::MachinedIron,
                                   {{0, shoulder + 30},
                                    {0.35f * body, shoulder + 30},
                                    {0.8f * body, shoulder + 18},
                                    {0.75f * body, shoulder + 8},
                                    {8, shoulder}},
                                   48));
    const float middle = 0.5f * (neck + shoulder);
    const Vec across{static_cast<float>(-std::sin(window)), static_cast<float>(std::cos(window)), 0};
    append(object.meshes, {tube(Material::BearingSteel, 9, 2 * body - 4)},
           alongAxis(across * (2 - body) + Vec{0, 0, middle}, across));
    // Bolts that hold the two halves of the case.
    const int bolts = random.integer(6, 10);
    const float circle = body - 7;
    for (int k = 0; k < bolts; ++k) {
        const double a = 2 * kPi * (k + 0.3) / bolts;
        append(object.meshes, hexHead(11, 8),
               alongAxis({circle * static_cast<float>(std::cos(a)), circle * static_cast<float>(std::sin(a)),
                          shoulder + 2.5f},
                         {0, 0, -1}));
    }
    // The ring gear's bolts, behind its flange.
    const float ringCircle = mix(s.boreRadius, flange, 0.55f);
    const int ringBolts = random.chance(0.5) ? 10 : 12;
    for (int k = 0; k < ringBolts; ++k) {
        const double a = 2 * kPi * k / ringBolts;
        append(object.meshes, hexHead(16, 10),
               alongAxis({ringCircle * static_cast<float>(std::cos(a)), ringCircle * static_cast<float>(std::sin(a)),
                          s.backZ + 13},
                         {0, 0, 1}));
    }
    object.places = {rotationZ(angle)};
    return object;
}

Object capsObject(float lowZ, float highZ, float depth, Random& random) {
    Object object;
    const float inner = pick(random, 34, 38), outer = inner + pick(random, 11, 15), width = pick(random, 20, 26);
    for (const float end : {lowZ, highZ}) {
        const float z0 = end < 0 ? end + 1 : end - width - 1, z1 = z0 + width;
        // Bearing: outer ring, rollers' gap and inner ring.
        object.meshes.push_back(turned(Material::BearingSteel,
                                       {{inner, z1 - 2},
                                        {inner, z0 + 2},
                                        {inner - 4, z0 + 1},
                                        {inner - 4, z0 + 4},
                                        {inner - 9, z0 + 4},
                                        {inner - 9, z0},
                                        {inner - 15, z0}},
                                       64));
        object.meshes.push_back(turned(Material::BearingSteel,
                                       {{inner - 15, z1}, {inner - 9, z1}, {inner - 4, z1 - 3}, {inner, z1 - 2}}, 64));
        // Threaded adjuster with slots, outward of the bearing.
        const float outward = end < 0 ? -1.0f : 1.0f, face = end < 0 ? z0 : z1;
        Mesh adjuster = turned(Material::MachinedIron,
                               outward < 0 ? std::vector<std::array<float, 2>>{{inner, face},
                                                                               {inner, face - 9},
                                                                               {inner - 10, face - 9},
                                                                               {inner - 10, face}}
                                           : std::vector<std::array<float, 2>>{{inner - 10, face},
                                                                               {inner - 10, face + 9},
                                                                               {inner, face + 9},
                                                                               {inner, face}},
                               90, 0, 2 * kPi, [](double a, int) { return std::fmod(a, 0.4) < 0.12; });
        object.meshes.push_back(std::move(adjuster));
        // Cap: the half toward -X, with feet and bolts.
        object.meshes.push_back(turned(
            Material::CastIron,
            {{inner, z0}, {outer - 2, z0}, {outer, z0 + 2}, {outer, z1 - 2}, {outer - 2, z1}, {inner, z1}, {inner, z0}},
            48, 0.5 * kPi, 1.5 * kPi));
        for (const float side : {-1.0f, 1.0f}) {
            const float y0 = side * (inner + 1), y1 = side * (outer + 17);
            object.meshes.push_back(
                roundedBox(Material::CastIron, {-24, std::min(y0, y1), z0}, {-0.4f, std::max(y0, y1), z1}, 2.5f));
            object.meshes.push_back(roundedBox(Material::CastIron, {0, std::min(y0, y1) - 1, z0 - 1},
                                               {depth, std::max(y0, y1) + 1, z1 + 1}, 2.5f));
            append(object.meshes, hexHead(19, 12), alongAxis({-24, side * (outer + 6), 0.5f * (z0 + z1)}, {-1, 0, 0}));
        }
        object.meshes.push_back(
            turned(Material::CastIron, {{outer + 3, z1}, {outer + 3, z0}, {inner, z0}}, 48, -0.5 * kPi, 0.5 * kPi));
    }
    return object;
}

Object housingObject(const HousingSize& size, bool tubes, Random& random) {
    const auto [innerRadius, outerRadius, rimX, depth, centreZ] = size;
    Object object;
    std::vector<Mesh> meshes;
    // Turned about the housing's own axis (object z = world x).
    meshes.push_back(turned(Material::HousingInside,
                            {{innerRadius, 0},
                             {innerRadius - 2, 6},
                             {innerRadius - 4, depth * 0.55f},
                             {innerRadius * 0.72f, depth * 0.9f},
                             {innerRadius * 0.45f, depth},
                             {0, depth}},
                            128));
    meshes.push_back(turned(Material::GasketFace, {{outerRadius, 0}, {innerRadius, 0}}, 128));
    meshes.push_back(turned(Material::HousingOutside,
                            {{innerRadius * 0.5f, depth + 14},
                             {innerRadius * 0.85f, depth * 0.92f},
                             {innerRadius + 8, depth * 0.5f},
                             {innerRadius + 7, 12},
                             {outerRadius - 1, 11},
                             {outerRadius, 9},
                             {outerRadius, 1},
                             {outerRadius - 1, 0}},
                            128));
    const int holes = random.integer(10, 14);
    const float circle = 0.5f * (innerRadius + outerRadius);
    for (int k = 0; k < holes; ++k) {
        const double a = 2 * kPi * (k + 0.5) / holes;
        const Vec at{circle * static_cast<float>(std::cos(a)), circle * static_cast<float>(std::sin(a)), -0.15f};
        // A threaded hole: dark disc with a bright chamfer.
        append(meshes,
               {turned(Material::Rubber, {{3.9f, 0}, {0, 0}}, 20),
                turned(Material::MachinedIron, {{4.9f, 0.1f}, {3.9f, -0.1f}}, 20)},
               translation(at));
    }
    append(object.meshes, meshes, translation({rimX, 0, centreZ}) * kZToX);
    if (tubes) {
        const float radius = pick(random, 36, 46);
        for (const float side : {-1.0f, 1.0f}) {
            object.meshes.push_back(
                placed(turned(Material::HousingOutside,
                              {{radius, 400}, {radius, outerRadius * 0.8f}, {radius + 14, outerRadius * 0.6f}}, 64),
                       alongAxis({rimX + 0.45f * depth, 0, centreZ}, {0, 0, side})));
        }
    }
    return object;
}

Object benchObject(Material material, float level) {
    Object object;
    constexpr float kHalf = 1200;
    std::vector<Vec> points;
    std::vector<Coord> coords;
    for (int j = 0; j < 2; ++j) {
        for (int i = 0; i < 2; ++i) {
            points.push_back({(2 * static_cast<float>(i) - 1) * kHalf, (2 * static_cast<float>(j) - 1) * kHalf, level});
            coords.push_back({points.back().x, points.back().y});
        }
    }
    object.meshes.push_back(gridMesh(material, 2, 2, points, coords, [](Vec) { return Vec{0, 0, -1}; }));
    return object;
}

Object ragObject(float level, float flatRadius, Random& random) {
    Object object;
    constexpr int kCells = 160;
    const float half = pick(random, 190, 280), turn = pick(random, 0, 1.5), shift = pick(random, 0, 60);
    const Vec off{pick(random, -60, 60), pick(random, -60, 60), 0};
    std::vector<Vec> points;
    std::vector<Coord> coords;
    for (int j = 0; j <= kCells; ++j) {
        for (int i = 0; i <= kCells; ++i) {
            const float a = (2 * static_cast<float>(i) / kCells - 1) * half,
                        b = (2 * static_cast<float>(j) / kCells - 1) * half;
            Vec p{a * std::cos(turn) - b * std::sin(turn), a * std::sin(turn) + b * std::cos(turn), 0};
            p = p + off;
            const float free = smoothstep(flatRadius + 2, flatRadius + 40, std::hypot(p.x, p.y));
            const float fold = 1 - std::abs(noise({p.x * 0.012f + shift, p.y * 0.02f, 3})) * 3.5f;
            const float small = 1 - std::abs(noise({p.x * 0.045f, p.y * 0.03f + shift, 8})) * 3.0f;
            const float height = 0.6f + 1.2f * (0.5f + noise({p.x * 0.05f, p.y * 0.05f, shift})) +
                                 free * (13 * std::max(0.0f, fold) + 4 * std::max(0.0f, small));
            p.z = level - height * (0.15f + 0.85f * free);
            points.push_back(p);
            coords.push_back({a, b});
        }
    }
    object.meshes.push_back(gridMesh(Material::Rag, kCells + 1, kCells + 1, points, coords, [](Vec) {
        return Vec{0, 0, -1};
    }));
    return object;
}

std::vector<Object> clutter(float level, float clear, float bore, int count, Random& random) {
    std::vector<Object> objects;
    const Rigid toBench{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}, {0, 0, level}};  // object z up from the bench
    for (int k = 0; k < count; ++k) {
        const bool inside = random.chance(0.3);
        const double a = random.uniform(0, 2 * kPi);
        const float r = inside ? pick(random, 0, 0.5) * bore : clear + pick(random, 14, 130);
        const Vec at{r * static_cast<float>(std::cos(a)), r * static_cast<float>(std::sin(a)), 0};
        const Rigid spot = toBench * translation({at.x, -at.y, 0}) * rotationZ(random.uniform(0, 2 * kPi));
        Object object;
        object.places = {spot};
        const double kind = random.uniform();
        if (kind < 0.45) {  // a bolt on its side or on its head
            std::vector<Mesh> bolt = hexHead(15, 9);
            const float shank = pick(random, 22, 45);
            append(bolt, {placed(tube(Material::BoltSteel, 5, shank, 24), translation({0, 0, -shank}))});
            const Rigid lie = random.chance(0.75) ? Rigid{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {0, 0, 8.2f}}
                                                  : Rigid{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}, {0, 0, 9}};
            append(object.meshes, bolt, lie);
        } else if (kind < 0.7) {  // a shim or a washer
            const float inner = pick(random, 18, 30), outer = inner + pick(random, 5, 10),
                        thick = pick(random, 0.3, 1.6);
            object.meshes.push_back(
                turned(Material::MachinedIron, {{outer, 0}, {outer, thick}, {inner, thick}, {inner, 0}}, 72));
        } else if (kind < 0.85 && !inside) {  // a tube of compound
            std::vector<Mesh> parts{tube(Material::PaintedTube, 15, 95, 48),
                                    placed(tube(Material::Rubber, 8, 18, 32), translation({0, 0, 95}))};
            append(object.meshes, parts, Rigid{{0, 0, -1}, {0, 1, 0}, {1, 0, 0}, {-50, 0, 15}});
        } else {  // a flat brush
            std::vector<Mesh> parts;
            parts.push_back(roundedBox(Material::Wood, {-70, -4, 4}, {10, 4, 9}, 2));
            parts.push_back(roundedBox(Material::BoltSteel, {10, -6, 3.5f}, {24, 6, 9.5f}, 1.5f));
            Mesh hair = roundedBox(Material::BrushHair, {24, -6, 4}, {46, 6, 8}, 1.8f);
            for (std::size_t i = 0; i < hair.position.size(); ++i)
                hair.coord[i] = {hair.position[i].y, hair.position[i].x - 24};
            parts.push_back(std::move(hair));
            append(object.meshes, parts);
        }
        objects.push_back(std::move(object));
    }
    return objects;
}

}  // namespace shimsight::render
