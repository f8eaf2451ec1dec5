// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string>
#include <utility>

#include "shimsight/flank_camera.h"
#include "shimsight/outline_geometry.h"
#include "shimsight/teeth.h"
#include "teeth/gear_camera.h"
#include "teeth/looks.h"

namespace shimsight {
namespace {

using namespace teeth;

/// A flank must be seen to this share to be read. Cells at its border are lost, so one that shows to 70 % is often
/// seen to 55 %.
constexpr double kMinSeen = 0.55;
/// Where the common camera agrees, what lies under thick paint or gloss may be missing: the mark reader tells whether
/// the flank shows.
constexpr double kMinSeenByCamera = 0.35;
/// Residual against the common camera (share of the flank) up to which the camera's outline replaces the warp's.
constexpr double kCameraAgrees = 0.08;

/// Teeth repeat: a flank has a neighbour of its side within this many of its lengths, of nearly its length and
/// direction.
constexpr double kNeighbourReach = 1.5, kNeighbourLength = 1.5, kNeighbourTurn = 0.6;
/// Fewest flanks that repeat. A ring gear is seen where two of them agree with one camera and kMinNear come near to
/// it, each on a tooth of its own (all, where there are fewer), or where kManyNear come near to it: paint and gloss put
/// warps off. Things that are no gear give a few patches now and then, but no camera sees a ring gear in them: of 495
/// photos of a workshop, six have patches that repeat, one of those has three near to a camera, and one of these
/// agrees.
constexpr std::size_t kMinFlanks = 2, kMinNear = 3, kManyNear = 5;
constexpr std::ptrdiff_t kMinAgreeing = 2;
/// A flank comes near to the camera when it departs by less than this (share of the flank).
constexpr double kCameraNear = 0.15;
/// Focal length over the photo's long side that a phone may have, cropped and zoomed: a camera beyond sees no gear.
constexpr Interval kSaneFocal{0.15, 6};
/// Where this many agree and the camera leaves no more than this, the camera is surer than any one flank's warp: paint,
/// gloss and shadow bend warps, not the gear.
constexpr std::ptrdiff_t kSureAgreeing = 4;
constexpr double kSureCost = 1.5;
/// Corners by a sure camera on flanks whose own warps say otherwise, one sigma.
constexpr double kSureCameraSigma = 0.04;
/// A tooth that the network missed stands where a sure camera has it, when its neighbour of this side seems painted by
/// at least this (log odds) and its middle lies in the picture. What shows of it is for the mark reader to tell.
constexpr double kPaintedBeside = -0.5;
constexpr double kSeenByCameraAlone = 0.5;
/// A single flank to be read needs this many seen.
constexpr std::size_t kSureFlanks = 4;
/// Where fewer than this share agree with the gear set's own flank, typical ones are tried as well.
constexpr double kPoorAgreement = 0.3;
/// Below this the photo does not say which side is which.
constexpr double kSideSure = 0.8;
/// Two forms of tooth differ by less than this in what their cameras leave.
constexpr double kFarWorseCost = 0.3;
/// How fast the difference of the two cuts' costs turns into certainty, and from where on it speaks for face-milled; a
/// cost beyond kCutPoor, where neither fits well, slows it down (80 rendered photos of both cuts).
constexpr double kCutScale = 14, kCutMiddle = 0.02, kCutPoor = 0.5;
constexpr std::size_t kCutFlanks = 4;
/// The sides' looks tell the hand surely from here on (evidenceFor; the 42 photos of another renderer have 130 and
/// more).
constexpr double kMinHandEvidence = 40;
/// Teeth are counted by so many flanks that come near to the camera.
constexpr std::size_t kCountedFlanks = 6;

/// Side of a flank by the way its corners run. On a right-hand ring gear the coast side's corners, toe-root, toe-tip,
/// heel-tip, heel-root, run clockwise in a picture.
Side sideBy(const Candidate& candidate, Hand hand) {
    const bool clockwise = candidate.warp.orientation() < 0;
    return clockwise == (hand == Hand::Right) ? Side::Coast : Side::Drive;
}

/// What a patch counts as evidence: the root of its area, in units of 2 input pixels, since its cells share their
/// errors.
double evidenceWeight(const Patch& patch) {
    return 0.5 * std::sqrt(kCellArea * static_cast<double>(patch.cells.size()));
}

/// How much the network's classes speak for the hand: + for, in cells.
double evidenceFor(const std::vector<Candidate>& candidates, Hand hand) {
    double sum = 0;
    for (const Candidate& candidate : candidates) {
        const double sign = sideBy(candidate, hand) == Side::Drive ? 1 : -1;
        sum += sign * candidate.patch.convexity * evidenceWeight(candidate.patch);
    }
    return sum;
}

/// The hand that the looks of the sides tell surely.
std::optional<Hand> surelySeenHand(const std::vector<Candidate>& candidates) {
    const double right = evidenceFor(candidates, Hand::Right);
    if (std::abs(right) < kMinHandEvidence) return std::nullopt;
    return right > 0 ? Hand::Right : Hand::Left;
}

struct Shape {
    std::array<flank::FlankGrid, 2> grids;
    Cut cut = Cut::FaceMilled;
    bool toothTurnKnown = false;
};

std::vector<Shape> typicalShapes(Hand hand) {
    std::vector<Shape> shapes;
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed})
        shapes.push_back({flank::typicalGrids(cut, hand), cut, false});
    return shapes;
}

