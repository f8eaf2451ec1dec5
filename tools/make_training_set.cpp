// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Rendered photos with what each pixel shows, in raw shards for tools/train. Run without arguments for its usage.
#include <Eigen/Geometry>
#include <bit>
#include <iostream>

#include "render/shot.h"
#include "render/tracer.h"
#include "shards.h"
#include "shimsight/render.h"
#include "training_pictures/training_pictures.h"

namespace {

using namespace shimsight;

// One picture in a shard, byte after byte (see tools/train/data.py):
//   rgb 3 h w interleaved; class h w (and 16 on the flanks of painted teeth, 32 on bench, cloth and room); u h w; v h
//   w; tooth h w (255: none); centres 64 x 2 x 2 float32 (NaN: none); 16 bytes of notes.
// u and v are written as byte = (value + 0.1) / 1.2 * 255.
constexpr int kTeeth = 64, kNotes = 16;

struct Plan {
    int widthPx = 512, heightPx = 384;
    double withoutGear = 0.2;
    double shop = 0;    ///< share of the pictures with paint as shops have it
    bool wide = false;  ///< validation: the hard half of the settings, plain styles
};

/// u and v in the shard.
std::uint8_t placeByte(float value) { return tools::coordByte(value, 0.1f); }

/// `varied`: tooth forms beyond the usual ones too.
bool drawSetData(Random& random, bool varied, GearSetData& data) {
    const bool unusual = varied && random.chance(0.35);
    data.pinionTeeth = unusual ? random.integer(6, 19) : random.integer(8, 15);
    data.ringTeeth = unusual ? random.integer(25, 60) : random.integer(30, 47);
    const double ratio = static_cast<double>(data.ringTeeth) / data.pinionTeeth;
    if (ratio < (unusual ? 1.8 : 2.4) || ratio > (unusual ? 7.0 : 5.6)) return false;
    data.ringGearDiameterMm = std::exp(random.uniform(std::log(120.0), std::log(450.0)));
    data.offsetMm = random.chance(0.25) ? 0 : random.uniform(0.05, 0.2) * data.ringGearDiameterMm;
    data.cut = random.chance(0.5) ? Cut::FaceMilled : Cut::FaceHobbed;
    data.hand = random.chance(0.5) ? Hand::Left : Hand::Right;
    if (random.chance(0.5)) data.faceWidthMm = random.uniform(0.125, 0.175) * data.ringGearDiameterMm;
    if (random.chance(0.5)) data.pinionSpiralDeg = data.offsetMm > 0 ? random.uniform(40, 52) : random.uniform(30, 40);
    if (random.chance(0.3)) data.pressureAngleDeg = random.uniform(18, 22.5);
    if (unusual) {
        if (random.chance(0.5)) data.faceWidthMm = random.uniform(0.10, 0.21) * data.ringGearDiameterMm;
        if (random.chance(0.5)) data.pinionSpiralDeg = random.uniform(22, 52);
        if (random.chance(0.5)) data.pressureAngleDeg = random.uniform(15, 25);
        if (random.chance(0.5)) data.offsetMm = random.uniform(0, 0.12) * data.ringGearDiameterMm;
    }
    data.cutterRadiusMm.reset();
    if (data.cut == Cut::FaceMilled && random.chance(0.5))
        data.cutterRadiusMm = data.ringGearDiameterMm * random.uniform(0.38, 0.65);
    return true;
}

/// Surfaces that reach everywhere, with a land left at the tip.
void checkLands(const RingFlank& drive, const RingFlank& coast) {
    for (const double u : {0.0, 0.5, 1.0}) {
        for (const double v : {0.0, 1.0}) (void)drive.at(u, v), (void)coast.at(u, v);
        const double land = (drive.at(u, 1).position - coast.at(u, 1).position).norm();
        if (land < 0.003 * drive.gearSet().ringGearDiameterMm) throw InputError("pointed tooth");
    }
}

GearSet drawGearSet(Random& random, bool varied) {
    return tools::drawnGearSet([&](GearSetData& data) { return drawSetData(random, varied, data); }, checkLands);
}

RenderRequest drawRequest(Random& random, const Plan& plan, const GearSet& gearSet, std::uint64_t seed) {
    RenderRequest request;
    request.widthPx = plan.widthPx;
    request.heightPx = plan.heightPx;
    request.threads = 1;
    request.seed = seed;
    request.modification = gearSet.modification;
    request.error.depthMm = random.uniform(-0.3, 0.3);
    request.error.ringMm = random.uniform(-0.15, 0.15);
    request.filmMm = kFilmMm * std::exp(random.normal(0, 0.4));
    request.faced = random.chance(0.5) ? Side::Drive : Side::Coast;
    const double scene = random.uniform();
    request.scene = scene < 0.5 ? SceneKind::Bench : scene < 0.75 ? SceneKind::CarrierOnStand : SceneKind::OpenedAxle;
    request.marking = random.chance(0.5) ? PasteMarking::Wiped : PasteMarking::Transferred;
    request.paintedTeeth = random.chance(0.15) ? 0 : random.integer(1, 10);
    request.toothToToothMm = random.chance(0.3) ? random.uniform(0, 0.08) : 0;
    request.variety = plan.wide ? random.uniform(1, 2) : random.uniform(0.2, 2);
    request.samplesPerPixel = random.integer(2, 5);
    const auto names = pasteColourNames();
    if (random.chance(0.5))
        request.colour = names[static_cast<std::size_t>(random.integer(0, static_cast<int>(names.size()) - 1))];
    return request;
}

/// Another stand, distance, aim and roll than the scene's own, so that the gear is seen large and small, whole and cut.
/// In training also close-ups of a few teeth and gears far off, by a longer or shorter lens.
void moveCamera(render::Scene& scene, const RenderRequest& request, Random& random, bool wide) {
    render::Camera& camera = scene.camera;
    const double range = wide ? 1 : random.uniform();
    const bool close = range < 0.35;
    if (range < 0.47) {
        const double zoom =
            std::exp(close ? random.uniform(0, std::log(2.4)) : random.uniform(std::log(0.35), std::log(0.8)));
        camera.focalPx *= zoom;
        camera.lensRadius /= std::sqrt(zoom);
    }
    const double distance = camera.focusDistance;
    const Eigen::Vector3d target = camera.origin + distance * camera.forward, old = camera.origin;
    const bool bench = request.scene == SceneKind::Bench;
    const double factor = random.chance(0.3) ? 1.0
                                             : std::exp(random.uniform(std::log(0.75), std::log(close   ? 1.15
                                                                                                : bench ? 3.2
                                                                                                        : 2.2)));
    Eigen::Vector3d back = -camera.forward;
    const double reach = (bench ? 0.45 : 0.22) * (wide ? 1.1 : 1.0);
    if (random.chance(0.6)) {
        const double a = std::clamp(random.normal(0, 0.5 * reach), -reach, reach),
                     b = std::clamp(random.normal(0, 0.5 * reach), -reach, reach);
        const Eigen::Vector3d moved = Eigen::AngleAxisd(a, camera.right) * (Eigen::AngleAxisd(b, camera.down) * back);
        if (!bench || moved.z() < -0.15) back = moved;  // stay above the bench
    }
    const Eigen::Vector3d side = camera.right, down = camera.down;
    const double spread = 0.22 * distance * factor * camera.widthPx / camera.focalPx;
    const Eigen::Vector3d aim = target + side * (spread * std::clamp(random.normal(0, 0.7), -1.5, 1.5)) +
                                down * (0.75 * spread * std::clamp(random.normal(0, 0.7), -1.5, 1.5));
    const double roll = random.chance(0.5) ? random.normal(0, 0.3) : random.uniform(-kPi, kPi);
    render::Camera moved = render::lookAt(target + back * (distance * factor), aim, -down, roll);
    moved.widthPx = camera.widthPx;
    moved.heightPx = camera.heightPx;
    moved.focalPx = camera.focalPx;
    moved.centrePx = camera.centrePx;
    moved.k1 = camera.k1;
    moved.k2 = camera.k2;
    moved.lensRadius = camera.lensRadius;
    moved.focusDistance = camera.focusDistance * factor;
    moved.shakePx = camera.shakePx;
    // Not into a wall of the housing: the way to the target must be as free as it was.
    const auto free = [&](const Eigen::Vector3d& from) {
        const Eigen::Vector3d to = from - target;
        return !scene.world->blocked(render::toVec(target + 0.15 * to), render::toVec(to.normalized()),
                                     static_cast<float>(0.85 * to.norm()));
    };
    if (free(old) && !free(moved.origin)) return;
    camera = moved;
}

void put(std::string& into, const void* from, std::size_t bytes) { into.append(static_cast<const char*>(from), bytes); }

std::string record(const Plan& plan, std::uint64_t seed) {
    const auto pixels = static_cast<std::size_t>(plan.widthPx) * static_cast<std::size_t>(plan.heightPx);
    Random random = Random(seed).fork(plan.wide ? 92 : 91);
    Random style = Random(seed).fork(93);
    std::array<std::uint8_t, kNotes> notes{};
    std::string bytes;
    bytes.reserve(7 * pixels + 4 * 4 * kTeeth + kNotes);
    std::array<float, static_cast<std::size_t>(kTeeth) * 4> centres;
    centres.fill(std::numeric_limits<float>::quiet_NaN());
    if (random.chance(plan.withoutGear)) {
        RenderRequest request;
        request.widthPx = plan.widthPx;
        request.heightPx = plan.heightPx;
        request.samplesPerPixel = random.integer(2, 5);
        request.variety = random.uniform(0.2, 2);
        request.seed = random.bits();
        request.threads = 1;
        const Picture picture = plan.wide
                                    ? renderWithoutGear(request)
                                    : render::takeShot(render::sceneOfOtherParts(request), request, false, 1).picture;
        put(bytes, picture.rgb.data(), picture.rgb.size());
        bytes.append(3 * pixels, '\0');
        bytes.append(pixels, '\xff');
        notes[0] = 0;
    } else {
        for (int attempt = 0;; ++attempt) {
            check(attempt < 20, "no picture could be made");
            try {
                const ToothContact contact(drawGearSet(random, !plan.wide));
                const RenderRequest request = drawRequest(random, plan, contact.gearSet(), random.bits());
                const RingFlank drive(contact.gearSet(), contact.blank(), Side::Drive),
                    coast(contact.gearSet(), contact.blank(), Side::Coast);
                render::Scene scene = render::buildScene(contact, drive, coast, request, 1);
                moveCamera(scene, request, random, plan.wide);
                if (plan.shop > 0) {
                    Random shop = Random(seed).fork(94);
                    if (shop.chance(plan.shop)) render::messUp(scene, contact, drive, coast, request, shop);
                    if (shop.chance(0.5)) render::restyle(scene, style);
                    if (shop.chance(0.45 * plan.shop)) render::shopLight(scene, shop);
                } else if (!plan.wide) {
                    render::restyle(scene, style);
                }
                const bool mirrored = contact.gearSet().hand == Hand::Left;
                const LabelPicture labels = render::labelScene(drive, coast, scene, mirrored, 1);
                const Picture picture = render::takeShot(scene, request, mirrored, 1).picture;
                bytes.clear();
                put(bytes, picture.rgb.data(), picture.rgb.size());
                for (std::size_t k = 0; k < labels.kind.size(); ++k)
                    bytes.push_back(static_cast<char>(static_cast<int>(labels.kind[k]) + (labels.painted[k] ? 16 : 0) +
                                                      (labels.ground[k] ? 32 : 0)));
                for (const float u : labels.u) bytes.push_back(static_cast<char>(placeByte(u)));
                for (const float v : labels.v) bytes.push_back(static_cast<char>(placeByte(v)));
                for (const std::int16_t tooth : labels.tooth)
                    bytes.push_back(static_cast<char>(tooth < 0 ? 255 : tooth));
                for (std::size_t k = 0; k < labels.centres.size() && k < kTeeth; ++k) {
                    for (std::size_t side = 0; side < 2; ++side) {
                        const auto& centre = labels.centres[k][side];
                        if (!centre) continue;
                        centres[4 * k + 2 * side] = static_cast<float>(centre->x);
                        centres[4 * k + 2 * side + 1] = static_cast<float>(centre->y);
                    }
                }
                notes = {1,
                         static_cast<std::uint8_t>(request.scene),
                         static_cast<std::uint8_t>(request.faced),
                         static_cast<std::uint8_t>(mirrored),
                         static_cast<std::uint8_t>(contact.gearSet().cut),
                         static_cast<std::uint8_t>(contact.gearSet().ringTeeth)};
                break;
            } catch (const std::exception& problem) {
                if (attempt > 10) std::cerr << "seed " << seed << ": " << problem.what() << "\n";
            }
        }
    }
    static_assert(std::endian::native == std::endian::little);
    put(bytes, centres.data(), sizeof centres);
    put(bytes, notes.data(), notes.size());
    return bytes;
}

}  // namespace

int main(int argc, char** argv) {
    const shimsight::tools::Options options(argc, argv);
    if (!options.usable()) {
        std::cerr << "usage: make_training_set FOLDER [--seed N] [--count N] [--shard N] [--size WIDTH] [--threads N] "
                     "[--without-gear SHARE] [--shop SHARE] [--wide 1]\n"
                     "Writes FOLDER/shard-*.raw, pictures of WIDTH x 3/4 WIDTH pixels with labels; one shard at a time "
                     "on each thread.\n";
        return 2;
    }
    return shimsight::tools::writeShards(options, "make_training_set", 32, [](const shimsight::tools::Options& given) {
        Plan plan;
        plan.widthPx = static_cast<int>(given.number("--size", 512));
        plan.heightPx = plan.widthPx * 3 / 4;
        plan.wide = given.number("--wide", 0) > 0;
        plan.shop = given.number("--shop", 0);
        plan.withoutGear = given.number("--without-gear", plan.wide ? 0.15 : 0.2);
        return [plan](std::uint64_t seed) { return record(plan, seed); };
    });
}
