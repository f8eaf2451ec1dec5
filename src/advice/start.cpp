#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdio>
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

const std::string kMakersSheet =
    "The maker's sheet for this axle comes first: preload, torque of the pinion nut, new or used bearings, with or "
    "without the seal.";
const std::string kTurnFirst =
    "Turn the pinion several times before each reading, and read while it turns, not when it breaks loose.";

PreloadVerdict verdictOf(double nm, const Interval& limits) {
    if (nm > limits.high) return PreloadVerdict::TooTight;
    return nm < limits.low ? PreloadVerdict::TooLoose : PreloadVerdict::Pass;
}

void checkTorque(double nm, const Interval& limits) {
    if (!(std::isfinite(nm) && nm >= 0 && nm <= kLargestTorqueNm))
        throw InputError("turning torque: must be from 0 to 885 in-lb (100 Nm).");
    check(limits.low >= 0 && limits.high > limits.low, "preload limits must be an interval");
}

std::string rangeWords(const Interval& limits) { return formatTorque(limits.low) + " to " + formatTorque(limits.high); }

std::string readingSentence(double nm, const Interval& limits) {
    const std::string reading = "The turning torque, " + formatTorque(nm) + " +/- " + formatTorque(2 * torqueSigma(nm));
    switch (verdictOf(nm, limits)) {
        case PreloadVerdict::Pass:
            return reading + ", is inside the limits " + rangeWords(limits) + ".";
        case PreloadVerdict::TooTight:
            return reading + ", is above the limits " + rangeWords(limits) + ": too tight.";
        case PreloadVerdict::TooLoose:
            break;
    }
    return reading + ", is below the limits " + rangeWords(limits) + ": too loose.";
}

}  // namespace

