// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/tooth_contact.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <tuple>

#include "gear/exact_contact.h"
#include "gear/mesh_fold.h"
#include "shimsight/core.h"
#include "shimsight/smooth_grid.h"

namespace shimsight {

using Eigen::Vector3d;

namespace {

/// Phases of one ring gear pitch at which the smallest rotation is kept.
constexpr int kPhases = kMeshPhases;
static_assert(kPhases == gear::kPhasesPerPitch);

/// Gap rates at one flank point at its roll angle: the normal component of the pinion's displacement less the ring
/// gear's.
struct GapRates {
    double depth, ring, offset, shaft;
};

/// N . (pinion displacement - ring gear displacement); housing frame.
GapRates gapRates(const Vector3d& positionInHousing, const Vector3d& normalInHousing) {
    return {-normalInHousing.x(), normalInHousing.z(), normalInHousing.y(),
            normalInHousing.dot(Vector3d::UnitY().cross(positionInHousing))};
}

/// A displacement hardly changes how far a flank point must turn at its moment of mesh, but it moves that moment:
/// beside it the pinion stands off by bend d^2 (d = ring gear angle from it), and the displacement adds slope d, so
/// that the point comes nearest at d = -slope / (2 bend). Ring gear angle (rad) per unit of each displacement; smooth
/// over the flank, so kept on a small grid, linear in between. Another point of the pinion flank then meets the ring
/// gear's point: the pinion's ease-off slides over the ring gear's flank, nearly alike everywhere, so its mean is kept.
struct MeshDelay {
    static constexpr int kColumns = 5, kRows = 4;
    struct Cell {
        std::array<double, 4> perUnit{};  ///< depth, ring, offset (per mm), shaft angle (per rad)
    };
    std::array<Cell, static_cast<std::size_t>(kColumns) * kRows> cells;
    std::array<double, 4> slideLength{}, slideProfile{};  ///< shift of the ease-off in u and v per unit of displacement

    explicit MeshDelay(const PinionFlank& pinion) {
        constexpr double kReach = 0.015;  // rad of ring gear angle, about a tenth of a pitch
        constexpr double kProbeMm = 0.05, kProbeRad = 5e-4;
        const std::array probes{SetupError{kProbeMm, 0, 0, 0}, SetupError{0, kProbeMm, 0, 0},
                                SetupError{0, 0, kProbeMm, 0}, SetupError{0, 0, 0, kProbeRad}};
        int counted = 0;
        for (int j = 0; j < kRows; ++j) {
            for (int i = 0; i < kColumns; ++i) {
                const double u = (i + 0.5) / kColumns, v = (j + 0.5) / kRows;
                const double roll = pinion.rollAngle(pinion.ring().at(u, v));
                // Touches before and after the moment of mesh: the ring gear's turn beyond the nominal one, and where
                // on the pinion.
                const auto touches =
                    [&](const DisplacedPair& pair) -> std::optional<std::array<DisplacedPair::Touch, 2>> {
                    auto before = pair.touchOf(u, v, pinion.ratio() * (roll - kReach), roll - kReach);
                    auto after = pair.touchOf(u, v, pinion.ratio() * (roll + kReach), roll + kReach);
                    if (!before || !after) return std::nullopt;
                    before->ringAngle -= roll - kReach;
                    after->ringAngle -= roll + kReach;
                    return std::array{*before, *after};
                };
                const auto rest = touches(DisplacedPair(pinion, {}));
                if (!rest) continue;  // beyond the pinion's own end: no delay known, none applied
                const double bend = 0.5 * ((*rest)[0].ringAngle + (*rest)[1].ringAngle) / (kReach * kReach);
                Cell& cell = cells[static_cast<std::size_t>(j * kColumns + i)];
                bool whole = true;
                std::array<double, 4> length{}, profile{};
                for (std::size_t k = 0; k < probes.size(); ++k) {
                    const auto moved = touches(DisplacedPair(pinion, probes[k]));
                    whole = whole && moved;
                    if (!moved) continue;
                    const double probe = k < 3 ? kProbeMm : kProbeRad;
                    const double slope =
                        ((*moved)[1].ringAngle - (*rest)[1].ringAngle - (*moved)[0].ringAngle + (*rest)[0].ringAngle) /
                        (2 * kReach);
                    const double delay = -slope / (2 * bend);
                    cell.perUnit[k] = delay / probe;
                    const double share = delay / (2 * kReach);
                    length[k] = (0.5 * ((*moved)[0].a + (*moved)[1].a - (*rest)[0].a - (*rest)[1].a) +
                                 share * ((*moved)[1].a - (*moved)[0].a)) /
                                probe;
                    profile[k] = (0.5 * ((*moved)[0].b + (*moved)[1].b - (*rest)[0].b - (*rest)[1].b) +
                                  share * ((*moved)[1].b - (*moved)[0].b)) /
                                 probe;
                }
                if (!whole) continue;
                ++counted;
                for (std::size_t k = 0; k < probes.size(); ++k) {
                    slideLength[k] += length[k];
                    slideProfile[k] += profile[k];
                }
            }
        }
        for (std::size_t k = 0; k < probes.size() && counted > 0; ++k) {
            slideLength[k] /= counted;
            slideProfile[k] /= counted;
        }
    }

