#include "shimsight/advice.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "advice/decision.h"
#include "advice/diagnose.h"
#include "advice/learning.h"
#include "advice/posterior.h"
#include "advice/words.h"
#include "shimsight/core.h"

namespace shimsight {

using namespace advice;

namespace {

/// Samples of one round for one model; with one or two rounds an effective size of 150 to 400.
constexpr int kDefaultSamples = 600;
/// Situations that the chances are counted over.
constexpr int kSituations = 96;
/// With several trials the search for the move takes so many times the situations at most.
constexpr int kMostEffort = 3;
/// The first of them, which the expected pattern is averaged over.
constexpr std::size_t kShownSituations = 64;
/// Thickness changes weighed reach this far beyond the estimate, mm.
constexpr double kReachBeyondMm = 0.25;

/// Leaving a pattern alone is weighed only from this chance on that it is acceptable.
constexpr double kFairChance = 0.50;
/// No shim helps: so few of the possible set-ups can be cured at all.
constexpr double kHardlyCurable = 0.12;
/// The chance of the best move under which missing data or noise ask for another measurement.
constexpr double kPoorChance = 0.50;
/// Width of the 90 % interval that leaves the depth open, mm: 0.008 in.
constexpr double kOpenWidthMm = 0.20;
/// Standard errors of a mark's centre that no shim should be bought on.
constexpr double kRoughToeHeel = 0.09, kRoughRootTip = 0.13;

/// Several readings tell more than the one that is weighed.
constexpr double kLookAhead = 1.5;
/// Readings of one setting that are enough.
constexpr int kMostReadings = 6;
/// Settings whose backlash differs by more than this are two.
constexpr double kSameBacklashMm = 0.04;

/// Standard deviations in the 90 % interval of a normal distribution.
constexpr double kWidthOf90 = 3.29;

/// A shim change between two trials beyond this is a typing error.
constexpr double kLongestShimChangeMm = 5;

/// The interval is wider than the ensemble by these factors at the first, second, third and later trials: housings and
/// teeth scatter more than the prior says, and the jobs that last are the odd ones (jobs played in
/// tests/accuracy/closed-loop).
constexpr std::array<double, 4> kWiden{1.0, 1.08, 1.14, 1.32};

/// Each draw is spread a little, as a share of the ensemble's standard deviation: the tails of a finite ensemble are
/// thin.
constexpr double kSpread = 0.25;

Estimate weightedEstimate(const std::vector<std::pair<double, double>>& draws) {
    double sum = 0, mean = 0, square = 0;
    for (const auto& [value, weight] : draws) {
        sum += weight;
        mean += weight * value;
        square += weight * value * value;
    }
    mean /= sum;
    const double spread = kSpread * std::sqrt(std::max(square / sum - mean * mean, 0.0));
    std::vector<std::pair<double, double>> valuesAndWeights;
    valuesAndWeights.reserve(4 * draws.size());
    for (const auto& [value, weight] : draws)
        for (const double step : {-1.24, -0.32, 0.32, 1.24})  // unit variance within 2 %
            valuesAndWeights.emplace_back(value + step * spread, 0.25 * weight);
    std::sort(valuesAndWeights.begin(), valuesAndWeights.end());
    const auto quantile = [&](double share) {
        double below = 0;
        for (std::size_t i = 0; i < valuesAndWeights.size(); ++i) {
            const auto& [value, weight] = valuesAndWeights[i];
            if (below + weight >= share * sum) return value;
            below += weight;
        }
        return valuesAndWeights.back().first;
    };
    return {quantile(0.5), quantile(0.05), quantile(0.95)};
}

bool rough(const std::optional<Pattern>& pattern) {
    return pattern && (pattern->sigmaToeHeel > kRoughToeHeel || pattern->sigmaRootTip > kRoughRootTip);
}

bool wandering(const std::optional<Pattern>& pattern) {
    return pattern && pattern->teeth > 1 && pattern->toothSpread > kWanderingSpread;
}

/// How many trials, the last one included, read the setting as it is.
int readingsOfThisSetting(const std::vector<JobTrial>& trials) {
    int count = 1;
    for (std::size_t t = trials.size() - 1; t > 0; --t) {
        const auto& now = trials[t];
        const auto& before = trials[t - 1].seen;
        const bool sameShims = now.shimChangeMm ? *now.shimChangeMm == 0 : now.seen.shimStackMm == before.shimStackMm;
        if (!sameShims || (now.seen.backlashMm && before.backlashMm &&
                           std::abs(*now.seen.backlashMm - *before.backlashMm) > kSameBacklashMm))
            break;
        ++count;
    }
    return count;
}

bool backlashPossible(double mm) { return std::isfinite(mm) && mm >= 0 && mm < 5; }

void checkTrial(const TrialObservation& trial) {
    for (const auto& pattern : {trial.drive, trial.coast})
        if (pattern)
            check(std::isfinite(pattern->toeHeel + pattern->rootTip + pattern->length + pattern->height +
                                pattern->area + pattern->tiltDeg + pattern->edgeToe + pattern->edgeHeel +
                                pattern->edgeTip + pattern->edgeRoot),
                  "a pattern must have finite features");
    if ((trial.backlashMm && !backlashPossible(*trial.backlashMm)) ||
        !std::all_of(trial.backlashRoundMm.begin(), trial.backlashRoundMm.end(), backlashPossible))
        throw InputError("--backlash: must be between 0 and 0.197 in (5 mm).");
    if (trial.shimStackMm && !(std::isfinite(*trial.shimStackMm) && *trial.shimStackMm >= 0 && *trial.shimStackMm < 50))
        throw InputError("--shim-stack: must be between 0 and 1.969 in (50 mm).");
    check(!trial.chanceFaceMilled || (*trial.chanceFaceMilled > 0 && *trial.chanceFaceMilled < 1),
          "the chance of a cut must lie inside 0 and 1");
}

}  // namespace

std::string_view name(Verdict verdict) {
    switch (verdict) {
        case Verdict::Accept:
            return "accept";
        case Verdict::Change:
            return "change";
        case Verdict::NoShimWillHelp:
            return "no-shim-will-help";
        case Verdict::MeasureAgain:
            return "measure-again";
    }
    throw std::logic_error("a verdict without a name");
}

std::string_view name(StopKind kind) {
    switch (kind) {
        case StopKind::Jammed:
            return "jammed";
        case StopKind::Runout:
            return "runout";
        case StopKind::UnevenBacklash:
            return "uneven-backlash";
        case StopKind::TightOrLoosePlace:
            return "tight-or-loose-place";
        case StopKind::WearNotKnown:
            return "wear-not-known";
    }
    throw std::logic_error("a stop without a name");
}

std::string_view name(Certainty certainty) {
    switch (certainty) {
        case Certainty::Sure:
            return "sure";
        case Certainty::Likely:
            return "likely";
        case Certainty::NotSure:
            return "not-sure";
    }
    throw std::logic_error("a certainty without a name");
}

Advice adviseJob(const GearSetData& gearSet, std::span<const JobTrial> history, const AdviceOptions& options) {
    if (!gearSet.cut) {
        const ToothContact milled(withCut(gearSet, Cut::FaceMilled));
        const ToothContact hobbed(withCut(gearSet, Cut::FaceHobbed));
        return advise({&milled, &hobbed}, history, options);
    }
    const ToothContact contact(completeGearSet(gearSet));
    std::optional<ToothContact> other;
    AdviceOptions withOther = options;
    if (!withOther.otherCut)
        withOther.otherCut = [&]() -> const ToothContact* {
            try {
                GearSetData data = gearSet;
                data.cut.reset();
                data.cutterRadiusMm.reset();
                data.bladeGroups.reset();
                other.emplace(withCut(data, *gearSet.cut == Cut::FaceMilled ? Cut::FaceHobbed : Cut::FaceMilled));
                return &*other;
            } catch (const InputError&) {
                return nullptr;  // these data give no such gear set
            }
        };
    return advise({&contact}, history, withOther);
}

Advice advise(const std::vector<const ToothContact*>& contacts, const TrialObservation& trial,
              const AdviceOptions& options) {
    const JobTrial only{trial, std::nullopt};
    return advise(contacts, std::span<const JobTrial>(&only, 1), options);
}

Advice advise(const std::vector<const ToothContact*>& contacts, std::span<const JobTrial> history,
              const AdviceOptions& options) {
    return adviseWith(contacts, history, options, nullptr);
}

Advice advice::adviseWith(const std::vector<const ToothContact*>& contacts, std::span<const JobTrial> history,
                          const AdviceOptions& options, Notebook* notebook) {
    check(!contacts.empty() && std::find(contacts.begin(), contacts.end(), nullptr) == contacts.end(),
          "advise needs a gear set");
    check(!history.empty(), "advise needs a trial");
    for (const JobTrial& each : history) {
        checkTrial(each.seen);
        if (each.shimChangeMm && !(std::abs(*each.shimChangeMm) < kLongestShimChangeMm))
            throw InputError("shim change: must be between -0.197 and 0.197 in (5 mm).");
    }
    // Readings round the ring gear stand in for a single one: the marks belong to their mean.
    std::vector<JobTrial> trials(history.begin(), history.end());
    for (JobTrial& each : trials)
        if (!each.seen.backlashMm && !each.seen.backlashRoundMm.empty())
            each.seen.backlashMm =
                std::accumulate(each.seen.backlashRoundMm.begin(), each.seen.backlashRoundMm.end(), 0.0) /
                static_cast<double>(each.seen.backlashRoundMm.size());
    const TrialObservation& trial = trials.back().seen;
    const GearSet& set = contacts.front()->gearSet();
    const int samples = options.samples > 0 ? std::max(options.samples, 50) : kDefaultSamples;

    Advice result;
    result.shim.where = shimPlace(set.build.pinionShim);
    result.backlashTargetMm = set.limits.backlashMm.middle();
    result.chanceFaceMilled = set.cut == Cut::FaceMilled ? 1 : 0;
    if (trial.backlashMm) result.backlashNowMm = *trial.backlashMm * contacts.front()->toSquareReading(trial.dial);

    std::vector<Model> models;
    models.reserve(contacts.size());
    for (const ToothContact* contact : contacts) models.push_back({contact, Prior(*contact)});

    Findings findings;
    findings.trial = &trial;
    findings.cutWeighed = models.size() > 1;
    findings.model = &models.front();
    findings.usedGears = options.usedGears;

    if (!trial.drive && !trial.coast) {
        findings.doubt = Doubt::NoPattern;
        fitToShop(set, result);
        result.lookFirst = lookFirstOf(findings, result);
        result.because = becauseOf(findings, result);
        result.cautions = cautionsFor(set, result);
        return result;
    }
    result.trials = static_cast<int>(std::count_if(trials.begin(), trials.end(), [](const JobTrial& each) {
        return each.seen.drive.has_value() || each.seen.coast.has_value();
    }));

    // The ensembles, and how much each model explains.
    const Learned learned = learn(models, trials, samples, options, notebook);
    Random random = Random(options.seed).fork(6);
    const std::vector<Posterior>& posteriors = learned.posteriors;
    const std::vector<double>& weights = learned.weights;
    findings.model = &models[learned.likeliest];
    findings.trials = result.trials;
    if (models.size() > 1) {
        result.chanceFaceMilled = 0;
        for (std::size_t m = 0; m < models.size(); ++m)
            if (models[m].contact->gearSet().cut == Cut::FaceMilled) result.chanceFaceMilled += weights[m];
    }

    // The depth error.
    std::vector<std::pair<double, double>> depths;
    double chanceDeep = 0;
    for (std::size_t m = 0; m < models.size(); ++m) {
        double mean = 0;
        for (const Particle& particle : posteriors[m].particles) mean += particle.weight * particle.setUp.error.depthMm;
        (models[m].contact->gearSet().cut == Cut::FaceMilled ? findings.depthIfMilledMm : findings.depthIfHobbedMm) =
            mean;
        for (const Particle& particle : posteriors[m].particles) {
            depths.emplace_back(particle.setUp.error.depthMm, weights[m] * particle.weight);
            if (particle.setUp.error.depthMm > 0) chanceDeep += weights[m] * particle.weight;
        }
    }
    result.depthErrorMm = weightedEstimate(depths);
    const double widen = kWiden[std::min<std::size_t>(static_cast<std::size_t>(result.trials), kWiden.size()) - 1];
    Estimate& error = result.depthErrorMm;
    error.low90 = error.best - widen * (error.best - error.low90);
    error.high90 = error.best + widen * (error.high90 - error.best);
    const double width = error.high90 - error.low90;
    result.pinionDepthChangeMm = {-error.best, -error.high90, -error.low90};
    findings.chanceOfSign = error.best > 0 ? chanceDeep : 1 - chanceDeep;

    // The move.
    // A longer history may take longer.
    const int effort = std::min((result.trials + 1) / 2, kMostEffort);
    const int count = kSituations * effort;
    const std::vector<Situation> situations = drawSituations(models, posteriors, weights, count, random);
    const ShimStacks stacks(set.build.shimsMm);
    const double dialSigma = trial.backlashMm ? trial.backlashSigmaMm * contacts.front()->toSquareReading(trial.dial)
                                              : TrialObservation{}.backlashSigmaMm;
    DecisionInput input{situations,           set.limits, set.build.pinionShim, {},     error.best, width / kWidthOf90,
                        result.backlashNowMm, dialSigma,  options.costs,        effort, {},         options.seed};
    for (std::size_t k = 0; k < 2; ++k)
        if (const auto& flank = learned.evidence[learned.likeliest].flank[k]) input.readingScales[k] = flank->scales;
    input.thicknessChangesMm = thicknessChanges(stacks, trial.shimStackMm, std::abs(error.best) + kReachBeyondMm);
    const Choice choice = decide(input);
    const Move& move = choice.best;
    findings.choice = choice;
    result.chanceAcceptableNow = choice.chanceNow;
    result.chanceAcceptableNext = move.chance;
    result.backlashTargetMm = steppedInside(move.backlashTargetMm, set.limits.backlashMm);
    result.pinionDepthChangeMm.best =
        std::clamp(choice.wishedDepthChangeMm, result.pinionDepthChangeMm.low90, result.pinionDepthChangeMm.high90);

    // The ring gear goes where the target is met with the shim change made.
    const BacklashRates rates = findings.model->contact->backlashRates();
    double backlashNow = 0;
    if (result.backlashNowMm) {
        backlashNow = *result.backlashNowMm;
    } else {
        for (const Situation& situation : situations) backlashNow += situation.setUp.backlashMm / count;
    }
    result.ringGearMoveMm =
        (backlashNow - rates.perDepth * move.depthChangeMm - result.backlashTargetMm) / rates.perRingMove;
    const bool changesNothing = move.thicknessChangeMm == 0 &&
                                std::abs(backlashNow - move.backlashTargetMm) < TrialObservation{}.backlashSigmaMm;

    // What else may be wrong.
    const Posterior& best = posteriors[learned.likeliest];
    const bool impossible =
        best.misfit > chiSquareBeyond(learned.evidence[learned.likeliest].count(), kImpossibleMisfit);
    result.diagnoses = diagnose({models, learned, trials, options, impossible});
    const EntryDoubt* doubted =
        !learned.doubts.empty() && learned.doubts.back().trial + 1 == trials.size() && learned.doubts.back().taken
            ? &learned.doubts.back()
            : nullptr;
    if (doubted != nullptr)
        findings.doubt = doubted->fault == EntryFault::SidesSwapped ? Doubt::SidesSwapped : Doubt::EntryOdd;
    else if (impossible)
        findings.doubt = Doubt::NotThisSet;
    else if (wandering(trial.drive) || wandering(trial.coast))
        findings.doubt = Doubt::Wandering;

    // The verdict.
    if (findings.doubt == Doubt::None) {
        // What is missing is asked for once; a side that stays without a mark has none to show.
        const bool open = move.chance < kPoorChance && width > kOpenWidthMm && readingsOfThisSetting(trials) == 1;
        const bool good =
            choice.chanceNow >= kFairChance && (changesNothing || choice.leaveHours <= move.expectedHours);
        if (good) {
            result.verdict = Verdict::Accept;
        } else if (rough(trial.drive) || rough(trial.coast)) {
            findings.doubt = Doubt::ReadingNoise;
        } else if (open && !trial.backlashMm) {
            findings.doubt = Doubt::MissingBacklash;
        } else if (open && (!trial.drive || !trial.coast)) {
            findings.doubt = Doubt::MissingSide;
        } else if (choice.chanceAny < kHardlyCurable) {
            result.verdict = Verdict::NoShimWillHelp;
        } else if (changesNothing) {
            findings.doubt = Doubt::NothingStacks;
        } else {
            result.verdict = Verdict::Change;
        }
    }

    // Whether one more reading pays.
    if (result.verdict == Verdict::Change || result.verdict == Verdict::Accept) {
        result.readAgainFirst = readingsOfThisSetting(trials) < kMostReadings &&
                                kLookAhead * choice.readingWorthHours > options.costs.readAgainHours;
    }

    // What to do, filled in. Only a change gives figures that someone may act on.
    const bool moves = result.verdict == Verdict::Change;
    if (moves) {
        result.expectedHours = move.expectedHours;
        if (choice.runnerUp)
            result.runnerUp = RunnerUp{choice.runnerUp->thicknessChangeMm, choice.runnerUp->backlashTargetMm,
                                       choice.runnerUp->chance, choice.runnerUp->expectedHours};
    } else {
        result.backlashTargetMm = result.backlashNowMm.value_or(set.limits.backlashMm.middle());
        result.ringGearMoveMm = 0;
        if (result.verdict != Verdict::NoShimWillHelp) result.chanceAcceptableNext = result.chanceAcceptableNow;
    }
    const double depthChange = moves ? move.depthChangeMm : 0;
    result.shim.thicknessChangeMm = moves ? move.thicknessChangeMm : 0;
    if (trial.shimStackMm && !stacks.anyThickness() && result.shim.thicknessChangeMm != 0)
        result.shim.stackMm = stacks.stackFor(*trial.shimStackMm + move.thicknessChangeMm);
    fitToShop(set, result);
    result.certainty = certaintyOf(moves ? result.chanceAcceptableNext : result.chanceAcceptableNow);
    const double target = result.backlashNowMm || moves ? result.backlashTargetMm : backlashNow;
    const auto shown = std::span(situations).first(kShownSituations);
    if (const auto expected = expectedPattern(shown, Side::Drive, depthChange, target, dialSigma)) {
        result.expectedDrive = expected->mean;
        result.spreadDrive = expected->spread;
    }
    if (const auto expected = expectedPattern(shown, Side::Coast, depthChange, target, dialSigma)) {
        result.expectedCoast = expected->mean;
        result.spreadCoast = expected->spread;
    }

    // Why, in words.
    const auto belief = [&](auto&& value) {
        double mean = 0, square = 0;
        for (const Particle& particle : best.particles) {
            const double x = value(particle.setUp);
            mean += particle.weight * x;
            square += particle.weight * x * x;
        }
        return Belief{mean, std::sqrt(std::max(square - mean * mean, 0.0))};
    };
    findings.offsetMm = belief([](const SetUp& setUp) { return setUp.error.offsetMm; });
    findings.shaftAngleRad = belief([](const SetUp& setUp) { return setUp.error.shaftAngleRad; });
    Z mean = Z::Zero();
    for (const Particle& particle : best.particles) mean += particle.weight * particle.z;
    findings.movements = movementsOf(*findings.model, findings.model->prior.setUp(mean));
    findings.pulls = depthPulls(*findings.model->contact, findings.model->prior, learned.known[learned.likeliest],
                                learned.evidence[learned.likeliest], best.mode);
    result.lookFirst = lookFirstOf(findings, result);
    result.because = becauseOf(findings, result);
    result.cautions = cautionsFor(set, result);
    return result;
}

}  // namespace shimsight
