// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Pitch cones and blank dimensions of a hypoid or spiral bevel set, shaft angle 90 degrees (ISO 23509 relations).
#pragma once

#include "shimsight/gear_set.h"

namespace shimsight {

/// Lengths mm, angles rad. Suffix 1 = pinion, 2 = ring gear; m = at mid-face, e = heel end, i = toe end; n = normal
/// section.
struct Blank {
    double pitchAngle1 = 0, pitchAngle2 = 0;
    double coneDistanceM1 = 0, coneDistanceM2 = 0, coneDistanceE2 = 0, coneDistanceI2 = 0;
    double spiralM1 = 0, spiralM2 = 0, spiralE2 = 0, spiralI2 = 0;
    double diameterM1 = 0, diameterM2 = 0;
    double offsetAngleAxial = 0, offsetAnglePitch = 0;  ///< zeta_m, zeta_mp
    double moduleMn = 0;
    double limitPressureAngle = 0, limitRadius = 0;
    double pressureAngleDrive = 0, pressureAngleCoast = 0;
    double workingDepth = 0, wholeDepth = 0, clearance = 0, addendumM2 = 0, dedendumM2 = 0, addendumM1 = 0;
    double addendumAngle2 = 0, dedendumAngle2 = 0, faceAngle2 = 0, rootAngle2 = 0;
    double toothThicknessMn1 = 0, toothThicknessMn2 = 0;  ///< at the mean cone, with no backlash allowance
    double lengthwiseRadius = 0;                          ///< lengthwise curvature radius of the tooth at mid-face
    double hobbingLead = 0;                               ///< nu, face-hobbed only
    double epicycloidCentreDistance = 0, epicycloidBaseRadius = 0;  ///< rho_P0, rho_b; face-hobbed only
    double pitchPointZ = 0;                                         ///< of the mean pitch point in the ring gear frame
    double pitchPointAzimuth = 0;  ///< h: its azimuth about the ring gear axis, toward +Y
    double outerDiameter2 = 0;     ///< outer pitch diameter of the ring gear
};

/// Throws InputError when no pitch cones fit the data.
Blank designBlank(const GearSet& gearSet);

/// Movement of the dial for one radian of the ring gear, mm.
double dialRadiusMm(const Blank& blank, DialReading dial);
/// Factor from the named dial's reading to one square to the tooth at mid-face.
double toSquareReading(const Blank& blank, DialReading dial);

}  // namespace shimsight
