// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "shimsight/flank_camera.h"
#include "shimsight/least_squares.h"
#include "shimsight/outline_geometry.h"
#include "shimsight/smooth_grid.h"

namespace shimsight::flank {
namespace {

/// Focal length over the picture's long side: phones and compact cameras run from about 0.65 (wide) to 2.5 (tele); the
/// usual main camera (24 to 28 mm on a 36 mm film) has 0.72.
constexpr double kFocalMeanShare = 0.95;
/// A focal length that the camera noted counts for this much (cropping and zooming change it), if it lies within sane
/// bounds.
constexpr double kNotedFocalLogSigma = 0.15;
constexpr Interval kNotedFocalSane{0.3, 6.0};
constexpr std::array kFocalStarts{0.75, 1.5};
/// Points are taken to be good to this share of the flank's length (a careful hand), at least half a pixel.
constexpr double kPointSigmaShare = 0.004;
constexpr double kPointSigmaMinPx = 0.5;
/// Points met this closely (share of the flank's length, root mean square) need no second start.
constexpr double kMetShare = 0.01;
/// Teeth searched on either side of the first one.
constexpr int kToothReach = 12;

constexpr std::array<std::array<int, 2>, 4> kCornerCells{
    {{0, 0}, {0, kFlankGridV - 1}, {kFlankGridU - 1, kFlankGridV - 1}, {kFlankGridU - 1, 0}}};

double pointSigma(const FlankOutline& outline) {
    return std::max(kPointSigmaMinPx, kPointSigmaShare * outlineLength(outline));
}

/// One edge of the grid as points: 0 root, 1 tip (toe to heel), 2 toe, 3 heel (root to tip).
std::vector<Eigen::Vector3d> edgePoints(const FlankGrid& grid, int edge) {
    std::vector<Eigen::Vector3d> out;
    if (edge < 2) {
        for (int i = 0; i < kFlankGridU; i += 2) out.push_back(grid.at(i, edge == 0 ? 0 : kFlankGridV - 1));
    } else {
        for (int j = 0; j < kFlankGridV; j += 2) out.push_back(grid.at(edge == 2 ? 0 : kFlankGridU - 1, j));
    }
    return out;
}

const std::vector<PixelPoint>& edgePoints(const FlankOutline& outline, int edge) {
    switch (edge) {
        case 0:
            return outline.rootEdge;
        case 1:
            return outline.tipEdge;
        case 2:
            return outline.toeEdge;
        default:
            return outline.heelEdge;
    }
}

constexpr double kBehind = 1e4;  // px, residual of a point behind the camera

/// Residuals of one flank's points in px: two for each corner, one (distance square to the edge) for each edge point.
void appendResiduals(const Camera& camera, const OutlinedFlank& flank, std::vector<double>& out) {
    const double turn = flank.tooth * flank.grid->toothTurn, cosine = std::cos(turn), sine = std::sin(turn);
    const auto onTooth = [&](const Eigen::Vector3d& p) {  // `turned` for many points
        return Eigen::Vector3d(cosine * p.x() - sine * p.y(), sine * p.x() + cosine * p.y(), p.z());
    };
    for (std::size_t c = 0; c < 4; ++c) {
        const auto p = camera.project(onTooth(flank.grid->at(kCornerCells[c][0], kCornerCells[c][1])));
        out.push_back(p ? p->x - flank.outline->corners[c].x : kBehind);
        out.push_back(p ? p->y - flank.outline->corners[c].y : kBehind);
    }
    for (int edge = 0; edge < 4; ++edge) {
        const auto& points = edgePoints(*flank.outline, edge);
        if (points.empty()) continue;
        std::vector<PixelPoint> line;
        for (const auto& point : edgePoints(*flank.grid, edge))
            if (const auto p = camera.project(onTooth(point))) line.push_back(*p);
        for (const auto& point : points) {
            if (line.size() < 2) {
                out.push_back(kBehind);
                continue;
            }
            const NearestOnLine near = nearestOnLine(line, point);
            out.push_back(near.signedDistance);
        }
    }
}

struct Problem {
    const std::vector<OutlinedFlank>& flanks;
    CameraFamily cameras;
    FocalPrior prior;
    std::vector<double> sigma;