std::vector<WarpedFlank> warpsOf(const std::vector<Candidate>& candidates) {
    std::vector<WarpedFlank> flanks;
    for (const Candidate& candidate : candidates)
        flanks.push_back({&candidate.warp, candidate.region, candidate.side, candidate.outline,
                          evidenceWeight(candidate.patch) * candidate.seenShare});
    return flanks;
}

/// The camera that explains the flanks best, by which shape of tooth, and what each cut leaves at the least.
struct CommonCamera {
    GearCamera fit;
    Shape shape;
    std::array<std::optional<double>, 2> cost;  // milled, hobbed
};

std::optional<CommonCamera> commonCamera(const std::vector<Candidate>& candidates, const std::vector<Shape>& shapes,
                                         const flank::PictureSize& size) {
    const std::vector<WarpedFlank> flanks = warpsOf(candidates);
    std::optional<CommonCamera> best;
    std::array<std::optional<double>, 2> cost;
    const auto weigh = [&](const Shape& shape, std::optional<GearCamera> fit) {
        if (!fit) return;
        std::optional<double>& ofCut = cost[shape.cut == Cut::FaceMilled ? 0 : 1];
        ofCut = std::min(ofCut.value_or(fit->cost), fit->cost);
        if (!best || fit->cost < best->fit.cost) best = CommonCamera{std::move(*fit), shape, {}};
    };
    for (const Shape& shape : shapes) weigh(shape, fitGearCamera(flanks, shape.grids, shape.toothTurnKnown, size));
    if (!best) return std::nullopt;
    // A form that seems far worse may have missed the camera: it gets that of the best one to start from.
    for (const Shape& shape : shapes)
        if (cost[shape.cut == Cut::FaceMilled ? 0 : 1].value_or(1e9) > best->fit.cost + kFarWorseCost) {
            const GearCamera start = best->fit;
            weigh(shape, fitGearCamera(flanks, shape.grids, shape.toothTurnKnown, size, &start));
        }
    best->cost = cost;
    return best;
}

/// From what a milled and a hobbed tooth leave.
double chanceFaceMilled(double milled, double hobbed) {
    const double scale = kCutScale / std::max(1.0, std::min(milled, hobbed) / kCutPoor);
    return 1 / (1 + std::exp(-scale * (hobbed - milled - kCutMiddle)));
}

