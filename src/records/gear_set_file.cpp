// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <type_traits>
#include <utility>

#include "records_json.h"
#include "shimsight/files.h"
#include "shimsight/records.h"

namespace shimsight {
namespace {

using nlohmann::json;
using nlohmann::ordered_json;

constexpr std::string_view kGearSetSchema = "shimsight/gear-set/1";

const auto kCutWords = wordsOf(std::array{Cut::FaceMilled, Cut::FaceHobbed});
constexpr std::array kHandWords{std::pair<std::string_view, Hand>{"right", Hand::Right},
                                std::pair<std::string_view, Hand>{"left", Hand::Left}};
constexpr std::array kCarrierWords{
    std::pair<std::string_view, CarrierSetting>{"threaded-adjusters", CarrierSetting::ThreadedAdjusters},
    std::pair<std::string_view, CarrierSetting>{"carrier-shims", CarrierSetting::CarrierShims},
    std::pair<std::string_view, CarrierSetting>{"outboard-shims", CarrierSetting::OutboardShims}};
constexpr std::array kPinionWords{std::pair<std::string_view, PinionPosition>{"below", PinionPosition::Below},
                                  std::pair<std::string_view, PinionPosition>{"above", PinionPosition::Above}};
constexpr std::array kSpacerWords{
    std::pair<std::string_view, PreloadSpacer>{"crush-sleeve", PreloadSpacer::CrushSleeve},
    std::pair<std::string_view, PreloadSpacer>{"solid-spacer", PreloadSpacer::SolidSpacer}};
constexpr std::array kSeatWords{
    std::pair<std::string_view, SpacerSeat>{"on-bearing", SpacerSeat::OnBearing},
    std::pair<std::string_view, SpacerSeat>{"on-pinion-shoulder", SpacerSeat::OnPinionShoulder}};

constexpr std::array kAxleWords{std::pair<std::string_view, AxlePlace>{"rear", AxlePlace::Rear},
                                std::pair<std::string_view, AxlePlace>{"front", AxlePlace::Front}};
/// By index(joint).
constexpr std::array<const char*, kJoints.size()> kJointFields{
    "ring_gear_bolts", "pinion_support_bolts", "pinion_nut", "bearing_caps", "adjuster_locks", "cover", "shaft_bolts"};

/// Any number at all: what a gear set can have is for faultOf to say.
constexpr Range kAny{-1e9, 1e9};
constexpr std::size_t kMaxList = 1000;
constexpr std::size_t kMaxSources = 200;

/// The field, or `fallback`.
template <typename T>
T orElse(const std::optional<T>& value, T fallback) {
    return value ? *value : fallback;
}

ModificationData readModification(ObjectReader reader) {
    ModificationData data;
    data.lengthCrownUm = reader.number("length_crown_um", kAny);
    data.profileCrownUm = reader.number("profile_crown_um", kAny);
    data.biasUm = reader.number("bias_um", kAny);
    data.lengthShift = reader.number("length_shift", kAny);
    data.profileShift = reader.number("profile_shift", kAny);
    reader.finish();
    return data;
}

BuildData readBuild(ObjectReader reader) {
    BuildData data;
    data.pinionShim = reader.choice("pinion_shim", kPinionShimWords);
    data.carrier = reader.choice("carrier", kCarrierWords);
    if (std::optional<ObjectReader> adjuster = reader.object("adjuster")) {
        data.adjusterThreadPitchMm = adjuster->number("thread_pitch_mm", kAny);
        data.adjusterNotches = adjuster->integer("notches", kAny);
        adjuster->finish();
    }
    data.shimsMm = reader.numbers("shims_mm", kAny, kMaxList);
    data.pinionPosition = reader.choice("pinion", kPinionWords);
    data.preloadSpacer = reader.choice("preload_spacer", kSpacerWords);
    data.spacerSeat = reader.choice("spacer_seat", kSeatWords);
    data.sideShimsMm = reader.numbers("side_shims_mm", kAny, kMaxList);
    data.axle = reader.choice("axle", kAxleWords);
    data.pinionDepthMm = reader.number("pinion_depth_mm", kAny);
    reader.finish();
    return data;
}

TurningLimits readTurning(ObjectReader& reader, std::string_view key) {
    TurningLimits limits;
    if (std::optional<ObjectReader> torques = reader.object(key)) {
        limits.newNm = torques->interval("new", kAny);
        limits.usedNm = torques->interval("used", kAny);
        torques->finish();
    }
    return limits;
}

LimitsData readLimits(ObjectReader reader) {
    LimitsData data;
    data.backlashMm = reader.interval("backlash_mm", kAny);
    data.backlashVariationMm = reader.number("backlash_variation_mm", kAny);
    data.ringRunoutMm = reader.number("ring_runout_mm", kAny);
    data.dial = reader.choice("backlash_dial", kDialWords);
    data.carrierFlangeRunoutMm = reader.number("carrier_flange_runout_mm", kAny);
    data.pinionFlangeRunoutMm = reader.number("pinion_flange_runout_mm", kAny);
    const TurningLimits preload = readTurning(reader, "pinion_preload_nm");
    data.preloadNewNm = preload.newNm;
    data.preloadUsedNm = preload.usedNm;
    data.preloadWithSeal = readTurning(reader, "pinion_preload_with_seal_nm");
    data.carrierPreload = readTurning(reader, "carrier_preload_nm");
    data.total = readTurning(reader, "total_turning_nm");
    data.totalWithSeal = readTurning(reader, "total_turning_with_seal_nm");
    data.carrierSpreadMm = reader.interval("carrier_spread_mm", kAny);
    if (std::optional<ObjectReader> torques = reader.object("torques_nm")) {
        for (const Joint joint : kJoints)
            data.torquesNm[index(joint)] = torques->interval(kJointFields[index(joint)], kAny);
        torques->finish();
    }
    if (std::optional<ObjectReader> rule = reader.object("acceptance")) {
        data.acceptance.toeHeel = rule->interval("toe_heel", kAny);
        data.acceptance.rootTip = rule->interval("root_tip", kAny);
        data.acceptance.length = rule->interval("length", kAny);
        data.acceptance.mayRunOff = rule->boolean("may_run_off");
        rule->finish();
    }
    reader.finish();
    return data;
}

template <typename T, std::size_t N>
std::string_view wordFor(T value, const std::array<std::pair<std::string_view, T>, N>& words) {
    for (const auto& [word, meaning] : words)
        if (meaning == value) return word;
    check(false, "a value of an enumeration has no word in the gear-set file");
    return {};
}

template <typename T>
void put(ordered_json& object, const char* key, const std::optional<T>& value) {
    if (!value) return;
    if constexpr (std::is_same_v<T, double>)
        object[key] = tidy(*value);
    else if constexpr (std::is_same_v<T, Interval>)
        object[key] = ordered_json::array({tidy(value->low), tidy(value->high)});
    else
        object[key] = *value;
}

template <typename T, std::size_t N>
void put(ordered_json& object, const char* key, const std::optional<T>& value,
         const std::array<std::pair<std::string_view, T>, N>& words) {
    if (value) object[key] = wordFor(*value, words);
}

void put(ordered_json& object, const char* key, const TurningLimits& limits) {
    ordered_json torques = ordered_json::object();
    put(torques, "new", limits.newNm);
    put(torques, "used", limits.usedNm);
    if (!torques.empty()) object[key] = torques;
}

ordered_json buildJson(const BuildData& data) {
    ordered_json build = ordered_json::object();
    put(build, "pinion_shim", data.pinionShim, kPinionShimWords);
    put(build, "carrier", data.carrier, kCarrierWords);
    ordered_json adjuster = ordered_json::object();
    put(adjuster, "thread_pitch_mm", data.adjusterThreadPitchMm);
    put(adjuster, "notches", data.adjusterNotches);
    if (!adjuster.empty()) build["adjuster"] = adjuster;
    if (!data.shimsMm.empty()) build["shims_mm"] = data.shimsMm;
    if (!data.sideShimsMm.empty()) build["side_shims_mm"] = data.sideShimsMm;
    put(build, "pinion", data.pinionPosition, kPinionWords);
    put(build, "preload_spacer", data.preloadSpacer, kSpacerWords);
    put(build, "spacer_seat", data.spacerSeat, kSeatWords);
    put(build, "axle", data.axle, kAxleWords);
    put(build, "pinion_depth_mm", data.pinionDepthMm);
    return build;
}

ordered_json limitsJson(const LimitsData& data) {
    ordered_json limits = ordered_json::object();
    put(limits, "backlash_mm", data.backlashMm);
    put(limits, "backlash_variation_mm", data.backlashVariationMm);
    put(limits, "backlash_dial", data.dial, kDialWords);
    put(limits, "ring_runout_mm", data.ringRunoutMm);
    put(limits, "carrier_flange_runout_mm", data.carrierFlangeRunoutMm);
    put(limits, "pinion_flange_runout_mm", data.pinionFlangeRunoutMm);
    put(limits, "pinion_preload_nm", TurningLimits{data.preloadNewNm, data.preloadUsedNm});
    put(limits, "pinion_preload_with_seal_nm", data.preloadWithSeal);
    put(limits, "carrier_preload_nm", data.carrierPreload);
    put(limits, "total_turning_nm", data.total);
    put(limits, "total_turning_with_seal_nm", data.totalWithSeal);
    put(limits, "carrier_spread_mm", data.carrierSpreadMm);
    ordered_json torques = ordered_json::object();
    for (const Joint joint : kJoints) put(torques, kJointFields[index(joint)], data.torquesNm[index(joint)]);
    if (!torques.empty()) limits["torques_nm"] = torques;
    ordered_json acceptance = ordered_json::object();
    put(acceptance, "toe_heel", data.acceptance.toeHeel);
    put(acceptance, "root_tip", data.acceptance.rootTip);
    put(acceptance, "length", data.acceptance.length);
    put(acceptance, "may_run_off", data.acceptance.mayRunOff);
    if (!acceptance.empty()) limits["acceptance"] = acceptance;
    return limits;
}

}  // namespace

GearSetFile parseGearSetFile(std::string_view text, std::string_view fileName) {
    GearSetFile result;
    result.fileName = fileName;
    const json document = parseJsonObject(text, result.fileName);
    ObjectReader reader(document, result.fileName, "", result.warnings);
    reader.expectSchema(kGearSetSchema);
    GearSetData& data = result.data;
    data.name = orElse(reader.text("name"), std::string());

    ObjectReader teeth = reader.requiredObject("teeth");
    data.pinionTeeth = teeth.requiredInteger("pinion", kAny);
    data.ringTeeth = teeth.requiredInteger("ring", kAny);
    teeth.finish();
    data.ringGearDiameterMm = reader.requiredNumber("ring_gear_diameter_mm", kAny);
    data.offsetMm = reader.requiredNumber("offset_mm", kAny);
    data.faceWidthMm = reader.number("face_width_mm", kAny);
    data.cut = reader.choice("cut", kCutWords);
    data.pinionSpiralDeg = reader.number("pinion_spiral_deg", kAny);
    data.ringSpiralDeg = reader.number("ring_spiral_deg", kAny);
    data.cutterRadiusMm = reader.number("cutter_radius_mm", kAny);
    data.bladeGroups = reader.integer("blade_groups", kAny);
    data.pressureAngleDeg = reader.number("pressure_angle_deg", kAny);
    data.ringPitchAngleDeg = reader.number("ring_pitch_angle_deg", kAny);
    if (std::optional<ObjectReader> angles = reader.object("pressure_angles_deg")) {
        data.drivePressureAngleDeg = angles->number("drive", kAny);
        data.coastPressureAngleDeg = angles->number("coast", kAny);
        angles->finish();
    }
    data.workingDepthMm = reader.number("working_depth_mm", kAny);
    data.ringGearAddendumMm = reader.number("ring_gear_addendum_mm", kAny);
    data.clearanceMm = reader.number("clearance_mm", kAny);
    data.addendumAngleDeg = reader.number("addendum_angle_deg", kAny);
    data.dedendumAngleDeg = reader.number("dedendum_angle_deg", kAny);
    data.meanPitchDiameterMm = reader.number("mean_pitch_diameter_mm", kAny);
    data.thicknessFactor = reader.number("thickness_factor", kAny);
    data.hand = reader.choice("hand", kHandWords);
    data.forwardLoadSide = reader.choice("forward_load_side", kSideWords);
    if (std::optional<ObjectReader> modification = reader.object("modification")) {
        for (const auto& [word, side] : kSideWords) {
            if (std::optional<ObjectReader> one = modification->object(word))
                data.modification[index(side)] = readModification(*one);
        }
        modification->finish();
    }
    if (std::optional<ObjectReader> build = reader.object("build")) data.build = readBuild(*build);
    if (std::optional<ObjectReader> limits = reader.object("limits")) data.limits = readLimits(*limits);
    data.sources = reader.texts("sources", kMaxSources);
    reader.finish();
    if (const std::optional<FieldFault> fault = faultOf(data)) reader.fail(fault->field, shimsight::text(fault->why));
    return result;
}

GearSetData parseGearSet(std::string_view text, std::string_view fileName) {
    return parseGearSetFile(text, fileName).data;
}

GearSetFile readGearSetFile(const std::filesystem::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxRecordBytes);
    const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    GearSetFile result = parseGearSetFile(text, file.string());
    try {
        (void)designBlank(completeGearSet(result.data));
    } catch (const InputError& error) {
        throw InputError(error.sentence(), result.fileName);
    }
    return result;
}

