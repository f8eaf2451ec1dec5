// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "teeth/gear_camera.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "shimsight/least_squares.h"
#include "shimsight/outline_geometry.h"

namespace shimsight::teeth {
namespace {

using flank::Camera;
using flank::FlankGrid;
using flank::rotationOf;
using flank::turned;

/// Places on the flank that are compared, as grid nodes (33 x 17).
constexpr std::array kColumns{2, 9, 16, 23, 30};
constexpr std::array kRows{2, 8, 14};
/// While a start grows, every second of either is enough.
constexpr std::size_t kCoarse = 2;
/// How well a warp knows u and v (the network's card: common shift 0.01 to 0.02, v the weaker).
constexpr double kSigmaU = 0.02, kSigmaV = 0.04;
/// Root mean square residual, in those sigmas, from where a flank counts less (Cauchy).
constexpr double kRobust = 2;
constexpr double kFarOff = 3.0;  // du or dv beyond this says no more
/// A warp's polynomials hold on the flank and this far around it (u, v); farther off its straight part does.
constexpr double kWarpReach = 0.35;
/// One sigma of the focal length's logarithm where the camera noted none: warps are rougher than corners set by hand,
/// so what phones have counts for more.
constexpr double kFoundFocalLogSigma = 0.30;
constexpr int kToothReach = 20;
/// Flanks that give starts, and starts that are followed.
constexpr std::size_t kStartFlanks = 6, kStarts = 6;
/// A start that explains the flanks this well needs no other beside it (rendered photos: the right gear set ends at 0.3
/// to 0.6, another one beyond 1).
constexpr double kExplained = 0.6;
/// How a start grows into a camera for all flanks, step by step: a flank counts when its middle falls this near to a
/// tooth's (share of the root of its area), and less when it departs by more than this many sigmas.
/// Only as many flanks count as there are in `nearest`, those nearest to the start.
struct Growth {
    double within, robust;
    std::size_t nearest;
};
constexpr std::size_t kAll = 1000;
constexpr std::array<Growth, 5> kGrowth{
    {{0.5, 6, 4}, {0.4, 4, 7}, {0.35, 3, 12}, {0.25, kRobust, kAll}, {0.25, kRobust, kAll}}};
constexpr Growth kGrown = kGrowth.back();
/// A pair of neighbouring flanks gives a start when one camera meets their corners this closely (share of their
/// length; warps' corners are off by 0.03 to 0.06).
constexpr double kPairMet = 0.12;

/// A flank with what is asked of it again and again.
struct Prepared {
    const WarpedFlank* flank;
    Eigen::Matrix2d uvFromPixels;  ///< by the corners of its outline alone, as on a parallelogram, about its middle
    PixelPoint middle;
    double size;  ///< root of its area, px

