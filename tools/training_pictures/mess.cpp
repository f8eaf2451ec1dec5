// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Teeth as a bench has them: half the ring painted or all of it, fresh teeth beside rolled ones, paste everywhere,
// swipes, old oil; and one lamp where a shop has one.
#include <Eigen/Geometry>

#include "render/pick.h"
#include "render/scene.h"
#include "training_pictures/training_pictures.h"

namespace shimsight::render {
namespace {

constexpr std::uint64_t kDryRoot = 91;  ///< stream of random numbers
constexpr int kTrials = 4;              ///< contact maps drawn for a side; the teeth share them

struct TrialMaps {
    std::array<std::vector<std::shared_ptr<const FlankMap>>, 2> now;
    std::array<std::shared_ptr<const FlankMap>, 2> before;
};

TrialMaps mapsOf(const ToothContact& contact, const RenderRequest& request, Random& random) {
    TrialMaps maps;
    SetupError before = request.error;
    before.depthMm += random.normal(0, 0.2);
    before.ringMm += random.normal(0, 0.1);
    for (const Side side : kSides) {
        for (int k = 0; k < kTrials; ++k) {
            SetupError error = request.error;
            error.ringMm += request.toothToToothMm * std::cos(2 * kPi * k / kTrials);
            Modification modification = request.modification[index(side)];
            modification.lengthShift += 0.01 * random.normal();
            modification.profileShift += 0.012 * random.normal();
            const double film = request.filmMm * std::exp(0.08 * random.normal());
            maps.now[index(side)].push_back(
                std::make_shared<const FlankMap>(contact.predictMap(side, error, modification, film)));
        }
        maps.before[index(side)] = std::make_shared<const FlankMap>(
            contact.predictMap(side, before, request.modification[index(side)], request.filmMm));
    }
    return maps;
}

/// Which teeth somebody painted and which of these were rolled.
void drawStates(Scene& scene, PasteMarking marking, Random& random) {
    const int teeth = scene.shape.teeth;
    const double span = random.uniform();
    const int painted = span < 0.35 ? teeth : span < 0.65 ? teeth / 2 : random.integer(5, 16);
    const int first = scene.centreTooth - (painted == teeth ? 0 : random.integer(1, std::max(2, painted - 2)));
    const auto wrap = [&](int k) { return static_cast<std::size_t>((k % teeth + teeth) % teeth); };
    scene.states.assign(static_cast<std::size_t>(teeth), ToothState::Bare);
    const double order = marking == PasteMarking::Transferred ? 0 : random.uniform();
    const double freshShare = random.uniform(0.15, 0.6), bareShare = random.chance(0.3) ? random.uniform(0, 0.3) : 0;
    const int rolledFirst = scene.centreTooth - random.integer(0, 6), rolledCount = random.integer(2, 12);
    for (int k = 0; k < painted; ++k) {
        const int tooth = first + k, fromRolled = ((tooth - rolledFirst) % teeth + teeth) % teeth;
        const bool isFresh = order > 0.7 ? random.chance(freshShare) : order > 0.35 && fromRolled >= rolledCount;
        if (random.chance(bareShare)) continue;
        scene.states[wrap(tooth)] = isFresh ? ToothState::NotRolled : ToothState::Rolled;
    }
}

PasteMess drawMess(Random& random) {
    PasteMess mess;
    const auto some = [&](double chance, double low, double high) {
        return random.chance(chance) ? pick(random, low, high) : 0.0f;
    };
    mess.comb = some(0.55, 0.15, 1);
    mess.combMm = pick(random, 0.35, 1.3);
    mess.crossing = some(0.2, 0.1, 0.6);
    mess.holes = some(0.4, 0.1, 0.8);
    mess.skips = some(0.4, 0.1, 0.9);
    mess.wipe = some(0.25, 0.2, 0.9);
    mess.printBack = some(0.35, 0.1, 0.9);
    mess.remnant = some(0.4, 0.1, 0.8);
    mess.thick = some(0.7, 0.1, 1.5);
    mess.earlierDepth = some(0.25, 0.15, 0.55);
    return mess;
}

/// How long the flank is in the picture, pixels; 0 when it is far outside or behind.
double seenLength(const RingFlank& flank, int tooth, const Scene& scene) {
    const Camera& camera = scene.camera;
    const auto toe = camera.project(flankPosition(flank, 0, 0.5, tooth, scene)),
               heel = camera.project(flankPosition(flank, 1, 0.5, tooth, scene));
    if (!toe || !heel) return 0;
    const Eigen::Vector2d middle = 0.5 * (*toe + *heel);
    const double margin = 0.25;
    if (middle.x() < -margin * camera.widthPx || middle.x() > (1 + margin) * camera.widthPx ||
        middle.y() < -margin * camera.heightPx || middle.y() > (1 + margin) * camera.heightPx)
        return 0;
    return (*heel - *toe).norm();
}

void paintTeeth(Scene& scene, const RingFlank& drive, const RingFlank& coast, const TrialMaps& maps,
                PasteMarking marking, Random& random) {
    Looks& looks = scene.looks;
    const auto teeth = static_cast<std::size_t>(scene.shape.teeth);
    looks.layer.assign(teeth, {});
    scene.marks.assign(teeth, {});
    for (int tooth = 0; tooth < scene.shape.teeth; ++tooth) {
        const auto k = static_cast<std::size_t>(tooth);
        if (scene.states[k] == ToothState::Bare) continue;
        for (const RingFlank* flank : {&drive, &coast}) {
            const std::size_t side = index(flank->side());
            const auto& map = maps.now[side][static_cast<std::size_t>(random.integer(0, kTrials - 1))];
            const std::uint64_t seed = random.bits();
            const double length = seenLength(*flank, tooth, scene);
            if (length <= 0) continue;
            PasteStyle style = looks.paste;
            style.mess.earlier = maps.before[side];
            scene.marks[k][side] = map;
            const PasteLayer::Grid grid{looks.flankLengthMm, looks.flankHeightMm,
                                        static_cast<int>(std::clamp(1.2 * length, 64.0, 500.0))};
            looks.layer[k][side] =
                std::make_shared<const PasteLayer>(*map, scene.states[k], marking, style, grid, seed);
        }
    }
}

void addSwipes(Scene& scene, const RingFlank& faced, Random& random) {
    const int count = random.integer(1, 4);
    for (int i = 0; i < count; ++i) {
        const int tooth = scene.centreTooth + random.integer(-4, 4);
        const Eigen::Vector3d at =
            Eigen::AngleAxisd(-scene.gearAngle, Eigen::Vector3d::UnitZ()) *
            flankPosition(faced, random.uniform(), 0.9,
                          ((tooth % scene.shape.teeth) + scene.shape.teeth) % scene.shape.teeth, scene);
        const bool rag = random.chance(0.3);
        const double way = random.uniform(0, 2 * kPi);
        Swipe swipe;
        swipe.x = static_cast<float>(at.x());
        swipe.y = static_cast<float>(at.y());
        swipe.directionX = static_cast<float>(std::cos(way));
        swipe.directionY = static_cast<float>(std::sin(way));
        swipe.halfWidth = rag ? pick(random, 9, 25) : pick(random, 3, 7);
        swipe.halfLength = pick(random, 12, 80);
        swipe.strength = pick(random, 0.2, 0.75);
        scene.looks.swipes.push_back(swipe);
    }
}

RectLight smallLamp(Vec at, Vec target, float size, Vec radiance) {
    const Vec n = normalize(target - at), x = anyPerpendicular(n) * size, y = cross(n, x);
    return {.corner = at - x * 0.5f - y * 0.5f, .edgeX = x, .edgeY = y, .radiance = radiance};
}

/// A place for a lamp, of those that `place` draws, from which the teeth about the picture's middle are lit; whoever
/// holds a lamp turns it until they are. Now and then the first, come what may.
template <typename Place>
Vec litFrom(const Scene& scene, Vec target, Random& random, const Place& place) {
    const Vec eye = toVec(scene.camera.origin);
    std::vector<Hit> probes;
    for (const double dx : {-0.2, 0.0, 0.2}) {
        for (const double dy : {-0.2, 0.0, 0.2}) {
            const Eigen::Vector2d pixel((0.5 + dx) * scene.camera.widthPx, (0.5 + dy) * scene.camera.heightPx);
            const auto hit = scene.world->intersect(eye, toVec(scene.camera.direction(pixel)));
            if (hit && hit->isTooth) probes.push_back(*hit);
        }
    }
    const int tries = probes.empty() || random.chance(0.1) ? 1 : 12;
    Vec best = target;
    int most = -1;
    for (int attempt = 0; attempt < tries; ++attempt) {
        const Vec at = place();
        int lit = 0;
        for (const Hit& probe : probes) {
            const Vec start = probe.position + probe.geometric * 0.05f, to = at - start;
            const float distance = length(to);
            lit += dot(to, probe.normal) > 0.25f * distance && !scene.world->blocked(start, to / distance, distance);
        }
        if (lit > most) {
            most = lit;
            best = at;
        }
    }
    return best;
}

void dimRoom(Surroundings& room, float by) {
    room.ceiling *= by;
    room.wall *= by;
    room.floor *= by;
    for (Surroundings::Patch& patch : room.patches) patch.colour *= by;
}

}  // namespace

void messUp(Scene& scene, const ToothContact& contact, const RingFlank& drive, const RingFlank& coast,
            const RenderRequest& request, Random& random) {
    Looks& looks = scene.looks;
    if (request.paintedTeeth > 0) {
        looks.paste.mess = drawMess(random);
        looks.paste.coatUm *= std::exp(pick(random, -0.4, 0.8));
        if (random.chance(0.5)) looks.paste.margin = 0;
        if (Random dry = random.fork(kDryRoot); dry.chance(0.3)) looks.paste.dryRoot = pick(dry, 0.03, 0.2);
        drawStates(scene, request.marking, random);
        const TrialMaps maps = mapsOf(contact, request, random);
        paintTeeth(scene, drive, coast, maps, request.marking, random);
        if (request.marking == PasteMarking::Wiped) {
            looks.landSmear = pick(random, 0.2, 1);
            if (random.chance(0.55)) looks.thickLands = pick(random, 0, 0.9);
            if (random.chance(0.55)) looks.thickRoots = pick(random, 0, 1);
            if (random.chance(0.4)) looks.thickEnds = pick(random, 0, 0.9);
        }
        if (random.chance(request.marking == PasteMarking::Wiped ? 0.35 : 0.12))
            addSwipes(scene, request.faced == Side::Drive ? drive : coast, random);
    }
    if (random.chance(0.3)) looks.drops = pick(random, 0.05, 0.6);
    if (random.chance(0.35)) {  // amber films of old oil
        looks.oil = pick(random, 0.5, 1);
        looks.oilTint = mix(Vec{0.85f, 0.65f, 0.35f}, Vec{0.55f, 0.28f, 0.08f}, pick(random, 0, 1));
    }
}

void shopLight(Scene& scene, Random& random) {
    std::vector<RectLight>& lights = scene.world->lights;
    Surroundings& room = scene.world->surroundings;
    const Camera& camera = scene.camera;
    const Vec eye = toVec(camera.origin), right = toVec(camera.right), down = toVec(camera.down),
              forward = normalize(cross(right, down));
    const float distance = static_cast<float>(camera.focusDistance);
    const Vec target = eye + forward * distance;
    const double kind = random.uniform();
    lights.clear();
    if (kind < 0.45) {  // a torch held beside the phone, all else dark
        dimRoom(room, pick(random, 0.015, 0.1));
        const Vec at = litFrom(scene, target, random, [&] {
            const float reach = distance * pick(random, 0.5, 1.1), angle = pick(random, 0.1, 1.1),
                        around = pick(random, -kPi, kPi);
            return target - forward * (reach * std::cos(angle)) +
                   (right * std::cos(around) + down * std::sin(around)) * (reach * std::sin(angle));
        });
        const Vec colour = random.chance(0.3) ? Vec{1.15f, 1, 0.7f} : Vec{0.97f, 1, 1.05f};
        lights.push_back(smallLamp(at, target + right * pick(random, -20, 20), pick(random, 8, 30), colour * 900));
        scene.lampColour = colour;
    } else if (kind < 0.7) {  // the phone's own flash
        dimRoom(room, pick(random, 0.01, 0.25));
        const float around = pick(random, -kPi, kPi);
        lights.push_back(smallLamp(eye + (right * std::cos(around) + down * std::sin(around)) * pick(random, 8, 18),
                                   target, 4, Vec{1, 1, 1} * 60000));
        scene.lampColour = {1, 1, 1};
    } else {  // the sun through a door: hard edges, blue shade
        dimRoom(room, pick(random, 0.1, 0.6));
        const Vec toSun = normalize(
            litFrom(scene, target, random,
                    [&] {
                        const float angle = pick(random, 0.2, 1.2), around = pick(random, -kPi, kPi);
                        return target +
                               (right * std::cos(around) + down * std::sin(around)) * (3000 * std::sin(angle)) -
                               forward * (3000 * std::cos(angle));
                    }) -
            target);
        RectLight sun = smallLamp(target + toSun * 3000.0f, target, 28, Vec{1.05f, 1, 0.88f} * 90000);
        if (random.chance(0.7)) {
            const Vec across = normalize(cross(toSun, right * pick(random, -1, 1) + down * pick(random, -1, 1)));
            const float middle = dot(target, across), wide = distance * pick(random, 0.05, 0.4);
            const float aside = wide * pick(random, -0.9, 0.9);
            sun.doorNormal = across;
            sun.doorLow = middle + aside - wide;
            sun.doorHigh = random.chance(0.5) ? 1e9f : middle + aside + wide;
        }
        room.ceiling = room.ceiling * Vec{0.85f, 0.97f, 1.2f};
        lights.push_back(sun);
        scene.lampColour = {1.05f, 1, 0.88f};
    }
}

}  // namespace shimsight::render
