// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/answer.h"

#include <cmath>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

using nlohmann::json;

/// A ring gear move under this is left to the dial: half a thousandth of an inch.
constexpr double kNoRingMoveMm = 0.0127;

json interval(const Interval& value) { return {value.low, value.high}; }

/// One adjuster by both ways to name it; `side`: seen from behind, see AdjusterMove.
json adjusterJson(const char* side, const char* gearSide, int notches) {
    return {{"side", side},
            {"gear_side", gearSide},
            {"turn", notches == 0  ? "leave"
                     : notches > 0 ? "tighten"
                                   : "loosen"},
            {"amount", std::abs(notches)},
            {"unit", notches == 0             ? ""
                     : std::abs(notches) == 1 ? "notch"
                                              : "notches"}};
}

/// The large print of the card: what to do to the pinion as a verb, an amount and a place, so that the page can show
/// the amount in either unit; anything else as one sentence.
json largePrint(const Advice& advice) {
    const AdviceShim& shim = advice.shim;
    if (advice.stop || advice.verdict != Verdict::Change || std::abs(shim.thicknessChangeMm) < kNoMoveMm)
        return {{"lead", leadOf(advice)}, {"amount_mm", nullptr}, {"place", ""}};
    if (!shim.placeKnown)
        return {{"lead", say("server.move-the-pinion")},
                {"amount_mm", std::abs(shim.depthChangeMm)},
                {"place", say(shim.depthChangeMm > 0 ? "server.deeper" : "server.shallower")}};
    return {{"lead", say(shim.thicknessChangeMm > 0 ? "server.add" : "server.take-out")},
            {"amount_mm", std::abs(shim.thicknessChangeMm)},
            {"place", placeWords(shim.where)}};
}

}  // namespace

json answerJson(const Advice& advice, const GearSet& gearSet) {
    const Headline headline = headlineOf(advice, gearSet);
    const bool moves = hasMove(advice);
    json adjusters = json::array();
    if (advice.adjusters && moves) {
        const AdjusterMove& move = *advice.adjusters;
        const bool backLeft = move.leftNotches == move.backSideNotches;
        adjusters.push_back(backLeft ? adjusterJson("left", "back", move.backSideNotches)
                                     : adjusterJson("left", "teeth", move.toothSideNotches));
        adjusters.push_back(backLeft ? adjusterJson("right", "teeth", move.toothSideNotches)
                                     : adjusterJson("right", "back", move.backSideNotches));
    }
    json ring = nullptr;
    if (moves && std::abs(advice.ringGearMoveMm) >= kNoRingMoveMm)
        ring = {
            {"amount_mm", std::abs(advice.ringGearMoveMm)},
            {"direction", say(advice.ringGearMoveMm > 0 ? "server.toward-the-pinion" : "server.away-from-the-pinion")}};
    json runnerUp = nullptr;
    if (runnerUpSavesWork(advice))
        runnerUp = {{"lead", say("server.leave-shims-saves-work")},
                    {"amount_mm", nullptr},
                    {"backlash_mm", advice.runnerUp->backlashTargetMm},
                    {"chance", advice.runnerUp->chanceAcceptableNext}};
    const bool shimKnown = moves && advice.shim.placeKnown;
    const Estimate& depth = moves ? advice.pinionDepthChangeMm : advice.depthErrorMm;
    return {{"verdict", name(advice.verdict)},
            {"stop", advice.stop ? json({{"kind", name(advice.stop->kind)}, {"evidence", text(advice.stop->evidence)}})
                                 : json(nullptr)},
            {"certainty", name(advice.certainty)},
            {"certainty_words", certaintyWords(advice)},
            {"lead", headline.lead},
            {"steps", headline.steps},
            {"how_sure", headline.howSure},
            {"look_first", headline.lookFirst},
            {"headline", largePrint(advice)},
            {"direction", moves ? directionWords(advice.shim.depthChangeMm) : std::string()},
            {"shim_change_mm", shimKnown ? json(advice.shim.thicknessChangeMm) : json(nullptr)},
            {"stack_mm", advice.shim.stackMm},
            {"backlash",
             {{"now_mm", advice.backlashNowMm ? json(*advice.backlashNowMm) : json(nullptr)},
              {"target_mm", moves ? json(advice.backlashTargetMm) : json(nullptr)},
              {"limits_mm", interval(gearSet.limits.backlashMm)},
              {"limits_known", advice.limitsKnown}}},
            {"ring_gear", ring},
            {"adjusters", adjusters},
            {"depth",
             {{"is", moves ? "move" : "error"},
              {"best_mm", depth.best},
              {"low90_mm", depth.low90},
              {"high90_mm", depth.high90}}},
            {"chance_next", moves ? json(advice.chanceAcceptableNext) : json(nullptr)},
            {"chance_now", advice.chanceAcceptableNow},
            {"read_again_first", advice.readAgainFirst},
            {"trials", advice.trials},
            {"runner_up", runnerUp}};
}

