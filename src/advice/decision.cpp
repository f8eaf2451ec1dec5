// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/decision.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

#include "shimsight/advice_used.h"
#include "shimsight/core.h"
#include "shimsight/statistics.h"

namespace shimsight::advice {

namespace {

/// Samples that the search uses; the chances reported use all. Backlash targets other than the nearest need save a
/// good part of a correction to be taken, so half as many tell.
constexpr std::size_t kSearchSamples = 26, kOtherTargetSamples = 12;

/// Moves whose hours in the search are beyond this factor of the best one's are not judged by all samples.
constexpr double kOutOfReachHours = 1.3;

/// Depths tried about the best estimate, mm, for an estimate known to kKnotsForMm; a wider one spreads them.
constexpr std::array<double, 7> kKnots{-0.15, -0.08, -0.035, 0.0, 0.035, 0.08, 0.15};
constexpr double kKnotsForMm = 0.05;

/// A backlash target stays this share of the limits' width inside them, so that a dial's error does not carry it out.
constexpr double kTargetMargin = 0.25;
/// Targets closer than this share of the limits' width are one.
constexpr double kSameTarget = 0.15;

/// A backlash target other than the nearest to what is there must save this share of a change. Where no limits are
/// known a backlash that is usual is not moved for its own sake unless that saves half of one.
constexpr double kWorthOtherBacklash = 0.03, kWorthOtherUsual = 0.20, kWorthMovingUsual = 0.50;

/// A backlash that was set misses its target by so many dial errors: it is read, and it moves when all is tightened.
constexpr double kSettingErrors = 1.4;

/// Expected hours closer than this are a tie: the smaller change wins.
constexpr double kTieHours = 0.01;

/// A correction put off is a little dearer than one made now.
constexpr double kLaterFactor = 1.1;
constexpr int kLaterRounds = 12;

/// Every change leaves a chance of coming back by itself: shims and dial have errors (0.0004 and 0.0006 in; as
/// makeChange in tests/accuracy/closed-loop).
constexpr double kLeftByChange = 0.08;

/// A backlash target this near to what is there, in dial errors, changes nothing.
constexpr double kSameBacklashAsNow = 1.5;

/// A good housing may be out by this: 0.002 in of offset, two and a half minutes of arc (common practice, no source).
constexpr double kGoodOffsetMm = 0.05, kGoodAngleRad = 0.0007;

/// The search sees a first part of the ensemble; the middle of the whole draws it: hours for one standard deviation
/// from it.
constexpr double kPullHours = 0.2;

/// A runner-up is named when its expected hours are within this factor, and when it is another kind of move.
constexpr double kCloseHours = 1.12;
constexpr double kOtherKindMm = 0.025;

/// Loss of an observation that shows a mark where a sample makes none, or the other way round.
constexpr double kOneSideBare = 20;

/// Marks under the usual coat: a thick one makes no bad set-up, nor a thin one a good one.
Marks marksOf(const Sample& sample, SetUp setUp) {
    setUp.filmMm = kFilmMm;
    Marks marks;
    for (const Side side : kSides) marks[index(side)] = predictPattern(*sample.model->contact, side, setUp);
    return marks;
}

/// What a change takes until it is seen to be right.
double changeHours(const Costs& costs, bool pinionOut = true) {
    return costs.trialHours + (pinionOut ? costs.pinionShimHours : 0) + costs.ringGearHours + costs.confirmHours;
}

/// Whether a change would pay for who knows the set, where it comes back with this chance.
bool changePays(double comeback, const Costs& costs) {
    return costs.comebackHours * (comeback - kLeftByChange) > changeHours(costs);
}

/// The marks that used gears had, in the sample's own terms: what its marks are off what was read just now, they are
/// off what was read before, too. What is left is the error of both readings.
Marks wantedOf(const Sample& sample, const DecisionInput& input, Random& random) {
    Marks wanted = *input.wanted;
    const Marks now = marksOf(sample, sample.setUp);
    for (const Side side : kSides) {
        std::optional<Pattern>& mark = wanted[index(side)];
        const std::optional<Pattern>&read = input.seen[index(side)], &own = now[index(side)];
        if (!mark || !read || !own) continue;
        mark->toeHeel +=
            own->toeHeel - read->toeHeel + std::hypot(mark->sigmaToeHeel, read->sigmaToeHeel) * random.normal();
        mark->rootTip +=
            own->rootTip - read->rootTip + std::hypot(mark->sigmaRootTip, read->sigmaRootTip) * random.normal();
        mark->length += own->length - read->length;
        mark->edgeToe += own->edgeToe - read->edgeToe;
        mark->edgeHeel += own->edgeHeel - read->edgeHeel;
        mark->edgeTip += own->edgeTip - read->edgeTip;
        mark->edgeRoot += own->edgeRoot - read->edgeRoot;
    }
    return wanted;
}

/// Chances that the samples come back after a move, or as they are.
class Comebacks {
public:
    explicit Comebacks(const DecisionInput& input) : input_(input) {
        best_.reserve(input.samples.size());
        Random random = Random(input.seed).fork(7);
        for (const Sample& sample : input.samples)
            best_.push_back(input.wanted ? wantedOf(sample, input, random) : bestMarks(sample));
    }

