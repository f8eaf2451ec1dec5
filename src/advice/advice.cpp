#include "shimsight/advice.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "advice/decision.h"
#include "advice/posterior.h"
#include "advice/words.h"
#include "shimsight/core.h"

namespace shimsight {

using namespace advice;

namespace {

/// Samples of one round for one model; with one or two rounds an effective size of 150 to 400.
constexpr int kDefaultSamples = 600;
/// Situations that the chances are counted over.
constexpr int kSituations = 128;
/// Thickness changes weighed reach this far beyond the estimate, mm.
constexpr double kReachBeyondMm = 0.25;

/// Accept: the chance now is at least this, and no move gains kWorthChanging.
constexpr double kGoodChance = 0.70;
constexpr double kWorthChanging = 0.15;
/// A move that changes nothing is acceptable from this chance on.
constexpr double kFairChance = 0.50;
/// No shim helps: so few of the possible set-ups can be cured at all.
constexpr double kHardlyCurable = 0.30;
/// The chance of the best move under which missing data or noise ask for another measurement.
constexpr double kPoorChance = 0.50;
/// Width of the 90 % interval that leaves the depth open, mm: 0.008 in.
constexpr double kOpenWidthMm = 0.20;
/// Standard errors of a mark's centre that no shim should be bought on.
constexpr double kRoughToeHeel = 0.09, kRoughRootTip = 0.13;
/// Spread of the mark's centre from tooth to tooth that means runout.
constexpr double kWanderingSpread = 0.12;
/// Normal quantiles of the misfit as a chi-square: from the first on the other naming of the sides is tried (the
/// features are not independent, so nine in ten honest trials lie under it), from the second on nothing fits (one in a
/// thousand).
constexpr double kOddMisfit = -0.8, kImpossibleMisfit = 5.0;
/// The exchanged sides must fit better by this to be suspected: odds of 400 to 1 against 1 in 50 trials named wrong.
constexpr double kExchangedGain = 12;

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

TrialObservation exchanged(const TrialObservation& trial) {
    TrialObservation other = trial;
    std::swap(other.drive, other.coast);
    return other;
}

bool rough(const std::optional<Pattern>& pattern) {
    return pattern && (pattern->sigmaToeHeel > kRoughToeHeel || pattern->sigmaRootTip > kRoughRootTip);
}

bool wandering(const std::optional<Pattern>& pattern) {
    return pattern && pattern->teeth > 1 && pattern->toothSpread > kWanderingSpread;
}

void checkTrial(const TrialObservation& trial) {
    for (const auto& pattern : {trial.drive, trial.coast})
        if (pattern)
            check(std::isfinite(pattern->toeHeel + pattern->rootTip + pattern->length + pattern->height +
                                pattern->area + pattern->tiltDeg + pattern->edgeToe + pattern->edgeHeel +
                                pattern->edgeTip + pattern->edgeRoot),
                  "a pattern must have finite features");
    if (trial.backlashMm && !(std::isfinite(*trial.backlashMm) && *trial.backlashMm >= 0 && *trial.backlashMm < 5))
        throw InputError("--backlash: must be between 0 and 0.197 in (5 mm).");
    if (trial.shimStackMm && !(std::isfinite(*trial.shimStackMm) && *trial.shimStackMm >= 0 && *trial.shimStackMm < 50))
        throw InputError("--shim-stack: must be between 0 and 1.969 in (50 mm).");
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

Advice advise(const std::vector<const ToothContact*>& contacts, const TrialObservation& trial,
              const AdviceOptions& options) {
    check(!contacts.empty() && std::find(contacts.begin(), contacts.end(), nullptr) == contacts.end(),
          "advise needs a gear set");
    checkTrial(trial);
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

    if (!trial.drive && !trial.coast) {
        findings.doubt = Doubt::NoPattern;
        result.because = becauseOf(findings, result);
        result.cautions = cautionsFor(set, result);
        return result;
    }

    // The ensembles, and how much each model explains.
    Random random(options.seed);
    std::vector<Evidence> evidence;
    std::vector<Posterior> posteriors;
    std::vector<double> weights;
    for (std::size_t m = 0; m < models.size(); ++m) {
        evidence.push_back(evidenceOf(trial, *models[m].contact));
        posteriors.push_back(samplePosterior(*models[m].contact, models[m].prior, evidence[m], samples, random.bits()));
    }
    const auto likeliest = static_cast<std::size_t>(
        std::max_element(posteriors.begin(), posteriors.end(),
                         [](const Posterior& a, const Posterior& b) { return a.logEvidence < b.logEvidence; }) -
        posteriors.begin());
    for (const Posterior& posterior : posteriors)
        weights.push_back(std::exp(posterior.logEvidence - posteriors[likeliest].logEvidence));
    const double allWeights = std::accumulate(weights.begin(), weights.end(), 0.0);
    for (double& weight : weights) weight /= allWeights;
    findings.model = &models[likeliest];
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
    const Estimate& error = result.depthErrorMm;
    result.pinionDepthChangeMm = {-error.best, -error.high90, -error.low90};
    findings.chanceOfSign = error.best > 0 ? chanceDeep : 1 - chanceDeep;

    // The move.
    const std::vector<Situation> situations = drawSituations(models, posteriors, weights, kSituations, random);
    const ShimStacks stacks(set.build.shimsMm);
    const double dialSigma =
        evidence.front().backlashMm ? evidence.front().backlashSigmaMm : TrialObservation{}.backlashSigmaMm;
    const Choice choice = decide({situations, set.limits, set.build.pinionShim,
                                  thicknessChanges(stacks, trial.shimStackMm, std::abs(error.best) + kReachBeyondMm),
                                  error.best, result.backlashNowMm, dialSigma});
    findings.choice = choice;
    result.chanceAcceptableNow = choice.chanceNow;
    result.chanceAcceptableNext = choice.chanceNext;
    result.backlashTargetMm = choice.backlashTargetMm;
    result.pinionDepthChangeMm.best =
        std::clamp(choice.wishedDepthChangeMm, result.pinionDepthChangeMm.low90, result.pinionDepthChangeMm.high90);

    // The ring gear goes where the target is met with the shim change made.
    const BacklashRates rates = findings.model->contact->backlashRates();
    double backlashNow = 0;
    if (result.backlashNowMm) {
        backlashNow = *result.backlashNowMm;
    } else {
        for (const Situation& situation : situations) backlashNow += situation.setUp.backlashMm / kSituations;
    }
    result.ringGearMoveMm =
        (backlashNow - rates.perDepth * choice.depthChangeMm - choice.backlashTargetMm) / rates.perRingMove;
    const bool changesNothing = choice.thicknessChangeMm == 0 &&
                                std::abs(backlashNow - choice.backlashTargetMm) < TrialObservation{}.backlashSigmaMm;

    // The verdict.
    const double width = error.high90 - error.low90;
    const Posterior& best = posteriors[likeliest];
    const int seen = evidence[likeliest].count();
    if (best.misfit > chiSquareBeyond(seen, kOddMisfit)) {
        const TrialObservation other = exchanged(trial);
        double otherMisfit = best.misfit;
        for (const Model& model : models)
            otherMisfit =
                std::min(otherMisfit, bestMisfit(*model.contact, model.prior, evidenceOf(other, *model.contact)));
        if (otherMisfit < best.misfit - kExchangedGain && otherMisfit < chiSquareBeyond(seen, kImpossibleMisfit)) {
            findings.doubt = Doubt::SidesSwapped;
        } else if (best.misfit > chiSquareBeyond(seen, kImpossibleMisfit)) {
            findings.doubt = Doubt::NotThisSet;
        }
    }
    if (findings.doubt == Doubt::None && (wandering(trial.drive) || wandering(trial.coast)))
        findings.doubt = Doubt::Wandering;
    if (findings.doubt == Doubt::None) {
        const bool open = choice.chanceNext < kPoorChance && width > kOpenWidthMm;
        if (choice.chanceNow >= kGoodChance && choice.chanceNext < choice.chanceNow + kWorthChanging) {
            result.verdict = Verdict::Accept;
        } else if (changesNothing && choice.chanceNow >= kFairChance) {
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

    // What to do, filled in. Only a change gives figures that someone may act on.
    const bool moves = result.verdict == Verdict::Change;
    if (!moves) {
        result.backlashTargetMm = result.backlashNowMm.value_or(set.limits.backlashMm.middle());
        result.ringGearMoveMm = 0;
        if (result.verdict != Verdict::NoShimWillHelp) result.chanceAcceptableNext = result.chanceAcceptableNow;
    }
    const double depthChange = moves ? choice.depthChangeMm : 0;
    result.shim.thicknessChangeMm = moves ? choice.thicknessChangeMm : 0;
    if (trial.shimStackMm && !stacks.anyThickness() && result.shim.thicknessChangeMm != 0)
        result.shim.stackMm = stacks.stackFor(*trial.shimStackMm + choice.thicknessChangeMm);
    result.adjusters = adjusterMove(set, result.ringGearMoveMm);
    const double target = result.backlashNowMm || moves ? result.backlashTargetMm : backlashNow;
    result.expectedDrive = expectedPattern(situations, Side::Drive, depthChange, target, dialSigma);
    result.expectedCoast = expectedPattern(situations, Side::Coast, depthChange, target, dialSigma);

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
    findings.pulls = depthPulls(*findings.model->contact, findings.model->prior, evidence[likeliest], best.mode);
    result.because = becauseOf(findings, result);
    result.cautions = cautionsFor(set, result);
    return result;
}

}  // namespace shimsight
