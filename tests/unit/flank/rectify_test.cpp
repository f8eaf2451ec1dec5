// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/rectify.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "shimsight/flank_camera.h"
#include "shimsight/flank_map.h"
#include "shimsight/flank_surface.h"

using namespace shimsight;

namespace {

GearSet axleSet(Hand hand = Hand::Right) {
    GearSetData data;
    data.name = "training set";
    data.pinionTeeth = 11;
    data.ringTeeth = 43;
    data.ringGearDiameterMm = 222;
    data.offsetMm = 36;
    data.faceWidthMm = 34;
    data.pinionSpiralDeg = 47;
    data.cutterRadiusMm = 101.6;
    data.cut = Cut::FaceMilled;
    data.hand = hand;
    return completeGearSet(data);
}

constexpr int kWidth = 1600, kHeight = 1200;

/// A camera written for the tests alone: looks at `target` from `eye`.
struct TestCamera {
    Eigen::Matrix3d turn;
    Eigen::Vector3d eye;
    double focalPx;
    TestCamera(const Eigen::Vector3d& from, const Eigen::Vector3d& target, const Eigen::Vector3d& upHint, double focal)
        : eye(from), focalPx(focal) {
        const Eigen::Vector3d z = (target - from).normalized();
        const Eigen::Vector3d x = z.cross(upHint).normalized();
        const Eigen::Vector3d y = z.cross(x);
        turn << x.transpose(), y.transpose(), z.transpose();
    }
    PixelPoint operator()(const Eigen::Vector3d& p) const {
        const Eigen::Vector3d c = turn * (p - eye);
        return {kWidth / 2.0 + focalPx * c.x() / c.z(), kHeight / 2.0 + focalPx * c.y() / c.z()};
    }
};

Eigen::Vector3d mirroredFor(const GearSet& set, Eigen::Vector3d p) {
    if (set.hand == Hand::Left) p.y() = -p.y();
    return p;
}

/// A view of one flank from `distance` mm, `tiltDeg` off its normal toward the toe and `liftDeg` toward the tip.
struct View {
    GearSet set;
    Side side;
    RingFlank flank;
    TestCamera camera;
    View(const GearSet& gearSet, Side seen, double distance, double tiltDeg, double liftDeg, double focal)
        : set(gearSet),
          side(seen),
          flank(gearSet, designBlank(gearSet), seen),
          camera(make(distance, tiltDeg, liftDeg, focal)) {}
    TestCamera make(double distance, double tiltDeg, double liftDeg, double focal) const {
        const Eigen::Vector3d middle = mirroredFor(set, flank.at(0.5, 0.5).position);
        const Eigen::Vector3d normal = mirroredFor(set, flank.at(0.5, 0.5).normal);
        const Eigen::Vector3d toToe = (mirroredFor(set, flank.at(0, 0.5).position) - middle).normalized();
        const Eigen::Vector3d toTip = (mirroredFor(set, flank.at(0.5, 1).position) - middle).normalized();
        const Eigen::Vector3d direction =
            (normal + std::tan(radians(tiltDeg)) * toToe + std::tan(radians(liftDeg)) * toTip).normalized();
        return {middle + distance * direction, middle, toTip, focal};
    }
    PixelPoint at(double u, double v, int tooth = 0) const {
        const double a = tooth * 2 * kPi / set.ringTeeth;
        const Eigen::Vector3d p = mirroredFor(set, flank.at(u, v).position);
        return camera(Eigen::AngleAxisd(a, Eigen::Vector3d::UnitZ()) * p);
    }
    /// Without its side named the flank cannot be matched to a typical one and is rectified by the marks alone.
    FlankOutline nameless(bool edges) const {
        FlankOutline out = outline(edges);
        out.side.reset();
        return out;
    }
    FlankOutline outline(bool edges, int tooth = 0) const {
        FlankOutline out;
        out.side = side;
        out.corners = {at(0, 0, tooth), at(0, 1, tooth), at(1, 1, tooth), at(1, 0, tooth)};
        if (edges)
            for (int k = 1; k < 8; ++k) {
                out.rootEdge.push_back(at(k / 8.0, 0, tooth));
                out.tipEdge.push_back(at(k / 8.0, 1, tooth));
            }
        return out;
    }
};

Photo blankPhoto(double scale = 1) {
    Photo photo;
    photo.fullWidth = kWidth;
    photo.fullHeight = kHeight;
    photo.scale = scale;
    photo.picture.width = static_cast<int>(kWidth * scale);
    photo.picture.height = static_cast<int>(kHeight * scale);
    photo.picture.rgb.assign(
        static_cast<std::size_t>(photo.picture.width) * static_cast<std::size_t>(photo.picture.height) * 3, 100);
    return photo;
}

/// Largest and mean departure of the rectified grid from the true one, as a share of the flank's length.
struct GridError {
    double largest = 0, mean = 0;
};
GridError gridError(const RectifiedFlank& flank, const View& view, int tooth = 0) {
    REQUIRE(flank.gridPx.size() == static_cast<std::size_t>(kFlankGridU * kFlankGridV));
    const PixelPoint toe = view.at(0, 0.5, tooth), heel = view.at(1, 0.5, tooth);
    const double length = std::hypot(heel.x - toe.x, heel.y - toe.y);
    GridError out;
    for (int row = 0; row < kFlankGridV; ++row)
        for (int i = 0; i < kFlankGridU; ++i) {
            const PixelPoint truth = view.at(i / double(kFlankGridU - 1), 1 - row / double(kFlankGridV - 1), tooth);
            const PixelPoint got = flank.gridPx[static_cast<std::size_t>(row * kFlankGridU + i)];
            const double e = std::hypot(got.x - truth.x, got.y - truth.y) / length;
            out.largest = std::max(out.largest, e);
            out.mean += e / (kFlankGridU * kFlankGridV);
        }
    return out;
}

FlankOutline plainOutline() {
    FlankOutline out;
    out.side = Side::Drive;
    out.corners = {PixelPoint{400, 800}, {400, 500}, {1200, 500}, {1200, 800}};
    return out;
}

Refusal refusalOf(const FlankOutline& outline, const GearSet* set = nullptr) {
    const auto result = rectifyFlank(blankPhoto(), outline, set);
    REQUIRE_FALSE(bool(result));
    CHECK(text(result.refused().reason).size() > 20);
    CHECK(text(result.refused().whatToDo).size() > 20);
    return result.refused().why;
}

}  // namespace