    double of(std::size_t i, const SetUp& setUp) const {
        return comebackChance(badness(marksOf(input_.samples[i], setUp), best_[i], input_.gearSet) +
                              backlashPart(setUp.backlashMm));
    }
    double after(std::size_t i, double depthChangeMm, double backlashTargetMm) const {
        return of(i, afterMove(input_.samples[i], depthChangeMm, backlashTargetMm, input_.backlashSigmaMm));
    }
    /// Whether no further change would pay.
    bool settled(double comeback, double backlashMm) const {
        return backlashPart(backlashMm) == 0 && !changePays(comeback, input_.costs);
    }

private:
    double backlashPart(double backlashMm) const {
        if (!input_.wantedBacklashMm) return backlashBadness(backlashMm, input_.gearSet);
        const double off = std::max(std::abs(backlashMm - *input_.wantedBacklashMm) - kUsedBacklashMm, 0.0);
        return off * off / (kBacklashToleranceMm * kBacklashToleranceMm);
    }

    const DecisionInput& input_;
    std::vector<Marks> best_;  ///< of each sample, or those that used gears had
};

using Curve = std::array<double, kKnots.size()>;

/// Where the parabola through the lowest knot and its neighbours is lowest.
double valley(const Curve& x, const Curve& y) {
    const auto k = static_cast<std::size_t>(std::min_element(y.begin(), y.end()) - y.begin());
    if (k == 0 || k + 1 == x.size()) return x[k];
    const double left = x[k - 1] - x[k], right = x[k + 1] - x[k];
    const double a = (y[k - 1] - y[k]) / left, b = (y[k + 1] - y[k]) / right;
    const double bend = (b - a) / (right - left);
    return bend > 0 ? x[k] + std::clamp(-0.5 * (a - bend * left) / bend, left, right) : x[k];
}

/// Value at `x` of the piecewise linear curve through the knots, level beyond them.
double interpolate(const Curve& x, const Curve& y, double at) {
    if (at <= x.front()) return y.front();
    for (std::size_t i = 1; i < x.size(); ++i)
        if (at <= x[i]) return y[i - 1] + (y[i] - y[i - 1]) * (at - x[i - 1]) / (x[i] - x[i - 1]);
    return y.back();
}

/// One backlash target with the hours that follow a move to it, over the depth.
struct TargetCurve {
    double targetMm = 0;
    Curve hours{};
    double unmoved = 0;  ///< without a change of depth
    bool nearest = false;
};

/// Something that may be done: its own hours, and those that follow in each sample.
struct Action {
    double ownHours = 0;
    std::vector<double> laterHours;
};

/// What is read of some samples, by index(side); nullopt: no mark.
using Observations = std::vector<std::array<std::optional<Features>, 2>>;

/// Features of one more observation of the first `count` samples as they are, each under a coat of its own, without
/// noise.
Observations observationsOf(const DecisionInput& input, std::size_t count, Random& random) {
    Observations observations(count);
    for (std::size_t i = 0; i < observations.size(); ++i) {
        SetUp setUp = input.samples[i].setUp;
        setUp.filmMm = kFilmMm * std::pow(setUp.filmMm / kFilmMm, kFilmKept) *
                       std::exp(kFilmSpread * std::sqrt(1 - kFilmKept * kFilmKept) * random.normal());
        for (const Side side : kSides)
            if (input.observationScales[index(side)])
                observations[i][index(side)] = predictFeatures(*input.samples[i].model->contact, side, setUp);
    }
    return observations;
}

/// What the next observation will tell: each sample in turn is taken for the truth and read, and the others are weighed
/// by that observation.
class Foresight {
public:
    explicit Foresight(const DecisionInput& input) : count_(input.samples.size()), weights_(count_ * count_, 1.0) {
        for (std::size_t j = 0; j < count_; ++j)
            for (std::size_t i = 0; i < count_; ++i)
                if (isSameParticle(input.samples[i], input.samples[j])) weights_[j * count_ + i] = 0;
        if (!input.observationScales[0] && !input.observationScales[1]) return;
        Random random(input.seed);
        const auto told = observationsOf(input, count_, random), other = observationsOf(input, count_, random);
        const auto precision = precisionOf(input, told, other);
        for (std::size_t j = 0; j < count_; ++j) weighBy(input, told[j], other, precision, random, j);
    }

