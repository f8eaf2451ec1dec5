#include "advice/decision.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

/// Situations that the search uses; the chances reported use all.
constexpr std::size_t kSearchSituations = 48;

/// Depths tried about the best estimate, mm: fine near it, then out to where a pattern is lost.
constexpr std::array<double, 9> kKnots{-0.20, -0.12, -0.07, -0.03, 0.0, 0.03, 0.07, 0.12, 0.20};

/// A backlash target stays this share of the limits' width inside them, so that a dial's error does not carry it out.
constexpr double kTargetMargin = 0.25;

/// A backlash target other than the nearest to what is there must gain this much chance.
constexpr double kWorthOtherBacklash = 0.04;

/// Chances closer than this are a tie: the smaller change wins.
constexpr double kTie = 0.005;

/// Noise of the next reading that the smooth chance allows for, as the defaults of advice.h.
constexpr double kNextSigmaLength = 2 * kDefaultSigmaToeHeel;
/// Share of an edge marked at which measurePattern says that a pattern runs off, and the softness of that bound.
constexpr double kRunsOffShare = 0.10;
constexpr double kRunsOffSoftness = 0.05;

/// Among depths of like chance the one nearest the design position is preferred: chance lost per square millimetre of
/// distance, a hundredth at 0.004 in.
constexpr double kPullToDesign = 1.0;

double normalShare(double value) { return 0.5 * std::erfc(-value / std::sqrt(2.0)); }

double insideShare(const Interval& interval, double value, double sigma) {
    return normalShare((interval.high - value) / sigma) - normalShare((interval.low - value) / sigma);
}

double smoothChance(const Pattern& pattern, const AcceptanceRule& rule) {
    double chance = insideShare(rule.toeHeel, pattern.toeHeel, kDefaultSigmaToeHeel) *
                    insideShare(rule.rootTip, pattern.rootTip, kDefaultSigmaRootTip) *
                    insideShare(rule.length, pattern.length, kNextSigmaLength);
    if (!rule.mayRunOff)
        for (const double share : {pattern.edgeToe, pattern.edgeHeel, pattern.edgeTip, pattern.edgeRoot})
            chance *= normalShare((kRunsOffShare - share) / kRunsOffSoftness);
    return chance;
}

struct Judgement {
    bool acceptable = false;
    double smooth = 0;
};

Judgement judge(const Situation& situation, const SetUp& setUp, const Limits& limits, bool hardOnly) {
    Judgement result{limits.backlashMm.holds(setUp.backlashMm), 1};
    if (hardOnly && !result.acceptable) return result;
    for (const Side side : kSides) {
        const auto pattern = predictPattern(*situation.model->contact, side, setUp);
        if (!pattern) return {};
        result.acceptable = result.acceptable && isAcceptable(*pattern, limits.acceptance);
        if (hardOnly && !result.acceptable) return result;
        result.smooth *= smoothChance(*pattern, limits.acceptance);
    }
    return result;
}

/// Where the parabola through the highest knot and its neighbours is highest.
double peak(const std::array<double, kKnots.size()>& x, const std::array<double, kKnots.size()>& y) {
    const auto k = static_cast<std::size_t>(std::max_element(y.begin(), y.end()) - y.begin());
    if (k == 0 || k + 1 == x.size()) return x[k];
    const double left = x[k - 1] - x[k], right = x[k + 1] - x[k];
    const double a = (y[k - 1] - y[k]) / left, b = (y[k + 1] - y[k]) / right;
    const double bend = (b - a) / (right - left);
    return bend < 0 ? x[k] + std::clamp(-0.5 * (a - bend * left) / bend, left, right) : x[k];
}

/// Value at `x` of the piecewise linear curve through the knots.
double interpolate(const std::array<double, kKnots.size()>& x, const std::array<double, kKnots.size()>& y, double at) {
    if (at <= x.front()) return y.front();
    for (std::size_t i = 1; i < x.size(); ++i)
        if (at <= x[i]) return y[i - 1] + (y[i] - y[i - 1]) * (at - x[i - 1]) / (x[i] - x[i - 1]);
    return y.back();
}

}  // namespace

