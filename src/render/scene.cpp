// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/scene.h"

#include <Eigen/Geometry>

#include "render/pick.h"
#include "render/solids.h"
#include "render/tracer.h"

namespace shimsight::render {
namespace {

double clampedNormal(Random& random, double mean, double sigma, double reach) {
    return mean + sigma * std::clamp(random.normal(), -reach, reach);
}
Eigen::Vector3d toEigen(Vec v) { return {v.x, v.y, v.z}; }

/// Colour of light of a temperature in kelvin, linear, green = 1; between warm lamps and overcast sky.
Vec lightColour(double kelvin) {
    const double t = std::clamp(kelvin, 2500.0, 9000.0) / 1000.0;
    // Through (2.7: 1.75, 0.38), (4: 1.3, 0.68), (5.5: 1.06, 0.95), (6.5: 1, 1.05), (8: 0.92, 1.2) of red and blue.
    const double red = 0.62 + 2.45 / (t - 0.5), blue = 1.52 - 3.05 / t;
    return {static_cast<float>(red / 1.035), 1.0f, static_cast<float>(std::max(0.25, blue))};
}

struct SceneFrame {
    Vec up;
    Vec opening;  ///< camera stays on this side; zero: anywhere above the bench
};

SceneFrame frameOf(SceneKind kind) {
    switch (kind) {
        case SceneKind::Bench:
            return {{0, 0, -1}, {0, 0, -1}};
        case SceneKind::CarrierOnStand:
            return {{-1, 0, 0}, normalize(Vec{-0.55f, 0, -0.75f})};
        case SceneKind::OpenedAxle:
            return {{0, -1, 0}, normalize(Vec{-0.85f, 0, -0.45f})};
    }
    return {{0, 0, -1}, {0, 0, -1}};
}

void drawSteel(Looks& looks, Random& random, double variety) {
    const double kind = random.uniform();
    if (kind < 0.42) {  // lapped and run: grey satin
        looks.darkCoat = pick(random, 0, 0.25);
        looks.roughAlong = pick(random, 0.15, 0.25);
        looks.roughAcross = looks.roughAlong * pick(random, 1.2, 1.6);
        looks.toolLinesDepth = pick(random, 0.015, 0.05);
        looks.wear = pick(random, 0.2, 0.9);
    } else if (kind < 0.72) {  // bright, cutter marks plain
        looks.darkCoat = 0;
        looks.roughAlong = pick(random, 0.08, 0.16);
        looks.roughAcross = looks.roughAlong * pick(random, 1.5, 2.3);
        looks.toolLinesDepth = pick(random, 0.04, 0.10);
        looks.wear = pick(random, 0, 0.4);
    } else {  // dark phosphate, new or with bright running bands
        looks.darkCoat = pick(random, 0.75, 1);
        looks.roughAlong = pick(random, 0.2, 0.3);
        looks.roughAcross = looks.roughAlong * 1.4f;
        looks.toolLinesDepth = pick(random, 0.02, 0.07);
        looks.wear = random.chance(0.5) ? 0 : pick(random, 0.3, 0.9);
    }
    looks.steelTone = pick(random, 0.72, 1.02);
    looks.toolLinesPerMm = pick(random, 2.0, 4.5);
    looks.oil = random.chance(0.25) ? 0 : pick(random, 0.2, 0.4 + 0.4 * std::min(variety, 1.5));
    looks.oilTint = mix(Vec{0.97f, 0.92f, 0.80f}, Vec{0.80f, 0.55f, 0.30f}, pick(random, 0, 1));
    looks.rust = random.chance(0.12 * variety) ? pick(random, 0.1, 0.5) : 0;
    looks.dirt = pick(random, 0.03, 0.15 + 0.4 * std::min(variety, 1.5));
    looks.castColour = mix(Vec{0.07f, 0.07f, 0.07f}, Vec{0.17f, 0.16f, 0.15f}, pick(random, 0, 1));
    const std::array<Vec, 5> paints{Vec{0.02f, 0.02f, 0.022f}, Vec{0.09f, 0.085f, 0.08f}, Vec{0.16f, 0.055f, 0.035f},
                                    Vec{0.05f, 0.07f, 0.1f}, Vec{0.11f, 0.075f, 0.05f}};
    looks.housingColour = paints[static_cast<std::size_t>(random.integer(0, 4))];
    const std::array<Vec, 5> cloths{Vec{0.32f, 0.035f, 0.03f}, Vec{0.05f, 0.12f, 0.32f}, Vec{0.55f, 0.53f, 0.48f},
                                    Vec{0.28f, 0.29f, 0.3f}, Vec{0.42f, 0.16f, 0.04f}};
    looks.ragColour = cloths[static_cast<std::size_t>(random.integer(0, 4))];
    looks.woodColour = mix(Vec{0.42f, 0.27f, 0.14f}, Vec{0.2f, 0.12f, 0.065f}, pick(random, 0, 1));
    looks.tubeColour = Vec{pick(random, 0.05, 0.6), pick(random, 0.05, 0.5), pick(random, 0.05, 0.5)};
    looks.benchStain = pick(random, 0.2, 1);
    looks.stainOffset = {pick(random, 0, 60), pick(random, 0, 60), pick(random, 0, 60)};
    looks.landSmear = pick(random, 0.0, 0.2 + 0.25 * std::min(variety, 1.5));
}

/// A rectangle facing `target` from `at`, sizes in mm.
RectLight lampAt(Vec at, Vec target, float width, float height, Vec radiance, float turn) {
    const Vec n = normalize(target - at);
    const Vec a = anyPerpendicular(n), b = cross(n, a);
    const Vec x = (a * std::cos(turn) + b * std::sin(turn)) * width,
              y = (b * std::cos(turn) - a * std::sin(turn)) * height;
    return {at - x * 0.5f - y * 0.5f, x, y, radiance};
}

struct PoseChoice {
    int tooth = 0;
    Vec toCamera;
};

struct FlankProbe {
    std::vector<Eigen::Vector3d> points;  ///< 3 x 3 over the working flank of tooth 0
    std::vector<Eigen::Vector3d> normals;
};

FlankProbe probeOf(const RingFlank& flank) {
    FlankProbe probe;
    for (const double v : {0.04, 0.5, 0.97}) {
        for (const double u : {0.04, 0.5, 0.96}) {
            const FlankPoint p = flank.at(u, v);
            probe.points.push_back(p.position);
            probe.normals.push_back(p.normal);
        }
    }
    return probe;
}

double toothAngle(const Scene& scene, int tooth) { return scene.shape.pitch * tooth + scene.gearAngle; }

/// A tooth and a direction from which the faced flanks around it are seen well; judged by rays against the real scene.
PoseChoice choosePose(const Scene& scene, const RingFlank& faced, const SceneFrame& frame, SceneKind kind,
                      double distance, Random& random) {
    const FlankProbe probe = probeOf(faced);
    PoseChoice best;
    double bestScore = -1;
    const int tries = kind == SceneKind::Bench ? 60 : 500;
    for (int attempt = 0; attempt < tries; ++attempt) {
        const int tooth = random.integer(0, scene.shape.teeth - 1);
        const Eigen::Matrix3d turn =
            Eigen::AngleAxisd(toothAngle(scene, tooth), Eigen::Vector3d::UnitZ()).toRotationMatrix();
        const Eigen::Vector3d middle = turn * probe.points[4], normal = turn * probe.normals[4];
        const Eigen::Vector3d radial = Eigen::Vector3d(middle.x(), middle.y(), 0).normalized();
        const Eigen::Vector3d direction =
            (normal * random.uniform(0.5, 1.2) - Eigen::Vector3d::UnitZ() * random.uniform(0.15, 1.0) +
             radial * random.uniform(-0.35, 0.7))
                .normalized();
        const Vec d = toVec(direction);
        if (dot(d, frame.opening) < (kind == SceneKind::Bench ? 0.3f : 0.62f)) continue;
        // Score: seen share on this tooth and its neighbours, weighed by how squarely.
        double seen = 0, square = 0;
        int count = 0;
        for (int neighbour = -1; neighbour <= 1; ++neighbour) {
            const Eigen::Matrix3d t =
                Eigen::AngleAxisd(toothAngle(scene, tooth + neighbour), Eigen::Vector3d::UnitZ()).toRotationMatrix();
            for (std::size_t k = 0; k < probe.points.size(); ++k) {
                const Eigen::Vector3d n = t * probe.normals[k], p = t * probe.points[k];
                const double facing = n.dot(direction);
                ++count;
                if (facing < 0.1) continue;
                square += facing;
                const Eigen::Vector3d start = p + 0.02 * n;
                seen += scene.world->blocked(toVec(start), d, static_cast<float>(distance)) ? 0 : 1;
            }
        }
        seen /= count;
        square /= count;
        const double score = std::pow(seen, 4) * std::min(square, 0.8) * (0.75 + 0.5 * random.uniform());
        if (score > bestScore) {
            bestScore = score;
            best = {tooth, d};
        }
    }
    check(bestScore >= 0, "no direction found from which the flanks are seen");
    return best;
}

/// What lamps are placed about: the tooth in the middle of the picture, and the eye that looks at it.
struct LampPlan {
    SceneKind kind = SceneKind::Bench;
    Vec up, target, flankNormal, eye;
    double variety = 1;
    bool dark() const { return kind == SceneKind::OpenedAxle; }
    /// The direction from the target at an angle over the ground and round it, 0 = toward the eye; radians.
    Vec around(double elevation, double azimuth) const {
        const Vec x = normalize(eye - target - up * dot(up, eye - target)), y = cross(up, x);
        const auto ce = static_cast<float>(std::cos(elevation)), se = static_cast<float>(std::sin(elevation));
        return x * (ce * static_cast<float>(std::cos(azimuth))) + y * (ce * static_cast<float>(std::sin(azimuth))) +
               up * se;
    }
};

void lightRoom(Surroundings& room, const LampPlan& plan, Vec colour, Random& random) {
    const float level = plan.dark() ? 0.09f : 1.0f;
    room.up = plan.up;
    room.ceiling = colour * (pick(random, 0.25, 0.6) * level);
    room.wall = mix(Vec{1, 1, 1}, colour, 0.6f) * (pick(random, 0.10, 0.30) * level);
    room.floor = Vec{1, 0.95f, 0.9f} * (pick(random, 0.04, 0.14) * level);
    const int patches = plan.variety < 0.3 ? 4 : random.integer(8, 16);
    addPatches(room, patches, random);
}

/// Strip lamps under the ceiling, perhaps a window, and a softbox where variety is small. Returns the words for them.
std::string addShopLamps(std::vector<RectLight>& lights, const LampPlan& plan, Vec colour, Random& random) {
    const Vec target = plan.target;
    const int strips = random.integer(1, 3);
    const double turn = random.uniform(0, kPi);
    for (int k = 0; k < strips; ++k) {
        const Vec at =
            target + plan.around(random.uniform(0.7, 1.3), random.uniform(-kPi, kPi)) * pick(random, 1300, 2200);
        lights.push_back(lampAt(at, target, pick(random, 900, 1500), pick(random, 70, 180),
                                colour * pick(random, 9, 20), static_cast<float>(turn)));
    }
    std::string words = std::to_string(strips) + " strip lamps";
    if (random.chance(0.55)) {
        const Vec at =
            target + plan.around(random.uniform(0.15, 0.5), random.uniform(-kPi, kPi)) * pick(random, 1500, 2600);
        lights.push_back(lampAt(at, target, pick(random, 900, 1800), pick(random, 700, 1300),
                                lightColour(random.uniform(5200, 7500)) * pick(random, 1.2, 4), 0));
        words += ", window";
    }
    if (plan.variety < 0.3) {
        lights.push_back(lampAt(target + plan.around(0.8, 0.5) * 900, target, 700, 700, colour * 5, 0.3f));
        words += ", softbox";
    }
    return words;
}

void addHandLamp(std::vector<RectLight>& lights, const LampPlan& plan, Random& random) {
    // Whoever looks at the mark turns the lamp until the flank does not mirror it; most do.
    const int attempts = random.chance(0.12 * plan.variety) ? 1 : 8;
    const Vec target = plan.target;
    Vec at;
    float least = 2;
    for (int attempt = 0; attempt < attempts; ++attempt) {
        const Vec place =
            target + plan.around(random.uniform(0.15, 1.0), random.uniform(-1.3, 1.3)) * pick(random, 260, 620);
        const float mirrored =
            std::abs(dot(normalize(normalize(place - target) + normalize(plan.eye - target)), plan.flankNormal));
        if (mirrored < least) {
            least = mirrored;
            at = place;
        }
        if (mirrored < 0.75f) break;
    }
    const float size = pick(random, 25, 110);
    lights.push_back(lampAt(at, target, size, size * pick(random, 0.4, 1),
                            lightColour(random.uniform(4300, 7000)) *
                                ((plan.dark() ? 2.5f : 1.0f) * pick(random, 60000, 140000) / (size * size)),
                            pick(random, 0, 3)));
}

void addLamps(Scene& scene, const LampPlan& plan, Random& random) {
    std::vector<RectLight>& lights = scene.world->lights;
    const double kelvin = plan.variety < 0.3 ? 5200 : random.uniform(3000, 6800);
    const Vec main = lightColour(kelvin), other = lightColour(kelvin + random.normal(0, 900) * plan.variety);
    scene.lampColour = main;
    lightRoom(scene.world->surroundings, plan, other, random);
    std::string words;
    if (!plan.dark()) words += addShopLamps(lights, plan, main, random);
    // A hand lamp: always in an axle, now and then on the bench.
    if (plan.dark() || random.chance(0.3 * plan.variety)) {
        addHandLamp(lights, plan, random);
        words += words.empty() ? "hand lamp" : ", hand lamp";
    }
    if (plan.dark() && random.chance(0.6)) {
        const Vec at = plan.target + plan.around(random.uniform(0.0, 0.5), random.uniform(-1.6, 1.6)) * 2000.0f;
        lights.push_back(lampAt(at, plan.target, 1500, 1200, other * pick(random, 0.4, 1.4), 0));
        words += ", shop door";
    }
    if (random.chance(0.12 * plan.variety)) {
        const Vec back = normalize(plan.eye - plan.target);
        const Vec at = plan.eye + back * 4 + anyPerpendicular(back) * 12;
        lights.push_back(lampAt(at, plan.target, 5, 5, lightColour(5600) * 180000, 0));
        words += ", phone flash";
    }
    scene.note += words;
}

/// What a gear on the bench lies on; returns its words.
std::string addBench(std::vector<Object>& objects, const GearShape& shape, double variety, Random& shapes) {
    const std::array<Material, 3> tops{Material::Wood, Material::SheetSteel, Material::Cardboard};
    const std::array<const char*, 3> names{"wooden bench", "steel bench", "cardboard"};
    const auto top = static_cast<std::size_t>(shapes.integer(0, 2));
    const bool rag = shapes.chance(0.45);
    const float level = shape.backZ + (rag ? 0.9f : 0.05f);
    objects.push_back(benchObject(tops[top], level));
    if (rag) objects.push_back(ragObject(level, shape.heelRootRadius, shapes));
    for (Object& thing : clutter(level, shape.heelTipRadius, shape.boreRadius,
                                 shapes.integer(0, static_cast<int>(3 + 4 * variety)), shapes)) {
        objects.push_back(std::move(thing));
    }
    return rag ? std::string("rag on ") + names[top] : names[top];
}

/// Carrier, housing and caps round the gear; returns their words.
std::string addHousing(std::vector<Object>& objects, const GearShape& shape, SceneKind kind, double gearAngle,
                       Random& shapes) {
    const float lowZ = -pick(shapes, 0.82, 1.0) * shape.heelRootRadius, highZ = shape.backZ + pick(shapes, 46, 60);
    objects.push_back(carrierObject(shape, lowZ, highZ, gearAngle, shapes));
    const float centreZ = 0.5f * (lowZ + highZ);
    const float inner = 1.10f * std::hypot(shape.heelTipRadius, shape.backZ + 8 - centreZ);
    HousingSize size{.innerRadius = inner, .centreZ = centreZ};
    if (kind == SceneKind::OpenedAxle) {
        size.rimX = -pick(shapes, 15, 45);
        size.outerRadius = inner + pick(shapes, 15, 20);
        size.depth = inner * 0.95f;
        objects.push_back(housingObject(size, true, shapes));
        objects.push_back(capsObject(lowZ, highZ, 90, shapes));
        return say("render.opened-axle");
    }
    size.rimX = pick(shapes, 20, 45);
    size.outerRadius = inner + pick(shapes, 18, 26);
    size.depth = inner * 0.8f;
    objects.push_back(housingObject(size, false, shapes));
    objects.push_back(capsObject(lowZ, highZ, size.rimX + 20, shapes));
    return say("render.carrier-on-stand");
}

}  // namespace

Eigen::Vector3d flankPosition(const RingFlank& flank, double u, double v, int tooth, const Scene& scene) {
    return Eigen::AngleAxisd(toothAngle(scene, tooth), Eigen::Vector3d::UnitZ()) * flank.at(u, v).position;
}

void addPatches(Surroundings& room, int count, Random& random) {
    const Vec east = anyPerpendicular(room.up), north = cross(room.up, east);
    for (int k = 0; k < count; ++k) {
        const double elevation = random.uniform(-0.5, 0.9), azimuth = random.uniform(-kPi, kPi);
        const auto ce = static_cast<float>(std::cos(elevation)), se = static_cast<float>(std::sin(elevation));
        Surroundings::Patch patch;
        patch.toward = east * (ce * static_cast<float>(std::cos(azimuth))) +
                       north * (ce * static_cast<float>(std::sin(azimuth))) + room.up * se;
        const Vec x = normalize(cross(room.up, patch.toward)), y = cross(patch.toward, x);
        patch.acrossX = x / pick(random, 0.12, 0.6);
        patch.acrossY = y / pick(random, 0.12, 0.6);
        patch.softness = pick(random, 0.08, 0.6);
        // Dark tools and cupboards, some light walls and doors, now and then a colour.
        const float bright = random.chance(0.55) ? pick(random, 0.05, 0.5) : pick(random, 1.2, 3.2);
        const Vec paint{pick(random, 0.2, 1.1), pick(random, 0.2, 1.0), pick(random, 0.2, 1.1)};
        const Vec tint = random.chance(0.25) ? mix(Vec{0.6f, 0.6f, 0.6f}, paint, 0.45f) : Vec{1, 1, 1};
        patch.colour = room.wall * tint * bright;
        room.patches.push_back(patch);
    }
}

namespace {

/// The camera, what it looks at, and how long a flank comes out in the picture, pixels.
struct Framing {
    Camera camera;
    int tooth = 0;
    Eigen::Vector3d middle;  ///< of the flank in the middle of the picture
    double flankPx = 0;
};

void drawLens(Camera& camera, const RenderRequest& request, double sizeFactor, double distance, Random& lens) {
    const double variety = request.variety;
    camera.centrePx = {0.5 * request.widthPx + lens.normal(0, 0.004) * request.widthPx,
                       0.5 * request.heightPx + lens.normal(0, 0.004) * request.widthPx};
    camera.k1 = clampedNormal(lens, -0.01, 0.05 * std::min(variety, 1.5), 2);
    camera.k2 = clampedNormal(lens, 0.0, 0.015 * std::min(variety, 1.5), 2);
    camera.lensRadius = lens.uniform(0.5, 1.1) * (variety < 0.3 ? 0.6 : 1.0) *
                        std::min(1.6, camera.focalPx / (1500 * sizeFactor) + 0.3);
    camera.focusDistance = distance * (1 + lens.normal(0, 0.02) * variety);
    if (lens.chance(0.3 * variety)) {
        const double reach = sizeFactor * std::abs(lens.normal(0, 2.5)), way = lens.uniform(0, 2 * kPi);
        camera.shakePx = {reach * std::cos(way), reach * std::sin(way)};
    }
}

/// Direction first, then how large the flanks shall be, then lens and distance.
Framing placeCamera(const Scene& scene, const RingFlank& faced, const RenderRequest& request, Random& pose,
                    Random& lens) {
    const double variety = request.variety;
    const bool bench = request.scene == SceneKind::Bench;
    const SceneFrame frame = frameOf(request.scene);
    const PoseChoice choice = choosePose(scene, faced, frame, request.scene, 260, pose);
    const Eigen::Vector3d toeEnd = flankPosition(faced, 0, 0.5, choice.tooth, scene),
                          heelEnd = flankPosition(faced, 1, 0.5, choice.tooth, scene);
    const Eigen::Vector3d middle = flankPosition(faced, 0.5, 0.5, choice.tooth, scene), view = toEigen(choice.toCamera);
    const Eigen::Vector3d chord = heelEnd - toeEnd;
    const double seenLength = (chord - view * view.dot(chord)).norm();
    const double sizeFactor = std::max(request.widthPx, request.heightPx) / 1600.0;
    const double focal = sizeFactor * std::exp(pose.uniform(std::log(1150), std::log(variety < 0.3 ? 2000 : 2900)));
    const double wishedPx =
        sizeFactor * std::clamp(std::exp(pose.normal(std::log(bench ? 430 : 330), 0.26)), 200.0, 690.0);
    const double distance = std::max(focal * seenLength / wishedPx, 125.0);
    const double roll =
        bench ? pose.normal(0, 0.25) + (pose.chance(0.2) ? pose.integer(1, 3) * kPi / 2 : 0) : pose.normal(0, 0.12);
    // Nobody aims exactly.
    const Eigen::Vector3d sideways = view.unitOrthogonal(), upward = view.cross(sideways);
    const double stray = 0.11 * std::min(variety, 1.2) * distance * request.heightPx / focal;
    const Eigen::Vector3d target = middle + sideways * clampedNormal(pose, 0, 0.5 * stray, 1.8) +
                                   upward * clampedNormal(pose, 0, 0.5 * stray, 1.8);
    Camera camera = lookAt(middle + view * distance, target, toEigen(frame.up), roll);
    camera.widthPx = request.widthPx;
    camera.heightPx = request.heightPx;
    camera.focalPx = focal;
    drawLens(camera, request, sizeFactor, distance, lens);
    return {.camera = camera, .tooth = choice.tooth, .middle = middle, .flankPx = wishedPx};
}

/// Which teeth round `centre` are painted and rolled, and which were painted only.
void chooseStates(Scene& scene, const RenderRequest& request, int centre, Random& compound) {
    const int teeth = scene.shape.teeth;
    scene.states.assign(static_cast<std::size_t>(teeth), ToothState::Bare);
    const int rolled = std::min(request.paintedTeeth, teeth);
    const bool mayBeFresh = request.scene == SceneKind::OpenedAxle && request.marking == PasteMarking::Wiped;
    const int fresh = mayBeFresh && compound.chance(0.6) ? compound.integer(1, 3) : 0;
    const int first = centre - rolled / 2 + (rolled > 2 ? compound.integer(-1, 1) : 0);
    const bool freshBefore = compound.chance(0.5);
    const auto wrap = [&](int k) { return static_cast<std::size_t>((k % teeth + teeth) % teeth); };
    for (int k = 0; k < fresh; ++k)
        scene.states[wrap(freshBefore ? first - 1 - k : first + rolled + k)] = ToothState::NotRolled;
    for (int k = 0; k < rolled; ++k) scene.states[wrap(first + k)] = ToothState::Rolled;
}

/// Length along the middle of the height, mm.
double lengthOf(const RingFlank& flank) {
    double lengthMm = 0;
    for (int i = 0; i < 8; ++i)
        lengthMm += (flank.at((i + 1) / 8.0, 0.5).position - flank.at(i / 8.0, 0.5).position).norm();
    return lengthMm;
}

double heightOf(const RingFlank& flank) { return (flank.at(0.5, 1).position - flank.at(0.5, 0).position).norm(); }

/// The set-up and the flank of one tooth. Every tooth is a little different from its neighbours: pitch and cutting
/// errors, and the runout of the gear.
struct OwnTooth {
    SetupError error;
    Modification modification;
    double filmMm = 0;
};
OwnTooth ownTooth(const RenderRequest& request, Side side, double runoutCosine, Random& own) {
    OwnTooth tooth{request.error, request.modification[index(side)], request.filmMm};
    tooth.error.ringMm += request.toothToToothMm * runoutCosine;
    const double spread = std::min(request.variety, 1.5);
    tooth.modification.lengthShift += 0.008 * spread * own.normal();
    tooth.modification.profileShift += 0.012 * spread * own.normal();
    tooth.modification.lengthCrownUm *= std::exp(0.04 * spread * own.normal());
    tooth.modification.profileCrownUm *= std::exp(0.05 * spread * own.normal());
    tooth.filmMm *= std::exp(0.05 * spread * own.normal());
    return tooth;
}

/// Marks and compound on all teeth that are not bare. `columnsPx`: of a layer on a flank that faces the camera.
void paintTeeth(Scene& scene, const ToothContact& contact, const std::array<const RingFlank*, 2>& flanks,
                const RenderRequest& request, double columnsPx, int threads) {
    const GearShape& shape = scene.shape;
    const Random root(request.seed);
    const double wavePhase = scene.wavePhase;
    scene.marks.resize(static_cast<std::size_t>(shape.teeth));
    std::vector<std::pair<int, Side>> jobs;
    for (int k = 0; k < shape.teeth; ++k) {
        if (scene.states[static_cast<std::size_t>(k)] == ToothState::Bare) continue;
        for (const Side side : kSides) jobs.emplace_back(k, side);
    }
    parallelFor(static_cast<int>(jobs.size()), threads, [&](int job) {
        const auto [number, side] = jobs[static_cast<std::size_t>(job)];
        const auto at = static_cast<std::size_t>(number);
        const RingFlank& flank = *flanks[index(side)];
        Random own = root.fork(1000 + static_cast<std::uint64_t>(number) * 2 + index(side));
        const OwnTooth tooth = ownTooth(request, side, std::cos(2 * kPi * number / shape.teeth + wavePhase), own);
        const FlankMap map = contact.predictMap(side, tooth.error, tooth.modification, tooth.filmMm);
        scene.marks[at][index(side)] = std::make_shared<const FlankMap>(map);
        const double share = side == request.faced ? 1.0 : 0.6;
        scene.looks.layer[at][index(side)] = std::make_shared<const PasteLayer>(
            map, scene.states[at], request.marking, scene.looks.paste,
            PasteLayer::Grid{lengthOf(flank), heightOf(flank), static_cast<int>(columnsPx * share)}, own.bits());
    });
}

}  // namespace

Scene buildScene(const ToothContact& contact, const RingFlank& drive, const RingFlank& coast,
                 const RenderRequest& request, int threads) {
    const Random root(request.seed);
    Random shapes = root.fork(1), steel = root.fork(2), pose = root.fork(3), lamps = root.fork(4),
           compound = root.fork(5), lens = root.fork(6);
    const double variety = request.variety;

    Scene scene;
    scene.shape = shapeOf(drive, coast, shapes.uniform(9, 15), shapes.uniform(0.80, 0.9));
    const GearShape& shape = scene.shape;
    scene.gearAngle = shapes.uniform(0, shape.pitch);
    Looks& looks = scene.looks;
    drawSteel(looks, steel, variety);
    looks.teeth = shape.teeth;
    looks.layer.resize(static_cast<std::size_t>(shape.teeth));

    // The gear, and what it lies on or sits in.
    std::vector<Object> objects;
    Object teeth = toothObject(drive, coast, shape);
    for (Rigid& place : teeth.places) place = rotationZ(scene.gearAngle) * place;
    objects.push_back(std::move(teeth));
    objects.push_back(blankObject(shape));
    std::string ground;
    if (request.scene == SceneKind::Bench) {
        ground = addBench(objects, shape, variety, shapes);
    } else {
        ground = addHousing(objects, shape, request.scene, scene.gearAngle, shapes);
        const PinionFlank pinionDrive(drive, request.modification[index(Side::Drive)]),
            pinionCoast(coast, request.modification[index(Side::Coast)]);
        for (Object& part : pinionObjects(pinionDrive, pinionCoast, pinionDrive.ratio() * scene.gearAngle))
            objects.push_back(std::move(part));
    }
    scene.world = std::make_unique<World>(std::move(objects));

    const RingFlank& faced = request.faced == Side::Drive ? drive : coast;
    const Framing framing = placeCamera(scene, faced, request, pose, lens);
    scene.centreTooth = framing.tooth;
    scene.camera = framing.camera;
    scene.keyStops = 0;
    scene.note = ground + "; ";

    const Eigen::Vector3d flankNormal =
        Eigen::AngleAxisd(toothAngle(scene, framing.tooth), Eigen::Vector3d::UnitZ()) * faced.at(0.5, 0.5).normal;
    addLamps(scene,
             {.kind = request.scene,
              .up = frameOf(request.scene).up,
              .target = toVec(framing.middle),
              .flankNormal = toVec(flankNormal),
              .eye = toVec(framing.camera.origin),
              .variety = variety},
             lamps);

    looks.paste = drawPasteStyle(compound, request.marking, request.colour, variety);
    if (request.marking == PasteMarking::Transferred) looks.landSmear *= 0.15f;  // the brush was on the pinion
    chooseStates(scene, request, framing.tooth, compound);
    scene.wavePhase = compound.uniform(0, 2 * kPi);
    paintTeeth(scene, contact, {&drive, &coast}, request, std::clamp(1.3 * framing.flankPx, 160.0, 800.0), threads);
    looks.flankLengthMm = static_cast<float>(lengthOf(drive));
    looks.flankHeightMm = static_cast<float>(heightOf(drive));
    scene.note = looks.paste.colour.name + " compound; " + scene.note;
    return scene;
}

}  // namespace shimsight::render