json gearJson(const GearSetData& data) {
    const GearSet gear = completeGearSet(data);
    GearSetData bare = data;
    bare.limits = {};
    const Limits usual = completeGearSet(bare).limits;
    const auto preload = [](const std::optional<Interval>& value) { return value ? interval(*value) : json(nullptr); };
    return {
        {"name", gear.name},
        {"teeth", {gear.pinionTeeth, gear.ringTeeth}},
        {"ring_gear_diameter_mm", gear.ringGearDiameterMm},
        {"offset_mm", gear.offsetMm},
        {"cut", gear.cutKnown ? json(name(gear.cut)) : json(nullptr)},
        {"hand", gear.hand == Hand::Right ? "right" : "left"},
        {"pinion_shim", name(gear.build.pinionShim)},
        {"adjusters", gear.build.carrier == CarrierSetting::ThreadedAdjusters},
        {"notches", gear.build.adjusterNotches},
        {"pinion_depth_mm", gear.build.pinionDepthMm ? json(*gear.build.pinionDepthMm) : json(nullptr)},
        {"given",
         {{"cut", gear.given.cut},
          {"hand", gear.given.hand},
          {"pinion_shim", gear.given.pinionShim},
          {"carrier", gear.given.carrier}}},
        {"shims_mm", gear.build.shimsMm},
        {"backlash_mm", gear.given.backlashLimits ? interval(gear.limits.backlashMm) : json(nullptr)},
        {"backlash_variation_mm", gear.given.backlashVariation ? json(gear.limits.backlashVariationMm) : json(nullptr)},
        {"ring_runout_mm", gear.given.ringRunout ? json(gear.limits.ringRunoutMm) : json(nullptr)},
        {"usual",
         {{"backlash_mm", interval(usual.backlashMm)},
          {"backlash_variation_mm", usual.backlashVariationMm},
          {"ring_runout_mm", usual.ringRunoutMm}}},
        {"preload_new_nm", preload(gear.limits.preloadNewNm)},
        {"preload_used_nm", preload(gear.limits.preloadUsedNm)},
        {"assumed", texts(gear.assumed)}};
}

json typedJson(const json& document) {
    const json build = document.value("build", json::object()), teeth = document.value("teeth", json::object());
    const auto orNull = [](const json& object, const char* key) {
        return object.contains(key) ? object.at(key) : json(nullptr);
    };
    return {{"name", orNull(document, "name")},
            {"pinion_teeth", orNull(teeth, "pinion")},
            {"ring_teeth", orNull(teeth, "ring")},
            {"ring_gear_diameter_mm", orNull(document, "ring_gear_diameter_mm")},
            {"offset_mm", orNull(document, "offset_mm")},
            {"cut", orNull(document, "cut")},
            {"hand", orNull(document, "hand")},
            {"pinion_shim", orNull(build, "pinion_shim")},
            {"carrier", orNull(build, "carrier")},
            {"pinion", orNull(build, "pinion")},
            {"notches", orNull(build.value("adjuster", json::object()), "notches")}};
}

json startJson(const StartShim& start) {
    return {{"change_mm", start.thicknessChangeMm},
            {"total_mm", start.totalMm ? json(*start.totalMm) : json(nullptr)},
            {"stack_mm", start.stackMm},
            {"because", texts(start.because)},
            {"questions", texts(start.questions)},
            {"cautions", texts(start.cautions)}};
}

json waveJson(const std::vector<double>& readingsMm) {
    const std::optional<BacklashWave> wave = backlashWave(readingsMm, kDialSigmaMm);
    if (!wave) return nullptr;
    return {{"mean_mm", wave->meanMm},
            {"amplitude_mm", wave->amplitudeMm},
            {"amplitude_sigma_mm", wave->amplitudeSigmaMm},
            {"rest_mm", wave->restMm}};
}

}  // namespace shimsight::server