GearSetData loadGearSet(const std::filesystem::path& file) { return readGearSetFile(file).data; }

std::string writeGearSet(const GearSetData& data) {
    ordered_json file;
    file["schema"] = kGearSetSchema;
    if (!data.name.empty()) file["name"] = data.name;
    file["teeth"] = {{"pinion", data.pinionTeeth}, {"ring", data.ringTeeth}};
    file["ring_gear_diameter_mm"] = tidy(data.ringGearDiameterMm);
    file["offset_mm"] = tidy(data.offsetMm);
    put(file, "face_width_mm", data.faceWidthMm);
    put(file, "cut", data.cut, kCutWords);
    put(file, "pinion_spiral_deg", data.pinionSpiralDeg);
    put(file, "ring_spiral_deg", data.ringSpiralDeg);
    put(file, "cutter_radius_mm", data.cutterRadiusMm);
    put(file, "blade_groups", data.bladeGroups);
    put(file, "pressure_angle_deg", data.pressureAngleDeg);
    put(file, "ring_pitch_angle_deg", data.ringPitchAngleDeg);
    if (data.drivePressureAngleDeg) file["pressure_angles_deg"]["drive"] = *data.drivePressureAngleDeg;
    if (data.coastPressureAngleDeg) file["pressure_angles_deg"]["coast"] = *data.coastPressureAngleDeg;
    put(file, "working_depth_mm", data.workingDepthMm);
    put(file, "ring_gear_addendum_mm", data.ringGearAddendumMm);
    put(file, "clearance_mm", data.clearanceMm);
    put(file, "addendum_angle_deg", data.addendumAngleDeg);
    put(file, "dedendum_angle_deg", data.dedendumAngleDeg);
    put(file, "mean_pitch_diameter_mm", data.meanPitchDiameterMm);
    put(file, "thickness_factor", data.thicknessFactor);
    put(file, "hand", data.hand, kHandWords);
    put(file, "forward_load_side", data.forwardLoadSide, kSideWords);
    for (const auto& [word, side] : kSideWords) {
        const ModificationData& from = data.modification[index(side)];
        ordered_json one = ordered_json::object();
        put(one, "length_crown_um", from.lengthCrownUm);
        put(one, "profile_crown_um", from.profileCrownUm);
        put(one, "bias_um", from.biasUm);
        put(one, "length_shift", from.lengthShift);
        put(one, "profile_shift", from.profileShift);
        if (!one.empty()) file["modification"][std::string(word)] = one;
    }
    if (const ordered_json build = buildJson(data.build); !build.empty()) file["build"] = build;
    if (const ordered_json limits = limitsJson(data.limits); !limits.empty()) file["limits"] = limits;
    if (!data.sources.empty()) file["sources"] = data.sources;
    return fileText(file);
}

}  // namespace shimsight