TEST_CASE("a flat flank, even or tapered, seen in perspective is rectified closely", "[flank]") {
    // Trapezoids of 60 mm by 20 mm; the toe's height over the heel's as of a hobbed and of a milled tooth.
    for (const double taper : {0.965, 0.555})
        for (const double turn : {-25.0, 0.0, 25.0}) {
            const TestCamera camera({0, 0, -300}, {20, 10, 0}, {0.1, -1, 0}, 1500);
            const auto plane = [&](double u, double v) {
                return camera({60 * (u - 0.5), -20 * (v - 0.5) * (taper + (1 - taper) * u), turn * (u - 0.5) + 9 * v});
            };
            FlankOutline outline;
            outline.corners = {plane(0, 0), plane(0, 1), plane(1, 1), plane(1, 0)};
            const auto result = rectifyFlank(blankPhoto(), outline);
            REQUIRE(bool(result));
            CHECK(result.value().shape == FlankShape::Flat);
            const PixelPoint got = result.value().gridPx[8 * kFlankGridU + 16], want = plane(0.5, 0.5);
            const double length = std::hypot(plane(1, 0.5).x - plane(0, 0.5).x, plane(1, 0.5).y - plane(0, 0.5).y);
            CHECK(std::hypot(got.x - want.x, got.y - want.y) / length < 0.015);
        }
}

TEST_CASE("edges and the gear set's shape take out the curvature of the flank", "[flank]") {
    for (const Side side : kSides)
        for (const Hand hand : {Hand::Right, Hand::Left}) {
            const GearSet set = axleSet(hand);
            const View view(set, side, 220, 25, 20, 2400);
            const Photo photo = blankPhoto();
            const auto corners = rectifyFlank(photo, view.nameless(false)),
                       edges = rectifyFlank(photo, view.nameless(true));
            const auto shape = rectifyFlank(photo, view.outline(true), &set);
            REQUIRE(bool(corners));
            REQUIRE(bool(edges));
            REQUIRE(bool(shape));
            CHECK(edges.value().shape == FlankShape::Edges);
            CHECK(shape.value().shape == FlankShape::GearSet);
            const GridError flatError = gridError(corners.value(), view), edgeError = gridError(edges.value(), view),
                            shapeError = gridError(shape.value(), view);
            INFO("flat " << flatError.mean << " edges " << edgeError.mean << " shape " << shapeError.mean);
            CHECK(edgeError.mean < 0.7 * flatError.mean);
            CHECK(shapeError.largest < 0.006);
            CHECK(shape.value().shapeResidualPx < 0.5);
        }
}

TEST_CASE("corners alone with a gear set beat a flat patch", "[flank]") {
    const GearSet set = axleSet();
    for (const Side side : kSides) {
        const View view(set, side, 220, 25, 20, 2400);
        const auto flat = rectifyFlank(blankPhoto(), view.nameless(false)),
                   shape = rectifyFlank(blankPhoto(), view.outline(false), &set);
        REQUIRE(bool(flat));
        REQUIRE(bool(shape));
        CHECK(gridError(shape.value(), view).mean < 0.35 * gridError(flat.value(), view).mean);
    }
}