std::vector<Situation> drawSituations(const std::vector<Model>& models, const std::vector<Posterior>& posteriors,
                                      const std::vector<double>& modelWeights, int count, Random& random) {
    struct Entry {
        std::size_t model;
        const Particle* particle;
        double weight;
    };
    std::vector<Entry> entries;
    for (std::size_t m = 0; m < models.size(); ++m)
        for (const Particle& particle : posteriors[m].particles)
            entries.push_back({m, &particle, modelWeights[m] * particle.weight});
    std::vector<Situation> situations;
    double passed = 0, next = random.uniform();
    for (const Entry& entry : entries) {
        passed += entry.weight * count;
        while (passed > next && static_cast<int>(situations.size()) < count) {
            situations.push_back({&models[entry.model], entry.particle->setUp, random.normal()});
            next += 1;
        }
    }
    while (static_cast<int>(situations.size()) < count)
        situations.push_back({&models[entries.back().model], entries.back().particle->setUp, random.normal()});
    // Shuffled, so that a first part is a fair sample too.
    for (std::size_t i = situations.size(); i > 1; --i)
        std::swap(situations[i - 1], situations[static_cast<std::size_t>(random.integer(0, static_cast<int>(i) - 1))]);
    return situations;
}

SetUp afterMove(const Situation& situation, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm) {
    SetUp next = situation.setUp;
    next.error.depthMm += depthChangeMm;
    next.backlashMm = std::max(backlashTargetMm + backlashSigmaMm * situation.backlashSetNoise, 0.0);
    next.error.ringMm = situation.model->prior.ringFor(next.backlashMm, next.nominalBacklashMm, next.error);
    return next;
}

Choice decide(const DecisionInput& input) {
    const Limits& limits = input.limits;
    const double width = limits.backlashMm.high - limits.backlashMm.low;
    const Interval targets{limits.backlashMm.low + kTargetMargin * width,
                           limits.backlashMm.high - kTargetMargin * width};
    const std::size_t searched = std::min(kSearchSituations, input.situations.size());

    std::vector<bool> curable(searched, false);
    const auto outlook = [&](double depthChange, double target) {
        Outlook sum;
        for (std::size_t i = 0; i < searched; ++i) {
            const Situation& situation = input.situations[i];
            const Judgement judgement =
                judge(situation, afterMove(situation, depthChange, target, input.backlashSigmaMm), limits, false);
            if (judgement.acceptable) curable[i] = true;
            sum.acceptable += judgement.acceptable ? 1 : 0;
            sum.utility += judgement.smooth;
        }
        sum.acceptable /= static_cast<double>(searched);
        sum.utility /= static_cast<double>(searched);
        const double fromDesign = input.depthErrorMm + depthChange;
        sum.utility -= kPullToDesign * fromDesign * fromDesign;
        return sum;
    };

    // Depth first, at the backlash nearest to what is there.
    Choice choice;
    choice.backlashTargetMm = std::clamp(input.backlashNowMm.value_or(targets.middle()), targets.low, targets.high);
    std::array<double, kKnots.size()> depths{}, utility{};
    for (std::size_t i = 0; i < kKnots.size(); ++i) {
        depths[i] = kKnots[i] - input.depthErrorMm;
        utility[i] = outlook(depths[i], choice.backlashTargetMm).utility;
    }
    const auto best = static_cast<std::size_t>(std::max_element(utility.begin(), utility.end()) - utility.begin());

    // Then whether another backlash is worth it, at that depth.
    double top = utility[best], bestTarget = choice.backlashTargetMm;
    for (const double target : {targets.low, targets.middle(), targets.high}) {
        if (std::abs(target - choice.backlashTargetMm) < 0.1 * width) continue;
        const double value = outlook(depths[best], target).utility;
        if (value < utility[best] + kWorthOtherBacklash || value <= top) continue;
        top = value;
        bestTarget = target;
    }
    if (bestTarget != choice.backlashTargetMm) {
        choice.backlashTargetMm = bestTarget;
        for (std::size_t i = best > 2 ? best - 2 : 0; i < std::min(best + 3, kKnots.size()); ++i)
            utility[i] = outlook(depths[i], bestTarget).utility;
    }

    choice.wishedDepthChangeMm = peak(depths, utility);

    // The stackable change with the highest chance; ties to the smaller change.
    const double sign = depthPerThickness(input.shim);
    double highest = -1e9;
    for (const double thickness : input.thicknessChangesMm)
        highest = std::max(highest, interpolate(depths, utility, sign * thickness));
    bool first = true;
    for (const double thickness : input.thicknessChangesMm) {
        if (interpolate(depths, utility, sign * thickness) < highest - kTie) continue;
        if (!first && std::abs(thickness) >= std::abs(choice.thicknessChangeMm)) continue;
        choice.thicknessChangeMm = thickness;
        first = false;
    }
    choice.depthChangeMm = sign * choice.thicknessChangeMm;

    // The chances, by all situations.
    const double all = static_cast<double>(input.situations.size());
    for (const Situation& situation : input.situations) {
        if (judge(situation, situation.setUp, limits, true).acceptable) choice.chanceNow += 1 / all;
        const SetUp next = afterMove(situation, choice.depthChangeMm, choice.backlashTargetMm, input.backlashSigmaMm);
        if (judge(situation, next, limits, true).acceptable) choice.chanceNext += 1 / all;
    }
    choice.chanceAny =
        static_cast<double>(std::count(curable.begin(), curable.end(), true)) / static_cast<double>(searched);
    return choice;
}

