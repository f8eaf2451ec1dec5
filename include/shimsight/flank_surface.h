// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The real flank surfaces of ring gear and pinion.
///
/// FRAME AND SIGNS (the one place where they are fixed). Ring gear axis = Z, from the teeth toward the back face.
/// Pinion axis parallel to X at y = E (offset), z = 0; +X runs from the crossing point toward the pinion's drive
/// flange. Origin = crossing point on the ring gear axis. So the teeth of the ring gear face -Z and lie at small
/// positive z. Pinion depth > 0: pinion moved deeper (-X). Ring gear position > 0: ring gear moved toward the pinion
/// (-Z). Offset error > 0: offset grows (+Y). Shaft-angle error > 0: angle between +X and +Z grows. u = 0 toe, 1 heel;
/// v = 0 root end of the working flank, 1 tip. Drive = convex, coast = concave. The frame shows a right-hand ring gear;
/// a left-hand set is its mirror image (y -> -y), everything on flanks unchanged.
#pragma once

#include <Eigen/Core>

#include "shimsight/blank.h"

namespace shimsight {

struct FlankPoint {
    Eigen::Vector3d position;  ///< mm, ring gear frame (housing frame at ring gear angle 0)
    Eigen::Vector3d normal;    ///< unit, out of the metal
};

/// One flank of tooth 0 of the ring gear, not generated: face-milled = the cone swept by a straight blade whose axis is
/// normal to the root plane; face-hobbed = a straight blade carried along an extended epicycloid. Tooth 0 is centred at
/// the blank's pitch point azimuth; tooth k is tooth 0 turned about +Z by k 2 pi / z2. Seen from the tooth, the drive
/// (convex) flank faces lower azimuths, the coast (concave) flank higher ones.
class RingFlank {
public:
    RingFlank(const GearSet& gearSet, const Blank& blank, Side side);

    /// (u, v) may lie moderately outside 0..1; v from rootV(u) (no fillet) to 1 is metal. Throws InputError when the
    /// surface does not reach there.
    FlankPoint at(double u, double v) const;

    /// v of the root line (negative) at u: where the flank meets the root cone, fillet left out.
    double rootV(double u) const;

    Side side() const { return side_; }
    const Blank& blank() const { return blank_; }
    const GearSet& gearSet() const { return gearSet_; }

private:
    struct AxialPoint {
        double radius, z;
    };
    AxialPoint axialPoint(double u, double v) const;
    FlankPoint sweptPoint(const AxialPoint& target) const;

    GearSet gearSet_;
    Blank blank_;
    Side side_;
    // The blade's edge line, point + height * direction, is turned about the cutter axis through the centre while the
    // gear turns `rollRatio_` times as far about its own axis (0 = face-milled). Slot frame; toothTurn_ leads to tooth
    // 0.
    Eigen::Vector3d cutterAxis_, cutterCentre_, bladePoint_, bladeDirection_;
    double rollRatio_ = 0, toothTurn_ = 0;
};

/// One flank of the pinion: conjugate to the ring gear flank under uniform motion, less the modification.
class PinionFlank {
public:
    explicit PinionFlank(const RingFlank& ring, const Modification& modification);

    /// Ring gear angle (rad, about +Z) at which the ring gear's point (u, v) is in mesh in the nominal position.
    double rollAngle(const FlankPoint& ringPoint) const;

    /// Point of the pinion flank that meshes with ring gear point (u, v), in the pinion frame: the housing frame with
    /// the pinion at angle 0, origin moved to (0, E, 0), so that the pinion axis is the X axis. Normal out of the
    /// pinion.
    FlankPoint at(double u, double v) const;

    /// Pinion angle about +X per ring gear angle about +Z (negative).
    double ratio() const;

    /// Gap that the modification leaves at (u, v), mm.
    double easeOffMm(double u, double v) const;

    const RingFlank& ring() const { return ring_; }

private:
    RingFlank ring_;
    Modification modification_;
};

}  // namespace shimsight
