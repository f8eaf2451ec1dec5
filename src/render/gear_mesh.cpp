// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/gear_mesh.h"

#include <Eigen/Geometry>

namespace shimsight::render {
namespace {

constexpr int kAlong = 41;           // points along the tooth: chord error under 0.001 mm on a 100 mm cutter radius
constexpr int kHeight = 10;          // points from the fillet to the tip
constexpr int kFillet = 5;           // points from the fillet's start to the middle of the bottom land
constexpr int kRim = 2;              // points over the broken edge of a land
constexpr float kEdgeBreak = 0.35f;  // mm over which a broken edge turns the light

Eigen::Vector3d turnedZ(const Eigen::Vector3d& p, double angle) {
    return Eigen::AngleAxisd(angle, Eigen::Vector3d::UnitZ()) * p;
}

/// Where the fillet leaves the flank: it must stay below the working flank (v = 0).
double filletStart(double rootV) { return 0.12 * rootV; }

struct Row {
    std::vector<Vec> point, normal;
};

Mesh stripMesh(Material material, const std::vector<Row>& rows, const std::vector<Coord>& coords) {
    Mesh mesh;
    mesh.material = material;
    const auto columns = static_cast<std::uint32_t>(rows[0].point.size());
    std::size_t k = 0;
    for (const Row& row : rows) {
        for (std::size_t i = 0; i < columns; ++i) mesh.add(row.point[i], row.normal[i], coords[k++]);
    }
    for (std::uint32_t j = 0; j + 1 < rows.size(); ++j) {
        for (std::uint32_t i = 0; i + 1 < columns; ++i) {
            const std::uint32_t a = j * columns + i;
            mesh.triangle.push_back({a, a + 1, a + columns + 1});
            mesh.triangle.push_back({a, a + columns + 1, a + columns});
        }
    }
    return mesh;
}

float uOf(int i) { return static_cast<float>(i) / (kAlong - 1); }

Mesh flankMesh(const RingFlank& flank, Material material) {
    std::vector<Row> rows(kHeight);
    std::vector<Coord> coords;
    for (int j = 0; j < kHeight; ++j) {
        Row& row = rows[static_cast<std::size_t>(j)];
        for (int i = 0; i < kAlong; ++i) {
            const double u = uOf(i), start = filletStart(flank.rootV(u));
            const double v = start + (1 - start) * j / (kHeight - 1);
            const FlankPoint p = flank.at(u, v);
            row.point.push_back(toVec(p.position));
            row.normal.push_back(toVec(p.normal));
            coords.push_back({static_cast<float>(u), static_cast<float>(v)});
        }
    }
    return stripMesh(material, rows, coords);
}

/// Bottom land between the coast flank of tooth 0 and the drive flank of tooth 1: two fillets (parabolas) that meet.
Mesh rootMesh(const RingFlank& drive, const RingFlank& coast, double pitch) {
    constexpr int kRows = 2 * kFillet - 1;
    std::vector<Vec> points;
    std::vector<Coord> coords;
    std::vector<std::vector<Vec>> lines(kRows);
    for (int i = 0; i < kAlong; ++i) {
        const double u = uOf(i);
        const double startC = filletStart(coast.rootV(u)), startD = filletStart(drive.rootV(u));
        const auto c0 = coast.at(u, startC).position, c1 = coast.at(u, coast.rootV(u)).position;
        const auto d0 = turnedZ(drive.at(u, startD).position, pitch),
                   d1 = turnedZ(drive.at(u, drive.rootV(u)).position, pitch);
        const Eigen::Vector3d middle = 0.5 * (c1 + d1);
        for (int k = 0; k < kFillet; ++k) {
            const double t = static_cast<double>(k) / (kFillet - 1), a = (1 - t) * (1 - t), b = 2 * t * (1 - t),
                         c = t * t;
            const Eigen::Vector3d fromCoast = a * c0 + b * c1 + c * middle;
            const Eigen::Vector3d fromDrive = a * d0 + b * d1 + c * middle;
            lines[static_cast<std::size_t>(k)].push_back(toVec(fromCoast));
            lines[static_cast<std::size_t>(kRows - 1 - k)].push_back(toVec(fromDrive));
        }
    }
    for (int j = 0; j < kRows; ++j) {
        for (int i = 0; i < kAlong; ++i) {
            points.push_back(lines[static_cast<std::size_t>(j)][static_cast<std::size_t>(i)]);
            coords.push_back({uOf(i), static_cast<float>(j) / (kRows - 1)});
        }
    }
    return gridMesh(Material::Root, kAlong, kRows, points, coords, [](Vec) { return Vec{0, 0, -1}; });
}

/// The land between two edge lines; its borders lean toward `edgeNormal` as a broken edge does.
Mesh landMesh(Material material, const std::vector<Vec>& from, const std::vector<Vec>& to,
              const std::vector<Vec>& normalFrom, const std::vector<Vec>& normalTo, Vec outward) {
    std::vector<Row> rows;
    std::vector<Coord> coords;
    std::vector<float> stops;
    const std::size_t n = from.size();
    const float width = length(to[n / 2] - from[n / 2]);
    const float edge = std::min(kEdgeBreak / std::max(width, 0.5f), 0.3f);
    for (int k = 0; k <= kRim; ++k) stops.push_back(edge * static_cast<float>(k) / kRim);
    stops.push_back(0.5f);
    for (int k = kRim; k >= 0; --k) stops.push_back(1 - edge * static_cast<float>(k) / kRim);
    for (const float t : stops) {
        Row row;
        for (std::size_t i = 0; i < n; ++i) {
            const Vec along = i + 1 < n ? from[i + 1] - from[i] : from[i] - from[i - 1];
            Vec flat = normalize(cross(along, to[i] - from[i]));
            if (dot(flat, outward) < 0) flat = -flat;
            const float lean0 = 1 - smoothstep(0, edge, t), lean1 = smoothstep(1 - edge, 1, t);
            row.point.push_back(mix(from[i], to[i], t));
            row.normal.push_back(normalize(flat + normalFrom[i] * (0.9f * lean0) + normalTo[i] * (0.9f * lean1)));
            coords.push_back({static_cast<float>(i) / static_cast<float>(n - 1), t});
        }
        rows.push_back(std::move(row));
    }
    return stripMesh(material, rows, coords);
}

/// A little beyond the working flank: the pinion's own tip.
constexpr double kPinionTipV = -0.02;
constexpr int kPinionRows = 9;

Eigen::Vector3d turnedX(const Eigen::Vector3d& p, double angle) {
    return Eigen::AngleAxisd(angle, Eigen::Vector3d::UnitX()) * p;
}

/// One flank of the slot that ring gear tooth 0 fills, from tip to root.
struct PinionSide {
    std::vector<Vec> tip, root, tipNormal;
    std::vector<Eigen::Vector3d> tipLine;
    Mesh mesh;
};
PinionSide pinionSide(const PinionFlank& flank) {
    PinionSide side;
    std::vector<Row> rows(kPinionRows);
    std::vector<Coord> coords;
    for (int j = 0; j < kPinionRows; ++j) {
        for (int i = 0; i < kAlong; ++i) {
            const double u = uOf(i), v = kPinionTipV + (1 - kPinionTipV) * j / 8;
            const FlankPoint p = flank.at(u, v);
            rows[static_cast<std::size_t>(j)].point.push_back(toVec(p.position));
            rows[static_cast<std::size_t>(j)].normal.push_back(toVec(p.normal));
            coords.push_back({uOf(i), static_cast<float>(v)});
            if (j == 0) {
                side.tip.push_back(toVec(p.position));
                side.tipNormal.push_back(toVec(p.normal));
                side.tipLine.push_back(p.position);
            }
            if (j == kPinionRows - 1) side.root.push_back(toVec(p.position));
        }
    }
    side.mesh = stripMesh(Material::Pinion, rows, coords);
    return side;
}

Mesh slotBottom(const PinionSide& drive, const PinionSide& coast) {
    std::vector<Vec> points;
    std::vector<Coord> coords;
    for (int j = 0; j < 5; ++j) {
        for (int i = 0; i < kAlong; ++i) {
            const auto k = static_cast<std::size_t>(i);
            Vec p = mix(drive.root[k], coast.root[k], static_cast<float>(j) / 4);
            const float deeper = (j == 0 || j == 4) ? 0.0f : j == 2 ? 1.4f : 1.1f;
            const float r = std::hypot(p.y, p.z);
            p.y *= (r - deeper) / r;
            p.z *= (r - deeper) / r;
            points.push_back(p);
            coords.push_back({uOf(i), 0});
        }
    }
    return gridMesh(Material::Pinion, kAlong, 5, points, coords, [](Vec p) { return Vec{0, p.y, p.z}; });
}

/// From this slot's drive flank to the coast flank of the neighbour, which lies `turnBy` on.
Mesh pinionLand(const PinionSide& drive, const PinionSide& coast, double turnBy) {
    std::vector<Vec> next, nextNormal;
    for (std::size_t i = 0; i < coast.tip.size(); ++i) {
        next.push_back(toVec(turnedX(coast.tipLine[i], turnBy)));
        nextNormal.push_back(rotationX(turnBy).turn(coast.tipNormal[i]));
    }
    const Vec outward{0, drive.tip[kAlong / 2].y, drive.tip[kAlong / 2].z};
    return landMesh(Material::Pinion, drive.tip, next, drive.tipNormal, nextNormal, outward);
}

/// The tooth's own end at its toe (u = 0) or heel (u = 1).
Mesh pinionEnd(const PinionFlank& drive, const PinionFlank& coast, double u, double turnBy) {
    std::vector<Vec> grid, other;
    for (int j = 0; j < kPinionRows; ++j) {
        const double v = kPinionTipV + (1 - kPinionTipV) * j / 8;
        grid.push_back(toVec(drive.at(u, v).position));
        other.push_back(toVec(turnedX(coast.at(u, v).position, turnBy)));
    }
    grid.insert(grid.end(), other.begin(), other.end());
    const std::vector<Coord> coords(2 * kPinionRows, Coord{0, 0});
    const float way = u == 0 ? -1.0f : 1.0f;
    return gridMesh(Material::Pinion, kPinionRows, 2, grid, coords, [way](Vec) { return Vec{way, 0, 0}; });
}

/// The slot that ring gear tooth 0 fills (its two flanks, its bottom, the land over to the next slot, the ends of that
/// tooth), once for each tooth. Inward of the ends the shaft's cones hide the rest.
Object pinionTeeth(const PinionFlank& drive, const PinionFlank& coast, double angle) {
    const int teeth = drive.ring().gearSet().pinionTeeth;
    const double pitch = 2 * kPi / teeth;
    PinionSide onDrive = pinionSide(drive), onCoast = pinionSide(coast);
    const auto gap = [&](double a) {
        return (onDrive.tipLine[kAlong / 2] - turnedX(onCoast.tipLine[kAlong / 2], a)).norm();
    };
    const double turnBy = gap(pitch) < gap(-pitch) ? pitch : -pitch;  // to the nearer neighbour
    Object object;
    object.meshes.push_back(std::move(onDrive.mesh));
    object.meshes.push_back(std::move(onCoast.mesh));
    object.meshes.push_back(slotBottom(onDrive, onCoast));
    object.meshes.push_back(pinionLand(onDrive, onCoast, turnBy));
    for (const double u : {0.0, 1.0}) object.meshes.push_back(pinionEnd(drive, coast, u, turnBy));
    const double offset = drive.ring().gearSet().offsetMm;
    object.places.clear();
    for (int k = 0; k < teeth; ++k) {
        object.places.push_back(translation({0, static_cast<float>(offset), 0}) * rotationX(angle + pitch * k));
    }
    return object;
}

}  // namespace

GearShape shapeOf(const RingFlank& drive, const RingFlank& coast, double backThickness, double boreShare) {
    const auto radiusOf = [](const Eigen::Vector3d& p) { return static_cast<float>(std::hypot(p.x(), p.y())); };
    const auto middle = [&](double u, bool root, float& radius, float& z) {
        const auto a = drive.at(u, root ? drive.rootV(u) : 1).position,
                   b = coast.at(u, root ? coast.rootV(u) : 1).position;
        radius = 0.5f * (radiusOf(a) + radiusOf(b));
        z = static_cast<float>(0.5 * (a.z() + b.z()));
    };
    GearShape shape;
    middle(0, true, shape.toeRootRadius, shape.toeRootZ);
    middle(1, true, shape.heelRootRadius, shape.heelRootZ);
    middle(0, false, shape.toeTipRadius, shape.toeTipZ);
    middle(1, false, shape.heelTipRadius, shape.heelTipZ);
    shape.backZ = std::max(shape.toeRootZ, shape.heelRootZ) + static_cast<float>(backThickness);
    shape.boreRadius = static_cast<float>(boreShare) * shape.toeRootRadius;
    shape.teeth = drive.gearSet().ringTeeth;
    shape.pitch = 2 * kPi / shape.teeth;
    return shape;
}

Object toothObject(const RingFlank& drive, const RingFlank& coast, const GearShape& shape) {
    Object object;
    object.isTooth = true;
    object.meshes.push_back(flankMesh(drive, Material::DriveFlank));
    object.meshes.push_back(flankMesh(coast, Material::CoastFlank));
    object.meshes.push_back(rootMesh(drive, coast, shape.pitch));
    std::vector<Vec> tipD, tipC, nD, nC;
    for (int i = 0; i < kAlong; ++i) {
        const FlankPoint d = drive.at(uOf(i), 1), c = coast.at(uOf(i), 1);
        tipD.push_back(toVec(d.position));
        tipC.push_back(toVec(c.position));
        nD.push_back(toVec(d.normal));
        nC.push_back(toVec(c.normal));
    }
    object.meshes.push_back(landMesh(Material::TopLand, tipD, tipC, nD, nC, {0, 0, -1}));
    // Toe and heel ends of the tooth, with the bottom land's end line closing them to the blank.
    for (const double u : {0.0, 1.0}) {
        std::vector<Vec> a, b, na, nb;
        for (int j = 0; j < kHeight; ++j) {
            const auto vOf = [&](const RingFlank& flank) {
                const double root = flank.rootV(u);
                return root + (1 - root) * j / (kHeight - 1);
            };
            const FlankPoint d = drive.at(u, vOf(drive)), c = coast.at(u, vOf(coast));
            a.push_back(toVec(d.position));
            b.push_back(toVec(c.position));
            na.push_back(toVec(d.normal));
            nb.push_back(toVec(c.normal));
        }
        const Eigen::Vector3d middle = drive.at(u, 0.5).position;
        Vec outward = normalize(Vec{static_cast<float>(middle.x()), static_cast<float>(middle.y()), 0});
        if (u < 0.5) outward = -outward;
        object.meshes.push_back(landMesh(Material::ToothEnd, a, b, na, nb, outward));
    }
    object.places.clear();
    for (int k = 0; k < shape.teeth; ++k) object.places.push_back(rotationZ(shape.pitch * k));
    return object;
}

Object blankObject(const GearShape& s) {
    // Toe side: down the front cone to the bore; heel side: the back cone to a cylinder and the back face.
    constexpr int kSegments = 256;
    const float innerFront = s.toeRootZ + 0.18f * (s.backZ - s.toeRootZ);
    const float heelStep = std::min(3.0f, 0.25f * (s.backZ - s.heelRootZ));
    Object object;
    object.meshes.push_back(turned(Material::GearTurned,
                                   {{s.boreRadius, s.backZ},
                                    {s.boreRadius, innerFront + 1.0f},
                                    {s.boreRadius + 1.0f, innerFront},
                                    {s.toeRootRadius - 0.35f * (s.toeRootRadius - s.boreRadius), innerFront},
                                    {s.toeRootRadius, s.toeRootZ}},
                                   kSegments));
    object.meshes.push_back(turned(Material::GearTurned,
                                   {{s.heelRootRadius, s.heelRootZ},
                                    {s.heelRootRadius + 0.25f * heelStep, s.heelRootZ + heelStep},
                                    {s.heelRootRadius + 0.25f * heelStep, s.backZ - 1.2f},
                                    {s.heelRootRadius + 0.25f * heelStep - 1.2f, s.backZ},
                                    {s.boreRadius, s.backZ}},
                                   kSegments));
    return object;
}

std::vector<Object> pinionObjects(const PinionFlank& drive, const PinionFlank& coast, double angle) {
    // The teeth; then a cone under them and the shaft behind, turned about Z and laid along +X.
    std::vector<Object> objects{pinionTeeth(drive, coast, angle)};
    const auto at = [&](double u, double v) { return drive.at(u, v).position; };
    const auto radius = [](const Eigen::Vector3d& p) { return static_cast<float>(std::hypot(p.y(), p.z())); };
    const auto rootToe = at(0, 1), rootHeel = at(1, 1);
    const float x0 = static_cast<float>(rootToe.x()), x1 = static_cast<float>(rootHeel.x());
    const float r0 = radius(rootToe) - 0.8f, r1 = radius(rootHeel) - 0.8f;
    const Rigid alongX{{0, 1, 0}, {0, 0, 1}, {1, 0, 0}, {}};  // object z -> x, x -> y, y -> z
    // The profile runs so that outside is on its left: from the far end of the shaft back to the nose.
    std::vector<Mesh> body;
    body.push_back(turned(Material::Pinion,
                          {{0.55f * r1, x1 + 120.0f},
                           {0.62f * r1, x1 + 14.0f},
                           {0.98f * r1, x1 + 10.0f},
                           {r1, x1},
                           {r0, x0},
                           {0.5f * r0, x0 - 1.0f},
                           {0, x0 - 1.0f}},
                          48));
    Object shaft;
    append(shaft.meshes, body, alongX);
    shaft.places = {translation({0, static_cast<float>(drive.ring().gearSet().offsetMm), 0})};
    objects.push_back(std::move(shaft));
    return objects;
}

}  // namespace shimsight::render