    /// Mean of what the first samples have, after an observation of the one that is taken for the truth; that one
    /// itself tells nothing of what a reader could know.
    double mean(std::span<const double> values, std::size_t truth) const {
        const double* row = &weights_[truth * count_];
        double sum = 0, weight = 0, plain = 0;
        for (std::size_t i = 0; i < values.size(); ++i) {
            sum += row[i] * values[i];
            weight += row[i];
            plain += values[i];
        }
        return weight > 0 ? sum / weight : plain / static_cast<double>(values.size());
    }

private:
    static bool isSameParticle(const Sample& a, const Sample& b) {
        return a.model == b.model && a.setUp.filmMm == b.setUp.filmMm && a.setUp.backlashMm == b.setUp.backlashMm;
    }

    /// Two coats differ: the noise of an observation and the scatter of coats together are what it is weighed by.
    static std::array<Features, 2> precisionOf(const DecisionInput& input, const Observations& told,
                                               const Observations& other) {
        std::array<Features, 2> precision{Features::Zero(), Features::Zero()};
        for (std::size_t k = 0; k < 2; ++k) {
            if (!input.observationScales[k]) continue;
            Features squares = Features::Zero();
            double n = 0;
            for (std::size_t i = 0; i < told.size(); ++i) {
                if (!told[i][k] || !other[i][k]) continue;
                squares += (*told[i][k] - *other[i][k]).cwiseAbs2();
                n += 1;
            }
            precision[k] = (input.observationScales[k]->cwiseAbs2() + squares / std::max(n, 1.0)).cwiseInverse();
        }
        return precision;
    }

    void weighBy(const DecisionInput& input, const std::array<std::optional<Features>, 2>& truth,
                 const Observations& other, const std::array<Features, 2>& precision, Random& random, std::size_t j) {
        std::array<Features, 2> seen{Features::Zero(), Features::Zero()};
        for (std::size_t k = 0; k < 2; ++k)
            if (truth[k])
                for (int f = 0; f < kFeatures; ++f)
                    seen[k][f] = (*truth[k])[f] + (*input.observationScales[k])[f] * random.normal();
        std::vector<double> losses(count_, 0.0);
        double least = std::numeric_limits<double>::max();
        for (std::size_t i = 0; i < count_; ++i) {
            for (std::size_t k = 0; k < 2; ++k) {
                if (truth[k].has_value() != other[i][k].has_value())
                    losses[i] += kOneSideBare;
                else if (truth[k])
                    losses[i] += 0.5 * precision[k].dot((seen[k] - *other[i][k]).cwiseAbs2());
            }
            if (weights_[j * count_ + i] > 0) least = std::min(least, losses[i]);
        }
        for (std::size_t i = 0; i < count_; ++i) weights_[j * count_ + i] *= std::exp(std::min(least - losses[i], 0.0));
    }

