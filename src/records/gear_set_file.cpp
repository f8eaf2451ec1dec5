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

constexpr std::array kCutWords{std::pair<std::string_view, Cut>{"face-milled", Cut::FaceMilled},
                               std::pair<std::string_view, Cut>{"face-hobbed", Cut::FaceHobbed}};
constexpr std::array kHandWords{std::pair<std::string_view, Hand>{"right", Hand::Right},
                                std::pair<std::string_view, Hand>{"left", Hand::Left}};
constexpr std::array kShimWords{
    std::pair<std::string_view, PinionShim>{"behind-pinion-head", PinionShim::BehindPinionHead},
    std::pair<std::string_view, PinionShim>{"under-bearing-cup", PinionShim::UnderBearingCup},
    std::pair<std::string_view, PinionShim>{"under-pinion-support", PinionShim::UnderPinionSupport}};
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

/// Any number at all: what a gear set can have is for faultOf to say.
constexpr Range kAny{-1e9, 1e9};
constexpr std::size_t kLongestList = 1000;
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
    data.pinionShim = reader.choice("pinion_shim", kShimWords);
    data.carrier = reader.choice("carrier", kCarrierWords);
    if (std::optional<ObjectReader> adjuster = reader.object("adjuster")) {
        data.adjusterThreadPitchMm = adjuster->number("thread_pitch_mm", kAny);
        data.adjusterNotches = adjuster->integer("notches", kAny);
        adjuster->finish();
    }
    data.shimsMm = reader.numbers("shims_mm", kAny, kLongestList);
    data.pinionPosition = reader.choice("pinion", kPinionWords);
    data.preloadSpacer = reader.choice("preload_spacer", kSpacerWords);
    data.spacerSeat = reader.choice("spacer_seat", kSeatWords);
    reader.finish();
    return data;
}

LimitsData readLimits(ObjectReader reader) {
    LimitsData data;
    data.backlashMm = reader.interval("backlash_mm", kAny);
    data.backlashVariationMm = reader.number("backlash_variation_mm", kAny);
    data.ringRunoutMm = reader.number("ring_runout_mm", kAny);
    if (std::optional<ObjectReader> preload = reader.object("pinion_preload_nm")) {
        data.preloadNewNm = preload->interval("new", kAny);
        data.preloadUsedNm = preload->interval("used", kAny);
        preload->finish();
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
        throw InputError(result.fileName + ": " + error.what());
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
    ordered_json build = ordered_json::object();
    put(build, "pinion_shim", data.build.pinionShim, kShimWords);
    put(build, "carrier", data.build.carrier, kCarrierWords);
    ordered_json adjuster = ordered_json::object();
    put(adjuster, "thread_pitch_mm", data.build.adjusterThreadPitchMm);
    put(adjuster, "notches", data.build.adjusterNotches);
    if (!adjuster.empty()) build["adjuster"] = adjuster;
    if (!data.build.shimsMm.empty()) build["shims_mm"] = data.build.shimsMm;
    put(build, "pinion", data.build.pinionPosition, kPinionWords);
    put(build, "preload_spacer", data.build.preloadSpacer, kSpacerWords);
    put(build, "spacer_seat", data.build.spacerSeat, kSeatWords);
    if (!build.empty()) file["build"] = build;
    ordered_json limits = ordered_json::object();
    put(limits, "backlash_mm", data.limits.backlashMm);
    put(limits, "backlash_variation_mm", data.limits.backlashVariationMm);
    put(limits, "ring_runout_mm", data.limits.ringRunoutMm);
    ordered_json preload = ordered_json::object();
    put(preload, "new", data.limits.preloadNewNm);
    put(preload, "used", data.limits.preloadUsedNm);
    if (!preload.empty()) limits["pinion_preload_nm"] = preload;
    ordered_json acceptance = ordered_json::object();
    put(acceptance, "toe_heel", data.limits.acceptance.toeHeel);
    put(acceptance, "root_tip", data.limits.acceptance.rootTip);
    put(acceptance, "length", data.limits.acceptance.length);
    put(acceptance, "may_run_off", data.limits.acceptance.mayRunOff);
    if (!acceptance.empty()) limits["acceptance"] = acceptance;
    if (!limits.empty()) file["limits"] = limits;
    if (!data.sources.empty()) file["sources"] = data.sources;
    return fileText(file);
}

}  // namespace shimsight
