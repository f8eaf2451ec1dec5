// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/blank.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "shimsight/core.h"

namespace shimsight {

namespace {

/// Clearance over normal module, ISO 23509 data type II (k_c).
constexpr double kClearanceFactor = 0.125;
/// The depth taper is bounded to this multiple of the standard taper (tilted root line; ISO 23509, from memory).
constexpr double kMaxTaper = 1.3;

/// Depth factor k_d by pinion tooth count (ISO 23509 table for hypoid gears, from memory).
double depthFactor(int pinionTeeth) {
    switch (pinionTeeth) {
        case 4:
        case 5:
        case 6:
            return 1.765;
        case 7:
            return 1.835;
        case 8:
            return 1.895;
        case 9:
            return 1.940;
        case 10:
            return 1.975;
        case 11:
            return 1.995;
        default:
            return 2.0;
    }
}

/// Root of a continuous function between two points of opposite sign, to the last bits; T. R. Chandrupatla's rule
/// (Advances in Engineering Software 28, 1997; from memory) takes inverse quadratic interpolation where that is safe
/// and bisection elsewhere, so that a dozen evaluations do.
template <typename Function>
double rootBetween(const Function& f, double low, double high) {
    double a = high, b = low, fa = f(a), fb = f(b);
    double c = a, fc = fa;
    double share = 0.5;
    for (int i = 0; i < 120; ++i) {
        const double x = a + share * (b - a), value = f(x);
        if ((value < 0) == (fa < 0)) {
            c = a;
            fc = fa;
        } else {
            c = b;
            fc = fb;
            b = a;
            fb = fa;
        }
        a = x;
        fa = value;
        const double best = std::abs(fa) < std::abs(fb) ? a : b;
        const double least = 2 * std::numeric_limits<double>::epsilon() * std::abs(best) / std::abs(b - a);
        if (fa == 0 || least > 0.5) return best;
        const double xi = (a - b) / (c - b), phi = (fa - fb) / (fc - fb);
        share = phi * phi < xi && (1 - phi) * (1 - phi) < 1 - xi
                    ? fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
                    : 0.5;
        share = std::clamp(share, least, 1 - least);
    }
    return std::abs(fa) < std::abs(fb) ? a : b;
}

/// The pitch cones that touch at the mean point, for one pitch angle of the ring gear.
struct PitchCones {
    double ringAngle = 0, meanRadius2 = 0, pointZ = 0, azimuth = 0, pinionAngle = 0, meanRadius1 = 0;
    double offsetAngle = 0, spiral1 = 0, spiral2 = 0;
};

/// The normal of the pitch plane at P = (r2 cos h, r2 sin h, zP) meets both axes: sin h (r2 + zP cot G) = E; the
/// distance to the pinion axis along it is zP / sin G. Equal normal pitch closes on zP.
std::optional<PitchCones> pitchCones(const GearSet& set, double ringAngle, double meanRadius2) {
    const double ratio = static_cast<double>(set.ringTeeth) / set.pinionTeeth;
    const auto conesAt = [&](double pointZ) {
        PitchCones cones;
        cones.ringAngle = ringAngle;
        cones.meanRadius2 = meanRadius2;
        cones.pointZ = pointZ;
        const double reach = meanRadius2 + pointZ / std::tan(ringAngle);
        cones.azimuth = std::asin(std::clamp(set.offsetMm / reach, -1.0, 1.0));
        cones.pinionAngle = std::asin(std::cos(ringAngle) * std::cos(cones.azimuth));
        cones.meanRadius1 = pointZ / std::sin(ringAngle) * std::cos(cones.pinionAngle);
        cones.offsetAngle = std::atan(std::tan(cones.azimuth) / std::sin(ringAngle));
        if (set.ringSpiralDeg) {
            cones.spiral2 = radians(*set.ringSpiralDeg);
            cones.spiral1 = cones.spiral2 + cones.offsetAngle;
        } else {
            cones.spiral1 = radians(set.pinionSpiralDeg);
            cones.spiral2 = cones.spiral1 - cones.offsetAngle;
        }
        return cones;
    };
    const auto pitchDifference = [&](double pointZ) {
        const PitchCones cones = conesAt(pointZ);
        return cones.meanRadius1 * std::cos(cones.spiral1) * ratio - meanRadius2 * std::cos(cones.spiral2);
    };
    const double low = 1e-3 * meanRadius2;
    const double high = 3 * meanRadius2;
    if (!(pitchDifference(low) < 0 && pitchDifference(high) > 0)) return std::nullopt;
    PitchCones cones = conesAt(rootBetween(pitchDifference, low, high));
    // Teeth that lean against the offset, or lie along the pitch circle, are no drive gears.
    if (cones.spiral1 >= radians(80) || cones.spiral2 < 0) return std::nullopt;
    return cones;
}

/// Limit pressure angle (Wildhaber; ISO 23509 clause 7): where the tooth profile has no preferred direction of sliding.
double limitPressureAngle(const PitchCones& c) {
    const double cone1 = c.meanRadius1 / std::sin(c.pinionAngle);
    const double cone2 = c.meanRadius2 / std::sin(c.ringAngle);
    const double tan1 = std::tan(c.pinionAngle), tan2 = std::tan(c.ringAngle);
    return std::atan(-tan1 * tan2 / std::cos(c.offsetAngle) *
                     (cone1 * std::sin(c.spiral1) - cone2 * std::sin(c.spiral2)) / (cone1 * tan1 + cone2 * tan2));
}

/// Limit curvature radius of the lengthwise tooth line (same sources). Only for sets with offset.
double limitRadius(const PitchCones& c) {
    const double cone1 = c.meanRadius1 / std::sin(c.pinionAngle);
    const double cone2 = c.meanRadius2 / std::sin(c.ringAngle);
    const double limit = limitPressureAngle(c);
    const double above = (std::tan(c.spiral1) - std::tan(c.spiral2)) / std::cos(limit);
    const double below = -std::tan(limit) * (std::tan(c.spiral1) / (cone1 * std::tan(c.pinionAngle)) +
                                             std::tan(c.spiral2) / (cone2 * std::tan(c.ringAngle))) +
                         1 / (cone1 * std::cos(c.spiral1)) - 1 / (cone2 * std::cos(c.spiral2));
    return std::abs(above / below);
}

struct Hobbing {
    double lead = 0, centreDistance = 0, baseRadius = 0, lengthwiseRadius = 0;
};

/// The extended epicycloid of a hobbed ring gear at its mean point (ISO 23509 clause 7). Nullopt when the head does not
/// reach the gear.
std::optional<Hobbing> hobbing(const GearSet& set, const PitchCones& c) {
    const double cone2 = c.meanRadius2 / std::sin(c.ringAngle);
    const double module = 2 * c.meanRadius2 * std::cos(c.spiral2) / set.ringTeeth;
    const double sinLead = set.bladeGroups * module / (2 * set.cutterRadiusMm);
    if (sinLead >= 1) return std::nullopt;
    Hobbing hob;
    hob.lead = std::asin(sinLead);
    const double rc = set.cutterRadiusMm;
    hob.centreDistance = std::sqrt(cone2 * cone2 + rc * rc - 2 * cone2 * rc * std::sin(c.spiral2 - hob.lead));
    const double crownTeeth = set.ringTeeth / std::sin(c.ringAngle);
    hob.baseRadius = hob.centreDistance / (1 + set.bladeGroups / crownTeeth);
    const double cosine =
        cone2 * std::cos(c.spiral2) / (hob.centreDistance * crownTeeth) * (crownTeeth + set.bladeGroups);
    if (std::abs(cosine) > 1) return std::nullopt;
    const double tanAux = std::tan(std::acos(cosine));
    const double tanSpiral = std::tan(c.spiral2);
    hob.lengthwiseRadius =
        cone2 * std::cos(c.spiral2) * (tanSpiral + tanAux / (1 + std::tan(hob.lead) * (tanSpiral + tanAux)));
    return hob;
}

std::optional<double> lengthwiseRadius(const GearSet& set, const PitchCones& c) {
    if (set.cut == Cut::FaceMilled) return set.cutterRadiusMm;
    const auto hob = hobbing(set, c);
    return hob ? std::optional(hob->lengthwiseRadius) : std::nullopt;
}

double exactMeanRadius(const GearSet& set, double ringAngle) {
    return set.meanPitchDiameterMm ? 0.5 * *set.meanPitchDiameterMm
                                   : 0.5 * (set.ringGearDiameterMm - set.faceWidthMm * std::sin(ringAngle));
}

[[noreturn]] void noPitchCones(const Message& why) { throw InputError(message("gear.no-pitch-cones", why)); }

PitchCones solvePitchCones(const GearSet& set) {
    const double ratio = static_cast<double>(set.ringTeeth) / set.pinionTeeth;
    if (set.ringPitchAngleDeg || set.offsetMm == 0) {
        const double angle = set.ringPitchAngleDeg ? radians(*set.ringPitchAngleDeg) : std::atan(ratio);
        const auto cones = pitchCones(set, angle, exactMeanRadius(set, angle));
        if (!cones) noPitchCones(message("gear.no-pinion-at-angle"));
        return *cones;
    }
    // ISO 23509 Method 1 fixes the mean radius from its first guess of the pitch angle and then closes on the limit
    // radius.
    const double guess = std::atan(ratio / 1.2);
    const double meanRadius = exactMeanRadius(set, guess);
    const auto mismatch = [&](double angle) -> std::optional<double> {
        const auto cones = pitchCones(set, angle, meanRadius);
        if (!cones) return std::nullopt;
        const auto lengthwise = lengthwiseRadius(set, *cones);
        if (!lengthwise) return std::nullopt;
        // Curvatures, not radii: they stay finite where the limit radius passes through infinity.
        return 1 / limitRadius(*cones) - 1 / *lengthwise;
    };
    constexpr double kStep = 0.25;
    std::optional<double> best;
    std::optional<double> before;
    for (double deg = 35; deg < 88.9; deg += kStep) {
        const auto value = mismatch(radians(deg));
        if (value && before && (*value < 0) != (*before < 0)) {
            const double root =
                rootBetween([&](double a) { return mismatch(a).value_or(1); }, radians(deg - kStep), radians(deg));
            const auto atRoot = mismatch(root);
            if (atRoot && std::abs(*atRoot) < 1e-6 && (!best || std::abs(root - guess) < std::abs(*best - guess)))
                best = root;
        }
        before = value;
    }
    if (!best) noPitchCones(message("gear.no-angle-for-cutter"));
    return *pitchCones(set, *best, meanRadius);
}

/// Cone distances, diameters and angles of the pitch cones. Throws InputError where the face does not fit on them.
void takePitchCones(Blank& b, const GearSet& set, const PitchCones& c) {
    b.pitchAngle1 = c.pinionAngle;
    b.pitchAngle2 = c.ringAngle;
    b.spiralM1 = c.spiral1;
    b.spiralM2 = c.spiral2;
    b.diameterM1 = 2 * c.meanRadius1;
    b.diameterM2 = 2 * c.meanRadius2;
    b.coneDistanceM1 = c.meanRadius1 / std::sin(c.pinionAngle);
    b.coneDistanceM2 = c.meanRadius2 / std::sin(c.ringAngle);
    b.coneDistanceE2 = set.meanPitchDiameterMm ? b.coneDistanceM2 + 0.5 * set.faceWidthMm
                                               : set.ringGearDiameterMm / (2 * std::sin(c.ringAngle));
    b.coneDistanceI2 = b.coneDistanceE2 - set.faceWidthMm;
    if (b.coneDistanceI2 < 0.3 * b.coneDistanceE2 || b.coneDistanceM2 <= b.coneDistanceI2 ||
        b.coneDistanceM2 >= b.coneDistanceE2)
        throw InputError(message("gear.face-too-wide", std::to_string(set.faceWidthMm)));
    b.outerDiameter2 = 2 * b.coneDistanceE2 * std::sin(c.ringAngle);
    b.offsetAngleAxial = c.azimuth;
    b.offsetAnglePitch = c.offsetAngle;
    b.pitchPointZ = c.pointZ;
    b.pitchPointAzimuth = c.azimuth;
    b.moduleMn = b.diameterM2 * std::cos(c.spiral2) / set.ringTeeth;
}

/// The mean of both sides, turned by the limit angle (f_alim = 1).
void takePressureAngles(Blank& b, const GearSet& set, const PitchCones& c) {
    b.limitPressureAngle = set.offsetMm > 0 ? limitPressureAngle(c) : 0;
    b.limitRadius = set.offsetMm > 0 ? limitRadius(c) : 0;
    const double mean = radians(set.pressureAngleDeg);
    b.pressureAngleDrive =
        set.drivePressureAngleDeg ? radians(*set.drivePressureAngleDeg) : mean + b.limitPressureAngle;
    b.pressureAngleCoast =
        set.coastPressureAngleDeg ? radians(*set.coastPressureAngleDeg) : mean - b.limitPressureAngle;
    if (b.pressureAngleDrive < radians(5) || b.pressureAngleCoast > radians(45))
        throw InputError(message("gear.too-flat-to-drive"));
}

/// Data type II: k_d, k_c, c_ham.
void takeDepths(Blank& b, const GearSet& set) {
    const double ratio = static_cast<double>(set.ringTeeth) / set.pinionTeeth;
    b.workingDepth = set.workingDepthMm.value_or(depthFactor(set.pinionTeeth) * b.moduleMn);
    b.clearance = set.clearanceMm.value_or(kClearanceFactor * b.workingDepth);
    b.wholeDepth = b.workingDepth + b.clearance;
    b.addendumM2 = set.ringGearAddendumMm.value_or((0.21 + 0.29 / (ratio * ratio)) * b.workingDepth);
    if (b.addendumM2 >= b.workingDepth) throw InputError(message("gear.addendum-too-high"));
    b.addendumM1 = b.workingDepth - b.addendumM2;
    b.dedendumM2 = b.wholeDepth - b.addendumM2;
}

/// Depth taper of a milled set: constant slot width, bounded by a multiple of the standard taper; the cutter's circle.
void takeMilledCut(Blank& b, const GearSet& set, const PitchCones& c) {
    const double rc = set.cutterRadiusMm, cone2 = b.coneDistanceM2;
    const double dedendum1 = b.wholeDepth - b.addendumM1;
    const double standard = std::atan(dedendum1 / cone2) + std::atan(b.dedendumM2 / cone2);
    const double outerModule = b.outerDiameter2 / set.ringTeeth;
    const double slot = radians(90) * outerModule /
                        (b.coneDistanceE2 * std::tan(radians(set.pressureAngleDeg)) * std::cos(c.spiral2)) *
                        (1 - cone2 * std::sin(c.spiral2) / rc);
    const double sum = std::clamp(slot, 0.0, kMaxTaper * standard);
    b.addendumAngle2 = set.addendumAngleDeg ? radians(*set.addendumAngleDeg) : sum * b.addendumM2 / b.workingDepth;
    b.dedendumAngle2 =
        set.dedendumAngleDeg ? radians(*set.dedendumAngleDeg) : sum * (1 - b.addendumM2 / b.workingDepth);
    b.lengthwiseRadius = rc;
    const auto spiralAt = [&](double r) {
        return std::asin(
            std::clamp((2 * cone2 * rc * std::sin(c.spiral2) - cone2 * cone2 + r * r) / (2 * r * rc), -1.0, 1.0));
    };
    b.spiralE2 = spiralAt(b.coneDistanceE2);
    b.spiralI2 = spiralAt(b.coneDistanceI2);
}

/// Even depth of a hobbed set, and its epicycloid.
void takeHobbedCut(Blank& b, const GearSet& set, const PitchCones& c) {
    const double rc = set.cutterRadiusMm;
    b.addendumAngle2 = radians(set.addendumAngleDeg.value_or(0));
    b.dedendumAngle2 = radians(set.dedendumAngleDeg.value_or(0));
    const auto hob = hobbing(set, c);
    if (!hob) throw InputError(message("gear.cutter-does-not-reach"));
    b.hobbingLead = hob->lead;
    b.epicycloidCentreDistance = hob->centreDistance;
    b.epicycloidBaseRadius = hob->baseRadius;
    b.lengthwiseRadius = hob->lengthwiseRadius;
    const auto spiralAt = [&](double r) {
        const double cosine =
            (r * r + hob->centreDistance * hob->centreDistance - rc * rc) / (2 * r * hob->centreDistance);
        const double turn = std::acos(std::clamp(cosine, -1.0, 1.0));
        return std::atan((r - hob->baseRadius * std::cos(turn)) / (hob->baseRadius * std::sin(turn)));
    };
    b.spiralE2 = spiralAt(b.coneDistanceE2);
    b.spiralI2 = spiralAt(b.coneDistanceI2);
}

/// Tooth thickness without backlash: x_sm1 = k_t / 2, x_hm1 = k_d (1/2 - c_ham), in multiples of the normal module.
void takeThickness(Blank& b, const GearSet& set) {
    const double profileShift1 = 0.5 * b.workingDepth - b.addendumM2;
    b.toothThicknessMn1 = 0.5 * kPi * b.moduleMn + set.thicknessFactor * b.moduleMn +
                          2 * profileShift1 * std::tan(radians(set.pressureAngleDeg));
    b.toothThicknessMn2 = kPi * b.moduleMn - b.toothThicknessMn1;
    if (b.toothThicknessMn2 < 0.1 * b.moduleMn) throw InputError(message("gear.tooth-too-thin"));
}

}  // namespace

Blank designBlank(const GearSet& set) {
    const PitchCones c = solvePitchCones(set);
    Blank b;
    takePitchCones(b, set, c);
    takePressureAngles(b, set, c);
    takeDepths(b, set);
    if (set.cut == Cut::FaceMilled)
        takeMilledCut(b, set, c);
    else
        takeHobbedCut(b, set, c);
    b.faceAngle2 = b.pitchAngle2 + b.addendumAngle2;
    b.rootAngle2 = b.pitchAngle2 - b.dedendumAngle2;
    takeThickness(b, set);
    return b;
}

double dialRadiusMm(const Blank& blank, DialReading dial) {
    switch (dial) {
        case DialReading::SquareToTooth:
            return 0.5 * blank.diameterM2 * std::cos(blank.spiralM2);
        case DialReading::SquareAtHeel:
            return 0.5 * blank.outerDiameter2 * std::cos(blank.spiralE2);
        case DialReading::OuterCircumference:
            return 0.5 * blank.outerDiameter2;
    }
    check(false, "a place of the dial without a radius");
    return 0;
}

double toSquareReading(const Blank& blank, DialReading dial) {
    return dialRadiusMm(blank, DialReading::SquareToTooth) / dialRadiusMm(blank, dial);
}

}  // namespace shimsight
