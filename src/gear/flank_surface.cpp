// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/flank_surface.h"

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight {

using Eigen::AngleAxisd;
using Eigen::Vector3d;

namespace {

/// Normal of a cone of half angle `angle` about Z, at azimuth `h`, out of the ring gear (toward the pinion).
Vector3d coneNormal(double angle, double h) {
    return {std::cos(angle) * std::cos(h), std::cos(angle) * std::sin(h), -std::sin(angle)};
}

constexpr int kNewtonSteps = 30;
constexpr double kPositionToleranceMm = 1e-10;
/// A flank lies within this turn of the cutter from its middle; a solution beyond it is another branch.
constexpr double kMaxCutterTurn = 1.3;

}  // namespace

RingFlank::RingFlank(const GearSet& gearSet, const Blank& blank, Side side)
    : gearSet_(gearSet), blank_(blank), side_(side) {
    const double h = blank.pitchPointAzimuth;
    const double r2 = 0.5 * blank.diameterM2;
    const Vector3d slotMiddle(r2 * std::cos(h), r2 * std::sin(h), blank.pitchPointZ);
    const Vector3d generatrix(std::sin(blank.pitchAngle2) * std::cos(h), std::sin(blank.pitchAngle2) * std::sin(h),
                              std::cos(blank.pitchAngle2));
    const Vector3d around(-std::sin(h), std::cos(h), 0);
    cutterAxis_ = coneNormal(blank.rootAngle2, h);

    // Across the tooth in the pitch plane, toward the centre of lengthwise curvature; both cuts share one construction:
    // without offset of the blade (lead 0, ratio 0) the epicycloid is a circle.
    const auto across = [&](double spiral) -> Vector3d {
        return -std::sin(spiral) * generatrix + std::cos(spiral) * around;
    };
    const auto inRootPlane = [&](const Vector3d& v) -> Vector3d {
        return (v - v.dot(cutterAxis_) * cutterAxis_).normalized();
    };
    rollRatio_ = gearSet.cut == Cut::FaceHobbed ? static_cast<double>(gearSet.bladeGroups) / gearSet.ringTeeth : 0;

    // Inside blade (nearer the cutter axis) cuts the convex flank; the slot widens with height.
    const double slotWidth = kPi * blank.moduleMn - blank.toothThicknessMn2;
    const double sign = side == Side::Drive ? 1 : -1;
    toothTurn_ = -sign * kPi / gearSet.ringTeeth;

    // Each flank has the blank's spiral and its own pressure angle at its mean point, against the pitch plane there.
    // The root plane is tilted against it and the flank lies beside the slot's middle, so blade angle and cutter
    // position are found by fixed-point steps.
    const double wishedPressure = side == Side::Drive ? blank.pressureAngleDrive : blank.pressureAngleCoast;
    double bladeAngle = wishedPressure, setSpiral = blank.spiralM2;
    for (int i = 0; i < 60; ++i) {
        const Vector3d toward = inRootPlane(across(setSpiral));
        cutterCentre_ = slotMiddle + gearSet.cutterRadiusMm * inRootPlane(across(setSpiral - blank.hobbingLead));
        bladePoint_ = slotMiddle + sign * 0.5 * slotWidth * toward;
        bladeDirection_ = cutterAxis_ + sign * std::tan(bladeAngle) * toward;
        const FlankPoint mean = sweptPoint({r2, blank.pitchPointZ});
        const double azimuth = std::atan2(mean.position.y(), mean.position.x());
        const Vector3d pitchNormal = coneNormal(blank.pitchAngle2, azimuth);
        const Vector3d meanGeneratrix(std::sin(blank.pitchAngle2) * std::cos(azimuth),
                                      std::sin(blank.pitchAngle2) * std::sin(azimuth), std::cos(blank.pitchAngle2));
        const Vector3d meanAround(-std::sin(azimuth), std::cos(azimuth), 0);
        const double reachedPressure = std::asin(mean.normal.dot(pitchNormal));
        const double reachedSpiral = std::atan(-mean.normal.dot(meanGeneratrix) / mean.normal.dot(meanAround));
        bladeAngle += wishedPressure - reachedPressure;
        setSpiral += blank.spiralM2 - reachedSpiral;
        if (std::abs(wishedPressure - reachedPressure) + std::abs(blank.spiralM2 - reachedSpiral) < 1e-13) break;
    }
}

RingFlank::AxialPoint RingFlank::axialPoint(double u, double v) const {
    const double cone = blank_.coneDistanceI2 + u * (blank_.coneDistanceE2 - blank_.coneDistanceI2);
    const double beyondMean = cone - blank_.coneDistanceM2;
    const double tip = blank_.addendumM2 + beyondMean * std::tan(blank_.addendumAngle2);
    const double low = -(blank_.dedendumM2 + beyondMean * std::tan(blank_.dedendumAngle2)) + blank_.clearance;
    const double height = low + v * (tip - low);
    // Pitch cone apex to the mean point fixes z.
    const double apexZ = blank_.pitchPointZ - blank_.coneDistanceM2 * std::cos(blank_.pitchAngle2);
    return {cone * std::sin(blank_.pitchAngle2) + height * std::cos(blank_.pitchAngle2),
            apexZ + cone * std::cos(blank_.pitchAngle2) - height * std::sin(blank_.pitchAngle2)};
}

double RingFlank::rootV(double u) const {
    const double cone = blank_.coneDistanceI2 + u * (blank_.coneDistanceE2 - blank_.coneDistanceI2);
    const double beyondMean = cone - blank_.coneDistanceM2;
    const double tip = blank_.addendumM2 + beyondMean * std::tan(blank_.addendumAngle2);
    const double low = -(blank_.dedendumM2 + beyondMean * std::tan(blank_.dedendumAngle2)) + blank_.clearance;
    return -blank_.clearance / (tip - low);
}

FlankPoint RingFlank::sweptPoint(const AxialPoint& target) const {
    // Turning the gear changes neither radius nor z, so the two unknowns (blade height, cutter turn) follow from the
    // cutter's turn alone; the gear's turn is added afterwards.
    double height = 0, turn = 0;
    Vector3d blade, alongTurn, alongHeight;
    for (int i = 0;; ++i) {
        const Eigen::Matrix3d rotation = AngleAxisd(turn, cutterAxis_).toRotationMatrix();
        const Vector3d arm = rotation * (bladePoint_ + height * bladeDirection_ - cutterCentre_);
        blade = cutterCentre_ + arm;
        alongHeight = rotation * bladeDirection_;
        alongTurn = cutterAxis_.cross(arm);
        const double radius = std::hypot(blade.x(), blade.y());
        const Eigen::Vector2d residual(target.radius - radius, target.z - blade.z());
        if (residual.norm() < kPositionToleranceMm) break;
        Eigen::Matrix2d jacobian;
        jacobian << (blade.x() * alongHeight.x() + blade.y() * alongHeight.y()) / radius,
            (blade.x() * alongTurn.x() + blade.y() * alongTurn.y()) / radius, alongHeight.z(), alongTurn.z();
        const Eigen::Vector2d step = jacobian.inverse() * residual;
        const double damping = std::min(1.0, 0.3 / std::max(1e-300, std::abs(step.y())));
        height += damping * step.x();
        turn += damping * step.y();
        if (i == kNewtonSteps || !std::isfinite(height) || std::abs(turn) > kMaxCutterTurn)
            throw InputError(message("gear.cutter-path-too-short"));
    }
    const Eigen::Matrix3d gearTurn = AngleAxisd(toothTurn_ - rollRatio_ * turn, Vector3d::UnitZ()).toRotationMatrix();
    FlankPoint point;
    point.position = gearTurn * blade;
    const Vector3d sweep = gearTurn * (alongTurn - rollRatio_ * Vector3d::UnitZ().cross(blade));
    point.normal = sweep.cross(gearTurn * alongHeight).normalized();
    // Out of the metal: the drive flank looks against the azimuth, the coast flank along it.
    const double along = point.position.x() * point.normal.y() - point.position.y() * point.normal.x();
    if ((along > 0) == (side_ == Side::Drive)) point.normal = -point.normal;
    return point;
}

FlankPoint RingFlank::at(double u, double v) const { return sweptPoint(axialPoint(u, v)); }

PinionFlank::PinionFlank(const RingFlank& ring, const Modification& modification)
    : ring_(ring), modification_(modification) {}

double PinionFlank::ratio() const {
    return -static_cast<double>(ring_.gearSet().ringTeeth) / ring_.gearSet().pinionTeeth;
}

double PinionFlank::rollAngle(const FlankPoint& p) const {
    // N . v_rel = 0 with the ring gear turning 1 about Z and the pinion m about its axis. With M = r x N turned by the
    // roll angle: M_z / m = M_x cos - M_y sin - E N_z.
    const Vector3d moment = p.position.cross(p.normal);
    const double wanted = moment.z() / ratio() + ring_.gearSet().offsetMm * p.normal.z();
    const double size = std::hypot(moment.x(), moment.y());
    const double lean = std::atan2(moment.y(), moment.x());
    if (std::abs(wanted) > size) throw InputError(message("gear.never-in-mesh"));
    // M_x cos a - M_y sin a = size cos(a + lean): two roll angles; the one in the mesh is nearer to zero.
    const double open = std::acos(wanted / size);
    const double first = std::remainder(open - lean, 2 * kPi);
    const double second = std::remainder(-open - lean, 2 * kPi);
    return std::abs(first) < std::abs(second) ? first : second;
}

double PinionFlank::easeOffMm(double u, double v) const {
    const double s = 2 * (u - 0.5 - modification_.lengthShift);
    const double h = 2 * (v - 0.5 - modification_.profileShift);
    return 1e-3 *
           (modification_.lengthCrownUm * s * s + modification_.profileCrownUm * h * h + modification_.biasUm * s * h);
}

FlankPoint PinionFlank::at(double u, double v) const {
    const FlankPoint ringPoint = ring_.at(u, v);
    const double roll = rollAngle(ringPoint);
    const Eigen::Matrix3d ringTurn = AngleAxisd(roll, Vector3d::UnitZ()).toRotationMatrix();
    const Eigen::Matrix3d back = AngleAxisd(-ratio() * roll, Vector3d::UnitX()).toRotationMatrix();
    const Vector3d normal = ringTurn * ringPoint.normal;
    const Vector3d inHousing = ringTurn * ringPoint.position + easeOffMm(u, v) * normal;
    FlankPoint point;
    point.position = back * (inHousing - Vector3d(0, ring_.gearSet().offsetMm, 0));
    point.normal = -(back * normal);
    return point;
}

}  // namespace shimsight