std::optional<CutEvidence> cutBy(const CommonCamera& camera, std::size_t flanks) {
    const auto& [milled, hobbed] = camera.cost;
    if (!milled || !hobbed || flanks < kCutFlanks) return std::nullopt;
    CutEvidence evidence;
    evidence.chanceFaceMilled = chanceFaceMilled(*milled, *hobbed);
    const double surer = std::max(evidence.chanceFaceMilled, 1 - evidence.chanceFaceMilled);
    evidence.because = message(surer < 0.7                       ? "teeth.cut-open"
                               : evidence.chanceFaceMilled > 0.5 ? "teeth.looks-milled"
                                                                 : "teeth.looks-hobbed");
    return evidence;
}

std::ptrdiff_t agreeing(const GearCamera& fit) {
    return std::count_if(fit.residual.begin(), fit.residual.end(), [](double d) { return d <= kCameraAgrees; });
}

/// Flanks near to the camera, each on a tooth of its own.
std::size_t nearOnes(const std::vector<Candidate>& candidates, const GearCamera& fit) {
    std::vector<std::pair<int, Side>> teeth;
    for (std::size_t k = 0; k < candidates.size(); ++k)
        if (fit.residual[k] < kCameraNear) teeth.emplace_back(fit.tooth[k], candidates[k].side);
    std::sort(teeth.begin(), teeth.end());
    return static_cast<std::size_t>(std::unique(teeth.begin(), teeth.end()) - teeth.begin());
}

bool seesRingGear(const std::vector<Candidate>& candidates, const GearCamera& fit, const flank::PictureSize& size) {
    if (!kSaneFocal.holds(fit.camera.focalPx / std::max(size.width, size.height))) return false;
    const std::size_t near = nearOnes(candidates, fit);
    return near >= kManyNear || (agreeing(fit) >= kMinAgreeing && near >= std::min(kMinNear, candidates.size()));
}

bool inside(const Photo& photo, PixelPoint p, double margin) {
    return p.x > -margin && p.y > -margin && p.x < photo.fullWidth + margin && p.y < photo.fullHeight + margin;
}

bool isSure(const GearCamera& fit) { return agreeing(fit) >= kSureAgreeing && fit.cost < kSureCost; }

void followCamera(Candidate& candidate, const CommonCamera& camera, int tooth, double cornerSigma) {
    Grid grid = flank::projectGridTurned(camera.fit.camera, camera.shape.grids[index(candidate.side)],
                                         tooth * camera.fit.toothTurn);
    if (grid.empty()) return;
    candidate.outline = outlineOf(grid, candidate.side);
    candidate.grid = std::move(grid);
    candidate.source = OutlineSource::Camera;
    candidate.cornerSigma = cornerSigma;
}

/// Replaces outlines by those of the common camera where it agrees with them, or is the surer of the two; drops what is
/// no tooth of this gear, and keeps the best of those that are the same tooth.
void useCamera(std::vector<Candidate>& candidates, const CommonCamera& camera) {
    const bool sure = isSure(camera.fit);
    std::map<std::pair<int, Side>, std::size_t> best;
    for (std::size_t k = 0; k < candidates.size(); ++k) {
        const double residual = camera.fit.residual[k];
        if (sure ? !camera.fit.numbered[k] : residual > kCameraNear) continue;
        const auto [known, isNew] = best.try_emplace({camera.fit.tooth[k], candidates[k].side}, k);
        if (!isNew && residual < camera.fit.residual[known->second]) known->second = k;
    }
    std::vector<Candidate> teeth;
    for (const auto& [tooth, k] : best) {
        const double residual = camera.fit.residual[k];
        if (residual <= kCameraAgrees)
            followCamera(candidates[k], camera, tooth.first, std::max(0.01, 0.7 * residual));
        else if (sure)
            followCamera(candidates[k], camera, tooth.first, kSureCameraSigma);
        candidates[k].tooth = tooth.first;
        teeth.push_back(std::move(candidates[k]));
    }
    candidates = std::move(teeth);
}

