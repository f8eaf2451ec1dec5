// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/flank_surface.h"

#include <Eigen/Geometry>
#include <catch2/catch.hpp>

#include "shimsight/core.h"
#include "support/gear_sets.h"

using namespace shimsight;
using Eigen::Vector3d;

TEST_CASE("flank normals agree with the surface's differences") {
    for (const GearSet& set : {test::milledSet(), test::hobbedSet(), test::spiralBevelSet()}) {
        const Blank blank = designBlank(set);
        for (const Side side : kSides) {
            const RingFlank flank(set, blank, side);
            for (const double u : {0.05, 0.5, 0.95})
                for (const double v : {0.05, 0.5, 0.95}) {
                    const double step = 1e-5;
                    const Vector3d du = flank.at(u + step, v).position - flank.at(u - step, v).position;
                    const Vector3d dv = flank.at(u, v + step).position - flank.at(u, v - step).position;
                    const FlankPoint p = flank.at(u, v);
                    CHECK(std::abs(du.cross(dv).normalized().dot(p.normal)) == Approx(1).margin(1e-8));
                    // Out of the metal: the drive flank looks toward lower azimuths.
                    const double along = Vector3d::UnitZ().cross(p.position).dot(p.normal);
                    CHECK((along < 0) == (side == Side::Drive));
                }
        }
    }
}

TEST_CASE("the drive flank is convex along its length, the coast flank concave") {
    for (const GearSet& set : {test::milledSet(), test::hobbedSet(), test::spiralBevelSet()}) {
        const Blank blank = designBlank(set);
        for (const Side side : kSides) {
            const RingFlank flank(set, blank, side);
            const Vector3d chord = 0.5 * (flank.at(0, 0.5).position + flank.at(1, 0.5).position);
            const FlankPoint middle = flank.at(0.5, 0.5);
            const double bulge = (middle.position - chord).dot(middle.normal);
            CHECK((bulge > 0) == (side == Side::Drive));
            // Sagitta of an arc over the face: b / cos(spiral) long, within the change of curvature along it.
            const double length = set.faceWidthMm / std::cos(blank.spiralM2);
            CHECK(std::abs(bulge) == Approx(length * length / (8 * blank.lengthwiseRadius)).epsilon(0.30));
        }
    }
}

TEST_CASE("spiral, pressure angle and tooth thickness at the mean point are those of the blank") {
    for (const GearSet& set : {test::milledSet(), test::hobbedSet(), test::spiralBevelSet()}) {
        const Blank blank = designBlank(set);
        const double r2 = 0.5 * blank.diameterM2;
        double azimuth[2] = {0, 0};
        for (const Side side : kSides) {
            const RingFlank flank(set, blank, side);
            // The mean point in (u, v): on the pitch cone at the mean cone distance.
            const double u =
                (blank.coneDistanceM2 - blank.coneDistanceI2) / (blank.coneDistanceE2 - blank.coneDistanceI2);
            const double v = (blank.dedendumM2 - blank.clearance) / blank.workingDepth;
            const FlankPoint p = flank.at(u, v);
            CHECK(std::hypot(p.position.x(), p.position.y()) == Approx(r2).margin(1e-6));
            CHECK(p.position.z() == Approx(blank.pitchPointZ).margin(1e-6));
            const double h = std::atan2(p.position.y(), p.position.x());
            azimuth[index(side)] = h;
            const double g = blank.pitchAngle2;
            const Vector3d cone(std::cos(g) * std::cos(h), std::cos(g) * std::sin(h), -std::sin(g));
            const Vector3d generatrix(std::sin(g) * std::cos(h), std::sin(g) * std::sin(h), std::cos(g));
            const Vector3d around(-std::sin(h), std::cos(h), 0);
            const double wished = side == Side::Drive ? blank.pressureAngleDrive : blank.pressureAngleCoast;
            CHECK(std::asin(p.normal.dot(cone)) == Approx(wished).margin(1e-9));
            Vector3d across = p.normal - p.normal.dot(cone) * cone;
            across *= (across.dot(around) > 0 ? 1.0 : -1.0) / across.norm();
            CHECK(degrees(std::atan2(-across.dot(generatrix), across.dot(around))) ==
                  Approx(degrees(blank.spiralM2)).margin(1e-6));
        }
        const double thickness = (azimuth[1] - azimuth[0]) * r2 * std::cos(blank.spiralM2);
        CHECK(thickness == Approx(blank.toothThicknessMn2).epsilon(0.03));
    }
}

TEST_CASE(
    "the pinion flank touches the ring gear flank at its roll angle, normals opposed, with no sliding along the "
    "normal") {
    for (const GearSet& set : {test::milledSet(), test::hobbedSet(), test::spiralBevelSet()}) {
        const Blank blank = designBlank(set);
        for (const Side side : kSides) {
            Modification none{0, 0, 0, 0, 0};
            const PinionFlank pinion(RingFlank(set, blank, side), none);
            for (const double u : {0.1, 0.5, 0.9}) {
                const FlankPoint ringPoint = pinion.ring().at(u, 0.4);
                const double roll = pinion.rollAngle(ringPoint);
                // The normal of the pinion surface, from its own differences, must be the meshing normal.
                const double step = 1e-5;
                const Vector3d du = pinion.at(u + step, 0.4).position - pinion.at(u - step, 0.4).position;
                const Vector3d dv = pinion.at(u, 0.4 + step).position - pinion.at(u, 0.4 - step).position;
                CHECK(std::abs(du.cross(dv).normalized().dot(pinion.at(u, 0.4).normal)) == Approx(1).margin(1e-7));
                // Relative velocity has no part along the normal.
                const Eigen::Matrix3d turn = Eigen::AngleAxisd(roll, Vector3d::UnitZ()).toRotationMatrix();
                const Vector3d r = turn * ringPoint.position, n = turn * ringPoint.normal;
                const Vector3d sliding = Vector3d::UnitZ().cross(r) -
                                         pinion.ratio() * Vector3d::UnitX().cross(r - Vector3d(0, set.offsetMm, 0));
                CHECK(sliding.dot(n) == Approx(0).margin(1e-9));
            }
        }
    }
}

TEST_CASE("a worked set: 43/11, 222 mm, offset 36") {
    // Figures of the project's own contact model prototype, kept as a regression of the closure, not as outside proof.
    const Blank b = designBlank(test::milledSet());
    CHECK(degrees(b.pitchAngle2) == Approx(72.03).margin(0.15));
    CHECK(degrees(b.pitchAngle1) == Approx(16.85).margin(0.15));
    CHECK(degrees(b.spiralM2) == Approx(26.04).margin(0.15));
    CHECK(degrees(b.limitPressureAngle) == Approx(-6.18).margin(0.1));
}
