// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Triangle meshes and the simple solids that the scenes are built from. Lengths mm.
#pragma once

#include <array>
#include <functional>
#include <vector>

#include "render/vec.h"

namespace shimsight::render {

enum class Material : std::uint8_t {
    DriveFlank,  ///< coordinates (u, v)
    CoastFlank,  ///< coordinates (u, v)
    Root,        ///< coordinates (u, 0..1 across)
    TopLand,     ///< coordinates (u, 0..1 across)
    ToothEnd,    ///< toe and heel ends of the teeth
    GearTurned,  ///< turned faces of the ring gear blank
    CastIron,
    MachinedIron,  ///< seats, caps' faces, gasket face
    BoltSteel,
    BearingSteel,
    Pinion,
    HousingInside,
    HousingOutside,
    GasketFace,
    Wood,
    SheetSteel,
    Rag,
    Cardboard,
    Rubber,
    PaintedTube,
    BrushHair,
    Count
};

struct Coord {
    float u = 0, v = 0;
};

struct Mesh {
    Material material = Material::CastIron;
    std::vector<Vec> position, normal;
    std::vector<Coord> coord;
    std::vector<std::array<std::uint32_t, 3>> triangle;

    std::uint32_t add(Vec p, Vec n, Coord c) {
        position.push_back(p);
        normal.push_back(n);
        coord.push_back(c);
        return static_cast<std::uint32_t>(position.size() - 1);
    }
};

/// Meshes that move together, placed once or many times.
struct Object {
    std::vector<Mesh> meshes;
    std::vector<Rigid> places = std::vector<Rigid>(1);
    bool isTooth = false;  ///< place k is tooth k of the ring gear
};

/// A grid of points, `columns` x `rows`, row-major; normals from differences, outward on the side of `outward`.
Mesh gridMesh(Material material, int columns, int rows, const std::vector<Vec>& points,
              const std::vector<Coord>& coords, const std::function<Vec(Vec)>& outward);

/// A profile (radius, z) turned about Z, from angle a0 to a1 (rad). Corners sharper than 30 degrees stay sharp. The
/// outward side is to the left of the profile's direction when radius points right and z up. `isOpen(angle, k)` leaves
/// out the part of profile piece k at that angle.
Mesh turned(Material material, const std::vector<std::array<float, 2>>& profile, int segments, double a0 = 0,
            double a1 = 6.283185307179586, const std::function<bool(double, int)>& isOpen = {});

/// Box from low to high with rounded edges of the given radius.
Mesh roundedBox(Material material, Vec low, Vec high, float radius);

/// Hexagon bolt head with a round flange, standing on z = 0, pointing to +Z. `across`: width across flats.
std::vector<Mesh> hexHead(float across, float height);

Mesh placed(Mesh mesh, const Rigid& place);
void append(std::vector<Mesh>& all, const std::vector<Mesh>& more, const Rigid& place = {});

}  // namespace shimsight::render
