#include "advice/decision.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

/// Situations that the search uses; the chances reported use all. Backlash targets other than the nearest need save a
/// good part of a correction to be taken, so half as many tell.
constexpr std::size_t kSearchSituations = 26, kOtherTargetSituations = 12;

/// Moves whose hours in the search are beyond this factor of the best one's are not judged by all situations.
constexpr double kOutOfReachHours = 1.3;

/// Depths tried about the best estimate, mm, for an estimate known to kKnotsForMm; a wider one spreads them.
constexpr std::array<double, 7> kKnots{-0.15, -0.08, -0.035, 0.0, 0.035, 0.08, 0.15};
constexpr double kKnotsForMm = 0.05;

/// A backlash target stays this share of the limits' width inside them, so that a dial's error does not carry it out.
constexpr double kTargetMargin = 0.25;
/// Targets closer than this share of the limits' width are one.
constexpr double kSameTarget = 0.15;

/// A backlash target other than the nearest to what is there must save this share of a correction.
constexpr double kWorthOtherBacklash = 0.03;

/// A backlash that was set misses its target by so many dial errors: it is read, and it moves when all is tightened.
constexpr double kSettingErrors = 1.4;

/// Expected hours closer than this are a tie: the smaller change wins.
constexpr double kTieHours = 0.01;

/// A correction that failed often fails again, for the same reason (jobs played in tests/accuracy/closed-loop).
constexpr double kLaterFactor = 1.5;

/// The later corrections count with at least this chance each.
constexpr double kLeastLaterChance = 0.3;

/// A runner-up is named when its expected hours are within this factor, and when it is another kind of move.
constexpr double kCloseHours = 1.12;
constexpr double kOtherKindMm = 0.025;

/// Noise of the next reading that the smooth chance allows for, as the defaults of advice.h.
constexpr double kNextSigmaLength = 2 * kDefaultSigmaToeHeel;
/// Share of an edge marked at which measurePattern says that a pattern runs off, and the softness of that bound.
constexpr double kRunsOffShare = 0.10;
constexpr double kRunsOffSoftness = 0.05;

/// Among depths of like chance the one nearest the design position is preferred: chance lost per square millimetre of
/// distance, a hundredth at 0.004 in.
constexpr double kPullToDesign = 1.0;

/// Situations that a further reading is imagined among, and the first of them that are taken for the truth in turn.
constexpr std::size_t kReadSituations = 96, kReadTruths = 48;

/// Loss of a reading that shows a mark where a situation makes none, or the other way round.
constexpr double kOneSideBare = 20;

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
    double smooth = 0;  ///< chance that the next reading, with its noise, will be judged acceptable
};

/// A smooth chance this small on one side needs no look at the other.
constexpr double kHopeless = 0.005;

Judgement judge(const Situation& situation, SetUp setUp, const Limits& limits, bool hardOnly) {
    // A set-up is judged under the usual coat: a thick one makes no bad set-up, nor a thin one a good one.
    setUp.filmMm = kFilmMm;
    Judgement result{limits.backlashMm.holds(setUp.backlashMm), 1};
    if (hardOnly && !result.acceptable) return result;
    for (const Side side : kSides) {
        const auto pattern = predictPattern(*situation.model->contact, side, setUp);
        if (!pattern) return {};
        result.acceptable = result.acceptable && isAcceptable(*pattern, limits.acceptance);
        if (hardOnly && !result.acceptable) return result;
        result.smooth *= smoothChance(*pattern, limits.acceptance);
        if (!result.acceptable && result.smooth < kHopeless) return {};
    }
    return result;
}

using Curve = std::array<double, kKnots.size()>;

/// Where the parabola through the highest knot and its neighbours is highest.
double peak(const Curve& x, const Curve& y) {
    const auto k = static_cast<std::size_t>(std::max_element(y.begin(), y.end()) - y.begin());
    if (k == 0 || k + 1 == x.size()) return x[k];
    const double left = x[k - 1] - x[k], right = x[k + 1] - x[k];
    const double a = (y[k - 1] - y[k]) / left, b = (y[k + 1] - y[k]) / right;
    const double bend = (b - a) / (right - left);
    return bend < 0 ? x[k] + std::clamp(-0.5 * (a - bend * left) / bend, left, right) : x[k];
}

/// Value at `x` of the piecewise linear curve through the knots, level beyond them.
double interpolate(const Curve& x, const Curve& y, double at) {
    if (at <= x.front()) return y.front();
    for (std::size_t i = 1; i < x.size(); ++i)
        if (at <= x[i]) return y[i - 1] + (y[i] - y[i - 1]) * (at - x[i - 1]) / (x[i] - x[i - 1]);
    return y.back();
}