StartShim startShim(double oldMarkMm, double newMarkMm, PinionShim place, std::optional<double> oldStackMm,
                    const std::vector<double>& shimsMm) {
    for (const double mark : {oldMarkMm, newMarkMm})
        if (!(std::abs(mark) <= kLargestMarkMm))
            throw InputError(
                "pinion mark: must be within 0.039 in (1 mm) of nominal; a mark of +2 is 2thou on inch axles, 0.02mm "
                "on metric ones.");
    if (oldStackMm && !(*oldStackMm > 0 && *oldStackMm <= kLargestStackMm))
        throw InputError("old shim stack: must be more than 0 and at most 0.787 in (20 mm).");
    StartShim start;
    start.depthChangeMm = oldMarkMm - newMarkMm + 0.0;
    start.thicknessChangeMm = depthPerThickness(place) * start.depthChangeMm + 0.0;
    start.sigmaMm = std::sqrt(2.0) * kMarkSigmaMm;
    if (oldStackMm) {
        start.totalMm = *oldStackMm + start.thicknessChangeMm;
        if (*start.totalMm <= 0)
            throw InputError(
                "old shim stack: the marks ask for more to be taken out than is in; check both marks, their signs and "
                "the stack.");
        const ShimStacks stacks(shimsMm);
        if (!stacks.anyThickness()) {
            const auto& totals = stacks.totalsMm();
            const auto nearest = *std::min_element(totals.begin(), totals.end(), [&](double a, double b) {
                return std::abs(a - *start.totalMm) < std::abs(b - *start.totalMm);
            });
            if (std::abs(nearest - *start.totalMm) < 2 * start.sigmaMm) start.stackMm = stacks.stackFor(nearest);
        }
    }
    const std::string where(shimPlaceInWords(place));
    const auto mark = [](double mm) { return formatLength(Length::fromMm(mm), true); };
    std::string text = "Old mark " + mark(oldMarkMm) + ", new mark " + mark(newMarkMm) + ": the new pinion ";
    if (std::abs(start.depthChangeMm) < 1e-9)
        text += "sits where the old one did. Keep the thickness " + where + ".";
    else
        text +=
            "sits " + lengthWords(start.depthChangeMm) +
            (start.depthChangeMm > 0 ? " deeper (nearer to the ring gear)" : " shallower (away from the ring gear)") +
            ". " + (start.thicknessChangeMm > 0 ? "Add " : "Take out ") + lengthWords(start.thicknessChangeMm) +
            " of shim " + where + ": " + (start.thicknessChangeMm > 0 ? "thicker" : "thinner") + " there is " +
            (start.depthChangeMm > 0 ? "deeper." : "shallower.");
    start.because.push_back(text);
    if (start.totalMm) start.because.push_back("The stack comes to " + lengthWords(*start.totalMm) + ".");
    start.because.push_back("This is a start, good to about +/- " + lengthWords(2 * start.sigmaMm) +
                            " by the rounding of the marks alone, and only as good as the old setting was. The contact "
                            "pattern decides.");
    start.cautions.emplace_back(
        "The maker's sheet comes first: some makers mark pinions the other way round, or mark the wanted distance "
        "itself.");
    start.cautions.emplace_back("Ring gear and pinion only as a matched pair. Support the axle on stands.");
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

PreloadAdvice solidSpacerPreload(const std::vector<PreloadReading>& readings, const Interval& limitsNm) {
    check(!readings.empty(), "a preload needs a reading");
    for (const PreloadReading& reading : readings) {
        checkTorque(reading.torqueNm, limitsNm);
        if (!(reading.stackMm >= 0 && reading.stackMm <= kLargestStackMm))
            throw InputError("shim stack: must be from 0 to 0.787 in (20 mm).");
    }
    for (const PreloadReading& a : readings)
        for (const PreloadReading& b : readings)
            if (a.stackMm < b.stackMm - 0.01 &&
                b.torqueNm - a.torqueNm > 3 * std::hypot(torqueSigma(a.torqueNm), torqueSigma(b.torqueNm)))
                throw InputError(
                    "preload readings: the torque rises as shims are added (" + lengthWords(a.stackMm) + ": " +
                    formatTorque(a.torqueNm) + "; " + lengthWords(b.stackMm) + ": " + formatTorque(b.torqueNm) +
                    "); beside a solid spacer it must fall. Check the entries and that the nut had its full torque.");

    PreloadAdvice result;
    const PreloadReading& last = readings.back();
    result.verdict = verdictOf(last.torqueNm, limitsNm);
    result.because.push_back(readingSentence(last.torqueNm, limitsNm));
    result.cautions = {kMakersSheet, kTurnFirst,
                       "Tighten the pinion nut to its full torque each time; a solid spacer gives no preload under "
                       "less."};
    result.chanceInRange = 1;
    if (result.verdict == PreloadVerdict::Pass) return result;

    const double middle = limitsNm.middle();
    if (readings.size() == 1 && last.torqueNm > kFarTooTight * limitsNm.high) {
        result.nextChangeMm = Estimate{kFarTooTightStepMm, 0.5 * kFarTooTightStepMm, 2 * kFarTooTightStepMm};
        result.chanceInRange = 0;
        result.because.push_back("Far too tight: add " + lengthWords(kFarTooTightStepMm) +
                                 " first (common practice), read again, and go on from there with both readings.");
    } else {
        // Torque = level - slope x (stack - last stack), the slope lognormal about kPreloadSlope, the level free.
        std::array<double, kSlopeSteps> logWeight{}, slope{}, level{}, levelVariance{};
        for (int i = 0; i < kSlopeSteps; ++i) {
            const auto k = static_cast<std::size_t>(i);
            const double z = kSlopeReach * (2.0 * i / (kSlopeSteps - 1) - 1);
            slope[k] = kPreloadSlope * std::exp(z * std::log(kPreloadSlopeFactor));
            double precision = 0, sum = 0;
            for (const PreloadReading& r : readings) {
                const double w = 1 / (torqueSigma(r.torqueNm) * torqueSigma(r.torqueNm));
                precision += w;
                sum += w * (r.torqueNm + slope[k] * (r.stackMm - last.stackMm));
            }
            level[k] = sum / precision;
            levelVariance[k] = 1 / precision;
            logWeight[k] = -0.5 * z * z;
            for (const PreloadReading& r : readings) {
                const double rest = r.torqueNm + slope[k] * (r.stackMm - last.stackMm) - level[k];
                logWeight[k] -= 0.5 * rest * rest / (torqueSigma(r.torqueNm) * torqueSigma(r.torqueNm));
            }
        }
        const double top = *std::max_element(logWeight.begin(), logWeight.end());
        std::vector<std::pair<double, double>> change, lost;
        for (std::size_t k = 0; k < logWeight.size(); ++k) {
            const double weight = std::exp(logWeight[k] - top);
            lost.emplace_back(slope[k], weight);
            for (const double point : kNormalPoints)
                change.emplace_back((level[k] + point * std::sqrt(levelVariance[k]) - middle) / slope[k], weight);
        }
        result.nextChangeMm = advice::estimateOf(std::move(change));
        result.torquePerShimNmPerMm = advice::estimateOf(std::move(lost));
        double inside = 0, all = 0;
        for (std::size_t k = 0; k < logWeight.size(); ++k) {
            for (const double point : kNormalPoints) {
                const double weight = std::exp(logWeight[k] - top);
                const double torque =
                    level[k] + point * std::sqrt(levelVariance[k]) - slope[k] * result.nextChangeMm->best;
                all += weight;
                if (limitsNm.holds(torque)) inside += weight;
            }
        }
        result.chanceInRange = inside / all;
        const Estimate& next = *result.nextChangeMm;
        const auto move = [](double mm) { return (mm >= 0 ? "add " : "take out ") + lengthWords(mm); };
        std::string text = "Next: " + move(next.best) +
                           " of shim beside the spacer (in nine cases of ten the right "
                           "change lies between " +
                           move(next.low90) + " and " + move(next.high90) + "). ";
        text += readings.size() == 1
                    ? "With one stack tried, how fast the torque falls is only a usual value (about 5 in-lb, 0.56 Nm, "
                      "for each 0.001 in, 0.025 mm; common practice, no source)."
                    : "By the stacks tried the torque falls about " +
                          formatTorque(result.torquePerShimNmPerMm->best * 0.0254) +
                          " for each 0.001 in (0.025 mm) added.";
        result.because.push_back(text);
        result.because.push_back("Chance that this stack is inside the limits: " + chanceWords(result.chanceInRange) +
                                 ".");
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
    if (result.verdict == PreloadVerdict::TooTight)
        result.because.emplace_back(
            "The sleeve was crushed too far. Backing the nut off does not help: fit a new sleeve and begin again.");
    if (result.verdict == PreloadVerdict::TooLoose)
        result.because.emplace_back(
            "Tighten the pinion nut in small steps, a few degrees at a time, and read after each: the torque rises "
            "fast once the play is gone.");
    result.cautions = {kMakersSheet, kTurnFirst,
                       "A sleeve tightened too far must be replaced; never back the nut off to lower the preload."};
    return result;
}

std::string formatTorque(double nm) {
    std::array<char, 64> buffer{};
    const double inchPounds = nm / kNmPerInchPound;
    std::snprintf(buffer.data(), buffer.size(), inchPounds < 10 ? "%.1f in-lb (%.2f Nm)" : "%.0f in-lb (%.2f Nm)",
                  inchPounds, nm);
    return buffer.data();
}

double parseTorqueNm(std::string_view text, std::string_view what) {
    constexpr std::array<TorqueUnit, 2> kUnits{{{"in-lb", kNmPerInchPound}, {"Nm", 1.0}}};
    return parseTorqueNm(text, what,
                         {kUnits, kLargestTorqueNm, "write inch-pounds (14in-lb) or newton metres (1.6Nm).",
                          "is not a turning torque of a pinion"});
}

double parseTorqueNm(std::string_view text, std::string_view what, const TorqueForm& form) {
    const auto refuse = [&, all = text](std::string_view why) {
        return InputError(std::string(what) + ": \"" + std::string(all.substr(0, 40)) + "\" " + std::string(why) +
                          ": " + std::string(form.howTo));
    };
    const auto unit = std::find_if(form.units.begin(), form.units.end(),
                                   [&](const TorqueUnit& one) { return text.ends_with(one.name); });
    if (unit == form.units.end()) throw refuse("has no unit");
    text.remove_suffix(unit->name.size());
    while (text.ends_with(' ')) text.remove_suffix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) throw refuse("is no number");
    if (value < 0 || value * unit->nm > form.mostNm) throw refuse(form.notOne);
    return value * unit->nm;
}

}  // namespace shimsight