    explicit Prepared(const WarpedFlank& of) : flank(&of) {
        const auto& c = of.outline.corners;
        Eigen::Matrix2d axes;
        axes << 0.5 * (c[2].x + c[3].x - c[0].x - c[1].x), 0.5 * (c[1].x + c[2].x - c[0].x - c[3].x),
            0.5 * (c[2].y + c[3].y - c[0].y - c[1].y), 0.5 * (c[1].y + c[2].y - c[0].y - c[3].y);
        uvFromPixels = std::abs(axes.determinant()) < 1e-9 ? Eigen::Matrix2d::Zero() : Eigen::Matrix2d(axes.inverse());
        for (const PixelPoint& p : c) middle.x += p.x / 4, middle.y += p.y / 4;
        size = std::max(1.0, std::sqrt(std::abs(flank::signedArea(c))));
    }
    Eigen::Vector2d uvOf(PixelPoint p) const {
        Eigen::Vector2d straight =
            uvFromPixels * Eigen::Vector2d(p.x - middle.x, p.y - middle.y) + Eigen::Vector2d(0.5, 0.5);
        if ((straight.array() < -kWarpReach).any() || (straight.array() > 1 + kWarpReach).any()) return straight;
        const PixelPoint q = flank->region.toInput(p);
        return flank->warp->uvAt(q.x, q.y);
    }
    double distance(PixelPoint p) const { return std::hypot(p.x - middle.x, p.y - middle.y) / size; }
};

/// What is to be explained, by what.
struct Task {
    std::vector<Prepared> flanks;
    const std::array<FlankGrid, 2>& grids;
    bool fitTurn;
    const flank::PictureSize& size;
    const FlankGrid& gridOf(std::size_t k) const { return grids[index(flanks[k].flank->side)]; }
    double weight(std::size_t k) const { return flanks[k].flank->weight; }
};

/// The gear turned by an angle about its axis, in the camera's frame.
Eigen::Matrix3d cameraFromTurned(const Camera& camera, double turn) {
    return camera.cameraFromGear * Eigen::AngleAxisd(turn, Eigen::Vector3d::UnitZ()).toRotationMatrix();
}

/// du, dv of the flank's places under the camera, in sigmas.
void appendResiduals(const Camera& camera, const Prepared& flank, const FlankGrid& grid, double turn, std::size_t step,
                     std::vector<double>& out) {
    const Eigen::Matrix3d turned = cameraFromTurned(camera, turn);
    for (std::size_t row = 0; row < kRows.size(); row += step)
        for (std::size_t column = 0; column < kColumns.size(); column += step) {
            const int i = kColumns[column], j = kRows[row];
            const auto p = camera.projectSeen(turned * grid.at(i, j) + camera.gearInCamera);
            double du = kFarOff, dv = kFarOff;
            if (p) {
                const Eigen::Vector2d uv = flank.uvOf(*p);
                du = std::clamp(uv.x() - i / double(kFlankGridU - 1), -kFarOff, kFarOff);
                dv = std::clamp(uv.y() - j / double(kFlankGridV - 1), -kFarOff, kFarOff);
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

double residualOf(const Camera& camera, const Prepared& flank, const FlankGrid& grid, double turn) {
    std::vector<double> r;
    appendResiduals(camera, flank, grid, turn, 1, r);
    return rootMeanSquare(r);
}

/// For each flank its place in the order of distance from one of them, 0 for that one itself.
std::vector<std::size_t> ranksByDistance(const Task& task, std::size_t from) {
    std::vector<double> distance;
    for (const Prepared& flank : task.flanks) distance.push_back(task.flanks[from].distance(flank.middle));
    std::vector<std::size_t> rank;
    for (const double one : distance)
        rank.push_back(static_cast<std::size_t>(
            std::count_if(distance.begin(), distance.end(), [&](double d) { return d < one; })));
    return rank;
}

/// x: as CameraFamily's, and, where it is fitted, the logarithm of the angle between teeth over its start.
struct Problem {
    const Task& task;
    const std::vector<int>& tooth;
    std::vector<double> weight;  // root of, per flank; 0: not used
    std::size_t step = 1;        // of the places on a flank
    double startTurnAngle = 0;
    flank::FocalPrior focal{};
    flank::CameraFamily cameras{};

    double toothTurn(const Eigen::VectorXd& x) const {
        return task.fitTurn ? startTurnAngle * std::exp(x(8)) : startTurnAngle;
    }
    Eigen::VectorXd residual(const Eigen::VectorXd& x) const {
        const Camera now = cameras.at(x);
        const double turn = toothTurn(x);
        std::vector<double> all;
        all.reserve(task.flanks.size() * 2 * kColumns.size() * kRows.size() + 3);
        for (std::size_t k = 0; k < task.flanks.size(); ++k) {
            if (weight[k] <= 0) continue;
            const std::size_t first = all.size();
            appendResiduals(now, task.flanks[k], task.gridOf(k), tooth[k] * turn, step, all);
            for (std::size_t i = first; i < all.size(); ++i) all[i] *= weight[k];
        }
        all.push_back((x(6) - focal.logMean) / focal.logSigma);
        all.push_back(x(7) / flank::kLensSigma);
        if (task.fitTurn) all.push_back(x(8) / 0.3);
        return Eigen::Map<Eigen::VectorXd>(all.data(), static_cast<Eigen::Index>(all.size()));
    }
};

struct State {
    Camera camera;
    double turn = 0;
    std::vector<int> tooth;
    std::vector<double> residual;  // in sigmas
    std::vector<bool> numbered;    // near enough to its tooth to count
    std::size_t start = 0;         // the flank that it began with
    double cost = std::numeric_limits<double>::infinity();
};

/// A flank that is near no tooth departs by at least this, in sigmas.
constexpr double kNotNumbered = 10;

double robustCost(const Task& task, const std::vector<double>& residual, double robust) {
    double sum = 0, weights = 0;
    for (std::size_t k = 0; k < task.flanks.size(); ++k) {
        const double r = residual[k] / robust;
        sum += task.weight(k) * std::log1p(r * r);
        weights += task.weight(k);
    }
    return sum / std::max(1e-9, weights);
}

/// Numbers the teeth by the camera: where each flank's middle falls nearest, on a tooth that shows this side. (The
/// polynomials of a warp mean nothing far from the flank, so the residual comes second.)
void number(State& state, const Task& task, const Growth& growth) {
    const std::size_t n = task.flanks.size();
    state.tooth.assign(n, 0);
    state.residual.assign(n, 0);
    state.numbered.assign(n, false);
    const std::vector<std::size_t> rank = ranksByDistance(task, state.start);
    std::array<std::vector<std::optional<PixelPoint>>, 2> middles;  // of the teeth of either side
    for (int t = -kToothReach; t <= kToothReach; ++t) {
        const Eigen::Matrix3d turned = cameraFromTurned(state.camera, t * state.turn);
        for (const Side side : kSides)
            middles[index(side)].push_back(state.camera.projectSeen(
                turned * task.grids[index(side)].at(kFlankGridU / 2, kFlankGridV / 2) + state.camera.gearInCamera));
    }
    for (std::size_t k = 0; k < n; ++k) {
        const FlankGrid& grid = task.gridOf(k);
        double nearest = std::numeric_limits<double>::infinity();
        for (int t = -kToothReach; t <= kToothReach; ++t) {
            const auto& p = middles[index(task.flanks[k].flank->side)][static_cast<std::size_t>(t + kToothReach)];
            const double d = p ? task.flanks[k].distance(*p) : std::numeric_limits<double>::infinity();
            if (d < nearest && (d > growth.within || flank::facesCamera(state.camera, grid, t * state.turn)))
                nearest = d, state.tooth[k] = t;
        }
        state.residual[k] = residualOf(state.camera, task.flanks[k], grid, state.tooth[k] * state.turn);
        state.numbered[k] = nearest <= growth.within && rank[k] < growth.nearest;
        if (!state.numbered[k]) state.residual[k] = std::max(state.residual[k], kNotNumbered * growth.robust / kRobust);
    }
    state.cost = robustCost(task, state.residual, growth.robust);
}

State improved(const State& start, const Task& task, const Growth& growth, int iterations, std::size_t detail = 1) {
    Problem problem{.task = task,
                    .tooth = start.tooth,
                    .weight = {},
                    .step = detail,
                    .startTurnAngle = start.turn,
                    .focal = flank::focalPrior(task.size, kFoundFocalLogSigma)};
    Eigen::Vector3d pivot = Eigen::Vector3d::Zero();
    double weights = 0;
    for (std::size_t k = 0; k < task.flanks.size(); ++k) {
        const double r = start.residual[k] / growth.robust;
        const double w = start.numbered[k] ? task.weight(k) / (1 + r * r) : 0;
        // Points of one flank share their errors: together they count as two or so.
        problem.weight.push_back(std::sqrt(w * (detail == 1 ? 1 : 2.5) / 8));
        pivot += w * turned(task.gridOf(k).at(kFlankGridU / 2, kFlankGridV / 2), start.tooth[k] * start.turn);
        weights += w;
    }
    problem.cameras = flank::CameraFamily::about(start.camera, task.size, pivot / std::max(1e-12, weights));
    const auto fit = flank::minimise([&](const Eigen::VectorXd& at) { return problem.residual(at); },
                                     problem.cameras.startAt(task.fitTurn ? 9 : 8),
                                     {.maxIterations = iterations, .relativeDecrease = 1e-4});
    State out = start;
    out.camera = problem.cameras.at(fit.x);
    out.turn = problem.toothTurn(fit.x);
    number(out, task, growth);
    return out;
}

/// From a start that is rough, or (`near`) from a camera that some flanks agree with already.
State grown(State state, const Task& task, bool near = false) {
    for (const Growth& growth : kGrowth) {
        if (near && growth.nearest < kAll) continue;
        number(state, task, growth);
        state = improved(state, task, growth, 6, kCoarse);
    }
    return state;
}

/// The corners alone; the edges' points would only slow a start down.
FlankOutline cornersOf(const Prepared& flank) {
    FlankOutline corners;
    corners.side = flank.flank->side;
    corners.corners = flank.flank->outline.corners;
    return corners;
}

/// The flank's nearest neighbour of its own side, or its own place where it has none.
std::size_t neighbourOf(const Task& task, std::size_t one) {
    const std::vector<std::size_t> rank = ranksByDistance(task, one);
    std::size_t best = one;
    for (std::size_t k = 0; k < rank.size(); ++k)
        if (k != one && task.flanks[k].flank->side == task.flanks[one].flank->side &&
            (best == one || rank[k] < rank[best]))
            best = k;
    return best;
}

/// Cameras of one flank and its neighbour: one alone, nearly flat, leaves it open which way the gear lies.
void appendStarts(const Task& task, std::size_t first, std::vector<State>& starts) {
    const std::size_t second = neighbourOf(task, first);
    const FlankOutline corners = cornersOf(task.flanks[first]), beside = cornersOf(task.flanks[second]);
    const FlankGrid& grid = task.gridOf(first);
    for (const flank::CameraFit& single : flank::camerasOf({&corners, &grid, 0}, task.size))
        for (const int tooth : {-1, 1}) {
            State state;
            state.camera = single.camera;
            state.turn = grid.toothTurn;
            state.start = first;
            if (second != first) {
                const flank::CameraFit pair =
                    flank::refinedCamera(single.camera, {{&corners, &grid, 0}, {&beside, &grid, tooth}}, task.size);
                const double met = std::hypot(pair.residualPx[0] / flank::outlineLength(corners),
                                              pair.residualPx[1] / flank::outlineLength(beside));
                if (met > kPairMet || !flank::facesCamera(pair.camera, grid, 0)) continue;
                state.camera = pair.camera;
            }
            number(state, task, kGrowth[1]);
            starts.push_back(std::move(state));
        }
}

/// Starts from the weightiest flanks; of all, those that come nearest to the other flanks.
std::vector<State> startsOf(const Task& task) {
    std::vector<std::size_t> order(task.flanks.size());
    for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return task.weight(a) > task.weight(b); });
    std::vector<State> starts;
    for (std::size_t s = 0; s < std::min(kStartFlanks, order.size()); ++s) appendStarts(task, order[s], starts);
    std::stable_sort(starts.begin(), starts.end(), [](const State& a, const State& b) { return a.cost < b.cost; });
    if (starts.size() > kStarts) starts.resize(kStarts);
    return starts;
}

}  // namespace

std::optional<GearCamera> fitGearCamera(const std::vector<WarpedFlank>& flanks,
                                        const std::array<flank::FlankGrid, 2>& grids, bool toothTurnKnown,
                                        const flank::PictureSize& size, const GearCamera* startFrom) {
    if (flanks.empty()) return std::nullopt;
    Task task{{}, grids, !toothTurnKnown, size};
    for (const WarpedFlank& flank : flanks) task.flanks.emplace_back(flank);
    State best;
    if (startFrom != nullptr) {
        State start;
        start.camera = startFrom->camera;
        start.turn = toothTurnKnown ? grids[0].toothTurn : startFrom->toothTurn;
        best = grown(std::move(start), task, true);
    } else {
        for (State& start : startsOf(task)) {
            State state = grown(std::move(start), task);
            if (state.cost < best.cost) best = std::move(state);
            if (best.cost < kExplained) break;
        }
    }
    if (!std::isfinite(best.cost)) return std::nullopt;
    for (int round = 0; round < 4; ++round) {
        State next = improved(best, task, kGrown, 15);
        const bool done = next.cost > best.cost * 0.999;
        if (next.cost < best.cost) best = std::move(next);
        if (done) break;
    }
    GearCamera out;
    out.camera = best.camera;
    out.toothTurn = best.turn;
    out.tooth = best.tooth;
    out.numbered = best.numbered;
    out.cost = best.cost;
    for (const double d : best.residual) out.residual.push_back(d * std::hypot(kSigmaU, kSigmaV) / std::sqrt(2.0));
    return out;
}

}  // namespace shimsight::teeth
