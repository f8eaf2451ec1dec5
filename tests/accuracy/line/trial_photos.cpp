// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "trial_photos.h"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "render/shot.h"
#include "shimsight/files.h"
#include "shimsight/records.h"
#include "training_pictures/training_pictures.h"

namespace shimsight::study {
namespace {

using nlohmann::json;

json pointsOf(const std::vector<PixelPoint>& points) {
    json list = json::array();
    for (const PixelPoint p : points) list.push_back({p.x, p.y});
    return list;
}

std::vector<PixelPoint> pointsFrom(const json& list) {
    std::vector<PixelPoint> points;
    for (const json& p : list) points.push_back({p.at(0).get<double>(), p.at(1).get<double>()});
    return points;
}

void keep(const std::string& stem, const TrialShot& shot) {
    json record{{"what", shot.what}, {"flanks", json::array()}};
    for (const FlankTruth& flank : shot.flanks)
        record["flanks"].push_back({{"side", index(flank.side)},
                                    {"tooth", flank.tooth},
                                    {"state", static_cast<int>(flank.state)},
                                    {"corners", pointsOf({flank.corners.begin(), flank.corners.end()})},
                                    {"grid", pointsOf(flank.grid)},
                                    {"visible", flank.visibleShare}});
    const std::string text = record.dump();
    writeFileAtomically(stem + ".truth.json", std::vector<std::uint8_t>(text.begin(), text.end()));
    writeFileAtomically(stem + ".jpg", shot.jpeg);
}

bool takeKept(const std::string& stem, TrialShot& shot) {
    std::ifstream photo(stem + ".jpg", std::ios::binary), truth(stem + ".truth.json");
    if (!photo || !truth) return false;
    shot.jpeg.assign(std::istreambuf_iterator<char>(photo), {});
    const json record = json::parse(truth);
    shot.what = record.at("what").get<std::string>();
    for (const json& item : record.at("flanks")) {
        FlankTruth flank;
        flank.side = item.at("side") == 0 ? Side::Drive : Side::Coast;
        flank.tooth = item.at("tooth").get<int>();
        flank.state = static_cast<ToothState>(item.at("state").get<int>());
        const auto corners = pointsFrom(item.at("corners"));
        std::copy_n(corners.begin(), 4, flank.corners.begin());
        flank.grid = pointsFrom(item.at("grid"));
        flank.visibleShare = item.at("visible").get<double>();
        shot.flanks.push_back(std::move(flank));
    }
    return true;
}

/// Fills in what the photo shows; its note.
std::string tidyPhoto(const ToothContact& contact, const RenderRequest& request, TrialShot& shot) {
    RenderResult photo = renderPhoto(contact, request);
    shot.jpeg = encodeJpeg(photo.picture, photo.jpegQuality);
    shot.flanks = std::move(photo.flanks);
    return photo.note;
}

std::string shopPhoto(const ToothContact& contact, const RenderRequest& request, TrialShot& shot) {
    const RingFlank drive(contact.gearSet(), contact.blank(), Side::Drive),
        coast(contact.gearSet(), contact.blank(), Side::Coast);
    Random random = Random(request.seed).fork(84);
    render::Scene scene = render::buildScene(contact, drive, coast, request, request.threads);
    const double zoom = std::exp(random.uniform(std::log(0.6), std::log(1.3)));
    scene.camera.focalPx *= zoom;
    scene.camera.lensRadius /= std::sqrt(zoom);
    render::messUp(scene, contact, drive, coast, request, random);
    if (random.chance(0.5)) render::shopLight(scene, random);
    const bool mirrored = contact.gearSet().hand == Hand::Left;
    const render::Shot taken = render::takeShot(scene, request, mirrored, request.threads);
    shot.jpeg = encodeJpeg(taken.picture, taken.jpegQuality);
    shot.flanks = render::flanksSeen(drive, coast, scene, mirrored);
    return scene.note;
}

}  // namespace

GearUnderStudy::GearUnderStudy(const std::string& file)
    : name(file), data(loadGearSet("models/gear-sets/" + file + ".json")), contact(completeGearSet(data)) {}

std::vector<GearUnderStudy> gearsUnderStudy() {
    std::vector<GearUnderStudy> gears;
    for (const char* file : kSetFiles) gears.emplace_back(file);
    return gears;
}

DrawnTrial drawTrialPhotos(const GearUnderStudy& gear, int number, const Drawing& drawing) {
    Random random = Random(drawing.seed).fork(static_cast<std::uint64_t>(number));
    const advice::Prior prior(gear.contact);
    simulated::Trial trial = simulated::drawTrial(gear.contact, prior, {}, random);
    const PasteMarking marking = random.chance(0.7) ? PasteMarking::Wiped : PasteMarking::Transferred;
    const auto scene = static_cast<SceneKind>(random.integer(0, 2));
    const double runoutMm = std::abs(random.normal(0, 0.01));
    std::array<TrialShot, 2> shots;
    for (const Side side : kSides) {
        RenderRequest request;
        request.error = trial.truth.error;
        request.modification = trial.truth.modification;
        request.filmMm = trial.truth.filmMm;
        request.faced = side;
        request.scene = scene;
        request.marking = marking;
        request.widthPx = drawing.widthPx;
        request.heightPx = drawing.widthPx * 3 / 4;
        request.paintedTeeth = random.integer(2, 5);
        request.toothToToothMm = runoutMm;
        request.samplesPerPixel = drawing.samplesPerPixel;
        request.threads = 1;
        request.seed = random.bits();
        TrialShot& shot = shots[index(side)];
        shot.faced = side;
        std::string stem;
        if (!drawing.keepFolder.empty()) {
            std::filesystem::create_directories(drawing.keepFolder);
            stem = drawing.keepFolder + "/" + std::to_string(drawing.seed) + "-" + std::to_string(number) + "-" +
                   std::to_string(drawing.widthPx) + (side == Side::Drive ? "-drive" : "-coast");
        }
        if (!stem.empty() && takeKept(stem, shot)) continue;
        std::string note = drawing.looks == Looks::Shop ? shopPhoto(gear.contact, request, shot)
                                                        : tidyPhoto(gear.contact, request, shot);
        shot.what = std::string(shimsight::name(scene)) + "/" +
                    (marking == PasteMarking::Wiped ? "wiped" : "transferred") + " " + note;
        if (!stem.empty()) keep(stem, shot);
    }
    return {std::move(trial), std::move(shots), random};
}

}  // namespace shimsight::study