    /// u, v in 0..1; extended linearly beyond the outer cell centres.
    Cell at(double u, double v) const {
        const double x = u * kColumns - 0.5, y = v * kRows - 0.5;
        const int i = std::clamp(static_cast<int>(std::floor(x)), 0, kColumns - 2);
        const int j = std::clamp(static_cast<int>(std::floor(y)), 0, kRows - 2);
        const double right = x - i, up = y - j;
        Cell sum;
        for (const auto& [di, dj, weight] : {std::tuple{0, 0, (1 - right) * (1 - up)},
                                             {1, 0, right * (1 - up)},
                                             {0, 1, (1 - right) * up},
                                             {1, 1, right * up}}) {
            const Cell& cell = cells[static_cast<std::size_t>((j + dj) * kColumns + i + di)];
            for (std::size_t k = 0; k < cell.perUnit.size(); ++k) sum.perUnit[k] += weight * cell.perUnit[k];
        }
        return sum;
    }
};

/// What a flank's cells are made of, on nodes between the outermost cell centres of the fine grid.
struct FlankNodes {
    static constexpr int kColumns = 13, kRows = 9;
    static constexpr double kFirstU = 0.5 / kGridU, kFirstV = 0.5 / kGridV;
    enum Quantity { kDepth, kRing, kOffset, kShaft, kLever, kRoll, kQuantities };
    using Values = Eigen::Matrix<double, kColumns, kRows>;
    std::array<Values, kQuantities> values;

    explicit FlankNodes(const PinionFlank& pinion) {
        for (int j = 0; j < kRows; ++j) {
            for (int i = 0; i < kColumns; ++i) {
                const FlankPoint point = pinion.ring().at(kFirstU + (1 - 2 * kFirstU) * nodePlace(i, kColumns),
                                                          kFirstV + (1 - 2 * kFirstV) * nodePlace(j, kRows));
                const double roll = pinion.rollAngle(point);
                const Eigen::Matrix3d turn = Eigen::AngleAxisd(roll, Vector3d::UnitZ()).toRotationMatrix();
                const Vector3d normal = turn * point.normal;
                const Vector3d position = turn * point.position;
                const GapRates rates = gapRates(position, normal);
                values[kDepth](i, j) = rates.depth;
                values[kRing](i, j) = rates.ring;
                values[kOffset](i, j) = rates.offset;
                values[kShaft](i, j) = rates.shaft;
                values[kLever](i, j) = std::abs(Vector3d::UnitZ().cross(position).dot(normal));
                values[kRoll](i, j) = roll;
            }
        }
    }

    /// Values at the centres of W x H cells.
    template <int W, int H>
    Eigen::Matrix<double, W, H> cells(Quantity quantity) const {
        const auto places = [](int count, double first) -> Eigen::VectorXd {
            const Eigen::VectorXd centres = Eigen::VectorXd::LinSpaced(count, 0.5 / count, 1 - 0.5 / count);
            return (centres.array() - first) / (1 - 2 * first);
        };
        const Eigen::Matrix<double, W, kColumns> across = nodeWeights(kColumns, places(W, kFirstU));
        const Eigen::Matrix<double, H, kRows> up = nodeWeights(kRows, places(H, kFirstV));
        return across * values[quantity] * up.transpose();
    }
};

/// One flank on a grid of W x H cells, all that prediction needs; structure of arrays for the vector unit.
template <int W, int H>
struct FlankGrid {
    static constexpr int kCells = W * H;
    using Row = std::array<float, static_cast<std::size_t>(kCells)>;
    alignas(32) Row perDepth, perRing, perOffset, perShaft, lever, inverseLever, phaseAtRest;
    alignas(32) Row delayDepth, delayRing, delayOffset, delayShaft;  // in phases