TEST_CASE("several teeth share the camera", "[flank]") {
    const GearSet set = axleSet();
    const View view(set, Side::Coast, 260, 15, 25, 2000);
    std::vector<FlankOutline> outlines;
    Random random(7);
    for (const int tooth : {0, 1, -1, 2}) {
        FlankOutline outline = view.outline(true, tooth);
        const double length =
            std::hypot(outline.corners[3].x - outline.corners[0].x, outline.corners[3].y - outline.corners[0].y);
        for (auto* list : {&outline.rootEdge, &outline.tipEdge})
            for (auto& p : *list) p = {p.x + random.normal(0, 0.004 * length), p.y + random.normal(0, 0.004 * length)};
        outlines.push_back(outline);
    }
    const auto together = rectifyFlanks(blankPhoto(), outlines, &set);
    REQUIRE(together.size() == 4);
    std::size_t k = 0;
    for (const int tooth : {0, 1, -1, 2}) {
        REQUIRE(bool(together[k]));
        CHECK(together[k].value().shape == FlankShape::GearSet);
        CHECK(gridError(together[k].value(), view, tooth).mean < 0.006);
        ++k;
    }
}

TEST_CASE("a lens that bends lines is allowed for where several teeth show it", "[flank]") {
    const View view(axleSet(), Side::Coast, 260, 12, 8, 1400);
    const auto grids = flank::gridsOf(view.set);
    constexpr double kBend = -0.08;
    std::vector<FlankOutline> outlines;
    for (const int tooth : {-3, -2, -1, 0, 1, 2, 3}) {
        FlankOutline outline = view.outline(true, tooth);
        const auto bend = [](PixelPoint& p) {
            const double x = (p.x - kWidth / 2.0) / 1400, y = (p.y - kHeight / 2.0) / 1400;
            const double by = 1 + kBend * (x * x + y * y);
            p = {kWidth / 2.0 + 1400 * x * by, kHeight / 2.0 + 1400 * y * by};
        };
        for (PixelPoint& p : outline.corners) bend(p);
        for (auto* edge : {&outline.rootEdge, &outline.tipEdge})
            for (PixelPoint& p : *edge) bend(p);
        outlines.push_back(outline);
    }
    std::vector<flank::OutlinedFlank> outlined;
    for (const FlankOutline& outline : outlines) outlined.push_back({&outline, &grids[index(Side::Coast)], 0});
    const auto fit = flank::fitCamera(outlined, {kWidth, kHeight, 1400.0});
    REQUIRE(fit);
    CHECK(fit->camera.k1 < -0.01);  // the prior holds it toward 0
    for (const double residual : fit->residualPx) CHECK(residual < 1.0);
}

TEST_CASE("an outline of another gear form is not forced onto the gear set", "[flank]") {
    const GearSet set = axleSet();
    const View view(set, Side::Drive, 220, 10, 15, 2400);
    FlankOutline outline = view.outline(true);
    for (auto* list : {&outline.rootEdge, &outline.tipEdge}) {
        int k = 1;
        for (auto& p : *list) p.y += 90 * std::sin(kPi * k++ / 4.0);  // an S bend that no hypoid tooth has
    }
    const auto result = rectifyFlank(blankPhoto(), outline, &set);
    REQUIRE(bool(result));
    CHECK(result.value().shape == FlankShape::Edges);
}

TEST_CASE("the side is told by the hand, and a mirrored outline refused", "[flank]") {
    const GearSet set = axleSet();
    const View view(set, Side::Coast, 220, 10, 15, 2400);
    FlankOutline outline = view.outline(false);
    outline.side.reset();
    const auto result = rectifyFlank(blankPhoto(), outline, &set);
    REQUIRE(bool(result));
    REQUIRE(result.value().side.has_value());
    CHECK(*result.value().side == Side::Coast);
    outline.side = Side::Drive;
    CHECK(refusalOf(outline, &set) == Refusal::OutlineUnusable);
}