std::optional<Pattern> expectedPattern(const std::vector<Situation>& situations, Side side, double depthChangeMm,
                                       double backlashTargetMm, double backlashSigmaMm) {
    Pattern mean{};
    mean.toeHeel = mean.rootTip = 0;
    double n = 0, toeHeelSquares = 0, rootTipSquares = 0, toe = 0, heel = 0, tip = 0, root = 0;
    for (const Situation& situation : situations) {
        const SetUp next = afterMove(situation, depthChangeMm, backlashTargetMm, backlashSigmaMm);
        const auto pattern = predictPattern(*situation.model->contact, side, next);
        if (!pattern) continue;
        n += 1;
        mean.toeHeel += pattern->toeHeel;
        mean.rootTip += pattern->rootTip;
        toeHeelSquares += pattern->toeHeel * pattern->toeHeel;
        rootTipSquares += pattern->rootTip * pattern->rootTip;
        mean.length += pattern->length;
        mean.height += pattern->height;
        mean.area += pattern->area;
        mean.tiltDeg += pattern->tiltDeg;
        mean.edgeToe += pattern->edgeToe;
        mean.edgeHeel += pattern->edgeHeel;
        mean.edgeTip += pattern->edgeTip;
        mean.edgeRoot += pattern->edgeRoot;
        toe += pattern->runsOff.toe;
        heel += pattern->runsOff.heel;
        tip += pattern->runsOff.tip;
        root += pattern->runsOff.root;
    }
    if (n < 0.5 * static_cast<double>(situations.size()) || n == 0) return std::nullopt;
    for (double* value : {&mean.toeHeel, &mean.rootTip, &mean.length, &mean.height, &mean.area, &mean.tiltDeg,
                          &mean.edgeToe, &mean.edgeHeel, &mean.edgeTip, &mean.edgeRoot})
        *value /= n;
    mean.sigmaToeHeel = std::sqrt(std::max(toeHeelSquares / n - mean.toeHeel * mean.toeHeel, 0.0));
    mean.sigmaRootTip = std::sqrt(std::max(rootTipSquares / n - mean.rootTip * mean.rootTip, 0.0));
    mean.runsOff = {2 * toe > n, 2 * heel > n, 2 * tip > n, 2 * root > n};
    return mean;
}

}  // namespace shimsight::advice