    std::array<double, 4> slideLength, slideProfile;

    FlankGrid(const FlankNodes& nodes, const MeshDelay& delay, int ringTeeth)
        : slideLength(delay.slideLength), slideProfile(delay.slideProfile) {
        const double pitch = 2 * kPi / ringTeeth;
        std::array<Eigen::Matrix<double, W, H>, FlankNodes::kQuantities> at;
        for (std::size_t q = 0; q < at.size(); ++q)
            at[q] = nodes.template cells<W, H>(static_cast<FlankNodes::Quantity>(q));
        for (int j = 0; j < H; ++j) {
            for (int i = 0; i < W; ++i) {
                const auto cell = static_cast<std::size_t>(j * W + i);
                perDepth[cell] = static_cast<float>(at[FlankNodes::kDepth](i, j));
                perRing[cell] = static_cast<float>(at[FlankNodes::kRing](i, j));
                perOffset[cell] = static_cast<float>(at[FlankNodes::kOffset](i, j));
                perShaft[cell] = static_cast<float>(at[FlankNodes::kShaft](i, j));
                lever[cell] = static_cast<float>(at[FlankNodes::kLever](i, j));
                inverseLever[cell] = static_cast<float>(1 / at[FlankNodes::kLever](i, j));
                const MeshDelay::Cell shift = delay.at((i + 0.5) / W, (j + 0.5) / H);
                delayDepth[cell] = static_cast<float>(kPhases / pitch * shift.perUnit[0]);
                delayRing[cell] = static_cast<float>(kPhases / pitch * shift.perUnit[1]);
                delayOffset[cell] = static_cast<float>(kPhases / pitch * shift.perUnit[2]);
                delayShaft[cell] = static_cast<float>(kPhases / pitch * shift.perUnit[3]);
                const double turns = at[FlankNodes::kRoll](i, j) / pitch;
                phaseAtRest[cell] = static_cast<float>((turns - std::floor(turns)) * kPhases);
                const double perError = std::abs(delayDepth[cell]) + std::abs(delayRing[cell]) +
                                        std::abs(delayOffset[cell]) + std::abs(delayShaft[cell]);
                maxError_ = std::min(maxError_, (gear::kManyPhases - 2 * kPhases) / std::max(perError, 1e-9));
            }
        }
    }

    /// Separation of each cell from the other flank at the moment it is in mesh, mm.
    void separation(const SetupError& error, const Modification& m, Row& out) const {
        // Ease-off as a polynomial of column and row, slid over the flank with the pinion.
        const auto slid = [&](const std::array<double, 4>& slide) {
            return slide[0] * error.depthMm + slide[1] * error.ringMm + slide[2] * error.offsetMm +
                   slide[3] * error.shaftAngleRad;
        };
        const double lengthShift = m.lengthShift - slid(slideLength);
        const double profileShift = m.profileShift - slid(slideProfile);
        std::array<float, static_cast<std::size_t>(W)> lengthPart{}, twistPart{};
        for (int i = 0; i < W; ++i) {
            const double s = 2 * ((i + 0.5) / W - 0.5 - lengthShift);
            lengthPart[static_cast<std::size_t>(i)] = static_cast<float>(1e-3 * m.lengthCrownUm * s * s);
            twistPart[static_cast<std::size_t>(i)] = static_cast<float>(1e-3 * m.biasUm * s);
        }
        std::array<float, static_cast<std::size_t>(H)> profilePart{}, heights{};
        for (int j = 0; j < H; ++j) {
            const double height = 2 * ((j + 0.5) / H - 0.5 - profileShift);
            heights[static_cast<std::size_t>(j)] = static_cast<float>(height);
            profilePart[static_cast<std::size_t>(j)] = static_cast<float>(1e-3 * m.profileCrownUm * height * height);
        }
        static_assert(kCells % 8 == 0 && kCells <= gear::kMaxFoldedCells);
        gear::separation({.perDepth = perDepth.data(),
                          .perRing = perRing.data(),
                          .perOffset = perOffset.data(),
                          .perShaft = perShaft.data(),
                          .lever = lever.data(),
                          .inverseLever = inverseLever.data(),
                          .phaseAtRest = phaseAtRest.data(),
                          .delayDepth = delayDepth.data(),
                          .delayRing = delayRing.data(),
                          .delayOffset = delayOffset.data(),
                          .delayShaft = delayShaft.data(),
                          .columns = W,
                          .rows = H},
                         {.depth = bounded(error.depthMm),
                          .ring = bounded(error.ringMm),
                          .offset = bounded(error.offsetMm),
                          .shaft = bounded(error.shaftAngleRad),
                          .lengthPart = lengthPart.data(),
                          .twistPart = twistPart.data(),
                          .profilePart = profilePart.data(),
                          .height = heights.data()},
                         out.data());
    }

private:
    static constexpr double kMaxError = 100;  ///< mm and rad: no gear set has it
    double maxError_ = kMaxError;