TEST_CASE("a given hand counts, whatever else the file leaves out", "[flank]") {
    // As typed at the bench: the shim place, but no shims "on hand", whose sentence holds the word.
    GearSetData data;
    data.pinionTeeth = 11, data.ringTeeth = 43, data.ringGearDiameterMm = 222, data.offsetMm = 36;
    data.faceWidthMm = 34, data.pinionSpiralDeg = 47, data.cutterRadiusMm = 101.6;
    data.cut = Cut::FaceMilled;
    data.hand = Hand::Right;
    data.build.pinionShim = PinionShim::BehindPinionHead;
    const GearSet set = completeGearSet(data);
    REQUIRE(std::any_of(set.assumed.begin(), set.assumed.end(),
                        [](const Message& line) { return text(line).find("hand") != std::string::npos; }));
    const View view(set, Side::Coast, 220, 10, 15, 2400);
    FlankOutline outline = view.outline(false);
    outline.side = Side::Drive;
    CHECK(refusalOf(outline, &set) == Refusal::OutlineUnusable);
}

TEST_CASE("unusable outlines are refused with a sentence", "[flank]") {
    FlankOutline outside = plainOutline();
    for (PixelPoint& corner : outside.corners) corner.x += 700;
    CHECK(refusalOf(outside) == Refusal::FlankOutsidePicture);
    FlankOutline partly = plainOutline();  // one corner out, most of the flank in view
    partly.corners[2].x = 1700;
    CHECK(bool(rectifyFlank(blankPhoto(), partly)));
    FlankOutline justOutside = plainOutline();
    justOutside.corners[2].x = justOutside.corners[3].x = 1620;
    CHECK(bool(rectifyFlank(blankPhoto(), justOutside)));
    FlankOutline crossing = plainOutline();
    std::swap(crossing.corners[2], crossing.corners[3]);
    CHECK(refusalOf(crossing) == Refusal::OutlineUnusable);
    FlankOutline dented = plainOutline();
    dented.corners[2] = {600, 700};
    CHECK(refusalOf(dented) == Refusal::OutlineUnusable);
    FlankOutline same = plainOutline();
    same.corners[1] = same.corners[0];
    CHECK(refusalOf(same) == Refusal::OutlineUnusable);
    FlankOutline tiny = plainOutline();
    for (auto& c : tiny.corners) c = {c.x / 20, c.y / 20};
    CHECK(refusalOf(tiny) == Refusal::FlankTooSmall);
    FlankOutline edgeOn = plainOutline();
    for (std::size_t k : {1U, 2U}) edgeOn.corners[k] = {edgeOn.corners[k].x + 200, 794};
    CHECK(refusalOf(edgeOn) == Refusal::FlankTooSmall);
    FlankOutline notNumber = plainOutline();
    notNumber.corners[0].x = std::nan("");
    CHECK(refusalOf(notNumber) == Refusal::OutlineUnusable);
    FlankOutline strayEdge = plainOutline();
    strayEdge.tipEdge.push_back({800, 1150});
    CHECK(refusalOf(strayEdge) == Refusal::OutlineUnusable);
}

TEST_CASE("flanks of one side that run opposite ways: the odd one is refused", "[flank]") {
    FlankOutline a = plainOutline(), b = plainOutline(), c = plainOutline();
    for (auto& p : b.corners) p.y -= 350;
    std::swap(c.corners[0], c.corners[3]);
    std::swap(c.corners[1], c.corners[2]);
    const auto result = rectifyFlanks(blankPhoto(), {a, b, c});
    CHECK(bool(result[0]));
    CHECK(bool(result[1]));
    REQUIRE_FALSE(bool(result[2]));
    CHECK(result[2].refused().why == Refusal::OutlineUnusable);
}

TEST_CASE("the flank's grid holds the real surface to a micrometre", "[flank]") {
    for (const Side side : kSides) {
        const GearSet set = axleSet(Hand::Left);
        const Blank blank = designBlank(set);
        const flank::FlankGrid grid = flank::makeFlankGrid(set, blank, side);
        const RingFlank exact(set, blank, side);
        for (int j = 0; j < kFlankGridV; j += 3)
            for (int i = 0; i < kFlankGridU; i += 3) {
                const Eigen::Vector3d want =
                    mirroredFor(set, exact.at(i / double(kFlankGridU - 1), j / double(kFlankGridV - 1)).position);
                CHECK((grid.at(i, j) - want).norm() < 1e-3);
            }
    }
}

TEST_CASE("without a gear set a typical flank's curvature beats a flat patch", "[flank]") {
    for (const Hand hand : {Hand::Right, Hand::Left})
        for (const Side side : kSides) {
            const View view(axleSet(hand), side, 240, 15, 25, 2000);
            const auto result = rectifyFlank(blankPhoto(), view.outline(false));
            const auto flat = rectifyFlank(blankPhoto(), view.nameless(false));
            REQUIRE(bool(result));
            REQUIRE(bool(flat));
            CHECK(result.value().shape == FlankShape::Typical);
            CHECK(flat.value().shape == FlankShape::Flat);
            CHECK(gridError(result.value(), view).mean < 0.5 * gridError(flat.value(), view).mean);
        }
}