    std::size_t count_;
    std::vector<double> weights_;  ///< a row for each truth
};

/// Hours that follow in each of the first samples, where left they would cost these: what the next observation tells
/// decides whether they are left then, or corrected.
std::vector<double> laterHours(const Foresight& next, const std::vector<double>& hoursIfLeft, double correction) {
    std::vector<double> hours(hoursIfLeft.size());
    for (std::size_t j = 0; j < hours.size(); ++j)
        hours[j] = next.mean(hoursIfLeft, j) <= correction ? hoursIfLeft[j] : correction;
    return hours;
}

double meanOf(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

/// Hours that one more observation saves on the average: what costs least after it against what costs least now.
double readingWorth(const Foresight& next, const std::vector<Action>& actions) {
    const std::size_t count = actions.front().laterHours.size();
    double now = std::numeric_limits<double>::max(), then = 0;
    for (const Action& action : actions) now = std::min(now, action.ownHours + meanOf(action.laterHours));
    for (std::size_t j = 0; j < count; ++j) {
        // Chosen by what the others say, paid for by the truth.
        const Action* chosen = nullptr;
        double least = std::numeric_limits<double>::max();
        for (const Action& action : actions) {
            const double hours = action.ownHours + next.mean(action.laterHours, j);
            if (hours >= least) continue;
            least = hours;
            chosen = &action;
        }
        then += (chosen->ownHours + chosen->laterHours[j]) / static_cast<double>(count);
    }
    return now - then;
}

}  // namespace

std::vector<Sample> drawSamples(const std::vector<Model>& models, const std::vector<Posterior>& posteriors,
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
    std::vector<Sample> samples;
    double passed = 0, next = random.uniform();
    for (const Entry& entry : entries) {
        passed += entry.weight * count;
        while (passed > next && static_cast<int>(samples.size()) < count) {
            samples.push_back({&models[entry.model], entry.particle->setUp, random.normal(), random.normal()});
            next += 1;
        }
    }
    while (static_cast<int>(samples.size()) < count)
        samples.push_back(
            {&models[entries.back().model], entries.back().particle->setUp, random.normal(), random.normal()});
    for (Sample& sample : samples) sample.setUp.error.depthMm += kModelDepthMm * random.normal();
    // Shuffled, so that a first part is a fair sample too.
    for (std::size_t i = samples.size(); i > 1; --i)
        std::swap(samples[i - 1], samples[static_cast<std::size_t>(random.integer(0, static_cast<int>(i) - 1))]);
    return samples;
}

SetUp afterMove(const Sample& sample, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm) {
    SetUp next = sample.setUp;
    next.error.depthMm += depthChangeMm;
    if (depthChangeMm != 0) next.error.depthMm += kDepthChangeSigmaMm * sample.shimNoise;
    next.backlashMm = std::max(backlashTargetMm + kSettingErrors * backlashSigmaMm * sample.backlashSetNoise, 0.0);
    next.error.ringMm = sample.model->prior.ringFor(next.backlashMm, next.nominalBacklashMm, next.error);
    return next;
}

Marks bestMarks(const Sample& sample) {
    SetUp best = sample.setUp;
    SetupError& error = best.error;
    error.depthMm = 0;
    error.offsetMm = std::clamp(error.offsetMm, -kGoodOffsetMm, kGoodOffsetMm);
    error.shaftAngleRad = std::clamp(error.shaftAngleRad, -kGoodAngleRad, kGoodAngleRad);
    best.backlashMm = best.nominalBacklashMm;
    error.ringMm = sample.model->prior.ringFor(best.backlashMm, best.nominalBacklashMm, error);
    return marksOf(sample, best);
}

bool endsRight(const Sample& sample, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm,
               const Costs& costs) {
    const GearSet& set = sample.model->contact->gearSet();
    const SetUp next = afterMove(sample, depthChangeMm, backlashTargetMm, backlashSigmaMm);
    return backlashBadness(next.backlashMm, set) == 0 &&
           !changePays(comebackChance(badness(marksOf(sample, next), bestMarks(sample), set)), costs);
}

namespace {

/// The backlash targets weighed: the one nearest to what is there, and others inside the limits, in steps that exist.
std::vector<TargetCurve> targetsOf(const DecisionInput& input) {
    if (input.wantedBacklashMm) return {{*input.wantedBacklashMm, {}, 0, true}};
    const Interval limits = backlashLimitsOf(input.gearSet);
    const double width = limits.high - limits.low;
    // Where this set's marks are best, as far as they tell.
    double best = 0;
    for (const Sample& sample : input.samples)
        best += sample.setUp.nominalBacklashMm / static_cast<double>(input.samples.size());
    const Interval inside{limits.low + kTargetMargin * width, limits.high - kTargetMargin * width};
    const double nearest =
        steppedInside(std::clamp(input.backlashNowMm.value_or(inside.middle()), inside.low, inside.high), limits);
    std::vector<TargetCurve> curves{{nearest, {}, 0, true}};
    std::vector<double> wishes{best};
    if (input.gearSet.given.backlashLimits) wishes.insert(wishes.end(), {inside.low, inside.high});
    for (const double wish : wishes) {
        const double target = steppedInside(std::clamp(wish, inside.low, inside.high), limits);
        const bool known = std::any_of(curves.begin(), curves.end(), [&](const TargetCurve& curve) {
            return std::abs(target - curve.targetMm) <= kSameTarget * width;
        });
        if (!known) curves.push_back({target, {}, 0, false});
    }
    return curves;
}

/// Whether no limits are known and the backlash that is there is a usual one.
bool hasUsualBacklash(const DecisionInput& input) {
    return !input.gearSet.given.backlashLimits && input.backlashNowMm &&
           backlashBadness(*input.backlashNowMm, input.gearSet) == 0;
}

bool isSame(const Move& a, const Move& b) {
    return a.thicknessChangeMm == b.thicknessChangeMm && a.backlashTargetMm == b.backlashTargetMm;
}

/// The best move of each target and of each kind, from all that can be stacked; the best of all first.
std::vector<Move> promisingMoves(const DecisionInput& input, const Curve& depths,
                                 const std::vector<TargetCurve>& curves) {
    const Costs& costs = input.costs;
    const double sign = depthPerThickness(input.shim);
    const bool known = input.gearSet.given.backlashLimits;
    const bool usualNow = hasUsualBacklash(input);
    std::vector<Move> moves;
    for (const TargetCurve& curve : curves) {
        for (const double thickness : input.thicknessChangesMm) {
            // Nothing changed is no move.
            if (thickness == 0 && input.backlashNowMm &&
                std::abs(*input.backlashNowMm - curve.targetMm) < kSameBacklashAsNow * input.backlashSigmaMm)
                continue;
            const double worth = thickness == 0 && usualNow ? kWorthMovingUsual
                                 : curve.nearest            ? 0
                                 : known                    ? kWorthOtherBacklash
                                                            : kWorthOtherUsual;
            Move move{
                .depthChangeMm = sign * thickness, .thicknessChangeMm = thickness, .backlashTargetMm = curve.targetMm};
            move.expectedHours = changeHours(costs, thickness != 0) +
                                 (thickness == 0 ? curve.unmoved : interpolate(depths, curve.hours, sign * thickness)) +
                                 worth * changeHours(costs);
            moves.push_back(move);
        }
    }
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
    if (few.empty()) return few;
    const Move first = few.front();
    for (const TargetCurve& curve : curves)
        keepBest([&](const Move& move) { return move.backlashTargetMm == curve.targetMm; });
    keepBest([](const Move& move) { return move.thicknessChangeMm == 0; });
    for (const double step : {-kOtherKindMm, kOtherKindMm})
        keepBest([&](const Move& move) {
            return move.backlashTargetMm == first.backlashTargetMm &&
                   (move.thicknessChangeMm - first.thicknessChangeMm) * step >= step * step;
        });
    std::erase_if(few, [&](const Move& move) { return move.expectedHours > kOutOfReachHours * first.expectedHours; });
    return few;
}

}  // namespace

namespace {

/// The search for the move: chances of coming back, what the next observation tells, and what a later correction costs.
class Search {
public:
    explicit Search(const DecisionInput& input)
        : input_(input),
          searched_(std::min(kSearchSamples * static_cast<std::size_t>(input.effort), input.samples.size())),
          comebacks_(input),
          next_(input),
          curves_(targetsOf(input)) {
        correctionHours_ = laterCorrectionHours();
        fillCurves();
    }

