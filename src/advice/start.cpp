// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numeric>

#include "advice/posterior.h"
#include "advice/shims.h"
#include "advice/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/core.h"

namespace shimsight {

using namespace advice;

namespace {

constexpr double kMaxFigureMm = 1.0;
/// A figure is rounded to a thousandth of an inch (or a hundredth of a millimetre, less): half a step, uniform.
constexpr double kFigureSigmaMm = 0.0254 / 3.4641;

/// A torque reading is off by this share and by this much: a spring scale or a beam wrench, turned by hand.
constexpr double kTorqueShare = 0.05, kTorqueFloorNm = 0.08;
/// What a pinion's depth can be at all.
constexpr double kMinDepthMm = 5, kMaxDepthMm = 500, kMaxBearingMm = 150;
/// A tool that is off by more than this was read or set wrongly, or measures to another face: 0.040 in.
constexpr double kMaxToolChangeMm = 1.0;
/// Bearings are measured with a micrometer, cone in cup: 0.0005 in each (common practice, no source).
constexpr double kBearingSigmaMm = 0.0127;

/// Torque of this many times the highest allowed is far too tight.
constexpr double kFarTooTight = 4;
constexpr double kMaxTorqueNm = 100, kMaxStackMm = 20;
/// How far out the slope is followed, in its spreads, and in how many steps.
constexpr double kSlopeReach = 3.5;
constexpr int kSlopeSteps = 141;
constexpr std::array<double, 8> kNormalPoints{-1.534, -0.887, -0.489, -0.157, 0.157, 0.489, 0.887, 1.534};

double torqueSigma(double nm) { return std::hypot(kTorqueShare * nm, kTorqueFloorNm); }

PreloadVerdict verdictOf(double nm, const Interval& limits) {
    if (nm > limits.high) return PreloadVerdict::TooTight;
    return nm < limits.low ? PreloadVerdict::TooLoose : PreloadVerdict::Pass;
}

void checkTorque(double nm, const Interval& limits) {
    if (!(std::isfinite(nm) && nm >= 0 && nm <= kMaxTorqueNm)) throw InputError(message("advice.torque-range"));
    check(limits.low >= 0 && limits.high > limits.low, "preload limits must be an interval");
}

/// The reading against the limits, as clause and as the first sentence.
void tellReading(double nm, const Interval& limits, PreloadAdvice& result) {
    result.judged = message(result.verdict == PreloadVerdict::Pass       ? "advice.torque-inside"
                            : result.verdict == PreloadVerdict::TooTight ? "advice.torque-above"
                                                                         : "advice.torque-below",
                            formatTorque(nm), formatTorque(2 * torqueSigma(nm)), formatTorque(limits.low),
                            formatTorque(limits.high));
    result.because.push_back(message("advice.torque-sentence", result.judged));
}

/// "add 0.004 in (0.10 mm)" of the place, with what thicker does there.
Message shimSentence(double depthChangeMm, double thicknessChangeMm, PinionShim place) {
    const bool adds = thicknessChangeMm > 0;
    return message(depthChangeMm > 0 ? (adds ? "advice.start-deeper-add" : "advice.start-deeper-take-out")
                                     : (adds ? "advice.start-shallower-add" : "advice.start-shallower-take-out"),
                   lengthWords(thicknessChangeMm), wordFor(place));
}

/// A length below this is told as 0.000 in: half of the step of formatLength.
constexpr double kToldAsNothingMm = 0.00635;

/// What the figures ask of the pinion, as a sentence.
Message figureSentence(double oldFigureMm, double newFigureMm, double depthChangeMm) {
    const auto signedLength = [](double mm) { return formatLength(Length::fromMm(mm), true); };
    if (std::abs(depthChangeMm) < kToldAsNothingMm)
        return message("advice.figures-same-place", signedLength(oldFigureMm), signedLength(newFigureMm));
    return message(depthChangeMm > 0 ? "advice.figures-must-sit-deeper" : "advice.figures-must-sit-shallower",
                   signedLength(oldFigureMm), signedLength(newFigureMm), lengthWords(depthChangeMm));
}

Message toolSentence(const StartInput& input, double depthChangeMm) {
    const std::string measured = lengthWords(*input.measuredDepthMm), wanted = lengthWords(*input.wantedDepthMm);
    if (std::abs(depthChangeMm) < kToldAsNothingMm) return message("advice.tool-right", measured, wanted);
    return message(depthChangeMm > 0 ? "advice.tool-must-sit-deeper" : "advice.tool-must-sit-shallower", measured,
                   wanted, lengthWords(depthChangeMm));
}

void checkStart(const StartInput& input) {
    const bool figures = input.oldFigureMm && input.newFigureMm, tool = input.measuredDepthMm && input.wantedDepthMm;
    if (figures == tool) throw InputError(message("advice.figures-or-tool"));
    for (const std::optional<double>& figure : {input.oldFigureMm, input.newFigureMm})
        if (figure && !(std::abs(*figure) <= kMaxFigureMm)) throw InputError(message("advice.figure-range"));
    for (const std::optional<double>& depth : {input.measuredDepthMm, input.wantedDepthMm})
        if (depth && !(*depth >= kMinDepthMm && *depth <= kMaxDepthMm)) throw InputError(message("advice.depth-range"));
    for (const std::optional<double>& height : {input.oldBearingMm, input.newBearingMm})
        if (height && !(*height > 0 && *height <= kMaxBearingMm)) throw InputError(message("advice.bearing-range"));
    if (input.oldBearingMm.has_value() != input.newBearingMm.has_value())
        throw InputError(message("advice.bearing-alone"));
    if (input.stackMm && !(*input.stackMm > 0 && *input.stackMm <= kMaxStackMm))
        throw InputError(message("advice.old-stack-range"));
    if (tool && std::abs(*input.measuredDepthMm - *input.wantedDepthMm) > kMaxToolChangeMm)
        throw InputError(
            message("advice.tool-far-off", lengthWords(*input.measuredDepthMm), lengthWords(*input.wantedDepthMm)));
    if (figures && input.otherHousing) throw InputError(message("advice.figures-of-other-housing"));
}

/// What to look at before the number is believed.
void addQuestions(const StartInput& input, StartShim& start) {
    const bool figures = input.oldFigureMm.has_value();
    if (figures && input.figuresInTwoUnits) start.questions.push_back(message("advice.ask-two-units"));
    if (figures && std::abs(*input.oldFigureMm - *input.newFigureMm) > kOddDepthMm)
        start.questions.push_back(
            message("advice.ask-odd-figures", lengthWords(*input.oldFigureMm - *input.newFigureMm)));
    if (!figures && std::abs(*input.measuredDepthMm - *input.wantedDepthMm) > kOddDepthMm)
        start.questions.push_back(
            message("advice.ask-odd-tool", lengthWords(*input.measuredDepthMm - *input.wantedDepthMm)));
    if (figures && !input.newBearingMm) start.questions.push_back(message("advice.ask-bearing-height"));
    if (figures) start.questions.push_back(message("advice.ask-match-number"));
}

/// The stack from the shims on hand that comes within half of a figure's step of the total; empty: none does.
std::vector<double> stackNear(double totalMm, double sigmaMm, const std::vector<double>& shimsMm) {
    const ShimStacks stacks(shimsMm);
    if (stacks.anyThickness()) return {};
    const auto& totals = stacks.totalsMm();
    const double nearest = *std::min_element(totals.begin(), totals.end(), [&](double a, double b) {
        return std::abs(a - totalMm) < std::abs(b - totalMm);
    });
    if (std::abs(nearest - totalMm) >= 2 * sigmaMm) return {};
    return stacks.stackFor(nearest);
}

}  // namespace

StartShim startShim(const StartInput& input) {
    checkStart(input);
    StartShim start;
    if (input.oldFigureMm) {
        start.depthChangeMm = *input.oldFigureMm - *input.newFigureMm + 0.0;
        start.sigmaMm = std::sqrt(2.0) * kFigureSigmaMm;
        start.needed = figureSentence(*input.oldFigureMm, *input.newFigureMm, start.depthChangeMm);
    } else {
        start.depthChangeMm = *input.measuredDepthMm - *input.wantedDepthMm + 0.0;
        start.sigmaMm = kDepthToolSigmaMm;
        start.needed = toolSentence(input, start.depthChangeMm);
    }
    start.because.push_back(start.needed);
    // A taller inner bearing puts the head deeper by itself, wherever the shims sit. A tool has measured it already.
    double byShims = start.depthChangeMm;
    if (input.oldFigureMm && input.newBearingMm) {
        const double taller = *input.newBearingMm - *input.oldBearingMm;
        byShims -= taller;
        start.sigmaMm = std::hypot(start.sigmaMm, std::sqrt(2.0) * kBearingSigmaMm);
        if (std::abs(taller) >= kToldAsNothingMm)
            start.because.push_back(
                message(taller > 0 ? "advice.bearing-taller" : "advice.bearing-shorter", lengthWords(taller)));
    }
    start.thicknessChangeMm = depthPerThickness(input.place) * byShims + 0.0;
    start.shims = std::abs(byShims) < kToldAsNothingMm ? message("advice.start-shims-stay", wordFor(input.place))
                                                       : shimSentence(byShims, start.thicknessChangeMm, input.place);
    start.because.push_back(start.shims);
    if (input.stackMm) {
        start.totalMm = *input.stackMm + start.thicknessChangeMm;
        if (*start.totalMm < kThinnestShimMm) throw InputError(message("advice.old-stack-too-thin"));
        start.stackMm = stackNear(*start.totalMm, start.sigmaMm, input.shimsMm);
        start.because.push_back(message("advice.stack-comes-to", lengthWords(*start.totalMm)));
    }
    start.because.push_back(message(input.oldFigureMm ? "advice.only-a-start" : "advice.only-a-start-by-tool",
                                    lengthWords(2 * start.sigmaMm)));
    addQuestions(input, start);
    start.cautions = {message(input.oldFigureMm ? "advice.figures-differ-by-maker" : "advice.tool-figure-of-maker"),
                      message("advice.matched-pair")};
    return start;
}

StartShim startShim(double oldFigureMm, double newFigureMm, PinionShim place, std::optional<double> oldStackMm,
                    const std::vector<double>& shimsMm) {
    StartInput input;
    input.place = place;
    input.oldFigureMm = oldFigureMm;
    input.newFigureMm = newFigureMm;
    input.stackMm = oldStackMm;
    input.shimsMm = shimsMm;
    return startShim(input);
}

std::string_view name(PreloadVerdict verdict) {
    switch (verdict) {
        case PreloadVerdict::Pass:
            return "pass";
        case PreloadVerdict::TooTight:
            return "too-tight";
        case PreloadVerdict::TooLoose:
            return "too-loose";
    }
    throw std::logic_error("a preload verdict without a name");
}

namespace {

void checkReadings(const std::vector<PreloadReading>& readings, const Interval& limitsNm) {
    check(!readings.empty(), "a preload needs a reading");
    for (const PreloadReading& reading : readings) {
        checkTorque(reading.torqueNm, limitsNm);
        if (reading.stackMm && !(*reading.stackMm >= 0 && *reading.stackMm <= kMaxStackMm))
            throw InputError(message("advice.preload-stack-range"));
        if (!reading.stackMm && readings.size() > 1) throw InputError(message("advice.preload-stack-unknown"));
    }
    for (const PreloadReading& a : readings)
        for (const PreloadReading& b : readings)
            if (a.stackMm && b.stackMm && *a.stackMm < *b.stackMm - 0.01 &&
                b.torqueNm - a.torqueNm > 3 * std::hypot(torqueSigma(a.torqueNm), torqueSigma(b.torqueNm)))
                throw InputError(message("advice.torque-rises", lengthWords(*a.stackMm), formatTorque(a.torqueNm),
                                         lengthWords(*b.stackMm), formatTorque(b.torqueNm)));
}

/// The posterior of the torque's slope and level on a grid of slopes:
/// torque = level - slope x (stack - last stack), the slope lognormal about kPreloadSlope, the level free.
struct SlopeGrid {
    std::array<double, kSlopeSteps> logWeight{}, slope{}, level{}, levelVariance{};
    double top = 0;  ///< the largest log weight
    double weight(std::size_t k) const { return std::exp(logWeight[k] - top); }
};

SlopeGrid slopeGrid(const std::vector<PreloadReading>& readings) {
    const double last = readings.back().stackMm.value_or(0);
    const auto beyondLast = [&](const PreloadReading& r) { return r.stackMm.value_or(0) - last; };
    SlopeGrid grid;
    for (int i = 0; i < kSlopeSteps; ++i) {
        const auto k = static_cast<std::size_t>(i);
        const double z = kSlopeReach * (2.0 * i / (kSlopeSteps - 1) - 1);
        grid.slope[k] = kPreloadSlope * std::exp(z * std::log(kPreloadSlopeFactor));
        double precision = 0, sum = 0;
        for (const PreloadReading& r : readings) {
            const double w = 1 / (torqueSigma(r.torqueNm) * torqueSigma(r.torqueNm));
            precision += w;
            sum += w * (r.torqueNm + grid.slope[k] * beyondLast(r));
        }
        grid.level[k] = sum / precision;
        grid.levelVariance[k] = 1 / precision;
        grid.logWeight[k] = -0.5 * z * z;
        for (const PreloadReading& r : readings) {
            const double residual = r.torqueNm + grid.slope[k] * beyondLast(r) - grid.level[k];
            grid.logWeight[k] -= 0.5 * residual * residual / (torqueSigma(r.torqueNm) * torqueSigma(r.torqueNm));
        }
    }
    grid.top = *std::max_element(grid.logWeight.begin(), grid.logWeight.end());
    return grid;
}

/// The next stack, and the chance that its torque is inside the limits.
void estimateNext(const SlopeGrid& grid, const Interval& limitsNm, PreloadAdvice& result) {
    std::vector<std::pair<double, double>> change, lost;
    for (std::size_t k = 0; k < grid.slope.size(); ++k) {
        const double weight = grid.weight(k);
        lost.emplace_back(grid.slope[k], weight);
        for (const double point : kNormalPoints)
            change.emplace_back(
                (grid.level[k] + point * std::sqrt(grid.levelVariance[k]) - limitsNm.middle()) / grid.slope[k], weight);
    }
    result.nextChangeMm = advice::estimateOf(std::move(change));
    result.torquePerShimNmPerMm = advice::estimateOf(std::move(lost));
    double inside = 0, all = 0;
    for (std::size_t k = 0; k < grid.slope.size(); ++k) {
        for (const double point : kNormalPoints) {
            const double weight = grid.weight(k);
            const double torque =
                grid.level[k] + point * std::sqrt(grid.levelVariance[k]) - grid.slope[k] * result.nextChangeMm->best;
            all += weight;
            if (limitsNm.holds(torque)) inside += weight;
        }
    }
    result.chanceInRange = inside / all;
}

/// A change of 0 is told as an addition.
Message nextVerb(double mm) { return message(mm >= 0 ? "advice.add" : "advice.take-out", lengthWords(mm)); }

Message nextSentence(const PreloadAdvice& advice, bool oneStack) {
    const Estimate& next = *advice.nextChangeMm;
    const Message best = nextVerb(next.best), low = nextVerb(next.low90), high = nextVerb(next.high90);
    if (oneStack) return message("advice.next-by-usual", best, low, high);
    return message("advice.next-by-stacks", best, low, high, formatTorque(advice.torquePerShimNmPerMm->best * 0.0254));
}

}  // namespace

namespace {

/// Inside, but so near to a limit that the reading's error decides; of a range that is hardly wider than that error,
/// only its outer quarters are near (common practice, no source).
void addNearLimit(double nm, const Interval& limits, PreloadAdvice& result) {
    if (result.verdict != PreloadVerdict::Pass) return;
    const double sigma = torqueSigma(nm), near = std::min(sigma, 0.25 * (limits.high - limits.low));
    if (nm - limits.low >= near && limits.high - nm >= near) return;
    result.nearLimit = message(
        nm - limits.low < limits.high - nm ? "advice.torque-near-low" : "advice.torque-near-high", formatTorque(sigma));
    result.because.push_back(result.nearLimit);
}

}  // namespace

PreloadAdvice solidSpacerPreload(const std::vector<PreloadReading>& readings, const Interval& limitsNm) {
    checkReadings(readings, limitsNm);
    PreloadAdvice result;
    const PreloadReading& last = readings.back();
    result.verdict = verdictOf(last.torqueNm, limitsNm);
    tellReading(last.torqueNm, limitsNm, result);
    result.cautions = {message("advice.preload-makers-sheet"), message("advice.turn-pinion-first"),
                       message("advice.full-nut-torque"), message("advice.long-bar")};
    result.chanceInRange = 1;
    addNearLimit(last.torqueNm, limitsNm, result);
    if (result.verdict == PreloadVerdict::Pass) return result;

    if (readings.size() == 1 && last.torqueNm > kFarTooTight * limitsNm.high) {
        result.nextChangeMm = Estimate{kFarTooTightStepMm, 0.5 * kFarTooTightStepMm, 2 * kFarTooTightStepMm};
        result.chanceInRange = 0;
        result.because.push_back(message("advice.far-too-tight", lengthWords(kFarTooTightStepMm)));
    } else {
        estimateNext(slopeGrid(readings), limitsNm, result);
        if (last.stackMm && *last.stackMm + result.nextChangeMm->best < kThinnestShimMm) {
            result.nextChangeMm.reset();
            result.chanceInRange = 0;
            result.noStackHelps = true;
            result.because.push_back(*last.stackMm < kThinnestShimMm
                                         ? message("advice.no-stack-under-none")
                                         : message("advice.no-stack-that-thin", lengthWords(*last.stackMm)));
            return result;
        }
        result.because.push_back(nextSentence(result, readings.size() == 1));
        result.because.push_back(message("advice.chance-of-stack", chanceWords(result.chanceInRange)));
    }
    if (last.stackMm) {
        const Estimate& c = *result.nextChangeMm;
        result.nextStackMm = Estimate{*last.stackMm + c.best, std::max(0.0, *last.stackMm + c.low90),
                                      std::max(0.0, *last.stackMm + c.high90)};
    }
    return result;
}

PreloadAdvice crushSleevePreload(double torqueNm, const Interval& limitsNm) {
    checkTorque(torqueNm, limitsNm);
    PreloadAdvice result;
    result.verdict = verdictOf(torqueNm, limitsNm);
    result.chanceInRange = result.verdict == PreloadVerdict::Pass ? 1 : 0;
    tellReading(torqueNm, limitsNm, result);
    addNearLimit(torqueNm, limitsNm, result);
    if (result.verdict == PreloadVerdict::TooTight) result.because.push_back(message("advice.sleeve-crushed"));
    if (result.verdict == PreloadVerdict::TooLoose) result.because.push_back(message("advice.sleeve-tighten"));
    result.cautions = {message("advice.preload-makers-sheet"), message("advice.turn-pinion-first"),
                       message("advice.replace-sleeve"), message("advice.long-bar")};
    return result;
}

std::string formatTorque(double nm) {
    const double inchPounds = nm / kNmPerInchPound;
    return say("advice.torque", formatted(inchPounds < 10 ? "%.1f" : "%.0f", inchPounds), formatted("%.2f", nm));
}

double parseTorqueNm(std::string_view text, std::string_view what) {
    constexpr std::array<TorqueUnit, 2> kUnits{{{"in-lb", kNmPerInchPound}, {"Nm", 1.0}}};
    const std::string howTo = say("advice.how-to-write-torque"), notOne = say("advice.no-pinion-torque");
    return parseTorqueNm(text, what, {kUnits, kMaxTorqueNm, howTo, notOne});
}

double parseTorqueNm(std::string_view text, std::string_view what, const TorqueForm& form) {
    const auto refuse = [&, all = text](std::string_view why) {
        return InputError(message("advice.torque-as-written", what, all.substr(0, 40), why, form.howTo));
    };
    const auto unit = std::find_if(form.units.begin(), form.units.end(),
                                   [&](const TorqueUnit& one) { return text.ends_with(one.name); });
    if (unit == form.units.end()) throw refuse(say("advice.no-unit"));
    text.remove_suffix(unit->name.size());
    while (text.ends_with(' ')) text.remove_suffix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value))
        throw refuse(say("advice.no-number"));
    if (value < 0 || value * unit->nm > form.mostNm) throw refuse(form.notOne);
    return value * unit->nm;
}

}  // namespace shimsight
