#include "server/answer.h"

#include <cmath>

#include "shimsight/core.h"

namespace shimsight::server {
namespace {

using nlohmann::json;

/// Below this a movement is not worth a word: a tenth of a thousandth of an inch for shims, half a thousandth for the
/// ring gear, a quarter of a notch.
constexpr double kNoMoveMm = 0.0025, kNoRingMoveMm = 0.0127, kNoNotch = 0.25;
/// Reading error of a dial, as advice takes it (TrialObservation::backlashSigmaMm).
constexpr double kDialSigmaMm = 0.012;

std::string placeWords(PinionShim place) {
    switch (place) {
        case PinionShim::BehindPinionHead:
            return "behind the pinion head";
        case PinionShim::UnderBearingCup:
            return "under the inner bearing cup of the pinion";
        case PinionShim::UnderPinionSupport:
            return "under the pinion support";
    }
    return "at the pinion";
}

json interval(const Interval& value) { return {value.low, value.high}; }

json adjusterJson(const char* side, double notches, bool known) {
    // Without known notches the number is parts of a turn.
    constexpr double kNotchesATurn = 24;
    if (std::abs(notches) * (known ? 1 : kNotchesATurn) < kNoNotch)
        return {{"side", side}, {"turn", "leave"}, {"amount", 0}, {"unit", ""}};
    return {{"side", side},
            {"turn", notches > 0 ? "tighten" : "loosen"},
            {"amount", std::round(100 * std::abs(notches)) / 100},
            {"unit", known ? (std::abs(notches) == 1 ? "notch" : "notches") : "of a turn"}};
}

}  // namespace

json answerJson(const Advice& advice, const GearSet& gearSet) {
    const bool thickerIsDeeper = gearSet.build.pinionShim != PinionShim::UnderPinionSupport;
    json headline = {{"lead", ""}, {"amount_mm", nullptr}, {"place", ""}};
    std::string direction;
    switch (advice.verdict) {
        case Verdict::Accept:
            headline["lead"] = "Leave it. The pattern is good.";
            break;
        case Verdict::NoShimWillHelp:
            headline["lead"] = "No shim will put this right.";
            break;
        case Verdict::MeasureAgain:
            headline["lead"] = "Measure again before you change anything.";
            break;
        case Verdict::Change: {
            const double change = advice.shim.thicknessChangeMm;
            if (std::abs(change) < kNoMoveMm) {
                headline["lead"] = "Leave the pinion shims as they are.";
                direction = "Only the backlash changes.";
                break;
            }
            headline = {{"lead", change > 0 ? "Add" : "Take out"},
                        {"amount_mm", std::abs(change)},
                        {"place", placeWords(gearSet.build.pinionShim)}};
            direction = (change > 0) == thickerIsDeeper ? "This moves the pinion deeper, toward the ring gear."
                                                        : "This moves the pinion away from the ring gear.";
        }
    }
    json adjusters = json::array();
    if (advice.adjusters && advice.verdict == Verdict::Change) {
        const bool known = gearSet.build.adjusterNotches > 0;
        adjusters.push_back(adjusterJson("left", advice.adjusters->leftNotches, known));
        adjusters.push_back(adjusterJson("right", advice.adjusters->rightNotches, known));
    }
    json ring = nullptr;
    if (advice.verdict == Verdict::Change && std::abs(advice.ringGearMoveMm) >= kNoRingMoveMm)
        ring = {{"amount_mm", std::abs(advice.ringGearMoveMm)},
                {"direction", advice.ringGearMoveMm > 0 ? "toward the pinion" : "away from the pinion"}};
    json runnerUp = nullptr;
    if (advice.runnerUp) {
        const double change = advice.runnerUp->thicknessChangeMm;
        runnerUp = {{"lead", std::abs(change) < kNoMoveMm ? "Leave the shims"
                             : change > 0                 ? "Add"
                                                          : "Take out"},
                    {"amount_mm", std::abs(change) < kNoMoveMm ? json(nullptr) : json(std::abs(change))},
                    {"backlash_mm", advice.runnerUp->backlashTargetMm},
                    {"chance", advice.runnerUp->chanceAcceptableNext}};
    }
    const Estimate& depth = advice.verdict == Verdict::Change ? advice.pinionDepthChangeMm : advice.depthErrorMm;
    return {{"verdict", name(advice.verdict)},
            {"headline", headline},
            {"direction", direction},
            {"stack_mm", advice.shim.stackMm},
            {"backlash",
             {{"now_mm", advice.backlashNowMm ? json(*advice.backlashNowMm) : json(nullptr)},
              {"target_mm", advice.verdict == Verdict::Change ? json(advice.backlashTargetMm) : json(nullptr)},
              {"limits_mm", interval(gearSet.limits.backlashMm)}}},
            {"ring_gear", ring},
            {"adjusters", adjusters},
            {"depth",
             {{"is", advice.verdict == Verdict::Change ? "move" : "error"},
              {"best_mm", depth.best},
              {"low90_mm", depth.low90},
              {"high90_mm", depth.high90}}},
            {"chance_next", advice.verdict == Verdict::Change ? json(advice.chanceAcceptableNext) : json(nullptr)},
            {"chance_now", advice.chanceAcceptableNow},
            {"read_again_first", advice.readAgainFirst},
            {"trials", advice.trials},
            {"runner_up", runnerUp}};
}

json gearJson(const GearSetData& data) {
    const GearSet gear = completeGearSet(data);
    const auto preload = [](const std::optional<Interval>& value) { return value ? interval(*value) : json(nullptr); };
    return {{"name", gear.name},
            {"teeth", {gear.pinionTeeth, gear.ringTeeth}},
            {"ring_gear_diameter_mm", gear.ringGearDiameterMm},
            {"offset_mm", gear.offsetMm},
            {"cut", !gear.cutKnown                ? "not known"
                    : gear.cut == Cut::FaceMilled ? "face-milled"
                                                  : "face-hobbed"},
            {"hand", gear.hand == Hand::Right ? "right" : "left"},
            {"shim_place", placeWords(gear.build.pinionShim)},
            {"adjusters", gear.build.carrier == CarrierSetting::ThreadedAdjusters},
            {"notches", gear.build.adjusterNotches},
            {"shims_mm", gear.build.shimsMm},
            {"backlash_mm", interval(gear.limits.backlashMm)},
            {"backlash_variation_mm", gear.limits.backlashVariationMm},
            {"ring_runout_mm", gear.limits.ringRunoutMm},
            {"preload_new_nm", preload(gear.limits.preloadNewNm)},
            {"preload_used_nm", preload(gear.limits.preloadUsedNm)},
            {"assumed", gear.assumed}};
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