    /// An error of metres, or none at all (NaN), is taken for a large one: cells stay within kManyPhases of their
    /// place.
    float bounded(double error) const {
        return static_cast<float>(error > -maxError_ ? std::min(error, maxError_) : -maxError_);
    }
};

using FineGrid = FlankGrid<kGridU, kGridV>;
using CoarseGrid = FlankGrid<32, 16>;

float markOf(float separationMm, float filmMm) {
    return std::clamp((kFadeEnd * filmMm - separationMm) / ((kFadeEnd - kFadeStart) * filmMm), 0.0F, 1.0F);
}

/// Separation on the fine grid drawn as marks on the flank map; linear between and beyond the cell centres.
FlankMap mapFromSeparation(const FineGrid::Row& separation, double filmMm) {
    FlankMap map;
    for (int y = 0; y < kMapHeight; ++y) {
        const double row = (1 - (y + 0.5) / kMapHeight) * kGridV - 0.5;
        const int j = std::clamp(static_cast<int>(std::floor(row)), 0, kGridV - 2);
        const auto up = static_cast<float>(row - j);
        for (int x = 0; x < kMapWidth; ++x) {
            const double column = (x + 0.5) / kMapWidth * kGridU - 0.5;
            const int i = std::clamp(static_cast<int>(std::floor(column)), 0, kGridU - 2);
            const auto along = static_cast<float>(column - i);
            const auto c = static_cast<std::size_t>(j * kGridU + i);
            const float low = separation[c] + along * (separation[c + 1] - separation[c]);
            const float high = separation[c + kGridU] + along * (separation[c + kGridU + 1] - separation[c + kGridU]);
            map.at(x, y) = static_cast<std::uint8_t>(
                std::lround(255 * markOf(low + up * (high - low), static_cast<float>(filmMm))));
        }
    }
    return map;
}

}  // namespace

struct ToothContact::Model {
    GearSet gearSet;
    Blank blank;
    std::array<RingFlank, 2> rings;
    std::array<MeshDelay, 2> delay;
    std::array<FlankNodes, 2> nodes;
    std::array<FineGrid, 2> fine;
    std::array<CoarseGrid, 2> coarse;
    /// Ring gear rotation that closes the backlash, per unit of each movement, at the mean point (rad/mm; shaft
    /// rad/rad).
    GapRates closing{};

