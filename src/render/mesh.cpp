// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/mesh.h"

namespace shimsight::render {

Mesh gridMesh(Material material, int columns, int rows, const std::vector<Vec>& points,
              const std::vector<Coord>& coords, const std::function<Vec(Vec)>& outward) {
    Mesh mesh;
    mesh.material = material;
    const auto at = [&](int i, int j) { return points[static_cast<std::size_t>(j * columns + i)]; };
    for (int j = 0; j < rows; ++j) {
        for (int i = 0; i < columns; ++i) {
            const Vec along = at(std::min(i + 1, columns - 1), j) - at(std::max(i - 1, 0), j);
            const Vec across = at(i, std::min(j + 1, rows - 1)) - at(i, std::max(j - 1, 0));
            Vec n = normalize(cross(along, across));
            if (dot(n, outward(at(i, j))) < 0) n = -n;
            mesh.add(at(i, j), n, coords[static_cast<std::size_t>(j * columns + i)]);
        }
    }
    for (int j = 0; j + 1 < rows; ++j) {
        for (int i = 0; i + 1 < columns; ++i) {
            const auto a = static_cast<std::uint32_t>(j * columns + i), b = a + 1;
            const auto c = a + static_cast<std::uint32_t>(columns), d = c + 1;
            mesh.triangle.push_back({a, b, d});
            mesh.triangle.push_back({a, d, c});
        }
    }
    return mesh;
}

Mesh turned(Material material, const std::vector<std::array<float, 2>>& profile, int segments, double a0, double a1,
            const std::function<bool(double, int)>& isOpen) {
    constexpr float kSharpCosine = 0.866f;  // corners over 30 degrees stay sharp
    Mesh mesh;
    mesh.material = material;
    const int pieces = static_cast<int>(profile.size()) - 1;
    const auto pieceNormal = [&](int k) {
        const auto& p = profile[static_cast<std::size_t>(k)];
        const auto& q = profile[static_cast<std::size_t>(k + 1)];
        const float dr = q[0] - p[0], dz = q[1] - p[1], n = std::hypot(dr, dz) + 1e-9f;
        return std::array<float, 2>{-dz / n, dr / n};
    };
    float travelled = 0;
    for (int k = 0; k < pieces; ++k) {
        const auto own = pieceNormal(k);
        std::array<std::array<float, 2>, 2> ends{own, own};
        for (int side = 0; side < 2; ++side) {
            const int other = k + (side == 0 ? -1 : 1);
            if (other < 0 || other >= pieces) continue;
            const auto next = pieceNormal(other);
            if (own[0] * next[0] + own[1] * next[1] > kSharpCosine) {
                ends[static_cast<std::size_t>(side)] = {own[0] + next[0], own[1] + next[1]};
            }
        }
        const auto& p = profile[static_cast<std::size_t>(k)];
        const auto& q = profile[static_cast<std::size_t>(k + 1)];
        const float step = std::hypot(q[0] - p[0], q[1] - p[1]);
        const auto first = static_cast<std::uint32_t>(mesh.position.size());
        for (int i = 0; i <= segments; ++i) {
            const double angle = a0 + (a1 - a0) * i / segments;
            const auto c = static_cast<float>(std::cos(angle)), s = static_cast<float>(std::sin(angle));
            const auto around = static_cast<float>(angle) * std::max(p[0], q[0]);
            mesh.add({p[0] * c, p[0] * s, p[1]}, normalize(Vec{ends[0][0] * c, ends[0][0] * s, ends[0][1]}),
                     {around, travelled});
            mesh.add({q[0] * c, q[0] * s, q[1]}, normalize(Vec{ends[1][0] * c, ends[1][0] * s, ends[1][1]}),
                     {around, travelled + step});
        }
        for (int i = 0; i < segments; ++i) {
            if (isOpen && isOpen(a0 + (a1 - a0) * (i + 0.5) / segments, k)) continue;
            const auto a = first + static_cast<std::uint32_t>(2 * i);
            mesh.triangle.push_back({a, a + 1, a + 3});
            mesh.triangle.push_back({a, a + 3, a + 2});
        }
        travelled += step;
    }
    return mesh;
}

Mesh roundedBox(Material material, Vec low, Vec high, float radius) {
    // A cube's faces, subdivided at the edges; each point is pulled onto the rounded surface.
    Mesh mesh;
    mesh.material = material;
    const Vec centre = (low + high) * 0.5f, half = (high - low) * 0.5f;
    radius = std::min(radius, 0.9f * std::min(half.x, std::min(half.y, half.z)));
    constexpr int kRound = 3;
    for (int axis = 0; axis < 3; ++axis) {
        for (int sign = -1; sign <= 1; sign += 2) {
            const auto ext = [&](int a) { return a == 0 ? half.x : a == 1 ? half.y : half.z; };
            const int a1 = (axis + 1) % 3, a2 = (axis + 2) % 3;
            const auto stops = [&](int a) {
                std::vector<float> values;
                for (int i = 0; i <= kRound; ++i) values.push_back(-ext(a) + radius * static_cast<float>(i) / kRound);
                for (int i = kRound; i >= 0; --i) values.push_back(ext(a) - radius * static_cast<float>(i) / kRound);
                return values;
            };
            const auto s1 = stops(a1), s2 = stops(a2);
            const auto first = static_cast<std::uint32_t>(mesh.position.size());
            for (const float y : s2) {
                for (const float x : s1) {
                    std::array<float, 3> p{};
                    p[static_cast<std::size_t>(axis)] = static_cast<float>(sign) * ext(axis);
                    p[static_cast<std::size_t>(a1)] = x;
                    p[static_cast<std::size_t>(a2)] = y;
                    const Vec onCube{p[0], p[1], p[2]};
                    const Vec core{std::clamp(onCube.x, -half.x + radius, half.x - radius),
                                   std::clamp(onCube.y, -half.y + radius, half.y - radius),
                                   std::clamp(onCube.z, -half.z + radius, half.z - radius)};
                    const Vec n = normalize(onCube - core);
                    mesh.add(centre + core + n * radius, n, {x, y});
                }
            }
            const auto columns = static_cast<std::uint32_t>(s1.size());
            for (std::uint32_t j = 0; j + 1 < s2.size(); ++j) {
                for (std::uint32_t i = 0; i + 1 < columns; ++i) {
                    const std::uint32_t a = first + j * columns + i;
                    mesh.triangle.push_back({a, a + 1, a + columns + 1});
                    mesh.triangle.push_back({a, a + columns + 1, a + columns});
                }
            }
        }
    }
    return mesh;
}

std::vector<Mesh> hexHead(float across, float height) {
    constexpr double kPi = 3.14159265358979323846;
    std::vector<Mesh> meshes;
    const float flange = 0.66f * across, thick = 0.16f * height;
    meshes.push_back(
        turned(Material::BoltSteel, {{flange, 0}, {flange, thick * 0.6f}, {0.56f * across, thick}, {0, thick}}, 24));
    // Six sides, a chamfered rim and the top.
    Mesh head;
    head.material = Material::BoltSteel;
    const auto ring = [&](float radius, float z, int i) {
        const double a = kPi / 3 * i;
        return Vec{radius * static_cast<float>(std::cos(a)), radius * static_cast<float>(std::sin(a)), z};
    };
    const float corner = across / 1.7320508f, chamfer = 0.12f * height;
    for (int i = 0; i < 6; ++i) {
        const auto strip = [&](float r0, float z0, float r1, float z1) {
            const Vec a = ring(r0, z0, i), b = ring(r0, z0, i + 1), c = ring(r1, z1, i + 1), d = ring(r1, z1, i);
            const Vec n = normalize(cross(b - a, d - a));
            const auto k = head.add(a, n, {0, 0});
            head.add(b, n, {across, 0});
            head.add(c, n, {across, height});
            head.add(d, n, {0, height});
            head.triangle.push_back({k, k + 1, k + 2});
            head.triangle.push_back({k, k + 2, k + 3});
        };
        strip(corner, thick * 0.5f, corner, height - chamfer);
        strip(corner, height - chamfer, 0.86f * corner, height);
        const Vec n{0, 0, 1};
        const auto k = head.add(ring(0.86f * corner, height, i), n, {0, 0});
        head.add(ring(0.86f * corner, height, i + 1), n, {1, 0});
        head.add({0, 0, height}, n, {0, 1});
        head.triangle.push_back({k, k + 1, k + 2});
    }
    meshes.push_back(std::move(head));
    return meshes;
}

Mesh placed(Mesh mesh, const Rigid& place) {
    for (Vec& p : mesh.position) p = place * p;
    for (Vec& n : mesh.normal) n = place.turn(n);
    return mesh;
}

void append(std::vector<Mesh>& all, const std::vector<Mesh>& more, const Rigid& place) {
    for (const Mesh& mesh : more) all.push_back(placed(mesh, place));
}

}  // namespace shimsight::render
