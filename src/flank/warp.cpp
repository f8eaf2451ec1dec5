// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>

#include "shimsight/outline_geometry.h"

namespace shimsight::flank {
namespace {

PixelPoint operator+(PixelPoint a, PixelPoint b) { return {a.x + b.x, a.y + b.y}; }
PixelPoint operator-(PixelPoint a, PixelPoint b) { return {a.x - b.x, a.y - b.y}; }
PixelPoint operator*(double s, PixelPoint p) { return {s * p.x, s * p.y}; }
double norm(PixelPoint p) { return std::hypot(p.x, p.y); }

/// Edge points closer together than this (share of the edge) are merged: two points on one spot carry no slope.
constexpr double kMergeShare = 0.02;

/// Height of the working flank at the toe over that at the heel, and how much it varies between sets: from the engine's
/// flanks of twelve sets (ratios 3.1 to 4.6, ring gears of 180 to 300 mm), face-milled 0.52 to 0.61, face-hobbed 0.94
/// to 0.99.
struct ToothForm {
    double toeToHeel, logSigma;
};
constexpr std::array<ToothForm, 2> kToothForms{{{0.555, 0.08}, {0.965, 0.04}}};
/// How much perspective changes that ratio: a 40 mm flank 250 mm from the camera, turned up to 45 degrees, by up to 11
/// %.
constexpr double kPerspectiveLogSigma = 0.08;

struct Knot {
    double t;
    PixelPoint shift;
};

/// Natural cubic spline through the knots (ordered, distinct t), evaluated at `count` even places from 0 to 1.
std::vector<PixelPoint> splineAt(const std::vector<Knot>& knots, int count) {
    const std::size_t n = knots.size();
    std::vector<double> h(n - 1);
    for (std::size_t k = 0; k + 1 < n; ++k) h[k] = knots[k + 1].t - knots[k].t;
    std::vector<PixelPoint> second(n);
    if (n > 2) {
        const auto m = static_cast<Eigen::Index>(n - 2);
        Eigen::MatrixXd a = Eigen::MatrixXd::Zero(m, m);
        Eigen::MatrixXd b(m, 2);
        for (Eigen::Index i = 0; i < m; ++i) {
            const auto k = static_cast<std::size_t>(i) + 1;
            a(i, i) = 2 * (h[k - 1] + h[k]);
            if (i > 0) a(i, i - 1) = h[k - 1];
            if (i + 1 < m) a(i, i + 1) = h[k];
            const PixelPoint slope = 6.0 * ((1 / h[k]) * (knots[k + 1].shift - knots[k].shift) -
                                            (1 / h[k - 1]) * (knots[k].shift - knots[k - 1].shift));
            b(i, 0) = slope.x;
            b(i, 1) = slope.y;
        }
        const Eigen::MatrixXd solved = a.partialPivLu().solve(b);
        for (Eigen::Index i = 0; i < m; ++i) second[static_cast<std::size_t>(i) + 1] = {solved(i, 0), solved(i, 1)};
    }
    std::vector<PixelPoint> out;
    std::size_t k = 0;
    for (int i = 0; i < count; ++i) {
        const double t = i / double(count - 1);
        while (k + 2 < n && t > knots[k + 1].t) ++k;
        const double w = (t - knots[k].t) / h[k];
        const double c = (1 - w) * ((1 - w) * (1 - w) - 1) * h[k] * h[k] / 6;
        const double d = w * (w * w - 1) * h[k] * h[k] / 6;
        out.push_back((1 - w) * knots[k].shift + w * knots[k + 1].shift + c * second[k] + d * second[k + 1]);
    }
    return out;
}

/// Displacement along one edge that takes `line` onto the points; zero at both ends.
std::vector<PixelPoint> edgeShift(const std::vector<PixelPoint>& line, const std::vector<PixelPoint>& points) {
    const int count = static_cast<int>(line.size());
    std::vector<Knot> inner;
    for (const auto& point : points) {
        const NearestOnLine near = nearestOnLine(line, point);
        if (near.t > kMergeShare && near.t < 1 - kMergeShare) inner.push_back({near.t, point - near.point});
    }
    std::sort(inner.begin(), inner.end(), [](const Knot& a, const Knot& b) { return a.t < b.t; });
    std::vector<Knot> knots{{0, {}}};
    for (std::size_t i = 0; i < inner.size();) {
        Knot sum{0, {}};
        std::size_t j = i;
        while (j < inner.size() && inner[j].t - inner[i].t < kMergeShare) {
            sum.t += inner[j].t;
            sum.shift = sum.shift + inner[j].shift;
            ++j;
        }
        const double share = 1.0 / static_cast<double>(j - i);
        knots.push_back({sum.t * share, share * sum.shift});
        i = j;
    }
    knots.push_back({1, {}});
    // A tooth edge bends like an arc: take out the best parabola first, so that few points do, and leave the rest to a
    // spline.
    PixelPoint bend;
    double weight = 0;
    for (const Knot& knot : knots) {
        const double bump = knot.t * (1 - knot.t);
        bend = bend + bump * knot.shift;
        weight += bump * bump;
    }
    if (weight > 0) bend = (1 / weight) * bend;
    for (Knot& knot : knots) knot.shift = knot.shift - (knot.t * (1 - knot.t)) * bend;
    std::vector<PixelPoint> out = splineAt(knots, count);
    for (int i = 0; i < count; ++i) {
        const double t = i / double(count - 1);
        out[static_cast<std::size_t>(i)] = out[static_cast<std::size_t>(i)] + (t * (1 - t)) * bend;
    }
    return out;
}

}  // namespace

std::optional<Eigen::Matrix3d> homographyBetween(const std::array<PixelPoint, 4>& from,
                                                 const std::array<PixelPoint, 4>& to) {
    // Both through the projective basis: H = B(to) B(from)^-1, where B sends the unit vectors and (1,1,1) to the
    // points.
    const auto basis = [](const std::array<PixelPoint, 4>& p) -> std::optional<Eigen::Matrix3d> {
        Eigen::Matrix3d m;
        m << p[0].x, p[1].x, p[2].x, p[0].y, p[1].y, p[2].y, 1, 1, 1;
        const Eigen::FullPivLU<Eigen::Matrix3d> lu(m);
        if (!lu.isInvertible()) return std::nullopt;
        const Eigen::Vector3d weight = lu.solve(Eigen::Vector3d(p[3].x, p[3].y, 1));
        if (weight.cwiseAbs().minCoeff() < 1e-9) return std::nullopt;
        return m * weight.asDiagonal();
    };
    const auto a = basis(from), b = basis(to);
    if (!a || !b) return std::nullopt;
    Eigen::Matrix3d h = *b * a->inverse();
    if (!h.allFinite()) return std::nullopt;
    return h / h.norm();
}

double signedArea(const std::array<PixelPoint, 4>& corners) {
    double sum = 0;
    for (std::size_t k = 0; k < 4; ++k) {
        const PixelPoint a = corners[k], b = corners[(k + 1) % 4];
        sum += a.x * b.y - b.x * a.y;
    }
    return 0.5 * sum;
}

double outlineLength(const FlankOutline& outline) {
    const auto& c = outline.corners;
    return 0.5 * (norm(c[3] - c[0]) + norm(c[2] - c[1]));
}

double outlineHeight(const FlankOutline& outline) {
    const auto& c = outline.corners;
    return 0.5 * (norm(c[1] - c[0]) + norm(c[2] - c[3]));
}

NearestOnLine nearestOnLine(const std::vector<PixelPoint>& line, PixelPoint p) {
    NearestOnLine best;
    double nearest = std::numeric_limits<double>::infinity();
    const std::size_t last = line.size() - 2;
    for (std::size_t k = 0; k <= last; ++k) {
        const PixelPoint d = line[k + 1] - line[k];
        const double length2 = std::max(1e-12, d.x * d.x + d.y * d.y);
        const PixelPoint e = p - line[k];
        double w = (e.x * d.x + e.y * d.y) / length2;
        // The end pieces go on beyond the ends, so that a point past a corner still counts by its distance square to
        // the edge.
        if (k > 0) w = std::max(w, 0.0);
        if (k < last) w = std::min(w, 1.0);
        const PixelPoint foot = line[k] + w * d;
        const double ex = p.x - foot.x, ey = p.y - foot.y, squared = ex * ex + ey * ey;
        if (squared < nearest) {
            nearest = squared;
            best = {(static_cast<double>(k) + w) / static_cast<double>(last + 1), foot,
                    d.x * e.y - d.y * e.x >= 0 ? 1.0 : -1.0};
        }
    }
    best.signedDistance *= std::sqrt(nearest);
    return best;
}

double likelyTaper(double heightRatioInPicture) {
    const double seen = std::log(heightRatioInPicture);
    double weightSum = 0, taperSum = 0;
    for (const ToothForm& form : kToothForms) {
        const double variance = form.logSigma * form.logSigma + kPerspectiveLogSigma * kPerspectiveLogSigma;
        const double residual = seen - std::log(form.toeToHeel);
        const double weight = std::exp(-0.5 * residual * residual / variance) / std::sqrt(variance);
        weightSum += weight;
        taperSum += weight * (std::log(form.toeToHeel) + residual * form.logSigma * form.logSigma / variance);
    }
    // Seen so askew that neither form is likely: the nearer end of both.
    if (weightSum < 1e-12) return seen < 0 ? kToothForms[0].toeToHeel : kToothForms[1].toeToHeel;
    return std::exp(taperSum / weightSum);
}

std::vector<PixelPoint> flatGrid(const std::array<PixelPoint, 4>& corners) {
    const double taper = likelyTaper(norm(corners[1] - corners[0]) / std::max(1e-9, norm(corners[2] - corners[3])));
    // The flat flank: u along it, its height growing from `taper` at the toe to 1 at the heel.
    const auto flat = [taper](double u, double v) { return PixelPoint{u, (v - 0.5) * (taper + (1 - taper) * u)}; };
    const auto h = homographyBetween({flat(0, 0), flat(0, 1), flat(1, 1), flat(1, 0)}, corners);
    std::vector<PixelPoint> out;
    if (!h) return out;
    for (int j = kFlankGridV - 1; j >= 0; --j)
        for (int i = 0; i < kFlankGridU; ++i) {
            const PixelPoint on = flat(i / double(kFlankGridU - 1), j / double(kFlankGridV - 1));
            const Eigen::Vector3d p = *h * Eigen::Vector3d(on.x, on.y, 1);
            out.push_back({p.x() / p.z(), p.y() / p.z()});
        }
    return out;
}

void meetPoints(std::vector<PixelPoint>& grid, const FlankOutline& outline, double share) {
    const std::vector<PixelPoint> before = grid;
    constexpr int nu = kFlankGridU, nv = kFlankGridV;
    const auto at = [&](int i, int row) -> PixelPoint& { return grid[static_cast<std::size_t>(row * nu + i)]; };
    // Step 1: corners.
    const PixelPoint toeRoot = outline.corners[0] - at(0, nv - 1), toeTip = outline.corners[1] - at(0, 0);
    const PixelPoint heelTip = outline.corners[2] - at(nu - 1, 0), heelRoot = outline.corners[3] - at(nu - 1, nv - 1);
    for (int row = 0; row < nv; ++row)
        for (int i = 0; i < nu; ++i) {
            const double u = i / double(nu - 1), v = 1 - row / double(nv - 1);
            at(i, row) =
                at(i, row) + (1 - u) * ((1 - v) * toeRoot + v * toeTip) + u * ((1 - v) * heelRoot + v * heelTip);
        }
    // Step 2: edges. All displacements vanish in the corners, so the Coons patch needs no corner term.
    std::vector<PixelPoint> root, tip, toe, heel;
    for (int i = 0; i < nu; ++i) {
        root.push_back(at(i, nv - 1));
        tip.push_back(at(i, 0));
    }
    for (int row = nv - 1; row >= 0; --row) {
        toe.push_back(at(0, row));
        heel.push_back(at(nu - 1, row));
    }
    const auto dRoot = edgeShift(root, outline.rootEdge), dTip = edgeShift(tip, outline.tipEdge);
    const auto dToe = edgeShift(toe, outline.toeEdge), dHeel = edgeShift(heel, outline.heelEdge);
    for (int row = 0; row < nv; ++row)
        for (int i = 0; i < nu; ++i) {
            const double u = i / double(nu - 1), v = 1 - row / double(nv - 1);
            const auto iu = static_cast<std::size_t>(i), iv = static_cast<std::size_t>(nv - 1 - row);
            at(i, row) = at(i, row) + (1 - v) * dRoot[iu] + v * dTip[iu] + (1 - u) * dToe[iv] + u * dHeel[iv];
        }
    if (share < 1)
        for (std::size_t k = 0; k < grid.size(); ++k) grid[k] = before[k] + share * (grid[k] - before[k]);
}

}  // namespace shimsight::flank