    explicit Model(const GearSet& set)
        : gearSet(set),
          blank(designBlank(set)),
          rings{RingFlank(set, blank, Side::Drive), RingFlank(set, blank, Side::Coast)},
          delay{MeshDelay(nominal(0)), MeshDelay(nominal(1))},
          nodes{FlankNodes(nominal(0)), FlankNodes(nominal(1))},
          fine{FineGrid(nodes[0], delay[0], set.ringTeeth), FineGrid(nodes[1], delay[1], set.ringTeeth)},
          coarse{CoarseGrid(nodes[0], delay[0], set.ringTeeth), CoarseGrid(nodes[1], delay[1], set.ringTeeth)} {
        const double u = (blank.coneDistanceM2 - blank.coneDistanceI2) / (blank.coneDistanceE2 - blank.coneDistanceI2);
        const double v = (blank.dedendumM2 - blank.clearance) / blank.workingDepth;
        for (std::size_t k = 0; k < 2; ++k) {
            const PinionFlank pinion = nominal(k);
            const FlankPoint point = pinion.ring().at(u, v);
            const Eigen::Matrix3d turn =
                Eigen::AngleAxisd(pinion.rollAngle(point), Vector3d::UnitZ()).toRotationMatrix();
            const Vector3d normal = turn * point.normal, position = turn * point.position;
            const GapRates rates = gapRates(position, normal);
            const double arm = std::abs(Vector3d::UnitZ().cross(position).dot(normal));
            closing.depth -= rates.depth / arm;
            closing.ring -= rates.ring / arm;
            closing.offset -= rates.offset / arm;
            closing.shaft -= rates.shaft / arm;
        }
    }

    PinionFlank nominal(std::size_t k) const { return PinionFlank(rings[k], Modification{0, 0, 0, 0, 0}); }