    Eigen::VectorXd residual(const Eigen::VectorXd& x) const {
        const Camera now = cameras.at(x);
        std::vector<double> all;
        for (std::size_t k = 0; k < flanks.size(); ++k) {
            const std::size_t first = all.size();
            appendResiduals(now, flanks[k], all);
            for (std::size_t i = first; i < all.size(); ++i) all[i] /= sigma[k];
        }
        all.push_back((x(6) - prior.logMean) / prior.logSigma);
        if (x.size() > 7) all.push_back(x(7) / kLensSigma);
        return Eigen::Map<Eigen::VectorXd>(all.data(), static_cast<Eigen::Index>(all.size()));
    }
};

/// Poses of a nearly flat patch from its homography: the direct one and the one mirrored in depth (a flat target seen
/// from afar allows both; the curved flank and perspective decide).
std::vector<Camera> startCameras(const OutlinedFlank& flank, PixelPoint centre, double focalPx) {
    const auto& grid = *flank.grid;
    std::array<Eigen::Vector3d, 4> corner;
    Eigen::Vector3d middle = Eigen::Vector3d::Zero();
    for (std::size_t c = 0; c < 4; ++c) {
        corner[c] = turned(grid.at(kCornerCells[c][0], kCornerCells[c][1]), flank.tooth * grid.toothTurn);
        middle += corner[c] / 4;
    }
    const Eigen::Vector3d along = (corner[2] + corner[3] - corner[0] - corner[1]).normalized();
    Eigen::Vector3d up = corner[1] + corner[2] - corner[0] - corner[3];
    up = (up - along * along.dot(up)).normalized();
    Eigen::Matrix3d gearFromPatch;
    gearFromPatch << along, up, along.cross(up);

    std::array<PixelPoint, 4> from, to;
    for (std::size_t c = 0; c < 4; ++c) {
        const Eigen::Vector3d q = gearFromPatch.transpose() * (corner[c] - middle);
        from[c] = {q.x(), q.y()};
        to[c] = {(flank.outline->corners[c].x - centre.x) / focalPx,
                 (flank.outline->corners[c].y - centre.y) / focalPx};
    }
    const auto homography = homographyBetween(from, to);
    if (!homography) return {};
    Eigen::Matrix3d h = *homography;
    h /= 0.5 * (h.col(0).norm() + h.col(1).norm());
    if (h(2, 2) < 0) h = -h;
    Eigen::Matrix3d raw;
    raw << h.col(0), h.col(1), h.col(0).cross(h.col(1));
    const Eigen::JacobiSVD<Eigen::Matrix3d> svd(raw, Eigen::ComputeFullU | Eigen::ComputeFullV);
    Eigen::Matrix3d turn = svd.matrixU() * svd.matrixV().transpose();
    if (turn.determinant() < 0)
        turn = svd.matrixU() * Eigen::Vector3d(1, 1, -1).asDiagonal() * svd.matrixV().transpose();
    const Eigen::Vector3d place = h.col(2);

    std::vector<Camera> out;
    const Eigen::Vector3d sight = place.normalized();
    const Eigen::Matrix3d mirror = Eigen::Matrix3d::Identity() - 2 * sight * sight.transpose();
    Eigen::Matrix3d other;
    const Eigen::Vector3d a = mirror * turn.col(0), b = mirror * turn.col(1);
    other << a, b, a.cross(b);
    for (const Eigen::Matrix3d& cameraFromPatch : {turn, other}) {
        Camera camera;
        camera.centre = centre;
        camera.focalPx = focalPx;
        camera.cameraFromGear = cameraFromPatch * gearFromPatch.transpose();
        camera.gearInCamera = place - camera.cameraFromGear * middle;
        out.push_back(camera);
    }
    return out;
}

struct Refined {
    Camera camera;
    double cost = std::numeric_limits<double>::infinity();
};

Refined refine(const std::vector<OutlinedFlank>& flanks, const Camera& start, const PictureSize& size,
               const LeastSquaresOptions& options = {}, bool fitLens = false) {
    Eigen::Vector3d pivot = Eigen::Vector3d::Zero();
    std::vector<double> sigma;
    for (const auto& flank : flanks) {
        pivot += turned(flank.grid->at(kFlankGridU / 2, kFlankGridV / 2), flank.tooth * flank.grid->toothTurn) /
                 static_cast<double>(flanks.size());
        sigma.push_back(pointSigma(*flank.outline));
    }
    const Problem problem{flanks, CameraFamily::about(start, size, pivot), focalPrior(size), std::move(sigma)};
    const auto fit = minimise([&](const Eigen::VectorXd& at) { return problem.residual(at); },
                              problem.cameras.startAt(fitLens ? 8 : 7), options);
    return {problem.cameras.at(fit.x), fit.cost};
}

std::vector<double> residualsOf(const Camera& camera, const std::vector<OutlinedFlank>& flanks) {
    std::vector<double> out;
    for (const auto& flank : flanks) {
        std::vector<double> r;
        appendResiduals(camera, flank, r);
        double sum = 0;
        for (const double value : r) sum += value * value;
        // Two numbers make one corner, one number makes one edge point.
        const double points = 4.0 + static_cast<double>(r.size() - 8);
        out.push_back(std::sqrt(sum / points));
    }
    return out;
}

}  // namespace

Eigen::Matrix3d rotationOf(const Eigen::Vector3d& rotationVector) {
    const double angle = rotationVector.norm();
    if (angle < 1e-12) return Eigen::Matrix3d::Identity();
    return Eigen::AngleAxisd(angle, rotationVector / angle).toRotationMatrix();
}

Eigen::Vector3d turned(const Eigen::Vector3d& point, double angle) {
    const double c = std::cos(angle), s = std::sin(angle);
    return {c * point.x() - s * point.y(), s * point.x() + c * point.y(), point.z()};
}

PictureSize pictureSize(const Photo& photo) {
    std::optional<double> focal;
    if (photo.notes.focalLength35mm)
        focal = *photo.notes.focalLength35mm / kFilmDiagonalMm * std::hypot(photo.fullWidth, photo.fullHeight);
    return {photo.fullWidth, photo.fullHeight, focal};
}

std::array<FlankGrid, 2> gridsOf(const GearSet& gearSet) {
    const Blank blank = designBlank(gearSet);
    return {makeFlankGrid(gearSet, blank, Side::Drive), makeFlankGrid(gearSet, blank, Side::Coast)};
}

namespace {

std::array<FlankGrid, 2> makeTypicalGrids(Cut cut, Hand hand) {
    GearSetData data;
    data.name = "typical";
    data.pinionTeeth = 10;
    data.ringTeeth = 41;
    data.ringGearDiameterMm = 200;
    data.offsetMm = 32;
    data.cut = cut;
    data.hand = hand;
    return gridsOf(completeGearSet(data));
}

}  // namespace

const std::array<FlankGrid, 2>& typicalGrids(Cut cut, Hand hand) {
    static const std::array<std::array<FlankGrid, 2>, 4> all{
        makeTypicalGrids(Cut::FaceMilled, Hand::Right), makeTypicalGrids(Cut::FaceMilled, Hand::Left),
        makeTypicalGrids(Cut::FaceHobbed, Hand::Right), makeTypicalGrids(Cut::FaceHobbed, Hand::Left)};
    return all[(cut == Cut::FaceMilled ? 0U : 2U) + (hand == Hand::Right ? 0U : 1U)];
}

FlankGrid makeFlankGrid(const GearSet& gearSet, const Blank& blank, Side side) {
    const RingFlank flank(gearSet, blank, side);
    const bool left = gearSet.hand == Hand::Left;
    FlankGrid out;
    out.toothTurn = 2 * kPi / gearSet.ringTeeth;
    out.points.resize(static_cast<std::size_t>(kFlankGridU) * kFlankGridV);
    // The exact surface on few nodes and polynomials between: a flank is so smooth that this is good to a micrometre
    // (tested).
    constexpr int nodesU = 9, nodesV = 5;
    std::array<Eigen::Vector3d, static_cast<std::size_t>(nodesU * nodesV)> node;
    for (int j = 0; j < nodesV; ++j)
        for (int i = 0; i < nodesU; ++i) {
            Eigen::Vector3d p = flank.at(nodePlace(i, nodesU), nodePlace(j, nodesV)).position;
            if (left) p.y() = -p.y();
            node[static_cast<std::size_t>(j * nodesU + i)] = p;
        }
    const Eigen::MatrixXd weightU = nodeWeights(nodesU, evenPlaces(kFlankGridU)),
                          weightV = nodeWeights(nodesV, evenPlaces(kFlankGridV));
    for (int j = 0; j < kFlankGridV; ++j) {
        std::array<Eigen::Vector3d, static_cast<std::size_t>(nodesU)> row;
        for (int ii = 0; ii < nodesU; ++ii) {
            Eigen::Vector3d& sum = row[static_cast<std::size_t>(ii)] = Eigen::Vector3d::Zero();
            for (int jj = 0; jj < nodesV; ++jj)
                sum += weightV(j, jj) * node[static_cast<std::size_t>(jj * nodesU + ii)];
        }
        for (int i = 0; i < kFlankGridU; ++i) {
            Eigen::Vector3d sum = Eigen::Vector3d::Zero();
            for (int ii = 0; ii < nodesU; ++ii) sum += weightU(i, ii) * row[static_cast<std::size_t>(ii)];
            out.points[static_cast<std::size_t>(j * kFlankGridU + i)] = sum;
        }
    }
    // Seen against the outward normal, y down, clockwise corners have a positive signed area.
    Eigen::Vector3d normal = flank.at(0.5, 0.5).normal;
    if (left) normal.y() = -normal.y();
    const Eigen::Vector3d diagonal1 = out.at(kFlankGridU - 1, kFlankGridV - 1) - out.at(0, 0);
    const Eigen::Vector3d diagonal2 = out.at(kFlankGridU - 1, 0) - out.at(0, kFlankGridV - 1);
    out.windingInPicture = diagonal1.cross(diagonal2).dot(normal) < 0 ? 1 : -1;
    return out;
}

FocalPrior focalPrior(const PictureSize& size, double logSigma) {
    const double longSide = std::max(size.width, size.height);
    if (size.focalPx && *size.focalPx > kNotedFocalSane.low * longSide &&
        *size.focalPx < kNotedFocalSane.high * longSide)
        return {std::log(*size.focalPx / longSide), kNotedFocalLogSigma};
    return {std::log(kFocalMeanShare), logSigma};
}

CameraFamily CameraFamily::about(const Camera& start, const PictureSize& size, const Eigen::Vector3d& pivot) {
    return {.start = start,
            .longSide = static_cast<double>(std::max(size.width, size.height)),
            .pivot = pivot,
            .pivotInCamera = start.cameraFromGear * pivot + start.gearInCamera};
}

Camera CameraFamily::at(const Eigen::VectorXd& x) const {
    Camera out = start;
    if (x.size() > 7) out.k1 = x(7);
    out.focalPx = longSide * std::exp(x(6));
    out.cameraFromGear = rotationOf(x.head<3>()) * start.cameraFromGear;
    out.gearInCamera = pivotInCamera + pivotInCamera.z() * x.segment<3>(3) - out.cameraFromGear * pivot;
    return out;
}

Eigen::VectorXd CameraFamily::startAt(Eigen::Index count) const {
    Eigen::VectorXd x = Eigen::VectorXd::Zero(count);
    x(6) = std::log(start.focalPx / longSide);
    if (count > 7) x(7) = start.k1;
    return x;
}

std::optional<PixelPoint> Camera::project(const Eigen::Vector3d& inGear) const {
    return projectSeen(cameraFromGear * inGear + gearInCamera);
}

std::optional<PixelPoint> Camera::projectSeen(const Eigen::Vector3d& inCamera) const {
    if (inCamera.z() < 1e-3) return std::nullopt;
    const double x = inCamera.x() / inCamera.z(), y = inCamera.y() / inCamera.z();
    // Far off the axis the polynomial would fold back: there it stays as it is at 60 degrees.
    const double bent = focalPx * (1 + k1 * std::min(x * x + y * y, 3.0));
    return PixelPoint{centre.x + bent * x, centre.y + bent * y};
}

bool facesCamera(const Camera& camera, const FlankGrid& grid, double turn) {
    // The winding of its corners in the picture says so.
    std::array<PixelPoint, 4> corners;
    for (std::size_t c = 0; c < 4; ++c) {
        const auto p = camera.project(turned(grid.at(kCornerCells[c][0], kCornerCells[c][1]), turn));
        if (!p) return false;
        corners[c] = *p;
    }
    return signedArea(corners) * grid.windingInPicture > 0;
}

CameraFit refinedCamera(const Camera& start, const std::vector<OutlinedFlank>& flanks, const PictureSize& size) {
    const Refined refined = refine(flanks, start, size, {.maxIterations = 12, .relativeDecrease = 1e-3});
    CameraFit out{refined.camera, {}, residualsOf(refined.camera, flanks)};
    for (const OutlinedFlank& flank : flanks) out.tooth.push_back(flank.tooth);
    return out;
}

std::vector<CameraFit> camerasOf(const OutlinedFlank& flank, const PictureSize& size) {
    const PixelPoint centre{size.width / 2.0, size.height / 2.0};
    const double longSide = std::max(size.width, size.height);
    std::vector<Refined> found;
    for (const double share : kFocalStarts)
        for (const Camera& start : startCameras(flank, centre, share * longSide)) {
            const Refined refined = refine({flank}, start, size, {.maxIterations = 12, .relativeDecrease = 1e-3});
            if (std::isfinite(refined.cost) &&
                facesCamera(refined.camera, *flank.grid, flank.tooth * flank.grid->toothTurn))
                found.push_back(refined);
        }
    std::stable_sort(found.begin(), found.end(), [](const Refined& a, const Refined& b) { return a.cost < b.cost; });
    std::vector<CameraFit> out;
    for (const Refined& one : found) out.push_back({one.camera, {flank.tooth}, residualsOf(one.camera, {flank})});
    return out;
}

std::optional<CameraFit> fitCamera(const OutlinedFlank& flank, const PictureSize& size) {
    const std::vector<CameraFit> starts = camerasOf(flank, size);
    if (starts.empty()) return std::nullopt;
    const Refined best = refine({flank}, starts.front().camera, size);
    return CameraFit{best.camera, {flank.tooth}, residualsOf(best.camera, {flank})};
}

std::optional<CameraFit> fitCamera(const std::vector<OutlinedFlank>& flanks, const PictureSize& size) {
    if (flanks.empty()) return std::nullopt;
    // Step 1: each flank in turn gives a camera; the one that explains all points best numbers the teeth.
    std::optional<CameraFit> best;
    double bestScore = std::numeric_limits<double>::infinity();
    const std::size_t tries = std::min<std::size_t>(flanks.size(), 3);
    for (std::size_t s = 0; s < tries; ++s) {
        OutlinedFlank first = flanks[s * flanks.size() / tries];
        first.tooth = 0;
        const auto single = fitCamera(first, size);
        if (!single) continue;
        std::vector<OutlinedFlank> candidate = flanks;
        for (auto& flank : candidate) {
            double nearest = std::numeric_limits<double>::infinity();
            int tooth = 0;
            for (int k = -kToothReach; k <= kToothReach; ++k) {
                flank.tooth = k;
                const double r = residualsOf(single->camera, {flank})[0] / outlineLength(*flank.outline);
                if (r < nearest) {
                    nearest = r;
                    tooth = k;
                }
            }
            flank.tooth = tooth;
        }
        // Step 2: refine together.
        const Refined refined = refine(candidate, single->camera, size, {}, candidate.size() > 1);
        if (!std::isfinite(refined.cost)) continue;
        if (refined.cost < bestScore) {
            bestScore = refined.cost;
            CameraFit fit{refined.camera, {}, residualsOf(refined.camera, candidate)};
            for (const auto& flank : candidate) fit.tooth.push_back(flank.tooth);
            best = fit;
            // All points met: another start would find the same.
            bool met = true;
            for (std::size_t k = 0; k < flanks.size(); ++k)
                met = met && fit.residualPx[k] < kMetShare * outlineLength(*flanks[k].outline);
            if (met) break;
        }
    }
    return best;
}

std::vector<PixelPoint> projectGridTurned(const Camera& camera, const FlankGrid& grid, double turn) {
    std::vector<PixelPoint> out;
    for (int j = kFlankGridV - 1; j >= 0; --j)
        for (int i = 0; i < kFlankGridU; ++i) {
            const auto p = camera.project(turned(grid.at(i, j), turn));
            if (!p) return {};
            out.push_back(*p);
        }
    return out;
}

std::vector<PixelPoint> projectGrid(const Camera& camera, const FlankGrid& grid, int tooth) {
    return projectGridTurned(camera, grid, tooth * grid.toothTurn);
}

}  // namespace shimsight::flank