    /// The depth change that is best without regard to the shims on hand.
    double wishedDepthChange() const {
        const auto lowest = [](const TargetCurve& curve) {
            return *std::min_element(curve.hours.begin(), curve.hours.end());
        };
        const TargetCurve& top =
            *std::min_element(curves_.begin(), curves_.end(),
                              [&](const TargetCurve& a, const TargetCurve& b) { return lowest(a) < lowest(b); });
        return valley(depths_, top.hours);
    }

    std::vector<Move> promising() const { return promisingMoves(input_, depths_, curves_); }
    double nearestTargetMm() const { return curves_.front().targetMm; }
    double observationWorthOf(const std::vector<Action>& actions) const {
        if (!input_.observationScales[0] && !input_.observationScales[1]) return 0;
        return readingWorth(next_, actions);
    }

    /// Judges a move by all samples.
    Action judge(Move& move) const {
        const std::size_t count = input_.samples.size();
        const auto all = static_cast<double>(count);
        Action action{changeHours(input_.costs, move.thicknessChangeMm != 0), {}};
        int settled = 0;
        std::vector<double> ifLeft(count);
        for (std::size_t i = 0; i < count; ++i) {
            const SetUp moved =
                afterMove(input_.samples[i], move.depthChangeMm, move.backlashTargetMm, input_.backlashSigmaMm);
            const double comeback = comebacks_.of(i, moved);
            settled += comebacks_.settled(comeback, moved.backlashMm);
            move.comeback += comeback / all;
            ifLeft[i] = input_.costs.comebackHours * comeback;
        }
        action.laterHours = laterHours(next_, ifLeft, correctionHours_);
        move.chance = settled / all;
        move.expectedHours = action.ownHours + meanOf(action.laterHours);
        if (move.thicknessChangeMm == 0 && hasUsualBacklash(input_))
            move.expectedHours += kWorthMovingUsual * changeHours(input_.costs);
        return action;
    }

