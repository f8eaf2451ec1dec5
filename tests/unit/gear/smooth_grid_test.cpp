// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/smooth_grid.h"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "../../support/gear_sets.h"
#include "shimsight/blank.h"
#include "shimsight/flank_surface.h"

using namespace shimsight;
using namespace shimsight::test;

TEST_CASE("node weights reproduce polynomials of their degree and sum to one", "[gear][smooth]") {
    const Eigen::VectorXd places = evenPlaces(21);
    const Eigen::MatrixXd weights = nodeWeights(5, places);
    for (Eigen::Index i = 0; i < places.size(); ++i) {
        double sum = 0, fourth = 0;
        for (int k = 0; k < 5; ++k) {
            sum += weights(i, k);
            fourth += weights(i, k) * std::pow(nodePlace(k, 5), 4);
        }
        CHECK(sum == Approx(1).margin(1e-12));
        CHECK(fourth == Approx(std::pow(places(i), 4)).margin(1e-12));
    }
}

TEST_CASE("a flank between 13 x 9 nodes is the flank", "[gear][smooth]") {
    for (const GearSet& set : {milledSet(), largeCutterMilledSet(), hobbedSet(), spiralBevelSet()}) {
        const Blank blank = designBlank(set);
        for (const Side side : kSides) {
            const RingFlank flank(set, blank, side);
            const Eigen::VectorXd u = evenPlaces(29), v = evenPlaces(19);
            const Eigen::MatrixXd across = nodeWeights(13, u), up = nodeWeights(9, v);
            std::array<Eigen::Matrix<double, 13, 9>, 3> position, normal;
            for (int j = 0; j < 9; ++j)
                for (int i = 0; i < 13; ++i) {
                    const FlankPoint point = flank.at(nodePlace(i, 13), nodePlace(j, 9));
                    for (std::size_t k = 0; k < 3; ++k) {
                        position[k](i, j) = point.position[static_cast<Eigen::Index>(k)];
                        normal[k](i, j) = point.normal[static_cast<Eigen::Index>(k)];
                    }
                }
            double worstMm = 0, worstNormal = 0;
            for (std::size_t k = 0; k < 3; ++k) {
                const Eigen::MatrixXd positions = across * position[k] * up.transpose(),
                                      normals = across * normal[k] * up.transpose();
                for (int j = 0; j < 19; ++j)
                    for (int i = 0; i < 29; ++i) {
                        const FlankPoint point = flank.at(u(i), v(j));
                        const auto axis = static_cast<Eigen::Index>(k);
                        worstMm = std::max(worstMm, std::abs(positions(i, j) - point.position[axis]));
                        worstNormal = std::max(worstNormal, std::abs(normals(i, j) - point.normal[axis]));
                    }
            }
            INFO("position " << worstMm << " mm, normal " << worstNormal);
            CHECK(worstMm < 1e-6);
            CHECK(worstNormal < 1e-6);
        }
    }
}
