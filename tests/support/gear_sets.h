// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Gear sets of the tests' own: invented, of usual proportions.
#pragma once

#include "shimsight/gear_set.h"

namespace shimsight::test {

inline GearSetData milledData() {
    GearSetData d;
    d.name = "milled test set";
    d.pinionTeeth = 11, d.ringTeeth = 43, d.ringGearDiameterMm = 222, d.offsetMm = 36, d.faceWidthMm = 34;
    d.cut = Cut::FaceMilled, d.pinionSpiralDeg = 47, d.cutterRadiusMm = 101.6;
    return d;
}

/// Large cutter: lengthwise curvature radius over mean cone distance well above 1.25.
inline GearSetData largeCutterMilledData() {
    GearSetData d = milledData();
    d.name = "large-cutter milled test set";
    d.cutterRadiusMm = 139.7;
    return d;
}

inline GearSetData hobbedData() {
    GearSetData d;
    d.name = "hobbed test set";
    d.pinionTeeth = 11, d.ringTeeth = 41, d.ringGearDiameterMm = 215, d.offsetMm = 32, d.faceWidthMm = 32;
    d.cut = Cut::FaceHobbed, d.pinionSpiralDeg = 47, d.cutterRadiusMm = 88, d.bladeGroups = 17;
    return d;
}

inline GearSetData spiralBevelData() {
    GearSetData d;
    d.name = "spiral bevel test set";
    d.pinionTeeth = 14, d.ringTeeth = 39, d.ringGearDiameterMm = 176.893, d.faceWidthMm = 25.4;
    d.cut = Cut::FaceMilled, d.ringSpiralDeg = 35, d.cutterRadiusMm = 114.3;
    return d;
}

inline GearSet milledSet() { return completeGearSet(milledData()); }
inline GearSet largeCutterMilledSet() { return completeGearSet(largeCutterMilledData()); }
inline GearSet hobbedSet() { return completeGearSet(hobbedData()); }
inline GearSet spiralBevelSet() { return completeGearSet(spiralBevelData()); }

}  // namespace shimsight::test