/// One backlash target with its chances over the depth.
struct TargetCurve {
    double targetMm = 0;
    Curve utility{};
    double unmoved = 0;  ///< utility without a change of depth
    bool nearest = false;
};

/// Something that may be done: whether it ends right in each situation, and what it costs.
struct Action {
    std::vector<bool> right;
    double ownHours = 0, wrongHours = 0;
};

/// Features of one more reading of the first `count` situations as they are, each under a coat of its own, without
/// noise.
std::vector<std::array<std::optional<Features>, 2>> readingsOf(const DecisionInput& input, std::size_t count,
                                                               Random& random) {
    std::vector<std::array<std::optional<Features>, 2>> readings(count);
    for (std::size_t i = 0; i < readings.size(); ++i) {
        SetUp setUp = input.situations[i].setUp;
        setUp.filmMm = kFilmMm * std::pow(setUp.filmMm / kFilmMm, kFilmKept) *
                       std::exp(kFilmSpread * std::sqrt(1 - kFilmKept * kFilmKept) * random.normal());
        for (const Side side : kSides)
            if (input.readingScales[index(side)])
                readings[i][index(side)] = predictFeatures(*input.situations[i].model->contact, side, setUp);
    }
    return readings;
}

/// Hours that one more reading saves on the average: each situation in turn is taken for the truth and read, the
/// others are weighed by that reading, and what then costs least is compared with what costs least now.
double readingWorth(const DecisionInput& input, const std::vector<Action>& actions) {
    if (!input.readingScales[0] && !input.readingScales[1]) return 0;
    Random random(input.seed);
    const std::size_t count = std::min(input.situations.size(), kReadSituations);
    const std::size_t truths = std::min(count, kReadTruths);
    const auto told = readingsOf(input, truths, random), other = readingsOf(input, count, random);
    // Two coats differ: the noise of a reading and the scatter of coats together are what it is weighed by.
    std::array<Features, 2> precision{Features::Zero(), Features::Zero()};
    for (const Side side : kSides) {
        const std::size_t k = index(side);
        if (!input.readingScales[k]) continue;
        Features squares = Features::Zero();
        double n = 0;
        for (std::size_t i = 0; i < truths; ++i) {
            if (!told[i][k] || !other[i][k]) continue;
            squares += (*told[i][k] - *other[i][k]).cwiseAbs2();
            n += 1;
        }
        precision[k] = (input.readingScales[k]->cwiseAbs2() + squares / std::max(n, 1.0)).cwiseInverse();
    }
    const auto cheapest = [&](const std::vector<double>& weights) {
        double least = std::numeric_limits<double>::max();
        for (const Action& action : actions) {
            double wrong = 0;
            for (std::size_t i = 0; i < count; ++i)
                if (!action.right[i]) wrong += weights[i];
            least = std::min(least, action.ownHours + wrong * action.wrongHours);
        }
        return least;
    };
    // What is known now is what the readings say on the average.
    std::vector<double> weights(count), average(count, 0);
    double then = 0;
    for (std::size_t j = 0; j < truths; ++j) {
        std::array<Features, 2> seen{Features::Zero(), Features::Zero()};
        for (std::size_t k = 0; k < 2; ++k)
            if (told[j][k])
                for (int f = 0; f < kFeatures; ++f)
                    seen[k][f] = (*told[j][k])[f] + (*input.readingScales[k])[f] * random.normal();
        double least = std::numeric_limits<double>::max();
        for (std::size_t i = 0; i < count; ++i) {
            double loss = 0;
            for (std::size_t k = 0; k < 2; ++k) {
                if (told[j][k].has_value() != other[i][k].has_value())
                    loss += kOneSideBare;
                else if (told[j][k])
                    loss += 0.5 * precision[k].dot((seen[k] - *other[i][k]).cwiseAbs2());
            }
            weights[i] = loss;
            least = std::min(least, loss);
        }
        double sum = 0;
        for (double& weight : weights) sum += weight = std::exp(least - weight);
        for (std::size_t i = 0; i < count; ++i) {
            weights[i] /= sum;
            average[i] += weights[i] / static_cast<double>(truths);
        }
        then += cheapest(weights) / static_cast<double>(truths);
    }
    return cheapest(average) - then;
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
    next.backlashMm = std::max(backlashTargetMm + kSettingErrors * backlashSigmaMm * situation.backlashSetNoise, 0.0);
    next.error.ringMm = situation.model->prior.ringFor(next.backlashMm, next.nominalBacklashMm, next.error);
    return next;
}

bool endsRight(const Situation& situation, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm,
               const Limits& limits) {
    return judge(situation, afterMove(situation, depthChangeMm, backlashTargetMm, backlashSigmaMm), limits, true)
        .acceptable;
}

