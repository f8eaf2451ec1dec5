#include "shimsight/gear_set.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <sstream>

#include "shimsight/core.h"

namespace shimsight {

namespace {

// Proportions for what a user does not know. ISO 23509 names most of them; the values are quoted from memory.

/// Face width over ring gear diameter, and its bound over the outer cone distance.
constexpr double kFaceWidthShare = 0.155;
constexpr double kFaceWidthConeShare = 0.30;
/// Mean spiral angle of a ring gear without offset.
constexpr double kSpiralBevelSpiralDeg = 35;
/// Mean pressure angle of both sides.
constexpr double kPressureAngleDeg = 20;
/// Cutter radius over mean cone distance that is aimed at, and the radii that cutter heads come in.
constexpr double kMilledCutterShare = 1.15;
constexpr double kHobbedCutterShare = 0.92;
constexpr std::array kMilledCutterRadiiMm{38.1, 57.15, 63.5, 76.2, 95.25, 114.3, 152.4, 203.2, 228.6};
struct HobbingHead {
    double radiusMm;
    int bladeGroups;
};
constexpr std::array kHobbingHeads{HobbingHead{39, 7},   HobbingHead{51, 9},  HobbingHead{64, 11},
                                   HobbingHead{76, 13},  HobbingHead{88, 13}, HobbingHead{105, 15},
                                   HobbingHead{125, 17}, HobbingHead{150, 19}};
/// Unloaded contact on a new set is about two thirds of the face long and most of the depth high.
constexpr Modification kUsualModification{22, 14, 0, -0.05, 0};

// Bounds of what is a gear set at all.
constexpr int kFewestPinionTeeth = 4, kMostPinionTeeth = 60, kFewestRingTeeth = 8, kMostRingTeeth = 200;
constexpr double kSmallestRingGearMm = 20, kLargestRingGearMm = 2000;
/// Offset over ring gear diameter beyond which no drive axle goes (about 25 % is usual at most; from memory).
constexpr double kLargestOffsetShare = 0.40;

[[noreturn]] void refuse(const std::string& field, const std::string& why) {
    throw InputError(field + ": " + why + ".");
}

std::string text(double value) {
    std::ostringstream out;
    out << value;
    return out.str();
}

void requireRange(const std::string& field, double value, double low, double high, const std::string& unit) {
    if (!std::isfinite(value)) refuse(field, "is not a finite number");
    if (value < low || value > high)
        refuse(field,
               text(value) + " is outside " + text(low) + " to " + text(high) + (unit.empty() ? "" : " " + unit));
}

void requireRange(const std::string& field, const std::optional<double>& value, double low, double high,
                  const std::string& unit) {
    if (value) requireRange(field, *value, low, high, unit);
}

void requireInterval(const std::string& field, const std::optional<Interval>& interval, double low, double high,
                     const std::string& unit) {
    if (!interval) return;
    requireRange(field, interval->low, low, high, unit);
    requireRange(field, interval->high, low, high, unit);
    if (interval->low > interval->high) refuse(field, "the lower limit is above the upper one");
}

void validate(const GearSetData& data) {
    if (data.pinionTeeth < kFewestPinionTeeth || data.pinionTeeth > kMostPinionTeeth)
        refuse("teeth.pinion", std::to_string(data.pinionTeeth) + " is outside 4 to 60 teeth");
    if (data.ringTeeth < kFewestRingTeeth || data.ringTeeth > kMostRingTeeth)
        refuse("teeth.ring", std::to_string(data.ringTeeth) + " is outside 8 to 200 teeth");
    if (data.ringTeeth <= data.pinionTeeth) refuse("teeth.ring", "a ring gear has more teeth than its pinion");
    requireRange("ring_gear_diameter_mm", data.ringGearDiameterMm, kSmallestRingGearMm, kLargestRingGearMm, "mm");
    const double diameter = data.ringGearDiameterMm;
    if (!std::isfinite(data.offsetMm) || data.offsetMm < 0) refuse("offset_mm", "must be 0 or more");
    if (data.offsetMm > kLargestOffsetShare * diameter)
        refuse("offset_mm", text(data.offsetMm) + " mm is beyond what a ring gear of " + text(diameter) +
                                " mm can take (at most 40 % of its diameter)");
    requireRange("face_width_mm", data.faceWidthMm, 0.04 * diameter, 0.30 * diameter, "mm");
    requireRange("pinion_spiral_deg", data.pinionSpiralDeg, 5, 65, "degrees");
    requireRange("ring_spiral_deg", data.ringSpiralDeg, 0, 60, "degrees");
    requireRange("cutter_radius_mm", data.cutterRadiusMm, 0.15 * diameter, 3 * diameter, "mm");
    if (data.bladeGroups && (*data.bladeGroups < 1 || *data.bladeGroups > 60))
        refuse("blade_groups", std::to_string(*data.bladeGroups) + " is outside 1 to 60");
    requireRange("pressure_angle_deg", data.pressureAngleDeg, 10, 30, "degrees");
    requireRange("ring_pitch_angle_deg", data.ringPitchAngleDeg, 30, 89, "degrees");
    requireRange("pressure_angles_deg.drive", data.drivePressureAngleDeg, 5, 35, "degrees");
    requireRange("pressure_angles_deg.coast", data.coastPressureAngleDeg, 5, 35, "degrees");
    requireRange("working_depth_mm", data.workingDepthMm, 0.005 * diameter, 0.15 * diameter, "mm");
    requireRange("ring_gear_addendum_mm", data.ringGearAddendumMm, 0, 0.1 * diameter, "mm");
    if (data.workingDepthMm && data.ringGearAddendumMm && *data.ringGearAddendumMm >= *data.workingDepthMm)
        refuse("ring_gear_addendum_mm", "must be less than working_depth_mm");
    requireRange("clearance_mm", data.clearanceMm, 0, 0.03 * diameter, "mm");
    requireRange("addendum_angle_deg", data.addendumAngleDeg, 0, 10, "degrees");
    requireRange("dedendum_angle_deg", data.dedendumAngleDeg, 0, 15, "degrees");
    requireRange("mean_pitch_diameter_mm", data.meanPitchDiameterMm, 0.5 * diameter, diameter, "mm");
    requireRange("thickness_factor", data.thicknessFactor, -0.5, 0.5, "");
    for (const Side side : kSides) {
        const ModificationData& modification = data.modification[index(side)];
        const std::string at = side == Side::Drive ? "modification.drive." : "modification.coast.";
        requireRange(at + "length_crown_um", modification.lengthCrownUm, 0, 500, "um");
        requireRange(at + "profile_crown_um", modification.profileCrownUm, 0, 500, "um");
        requireRange(at + "bias_um", modification.biasUm, -200, 200, "um");
        requireRange(at + "length_shift", modification.lengthShift, -0.5, 0.5, "of the face width");
        requireRange(at + "profile_shift", modification.profileShift, -0.5, 0.5, "of the working depth");
    }
    const BuildData& build = data.build;
    requireRange("build.adjuster.thread_pitch_mm", build.adjusterThreadPitchMm, 0.2, 10, "mm");
    if (build.adjusterNotches && (*build.adjusterNotches < 0 || *build.adjusterNotches > 500))
        refuse("build.adjuster.notches", std::to_string(*build.adjusterNotches) + " is outside 0 to 500");
    if (build.shimsMm.size() > 200) refuse("build.shims_mm", "more than 200 shims");
    for (const double shim : build.shimsMm) requireRange("build.shims_mm", shim, 0.005, 20, "mm");
    const LimitsData& limits = data.limits;
    requireInterval("limits.backlash_mm", limits.backlashMm, 0.005, 2, "mm");
    requireRange("limits.backlash_variation_mm", limits.backlashVariationMm, 0, 1, "mm");
    requireRange("limits.ring_runout_mm", limits.ringRunoutMm, 0, 2, "mm");
    requireInterval("limits.pinion_preload_nm.new", limits.preloadNewNm, 0, 100, "Nm");
    requireInterval("limits.pinion_preload_nm.used", limits.preloadUsedNm, 0, 100, "Nm");
    requireInterval("limits.acceptance.toe_heel", limits.acceptance.toeHeel, 0, 1, "");
    requireInterval("limits.acceptance.root_tip", limits.acceptance.rootTip, 0, 1, "");
    requireInterval("limits.acceptance.length", limits.acceptance.length, 0, 1, "");
}

/// First guess of ISO 23509 for the ring gear's pitch angle.
double roughPitchAngle(const GearSetData& data) {
    const double ratio = static_cast<double>(data.ringTeeth) / data.pinionTeeth;
    return std::atan(data.offsetMm > 0 ? ratio / 1.2 : ratio);
}

double nearestMilledRadius(double wishedMm) {
    return *std::min_element(kMilledCutterRadiiMm.begin(), kMilledCutterRadiiMm.end(), [&](double a, double b) {
        return std::abs(std::log(a / wishedMm)) < std::abs(std::log(b / wishedMm));
    });
}

HobbingHead nearestHobbingHead(double wishedMm) {
    return *std::min_element(
        kHobbingHeads.begin(), kHobbingHeads.end(), [&](const HobbingHead& a, const HobbingHead& b) {
            return std::abs(std::log(a.radiusMm / wishedMm)) < std::abs(std::log(b.radiusMm / wishedMm));
        });
}

std::string withUnit(double value, const char* unit) {
    std::ostringstream out;
    out.precision(4);
    out << value << ' ' << unit;
    return out.str();
}

std::string shownMm(double value) { return formatLength(Length::fromMm(value)); }

Modification completeModification(const ModificationData& data, Side side, std::vector<std::string>& assumed) {
    const std::string of = std::string(" of the ") + (side == Side::Drive ? "drive" : "coast") + " side: ";
    if (data == ModificationData{}) {
        assumed.push_back("crowning" + of + "usual values for a new set");
        return kUsualModification;
    }
    Modification result = kUsualModification;
    result.lengthCrownUm = data.lengthCrownUm.value_or(result.lengthCrownUm);
    if (!data.lengthCrownUm) assumed.push_back("length_crown_um" + of + "a usual value");
    result.profileCrownUm = data.profileCrownUm.value_or(result.profileCrownUm);
    if (!data.profileCrownUm) assumed.push_back("profile_crown_um" + of + "a usual value");
    // No bias and no shift is the plain case, not a guess that needs a word.
    result.biasUm = data.biasUm.value_or(0);
    result.lengthShift = data.lengthShift.value_or(0);
    result.profileShift = data.profileShift.value_or(0);
    return result;
}

Build completeBuild(const BuildData& data, std::vector<std::string>& assumed) {
    Build build;
    build.pinionShim = data.pinionShim.value_or(build.pinionShim);
    if (!data.pinionShim) assumed.emplace_back("pinion shim: behind the pinion head");
    build.carrier = data.carrier.value_or(build.carrier);
    if (!data.carrier) assumed.emplace_back("backlash: set by threaded adjusters");
    build.adjusterThreadPitchMm = data.adjusterThreadPitchMm.value_or(build.adjusterThreadPitchMm);
    if (!data.adjusterThreadPitchMm && build.carrier == CarrierSetting::ThreadedAdjusters)
        assumed.push_back("adjusters: thread pitch " + shownMm(build.adjusterThreadPitchMm));
    build.adjusterNotches = data.adjusterNotches.value_or(0);
    build.shimsMm = data.shimsMm;
    if (build.shimsMm.empty()) assumed.emplace_back("shims on hand: any thickness");
    build.pinionPosition = data.pinionPosition;
    build.preloadSpacer = data.preloadSpacer;
    build.spacerSeat = data.spacerSeat;
    return build;
}

Limits completeLimits(const LimitsData& data, std::vector<std::string>& assumed) {
    Limits limits;
    limits.backlashMm = data.backlashMm.value_or(limits.backlashMm);
    if (!data.backlashMm)
        assumed.push_back("backlash limits: usual ones, " + shownMm(limits.backlashMm.low) + " to " +
                          shownMm(limits.backlashMm.high) + "; the maker's sheet comes first");
    limits.backlashVariationMm = data.backlashVariationMm.value_or(limits.backlashVariationMm);
    if (!data.backlashVariationMm)
        assumed.push_back("backlash variation: at most " + shownMm(limits.backlashVariationMm));
    limits.ringRunoutMm = data.ringRunoutMm.value_or(limits.ringRunoutMm);
    if (!data.ringRunoutMm) assumed.push_back("ring gear runout: at most " + shownMm(limits.ringRunoutMm));
    limits.preloadNewNm = data.preloadNewNm;
    limits.preloadUsedNm = data.preloadUsedNm;
    limits.acceptance.toeHeel = data.acceptance.toeHeel.value_or(limits.acceptance.toeHeel);
    limits.acceptance.rootTip = data.acceptance.rootTip.value_or(limits.acceptance.rootTip);
    limits.acceptance.length = data.acceptance.length.value_or(limits.acceptance.length);
    limits.acceptance.mayRunOff = data.acceptance.mayRunOff.value_or(limits.acceptance.mayRunOff);
    if (data.acceptance == AcceptanceData{})
        assumed.emplace_back("when a pattern is good enough: the published descriptions with usual margins");
    return limits;
}

Given givenBy(const GearSetData& data) {
    Given given;
    given.hand = data.hand.has_value();
    given.cut = data.cut.has_value();
    given.cutter = data.cutterRadiusMm.has_value();
    given.bladeGroups = data.bladeGroups.has_value();
    for (const Side side : kSides) {
        const ModificationData& modification = data.modification[index(side)];
        given.crowning[index(side)] = modification.lengthCrownUm && modification.profileCrownUm;
    }
    given.pinionShim = data.build.pinionShim.has_value();
    given.carrier = data.build.carrier.has_value();
    given.backlashLimits = data.limits.backlashMm.has_value();
    given.backlashVariation = data.limits.backlashVariationMm.has_value();
    given.ringRunout = data.limits.ringRunoutMm.has_value();
    given.acceptance = data.limits.acceptance != AcceptanceData{};
    return given;
}

}  // namespace

GearSet completeGearSet(const GearSetData& data) {
    validate(data);
    GearSet set;
    std::vector<std::string>& assumed = set.assumed;
    set.name = data.name.empty() ? "unnamed gear set" : data.name;
    set.pinionTeeth = data.pinionTeeth;
    set.ringTeeth = data.ringTeeth;
    set.ringGearDiameterMm = data.ringGearDiameterMm;
    set.offsetMm = data.offsetMm;

    // Cut first: cutter and depth taper follow from it.
    set.cutKnown = data.cut.has_value();
    set.cut = data.cut.value_or(Cut::FaceMilled);
    if (!set.cutKnown)
        assumed.emplace_back("cut: not given, face-milled (tapered tooth depth) taken here; the other is weighed too");

    const double roughAngle = roughPitchAngle(data);
    const double roughOuterCone = data.ringGearDiameterMm / (2 * std::sin(roughAngle));
    if (data.faceWidthMm) {
        set.faceWidthMm = *data.faceWidthMm;
    } else {
        set.faceWidthMm = std::min(kFaceWidthShare * data.ringGearDiameterMm, kFaceWidthConeShare * roughOuterCone);
        assumed.push_back("face width: " + formatLength(Length::fromMm(set.faceWidthMm)) +
                          ", from the ring gear diameter");
    }

    set.ringSpiralDeg = data.ringSpiralDeg;
    if (data.pinionSpiralDeg) {
        set.pinionSpiralDeg = *data.pinionSpiralDeg;
    } else if (!data.ringSpiralDeg) {
        // Published first choice for hypoids (ISO 23509 annex, from memory): 25 + 5 sqrt(z2/z1) + 90 offset / diameter.
        const double ratio = static_cast<double>(data.ringTeeth) / data.pinionTeeth;
        set.pinionSpiralDeg = data.offsetMm > 0
                                  ? 25 + 5 * std::sqrt(ratio) + 90 * data.offsetMm / data.ringGearDiameterMm
                                  : kSpiralBevelSpiralDeg;
        assumed.push_back("pinion spiral angle: " + withUnit(set.pinionSpiralDeg, "degrees"));
    }

    const double roughMeanCone = roughOuterCone - 0.5 * set.faceWidthMm;
    if (set.cut == Cut::FaceMilled) {
        if (data.cutterRadiusMm) {
            set.cutterRadiusMm = *data.cutterRadiusMm;
        } else {
            set.cutterRadiusMm = nearestMilledRadius(kMilledCutterShare * roughMeanCone);
            assumed.push_back("cutter radius: " + formatLength(Length::fromMm(set.cutterRadiusMm)));
        }
    } else {
        const HobbingHead head = nearestHobbingHead(data.cutterRadiusMm.value_or(kHobbedCutterShare * roughMeanCone));
        set.cutterRadiusMm = data.cutterRadiusMm.value_or(head.radiusMm);
        set.bladeGroups = data.bladeGroups.value_or(head.bladeGroups);
        if (!data.cutterRadiusMm)
            assumed.push_back("cutter radius: " + formatLength(Length::fromMm(set.cutterRadiusMm)));
        if (!data.bladeGroups) assumed.push_back("blade groups: " + std::to_string(set.bladeGroups));
    }

    set.pressureAngleDeg = data.pressureAngleDeg.value_or(kPressureAngleDeg);
    if (!data.pressureAngleDeg && !(data.drivePressureAngleDeg && data.coastPressureAngleDeg))
        assumed.emplace_back("pressure angle: 20 degrees (mean of both sides)");
    set.ringPitchAngleDeg = data.ringPitchAngleDeg;
    set.drivePressureAngleDeg = data.drivePressureAngleDeg;
    set.coastPressureAngleDeg = data.coastPressureAngleDeg;
    set.meanPitchDiameterMm = data.meanPitchDiameterMm;
    set.workingDepthMm = data.workingDepthMm;
    set.ringGearAddendumMm = data.ringGearAddendumMm;
    set.clearanceMm = data.clearanceMm;
    set.addendumAngleDeg = data.addendumAngleDeg;
    set.dedendumAngleDeg = data.dedendumAngleDeg;
    set.thicknessFactor = data.thicknessFactor.value_or(0.1);
    if (!data.workingDepthMm) assumed.emplace_back("working depth: from the tooth counts (ISO 23509 proportions)");
    if (!data.ringGearAddendumMm)
        assumed.emplace_back("ring gear addendum: from the tooth counts (ISO 23509 proportions)");
    if (!data.clearanceMm) assumed.emplace_back("clearance: 1/8 of the normal module");

    set.hand = data.hand.value_or(Hand::Right);
    if (!data.hand) assumed.emplace_back("hand: right-hand ring gear");
    set.forwardLoadSide = data.forwardLoadSide.value_or(Side::Drive);
    if (!data.forwardLoadSide) assumed.emplace_back("load going forward: on the drive side");
    for (const Side side : kSides)
        set.modification[index(side)] = completeModification(data.modification[index(side)], side, assumed);
    set.build = completeBuild(data.build, assumed);
    set.limits = completeLimits(data.limits, assumed);
    set.given = givenBy(data);
    set.sources = data.sources;
    return set;
}

GearSet withCut(const GearSetData& data, Cut cut) {
    GearSetData other = data;
    other.cut = cut;
    if (data.cut != cut) {
        // A cutter named for the other cut says nothing about this one.
        other.cutterRadiusMm.reset();
        other.bladeGroups.reset();
        other.addendumAngleDeg.reset();
        other.dedendumAngleDeg.reset();
    }
    GearSet set = completeGearSet(other);
    set.cutKnown = set.given.cut = data.cut.has_value();
    return set;
}

}  // namespace shimsight
