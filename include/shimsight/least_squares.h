// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Small dense least squares by Levenberg-Marquardt with differences for the Jacobian. Module `flank`.
#pragma once

#include <Eigen/Dense>
#include <functional>

namespace shimsight::flank {

struct LeastSquaresResult {
    Eigen::VectorXd x;
    double cost = 0;  ///< half the sum of squares
    int iterations = 0;
};

struct LeastSquaresOptions {
    int maxIterations = 40;
    double relativeDecrease = 1e-8;  ///< stop when a step lowers the cost by less than this share
    double step = 1e-6;              ///< of the differences, for parameters of order one
};

/// Minimises |residual(x)|^2 / 2 from `start`. Parameters should be scaled to order one.
inline LeastSquaresResult minimise(const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& residual,
                                   const Eigen::VectorXd& start, const LeastSquaresOptions& options = {}) {
    LeastSquaresResult result{start, 0, 0};
    Eigen::VectorXd r = residual(start);
    result.cost = 0.5 * r.squaredNorm();
    double damping = 1e-3;
    const Eigen::Index n = start.size();
    for (; result.iterations < options.maxIterations; ++result.iterations) {
        Eigen::MatrixXd jacobian(r.size(), n);
        for (Eigen::Index k = 0; k < n; ++k) {
            Eigen::VectorXd moved = result.x;
            moved(k) += options.step;
            jacobian.col(k) = (residual(moved) - r) / options.step;
        }
        const Eigen::MatrixXd normal = jacobian.transpose() * jacobian;
        const Eigen::VectorXd gradient = jacobian.transpose() * r;
        bool lowered = false;
        double decrease = 0;
        for (int attempt = 0; attempt < 8 && !lowered; ++attempt) {
            Eigen::MatrixXd damped = normal;
            damped.diagonal() += damping * (normal.diagonal().array() + 1e-12).matrix();
            const Eigen::VectorXd candidate = result.x - damped.ldlt().solve(gradient);
            const Eigen::VectorXd rCandidate = residual(candidate);
            const double cost = 0.5 * rCandidate.squaredNorm();
            if (std::isfinite(cost) && cost < result.cost) {
                decrease = (result.cost - cost) / result.cost;
                result.x = candidate;
                result.cost = cost;
                r = rCandidate;
                damping = std::max(1e-9, damping * 0.2);
                lowered = true;
            } else {
                damping *= 6;
            }
        }
        if (!lowered || decrease < options.relativeDecrease) break;
    }
    return result;
}

}  // namespace shimsight::flank
