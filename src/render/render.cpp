// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/render.h"

#include <Eigen/Geometry>
#include <algorithm>

#include "render/develop.h"
#include "render/scene.h"
#include "render/shot.h"
#include "render/tracer.h"

namespace shimsight {
namespace {

constexpr int kMinSidePx = 64, kMaxSidePx = 6000;  // below nothing is seen; above minutes and gigabytes
constexpr int kMaxSamples = 4096;
constexpr double kMaxVariety = 2;
constexpr double kWorthListing = 0.05;  ///< flanks of which less is seen are left out of the truth

void refuse(bool bad, const Message& sentence) {
    if (bad) throw InputError(sentence);
}

void checkRequest(const RenderRequest& r) {
    refuse(r.widthPx < kMinSidePx || r.heightPx < kMinSidePx || r.widthPx > kMaxSidePx || r.heightPx > kMaxSidePx,
           message("render.size-range", kMinSidePx, kMaxSidePx));
    refuse(r.samplesPerPixel < 1 || r.samplesPerPixel > kMaxSamples, message("render.samples-range", kMaxSamples));
    refuse(!(r.variety >= 0 && r.variety <= kMaxVariety), message("render.variety-range"));
    refuse(r.paintedTeeth < 0, message("render.teeth-range"));
    refuse(!(r.filmMm > 0) || !std::isfinite(r.filmMm), message("render.film-range"));
    refuse(!std::isfinite(r.toothToToothMm), message("render.runout-range"));
    if (!r.colour.empty()) {
        const auto names = pasteColourNames();
        if (std::find(names.begin(), names.end(), r.colour) == names.end()) {
            std::string known;
            for (const std::string& name : names) known += (known.empty() ? "" : ", ") + name;
            throw InputError(message("render.no-such-colour", r.colour, known));
        }
    }
}

/// Share of the grid's points that face the camera, are not hidden and lie inside the picture. Border points stand for
/// less of the area than inner ones.
FlankTruth seenFlank(const RingFlank& flank, int tooth, const render::Scene& scene, bool mirrored) {
    FlankTruth truth;
    truth.side = flank.side();
    truth.tooth = tooth;
    truth.state = scene.states[static_cast<std::size_t>(tooth)];
    const render::Camera& camera = scene.camera;
    const auto seen = [&](double u, double v, PixelPoint& pixel) {
        const Eigen::Vector3d point = render::flankPosition(flank, u, v, tooth, scene);
        const auto projected = camera.project(point);
        if (!projected) return false;
        pixel = {mirrored ? camera.widthPx - projected->x() : projected->x(), projected->y()};
        return true;
    };
    double share = 0, whole = 0;
    bool complete = true;
    for (int j = 0; j < kTruthRows; ++j) {
        for (int i = 0; i < kTruthColumns; ++i) {
            const double u = static_cast<double>(i) / (kTruthColumns - 1),
                         v = 1 - static_cast<double>(j) / (kTruthRows - 1);
            PixelPoint pixel;
            complete = seen(u, v, pixel) && complete;
            truth.grid.push_back(pixel);
            const double weight =
                (i == 0 || i == kTruthColumns - 1 ? 0.5 : 1.0) * (j == 0 || j == kTruthRows - 1 ? 0.5 : 1.0);
            whole += weight;
            if (!complete) continue;
            // A hair inside the border, so that the tooth's own edges do not hide it.
            const double ui = std::clamp(u, 0.004, 0.996), vi = std::clamp(v, 0.01, 0.985);
            const Eigen::Vector3d point = render::flankPosition(flank, ui, vi, tooth, scene);
            const Eigen::Vector3d step = 1e-3 * (camera.origin - point).normalized();
            const Eigen::Vector3d du = render::flankPosition(flank, std::min(ui + 1e-3, 1.0), vi, tooth, scene) - point;
            const Eigen::Vector3d dv = render::flankPosition(flank, ui, std::min(vi + 1e-3, 1.0), tooth, scene) - point;
            Eigen::Vector3d normal = du.cross(dv).normalized();
            if (flank.side() == Side::Drive) normal = -normal;
            (void)step;
            const Eigen::Vector3d start = point + 0.03 * normal, to = camera.origin - start;
            const bool inside = pixel.x >= 0 && pixel.y >= 0 && pixel.x <= camera.widthPx && pixel.y <= camera.heightPx;
            if (inside && normal.dot(to) > 0 &&
                !scene.world->blocked(render::toVec(start), render::toVec(to.normalized()),
                                      static_cast<float>(to.norm()))) {
                share += weight;
            }
        }
    }
    truth.visibleShare = complete ? share / whole : 0;
    if (!complete) return truth;
    const auto at = [&](int i, int j) { return truth.grid[static_cast<std::size_t>(j * kTruthColumns + i)]; };
    truth.corners = {at(0, kTruthRows - 1), at(0, 0), at(kTruthColumns - 1, 0), at(kTruthColumns - 1, kTruthRows - 1)};
    for (int i = 0; i < kTruthColumns; i += 2) {
        truth.rootEdge.push_back(at(i, kTruthRows - 1));
        truth.tipEdge.push_back(at(i, 0));
    }
    return truth;
}

}  // namespace

std::string_view name(SceneKind scene) {
    switch (scene) {
        case SceneKind::Bench:
            return "bench";
        case SceneKind::CarrierOnStand:
            return "stand";
        case SceneKind::OpenedAxle:
            return "axle";
    }
    return "";
}

std::string_view name(ToothState state) {
    switch (state) {
        case ToothState::Bare:
            return "bare";
        case ToothState::Rolled:
            return "rolled";
        case ToothState::NotRolled:
            return "not-rolled";
    }
    return "";
}

std::vector<std::string> pasteColourNames() {
    std::vector<std::string> names;
    for (const auto& colour : render::pasteColours()) names.push_back(colour.name);
    return names;
}

render::Shot render::takeShot(const Scene& scene, const RenderRequest& request, bool mirrored, int threads) {
    Shot shot;
    const Radiance light =
        trace(*scene.world, scene.looks, scene.camera, request.samplesPerPixel, request.seed, threads);

    Random camera = Random(request.seed).fork(7);
    Sensor sensor = drawSensor(camera, request.variety);
    sensor.mirrored = mirrored;
    // The phone takes most of the lamp's colour out, not all of it.
    const double balance = camera.uniform(0.7, 1.0);
    const double drift = 0.05 * request.variety;
    const auto undo = [&](float lamp) {
        return static_cast<float>(std::pow(1.0 / static_cast<double>(lamp), balance) *
                                  std::exp(drift * std::clamp(camera.normal(), -2.0, 2.0)));
    };
    sensor.whiteBalance.x = undo(scene.lampColour.x);
    sensor.whiteBalance.y = undo(scene.lampColour.y);
    sensor.whiteBalance.z = undo(scene.lampColour.z);
    if (request.scene == SceneKind::OpenedAxle) sensor.noise *= 1.8;
    shot.picture = develop(light, sensor, request.seed);
    shot.jpegQuality = static_cast<int>(std::lround(std::clamp(camera.normal(90, 4 * request.variety), 70.0, 97.0)));
    return shot;
}

std::vector<FlankTruth> render::flanksSeen(const RingFlank& drive, const RingFlank& coast, const Scene& scene,
                                           bool mirrored) {
    std::vector<FlankTruth> flanks;
    for (int tooth = 0; tooth < scene.shape.teeth; ++tooth)
        for (const RingFlank* flank : {&drive, &coast}) {
            FlankTruth truth = seenFlank(*flank, tooth, scene, mirrored);
            if (truth.visibleShare > kWorthListing) flanks.push_back(std::move(truth));
        }
    return flanks;
}

RenderResult renderPhoto(const ToothContact& contact, const RenderRequest& request) {
    checkRequest(request);
    const RingFlank drive(contact.gearSet(), contact.blank(), Side::Drive),
        coast(contact.gearSet(), contact.blank(), Side::Coast);
    const int threads = render::threadCount(request.threads);
    const render::Scene scene = render::buildScene(contact, drive, coast, request, threads);

    // A left-hand gear set is the mirror image of a right-hand one, and so is its photo.
    const bool mirrored = contact.gearSet().hand == Hand::Left;
    RenderResult result;
    result.request = request;
    result.note = scene.note;
    for (const Side side : kSides) {
        result.trueMap[index(side)] =
            contact.predictMap(side, request.error, request.modification[index(side)], request.filmMm);
    }
    render::Shot shot = render::takeShot(scene, request, mirrored, threads);
    result.picture = std::move(shot.picture);
    result.jpegQuality = shot.jpegQuality;

    result.flanks = render::flanksSeen(drive, coast, scene, mirrored);
    return result;
}

}  // namespace shimsight
