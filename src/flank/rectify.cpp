// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/rectify.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "shimsight/flank_camera.h"
#include "shimsight/outline_geometry.h"

namespace shimsight {
namespace {

using namespace flank;

/// A corner may lie this far outside the picture (share of its sides): those at the border are set by hand.
constexpr double kOutsideMargin = 0.02;
/// A flank with a corner farther outside is rectified when this share of it is in the picture. (A fifth of the length
/// cut away moves the centre that is read by 0.5 % of the length and 0.4 % of the height, 2.4 % and 3.1 % at nine of
/// ten; beyond a quarter it is 4 % and 6 %: 55 rendered flanks.)
constexpr double kMinInPicture = 0.75;
/// Two corners closer than this (share of the longest side of the outline) are the same corner set twice.
constexpr double kSameCornerShare = 0.02;
/// An edge point this far from its chord (share of the flank's length) belongs to another edge or flank.
constexpr double kEdgeFarShare = 0.35;
/// On a right-hand ring gear this side's corners, toe-root, toe-tip, heel-tip, heel-root, run clockwise in a picture
/// (tested).
constexpr Side kClockwiseOnRightHand = Side::Coast;
/// Error of points, share of the flank's length (a careful hand's is about 0.6 %). What points depart from the gear
/// set's own flank is taken for marking errors up to here, and for a real difference the more it goes beyond.
constexpr double kPointErrorShare = 0.01;
constexpr std::array kCornerNames{"toe-root", "toe-tip", "heel-tip", "heel-root"};

std::string rounded(double value) { return std::to_string(static_cast<long>(std::lround(value))); }
std::string place(PixelPoint p) { return "(" + rounded(p.x) + ", " + rounded(p.y) + ")"; }

bool finite(PixelPoint p) { return std::isfinite(p.x) && std::isfinite(p.y); }

double cross(PixelPoint a, PixelPoint b, PixelPoint c) { return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x); }

/// Turning direction at each corner; a proper outline turns the same way at all four.
bool convex(const std::array<PixelPoint, 4>& c) {
    int left = 0, right = 0;
    for (std::size_t k = 0; k < 4; ++k) (cross(c[k], c[(k + 1) % 4], c[(k + 2) % 4]) > 0 ? left : right) += 1;
    return left == 4 || right == 4;
}

/// The part of a polygon on one side of a line along an axis: where sign * (coordinate - at) >= 0.
std::vector<PixelPoint> cutAt(const std::vector<PixelPoint>& polygon, double PixelPoint::*axis, double at,
                              double sign) {
    std::vector<PixelPoint> out;
    for (std::size_t k = 0; k < polygon.size(); ++k) {
        const PixelPoint a = polygon[k], b = polygon[(k + 1) % polygon.size()];
        const double da = sign * (a.*axis - at), db = sign * (b.*axis - at);
        if (da >= 0) out.push_back(a);
        if ((da < 0) != (db < 0))
            out.push_back({a.x + (b.x - a.x) * da / (da - db), a.y + (b.y - a.y) * da / (da - db)});
    }
    return out;
}

double areaOf(const std::vector<PixelPoint>& polygon) {
    double sum = 0;
    for (std::size_t k = 0; k < polygon.size(); ++k) {
        const PixelPoint a = polygon[k], b = polygon[(k + 1) % polygon.size()];
        sum += a.x * b.y - b.x * a.y;
    }
    return 0.5 * std::abs(sum);
}

double shareInPicture(const std::array<PixelPoint, 4>& corners, double width, double height) {
    std::vector<PixelPoint> part(corners.begin(), corners.end());
    const double whole = areaOf(part);
    part = cutAt(cutAt(part, &PixelPoint::x, 0, 1), &PixelPoint::x, width, -1);
    part = cutAt(cutAt(part, &PixelPoint::y, 0, 1), &PixelPoint::y, height, -1);
    return whole > 0 ? areaOf(part) / whole : 0;
}

std::optional<Refused> faultOf(const Photo& photo, const FlankOutline& outline) {
    const auto& c = outline.corners;
    for (std::size_t k = 0; k < 4; ++k)
        if (!finite(c[k]))
            return Refused{Refusal::OutlineUnusable, message("flank.corner-no-number", kCornerNames[k]),
                           message("flank.set-corners-again")};
    for (const auto* edge : {&outline.rootEdge, &outline.tipEdge, &outline.toeEdge, &outline.heelEdge})
        for (const auto& p : *edge)
            if (!finite(p))
                return Refused{Refusal::OutlineUnusable, message("flank.edge-no-number"),
                               message("flank.set-edges-again")};
    const double w = photo.fullWidth, h = photo.fullHeight;
    const bool inView = shareInPicture(c, w, h) >= kMinInPicture;
    for (std::size_t k = 0; k < 4 && !inView; ++k)
        if (c[k].x < -kOutsideMargin * w || c[k].x > (1 + kOutsideMargin) * w || c[k].y < -kOutsideMargin * h ||
            c[k].y > (1 + kOutsideMargin) * h)
            return Refused{Refusal::FlankOutsidePicture,
                           message("flank.corner-outside", kCornerNames[k], place(c[k]), rounded(w), rounded(h)),
                           message("flank.whole-flanks-only")};
    double longest = 0;
    for (std::size_t k = 0; k < 4; ++k)
        longest = std::max(longest, std::hypot(c[(k + 1) % 4].x - c[k].x, c[(k + 1) % 4].y - c[k].y));
    for (std::size_t k = 0; k < 4; ++k)
        for (std::size_t m = k + 1; m < 4; ++m)
            if (std::hypot(c[m].x - c[k].x, c[m].y - c[k].y) <= kSameCornerShare * longest)
                return Refused{Refusal::OutlineUnusable,
                               message("flank.corners-same", kCornerNames[k], kCornerNames[m], place(c[k])),
                               message("flank.four-corners")};
    if (!convex(c))
        return Refused{Refusal::OutlineUnusable, message("flank.outline-crosses"), message("flank.corner-order")};
    const double length = outlineLength(outline) * photo.scale, height = outlineHeight(outline) * photo.scale;
    // The width of the patch square to its length: a flank seen edge-on has long sides and no height.
    const double squareHeight = std::abs(signedArea(c)) * photo.scale * photo.scale / std::max(1e-9, length);
    if (length < kMinFlankLengthPx || std::min(height, squareHeight) < kMinFlankHeightPx)
        return Refused{Refusal::FlankTooSmall,
                       message("flank.too-small", rounded(length), rounded(std::min(height, squareHeight)),
                               rounded(kMinFlankLengthPx), rounded(kMinFlankHeightPx)),
                       message("flank.closer-to-tooth")};
    for (const auto& [edge, first, last] : {std::tuple{&outline.rootEdge, 0, 3},
                                            {&outline.tipEdge, 1, 2},
                                            {&outline.toeEdge, 0, 1},
                                            {&outline.heelEdge, 3, 2}})
        for (const auto& p : *edge) {
            const PixelPoint a = c[static_cast<std::size_t>(first)], b = c[static_cast<std::size_t>(last)];
            const NearestOnLine near = nearestOnLine({a, b}, p);
            if (std::abs(near.signedDistance) > kEdgeFarShare * outlineLength(outline) || near.t < -0.2 || near.t > 1.2)
                return Refused{Refusal::OutlineUnusable,
                               message("flank.edge-point-far", place(p), kCornerNames[static_cast<std::size_t>(first)],
                                       kCornerNames[static_cast<std::size_t>(last)]),
                               message("flank.own-edges")};
        }
    return std::nullopt;
}

Refused mirrored(Side side) {
    return {Refusal::OutlineUnusable, message("flank.wrong-way-round", wordFor(side)),
            message("flank.check-side-and-order")};
}

RectifiedFlank rectifiedOn(const Photo& photo, const FlankOutline& outline, std::vector<PixelPoint> grid,
                           FlankShape shape, double residualPx) {
    RectifiedFlank out;
    out.side = outline.side;
    out.outline = outline;
    out.shape = shape;
    out.shapeResidualPx = residualPx * photo.scale;
    out.gridPx = std::move(grid);
    out.lengthPx = outlineLength(outline) * photo.scale;
    out.heightPx = outlineHeight(outline) * photo.scale;
    return out;
}

bool hasEdges(const FlankOutline& outline) {
    return !outline.rootEdge.empty() || !outline.tipEdge.empty() || !outline.toeEdge.empty() ||
           !outline.heelEdge.empty();
}

/// The hand that the corners of flanks of known side speak for; nullopt when they disagree or no side is known.
std::optional<Hand> likelyHand(const std::vector<FlankOutline>& outlines, const std::vector<std::optional<Side>>& side,
                               const std::vector<std::optional<Refused>>& fault) {
    int right = 0, left = 0;
    for (std::size_t k = 0; k < outlines.size(); ++k) {
        if (fault[k] || !side[k]) continue;
        const bool clockwise = signedArea(outlines[k].corners) > 0;
        (clockwise == (*side[k] == kClockwiseOnRightHand) ? right : left) += 1;
    }
    if (right == left) return std::nullopt;
    return right > left ? Hand::Right : Hand::Left;
}

/// The grid must not fold: every cell turns the same way as the outline.
bool unfolded(const std::vector<PixelPoint>& grid, double orientation) {
    for (int row = 0; row + 1 < kFlankGridV; ++row)
        for (int i = 0; i + 1 < kFlankGridU; ++i) {
            const auto k = static_cast<std::size_t>(row * kFlankGridU + i);
            const PixelPoint a = grid[k], b = grid[k + 1], c = grid[k + kFlankGridU];
            if (-cross(a, b, c) * orientation >= 0) return false;
        }
    return true;
}

/// Outlines of one photo on their way to rectified flanks: what is known of each.
struct Outlines {
    const std::vector<FlankOutline>& outlined;
    std::vector<std::optional<Refused>> fault;
    std::vector<std::optional<Side>> side;
    std::size_t size() const { return outlined.size(); }
    bool clockwise(std::size_t k) const { return signedArea(outlined[k].corners) > 0; }
};

/// With a known hand the way round in which the corners run tells the side, or that an outline is mirrored.
void tellSidesByHand(Outlines& outlines, const std::array<FlankGrid, 2>& grids) {
    for (std::size_t k = 0; k < outlines.size(); ++k) {
        if (outlines.fault[k]) continue;
        std::optional<Side>& side = outlines.side[k];
        const double winding = outlines.clockwise(k) ? 1 : -1;
        if (!side)
            for (const Side s : kSides)
                if (grids[index(s)].windingInPicture == winding) side = s;
        if (side && grids[index(*side)].windingInPicture != winding) outlines.fault[k] = mirrored(*side);
    }
}

/// Without a known hand, flanks of one side must at least agree with one another.
void refuseTheFewMirrored(Outlines& outlines) {
    for (const Side s : kSides) {
        int clockwise = 0, counter = 0;
        for (std::size_t k = 0; k < outlines.size(); ++k)
            if (!outlines.fault[k] && outlines.side[k] == s) (outlines.clockwise(k) ? clockwise : counter) += 1;
        if (clockwise == 0 || counter == 0 || clockwise == counter) continue;
        for (std::size_t k = 0; k < outlines.size(); ++k)
            if (!outlines.fault[k] && outlines.side[k] == s && outlines.clockwise(k) != (clockwise > counter))
                outlines.fault[k] = mirrored(s);
    }
}

/// What a camera for the photo makes of each flank; empty grids where it has none.
struct Fits {
    std::vector<std::vector<PixelPoint>> grid;
    std::vector<double> residual;
    /// Sum over the flanks, shares of their length squared; a flank without a fit counts as at the limit.
    double cost = 0;
    explicit Fits(std::size_t count) : grid(count), residual(count, 0) {}
};

/// A camera from all flanks whose corners can be those of the grids' gear.
Fits fitTo(const std::array<FlankGrid, 2>& grids, const Outlines& outlines, PictureSize size) {
    Fits out(outlines.size());
    std::vector<OutlinedFlank> outlined;
    std::vector<std::size_t> owner;
    for (std::size_t k = 0; k < outlines.size(); ++k) {
        if (outlines.fault[k] || !outlines.side[k]) continue;
        const FlankGrid& grid = grids[index(*outlines.side[k])];
        if (grid.windingInPicture * signedArea(outlines.outlined[k].corners) < 0) continue;
        outlined.push_back({&outlines.outlined[k], &grid, 0});
        owner.push_back(k);
    }
    const auto together = outlined.empty() ? std::nullopt : fitCamera(outlined, size);
    for (std::size_t m = 0; m < outlined.size(); ++m) {
        const std::size_t k = owner[m];
        const double length = outlineLength(outlines.outlined[k]);
        const auto take = [&](const CameraFit& fit, std::size_t which) {
            if (fit.residualPx[which] > kShapeFitShare * length) return false;
            out.grid[k] = projectGrid(fit.camera, *outlined[m].grid, fit.tooth[which]);
            out.residual[k] = fit.residualPx[which];
            return true;
        };
        bool taken = together && take(*together, m);
        if (!taken && outlined.size() > 1)
            if (const auto alone = fitCamera(outlined[m], size)) taken = take(*alone, 0);
        const double share = taken ? out.residual[k] / length : kShapeFitShare;
        out.cost += share * share;
    }
    return out;
}

/// The better of a milled and a hobbed typical gear, where the hand can be told. Edge points show the curvature
/// themselves, whatever the tooth form; only bare corners need a typical one.
Fits fitTypical(const Outlines& outlines, PictureSize size) {
    const bool edges = std::any_of(outlines.outlined.begin(), outlines.outlined.end(), hasEdges);
    const auto hand = edges ? std::nullopt : likelyHand(outlines.outlined, outlines.side, outlines.fault);
    if (!hand) return Fits(outlines.size());
    Fits milled = fitTo(typicalGrids(Cut::FaceMilled, *hand), outlines, size);
    Fits hobbed = fitTo(typicalGrids(Cut::FaceHobbed, *hand), outlines, size);
    return hobbed.cost < milled.cost ? hobbed : milled;
}

/// The camera's grid bent to what was set, as far as its residual says that the points know better; empty where it
/// would fold.
std::vector<PixelPoint> bentGrid(std::vector<PixelPoint> grid, const FlankOutline& outline, FlankShape shape,
                                 double residual) {
    if (grid.empty()) return grid;
    double share = 1;
    if (shape == FlankShape::GearSet) {
        const double left = residual / outlineLength(outline);
        share = left * left / (left * left + kPointErrorShare * kPointErrorShare);
    }
    meetPoints(grid, outline, share);
    if (!unfolded(grid, signedArea(outline.corners))) grid.clear();
    return grid;
}

Outcome<RectifiedFlank> rectified(const Photo& photo, const FlankOutline& outline, std::vector<PixelPoint> modelGrid,
                                  FlankShape shape, double residual) {
    std::vector<PixelPoint> grid = bentGrid(std::move(modelGrid), outline, shape, residual);
    if (!grid.empty()) return rectifiedOn(photo, outline, std::move(grid), shape, residual);
    grid = flatGrid(outline.corners);
    if (grid.empty())
        return Refused{Refusal::OutlineUnusable, message("flank.corners-on-line"), message("flank.set-corners-again")};
    meetPoints(grid, outline);
    if (!unfolded(grid, signedArea(outline.corners)))
        return Refused{Refusal::OutlineUnusable, message("flank.edges-fold"), message("flank.set-edge-points-again")};
    return rectifiedOn(photo, outline, std::move(grid), hasEdges(outline) ? FlankShape::Edges : FlankShape::Flat, 0);
}

}  // namespace

