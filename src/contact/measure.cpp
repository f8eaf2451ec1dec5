// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "shimsight/contact.h"
#include "shimsight/network.h"
#include "shimsight/rectified_flank.h"

namespace shimsight {
namespace {

using flank::kCellColumns;
using flank::kCellRows;

// Planes of the network's output, see models/mark-reader/README.md.
enum Plane { kContact, kCompound, kSeen, kOffsetU, kOffsetV, kStates, kPlanes = kStates + 4 };
enum State { kBare, kNotRolled, kWiped, kTransferred, kStateCount };
constexpr double kOffsetUnit = 0.1;
constexpr std::size_t kCells = static_cast<std::size_t>(kCellColumns) * kCellRows;

/// The chance of a printed mark is weighed down by this on a photo whose other flanks are wiped, and the other way
/// round: one photo, one way of marking.
constexpr double kOtherMarking = 0.02;
/// A flank is read when it is rolled with this chance.
constexpr double kRolledEnough = 0.5;
/// The flank must show on this share of its cells; of an outlined one less is enough, since a person saw it.
constexpr double kShownEnough = 0.5, kShownEnoughOutlined = 0.3;
/// Doubt of the contact (mean of 4 p (1 - p) over the cells that may be contact) beyond which nothing is read: up to
/// there the centre is off by 2 to 4 % in the middle, as the standard errors say (259 messy rendered flanks).
constexpr double kMaxDoubt = 0.80;
/// From this doubt on the network sees the flank mirrored as well, and the mean of both inferences counts (on those
/// flanks 14 % less error at nine of ten, and one instead of four of 77 flanks without contact that seem to have one).
/// Of outlined flanks it sees all that seem rolled so: it places them 0.004 of the length too far to the left, mirrored
/// or not (383 rendered flanks on their true grids), and reads have the time. Found ones, with two looks, have not.
constexpr double kAskedAgain = 0.30;
/// Beyond this share of the flank's height (half of it of the length), or in doubt, a found flank is rectified again by
/// its own registration and seen once more.
constexpr double kRectifiedAgain = 0.03;
/// A found flank that seems bare or not rolled by this much (log odds) is not seen again: of the sample photos and of
/// 42 by another renderer a second look turned none over.
constexpr double kSurelyNotRolled = 3;
/// The registration of the outline is believed like this: the network's error for one flank (one sigma, share of the
/// flank; 832 rendered flanks) against the outline's own. The root and tip edges show well; the ends less so.
constexpr double kOffsetErrorU = 0.012, kOffsetErrorV = 0.011;
/// Standard error of one flank's centre: tooth and measuring, by how the outline came about, and what doubt beyond a
/// clear contact's adds (832 rendered flanks).
constexpr double kOutlinedU = 0.0085, kOutlinedV = 0.0125, kFoundU = 0.0105, kFoundV = 0.0155, kTypicalU = 0.009,
                 kTypicalV = 0.012;
/// And what a border is off in the picture, pixels: it counts on flanks that are small or seen at a low angle.
constexpr double kBorderPx = 0.5;
constexpr double kClearDoubt = 0.2, kByDoubtU = 0.09, kByDoubtV = 0.12;

/// True place from the nominal one: (u, v) + a + b (u - 0.5) + c (v - 0.5), for u and v each.
struct Registration {
    Eigen::Matrix<double, 3, 2> terms = Eigen::Matrix<double, 3, 2>::Zero();
    /// Nominal place of the true (u, v), an affine map: first column the place of (0, 0), then what u and v add.
    Eigen::Matrix<double, 2, 3> nominal() const {
        Eigen::Matrix2d jacobian = Eigen::Matrix2d::Identity();
        jacobian += terms.block<2, 2>(1, 0).transpose();
        const Eigen::Vector2d half(0.5, 0.5);
        Eigen::Matrix<double, 2, 3> out;
        out.rightCols<2>() = jacobian.inverse();
        out.col(0) = half - out.rightCols<2>() * (half + terms.row(0).transpose());
        return out;
    }
};

struct Inference {
    std::vector<float> planes;  // kPlanes x kCellRows x kCellColumns
    std::vector<float> seen;    ///< chance of kSeen, by cell
    float at(int plane, std::size_t cell) const { return planes[static_cast<std::size_t>(plane) * kCells + cell]; }
    std::array<double, kStateCount> logit{};
    double doubt = 0;                 ///< of the contact, kMaxDoubt
    std::array<float, 3> compound{};  ///< mean colour of what it covers; FlankContact::compound
    Registration registration;
};

float chance(float logit) { return 1 / (1 + std::exp(-logit)); }

double nominalU(std::size_t cell) { return flank::uAt(static_cast<double>(cell % kCellColumns) + 0.5, kCellColumns); }
double nominalV(std::size_t cell) {
    const std::size_t row = cell / kCellColumns;
    return flank::vAt(static_cast<double>(row) + 0.5, kCellRows);
}

std::vector<float> planesOf(const Picture& rectified) {
    std::vector<float> planes = network::infer(network::Trained::MarkReader, rectified);
    check(planes.size() == kPlanes * kCells, "the mark reader gives the planes of its card");
    return planes;
}

Picture mirrored(const Picture& rectified) {
    Picture out = rectified;
    for (int y = 0; y < rectified.height; ++y)
        for (int x = 0; x < rectified.width; ++x) {
            const auto to = static_cast<std::size_t>(3 * (y * rectified.width + x)),
                       from = static_cast<std::size_t>(3 * (y * rectified.width + rectified.width - 1 - x));
            std::copy_n(rectified.rgb.begin() + static_cast<std::ptrdiff_t>(from), 3,
                        out.rgb.begin() + static_cast<std::ptrdiff_t>(to));
        }
    return out;
}

/// Takes in what the network says of the mirrored flank: toe and heel change places, and with them the sign of du.
void addMirrored(std::vector<float>& planes, const std::vector<float>& other) {
    for (int plane = 0; plane < kPlanes; ++plane)
        for (int row = 0; row < kCellRows; ++row)
            for (int column = 0; column < kCellColumns; ++column) {
                const auto first =
                    static_cast<std::size_t>(plane) * kCells + static_cast<std::size_t>(row) * kCellColumns;
                const float value = other[first + static_cast<std::size_t>(kCellColumns - 1 - column)];
                float& own = planes[first + static_cast<std::size_t>(column)];
                own = 0.5f * (own + (plane == kOffsetU ? -value : value));
            }
}

/// Sets what follows from the planes cell by cell: `seen`, `doubt`.
void judge(Inference& inference) {
    inference.seen.resize(kCells);
    for (std::size_t c = 0; c < kCells; ++c) inference.seen[c] = chance(inference.at(kSeen, c));
    double doubt = 0, maybe = 0;
    for (std::size_t c = 0; c < kCells; ++c) {
        const double u = nominalU(c), v = nominalV(c);
        if (u < 0 || u > 1 || v < 0 || v > 1) continue;
        const float p = chance(inference.at(kContact, c)), seen = inference.seen[c];
        doubt += seen * 4.0 * p * (1 - p);
        maybe += seen * (p > 0.15f ? 1 : 0);
    }
    inference.doubt = doubt / std::max(1.0, maybe);
}

/// Mean colour of the cells that compound covers for sure; black where it covers hardly any.
std::array<float, 3> compoundColour(const Inference& inference, const Picture& rectified) {
    constexpr float kSure = 1;           // logit
    constexpr std::size_t kEnough = 60;  // cells
    std::array<double, 3> sum{};
    std::size_t count = 0;
    for (std::size_t c = 0; c < kCells; ++c) {
        if (inference.at(kCompound, c) < kSure || inference.at(kSeen, c) < kSure) continue;
        const std::size_t x = 2 * (c % kCellColumns), y = 2 * (c / kCellColumns);
        for (std::size_t k = 0; k < 3; ++k)
            sum[k] += rectified.rgb[3 * (y * static_cast<std::size_t>(rectified.width) + x) + k];
        ++count;
    }
    if (count < kEnough) return {};
    const auto mean = [&](double whole) { return static_cast<float>(whole / static_cast<double>(count)); };
    return {mean(sum[0]), mean(sum[1]), mean(sum[2])};
}

/// When the network sees the flank mirrored as well, and the mean of both inferences counts.
enum class Mirrored { Never, InDoubt, WhereRolled };

void takeLogits(Inference& inference) {
    for (std::size_t s = 0; s < kStateCount; ++s) {
        const auto first = inference.planes.begin() + static_cast<std::ptrdiff_t>((kStates + s) * kCells);
        inference.logit[s] = std::accumulate(first, first + static_cast<std::ptrdiff_t>(kCells), 0.0) / kCells;
    }
}

/// How much more the flank seems rolled than bare or not rolled, log odds.
double rolledLogOdds(const Inference& inference) {
    const auto& l = inference.logit;
    return std::max(l[kWiped], l[kTransferred]) - std::max(l[kBare], l[kNotRolled]);
}

Inference inferOn(const Picture& rectified, Mirrored when) {
    Inference inference;
    inference.planes = planesOf(rectified);
    judge(inference);
    takeLogits(inference);
    const bool rolled = when == Mirrored::WhereRolled && rolledLogOdds(inference) >= -kSurelyNotRolled;
    if (rolled || (when != Mirrored::Never && inference.doubt > kAskedAgain)) {
        addMirrored(inference.planes, planesOf(mirrored(rectified)));
        judge(inference);
        takeLogits(inference);
    }
    inference.compound = compoundColour(inference, rectified);
    return inference;
}

/// Share of the flank's own cells that show it.
double shownOf(const Inference& inference) {
    double shown = 0;
    std::size_t own = 0;
    for (std::size_t c = 0; c < kCells; ++c) {
        const double u = nominalU(c), v = nominalV(c);
        if (u > 0 && u < 1 && v > 0 && v < 1) ++own, shown += inference.seen[c];
    }
    return shown / static_cast<double>(own);
}

Registration registrationOf(const Inference& inference, double outlineSigmaU, double outlineSigmaV) {
    struct Cell {
        double seen, u, v, offU, offV, robust;
    };
    std::vector<Cell> cells;
    for (std::size_t c = 0; c < kCells; ++c)  // every other one, as on a chessboard: neighbours say the same
        if ((c + c / kCellColumns) % 2 == 0 && inference.at(kSeen, c) > 0)
            cells.push_back({.seen = inference.seen[c],
                             .u = nominalU(c) - 0.5,
                             .v = nominalV(c) - 0.5,
                             .offU = kOffsetUnit * inference.at(kOffsetU, c),
                             .offV = kOffsetUnit * inference.at(kOffsetV, c),
                             .robust = 1});
    Registration registration;
    for (int round = 0; round < 4; ++round) {
        // Sums of w, w u, w v, w u u, w u v, w v v, and of w, w u, w v times the way off: plain numbers stay in
        // registers.
        double sum = 0, ofU = 0, ofV = 0, ofUu = 0, ofUv = 0, ofVv = 0;
        std::array<double, 3> offU{}, offV{};
        const auto& terms = registration.terms;
        const double u0 = terms(0, 0), u1 = terms(1, 0), u2 = terms(2, 0), v0 = terms(0, 1), v1 = terms(1, 1),
                     v2 = terms(2, 1);
        for (Cell& cell : cells) {
            const double w = cell.seen * cell.robust, wu = w * cell.u, wv = w * cell.v;
            sum += w, ofU += wu, ofV += wv;
            ofUu += wu * cell.u, ofUv += wu * cell.v, ofVv += wv * cell.v;
            offU[0] += w * cell.offU, offU[1] += wu * cell.offU, offU[2] += wv * cell.offU;
            offV[0] += w * cell.offV, offV[1] += wu * cell.offV, offV[2] += wv * cell.offV;
            const double leftU = cell.offU - (u0 + u1 * cell.u + u2 * cell.v),
                         leftV = cell.offV - (v0 + v1 * cell.u + v2 * cell.v);
            cell.robust = 1 / (1 + (leftU * leftU + leftV * leftV) / (0.03 * 0.03));
        }
        Eigen::Matrix3d normal;
        normal << sum, ofU, ofV, ofU, ofUu, ofUv, ofV, ofUv, ofVv;
        Eigen::Matrix<double, 3, 2> right;
        right << offU[0], offV[0], offU[1], offV[1], offU[2], offV[2];
        if (sum < 50) {
            registration.terms.setZero();
            return registration;
        }
        // All cells of a flank share their error, so they count as one witness against the outline.
        normal /= sum;
        right /= sum;
        for (int axis = 0; axis < 2; ++axis) {
            const double error = axis == 0 ? kOffsetErrorU : kOffsetErrorV,
                         outline = axis == 0 ? outlineSigmaU : outlineSigmaV;
            Eigen::Matrix3d held = normal;
            const double regularisation = error * error / (outline * outline);
            held(0, 0) += regularisation;
            held(1, 1) += regularisation * 0.3;  // a stretch by x moves the ends by half of x
            held(2, 2) += regularisation * 0.3;
            registration.terms.col(axis) = held.ldlt().solve(right.col(axis));
        }
    }
    return registration;
}

/// Contact and what is seen of it at one place, linear between the cells' middles. `cells`: of each two numbers.
std::pair<float, float> sampled(const std::vector<float>& cells, double u, double v) {
    const double x = std::clamp((u - flank::kLowU) / (flank::kHighU - flank::kLowU) * kCellColumns - 0.5, 0.0,
                                kCellColumns - 1.001),
                 y = std::clamp((flank::kHighV - v) / (flank::kHighV - flank::kLowV) * kCellRows - 0.5, 0.0,
                                kCellRows - 1.001);
    const int i = static_cast<int>(x), j = static_cast<int>(y);
    const auto fx = static_cast<float>(x - i), fy = static_cast<float>(y - j);
    const float* a = &cells[static_cast<std::size_t>(2 * (j * kCellColumns + i))];
    const float* b = a + 2 * kCellColumns;
    const auto at = [&](int k) {
        return (1 - fy) * ((1 - fx) * a[k] + fx * a[k + 2]) + fy * ((1 - fx) * b[k] + fx * b[k + 2]);
    };
    return {at(0), at(1)};
}

/// The outline's own error (one sigma): corners set by hand and cameras are good, warps and bare corners less so. With
/// the gear set's flank and one camera for all, the height of 125 outlined flanks was off by 0.0085 where each corner
/// was set to 0.4 % of the length, which is 0.013 for a hand of 0.6 %; that of 138 found ones by 0.035 (rendered).
std::pair<double, double> outlineSigma(const RectifiedFlank& flank) {
    switch (flank.shape) {
        case FlankShape::GearSet:
            return {0.009, flank.found ? 0.035 : 0.013};
        case FlankShape::Typical:
            return {0.012, 0.04};
        case FlankShape::Edges:
            return {0.02, 0.06};
        case FlankShape::Flat:
            break;
    }
    return {0.03, 0.08};
}

Outcome<FlankContact> flankContactOf(const Inference& inference, const RectifiedFlank& rectified, Marking marking,
                                     double markingCertainty, double rolled) {
    // The contact as the network has it, a little sharpened: its chances are soft at borders, metal is not.
    std::vector<float> cells(2 * kCells);
    for (std::size_t c = 0; c < kCells; ++c) {
        cells[2 * c] = chance(2.5f * inference.at(kContact, c));
        cells[2 * c + 1] = inference.seen[c];
    }
    FlankContact contact;
    contact.confidence.resize(static_cast<std::size_t>(kMapWidth) * kMapHeight);
    const Eigen::Matrix<double, 2, 3> place = inference.registration.nominal();
    constexpr float kHalf = 0.5f;
    double mean = 0;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const Eigen::Vector2d at = place * Eigen::Vector3d(1, (x + 0.5) / kMapWidth, 1 - (y + 0.5) / kMapHeight);
            const auto [c, shown] = sampled(cells, at.x(), at.y());
            contact.map.at(x, y) = static_cast<std::uint8_t>(255 * c + kHalf);  // c is not negative
            const float s = shown * std::abs(2 * c - 1);
            contact.confidence[static_cast<std::size_t>(y * kMapWidth + x)] = s;
            mean += s;
        }
    mean /= static_cast<double>(contact.confidence.size());
    const auto pattern = measurePattern(contact.map);
    if (!pattern) return Refused{Refusal::NotRolled, message("contact.no-contact"), message("contact.roll-under-load")};
    if (inference.doubt > kMaxDoubt)
        return Refused{Refusal::Smeared, message("contact.no-clear-border"), message("contact.clean-and-paint")};
    contact.pattern = *pattern;
    const double more = std::max(0.0, inference.doubt - kClearDoubt);
    const bool typical = rectified.shape != FlankShape::GearSet;
    const auto error = [&](double outlined, double found, double extra, double byDoubt, double sizePx) {
        return std::hypot(std::hypot(rectified.found ? found : outlined, typical ? extra : 0, byDoubt * more),
                          kBorderPx / std::max(1.0, sizePx));
    };
    contact.pattern.sigmaToeHeel = error(kOutlinedU, kFoundU, kTypicalU, kByDoubtU, rectified.lengthPx);
    contact.pattern.sigmaRootTip = error(kOutlinedV, kFoundV, kTypicalV, kByDoubtV, rectified.heightPx);
    contact.marking = marking;
    contact.markingCertainty = markingCertainty;
    contact.compound = inference.compound;
    contact.flankConfidence = std::clamp(mean * rolled, 0.0, 1.0);
    return contact;
}

/// How far the registration moves a corner: share of the height, or twice that of the length, whichever is more.
double farthestMove(const Registration& registration) {
    const Eigen::Matrix<double, 2, 3> place = registration.nominal();
    double most = 0;
    for (const double u : {0.0, 1.0})
        for (const double v : {0.0, 1.0}) {
            const Eigen::Vector2d off = place * Eigen::Vector3d(1, u, v) - Eigen::Vector2d(u, v);
            most = std::max({most, 2 * std::abs(off.x()), std::abs(off.y())});
        }
    return most;
}

/// The grid by which the registration has the flank: as `grid`, kFlankGridU x kFlankGridV pixels.
std::vector<PixelPoint> registered(const std::vector<PixelPoint>& grid, const Registration& registration) {
    const Eigen::Matrix<double, 2, 3> place = registration.nominal();
    std::vector<PixelPoint> out;
    out.reserve(grid.size());
    for (int j = 0; j < kFlankGridV; ++j)
        for (int i = 0; i < kFlankGridU; ++i) {
            const double u = i / (kFlankGridU - 1.0), v = 1 - j / (kFlankGridV - 1.0);
            const Eigen::Vector2d at = place * Eigen::Vector3d(1, u, v);
            out.push_back(flank::placeOnGrid(grid, at.x(), at.y()));
        }
    return out;
}

/// What the network sees on the flank. A found outline may be off: it is then seen again by the one that it registers.
Inference seen(const Photo& photo, const RectifiedFlank& flank) {
    std::vector<PixelPoint> grid = flank.gridPx;
    for (PixelPoint& p : grid) p = {p.x * photo.scale, p.y * photo.scale};
    const auto [sigmaU, sigmaV] = outlineSigma(flank);
    // In doubt a found flank is seen again anyway.
    Inference inference =
        inferOn(flank::rectifyWithBorder(photo.picture, grid), flank.found ? Mirrored::Never : Mirrored::WhereRolled);
    inference.registration = registrationOf(inference, sigmaU, sigmaV);
    if (!flank.found || rolledLogOdds(inference) < -kSurelyNotRolled ||
        (farthestMove(inference.registration) <= kRectifiedAgain && inference.doubt <= kAskedAgain))
        return inference;
    inference =
        inferOn(flank::rectifyWithBorder(photo.picture, registered(grid, inference.registration)), Mirrored::InDoubt);
    inference.registration = registrationOf(inference, sigmaU, sigmaV);
    return inference;
}

}  // namespace

