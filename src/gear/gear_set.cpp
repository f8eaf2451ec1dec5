// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/gear_set.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <sstream>

#include "shimsight/blank.h"
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
/// Head radius over the radius of the epicycloid that it cuts, for the heads below: where a wished curvature is looked
/// for first.
constexpr double kHobbedRadiusShare = 1.35;
/// How near withCutter comes to the share that was asked for.
constexpr double kShareError = 0.01;
/// Where nobody gave an angle, those that are tried before a set is refused; the usual one first. And the flattest
/// and steepest side that teeth of assumed angles may come to (common practice, no source).
constexpr std::array kPressureAnglesDeg{20.0, 22.5, 25.0};
constexpr std::array kSpiralStepsDeg{0.0, -4.0, 4.0, -8.0};
constexpr double kFlattestAssumedDeg = 8, kSteepestAssumedDeg = 40;
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
constexpr int kMinPinionTeeth = 4, kMaxPinionTeeth = 60, kMinRingTeeth = 8, kMaxRingTeeth = 200;
constexpr double kMinRingGearMm = 20, kMaxRingGearMm = 2000;
/// Offset over ring gear diameter beyond which no drive axle goes (about 25 % is usual at most; from memory).
constexpr double kMaxOffsetShare = 0.40;
constexpr std::size_t kMaxShimsOnHand = 200;
constexpr double kMaxTurningNm = 100, kMinBoltNm = 1, kMaxBoltNm = 3000;

std::string text(double value) {
    std::ostringstream out;
    out << value;
    return out.str();
}

/// The bounds of each value, asked one after another; keeps the first fault.
class Validation {
public:
    void range(const std::string& field, const std::optional<double>& value, double low, double high,
               const Message& unit) {
        if (!value) return;
        if (!std::isfinite(*value))
            fault(field, message("gear.not-finite"));
        else if (*value < low || *value > high)
            fault(field, unit.empty()
                             ? message("gear.out-of-range", text(*value), text(low), text(high))
                             : message("gear.out-of-range-with-unit", text(*value), text(low), text(high), unit));
    }
    void interval(const std::string& field, const std::optional<Interval>& limits, double low, double high,
                  const Message& unit) {
        if (!limits) return;
        range(field, limits->low, low, high, unit);
        range(field, limits->high, low, high, unit);
        if (limits->low > limits->high) fault(field, message("gear.lowest-above-highest"));
    }
    void count(const std::string& field, const std::optional<int>& value, int low, int high, const Message& unit) {
        if (value) range(field, *value, low, high, unit);
    }
    void fault(const std::string& field, const Message& why) {
        if (!first_) first_ = FieldFault{field, why};
    }
    const std::optional<FieldFault>& first() const { return first_; }

private:
    std::optional<FieldFault> first_;
};

/// A joint as the file has it: "pinion_nut".
std::string fieldOf(Joint joint) {
    std::string field(name(joint));
    std::replace(field.begin(), field.end(), '-', '_');
    return field;
}

void checkLimits(const LimitsData& limits, Validation& v) {
    v.interval("limits.backlash_mm", limits.backlashMm, 0.005, 2, "mm");
    v.range("limits.backlash_variation_mm", limits.backlashVariationMm, 0, 1, "mm");
    v.range("limits.ring_runout_mm", limits.ringRunoutMm, 0, 2, "mm");
    v.range("limits.carrier_flange_runout_mm", limits.carrierFlangeRunoutMm, 0, 2, "mm");
    v.range("limits.pinion_flange_runout_mm", limits.pinionFlangeRunoutMm, 0, 2, "mm");
    const auto turning = [&](const std::string& field, const TurningLimits& torques) {
        v.interval("limits." + field + ".new", torques.newNm, 0, kMaxTurningNm, "Nm");
        v.interval("limits." + field + ".used", torques.usedNm, 0, kMaxTurningNm, "Nm");
    };
    turning("pinion_preload_nm", {limits.preloadNewNm, limits.preloadUsedNm});
    turning("pinion_preload_with_seal_nm", limits.preloadWithSeal);
    turning("carrier_preload_nm", limits.carrierPreload);
    turning("total_turning_nm", limits.total);
    turning("total_turning_with_seal_nm", limits.totalWithSeal);
    v.interval("limits.carrier_spread_mm", limits.carrierSpreadMm, 0, 2, "mm");
    for (const Joint joint : kJoints)
        v.interval("limits.torques_nm." + fieldOf(joint), limits.torquesNm[index(joint)], kMinBoltNm, kMaxBoltNm, "Nm");
    v.interval("limits.acceptance.toe_heel", limits.acceptance.toeHeel, 0, 1, "");
    v.interval("limits.acceptance.root_tip", limits.acceptance.rootTip, 0, 1, "");
    v.interval("limits.acceptance.length", limits.acceptance.length, 0, 1, "");
}

}  // namespace

