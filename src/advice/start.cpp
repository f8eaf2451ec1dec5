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

constexpr double kLargestMarkMm = 1.0;
/// A mark is rounded to a thousandth of an inch (or a hundredth of a millimetre, less): half a step, uniform.
constexpr double kMarkSigmaMm = 0.0254 / 3.4641;

/// A torque reading is off by this share and by this much: a spring scale or a beam wrench, turned by hand.
constexpr double kTorqueShare = 0.05, kTorqueFloorNm = 0.08;
/// Torque of this many times the highest allowed is far too tight.
constexpr double kFarTooTight = 4;
constexpr double kLargestTorqueNm = 100, kLargestStackMm = 20;
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
    if (!(std::isfinite(nm) && nm >= 0 && nm <= kLargestTorqueNm)) throw InputError(say("advice.torque-range"));
    check(limits.low >= 0 && limits.high > limits.low, "preload limits must be an interval");
}

Message readingSentence(double nm, const Interval& limits) {
    const PreloadVerdict verdict = verdictOf(nm, limits);
    return message(verdict == PreloadVerdict::Pass       ? "advice.torque-inside"
                   : verdict == PreloadVerdict::TooTight ? "advice.torque-above"
                                                         : "advice.torque-below",
                   formatTorque(nm), formatTorque(2 * torqueSigma(nm)), formatTorque(limits.low),
                   formatTorque(limits.high));
}

/// What the marks ask of the stack, as a sentence.
Message startSentence(double oldMarkMm, double newMarkMm, PinionShim place, const StartShim& start) {
    const auto mark = [](double mm) { return formatLength(Length::fromMm(mm), true); };
    if (std::abs(start.depthChangeMm) < 1e-9)
        return message("advice.same-place", mark(oldMarkMm), mark(newMarkMm), wordFor(place));
    const bool adds = start.thicknessChangeMm > 0;
    const char* const id = start.depthChangeMm > 0 ? (adds ? "advice.deeper-add" : "advice.deeper-take-out")
                                                   : (adds ? "advice.shallower-add" : "advice.shallower-take-out");
    return message(id, mark(oldMarkMm), mark(newMarkMm), lengthWords(start.depthChangeMm),
                   lengthWords(start.thicknessChangeMm), wordFor(place));
}

/// The stack from the shims on hand that comes within half of a mark's step of the total; empty: none does.
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

StartShim startShim(double oldMarkMm, double newMarkMm, PinionShim place, std::optional<double> oldStackMm,
                    const std::vector<double>& shimsMm) {
    for (const double mark : {oldMarkMm, newMarkMm})
        if (!(std::abs(mark) <= kLargestMarkMm)) throw InputError(say("advice.mark-range"));
    if (oldStackMm && !(*oldStackMm > 0 && *oldStackMm <= kLargestStackMm))
        throw InputError(say("advice.old-stack-range"));
    StartShim start;
    start.depthChangeMm = oldMarkMm - newMarkMm + 0.0;
    start.thicknessChangeMm = depthPerThickness(place) * start.depthChangeMm + 0.0;
    start.sigmaMm = std::sqrt(2.0) * kMarkSigmaMm;
    if (oldStackMm) {
        start.totalMm = *oldStackMm + start.thicknessChangeMm;
        if (*start.totalMm <= 0) throw InputError(say("advice.old-stack-too-thin"));
        start.stackMm = stackNear(*start.totalMm, start.sigmaMm, shimsMm);
    }
    start.because.push_back(startSentence(oldMarkMm, newMarkMm, place, start));
    if (start.totalMm) start.because.push_back(message("advice.stack-comes-to", lengthWords(*start.totalMm)));
    start.because.push_back(message("advice.only-a-start", lengthWords(2 * start.sigmaMm)));
    start.cautions = {message("advice.marks-differ-by-maker"), message("advice.matched-pair")};
    return start;
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
        if (!(reading.stackMm >= 0 && reading.stackMm <= kLargestStackMm))
            throw InputError(say("advice.preload-stack-range"));
    }
    for (const PreloadReading& a : readings)
        for (const PreloadReading& b : readings)
            if (a.stackMm < b.stackMm - 0.01 &&
                b.torqueNm - a.torqueNm > 3 * std::hypot(torqueSigma(a.torqueNm), torqueSigma(b.torqueNm)))
                throw InputError(say("advice.torque-rises", lengthWords(a.stackMm), formatTorque(a.torqueNm),
                                     lengthWords(b.stackMm), formatTorque(b.torqueNm)));
}