Choice decide(const DecisionInput& input) {
    const Limits& limits = input.limits;
    const double width = limits.backlashMm.high - limits.backlashMm.low;
    const Interval targets{limits.backlashMm.low + kTargetMargin * width,
                           limits.backlashMm.high - kTargetMargin * width};
    const auto effort = static_cast<std::size_t>(input.effort);
    const std::size_t searched = std::min(kSearchSituations * effort, input.situations.size());

    const double setSigma = kSettingErrors * input.backlashSigmaMm;
    std::vector<bool> curable(searched, false);
    const auto utilityOf = [&](double depthChange, double target, std::size_t used) {
        double sum = 0;
        for (std::size_t i = 0; i < used; ++i) {
            const Situation& situation = input.situations[i];
            const Judgement judgement =
                judge(situation, afterMove(situation, depthChange, target, input.backlashSigmaMm), limits, false);
            if (judgement.acceptable) curable[i] = true;
            sum += judgement.smooth;
        }
        const double fromDesign = input.depthErrorMm + depthChange;
        return sum / static_cast<double>(used) * insideShare(limits.backlashMm, target, setSigma) -
               kPullToDesign * fromDesign * fromDesign;
    };

    // The backlash nearest to what is there, and others inside the limits.
    const double nearest = std::clamp(input.backlashNowMm.value_or(targets.middle()), targets.low, targets.high);
    std::vector<TargetCurve> curves{{nearest, {}, 0, true}};
    for (const double target : {targets.low, targets.middle(), targets.high})
        if (std::abs(target - nearest) > kSameTarget * width) curves.push_back({target, {}, 0, false});
    Curve depths{};
    const double stretch = std::max(1.0, input.depthSigmaMm / kKnotsForMm);
    for (std::size_t i = 0; i < kKnots.size(); ++i) depths[i] = stretch * kKnots[i] - input.depthErrorMm;
    for (TargetCurve& curve : curves) {
        const std::size_t used = curve.nearest ? searched : std::min(searched, kOtherTargetSituations * effort);
        for (std::size_t i = 0; i < kKnots.size(); ++i) curve.utility[i] = utilityOf(depths[i], curve.targetMm, used);
        curve.unmoved = utilityOf(0, curve.targetMm, used);
    }

    const auto highest = [](const TargetCurve& a, const TargetCurve& b) {
        return *std::max_element(a.utility.begin(), a.utility.end()) <
               *std::max_element(b.utility.begin(), b.utility.end());
    };
    const TargetCurve& top = *std::max_element(curves.begin(), curves.end(), highest);
    const double topChance = std::clamp(*std::max_element(top.utility.begin(), top.utility.end()), 0.0, 1.0);
    Choice choice;
    choice.wishedDepthChangeMm = peak(depths, top.utility);
    choice.chanceAny =
        static_cast<double>(std::count(curable.begin(), curable.end(), true)) / static_cast<double>(searched);

    // Every stackable change with every target.
    const double perCorrection = input.costs.trialHours + input.costs.pinionShimHours;
    const double later =
        kLaterFactor * perCorrection / std::max(kLeastLaterChance, 0.5 * (topChance + choice.chanceAny));
    const double sign = depthPerThickness(input.shim);
    std::vector<Move> moves;
    for (const TargetCurve& curve : curves) {
        for (const double thickness : input.thicknessChangesMm) {
            const double utility =
                thickness == 0 ? curve.unmoved : interpolate(depths, curve.utility, sign * thickness);
            Move move{sign * thickness, thickness, curve.targetMm, 0, 0};
            move.expectedHours = input.costs.trialHours + (thickness != 0 ? input.costs.pinionShimHours : 0) +
                                 input.costs.ringGearHours + (1 - std::clamp(utility, 0.0, 1.0)) * later +
                                 (curve.nearest ? 0 : kWorthOtherBacklash * later);
            moves.push_back(move);
        }
    }
    // The best of each target, and of each kind of move; these few are judged by all situations.
    const auto isSame = [](const Move& a, const Move& b) {
        return a.thicknessChangeMm == b.thicknessChangeMm && a.backlashTargetMm == b.backlashTargetMm;
    };
    std::vector<Move> few;
    const auto keepBest = [&](auto&& counts) {
        const Move* best = nullptr;
        for (const Move& move : moves) {
            if (!counts(move)) continue;
            const bool less = best == nullptr || move.expectedHours < best->expectedHours - kTieHours ||
                              (move.expectedHours < best->expectedHours + kTieHours &&
                               std::abs(move.thicknessChangeMm) < std::abs(best->thicknessChangeMm));
            if (less) best = &move;
        }
        if (best == nullptr) return;
        if (std::none_of(few.begin(), few.end(), [&](const Move& move) { return isSame(move, *best); }))
            few.push_back(*best);
    };
    keepBest([](const Move&) { return true; });
    const Move first = few.front();
    for (const TargetCurve& curve : curves)
        keepBest([&](const Move& move) { return move.backlashTargetMm == curve.targetMm; });
    keepBest([](const Move& move) { return move.thicknessChangeMm == 0; });
    for (const double step : {-kOtherKindMm, kOtherKindMm})
        keepBest([&](const Move& move) {
            return move.backlashTargetMm == first.backlashTargetMm &&
                   (move.thicknessChangeMm - first.thicknessChangeMm) * step >= step * step;
        });

    const double leastHours = first.expectedHours;
    std::erase_if(few, [&](const Move& move) { return move.expectedHours > kOutOfReachHours * leastHours; });

    const std::size_t count = input.situations.size();
    const auto all = static_cast<double>(count);
    std::vector<Action> actions;
    for (Move& move : few) {
        Action action{{}, 0, later};
        action.right.reserve(count);
        for (const Situation& situation : input.situations)
            action.right.push_back(
                endsRight(situation, move.depthChangeMm, move.backlashTargetMm, input.backlashSigmaMm, limits));
        move.chance = static_cast<double>(std::count(action.right.begin(), action.right.end(), true)) / all;
        const double fromDesign = input.depthErrorMm + move.depthChangeMm;
        action.ownHours = input.costs.trialHours + (move.thicknessChangeMm != 0 ? input.costs.pinionShimHours : 0) +
                          input.costs.ringGearHours + input.costs.confirmHours +
                          kPullToDesign * fromDesign * fromDesign * later;
        move.expectedHours = action.ownHours + (1 - move.chance) * later;
        actions.push_back(std::move(action));
    }
    Action leave{{}, 0, input.costs.comebackHours};
    for (const Situation& situation : input.situations)
        leave.right.push_back(judge(situation, situation.setUp, limits, true).acceptable);
    choice.chanceNow = static_cast<double>(std::count(leave.right.begin(), leave.right.end(), true)) / all;
    choice.leaveHours = (1 - choice.chanceNow) * input.costs.comebackHours;
    actions.push_back(std::move(leave));
    choice.readingWorthHours = readingWorth(input, actions);
    std::stable_sort(few.begin(), few.end(),
                     [](const Move& a, const Move& b) { return a.expectedHours < b.expectedHours; });
    choice.best = few.front();
    for (const Move& move : few) {
        const bool otherKind = (move.thicknessChangeMm == 0) != (choice.best.thicknessChangeMm == 0) ||
                               std::abs(move.thicknessChangeMm - choice.best.thicknessChangeMm) > 0.9 * kOtherKindMm ||
                               std::abs(move.backlashTargetMm - choice.best.backlashTargetMm) > kSameTarget * width;
        if (!otherKind || move.expectedHours > kCloseHours * choice.best.expectedHours) continue;
        choice.runnerUp = move;
        break;
    }
    return choice;
}

