#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "flank/camera_fit.h"
#include "flank/warp.h"
#include "shimsight/teeth.h"
#include "teeth/flank_warp.h"
#include "teeth/gear_camera.h"
#include "teeth/network.h"
#include "teeth/patches.h"

namespace shimsight {
namespace {

using namespace teeth;

/// Of the photo's cells; below, no gear is in sight (rendered pictures without one stay below in all but 1 of 50).
constexpr int kFewestCells = 10;
/// A flank whose cells agree with its own warp this little is not one.
constexpr double kLeastKept = 0.6;
constexpr double kWorstResidual = 0.20;
/// Outlines by points along the edges.
constexpr int kEdgePoints = 9;
/// A flank must be seen to this share to be read. Cells at its border are lost, so one that shows to 70 % is often
/// seen to 55 %.
constexpr double kLeastSeen = 0.55;
/// Departure from the common camera (share of the flank) up to which the camera's outline replaces the warp's.
constexpr double kCameraAgrees = 0.08;

using Grid = std::vector<PixelPoint>;  // kUnwrapGridU x kUnwrapGridV, row-major from the tip, toe first

/// Where flanks show on fewer cells than this (median), the part of the photo with the teeth is looked at again,
/// enlarged, if that makes it at least this much larger. The network's errors halve from 25 to 100 cells (its card).
constexpr double kEnoughCells = 38, kLeastZoom = 1.4;
constexpr double kCropMargin = 0.08;
/// Teeth repeat: a flank has a neighbour of its side within this many of its lengths, of nearly its length and
/// direction.
constexpr double kNeighbourReach = 1.5, kNeighbourLength = 1.5, kNeighbourTurn = 0.6;
/// Fewest flanks that repeat, and fewest that agree with one camera: things that are no gear give a few patches now and
/// then, but no camera sees a ring gear in them. (Of 760 rendered photos with a gear, all had more than kSureFlanks
/// flanks, and two or more of them agreed with a typical gear's camera.) A single flank to be read needs kSureFlanks.
constexpr std::size_t kFewestFlanks = 2, kSureFlanks = 4;
constexpr std::ptrdiff_t kFewestAgreeing = 2;
/// Where fewer than this share agree with the gear set's own flank, typical ones are tried as well.
constexpr double kPoorAgreement = 0.3;
/// Below this the photo does not say which side is which.
constexpr double kSideSure = 0.8;
/// Two forms of tooth differ by less than this in what their cameras leave.
constexpr double kMissedCamera = 0.3;
/// How fast the difference of the two cuts' costs turns into certainty, and from where on it speaks for face-milled; a
/// cost beyond kCutPoor, where neither fits well, slows it down (80 rendered photos of both cuts).
constexpr double kCutScale = 14, kCutMiddle = 0.02, kCutPoor = 0.5;
constexpr std::size_t kCutFlanks = 4;

/// A flank on its way from patch to outline.
struct Candidate {
    Patch patch;
    FlankWarp warp;
    Region region;
    Grid grid;
    FlankOutline outline;
    Side side = Side::Drive;
    double seenShare = 0, cornerSigma = 0.1;
    OutlineSource source = OutlineSource::Warp;
};

/// The grid of the flank by its warp; empty where the warp does not reach.
Grid gridBy(const FlankWarp& warp, const Region& region) {
    // Few nodes and straight lines between: the warp is of second degree, a sixteenth of the flank departs by nothing.
    constexpr int kStep = 2;
    Grid grid(static_cast<std::size_t>(kUnwrapGridU) * kUnwrapGridV);
    const auto node = [&](int i, int row) -> PixelPoint& {
        return grid[static_cast<std::size_t>(row * kUnwrapGridU + i)];
    };
    for (int row = 0; row < kUnwrapGridV; row += kStep)
        for (int i = 0; i < kUnwrapGridU; i += kStep) {
            const auto p = warp.at(i / double(kUnwrapGridU - 1), 1 - row / double(kUnwrapGridV - 1));
            if (!p) return {};
            node(i, row) = region.toPhoto(p->x, p->y);
        }
    const auto between = [](PixelPoint a, PixelPoint b) { return PixelPoint{0.5 * (a.x + b.x), 0.5 * (a.y + b.y)}; };
    for (int row = 0; row < kUnwrapGridV; row += kStep)
        for (int i = 1; i < kUnwrapGridU; i += kStep) node(i, row) = between(node(i - 1, row), node(i + 1, row));
    for (int row = 1; row < kUnwrapGridV; row += kStep)
        for (int i = 0; i < kUnwrapGridU; ++i) node(i, row) = between(node(i, row - 1), node(i, row + 1));
    return grid;
}

/// Corners and kEdgePoints - 2 points along root and tip, from the grid.
FlankOutline outlineOf(const Grid& grid, Side side) {
    const auto at = [&](int i, int row) { return grid[static_cast<std::size_t>(row * kUnwrapGridU + i)]; };
    constexpr int kRight = kUnwrapGridU - 1, kBottom = kUnwrapGridV - 1;
    FlankOutline outline;
    outline.side = side;
    outline.corners = {at(0, kBottom), at(0, 0), at(kRight, 0), at(kRight, kBottom)};
    for (int k = 1; k + 1 < kEdgePoints; ++k) {
        const int i = k * kRight / (kEdgePoints - 1);
        outline.rootEdge.push_back(at(i, kBottom));
        outline.tipEdge.push_back(at(i, 0));
    }
    return outline;
}

double polygonArea(const FlankOutline& outline) {
    std::vector<PixelPoint> path{outline.corners[0]};
    path.push_back(outline.corners[1]);
    path.insert(path.end(), outline.tipEdge.begin(), outline.tipEdge.end());
    path.push_back(outline.corners[2]);
    path.push_back(outline.corners[3]);
    path.insert(path.end(), outline.rootEdge.rbegin(), outline.rootEdge.rend());
    double sum = 0;
    for (std::size_t k = 0; k < path.size(); ++k) {
        const PixelPoint a = path[k], b = path[(k + 1) % path.size()];
        sum += a.x * b.y - b.x * a.y;
    }
    return 0.5 * std::abs(sum);
}

/// Share of the flank's area whose cells were seen.
double seenShareOf(const Candidate& candidate) {
    std::size_t inside = 0;
    for (const FlankCell& cell : candidate.patch.cells) {
        const Eigen::Vector2d uv = candidate.warp.uvAt(cell.x, cell.y);
        inside += uv.x() > -0.03 && uv.x() < 1.03 && uv.y() > -0.06 && uv.y() < 1.06;
    }
    const double cellArea = kCellArea / (candidate.region.scale * candidate.region.scale);
    return std::min(1.0, static_cast<double>(inside) * cellArea / std::max(1.0, polygonArea(candidate.outline)));
}

std::vector<Candidate> candidatesIn(const Seen& seen) {
    std::vector<Candidate> out;
    for (Patch& patch : partIntoFlanks(seen.cells)) {
        const auto warp = FlankWarp::fit(patch.cells);
        if (!warp || warp->keptShare() < kLeastKept || warp->residual() > kWorstResidual) continue;
        Grid grid = gridBy(*warp, seen.region);
        if (grid.empty()) continue;
        FlankOutline outline = outlineOf(grid, Side::Drive);
        Candidate candidate{std::move(patch), *warp, seen.region, std::move(grid),    std::move(outline),
                            Side::Drive,      0,     0.1,         OutlineSource::Warp};
        candidate.seenShare = seenShareOf(candidate);
        out.push_back(std::move(candidate));
    }
    return out;
}

/// Side of a flank by the way its corners run. On a right-hand ring gear the coast side's corners, toe-root, toe-tip,
/// heel-tip, heel-root, run clockwise in a picture.
Side sideBy(const Candidate& candidate, Hand hand) {
    const bool clockwise = candidate.warp.orientation() < 0;
    return clockwise == (hand == Hand::Right) ? Side::Coast : Side::Drive;
}

/// What a patch's word counts: the root of its area, in units of 2 input pixels, since its cells share their errors.
double wordOf(const Patch& patch) { return 0.5 * std::sqrt(kCellArea * static_cast<double>(patch.cells.size())); }

/// How much the network's classes speak for the hand: + for, in cells.
double supportFor(const std::vector<Candidate>& candidates, Hand hand) {
    double sum = 0;
    for (const Candidate& candidate : candidates) {
        const double sign = sideBy(candidate, hand) == Side::Drive ? 1 : -1;
        sum += sign * candidate.patch.convexity * wordOf(candidate.patch);
    }
    return sum;
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

/// Replaces outlines by those of a common camera where it agrees with them.
void useCommonCamera(std::vector<Candidate>& candidates, const std::vector<Shape>& shapes, const Photo& photo,
                     std::optional<CutEvidence>& cut) {
    std::vector<WarpedFlank> flanks;
    for (const Candidate& candidate : candidates)
        flanks.push_back({&candidate.warp, candidate.region, candidate.side, candidate.outline,
                          wordOf(candidate.patch) * candidate.seenShare});
    const flank::PictureSize size = flank::pictureSize(photo);
    std::optional<GearCamera> best;
    const Shape* bestShape = nullptr;
    std::array<double, 2> cost{1e9, 1e9};  // milled, hobbed
    const auto weigh = [&](const Shape& shape, std::optional<GearCamera> fit) {
        if (!fit) return;
        double& ofCut = cost[shape.cut == Cut::FaceMilled ? 0 : 1];
        ofCut = std::min(ofCut, fit->cost);
        if (!best || fit->cost < best->cost) best = std::move(fit), bestShape = &shape;
    };
    for (const Shape& shape : shapes) weigh(shape, fitGearCamera(flanks, shape.grids, shape.toothTurnKnown, size));
    if (!best) return;
    // A form that seems far worse may have missed the camera: it gets that of the best one to start from.
    for (const Shape& shape : shapes)
        if (cost[shape.cut == Cut::FaceMilled ? 0 : 1] > best->cost + kMissedCamera) {
            const GearCamera start = *best;
            weigh(shape, fitGearCamera(flanks, shape.grids, shape.toothTurnKnown, size, &start));
        }
    if (cost[0] < 1e8 && cost[1] < 1e8 && candidates.size() >= kCutFlanks) {
        CutEvidence evidence;
        const double scale = kCutScale / std::max(1.0, std::min(cost[0], cost[1]) / kCutPoor);
        evidence.chanceFaceMilled = 1 / (1 + std::exp(-scale * (cost[1] - cost[0] - kCutMiddle)));
        const double surer = std::max(evidence.chanceFaceMilled, 1 - evidence.chanceFaceMilled);
        evidence.because = surer < 0.7 ? "The teeth in the photo fit tapered and even height about equally well."
                           : evidence.chanceFaceMilled > 0.5
                               ? "The teeth in the photo get lower toward the toe, as face-milled ones do."
                               : "The teeth in the photo keep their height from toe to heel, as face-hobbed ones do.";
        cut = evidence;
    }
    for (std::size_t k = 0; k < candidates.size(); ++k) {
        if (best->departure[k] > kCameraAgrees) continue;
        Grid grid = flank::projectGridTurned(best->camera, bestShape->grids[index(candidates[k].side)],
                                             best->tooth[k] * best->toothTurn);
        if (grid.empty()) continue;
        candidates[k].outline = outlineOf(grid, candidates[k].side);
        candidates[k].grid = std::move(grid);
        candidates[k].source = OutlineSource::Camera;
        candidates[k].cornerSigma = std::max(0.01, 0.7 * best->departure[k]);
    }
}

std::ptrdiff_t agreeing(const std::vector<Candidate>& candidates) {
    return std::count_if(candidates.begin(), candidates.end(),
                         [](const Candidate& candidate) { return candidate.source == OutlineSource::Camera; });
}

bool inside(const Photo& photo, PixelPoint p, double margin) {
    return p.x > -margin && p.y > -margin && p.x < photo.fullWidth + margin && p.y < photo.fullHeight + margin;
}

/// The teeth again, enlarged, where they are small in the photo.
std::vector<Candidate> lookCloser(const Photo& photo, const Seen& seen, std::vector<Candidate> candidates) {
    std::vector<double> cells;
    for (const Candidate& candidate : candidates) cells.push_back(static_cast<double>(candidate.patch.cells.size()));
    if (cells.empty()) cells.push_back(0);
    std::nth_element(cells.begin(), cells.begin() + static_cast<std::ptrdiff_t>(cells.size() / 2), cells.end());
    if (cells[cells.size() / 2] >= kEnoughCells) return candidates;
    // The rectangle that holds nearly all flank cells.
    std::vector<double> xs, ys;
    for (const FlankCell& cell : seen.cells) {
        const PixelPoint p = seen.region.toPhoto(cell.x, cell.y);
        xs.push_back(p.x);
        ys.push_back(p.y);
    }
    const auto part = [](std::vector<double>& values, double share) {
        const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
        std::nth_element(values.begin(), values.begin() + at, values.end());
        return values[static_cast<std::size_t>(at)];
    };
    const double left = part(xs, 0.01), right = part(xs, 0.99), top = part(ys, 0.01), bottom = part(ys, 0.99);
    const double margin = kCropMargin * std::max(right - left, bottom - top);
    const Region region = regionOf(left - margin, top - margin, right - left + 2 * margin, bottom - top + 2 * margin);
    if (region.scale < kLeastZoom * seen.region.scale) return candidates;
    std::vector<Candidate> closer = candidatesIn(look(photo, region));
    return closer.size() >= candidates.size() ? closer : candidates;
}

/// Marks the flanks that have a neighbour like them.
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

Refused noTooth() {
    return {Refusal::NoToothFound, "no ring gear teeth are seen in this photo.",
            "Take the photo closer, looking straight at the painted teeth, or mark the corners of the flanks in an "
            "outline file (--outline)."};
}

}  // namespace

Outcome<FoundTeeth> findTeeth(const Photo& photo, const GearSet* gearSet, const FindOptions& options) {
    const Seen seen = look(photo, regionOf(0, 0, photo.fullWidth, photo.fullHeight));
    if (static_cast<int>(seen.cells.size()) < kFewestCells) return noTooth();
    std::vector<Candidate> candidates = lookCloser(photo, seen, candidatesIn(seen));
    if (candidates.empty()) return noTooth();

    // Step 1: sides, for the photo as a whole.
    FoundTeeth found;
    Hand hand = Hand::Right;
    const double right = supportFor(candidates, Hand::Right);
    if (gearSet != nullptr && gearSet->given.hand) {
        hand = gearSet->hand;
    } else {
        hand = right > 0 ? Hand::Right : Hand::Left;
        found.sideCertainty = 1 / (1 + std::exp(-0.25 * std::abs(right)));
        if (found.sideCertainty < kSideSure) {
            if (!options.side)
                return Refused{Refusal::SideUnknown, "the two sides of the teeth cannot be told apart in this photo.",
                               "Say which side looks at the camera with --side drive or --side coast, or give a "
                               "gear-set file that names the hand of the ring gear."};
            // The side that the user names is the one that most of the picture shows.
            double ofSide = 0;
            for (const Candidate& candidate : candidates)
                ofSide += (sideBy(candidate, Hand::Right) == *options.side ? 1.0 : -1.0) *
                          static_cast<double>(candidate.patch.cells.size());
            hand = ofSide > 0 ? Hand::Right : Hand::Left;
            found.sideCertainty = 1;
        }
    }
    for (Candidate& candidate : candidates) {
        candidate.side = sideBy(candidate, hand);
        candidate.outline.side = candidate.side;
    }

    // Step 2: what does not repeat is no tooth.
    const std::vector<bool> repeats = repeating(candidates);
    std::vector<Candidate> teeth;
    for (std::size_t k = 0; k < candidates.size(); ++k)
        if (repeats[k]) teeth.push_back(std::move(candidates[k]));
    candidates = std::move(teeth);
    if (candidates.size() < kFewestFlanks) return noTooth();

    // Step 3: one camera for all.
    if (options.useCamera) {
        std::vector<Shape> shapes;
        if (gearSet != nullptr) {
            GearSet turned = *gearSet;
            turned.hand = hand;
            shapes.push_back({flank::gridsOf(turned), turned.cut, true});
            if (!gearSet->cutKnown)
                for (Shape& typical : typicalShapes(hand)) shapes.push_back(std::move(typical));
        } else {
            shapes = typicalShapes(hand);
        }
        useCommonCamera(candidates, shapes, photo, found.cut);
        if (gearSet != nullptr &&
            static_cast<double>(agreeing(candidates)) < kPoorAgreement * static_cast<double>(candidates.size()))
            useCommonCamera(candidates, typicalShapes(hand), photo, found.cut);
    }

    if (options.useCamera && agreeing(candidates) < kFewestAgreeing) return noTooth();

    // Step 4: which of them can be read.
    for (const Candidate& candidate : candidates) {
        FoundFlank flank;
        flank.outline = candidate.outline;
        flank.gridPx = candidate.grid;
        flank.seenShare = candidate.seenShare;
        flank.cornerSigma = candidate.cornerSigma;
        flank.paintedLogOdds = candidate.patch.painted;
        flank.source = candidate.source;
        flank.confidence = std::clamp(candidate.warp.keptShare() * candidate.seenShare, 0.0, 1.0);
        for (const PixelPoint& p : flank.outline.corners) flank.whole = flank.whole && inside(photo, p, 0);
        if (options.side && candidate.side != *options.side) continue;
        if (flank.seenShare < kLeastSeen) {
            found.leftOut.push_back(
                {flank,
                 {Refusal::FlankOutsidePicture, "Part of this flank is hidden or out of the picture.",
                  "Turn the gear so that the whole flank shows."}});
            continue;
        }
        found.flanks.push_back(std::move(flank));
    }
    if (found.flanks.size() < 2 && candidates.size() < kSureFlanks) return noTooth();
    std::stable_sort(found.flanks.begin(), found.flanks.end(),
                     [](const FoundFlank& a, const FoundFlank& b) { return a.confidence > b.confidence; });
    return found;
}

}  // namespace shimsight