/// The posterior of the torque's slope and level on a grid of slopes:
/// torque = level - slope x (stack - last stack), the slope lognormal about kPreloadSlope, the level free.
struct SlopeGrid {
    std::array<double, kSlopeSteps> logWeight{}, slope{}, level{}, levelVariance{};
    double top = 0;  ///< the largest log weight
    double weight(std::size_t k) const { return std::exp(logWeight[k] - top); }
};

SlopeGrid slopeGrid(const std::vector<PreloadReading>& readings) {
    const PreloadReading& last = readings.back();
    SlopeGrid grid;
    for (int i = 0; i < kSlopeSteps; ++i) {
        const auto k = static_cast<std::size_t>(i);
        const double z = kSlopeReach * (2.0 * i / (kSlopeSteps - 1) - 1);
        grid.slope[k] = kPreloadSlope * std::exp(z * std::log(kPreloadSlopeFactor));
        double precision = 0, sum = 0;
        for (const PreloadReading& r : readings) {
            const double w = 1 / (torqueSigma(r.torqueNm) * torqueSigma(r.torqueNm));
            precision += w;
            sum += w * (r.torqueNm + grid.slope[k] * (r.stackMm - last.stackMm));
        }
        grid.level[k] = sum / precision;
        grid.levelVariance[k] = 1 / precision;
        grid.logWeight[k] = -0.5 * z * z;
        for (const PreloadReading& r : readings) {
            const double residual = r.torqueNm + grid.slope[k] * (r.stackMm - last.stackMm) - grid.level[k];
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

PreloadAdvice solidSpacerPreload(const std::vector<PreloadReading>& readings, const Interval& limitsNm) {
    checkReadings(readings, limitsNm);
    PreloadAdvice result;
    const PreloadReading& last = readings.back();
    result.verdict = verdictOf(last.torqueNm, limitsNm);
    result.because.push_back(readingSentence(last.torqueNm, limitsNm));
    result.cautions = {message("advice.preload-makers-sheet"), message("advice.turn-pinion-first"),
                       message("advice.full-nut-torque")};
    result.chanceInRange = 1;
    if (result.verdict == PreloadVerdict::Pass) return result;

    if (readings.size() == 1 && last.torqueNm > kFarTooTight * limitsNm.high) {
        result.nextChangeMm = Estimate{kFarTooTightStepMm, 0.5 * kFarTooTightStepMm, 2 * kFarTooTightStepMm};
        result.chanceInRange = 0;
        result.because.push_back(message("advice.far-too-tight", lengthWords(kFarTooTightStepMm)));
    } else {
        estimateNext(slopeGrid(readings), limitsNm, result);
        result.because.push_back(nextSentence(result, readings.size() == 1));
        result.because.push_back(message("advice.chance-of-stack", chanceWords(result.chanceInRange)));
    }
    if (last.stackMm > 0) {
        const Estimate& c = *result.nextChangeMm;
        result.nextStackMm = Estimate{last.stackMm + c.best, last.stackMm + c.low90, last.stackMm + c.high90};
    }
    return result;
}

PreloadAdvice crushSleevePreload(double torqueNm, const Interval& limitsNm) {
    checkTorque(torqueNm, limitsNm);
    PreloadAdvice result;
    result.verdict = verdictOf(torqueNm, limitsNm);
    result.chanceInRange = result.verdict == PreloadVerdict::Pass ? 1 : 0;
    result.because.push_back(readingSentence(torqueNm, limitsNm));
    if (result.verdict == PreloadVerdict::TooTight) result.because.push_back(message("advice.sleeve-crushed"));
    if (result.verdict == PreloadVerdict::TooLoose) result.because.push_back(message("advice.sleeve-tighten"));
    result.cautions = {message("advice.preload-makers-sheet"), message("advice.turn-pinion-first"),
                       message("advice.replace-sleeve")};
    return result;
}

std::string formatTorque(double nm) {
    const double inchPounds = nm / kNmPerInchPound;
    return say("advice.torque", formatted(inchPounds < 10 ? "%.1f" : "%.0f", inchPounds), formatted("%.2f", nm));
}

double parseTorqueNm(std::string_view text, std::string_view what) {
    constexpr std::array<TorqueUnit, 2> kUnits{{{"in-lb", kNmPerInchPound}, {"Nm", 1.0}}};
    const std::string howTo = say("advice.how-to-write-torque"), notOne = say("advice.no-pinion-torque");
    return parseTorqueNm(text, what, {kUnits, kLargestTorqueNm, howTo, notOne});
}

double parseTorqueNm(std::string_view text, std::string_view what, const TorqueForm& form) {
    const auto refuse = [&, all = text](std::string_view why) {
        return InputError(say("advice.torque-as-written", what, all.substr(0, 40), why, form.howTo));
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