    /// Judges leaving the setting as it is.
    Action judgeLeaving(Choice& choice) const {
        const auto all = static_cast<double>(input_.samples.size());
        Action leave;
        int settled = 0;
        for (std::size_t i = 0; i < input_.samples.size(); ++i) {
            const SetUp& now = input_.samples[i].setUp;
            const double comeback = comebacks_.of(i, now);
            settled += comebacks_.settled(comeback, now.backlashMm);
            choice.comebackNow += comeback / all;
            leave.laterHours.push_back(input_.costs.comebackHours * comeback);
            choice.leaveHours += leave.laterHours.back() / all;
        }
        choice.chanceNow = settled / all;
        return leave;
    }

private:
    std::vector<double> hoursIfLeft(double depthChangeMm, double targetMm, std::size_t used) const {
        std::vector<double> hours(used);
        for (std::size_t i = 0; i < used; ++i)
            hours[i] = input_.costs.comebackHours * comebacks_.after(i, depthChangeMm, targetMm);
        return hours;
    }

    /// What is still off after a move takes a correction like the one to the middle of the estimate, and what that
    /// leaves.
    double laterCorrectionHours() const {
        const double own = changeHours(input_.costs);
        const std::vector<double> middle = hoursIfLeft(-input_.depthErrorMm, curves_.front().targetMm, searched_);
        double hours = own;
        for (int round = 0; round < kLaterRounds; ++round)
            hours = kLaterFactor * (own + meanOf(laterHours(next_, middle, hours)));
        return hours;
    }

    double hoursAfter(double depthChangeMm, double targetMm, std::size_t used) const {
        const std::vector<double> ifLeft = hoursIfLeft(depthChangeMm, targetMm, used);
        const double fromMiddle = (input_.depthErrorMm + depthChangeMm) / input_.depthSigmaMm;
        return meanOf(laterHours(next_, ifLeft, correctionHours_)) + kPullHours * fromMiddle * fromMiddle;
    }

    /// Hours after moves to the knots, for each backlash target.
    void fillCurves() {
        const double stretch = std::max(1.0, input_.depthSigmaMm / kKnotsForMm);
        for (std::size_t i = 0; i < kKnots.size(); ++i) depths_[i] = stretch * kKnots[i] - input_.depthErrorMm;
        const std::size_t ofOthers = std::min(searched_, kOtherTargetSamples * static_cast<std::size_t>(input_.effort));
        for (TargetCurve& curve : curves_) {
            const std::size_t used = curve.nearest ? searched_ : ofOthers;
            for (std::size_t i = 0; i < kKnots.size(); ++i)
                curve.hours[i] = hoursAfter(depths_[i], curve.targetMm, used);
            curve.unmoved = hoursAfter(0, curve.targetMm, used);
        }
    }

