// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Rectified rendered flanks with the truth of each place, in raw shards for tools/train. Run without arguments for its
// usage.
#include <iostream>

#include "render/shot.h"
#include "shards.h"
#include "shimsight/rectified_flank.h"
#include "shimsight/render.h"
#include "training_pictures/training_pictures.h"

namespace {

using namespace shimsight;
using namespace shimsight::flank;

// One flank in a shard, byte after byte (see tools/train/marks_data.py): rgb 3 x 96 x 192 interleaved; then planes of
// 48 x 96 bytes: contact (0..255); compound (share that it hides, 0..255); seen (1: this flank shows here); u; v; then
// 16 bytes of notes: state (0 bare, 1 not rolled, 2 wiped, 3 transferred), side, cut, seen share in percent.
// u and v are written as byte = (value + 0.3) / 1.6 * 255.
constexpr int kNotes = 16;

struct Plan {
    int widthPx = 640;
    double shop = 0;     ///< share of the pictures with paint as shops have it
    bool plain = false;  ///< validation: the renderer's own style, as in the accuracy studies
};

/// u and v in the shard.
std::uint8_t placeByte(float value) { return tools::coordByte(value, 0.3f); }

bool drawSetData(Random& random, GearSetData& data) {
    data.pinionTeeth = random.integer(8, 15);
    data.ringTeeth = random.integer(32, 47);
    const double ratio = static_cast<double>(data.ringTeeth) / data.pinionTeeth;
    if (ratio < 2.4 || ratio > 5.6) return false;
    data.ringGearDiameterMm = std::exp(random.uniform(std::log(140.0), std::log(420.0)));
    data.offsetMm = random.chance(0.25) ? 0 : random.uniform(0.05, 0.2) * data.ringGearDiameterMm;
    data.cut = random.chance(0.5) ? Cut::FaceMilled : Cut::FaceHobbed;
    data.hand = random.chance(0.5) ? Hand::Left : Hand::Right;
    if (random.chance(0.5)) data.faceWidthMm = random.uniform(0.125, 0.175) * data.ringGearDiameterMm;
    return true;
}

GearSet drawGearSet(Random& random) {
    return tools::drawnGearSet([&](GearSetData& data) { return drawSetData(random, data); },
                               [](const RingFlank& drive, const RingFlank& coast) {
                                   for (const double u : {-0.1, 0.5, 1.1})
                                       for (const double v : {0.0, 1.0}) (void)drive.at(u, v), (void)coast.at(u, v);
                               });
}

RenderRequest drawRequest(Random& random, const Plan& plan, const GearSet& gearSet) {
    RenderRequest request;
    request.widthPx = plan.widthPx;
    request.heightPx = plan.widthPx * 3 / 4;
    request.threads = 1;
    request.modification = gearSet.modification;
    for (Modification& m : request.modification) {
        m.lengthCrownUm *= std::exp(random.normal(0, 0.5));
        m.profileCrownUm *= std::exp(random.normal(0, 0.5));
        m.biasUm += random.normal(0, 0.25) * std::sqrt(m.lengthCrownUm * m.profileCrownUm);
        m.lengthShift += random.normal(0, 0.06);
        m.profileShift += random.normal(0, 0.05);
    }
    request.error.depthMm = random.normal(0, 0.2);
    request.error.ringMm = random.normal(0, 0.1);
    request.error.offsetMm = random.normal(0, 0.02);
    request.filmMm = kFilmMm * std::exp(random.normal(0, 0.4));
    request.faced = random.chance(0.5) ? Side::Drive : Side::Coast;
    request.scene = static_cast<SceneKind>(random.integer(0, 2));
    request.marking = random.chance(0.6) ? PasteMarking::Wiped : PasteMarking::Transferred;
    request.paintedTeeth = random.integer(3, 8);
    request.toothToToothMm = random.chance(0.3) ? random.uniform(0, 0.06) : 0;
    request.variety = plan.plain ? 1 : random.uniform(0.2, 2);
    request.samplesPerPixel = random.integer(2, 5);
    const auto names = pasteColourNames();
    if (random.chance(0.6))
        request.colour = names[static_cast<std::size_t>(random.integer(0, static_cast<int>(names.size()) - 1))];
    request.seed = random.bits();
    return request;
}

/// How an outline may be off: true (u, v) of a nominal one.
struct Slip {
    double shiftU, shiftV, stretchU, stretchV, slant;
    double u(double nu) const { return 0.5 + shiftU + stretchU * (nu - 0.5); }
    double v(double nu, double nv) const { return 0.5 + shiftV + stretchV * (nv - 0.5) + slant * (nu - 0.5); }
};

Slip drawSlip(Random& random) {
    const double size = random.chance(0.2) ? 2 : random.uniform(0.2, 1.1);
    return {random.normal(0, 0.018 * size), random.normal(0, 0.04 * size), 1 + random.normal(0, 0.02 * size),
            1 + random.normal(0, 0.05 * size), random.normal(0, 0.04 * size)};
}

/// One rendered picture with what shows where.
struct Rendered {
    const render::Scene& scene;
    const Picture& picture;
    const LabelPicture& labels;
    bool mirrored = false;
    PasteMarking marking = PasteMarking::Wiped;
};
/// The flank's record, or nothing when too little of it shows.
std::string recordOf(const RingFlank& ring, int tooth, const Rendered& rendered, Random& random) {
    const auto& [scene, picture, labels, mirrored, marking] = rendered;
    const Slip slip = drawSlip(random);
    std::vector<PixelPoint> grid;
    for (int row = 0; row < kFlankGridV; ++row)
        for (int i = 0; i < kFlankGridU; ++i) {
            const double u = i / double(kFlankGridU - 1), v = 1 - row / double(kFlankGridV - 1);
            const auto seen = scene.camera.project(
                render::flankPosition(ring, slip.u(u), std::clamp(slip.v(u, v), -0.15, 1.15), tooth, scene));
            if (!seen) return {};
            grid.push_back({mirrored ? scene.camera.widthPx - seen->x() : seen->x(), seen->y()});
        }
    const auto at = [&](int i, int row) { return grid[static_cast<std::size_t>(row * kFlankGridU + i)]; };
    const PixelPoint toe = at(0, kFlankGridV / 2), heel = at(kFlankGridU - 1, kFlankGridV / 2),
                     root = at(kFlankGridU / 2, kFlankGridV - 1), tip = at(kFlankGridU / 2, 0);
    const double length = std::hypot(heel.x - toe.x, heel.y - toe.y);
    const double height = std::abs((tip.x - root.x) * (heel.y - toe.y) - (tip.y - root.y) * (heel.x - toe.x)) / length;
    if (length < 50 || height < 12) return {};

    const auto k = static_cast<std::size_t>(tooth);
    const PixelClass kind = ring.side() == Side::Drive ? PixelClass::Convex : PixelClass::Concave;
    const auto& layer = scene.looks.layer[k][index(ring.side())];
    const auto& mark = scene.marks[k][index(ring.side())];
    const ToothState state = scene.states[k];
    std::string contact, compound, seen, us, vs;
    int shown = 0;
    for (int y = 0; y < kCellRows; ++y)
        for (int x = 0; x < kCellColumns; ++x) {
            const PixelPoint p = placeOnGrid(grid, uAt(x + 0.5, kCellColumns), vAt(y + 0.5, kCellRows));
            const int i = static_cast<int>(std::floor(p.x)), j = static_cast<int>(std::floor(p.y));
            bool here = i >= 0 && j >= 0 && i < labels.width && j < labels.height;
            const std::size_t pixel = here ? static_cast<std::size_t>(j) * static_cast<std::size_t>(labels.width) +
                                                 static_cast<std::size_t>(i)
                                           : 0;
            here = here && labels.kind[pixel] == kind && labels.tooth[pixel] == tooth;
            // What hides behind another tooth or lies outside the picture has its place and its contact all the same.
            const double nominalU = uAt(x + 0.5, kCellColumns), nominalV = vAt(y + 0.5, kCellRows);
            const auto u = here ? labels.u[pixel] : static_cast<float>(slip.u(nominalU)),
                       v = here ? labels.v[pixel] : static_cast<float>(slip.v(nominalU, nominalV));
            const bool working = u >= 0 && u <= 1 && v >= 0 && v <= 1;
            const bool inside = here && working;
            shown += inside;
            std::uint8_t c = 0, paste = 0;
            if (mark && state == ToothState::Rolled && working)
                c = mark->at(std::min(kMapWidth - 1, static_cast<int>(u * kMapWidth)),
                             std::min(kMapHeight - 1, static_cast<int>((1 - v) * kMapHeight)));
            if (here && layer)
                paste = static_cast<std::uint8_t>(
                    255 * (1 - std::exp(-layer->at(u, v).thicknessUm / scene.looks.paste.colour.hidingUm)));
            contact.push_back(static_cast<char>(c));
            compound.push_back(static_cast<char>(paste));
            seen.push_back(static_cast<char>(inside ? 2 : here ? 1 : 0));
            us.push_back(static_cast<char>(placeByte(u)));
            vs.push_back(static_cast<char>(placeByte(v)));
        }
    const double share = shown / (kCellColumns * kCellRows / ((kHighU - kLowU) * (kHighV - kLowV)));
    if (share < 0.55) return {};
    std::array<std::uint8_t, kNotes> notes{};
    notes[0] = static_cast<std::uint8_t>(state == ToothState::Bare        ? 0
                                         : state == ToothState::NotRolled ? 1
                                         : marking == PasteMarking::Wiped ? 2
                                                                          : 3);
    notes[1] = static_cast<std::uint8_t>(ring.side());
    notes[2] = static_cast<std::uint8_t>(ring.gearSet().cut);
    notes[3] = static_cast<std::uint8_t>(std::lround(100 * std::min(1.0, share)));
    notes[4] = static_cast<std::uint8_t>(std::min(255.0, length / 4));
    notes[5] = static_cast<std::uint8_t>(std::min(255.0, height / 2));
    const Picture laid = rectifyWithBorder(picture, grid);
    std::string bytes(laid.rgb.begin(), laid.rgb.end());
    bytes += contact + compound + seen + us + vs;
    bytes.append(reinterpret_cast<const char*>(notes.data()), notes.size());
    return bytes;
}

std::string recordsOf(const Plan& plan, std::uint64_t seed) {
    Random random = Random(seed).fork(plan.plain ? 82 : 81);
    Random style = Random(seed).fork(83);
    for (int attempt = 0; attempt < 20; ++attempt) {
        try {
            const ToothContact contact(drawGearSet(random));
            const RenderRequest request = drawRequest(random, plan, contact.gearSet());
            const RingFlank drive(contact.gearSet(), contact.blank(), Side::Drive),
                coast(contact.gearSet(), contact.blank(), Side::Coast);
            render::Scene scene = render::buildScene(contact, drive, coast, request, 1);
            const double zoom = std::exp(random.uniform(plan.shop > 0 ? std::log(0.6) : 0.0, std::log(2.0)));
            scene.camera.focalPx *= zoom;
            scene.camera.lensRadius /= std::sqrt(zoom);
            Random shop = Random(seed).fork(84);
            const bool isShop = shop.chance(plan.shop);
            if (isShop) render::messUp(scene, contact, drive, coast, request, shop);
            if (!plan.plain && style.chance(isShop ? 0.4 : 0.6)) render::restyle(scene, style);
            if (isShop && shop.chance(0.35)) render::shopLight(scene, shop);
            const bool mirrored = contact.gearSet().hand == Hand::Left;
            const LabelPicture labels = render::labelScene(drive, coast, scene, mirrored, 1);
            const Picture picture = render::takeShot(scene, request, mirrored, 1).picture;
            std::string bytes;
            int bare = 0;
            for (int tooth = 0; tooth < scene.shape.teeth; ++tooth)
                for (const RingFlank* ring : {&drive, &coast}) {
                    const bool isBare = scene.states[static_cast<std::size_t>(tooth)] == ToothState::Bare;
                    if (isBare && bare >= 2) continue;
                    const std::string one =
                        recordOf(*ring, tooth, {scene, picture, labels, mirrored, request.marking}, random);
                    bare += isBare && !one.empty();
                    bytes += one;
                }
            return bytes;
        } catch (const std::exception& problem) {
            if (attempt > 10) std::cerr << "seed " << seed << ": " << problem.what() << "\n";
        }
    }
    return {};
}

}  // namespace

int main(int argc, char** argv) {
    const shimsight::tools::Options options(argc, argv);
    if (!options.usable()) {
        std::cerr << "usage: make_mark_set FOLDER [--seed N] [--count N] [--shard N] [--size WIDTH] [--threads N] "
                     "[--plain 1] [--shop SHARE]\n"
                     "Writes FOLDER/shard-*.raw: the rectified flanks of COUNT rendered photos, with the truth.\n";
        return 2;
    }
    return shimsight::tools::writeShards(options, "make_mark_set", 16, [](const shimsight::tools::Options& given) {
        Plan plan;
        plan.widthPx = static_cast<int>(given.number("--size", 640));
        plan.plain = given.number("--plain", 0) > 0;
        plan.shop = given.number("--shop", 0);
        return [plan](std::uint64_t seed) { return recordsOf(plan, seed); };
    });
}
