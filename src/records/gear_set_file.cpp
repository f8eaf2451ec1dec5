#include <type_traits>
#include <utility>

#include "records/json_reader.h"
#include "records/json_writer.h"
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

// Ranges of single fields. They only keep out what cannot be a gear set at all; whether the values fit one another is
// for completeGearSet and designBlank to say.
constexpr Range kTeeth{1, 1000};
constexpr Range kAboveZeroMm{0.001, 10'000};  // to the longest length that the program takes
constexpr Range kZeroOrMoreMm{0, 10'000};
constexpr Range kSpiralDeg{0, 80};
constexpr Range kAngleDeg{0, 90};
constexpr Range kPressureAngleDeg{1, 45};
constexpr Range kBladeGroups{1, 100};
constexpr Range kCrownUm{-1000, 1000};  // a whole backlash; crowns are tens of micrometres
constexpr Range kThicknessFactor{-1, 1};
constexpr Range kShift{-0.5, 0.5};
constexpr Range kShimMm{0.001, 25};
constexpr Range kAdjusterNotches{0, 1000};
constexpr Range kClearanceMm{0, 10};  // backlash, runout: far above any axle's
constexpr Range kTorqueNm{0, 1000};
constexpr Range kFraction{0, 1};
constexpr std::size_t kMostShimsOnHand = 200;
constexpr std::size_t kMostSources = 200;

/// The field, or `fallback`.
template <typename T>
T orElse(const std::optional<T>& value, T fallback) {
    return value ? *value : fallback;
}

/// The field, or `fallback`, which is then noted in `assumed` in the words `what`.
template <typename T>
T orAssumed(const std::optional<T>& value, T fallback, const std::string& what, std::vector<std::string>& assumed) {
    if (!value) assumed.push_back(what);
    return value ? *value : fallback;
}

std::string shownMm(double value) { return formatLength(Length::fromMm(value)); }

Modification readModification(ObjectReader reader, const std::string& side, std::vector<std::string>& assumed) {
    Modification result;
    const auto crown = [&](std::string_view key, double fallback) {
        return orAssumed(reader.number(key, kCrownUm), fallback,
                         std::string(key) + " of the " + side + " side: a usual value", assumed);
    };
    result.lengthCrownUm = crown("length_crown_um", result.lengthCrownUm);
    result.profileCrownUm = crown("profile_crown_um", result.profileCrownUm);
    // No bias and no shift is the plain case, not a guess that needs a word.
    result.biasUm = orElse(reader.number("bias_um", kCrownUm), result.biasUm);
    result.lengthShift = orElse(reader.number("length_shift", kShift), result.lengthShift);
    result.profileShift = orElse(reader.number("profile_shift", kShift), result.profileShift);
    reader.finish();
    return result;
}

Build readBuild(ObjectReader reader, std::vector<std::string>& assumed) {
    Build build;
    build.pinionShim = orAssumed(reader.choice("pinion_shim", kShimWords), build.pinionShim,
                                 "pinion shim: behind the pinion head", assumed);
    build.carrier = orAssumed(reader.choice("carrier", kCarrierWords), build.carrier,
                              "backlash: set by threaded adjusters", assumed);
    std::optional<double> pitch;
    if (std::optional<ObjectReader> adjuster = reader.object("adjuster")) {
        pitch = adjuster->number("thread_pitch_mm", {0.1, 10});
        build.adjusterNotches = orElse(adjuster->integer("notches", kAdjusterNotches), build.adjusterNotches);
        adjuster->finish();
    }
    if (pitch)
        build.adjusterThreadPitchMm = *pitch;
    else if (build.carrier == CarrierSetting::ThreadedAdjusters)
        assumed.push_back("adjusters: thread pitch " + shownMm(build.adjusterThreadPitchMm));
    build.shimsMm = reader.numbers("shims_mm", kShimMm, kMostShimsOnHand);
    if (build.shimsMm.empty()) assumed.emplace_back("shims on hand: any thickness");
    reader.finish();
    return build;
}

Limits readLimits(ObjectReader reader, std::vector<std::string>& assumed) {
    Limits limits;
    limits.backlashMm = orAssumed(reader.interval("backlash_mm", kClearanceMm), limits.backlashMm,
                                  "backlash limits: " + shownMm(limits.backlashMm.low) + " to " +
                                      shownMm(limits.backlashMm.high) + "; the maker's sheet comes first",
                                  assumed);
    limits.backlashVariationMm =
        orAssumed(reader.number("backlash_variation_mm", kClearanceMm), limits.backlashVariationMm,
                  "backlash variation: at most " + shownMm(limits.backlashVariationMm), assumed);
    limits.ringRunoutMm = orAssumed(reader.number("ring_runout_mm", kClearanceMm), limits.ringRunoutMm,
                                    "ring gear runout: at most " + shownMm(limits.ringRunoutMm), assumed);
    if (std::optional<ObjectReader> preload = reader.object("pinion_preload_nm")) {
        limits.preloadNewNm = preload->interval("new", kTorqueNm);
        limits.preloadUsedNm = preload->interval("used", kTorqueNm);
        preload->finish();
    }
    std::optional<ObjectReader> rule = reader.object("acceptance");
    if (rule) {
        AcceptanceRule& acceptance = limits.acceptance;
        acceptance.toeHeel = orElse(rule->interval("toe_heel", kFraction), acceptance.toeHeel);
        acceptance.rootTip = orElse(rule->interval("root_tip", kFraction), acceptance.rootTip);
        acceptance.length = orElse(rule->interval("length", kFraction), acceptance.length);
        acceptance.mayRunOff = orElse(rule->boolean("may_run_off"), acceptance.mayRunOff);
        rule->finish();
    } else {
        assumed.emplace_back("when a pattern is good enough: the published descriptions with usual margins");
    }
    reader.finish();
    return limits;
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
    if constexpr (std::is_same_v<T, double>) {
        if (value) object[key] = tidy(*value);
    } else {
        if (value) object[key] = *value;
    }
}

ordered_json pair(const Interval& interval) { return ordered_json::array({tidy(interval.low), tidy(interval.high)}); }

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
    data.pinionTeeth = teeth.requiredInteger("pinion", kTeeth);
    data.ringTeeth = teeth.requiredInteger("ring", kTeeth);
    teeth.finish();
    data.ringGearDiameterMm = reader.requiredNumber("ring_gear_diameter_mm", kAboveZeroMm);
    data.offsetMm = reader.requiredNumber("offset_mm", kZeroOrMoreMm);
    data.faceWidthMm = reader.number("face_width_mm", kAboveZeroMm);
    data.cut = reader.choice("cut", kCutWords);
    data.pinionSpiralDeg = reader.number("pinion_spiral_deg", kSpiralDeg);
    data.ringSpiralDeg = reader.number("ring_spiral_deg", kSpiralDeg);
    data.cutterRadiusMm = reader.number("cutter_radius_mm", kAboveZeroMm);
    data.bladeGroups = reader.integer("blade_groups", kBladeGroups);
    data.pressureAngleDeg = reader.number("pressure_angle_deg", kPressureAngleDeg);
    data.ringPitchAngleDeg = reader.number("ring_pitch_angle_deg", kAngleDeg);
    if (std::optional<ObjectReader> angles = reader.object("pressure_angles_deg")) {
        data.drivePressureAngleDeg = angles->number("drive", kPressureAngleDeg);
        data.coastPressureAngleDeg = angles->number("coast", kPressureAngleDeg);
        angles->finish();
    }
    data.workingDepthMm = reader.number("working_depth_mm", kAboveZeroMm);
    data.ringGearAddendumMm = reader.number("ring_gear_addendum_mm", kZeroOrMoreMm);
    data.clearanceMm = reader.number("clearance_mm", kZeroOrMoreMm);
    data.addendumAngleDeg = reader.number("addendum_angle_deg", kAngleDeg);
    data.dedendumAngleDeg = reader.number("dedendum_angle_deg", kAngleDeg);
    data.meanPitchDiameterMm = reader.number("mean_pitch_diameter_mm", kAboveZeroMm);
    data.thicknessFactor = reader.number("thickness_factor", kThicknessFactor);
    data.hand = reader.choice("hand", kHandWords);
    data.forwardLoadSide = reader.choice("forward_load_side", kSideWords);
    if (std::optional<ObjectReader> modification = reader.object("modification")) {
        for (const auto& [word, side] : kSideWords) {
            if (std::optional<ObjectReader> one = modification->object(word))
                data.modification[index(side)] = readModification(*one, std::string(word), data.assumed);
        }
        modification->finish();
    }
    if (std::optional<ObjectReader> build = reader.object("build")) data.build = readBuild(*build, data.assumed);
    if (std::optional<ObjectReader> limits = reader.object("limits")) data.limits = readLimits(*limits, data.assumed);
    data.sources = reader.texts("sources", kMostSources);
    reader.finish();
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
    if (data.cut) file["cut"] = wordFor(*data.cut, kCutWords);
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
    if (data.hand) file["hand"] = wordFor(*data.hand, kHandWords);
    if (data.forwardLoadSide) file["forward_load_side"] = wordFor(*data.forwardLoadSide, kSideWords);
    for (const auto& [word, side] : kSideWords) {
        const std::optional<Modification>& modification = data.modification[index(side)];
        if (modification)
            file["modification"][std::string(word)] = {{"length_crown_um", tidy(modification->lengthCrownUm)},
                                                       {"profile_crown_um", tidy(modification->profileCrownUm)},
                                                       {"bias_um", tidy(modification->biasUm)},
                                                       {"length_shift", tidy(modification->lengthShift)},
                                                       {"profile_shift", tidy(modification->profileShift)}};
    }
    if (data.build) {
        ordered_json& build = file["build"];
        build["pinion_shim"] = wordFor(data.build->pinionShim, kShimWords);
        build["carrier"] = wordFor(data.build->carrier, kCarrierWords);
        if (data.build->carrier == CarrierSetting::ThreadedAdjusters)
            build["adjuster"] = {{"thread_pitch_mm", data.build->adjusterThreadPitchMm},
                                 {"notches", data.build->adjusterNotches}};
        build["shims_mm"] = data.build->shimsMm;
    }
    if (data.limits) {
        const Limits& from = *data.limits;
        ordered_json& limits = file["limits"];
        limits["backlash_mm"] = pair(from.backlashMm);
        limits["backlash_variation_mm"] = from.backlashVariationMm;
        limits["ring_runout_mm"] = from.ringRunoutMm;
        if (from.preloadNewNm) limits["pinion_preload_nm"]["new"] = pair(*from.preloadNewNm);
        if (from.preloadUsedNm) limits["pinion_preload_nm"]["used"] = pair(*from.preloadUsedNm);
        limits["acceptance"] = {{"toe_heel", pair(from.acceptance.toeHeel)},
                                {"root_tip", pair(from.acceptance.rootTip)},
                                {"length", pair(from.acceptance.length)},
                                {"may_run_off", from.acceptance.mayRunOff}};
    }
    if (!data.sources.empty()) file["sources"] = data.sources;
    return fileText(file);
}

}  // namespace shimsight