std::optional<Expected> expectedPattern(std::span<const Situation> situations, Side side, double depthChangeMm,
                                        double backlashTargetMm, double backlashSigmaMm) {
    Pattern mean{};
    mean.toeHeel = mean.rootTip = 0;
    double n = 0, toeHeelSquares = 0, rootTipSquares = 0, lengthSquares = 0, heightSquares = 0, toe = 0, heel = 0,
           tip = 0, root = 0;
    for (const Situation& situation : situations) {
        const SetUp next = afterMove(situation, depthChangeMm, backlashTargetMm, backlashSigmaMm);
        const auto pattern = predictPattern(*situation.model->contact, side, next);
        if (!pattern) continue;
        n += 1;
        mean.toeHeel += pattern->toeHeel;
        mean.rootTip += pattern->rootTip;
        toeHeelSquares += pattern->toeHeel * pattern->toeHeel;
        rootTipSquares += pattern->rootTip * pattern->rootTip;
        lengthSquares += pattern->length * pattern->length;
        heightSquares += pattern->height * pattern->height;
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
    const auto spreadOf = [n](double squares, double middle) {
        return std::sqrt(std::max(squares / n - middle * middle, 0.0));
    };
    const PatternSpread spread{spreadOf(toeHeelSquares, mean.toeHeel), spreadOf(rootTipSquares, mean.rootTip),
                               spreadOf(lengthSquares, mean.length), spreadOf(heightSquares, mean.height)};
    mean.sigmaToeHeel = spread.toeHeel;
    mean.sigmaRootTip = spread.rootTip;
    mean.runsOff = {2 * toe > n, 2 * heel > n, 2 * tip > n, 2 * root > n};
    return Expected{mean, spread};
}

}  // namespace shimsight::advice
