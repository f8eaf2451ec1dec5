// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/world.h"

#include <embree3/rtcore.h>

#include <limits>

#include "shimsight/core.h"

namespace shimsight::render {

struct World::Tracer {
    RTCDevice device = nullptr;
    RTCScene scene = nullptr;
    struct Placed {
        int object, mesh, place;
    };
    std::vector<Placed> placed;  ///< by geometry id

    Tracer() = default;
    Tracer(const Tracer&) = delete;
    Tracer& operator=(const Tracer&) = delete;
    ~Tracer() {
        if (scene) rtcReleaseScene(scene);
        if (device) rtcReleaseDevice(device);
    }
};

World::World(std::vector<Object> objects) : tracer_(std::make_unique<Tracer>()), objects_(std::move(objects)) {
    Tracer& t = *tracer_;
    // One building thread: the tree, and with it every tie between equal hits, is the same on every machine.
    t.device = rtcNewDevice("threads=1,set_affinity=0");
    check(t.device != nullptr, "the ray tracer gives no device");
    t.scene = rtcNewScene(t.device);
    rtcSetSceneBuildQuality(t.scene, RTC_BUILD_QUALITY_HIGH);
    // Every copy is laid out in full: one flat tree is searched faster than trees within a tree.
    for (std::size_t o = 0; o < objects_.size(); ++o) {
        const Object& object = objects_[o];
        for (std::size_t k = 0; k < object.places.size(); ++k) {
            for (std::size_t m = 0; m < object.meshes.size(); ++m) {
                const Mesh& mesh = object.meshes[m];
                const RTCGeometry geometry = rtcNewGeometry(t.device, RTC_GEOMETRY_TYPE_TRIANGLE);
                auto* points = static_cast<float*>(rtcSetNewGeometryBuffer(
                    geometry, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3, 3 * sizeof(float), mesh.position.size()));
                auto* corners = static_cast<std::uint32_t*>(
                    rtcSetNewGeometryBuffer(geometry, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3,
                                            3 * sizeof(std::uint32_t), mesh.triangle.size()));
                check(points != nullptr && corners != nullptr, "the ray tracer gives no buffer");
                for (const Vec& local : mesh.position) {
                    const Vec p = object.places[k] * local;
                    *points++ = p.x;
                    *points++ = p.y;
                    *points++ = p.z;
                }
                for (const auto& triangle : mesh.triangle) {
                    for (const std::uint32_t corner : triangle) *corners++ = corner;
                }
                rtcCommitGeometry(geometry);
                rtcAttachGeometryByID(t.scene, geometry, static_cast<unsigned>(t.placed.size()));
                rtcReleaseGeometry(geometry);
                t.placed.push_back({static_cast<int>(o), static_cast<int>(m), static_cast<int>(k)});
            }
        }
    }
    rtcCommitScene(t.scene);
    check(rtcGetDeviceError(t.device) == RTC_ERROR_NONE, "the ray tracer could not take the scene");
}

World::~World() = default;

std::optional<Hit> World::intersect(Vec origin, Vec direction, float near) const {
    RTCIntersectContext context;
    rtcInitIntersectContext(&context);
    RTCRayHit query{};
    query.ray.org_x = origin.x;
    query.ray.org_y = origin.y;
    query.ray.org_z = origin.z;
    query.ray.dir_x = direction.x;
    query.ray.dir_y = direction.y;
    query.ray.dir_z = direction.z;
    query.ray.tnear = near;
    query.ray.tfar = std::numeric_limits<float>::infinity();
    query.ray.mask = 0xffffffffu;
    query.hit.geomID = RTC_INVALID_GEOMETRY_ID;
    rtcIntersect1(tracer_->scene, &context, &query);
    if (query.hit.geomID == RTC_INVALID_GEOMETRY_ID) return std::nullopt;

    const auto placed = tracer_->placed[query.hit.geomID];
    const Object& object = objects_[static_cast<std::size_t>(placed.object)];
    const Mesh& mesh = object.meshes[static_cast<std::size_t>(placed.mesh)];
    const Rigid& place = object.places[static_cast<std::size_t>(placed.place)];
    const auto& triangle = mesh.triangle[query.hit.primID];
    const float b1 = query.hit.u, b2 = query.hit.v, b0 = 1 - b1 - b2;
    const auto blend = [&](const std::vector<Vec>& values) {
        return values[triangle[0]] * b0 + values[triangle[1]] * b1 + values[triangle[2]] * b2;
    };
    Hit hit;
    hit.distance = query.ray.tfar;
    hit.material = mesh.material;
    hit.object = placed.object;
    hit.place = placed.place;
    hit.isTooth = object.isTooth;
    hit.local = blend(mesh.position);
    hit.position = origin + direction * hit.distance;
    const Coord c0 = mesh.coord[triangle[0]], c1 = mesh.coord[triangle[1]], c2 = mesh.coord[triangle[2]];
    hit.coord = {c0.u * b0 + c1.u * b1 + c2.u * b2, c0.v * b0 + c1.v * b1 + c2.v * b2};
    hit.geometric = normalize(Vec{query.hit.Ng_x, query.hit.Ng_y, query.hit.Ng_z});
    hit.normal = normalize(place.turn(blend(mesh.normal)));
    if (dot(hit.geometric, direction) > 0) hit.geometric = -hit.geometric;
    if (dot(hit.normal, hit.geometric) < 0) hit.normal = -hit.normal;
    // Direction in which the first coordinate grows.
    const Vec e1 = mesh.position[triangle[1]] - mesh.position[triangle[0]],
              e2 = mesh.position[triangle[2]] - mesh.position[triangle[0]];
    const Vec along = e1 * (c2.v - c0.v) - e2 * (c1.v - c0.v);
    const float sign = (c1.u - c0.u) * (c2.v - c0.v) - (c2.u - c0.u) * (c1.v - c0.v) < 0 ? -1.0f : 1.0f;
    Vec tangent = place.turn(along) * sign;
    tangent = tangent - hit.normal * dot(hit.normal, tangent);
    hit.tangent = dot(tangent, tangent) > 1e-16f ? normalize(tangent) : anyPerpendicular(hit.normal);
    return hit;
}

bool World::blocked(Vec origin, Vec direction, float distance) const {
    RTCIntersectContext context;
    rtcInitIntersectContext(&context);
    RTCRay ray{};
    ray.org_x = origin.x;
    ray.org_y = origin.y;
    ray.org_z = origin.z;
    ray.dir_x = direction.x;
    ray.dir_y = direction.y;
    ray.dir_z = direction.z;
    ray.tnear = 1e-3f;
    ray.tfar = distance;
    ray.mask = 0xffffffffu;
    rtcOccluded1(tracer_->scene, &context, &ray);
    return ray.tfar < 0;
}

Vec Surroundings::radiance(Vec d) const {
    const float height = dot(d, up);
    const float toCeiling = smoothstep(0.2f, 0.6f, height), toFloor = smoothstep(0.05f, 0.4f, -height);
    Vec colour = mix(mix(wall, ceiling, toCeiling), floor, toFloor);
    for (const Patch& patch : patches) {
        const float front = dot(d, patch.toward);
        if (front < 0.3f) continue;
        const float x = std::abs(dot(d, patch.acrossX) / front), y = std::abs(dot(d, patch.acrossY) / front);
        if (x > 1 || y > 1) continue;
        colour = mix(colour, patch.colour, smoothstep(1, 1 - patch.softness, x) * smoothstep(1, 1 - patch.softness, y));
    }
    return colour;
}

}  // namespace shimsight::render