std::optional<FieldFault> faultOf(const GearSetData& data) {
    Validation v;
    v.count("teeth.pinion", data.pinionTeeth, kMinPinionTeeth, kMaxPinionTeeth, message("gear.teeth"));
    v.count("teeth.ring", data.ringTeeth, kMinRingTeeth, kMaxRingTeeth, message("gear.teeth"));
    if (data.ringTeeth <= data.pinionTeeth) v.fault("teeth.ring", message("gear.fewer-than-pinion"));
    v.range("ring_gear_diameter_mm", data.ringGearDiameterMm, kMinRingGearMm, kMaxRingGearMm, "mm");
    const double diameter = data.ringGearDiameterMm;
    v.range("offset_mm", data.offsetMm, 0, kMaxRingGearMm, "mm");
    if (data.offsetMm > kMaxOffsetShare * diameter)
        v.fault("offset_mm", message("gear.offset-too-large", text(data.offsetMm), text(diameter)));
    v.range("face_width_mm", data.faceWidthMm, 0.04 * diameter, 0.30 * diameter, "mm");
    v.range("pinion_spiral_deg", data.pinionSpiralDeg, 5, 65, message("gear.degrees"));
    v.range("ring_spiral_deg", data.ringSpiralDeg, 0, 60, message("gear.degrees"));
    v.range("cutter_radius_mm", data.cutterRadiusMm, 0.15 * diameter, 3 * diameter, "mm");
    v.count("blade_groups", data.bladeGroups, 1, 60, "");
    v.range("pressure_angle_deg", data.pressureAngleDeg, 10, 30, message("gear.degrees"));
    v.range("ring_pitch_angle_deg", data.ringPitchAngleDeg, 30, 89, message("gear.degrees"));
    v.range("pressure_angles_deg.drive", data.drivePressureAngleDeg, 5, 35, message("gear.degrees"));
    v.range("pressure_angles_deg.coast", data.coastPressureAngleDeg, 5, 35, message("gear.degrees"));
    v.range("working_depth_mm", data.workingDepthMm, 0.005 * diameter, 0.15 * diameter, "mm");
    v.range("ring_gear_addendum_mm", data.ringGearAddendumMm, 0, 0.1 * diameter, "mm");
    if (data.workingDepthMm && data.ringGearAddendumMm && *data.ringGearAddendumMm >= *data.workingDepthMm)
        v.fault("ring_gear_addendum_mm", message("gear.addendum-over-depth"));
    v.range("clearance_mm", data.clearanceMm, 0, 0.03 * diameter, "mm");
    v.range("addendum_angle_deg", data.addendumAngleDeg, 0, 10, message("gear.degrees"));
    v.range("dedendum_angle_deg", data.dedendumAngleDeg, 0, 15, message("gear.degrees"));
    v.range("mean_pitch_diameter_mm", data.meanPitchDiameterMm, 0.5 * diameter, diameter, "mm");
    v.range("thickness_factor", data.thicknessFactor, -0.5, 0.5, "");
    for (const Side side : kSides) {
        const ModificationData& modification = data.modification[index(side)];
        const std::string at = side == Side::Drive ? "modification.drive." : "modification.coast.";
        v.range(at + "length_crown_um", modification.lengthCrownUm, 0, 500, "um");
        v.range(at + "profile_crown_um", modification.profileCrownUm, 0, 500, "um");
        v.range(at + "bias_um", modification.biasUm, -200, 200, "um");
        v.range(at + "length_shift", modification.lengthShift, -0.5, 0.5, message("gear.of-face-width"));
        v.range(at + "profile_shift", modification.profileShift, -0.5, 0.5, message("gear.of-working-depth"));
    }
    const BuildData& build = data.build;
    v.range("build.adjuster.thread_pitch_mm", build.adjusterThreadPitchMm, 0.2, 10, "mm");
    v.count("build.adjuster.notches", build.adjusterNotches, 0, 500, "");
    if (build.shimsMm.size() > kMaxShimsOnHand) v.fault("build.shims_mm", message("gear.too-many-shims"));
    for (const double shim : build.shimsMm) v.range("build.shims_mm", shim, kThinnestShimMm, kThickestShimMm, "mm");
    if (build.sideShimsMm.size() > kMaxShimsOnHand) v.fault("build.side_shims_mm", message("gear.too-many-shims"));
    for (const double shim : build.sideShimsMm)
        v.range("build.side_shims_mm", shim, kThinnestShimMm, kThickestShimMm, "mm");
    v.range("build.pinion_depth_mm", build.pinionDepthMm, 0.05 * diameter, diameter, "mm");
    checkLimits(data.limits, v);
    return v.first();
}