/// Teeth that stand between or beside painted ones by a sure camera and that the network did not see, or that are
/// hidden.
std::vector<FoundFlank> missedTeeth(const std::vector<Candidate>& candidates, const CommonCamera& camera,
                                    const Photo& photo) {
    std::vector<FoundFlank> missed;
    if (!isSure(camera.fit)) return missed;
    for (const Side side : kSides) {
        std::map<int, double> painted;  // log odds by tooth
        for (const Candidate& candidate : candidates)
            if (candidate.side == side) painted[candidate.tooth] = candidate.patch.painted;
        if (painted.size() < kMinFlanks) continue;
        const flank::FlankGrid& grid = camera.shape.grids[index(side)];
        for (int tooth = painted.begin()->first - 1; tooth <= painted.rbegin()->first + 1; ++tooth) {
            if (painted.contains(tooth)) continue;
            double beside = kPaintedBeside;
            for (const int next : {tooth - 1, tooth + 1})
                if (const auto known = painted.find(next); known != painted.end())
                    beside = std::max(beside, known->second);
            const double turn = tooth * camera.fit.toothTurn;
            if (beside <= kPaintedBeside || !flank::facesCamera(camera.fit.camera, grid, turn)) continue;
            FoundFlank flank;
            flank.gridPx = flank::projectGridTurned(camera.fit.camera, grid, turn);
            if (flank.gridPx.empty() || !inside(photo, flank.gridPx[flank.gridPx.size() / 2], 0)) continue;
            flank.outline = outlineOf(flank.gridPx, side);
            flank.seenShare = flank.confidence = kSeenByCameraAlone;
            flank.cornerSigma = kSureCameraSigma;
            flank.paintedLogOdds = beside;
            flank.tooth = tooth;
            flank.source = OutlineSource::Camera;
            for (const PixelPoint& p : flank.outline.corners) flank.whole = flank.whole && inside(photo, p, 0);
            missed.push_back(std::move(flank));
        }
    }
    return missed;
}

/// Notes the flanks that have a neighbour like them.
std::vector<bool> repeating(const std::vector<Candidate>& candidates) {
    struct Place {
        PixelPoint middle, along;
        double length = 1;
    };
    std::vector<Place> places;
    for (const Candidate& candidate : candidates) {
        const auto& c = candidate.outline.corners;
        Place place;
        for (const PixelPoint& p : c) place.middle.x += p.x / 4, place.middle.y += p.y / 4;
        place.along = {0.5 * (c[2].x + c[3].x - c[0].x - c[1].x), 0.5 * (c[2].y + c[3].y - c[0].y - c[1].y)};
        place.length = std::max(1e-6, std::hypot(place.along.x, place.along.y));
        places.push_back(place);
    }
    std::vector<bool> out(candidates.size(), false);
    for (std::size_t a = 0; a < candidates.size(); ++a)
        for (std::size_t b = 0; b < candidates.size(); ++b) {
            if (a == b || candidates[a].side != candidates[b].side) continue;
            const Place &p = places[a], &q = places[b];
            const double apart = std::hypot(p.middle.x - q.middle.x, p.middle.y - q.middle.y);
            const double ratio = std::max(p.length, q.length) / std::min(p.length, q.length);
            const double turn = std::abs(std::atan2(p.along.x * q.along.y - p.along.y * q.along.x,
                                                    p.along.x * q.along.x + p.along.y * q.along.y));
            if (apart < kNeighbourReach * std::min(p.length, q.length) && ratio < kNeighbourLength &&
                turn < kNeighbourTurn)
                out[a] = true;
        }
    return out;
}

Refused noTooth() { return {Refusal::NoToothFound, message("teeth.no-teeth"), message("teeth.closer-or-outline")}; }