Outcome<RectifiedFlank> rectifyFlank(const Photo& photo, const FlankOutline& outline, const GearSet* gearSet) {
    return rectifyFlanks(photo, {outline}, gearSet)[0];
}

std::vector<Outcome<RectifiedFlank>> rectifyFlanks(const Photo& photo, const std::vector<FlankOutline>& outlined,
                                                   const GearSet* gearSet) {
    Outlines outlines{outlined, {}, {}};
    for (const FlankOutline& one : outlined) {
        outlines.fault.push_back(faultOf(photo, one));
        outlines.side.push_back(one.side);
    }
    std::optional<std::array<FlankGrid, 2>> grids;
    if (gearSet) grids = gridsOf(*gearSet);
    if (gearSet && gearSet->given.hand) tellSidesByHand(outlines, *grids);
    refuseTheFewMirrored(outlines);

    const PictureSize size = pictureSize(photo);
    Fits fits = grids ? fitTo(*grids, outlines, size) : fitTypical(outlines, size);
    const FlankShape shape = grids ? FlankShape::GearSet : FlankShape::Typical;
    std::vector<Outcome<RectifiedFlank>> out;
    for (std::size_t k = 0; k < outlines.size(); ++k) {
        if (outlines.fault[k]) {
            out.emplace_back(*outlines.fault[k]);
            continue;
        }
        FlankOutline named = outlined[k];
        named.side = outlines.side[k];
        out.push_back(rectified(photo, named, std::move(fits.grid[k]), shape, fits.residual[k]));
    }
    return out;
}

Outcome<RectifiedFlank> rectifyAlong(const Photo& photo, const FlankOutline& outline, std::vector<PixelPoint> gridPx,
                                     FlankShape shape) {
    check(gridPx.size() == static_cast<std::size_t>(kFlankGridU) * kFlankGridV,
          "rectifyAlong: a grid of 33 x 17 points");
    if (const auto fault = faultOf(photo, outline)) return *fault;
    if (!unfolded(gridPx, signedArea(outline.corners)))
        return Refused{Refusal::OutlineUnusable, message("flank.too-far-aside"), message("flank.look-at-camera")};
    RectifiedFlank flank;
    flank.side = outline.side;
    flank.outline = outline;
    flank.shape = shape;
    flank.gridPx = std::move(gridPx);
    flank.lengthPx = outlineLength(outline) * photo.scale;
    flank.heightPx = outlineHeight(outline) * photo.scale;
    flank.found = true;
    return flank;
}

}  // namespace shimsight
