#include "teeth/gear_camera.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "flank/levenberg.h"
#include "flank/warp.h"

namespace shimsight::teeth {
namespace {

using flank::Camera;
using flank::FlankGrid;
using flank::rotationOf;
using flank::turned;

/// Places on the flank that are compared, as grid nodes (33 x 17).
constexpr std::array kColumns{2, 9, 16, 23, 30};
constexpr std::array kRows{2, 8, 14};
/// How well a warp knows u and v (the network's card: common shift 0.01 to 0.02, v the weaker).
constexpr double kSigmaU = 0.02, kSigmaV = 0.04;
/// Root mean square departure, in those sigmas, from where a flank counts less (Cauchy).
constexpr double kRobust = 2;
constexpr double kFarOff = 1.0;  // du or dv beyond this says no more
/// Focal length over the picture's long side as in flank/camera_fit.cpp: mostly a phone's main camera.
constexpr double kFocalMeanShare = 0.95, kFocalLogSigma = 0.30;
constexpr double kNotedFocalLogSigma = 0.15;
constexpr int kToothReach = 20;
constexpr std::size_t kStarts = 4;
/// A start that explains the flanks this well needs no other beside it (rendered photos: the right gear set ends at 0.3
/// to 0.6, another one beyond 1).
constexpr double kExplained = 0.6;
/// Flanks in reach of a start are numbered first, nearest first; a tooth whose departure is beyond this is not
/// numbered.
constexpr double kNumberedWithin = 0.25;

/// du, dv of the flank's places under the camera, in sigmas.
void appendDepartures(const Camera& camera, const WarpedFlank& flank, const FlankGrid& grid, double turn,
                      std::vector<double>& out) {
    for (const int j : kRows)
        for (const int i : kColumns) {
            const auto p = camera.project(turned(grid.at(i, j), turn));
            double du = kFarOff, dv = kFarOff;
            if (p) {
                const PixelPoint q = flank.region.toInput(*p);
                const Eigen::Vector2d uv = flank.warp->uvAt(q.x, q.y);
                du = std::clamp(uv.x() - i / double(kUnwrapGridU - 1), -kFarOff, kFarOff);
                dv = std::clamp(uv.y() - j / double(kUnwrapGridV - 1), -kFarOff, kFarOff);
            }
            out.push_back(du / kSigmaU);
            out.push_back(dv / kSigmaV);
        }
}

double rootMeanSquare(const std::vector<double>& values) {
    double sum = 0;
    for (const double value : values) sum += value * value;
    return std::sqrt(sum / static_cast<double>(std::max<std::size_t>(1, values.size())));
}

double departureOf(const Camera& camera, const WarpedFlank& flank, const FlankGrid& grid, double turn) {
    std::vector<double> r;
    appendDepartures(camera, flank, grid, turn, r);
    return rootMeanSquare(r);
}

/// The polynomials of a warp mean nothing far from the flank, so a tooth is first told by where its middle falls.
double middleDistance(const Camera& camera, const WarpedFlank& flank, const FlankGrid& grid, double turn) {
    const auto p = camera.project(turned(grid.at(kUnwrapGridU / 2, kUnwrapGridV / 2), turn));
    if (!p) return std::numeric_limits<double>::infinity();
    PixelPoint middle;
    for (const PixelPoint& c : flank.outline.corners) middle.x += c.x / 4, middle.y += c.y / 4;
    return std::hypot(p->x - middle.x, p->y - middle.y) /
           std::max(1.0, std::sqrt(std::abs(flank::signedArea(flank.outline.corners))));
}

struct Problem {
    const std::vector<WarpedFlank>& flanks;
    const std::array<FlankGrid, 2>& grids;
    const std::vector<int>& tooth;
    std::vector<double> weight;  // root of, per flank; 0: not used
    bool fitTurn = false;
    double startTurnAngle = 0;
    PixelPoint centre;
    double longSide = 1, focalMean = 0, focalSigma = 1;
    Eigen::Vector3d pivot;
    Eigen::Matrix3d startTurn;
    Eigen::Vector3d startPivot;

    Camera camera(const Eigen::VectorXd& x) const {
        Camera out;
        out.centre = centre;
        out.focalPx = longSide * std::exp(x(6));
        out.cameraFromGear = rotationOf(x.head<3>()) * startTurn;
        const Eigen::Vector3d pivotInCamera = startPivot + startPivot.z() * x.segment<3>(3);
        out.gearInCamera = pivotInCamera - out.cameraFromGear * pivot;
        return out;
    }
    double toothTurn(const Eigen::VectorXd& x) const {
        return fitTurn ? startTurnAngle * std::exp(x(7)) : startTurnAngle;
    }
    Eigen::VectorXd residual(const Eigen::VectorXd& x) const {
        const Camera now = camera(x);
        const double turn = toothTurn(x);
        std::vector<double> all;
        for (std::size_t k = 0; k < flanks.size(); ++k) {
            if (weight[k] <= 0) continue;
            const std::size_t first = all.size();
            appendDepartures(now, flanks[k], grids[index(flanks[k].side)], tooth[k] * turn, all);
            for (std::size_t i = first; i < all.size(); ++i) all[i] *= weight[k];
        }
        all.push_back((x(6) - focalMean) / focalSigma);
        if (fitTurn) all.push_back(x(7) / 0.3);
        return Eigen::Map<Eigen::VectorXd>(all.data(), static_cast<Eigen::Index>(all.size()));
    }
};

struct State {
    Camera camera;
    double turn = 0;
    std::vector<int> tooth;
    std::vector<double> departure;  // in sigmas
    double cost = std::numeric_limits<double>::infinity();
};

double robustCost(const std::vector<WarpedFlank>& flanks, const std::vector<double>& departure) {
    double sum = 0, weights = 0;
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        const double r = departure[k] / kRobust;
        sum += flanks[k].weight * std::log1p(r * r);
        weights += flanks[k].weight;
    }
    return sum / std::max(1e-9, weights);
}

/// Numbers the teeth by the camera: where each flank's middle falls nearest.
void number(State& state, const std::vector<WarpedFlank>& flanks, const std::array<FlankGrid, 2>& grids) {
    state.tooth.assign(flanks.size(), 0);
    state.departure.assign(flanks.size(), 0);
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        const FlankGrid& grid = grids[index(flanks[k].side)];
        double nearest = std::numeric_limits<double>::infinity();
        for (int t = -kToothReach; t <= kToothReach; ++t) {
            const double d = middleDistance(state.camera, flanks[k], grid, t * state.turn);
            if (d < nearest) nearest = d, state.tooth[k] = t;
        }
        state.departure[k] = departureOf(state.camera, flanks[k], grid, state.tooth[k] * state.turn);
        if (nearest > kNumberedWithin) state.departure[k] = std::max(state.departure[k], 10.0);
    }
    state.cost = robustCost(flanks, state.departure);
}