namespace {

/// First guess of ISO 23509 for the ring gear's pitch angle.
double roughPitchAngle(const GearSetData& data) {
    const double ratio = static_cast<double>(data.ringTeeth) / data.pinionTeeth;
    return std::atan(data.offsetMm > 0 ? ratio / 1.2 : ratio);
}

/// Heads for this cut, the one nearest to the wished radius first; a milling head has no blade groups.
std::vector<HobbingHead> headsNear(Cut cut, double wishedMm) {
    std::vector<HobbingHead> heads;
    if (cut == Cut::FaceHobbed)
        heads.assign(kHobbingHeads.begin(), kHobbingHeads.end());
    else
        for (const double radius : kMilledCutterRadiiMm) heads.push_back({radius, 0});
    std::stable_sort(heads.begin(), heads.end(), [&](const HobbingHead& a, const HobbingHead& b) {
        return std::abs(std::log(a.radiusMm / wishedMm)) < std::abs(std::log(b.radiusMm / wishedMm));
    });
    return heads;
}

/// The blank of the set, where there is one and neither side of its teeth is flatter or steeper than teeth are cut.
std::optional<Blank> soundBlank(const GearSet& set) {
    try {
        Blank blank = designBlank(set);
        const bool sound = blank.pressureAngleDrive >= radians(kFlattestAssumedDeg) &&
                           blank.pressureAngleCoast <= radians(kSteepestAssumedDeg);
        return sound ? std::optional(blank) : std::nullopt;
    } catch (const InputError&) {
        return std::nullopt;
    }
}

/// Calls `fits` with one set of assumed angles after another, the usual ones first, until it is content. What the file
/// gives stays. Without success the usual ones stand.
template <typename Fits>
bool chooseAngles(GearSet& set, const GearSetData& data, const Fits& fits) {
    const bool spiralOpen = !data.pinionSpiralDeg && !data.ringSpiralDeg;
    const bool pressureOpen = !data.pressureAngleDeg && !data.drivePressureAngleDeg && !data.coastPressureAngleDeg;
    const double spiral = set.pinionSpiralDeg, pressure = set.pressureAngleDeg;
    for (const double turn : kSpiralStepsDeg) {
        if (turn != 0 && !spiralOpen) break;
        for (const double assumed : kPressureAnglesDeg) {
            if (assumed != kPressureAngleDeg && !pressureOpen) break;
            set.pinionSpiralDeg = spiral + turn;
            set.pressureAngleDeg = pressureOpen ? assumed : pressure;
            if (fits()) return true;
        }
    }
    set.pinionSpiralDeg = spiral;
    set.pressureAngleDeg = pressure;
    return false;
}

std::string shownDegrees(double value) { return formatted("%.4g", value); }

/// The cutter radius, and with it the blade groups as they are, that gives the ring gear tooth this lengthwise radius
/// over the mean cone distance. The share grows nearly in proportion to the radius, so the secant rule closes fast.
bool solveCutter(GearSet& set, double roughMeanConeMm, double share) {
    const auto shareAt = [&](double logRadius) -> std::optional<double> {
        set.cutterRadiusMm = std::exp(logRadius);
        const std::optional<Blank> blank = soundBlank(set);
        if (!blank) return std::nullopt;
        return std::log(blank->lengthwiseRadius / blank->coneDistanceM2 / share);
    };
    const double rough = std::log(share * roughMeanConeMm * (set.cut == Cut::FaceHobbed ? kHobbedRadiusShare : 1));
    // Where the first guess makes no blank, one a little to the side may.
    for (const double aside : {0.0, -0.12, 0.12, -0.24, 0.24, -0.36, 0.36, 0.5}) {
        double before = rough + aside;
        std::optional<double> residualBefore = shareAt(before);
        if (!residualBefore) continue;
        double now = before - std::clamp(*residualBefore, -0.2, 0.2);
        for (int i = 0; i < 12; ++i) {
            const std::optional<double> residual = shareAt(now);
            if (!residual) break;
            if (std::abs(*residual) < 0.1 * kShareError) return true;
            const double slope = (*residual - *residualBefore) / (now - before);
            if (!(slope > 0.05)) break;
            before = now;
            residualBefore = residual;
            now -= std::clamp(*residual / slope, -0.3, 0.3);
        }
    }
    return false;
}

/// Cutter and, where they are assumed too, the angles that go with it: of large offset a large cutter would leave the
/// drive side flat, and such sets are cut with smaller ones.
void chooseCutter(GearSet& set, const GearSetData& data, double roughMeanConeMm,
                  const std::optional<double>& lengthwiseShare) {
    const bool hobbed = set.cut == Cut::FaceHobbed;
    const double wished = data.cutterRadiusMm.value_or(
        lengthwiseShare ? *lengthwiseShare * roughMeanConeMm * (hobbed ? kHobbedRadiusShare : 1)
                        : (hobbed ? kHobbedCutterShare : kMilledCutterShare) * roughMeanConeMm);
    std::vector<HobbingHead> heads = headsNear(set.cut, wished);
    if (data.cutterRadiusMm || lengthwiseShare) heads.resize(1);
    const auto take = [&](const HobbingHead& head) {
        set.cutterRadiusMm = data.cutterRadiusMm.value_or(head.radiusMm);
        set.bladeGroups = hobbed ? data.bladeGroups.value_or(head.bladeGroups) : 0;
    };
    const bool found = chooseAngles(set, data, [&] {
        return std::any_of(heads.begin(), heads.end(), [&](const HobbingHead& head) {
            take(head);
            return lengthwiseShare ? solveCutter(set, roughMeanConeMm, *lengthwiseShare) : soundBlank(set).has_value();
        });
    });
    if (found) return;
    if (lengthwiseShare) throw InputError(message("gear.no-cutter-for-curvature", text(*lengthwiseShare)));
    take(heads.front());
}

std::string shownMm(double value) { return formatLength(Length::fromMm(value)); }

Modification completeModification(const ModificationData& data, Side side, std::vector<Message>& assumed) {
    if (data == ModificationData{}) {
        assumed.push_back(message("gear.usual-crowning", wordFor(side)));
        return kUsualModification;
    }
    Modification result = kUsualModification;
    result.lengthCrownUm = data.lengthCrownUm.value_or(result.lengthCrownUm);
    if (!data.lengthCrownUm) assumed.push_back(message("gear.usual-length-crown", wordFor(side)));
    result.profileCrownUm = data.profileCrownUm.value_or(result.profileCrownUm);
    if (!data.profileCrownUm) assumed.push_back(message("gear.usual-profile-crown", wordFor(side)));
    // No bias and no shift is the plain case, not a guess that needs a word.
    result.biasUm = data.biasUm.value_or(0);
    result.lengthShift = data.lengthShift.value_or(0);
    result.profileShift = data.profileShift.value_or(0);
    return result;
}

Build completeBuild(const BuildData& data, std::vector<Message>& assumed) {
    Build build;
    build.pinionShim = data.pinionShim.value_or(build.pinionShim);
    if (!data.pinionShim) assumed.push_back(message("gear.shim-behind-head"));
    build.carrier = data.carrier.value_or(build.carrier);
    if (!data.carrier) assumed.push_back(message("gear.threaded-adjusters"));
    build.adjusterThreadPitchMm = data.adjusterThreadPitchMm.value_or(build.adjusterThreadPitchMm);
    if (!data.adjusterThreadPitchMm && build.carrier == CarrierSetting::ThreadedAdjusters)
        assumed.push_back(message("gear.thread-pitch", shownMm(build.adjusterThreadPitchMm)));
    build.adjusterNotches = data.adjusterNotches.value_or(0);
    build.shimsMm = data.shimsMm;
    if (build.shimsMm.empty()) assumed.push_back(message("gear.any-thickness"));
    build.pinionPosition = data.pinionPosition;
    build.preloadSpacer = data.preloadSpacer;
    build.spacerSeat = data.spacerSeat;
    build.sideShimsMm = data.sideShimsMm;
    build.axle = data.axle;
    build.pinionDepthMm = data.pinionDepthMm;
    return build;
}

/// Usual backlash where the maker's sheet is not at hand: 0.005 to 0.009 in in print for sets of common size (truck
/// manuals 1988 and 1996), 0.003 to 0.005 in for hobbed ones (light-truck workshop manual 2008). Where nobody knows how
/// the teeth were cut, neither range will do, and all that either allows is no target: 0.009 in is far too much for the
/// one, 0.003 in too little for the other. 0.005 in is the one figure that both hold; 0.001 in about it can be set.
Interval usualBacklashMm(const std::optional<Cut>& cut) {
    if (!cut) return {0.1016, 0.1524};
    return *cut == Cut::FaceHobbed ? Interval{0.0762, 0.127} : Limits{}.backlashMm;
}

/// Factor from the sheet's dial to the engine's. A set that makes no blank is refused elsewhere.
double toSquareOf(const GearSet& set, DialReading dial) {
    if (dial == DialReading::SquareToTooth) return 1;
    try {
        return toSquareReading(designBlank(set), dial);
    } catch (const InputError&) {
        return 1;
    }
}

Limits completeLimits(const GearSetData& gearSet, const GearSet& set, std::vector<Message>& assumed) {
    const LimitsData& data = gearSet.limits;
    Limits limits;
    limits.dial = data.dial.value_or(limits.dial);
    const double toSquare = limits.sheetToSquare = toSquareOf(set, limits.dial);
    limits.backlashMm = data.backlashMm ? Interval{data.backlashMm->low * toSquare, data.backlashMm->high * toSquare}
                                        : usualBacklashMm(gearSet.cut);
    if (!data.backlashMm)
        assumed.push_back(message(!gearSet.cut                      ? "gear.backlash-either-cut"
                                  : *gearSet.cut == Cut::FaceHobbed ? "gear.backlash-hobbed"
                                                                    : "gear.backlash-milled",
                                  shownMm(limits.backlashMm.low), shownMm(limits.backlashMm.high)));
    if (data.backlashVariationMm) limits.backlashVariationMm = *data.backlashVariationMm * toSquare;
    if (!data.backlashVariationMm)
        assumed.push_back(message("gear.backlash-variation", shownMm(limits.backlashVariationMm)));
    limits.ringRunoutMm = data.ringRunoutMm.value_or(limits.ringRunoutMm);
    if (!data.ringRunoutMm) assumed.push_back(message("gear.ring-runout", shownMm(limits.ringRunoutMm)));
    limits.preloadNewNm = data.preloadNewNm;
    limits.preloadUsedNm = data.preloadUsedNm;
    limits.acceptance.toeHeel = data.acceptance.toeHeel.value_or(limits.acceptance.toeHeel);
    limits.acceptance.rootTip = data.acceptance.rootTip.value_or(limits.acceptance.rootTip);
    limits.acceptance.length = data.acceptance.length.value_or(limits.acceptance.length);
    limits.acceptance.mayRunOff = data.acceptance.mayRunOff.value_or(limits.acceptance.mayRunOff);
    if (data.acceptance == AcceptanceData{}) assumed.push_back(message("gear.published-acceptance"));
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
    given.adjusterPitch = data.build.adjusterThreadPitchMm.has_value();
    given.backlashLimits = data.limits.backlashMm.has_value();
    given.backlashVariation = data.limits.backlashVariationMm.has_value();
    given.ringRunout = data.limits.ringRunoutMm.has_value();
    given.acceptance = data.limits.acceptance != AcceptanceData{};
    return given;
}

/// The set with the cut `cut`. With a lengthwise share the cutter is made for it, not taken from the heads there are.
GearSet completed(const GearSetData& data, Cut cut, const std::optional<double>& lengthwiseShare) {
    if (const std::optional<FieldFault> fault = faultOf(data))
        throw InputError(message("gear.field-fault", fault->field, fault->why));
    GearSet set;
    std::vector<Message>& assumed = set.assumed;
    set.name = data.name.empty() ? say("gear.no-name") : data.name;
    set.pinionTeeth = data.pinionTeeth;
    set.ringTeeth = data.ringTeeth;
    set.ringGearDiameterMm = data.ringGearDiameterMm;
    set.offsetMm = data.offsetMm;
    set.cut = cut;
    set.cutKnown = data.cut.has_value();
    set.ringSpiralDeg = data.ringSpiralDeg;
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

    const double ratio = static_cast<double>(data.ringTeeth) / data.pinionTeeth;
    const double roughOuterCone = data.ringGearDiameterMm / (2 * std::sin(roughPitchAngle(data)));
    set.faceWidthMm = data.faceWidthMm.value_or(
        std::min(kFaceWidthShare * data.ringGearDiameterMm, kFaceWidthConeShare * roughOuterCone));
    // Published first choice for hypoids (ISO 23509 annex, from memory): 25 + 5 sqrt(z2/z1) + 90 offset / diameter.
    if (data.pinionSpiralDeg)
        set.pinionSpiralDeg = *data.pinionSpiralDeg;
    else if (!data.ringSpiralDeg)
        set.pinionSpiralDeg = data.offsetMm > 0
                                  ? 25 + 5 * std::sqrt(ratio) + 90 * data.offsetMm / data.ringGearDiameterMm
                                  : kSpiralBevelSpiralDeg;
    set.pressureAngleDeg = data.pressureAngleDeg.value_or(kPressureAngleDeg);
    chooseCutter(set, data, roughOuterCone - 0.5 * set.faceWidthMm, lengthwiseShare);

    if (!set.cutKnown)
        assumed.push_back(message(cut == Cut::FaceMilled ? "gear.cut-taken-milled" : "gear.cut-taken-hobbed"));
    if (!data.faceWidthMm) assumed.push_back(message("gear.face-width", sizeWords(set.faceWidthMm)));
    if (!data.pinionSpiralDeg && !data.ringSpiralDeg)
        assumed.push_back(message("gear.pinion-spiral", shownDegrees(set.pinionSpiralDeg)));
    if (!data.cutterRadiusMm) assumed.push_back(message("gear.cutter-radius", sizeWords(set.cutterRadiusMm)));
    if (cut == Cut::FaceHobbed && !data.bladeGroups) assumed.push_back(message("gear.blade-groups", set.bladeGroups));
    if (!data.pressureAngleDeg && !(data.drivePressureAngleDeg && data.coastPressureAngleDeg))
        assumed.push_back(message("gear.pressure-angle", shownDegrees(set.pressureAngleDeg)));
    if (!data.workingDepthMm) assumed.push_back(message("gear.working-depth"));
    if (!data.ringGearAddendumMm) assumed.push_back(message("gear.addendum"));
    if (!data.clearanceMm) assumed.push_back(message("gear.clearance"));

    set.hand = data.hand.value_or(Hand::Right);
    if (!data.hand) assumed.push_back(message("gear.right-hand"));
    set.forwardLoadSide = data.forwardLoadSide.value_or(Side::Drive);
    if (!data.forwardLoadSide) assumed.push_back(message("gear.load-on-drive"));
    for (const Side side : kSides)
        set.modification[index(side)] = completeModification(data.modification[index(side)], side, assumed);
    set.build = completeBuild(data.build, assumed);
    set.limits = completeLimits(data, set, assumed);
    set.given = givenBy(data);
    set.sources = data.sources;
    return set;
}

/// The same set without what its file says of the cutter, where that was for another cut.
GearSetData dataForCut(const GearSetData& data, Cut cut) {
    GearSetData other = data;
    if (data.cut == cut) return other;
    other.cutterRadiusMm.reset();
    other.bladeGroups.reset();
    other.addendumAngleDeg.reset();
    other.dedendumAngleDeg.reset();
    return other;
}

}  // namespace

GearSet completeGearSet(const GearSetData& data) {
    return completed(data, data.cut.value_or(Cut::FaceMilled), std::nullopt);
}

GearSet withCut(const GearSetData& data, Cut cut) { return completed(dataForCut(data, cut), cut, std::nullopt); }

GearSet withCutter(const GearSetData& data, Cut cut, double lengthwiseShare) {
    check(lengthwiseShare > 0 && std::isfinite(lengthwiseShare), "a lengthwise share must be above 0");
    GearSetData open = dataForCut(data, cut);
    check(!open.cutterRadiusMm, "a cutter was to be chosen for a set that names its own");
    return completed(open, cut, lengthwiseShare);
}

}  // namespace shimsight