/// The hand of the gear, as the gear set or else the two sides' looks have it.
struct HandSeen {
    Hand hand = Hand::Right;
    double certainty = 1;
};

HandSeen handOf(const std::vector<Candidate>& candidates, const GearSet* gearSet, std::optional<Side> named) {
    // What is surely seen counts: the gear set may be another one (SetFit tells).
    if (gearSet != nullptr && gearSet->given.hand) return {surelySeenHand(candidates).value_or(gearSet->hand), 1};
    const double right = evidenceFor(candidates, Hand::Right);
    HandSeen seen{right > 0 ? Hand::Right : Hand::Left, 1 / (1 + std::exp(-0.25 * std::abs(right)))};
    if (seen.certainty >= kSideSure || !named) return seen;
    // The side that the user names is the one that most of the picture shows.
    double ofSide = 0;
    for (const Candidate& candidate : candidates)
        ofSide +=
            (sideBy(candidate, Hand::Right) == *named ? 1.0 : -1.0) * static_cast<double>(candidate.patch.cells.size());
    return {ofSide > 0 ? Hand::Right : Hand::Left, 1};
}

Refused sideUnknown() {
    return {Refusal::SideUnknown, message("teeth.sides-alike"), message("teeth.say-side-or-hand")};
}

/// Names the sides and keeps the flanks that repeat: what does not is no tooth.
std::vector<Candidate> teethAmong(std::vector<Candidate> candidates, Hand hand) {
    for (Candidate& candidate : candidates) {
        candidate.side = sideBy(candidate, hand);
        candidate.outline.side = candidate.side;
    }
    const std::vector<bool> repeats = repeating(candidates);
    std::vector<Candidate> teeth;
    for (std::size_t k = 0; k < candidates.size(); ++k)
        if (repeats[k]) teeth.push_back(std::move(candidates[k]));
    return teeth;
}

/// The shapes that the gear set allows, or typical ones.
std::vector<Shape> shapesFor(const GearSet* gearSet, Hand hand) {
    if (gearSet == nullptr) return typicalShapes(hand);
    GearSet turned = *gearSet;
    turned.hand = hand;
    std::vector<Shape> shapes{{flank::gridsOf(turned), turned.cut, true}};
    if (!gearSet->cutKnown)
        for (Shape& typical : typicalShapes(hand)) shapes.push_back(std::move(typical));
    return shapes;
}

/// How the flanks fit the gear set, from the camera that explains them best. `own`: the gear set's grids, turned to the
/// hand of the photo; `byOwn`: that camera is by them.
SetFit setFitOf(const std::vector<Candidate>& candidates, const Shape& own, bool byOwn, const GearCamera& camera,
                Hand hand, const flank::PictureSize& size) {
    SetFit out;
    out.hand = surelySeenHand(candidates);
    const std::vector<WarpedFlank> flanks = warpsOf(candidates);
    const std::optional<GearCamera> fixed =
        byOwn ? std::optional(camera) : fitGearCamera(flanks, own.grids, true, size, &camera);
    if (!fixed) return out;
    std::optional<GearCamera> freest = fitGearCamera(flanks, own.grids, false, size, &camera);
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed}) {
        const std::optional<GearCamera> fit =
            fitGearCamera(flanks, flank::typicalGrids(cut, hand), false, size, &camera);
        if (!fit) continue;
        if (agreeing(*fit) >= kSureAgreeing) out.shapeGain = std::max(out.shapeGain, fixed->cost - fit->cost);
        if (!freest || fit->cost < freest->cost) freest = fit;
    }
    if (freest && agreeing(*freest) >= kSureAgreeing && nearOnes(candidates, *freest) >= kCountedFlanks) {
        out.ringTeeth = 2 * kPi / freest->toothTurn;
        out.countGain = fixed->cost - freest->cost;
    }
    return out;
}