State improved(const State& start, const std::vector<WarpedFlank>& flanks, const std::array<FlankGrid, 2>& grids,
               bool fitTurn, const flank::PictureSize& size, int iterations) {
    Problem problem{flanks, grids, start.tooth, {}, fitTurn, start.turn, start.camera.centre, 1, 0, 1, {}, {}, {}};
    problem.longSide = std::max(size.width, size.height);
    problem.focalMean = std::log(kFocalMeanShare);
    problem.focalSigma = kFocalLogSigma;
    if (size.focalPx) {
        problem.focalMean = std::log(*size.focalPx / problem.longSide);
        problem.focalSigma = kNotedFocalLogSigma;
    }
    double weights = 0;
    problem.pivot.setZero();
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        const double r = start.departure[k] / kRobust;
        const double w = flanks[k].weight / (1 + r * r);
        // Points of one flank share their errors: together they count as two or so.
        problem.weight.push_back(start.departure[k] > 8 ? 0 : std::sqrt(w / 8));
        problem.pivot += w * turned(grids[index(flanks[k].side)].at(kUnwrapGridU / 2, kUnwrapGridV / 2),
                                    start.tooth[k] * start.turn);
        weights += w;
    }
    problem.pivot /= std::max(1e-12, weights);
    problem.startTurn = start.camera.cameraFromGear;
    problem.startPivot = start.camera.cameraFromGear * problem.pivot + start.camera.gearInCamera;
    Eigen::VectorXd x = Eigen::VectorXd::Zero(fitTurn ? 8 : 7);
    x(6) = std::log(start.camera.focalPx / problem.longSide);
    const auto fit = flank::minimise([&](const Eigen::VectorXd& at) { return problem.residual(at); }, x,
                                     {.maxIterations = iterations, .relativeDecrease = 1e-4});
    State out = start;
    out.camera = problem.camera(fit.x);
    out.turn = problem.toothTurn(fit.x);
    number(out, flanks, grids);
    return out;
}

}  // namespace

std::optional<GearCamera> fitGearCamera(const std::vector<WarpedFlank>& flanks,
                                        const std::array<flank::FlankGrid, 2>& grids, bool toothTurnKnown,
                                        const flank::PictureSize& size, const GearCamera* startFrom) {
    if (flanks.empty()) return std::nullopt;
    State best;
    if (startFrom != nullptr) {
        best.camera = startFrom->camera;
        best.turn = toothTurnKnown ? grids[0].toothTurn : startFrom->toothTurn;
        number(best, flanks, grids);
        for (int round = 0; round < 4; ++round) best = improved(best, flanks, grids, !toothTurnKnown, size, 6);
    }
    // Step 1: cameras from single flanks, the weightiest first.
    std::vector<std::size_t> order(flanks.size());
    for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return flanks[a].weight > flanks[b].weight; });
    for (std::size_t s = 0; s < std::min(startFrom != nullptr ? 0 : kStarts, order.size()); ++s) {
        const WarpedFlank& first = flanks[order[s]];
        FlankOutline corners;  // the edges' points would only slow the start down
        corners.side = first.side;
        corners.corners = first.outline.corners;
        const flank::MarkedFlank marked{&corners, &grids[index(first.side)], 0};
        const auto single = flank::fitCamera(marked, size);
        if (!single) continue;
        State state;
        state.camera = single->camera;
        state.turn = grids[0].toothTurn;
        // Step 2: the flanks near the first are taken in, then those farther off, as the camera gets better.
        number(state, flanks, grids);
        for (int round = 0; round < 4; ++round) state = improved(state, flanks, grids, !toothTurnKnown, size, 6);
        if (state.cost < best.cost) best = state;
        if (best.cost < kExplained) break;
    }
    if (!std::isfinite(best.cost)) return std::nullopt;
    for (int round = 0; round < 4; ++round) {
        State next = improved(best, flanks, grids, !toothTurnKnown, size, 15);
        const bool done = next.cost > best.cost * 0.999;
        if (next.cost < best.cost) best = std::move(next);
        if (done) break;
    }
    GearCamera out;
    out.camera = best.camera;
    out.toothTurn = best.turn;
    out.tooth = best.tooth;
    out.cost = best.cost;
    for (const double d : best.departure) out.departure.push_back(d * std::hypot(kSigmaU, kSigmaV) / std::sqrt(2.0));
    return out;
}

}  // namespace shimsight::teeth