Refused bareFlank() { return {Refusal::NoCompound, message("contact.bare"), message("contact.paint-and-roll")}; }

std::vector<Outcome<FlankContact>> measureContact(const Photo& photo, std::span<const RectifiedFlank* const> flanks,
                                                  std::optional<Marking> told) {
    std::vector<Inference> inferences;
    double wiped = 0;
    for (const RectifiedFlank* flank : flanks) {
        inferences.push_back(seen(photo, *flank));
        // Each flank's evidence for its photo's way of marking, as far as it is rolled at all.
        const auto& l = inferences.back().logit;
        wiped += std::clamp(l[kWiped] - l[kTransferred], -4.0, 4.0) / (1 + std::exp(-rolledLogOdds(inferences.back())));
    }
    const Marking marking = told.value_or(wiped >= 0 ? Marking::Wiped : Marking::Transferred);
    const double certainty = told ? 1 : 1 / (1 + std::exp(-std::abs(wiped)));

    std::vector<Outcome<FlankContact>> out;
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        std::array<double, kStateCount> p{};
        double sum = 0, top = *std::max_element(inferences[k].logit.begin(), inferences[k].logit.end());
        for (std::size_t s = 0; s < kStateCount; ++s) {
            p[s] = std::exp(inferences[k].logit[s] - top);
            if ((s == kWiped && marking != Marking::Wiped) || (s == kTransferred && marking != Marking::Transferred))
                p[s] *= kOtherMarking;
            sum += p[s];
        }
        for (double& value : p) value /= sum;
        const double rolled = p[kWiped] + p[kTransferred];
        if (shownOf(inferences[k]) < (flanks[k]->found ? kShownEnough : kShownEnoughOutlined))
            out.emplace_back(Refused{Refusal::FlankOutsidePicture, message("contact.mostly-hidden"),
                                     message("contact.turn-whole-flank")});
        else if (rolled >= kRolledEnough)
            out.push_back(flankContactOf(inferences[k], *flanks[k], marking, certainty, rolled));
        else if (p[kNotRolled] > p[kBare])
            out.emplace_back(
                Refused{Refusal::NotRolled, message("contact.painted-no-contact"), message("contact.roll-under-load")});
        else
            out.emplace_back(bareFlank());
    }
    return out;
}

}  // namespace shimsight