/// One camera for all flanks; nullopt: no ring gear's camera explains them. What it tells besides goes to `found`.
std::optional<CommonCamera> cameraFor(const std::vector<Candidate>& candidates, const Photo& photo,
                                      const GearSet* gearSet, Hand hand, FoundTeeth& found) {
    const flank::PictureSize size = flank::pictureSize(photo);
    const std::vector<Shape> shapes = shapesFor(gearSet, hand);
    std::optional<CommonCamera> camera = commonCamera(candidates, shapes, size);
    if (camera) found.cut = cutBy(*camera, candidates.size());
    if (gearSet != nullptr && (!camera || static_cast<double>(agreeing(camera->fit)) <
                                              kPoorAgreement * static_cast<double>(candidates.size()))) {
        std::optional<CommonCamera> typical = commonCamera(candidates, typicalShapes(hand), size);
        if (typical) found.cut = cutBy(*typical, candidates.size());
        if (typical && (!camera || typical->fit.cost < camera->fit.cost)) camera = std::move(typical);
    }
    if (!camera || !seesRingGear(candidates, camera->fit, size)) return std::nullopt;
    if (gearSet != nullptr)
        found.setFit = setFitOf(candidates, shapes.front(), camera->shape.toothTurnKnown, camera->fit, hand, size);
    return camera;
}

FoundFlank foundFlank(const Candidate& candidate, const Photo& photo, bool placed) {
    FoundFlank flank;
    flank.outline = candidate.outline;
    flank.gridPx = candidate.grid;
    flank.seenShare = candidate.seenShare;
    flank.cornerSigma = candidate.cornerSigma;
    flank.paintedLogOdds = candidate.patch.painted;
    flank.source = candidate.source;
    if (placed) flank.tooth = candidate.tooth;
    flank.confidence = std::clamp(candidate.warp.keptShare() * candidate.seenShare, 0.0, 1.0);
    for (const PixelPoint& p : flank.outline.corners) flank.whole = flank.whole && inside(photo, p, 0);
    return flank;
}

}  // namespace

Outcome<FoundTeeth> findTeeth(const Photo& photo, const GearSet* gearSet, const FindOptions& options) {
    Looked looked = lookTwice(photo);
    if (looked.candidates.size() < kMinFlanks) return noTooth();
    const HandSeen hand = handOf(looked.candidates, gearSet, options.side);
    std::vector<Candidate> candidates = teethAmong(std::move(looked.candidates), hand.hand);
    if (candidates.size() < kMinFlanks) return noTooth();

    FoundTeeth found;
    found.larger = std::move(looked.larger);
    found.sideCertainty = hand.certainty;
    found.hand = surelySeenHand(candidates);
    if (options.useCamera) {
        const std::optional<CommonCamera> camera = cameraFor(candidates, photo, gearSet, hand.hand, found);
        if (!camera) return noTooth();
        useCamera(candidates, *camera);
        for (FoundFlank& flank : missedTeeth(candidates, *camera, photo))
            if (!options.side || flank.outline.side == options.side) found.flanks.push_back(std::move(flank));
    }
    if (hand.certainty < kSideSure) return sideUnknown();

    for (const Candidate& candidate : candidates) {
        if (options.side && candidate.side != *options.side) continue;
        FoundFlank flank = foundFlank(candidate, photo, options.useCamera);
        if (flank.seenShare < (flank.source == OutlineSource::Camera ? kMinSeenByCamera : kMinSeen))
            found.leftOut.push_back(
                {std::move(flank),
                 {Refusal::FlankOutsidePicture, message("teeth.partly-hidden"), message("teeth.turn-gear")}});
        else
            found.flanks.push_back(std::move(flank));
    }
    if (found.flanks.size() < 2 && candidates.size() < kSureFlanks) return noTooth();
    std::stable_sort(found.flanks.begin(), found.flanks.end(),
                     [](const FoundFlank& a, const FoundFlank& b) { return a.confidence > b.confidence; });
    return found;
}

}  // namespace shimsight