    double dialRadiusMm(DialReading dial) const { return shimsight::dialRadiusMm(blank, dial); }
};

ToothContact::ToothContact(const GearSet& gearSet) : model_(std::make_unique<Model>(gearSet)) {}
ToothContact::~ToothContact() = default;
ToothContact::ToothContact(ToothContact&&) noexcept = default;
ToothContact& ToothContact::operator=(ToothContact&&) noexcept = default;

const GearSet& ToothContact::gearSet() const { return model_->gearSet; }
const Blank& ToothContact::blank() const { return model_->blank; }

ContactGrid ToothContact::predict(Side side, const SetupError& error, const Modification& modification,
                                  double filmMm) const {
    ContactGrid grid;
    model_->fine[index(side)].separation(error, modification, grid.contact);
    for (float& value : grid.contact) value = markOf(value, static_cast<float>(filmMm));
    return grid;
}

std::array<float, 512> ToothContact::predictCoarse(Side side, const SetupError& error, const Modification& modification,
                                                   double filmMm) const {
    CoarseGrid::Row cells;
    model_->coarse[index(side)].separation(error, modification, cells);
    for (float& value : cells) value = markOf(value, static_cast<float>(filmMm));
    return cells;
}

FlankMap ToothContact::predictMap(Side side, const SetupError& error, const Modification& modification,
                                  double filmMm) const {
    FineGrid::Row separation;
    model_->fine[index(side)].separation(error, modification, separation);
    return mapFromSeparation(separation, filmMm);
}

FlankMap ToothContact::exactMap(Side side, const SetupError& error, const Modification& modification,
                                double filmMm) const {
    // For each cell: the ring gear rotation at which it touches the pinion, at three pinion angles about its own moment
    // of mesh, as a parabola in the pinion angle (in ring gear angle units). The lower envelope of all parabolas is the
    // running position; a cell's least height above it is its separation.
    const PinionFlank pinion(model_->rings[index(side)], modification);
    const DisplacedPair pair(pinion, error);
    const double pitch = 2 * kPi / model_->gearSet.ringTeeth;
    const double closing = side == Side::Drive ? -1 : 1;
    constexpr double kReach = 0.02;       // rad of ring gear angle on each side of the moment of mesh
    constexpr int kEnvelopePhases = 240;  // a tenth of the fast model's phase
    constexpr float kNoContactMm = 1;
    constexpr std::ptrdiff_t kMaxUntouched = kGridU * kGridV / 10;
    struct Parabola {
        double middle = 0, rotation = 0, slope = 0, bend = 0, lever = 0;
        double at(double ringAngle) const {
            const double d = ringAngle - middle;
            return rotation + d * (slope + d * bend);
        }
    };
    std::vector<Parabola> cells(static_cast<std::size_t>(kGridU) * kGridV);
    for (int j = 0; j < kGridV; ++j) {
        for (int i = 0; i < kGridU; ++i) {
            const double u = (i + 0.5) / kGridU, v = (j + 0.5) / kGridV;
            const FlankPoint ringPoint = pinion.ring().at(u, v);
            const double roll = pinion.rollAngle(ringPoint);
            std::array<double, 3> rotation{};
            bool touches = true;
            for (int k = 0; k < 3; ++k) {
                const double nominal = roll + (k - 1) * kReach;
                const auto touch = pair.touchOf(u, v, pinion.ratio() * nominal, nominal);
                touches = touches && touch;
                if (!touch) break;
                rotation[static_cast<std::size_t>(k)] = closing * (touch->ringAngle - nominal);
            }
            Parabola& p = cells[static_cast<std::size_t>(j * kGridU + i)];
            if (!touches) continue;  // the displaced pinion flank ends before it reaches here: never in contact
            p.middle = roll;
            p.rotation = rotation[1];
            p.slope = (rotation[2] - rotation[0]) / (2 * kReach);
            p.bend = (rotation[2] - 2 * rotation[1] + rotation[0]) / (2 * kReach * kReach);
            p.lever = std::abs(Vector3d::UnitZ().cross(ringPoint.position).dot(ringPoint.normal));
        }
    }
    std::vector<double> envelope(kEnvelopePhases, std::numeric_limits<double>::max());
    const auto eachPhase = [&](const Parabola& p, auto&& visit) {
        if (p.lever == 0) return;
        const double lowest = p.middle + (p.bend > 0 ? std::clamp(-p.slope / (2 * p.bend), -kReach, kReach) : 0.0);
        const int first = static_cast<int>(std::ceil((lowest - kReach) / pitch * kEnvelopePhases));
        const int last = static_cast<int>(std::floor((lowest + kReach) / pitch * kEnvelopePhases));
        for (int k = first; k <= last; ++k)
            visit(static_cast<std::size_t>(((k % kEnvelopePhases) + kEnvelopePhases) % kEnvelopePhases),
                  p.at(k * pitch / kEnvelopePhases));
    };
    for (const Parabola& p : cells)
        eachPhase(p, [&](std::size_t k, double rotation) { envelope[k] = std::min(envelope[k], rotation); });
    if (std::count_if(cells.begin(), cells.end(), [](const Parabola& p) { return p.lever == 0; }) > kMaxUntouched)
        throw InputError(message("gear.set-up-too-far-off"));
    FineGrid::Row separation;
    for (std::size_t c = 0; c < cells.size(); ++c) {
        if (cells[c].lever == 0) {
            separation[c] = kNoContactMm;
            continue;
        }
        double least = std::numeric_limits<double>::max();
        eachPhase(cells[c], [&](std::size_t k, double rotation) { least = std::min(least, rotation - envelope[k]); });
        separation[c] = static_cast<float>(least * cells[c].lever);
    }
    return mapFromSeparation(separation, filmMm);
}

FlankRates ToothContact::flankRates(Side side) const {
    const FineGrid& grid = model_->fine[index(side)];
    const auto all = [](const FineGrid::Row& row) { return std::vector<float>(row.begin(), row.end()); };
    FlankRates rates;
    rates.perUnit = {all(grid.perDepth), all(grid.perRing), all(grid.perOffset), all(grid.perShaft)};
    rates.delayPerUnit = {all(grid.delayDepth), all(grid.delayRing), all(grid.delayOffset), all(grid.delayShaft)};
    rates.lever = all(grid.lever);
    rates.phaseAtRest = all(grid.phaseAtRest);
    rates.slideLength = grid.slideLength;
    rates.slideProfile = grid.slideProfile;
    return rates;
}

BacklashRates ToothContact::backlashRates(DialReading dial) const {
    const double radius = model_->dialRadiusMm(dial);
    return {model_->closing.ring * radius, model_->closing.depth * radius, -model_->closing.offset * radius};
}

double ToothContact::backlashChangeMm(const SetupError& error, DialReading dial) const {
    const GapRates& closing = model_->closing;
    return -model_->dialRadiusMm(dial) * (closing.depth * error.depthMm + closing.ring * error.ringMm +
                                          closing.offset * error.offsetMm + closing.shaft * error.shaftAngleRad);
}

double ToothContact::ringMoveForConstantBacklashMm(double depthMm) const {
    return -depthMm * model_->closing.depth / model_->closing.ring;
}

double ToothContact::toSquareReading(DialReading dial) const { return shimsight::toSquareReading(model_->blank, dial); }

}  // namespace shimsight
