// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "teeth/flank_warp.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace shimsight::teeth {
namespace {

/// Part of a cell's error that it shares with its neighbours: even sure cells do not count for more than this allows.
constexpr double kCommonError = 0.02;
/// The terms of second degree are held toward 0 with this weight (cells' worth each), so that small patches stay
/// stable.
constexpr double kRegularisation = 24 / kCellArea;
constexpr int kRounds = 6;
constexpr int kMinWarpCells = 6;
/// A direction counts as spread over when u or v covers this much.
constexpr double kMinSpanU = 0.25, kMinSpanV = 0.25;

Eigen::Matrix<double, 6, 1> terms(double x, double y) {
    Eigen::Matrix<double, 6, 1> t;
    t << 1, x, y, x * x, x * y, y * y;
    return t;
}

}  // namespace

std::optional<FlankWarp> FlankWarp::fit(const std::vector<FlankCell>& cells) {
    if (static_cast<int>(cells.size()) < kMinWarpCells) return std::nullopt;
    FlankWarp warp;
    for (const FlankCell& cell : cells) warp.centreX_ += cell.x, warp.centreY_ += cell.y;
    const auto n = static_cast<double>(cells.size());
    warp.centreX_ /= n;
    warp.centreY_ /= n;
    double spread = 0;
    for (const FlankCell& cell : cells)
        spread += std::pow(cell.x - warp.centreX_, 2) + std::pow(cell.y - warp.centreY_, 2);
    warp.unit_ = std::max(1.0, std::sqrt(spread / n));

    std::vector<double> robust(cells.size(), 1);
    std::vector<double> residual(cells.size());
    for (int round = 0; round < kRounds; ++round) {
        Eigen::Matrix<double, 6, 6> normalMatrix = Eigen::Matrix<double, 6, 6>::Zero();
        Eigen::Matrix<double, 6, 2> rhs = Eigen::Matrix<double, 6, 2>::Zero();
        double meanWeight = 0;
        for (std::size_t c = 0; c < cells.size(); ++c) {
            const FlankCell& cell = cells[c];
            const double w = robust[c] / std::pow(cell.error + kCommonError, 2);
            meanWeight += w / n;
            const auto t = terms((cell.x - warp.centreX_) / warp.unit_, (cell.y - warp.centreY_) / warp.unit_);
            normalMatrix.noalias() += w * t * t.transpose();
            rhs.col(0) += w * cell.u * t;
            rhs.col(1) += w * cell.v * t;
        }
        for (int k = 3; k < 6; ++k) normalMatrix(k, k) += kRegularisation * meanWeight;
        warp.coefficients_ = normalMatrix.ldlt().solve(rhs);
        for (std::size_t c = 0; c < cells.size(); ++c) {
            const Eigen::Vector2d uv = warp.uvAt(cells[c].x, cells[c].y);
            residual[c] =
                (std::abs(uv.x() - cells[c].u) + std::abs(uv.y() - cells[c].v)) / (cells[c].error + kCommonError);
            robust[c] = 1 / (1 + residual[c] * residual[c] / 4);
        }
    }
    double squares = 0;
    std::size_t kept = 0;
    double lowU = 1e9, highU = -1e9, lowV = 1e9, highV = -1e9;
    for (std::size_t c = 0; c < cells.size(); ++c) {
        if (residual[c] > 3) continue;
        ++kept;
        squares += std::pow(residual[c] * (cells[c].error + kCommonError), 2);
        const Eigen::Vector2d uv = warp.uvAt(cells[c].x, cells[c].y);
        lowU = std::min(lowU, uv.x()), highU = std::max(highU, uv.x());
        lowV = std::min(lowV, uv.y()), highV = std::max(highV, uv.y());
    }
    if (kept < static_cast<std::size_t>(kMinWarpCells) || highU - lowU < kMinSpanU || highV - lowV < kMinSpanV)
        return std::nullopt;
    warp.residual_ = std::sqrt(squares / static_cast<double>(kept));
    warp.keptShare_ = static_cast<double>(kept) / n;
    const Eigen::Matrix<double, 2, 2> jacobian = warp.coefficients_.block<2, 2>(1, 0).transpose();
    warp.orientation_ = jacobian.determinant();
    if (warp.orientation_ == 0 || !std::isfinite(warp.orientation_)) return std::nullopt;
    return warp;
}

Eigen::Vector2d FlankWarp::uvAt(double x, double y) const {
    return coefficients_.transpose() * terms((x - centreX_) / unit_, (y - centreY_) / unit_);
}

std::optional<PixelPoint> FlankWarp::at(double u, double v) const {
    // Newton's steps on the polynomials from the middle of the cells.
    Eigen::Vector2d p = Eigen::Vector2d::Zero();
    const Eigen::Vector2d wanted(u, v);
    for (int step = 0; step < 12; ++step) {
        const Eigen::Vector2d residual = wanted - coefficients_.transpose() * terms(p.x(), p.y());
        Eigen::Matrix<double, 6, 2> termGradient;
        termGradient << 0, 0, 1, 0, 0, 1, 2 * p.x(), 0, p.y(), p.x(), 0, 2 * p.y();
        const Eigen::Matrix2d jacobian = coefficients_.transpose() * termGradient;
        const double determinant = jacobian.determinant();
        if (determinant * orientation_ <= 0.02 * orientation_ * orientation_) return std::nullopt;  // folds over
        Eigen::Vector2d move = jacobian.inverse() * residual;
        const double longest = move.norm();
        if (longest > 1.5) move *= 1.5 / longest;
        p += move;
        if (longest < 1e-6) return PixelPoint{centreX_ + unit_ * p.x(), centreY_ + unit_ * p.y()};
    }
    return std::nullopt;
}

}  // namespace shimsight::teeth
