// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Smooth quantities of a flank on few nodes, with polynomials between. A flank is so smooth that 13 x 9 nodes give its
/// contact rates to a millionth (tested), at a tenth of the work of asking the surface for every cell. Module `gear`.
#pragma once

#include <Eigen/Core>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight {

/// Place of node k of `count` in 0..1, closer toward the ends (Chebyshev-Lobatto points), which keeps polynomials
/// stable.
inline double nodePlace(int k, int count) { return 0.5 - 0.5 * std::cos(kPi * k / (count - 1)); }

/// Lagrange's polynomials of `nodes` nodes at each of `places` (0..1): a row for each place.
inline Eigen::MatrixXd nodeWeights(int nodes, const Eigen::VectorXd& places) {
    Eigen::VectorXd node(nodes);
    for (int k = 0; k < nodes; ++k) node(k) = nodePlace(k, nodes);
    Eigen::MatrixXd out = Eigen::MatrixXd::Ones(places.size(), nodes);
    for (Eigen::Index i = 0; i < places.size(); ++i)
        for (int k = 0; k < nodes; ++k)
            for (int m = 0; m < nodes; ++m)
                if (m != k) out(i, k) *= (places(i) - node(m)) / (node(k) - node(m));
    return out;
}

/// `count` even places from 0 to 1, both included.
inline Eigen::VectorXd evenPlaces(int count) { return Eigen::VectorXd::LinSpaced(count, 0, 1); }

}  // namespace shimsight
