// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "gear/exact_contact.h"

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight {

using Eigen::AngleAxisd;
using Eigen::Vector3d;

namespace {

constexpr double kDifference = 1e-5;  ///< step of the numerical derivatives, flank parameters and radians
constexpr double kConvergedMm = 1e-7;
constexpr int kMaxSteps = 25;
constexpr int kSameDerivatives = 4;  ///< steps that share them
constexpr double kFarthest = 2.0;    ///< flank parameters beyond -2..3 are no part of a tooth

bool near(double parameter) { return parameter > -kFarthest && parameter < 1 + kFarthest; }

}  // namespace

DisplacedPair::DisplacedPair(const PinionFlank& pinion, const SetupError& error)
    : pinion_(pinion),
      error_(error),
      shaftTurn_(AngleAxisd(error.shaftAngleRad, Vector3d::UnitY()).toRotationMatrix()) {}

FlankPoint DisplacedPair::ringInHousing(double u, double v, double ringAngle) const {
    const FlankPoint point = pinion_.ring().at(u, v);
    const Eigen::Matrix3d turn = AngleAxisd(ringAngle, Vector3d::UnitZ()).toRotationMatrix();
    return {turn * point.position - Vector3d(0, 0, error_.ringMm), turn * point.normal};
}

FlankPoint DisplacedPair::pinionInHousing(double a, double b, double pinionAngle) const {
    const FlankPoint point = pinion_.at(a, b);
    const Eigen::Matrix3d turn = AngleAxisd(pinionAngle, Vector3d::UnitX()).toRotationMatrix();
    const Vector3d shift(-error_.depthMm, pinion_.ring().gearSet().offsetMm + error_.offsetMm, 0);
    return {shaftTurn_ * (turn * point.position + shift), shaftTurn_ * (turn * point.normal)};
}

std::optional<DisplacedPair::Touch> DisplacedPair::touchOf(double u, double v, double pinionAngle,
                                                           double ringAngleGuess) const {
    try {
        return touchBySteps(u, v, pinionAngle, ringAngleGuess);
    } catch (const InputError&) {
        return std::nullopt;  // a step left the surface
    }
}

std::optional<DisplacedPair::ContactPoint> DisplacedPair::contactAt(double pinionAngle, double u, double v,
                                                                    double ringAngleGuess) const {
    try {
        return contactBySteps(pinionAngle, u, v, ringAngleGuess);
    } catch (const InputError&) {
        return std::nullopt;
    }
}

std::optional<DisplacedPair::Touch> DisplacedPair::touchBySteps(double u, double v, double pinionAngle,
                                                                double ringAngleGuess) const {
    Touch touch{u, v, ringAngleGuess};
    const FlankPoint ringAtZero = pinion_.ring().at(u, v);
    // The surfaces are so flat over one step that the first derivatives serve for the steps after it too.
    Eigen::PartialPivLU<Eigen::Matrix3d> derivatives;
    for (int i = 0; i < kMaxSteps; ++i) {
        const Eigen::Matrix3d turn = AngleAxisd(touch.ringAngle, Vector3d::UnitZ()).toRotationMatrix();
        const Vector3d ring = turn * ringAtZero.position;
        const Vector3d pinion = pinionInHousing(touch.a, touch.b, pinionAngle).position;
        const Vector3d residual = ring - Vector3d(0, 0, error_.ringMm) - pinion;
        if (residual.norm() < kConvergedMm) return touch;
        if (i % kSameDerivatives == 0) {
            Eigen::Matrix3d jacobian;
            jacobian.col(0) =
                (pinionInHousing(touch.a + kDifference, touch.b, pinionAngle).position - pinion) / kDifference;
            jacobian.col(1) =
                (pinionInHousing(touch.a, touch.b + kDifference, pinionAngle).position - pinion) / kDifference;
            jacobian.col(2) = -Vector3d::UnitZ().cross(ring);
            derivatives.compute(jacobian);
        }
        const Vector3d step = derivatives.solve(residual);
        touch.a += step.x();
        touch.b += step.y();
        touch.ringAngle += step.z();
        if (!step.allFinite() || !near(touch.a) || !near(touch.b)) return std::nullopt;
    }
    return std::nullopt;
}

std::optional<DisplacedPair::ContactPoint> DisplacedPair::contactBySteps(double pinionAngle, double u, double v,
                                                                         double ringAngleGuess) const {
    using Vector5d = Eigen::Matrix<double, 5, 1>;
    using Matrix5d = Eigen::Matrix<double, 5, 5>;
    /// Two directions across a normal, for the two equations of opposed normals.
    const Vector3d reference = ringInHousing(u, v, ringAngleGuess).normal;
    const Vector3d first = reference.unitOrthogonal();
    const Vector3d second = reference.cross(first);
    // Normal equations weighed as millimetres over a tooth's size, so that one Newton step serves both.
    constexpr double kNormalScale = 10;
    const auto residualAt = [&](const Vector5d& x) -> Vector5d {
        const FlankPoint ring = ringInHousing(x[0], x[1], x[4]);
        const FlankPoint pinion = pinionInHousing(x[2], x[3], pinionAngle);
        const Vector3d normals = ring.normal + pinion.normal;
        Vector5d residual;
        residual.head<3>() = ring.position - pinion.position;
        residual[3] = kNormalScale * normals.dot(first);
        residual[4] = kNormalScale * normals.dot(second);
        return residual;
    };
    // The normal of the modified pinion surface, not of the conjugate one: from its own differences.
    const auto trueNormal = [&](double a, double b) -> Vector3d {
        constexpr double kStep = 1e-4;
        const Vector3d along =
            pinionInHousing(a + kStep, b, pinionAngle).position - pinionInHousing(a - kStep, b, pinionAngle).position;
        const Vector3d up =
            pinionInHousing(a, b + kStep, pinionAngle).position - pinionInHousing(a, b - kStep, pinionAngle).position;
        const Vector3d normal = along.cross(up).normalized();
        return normal.dot(pinionInHousing(a, b, pinionAngle).normal) < 0 ? Vector3d(-normal) : normal;
    };
    const auto exactResidual = [&](const Vector5d& x) -> Vector5d {
        Vector5d residual = residualAt(x);
        const Vector3d normals = ringInHousing(x[0], x[1], x[4]).normal + trueNormal(x[2], x[3]);
        residual[3] = kNormalScale * normals.dot(first);
        residual[4] = kNormalScale * normals.dot(second);
        return residual;
    };
    Vector5d x;
    x << u, v, u, v, ringAngleGuess;
    for (int i = 0; i < kMaxSteps; ++i) {
        const Vector5d residual = exactResidual(x);
        if (residual.norm() < 1e-7)
            return ContactPoint{.u = x[0],
                                .v = x[1],
                                .a = x[2],
                                .b = x[3],
                                .ringAngle = x[4],
                                .positionResidualMm = residual.head<3>().norm(),
                                .normalResidual = residual.tail<2>().norm() / kNormalScale};
        Matrix5d jacobian;
        constexpr double kStep = 1e-4;
        for (int k = 0; k < 5; ++k) {
            Vector5d forth = x, back = x;
            forth[k] += kStep;
            back[k] -= kStep;
            jacobian.col(k) = (exactResidual(forth) - exactResidual(back)) / (2 * kStep);
        }
        Vector5d step = jacobian.partialPivLu().solve(residual);
        const double largest = step.head<4>().cwiseAbs().maxCoeff();
        if (largest > 0.2) step *= 0.2 / largest;
        x -= step;
        if (!x.allFinite() || !near(x[0]) || !near(x[1]) || !near(x[2]) || !near(x[3])) return std::nullopt;
    }
    return std::nullopt;
}

}  // namespace shimsight