    const DecisionInput& input_;
    std::size_t searched_;
    Comebacks comebacks_;
    Foresight next_;
    std::vector<TargetCurve> curves_;
    Curve depths_{};
    double correctionHours_ = 0;
};

/// Whether the ring gear has to be moved whatever the depth is, while the marks do not show that the depth is off: its
/// interval holds zero.
bool isRingGearDueAlone(const DecisionInput& input) {
    if (!input.backlashNowMm || std::abs(input.depthErrorMm) >= kHalfWidthOf90 * input.depthSigmaMm) return false;
    const double now = *input.backlashNowMm;
    return input.wantedBacklashMm ? std::abs(now - *input.wantedBacklashMm) > kUsedBacklashMm
                                  : backlashBadness(now, input.gearSet) > 0;
}

/// The ring gear first where that is due and nearly as good: it costs a look, which tells the depth again. A pinion is
/// not pulled for what this look may show to be nothing.
void leadWithRingGear(std::vector<Move>& bestFirst) {
    const Move& best = bestFirst.front();
    const auto other = std::find_if(bestFirst.begin(), bestFirst.end(), [&](const Move& move) {
        return move.thicknessChangeMm == 0 && move.expectedHours <= kCloseHours * best.expectedHours;
    });
    if (other != bestFirst.end()) std::rotate(bestFirst.begin(), other, other + 1);
}

/// The second choice: of another kind than the best, and nearly as good.
std::optional<Move> runnerUpAmong(const std::vector<Move>& moves, const Move& best, const Interval& limits) {
    const double width = limits.high - limits.low;
    for (const Move& move : moves) {
        const bool otherKind = (move.thicknessChangeMm == 0) != (best.thicknessChangeMm == 0) ||
                               std::abs(move.thicknessChangeMm - best.thicknessChangeMm) > 0.9 * kOtherKindMm ||
                               std::abs(move.backlashTargetMm - best.backlashTargetMm) > kSameTarget * width;
        if (otherKind && move.expectedHours <= kCloseHours * best.expectedHours) return move;
    }
    return std::nullopt;
}

}  // namespace

Choice decide(const DecisionInput& input) {
    const Search search(input);
    Choice choice;
    choice.wishedDepthChangeMm = search.wishedDepthChange();
    // The few that promise most, and leaving it, judged by all samples.
    std::vector<Move> few = search.promising();
    std::vector<Action> actions;
    for (Move& move : few) actions.push_back(search.judge(move));
    actions.push_back(search.judgeLeaving(choice));
    choice.observationWorthHours = search.observationWorthOf(actions);
    if (few.empty()) {  // nothing can be changed
        choice.best = {.backlashTargetMm = input.backlashNowMm.value_or(search.nearestTargetMm()),
                       .expectedHours = choice.leaveHours,
                       .chance = choice.chanceNow,
                       .comeback = choice.comebackNow};
        return choice;
    }
    std::stable_sort(few.begin(), few.end(),
                     [](const Move& a, const Move& b) { return a.expectedHours < b.expectedHours; });
    if (isRingGearDueAlone(input)) leadWithRingGear(few);
    choice.best = few.front();
    choice.runnerUp = runnerUpAmong(few, choice.best, backlashLimitsOf(input.gearSet));
    return choice;
}

std::optional<Expected> expectedPattern(std::span<const Sample> samples, Side side, double depthChangeMm,
                                        double backlashTargetMm, double backlashSigmaMm) {
    Pattern mean{};
    mean.toeHeel = mean.rootTip = 0;
    double n = 0, toeHeelSquares = 0, rootTipSquares = 0, lengthSquares = 0, heightSquares = 0, toe = 0, heel = 0,
           tip = 0, root = 0;
    for (const Sample& sample : samples) {
        const SetUp next = afterMove(sample, depthChangeMm, backlashTargetMm, backlashSigmaMm);
        const auto pattern = predictPattern(*sample.model->contact, side, next);
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
    if (n < 0.5 * static_cast<double>(samples.size()) || n == 0) return std::nullopt;
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
