// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/advice.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <numeric>

#include "advice/decision.h"
#include "advice/diagnose.h"
#include "advice/learning.h"
#include "advice/posterior.h"
#include "advice/words.h"
#include "shimsight/core.h"
#include "shimsight/statistics.h"

namespace shimsight {

using namespace advice;

namespace {

/// Samples of one round for one model; with one or two rounds an effective size of 150 to 400.
constexpr int kDefaultSamples = 600;
/// Samples that the chances are counted over.
constexpr int kSamples = 96;
/// With several trials the search for the move takes so many times the samples at most.
constexpr int kMaxEffort = 3;
/// The first of them, which the expected pattern is averaged over.
constexpr std::size_t kShownSamples = 64;
/// Thickness changes weighed reach this far beyond the estimate, mm.
constexpr double kReachBeyondMm = 0.25;

/// A setting that is best left is read once more, where that pays, until it is this sure that no change would pay; and
/// at least twice, or three times, where it is less sure than these: a second rolling costs minutes (common practice,
/// no source).
constexpr double kSureEnough = 0.85, kTwiceBelow = 0.75, kThriceBelow = 0.50;
/// A setting is left only where that is cheaper by this: a comeback hurts a shop more than its hours.
constexpr double kLeaveMargin = 1.2;
/// No shim helps: left after the best move the set still comes back with this chance, and the move gained less than
/// that.
constexpr double kStillBad = 0.50, kLittleGain = 0.15;
/// Readings that differ by less are the same: what is left of rounding in files and units.
constexpr double kReadAlikeMm = 2e-6;
/// The chance of the best move under which missing data or noise ask for another measurement.
constexpr double kPoorChance = 0.50;
/// Width of the 90 % interval that leaves the depth open, mm: 0.008 in.
constexpr double kOpenWidthMm = 0.20;
/// Standard errors of a mark's centre that no shim should be bought on.
constexpr double kRoughToeHeel = 0.09, kRoughRootTip = 0.13;

/// Several observations tell more than the one that is weighed.
constexpr double kLookAhead = 1.0;
/// Observations of one setting that are enough.
constexpr int kMaxObservations = 3;
/// Settings whose backlash differs by more than this are two.
constexpr double kSameBacklashMm = 0.04;

/// A shim change between two trials beyond this is a typing error.
constexpr double kMaxShimChangeMm = 5;

/// The interval is wider than the ensemble by these factors at the first, second, third and later trials: housings and
/// teeth scatter more than the prior says, and the jobs that last are the odd ones (jobs played in
/// tests/accuracy/closed-loop).
constexpr std::array<double, 4> kWiden{1.0, 1.05, 1.10, 1.15};

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
    const double spread = std::hypot(kSpread * std::sqrt(std::max(square / sum - mean * mean, 0.0)), kModelDepthMm);
    std::vector<std::pair<double, double>> valuesAndWeights;
    valuesAndWeights.reserve(4 * draws.size());
    for (const auto& [value, weight] : draws)
        for (const double step : {-1.24, -0.32, 0.32, 1.24})  // unit variance within 2 %
            valuesAndWeights.emplace_back(value + step * spread, 0.25 * weight);
    return estimateOf(std::move(valuesAndWeights));
}

bool rough(const std::optional<Pattern>& pattern) {
    return pattern && (pattern->sigmaToeHeel > kRoughToeHeel || pattern->sigmaRootTip > kRoughRootTip);
}

/// How many trials, the last one included, read the setting as it is.
int observationsOfThisSetting(const std::vector<JobTrial>& trials) {
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
        throw InputError(message("advice.backlash-range"));
    if (trial.shimStackMm && !(std::isfinite(*trial.shimStackMm) && *trial.shimStackMm >= 0 && *trial.shimStackMm < 50))
        throw InputError(message("advice.shim-stack-range"));
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

namespace {

/// The gear set cut like that, with every cutter in use where the file gives none.
void addContacts(const GearSetData& data, Cut cut, std::vector<std::unique_ptr<ToothContact>>& contacts) {
    const GearSet usual = withCut(data, cut);
    if (!usual.given.cutter) {
        const auto add = [&](double curvature) {
            try {
                contacts.push_back(std::make_unique<ToothContact>(withCutter(data, cut, curvature)));
            } catch (const InputError&) {
                // No such gear set can be cut.
            }
        };
        const std::size_t before = contacts.size();
        if (cut == Cut::FaceMilled)
            for (const double curvature : kCurvaturesMilled) add(curvature);
        else
            for (const double curvature : kCurvaturesHobbed) add(curvature);
        if (contacts.size() > before) return;
    }
    contacts.push_back(std::make_unique<ToothContact>(usual));
}

}  // namespace

Advice adviseJob(const GearSetData& gearSet, std::span<const JobTrial> history, const AdviceOptions& options) {
    std::vector<std::unique_ptr<ToothContact>> own;
    if (!gearSet.cut || *gearSet.cut == Cut::FaceMilled) addContacts(gearSet, Cut::FaceMilled, own);
    if (!gearSet.cut || *gearSet.cut == Cut::FaceHobbed) addContacts(gearSet, Cut::FaceHobbed, own);
    std::vector<const ToothContact*> contacts;
    for (const auto& contact : own) contacts.push_back(contact.get());
    std::optional<ToothContact> other;
    AdviceOptions withOther = options;
    if (gearSet.cut && !withOther.otherCut)
        withOther.otherCut = [&]() -> const ToothContact* {
            try {
                GearSetData data = gearSet;
                data.cut.reset();
                data.cutterRadiusMm.reset();
                data.bladeGroups.reset();
                if (!other)
                    other.emplace(withCut(data, *gearSet.cut == Cut::FaceMilled ? Cut::FaceHobbed : Cut::FaceMilled));
                return &*other;
            } catch (const InputError&) {
                return nullptr;  // these data give no such gear set
            }
        };
    return advise(contacts, history, withOther);
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

namespace {

bool backlashJammed(double mm) { return mm < kNoPlayMm; }

/// The backlash readings of a trial, as a dial square to the tooth reads them.
std::vector<double> readingsOf(const TrialObservation& trial, const ToothContact& contact) {
    const double factor = contact.toSquareReading(trial.dial);
    std::vector<double> readings;
    for (const double mm : trial.backlashRoundMm) readings.push_back(mm * factor);
    if (readings.empty() && trial.backlashMm) readings.push_back(*trial.backlashMm * factor);
    return readings;
}

/// A variation round the ring gear that no setting brings inside the limits. No reading is failed by what is usual, but
/// where the file gives no limit, no setting is accepted on a gear that runs less evenly than that.
std::optional<Stop> stopOfRound(const std::vector<double>& readings, const GearSet& set) {
    if (readings.size() < 2) return std::nullopt;
    const Limits& limits = set.limits;
    const auto [least, most] = std::minmax_element(readings.begin(), readings.end());
    const double variation = *most - *least;
    const std::string from = lengthWords(*least), to = lengthWords(*most), by = lengthWords(variation);
    const Message findWhy = message("advice.find-why-first");
    if (variation > limits.backlashVariationMm + kReadAlikeMm)
        return Stop{StopKind::UnevenBacklash,
                    message(set.given.backlashVariation ? "advice.uneven-over-limit" : "advice.uneven-over-usual", from,
                            to, by, lengthWords(limits.backlashVariationMm), findWhy)};
    if (set.given.backlashLimits && variation > limits.backlashMm.high - limits.backlashMm.low + kReadAlikeMm)
        return Stop{StopKind::TightOrLoosePlace,
                    message("advice.places-outside", from, to, by, lengthWords(limits.backlashMm.low),
                            lengthWords(limits.backlashMm.high), findWhy)};
    return std::nullopt;
}

/// What was asked for before the trial, or read in it, that forbids every setting.
std::optional<Stop> stopOf(const TrialObservation& trial, const ToothContact& contact, const AdviceOptions& options) {
    const GearSet& set = contact.gearSet();
    const std::vector<double> readings = readingsOf(trial, contact);
    if (std::any_of(readings.begin(), readings.end(), backlashJammed))
        return Stop{StopKind::Jammed, message(readings.size() > 1 ? "advice.jammed-at-tightest" : "advice.jammed")};
    if (options.ringRunoutMm && *options.ringRunoutMm > set.limits.ringRunoutMm + kReadAlikeMm)
        return Stop{StopKind::Runout,
                    message(set.given.ringRunout ? "advice.runout-over-limit" : "advice.runout-over-usual",
                            lengthWords(*options.ringRunoutMm), lengthWords(set.limits.ringRunoutMm),
                            message("advice.find-why-first"))};
    if (std::optional<Stop> round = stopOfRound(readings, set)) return round;
    const bool beforeKnown = options.before && (options.before->drive || options.before->coast) &&
                             (options.before->backlashMm || !options.before->backlashRoundMm.empty());
    if (options.usedGears && !beforeKnown) return Stop{StopKind::WearNotKnown, message("advice.wear-not-known")};
    return std::nullopt;
}

/// Whether a place round the ring gear lies outside the limits that the file gives.
bool placeOutside(const TrialObservation& trial, const ToothContact& contact) {
    if (!contact.gearSet().given.backlashLimits) return false;
    const Interval& limits = contact.gearSet().limits.backlashMm;
    const std::vector<double> readings = readingsOf(trial, contact);
    return readings.size() > 1 && std::any_of(readings.begin(), readings.end(), [&](double mm) {
               return mm < limits.low - kReadAlikeMm || mm > limits.high + kReadAlikeMm;
           });
}

/// Readings round the ring gear stand in for a single one: the marks belong to their mean.
void useMeanOfRound(TrialObservation& seen) {
    if (!seen.backlashMm && !seen.backlashRoundMm.empty())
        seen.backlashMm = std::accumulate(seen.backlashRoundMm.begin(), seen.backlashRoundMm.end(), 0.0) /
                          static_cast<double>(seen.backlashRoundMm.size());
}

std::vector<JobTrial> checkedTrials(std::span<const JobTrial> history) {
    std::vector<JobTrial> trials(history.begin(), history.end());
    for (JobTrial& each : trials) {
        checkTrial(each.seen);
        if (each.shimChangeMm && !(std::abs(*each.shimChangeMm) < kMaxShimChangeMm))
            throw InputError(message("advice.shim-change-range"));
        useMeanOfRound(each.seen);
    }
    return trials;
}

std::vector<Model> modelsOf(const std::vector<const ToothContact*>& contacts) {
    std::vector<Model> models;
    for (const ToothContact* contact : contacts) {
        // Each cut is as likely as the other, and its cutters share that.
        const Cut cut = contact->gearSet().cut;
        const auto alike = std::count_if(contacts.begin(), contacts.end(),
                                         [&](const ToothContact* other) { return other->gearSet().cut == cut; });
        models.push_back({contact, Prior(*contact), -std::log(static_cast<double>(alike))});
    }
    return models;
}

/// The depth error over all models, and what each cut says of it.
void estimateDepth(const std::vector<Model>& models, const JobPosterior& learned, Findings& findings, Advice& advice) {
    std::vector<std::pair<double, double>> depths;
    double chanceDeep = 0, milledShare = 0, milledSum = 0, hobbedSum = 0;
    for (std::size_t m = 0; m < models.size(); ++m) {
        const bool milled = models[m].contact->gearSet().cut == Cut::FaceMilled;
        if (milled) milledShare += learned.weights[m];
        for (const Particle& particle : learned.posteriors[m].particles) {
            const double depth = particle.setUp.error.depthMm, weight = learned.weights[m] * particle.weight;
            depths.emplace_back(depth, weight);
            if (depth > 0) chanceDeep += weight;
            (milled ? milledSum : hobbedSum) += weight * depth;
        }
    }
    if (findings.cutWeighed) advice.chanceFaceMilled = milledShare;
    findings.depthIfMilledMm = milledShare > 0 ? milledSum / milledShare : 0;
    findings.depthIfHobbedMm = milledShare < 1 ? hobbedSum / (1 - milledShare) : 0;
    Estimate& error = advice.depthErrorMm;
    error = weightedEstimate(depths);
    const double widen = kWiden[std::min<std::size_t>(static_cast<std::size_t>(advice.trials), kWiden.size()) - 1];
    error.low90 = error.best - widen * (error.best - error.low90);
    error.high90 = error.best + widen * (error.high90 - error.best);
    advice.pinionDepthChangeMm = {-error.best, -error.high90, -error.low90};
    findings.chanceOfSign = error.best > 0 ? chanceDeep : 1 - chanceDeep;
}

/// The entry of the last trial that is taken to be wrong, or null.
const EntryDoubt* doubtedNow(const JobPosterior& learned, std::size_t trials) {
    if (learned.doubts.empty()) return nullptr;
    const EntryDoubt& last = learned.doubts.back();
    return last.trial + 1 == trials && last.taken ? &last : nullptr;
}

/// What makes the marks of the last trial unfit to act on, whatever they say of the depth. Asked once: who measures the
/// same again, or goes on, has looked.
Doubt doubtOf(const JobPosterior& learned, const std::vector<JobTrial>& trials, int marked, bool impossible,
              const AdviceOptions& options) {
    if (const EntryDoubt* doubted = doubtedNow(learned, trials.size())) {
        if (doubted->fault != EntryFault::SidesSwapped) return Doubt::EntryOdd;
        if (marked == 1 && !isChecked(options, DiagnosisKind::SidesSwapped)) return Doubt::SidesSwapped;
    }
    if (impossible && marked == 1 && !isChecked(options, DiagnosisKind::WrongGearData)) return Doubt::NotThisSet;
    const TrialObservation& last = trials.back().seen;
    if ((wandering(last.drive) || wandering(last.coast)) && !isChecked(options, DiagnosisKind::Runout) &&
        !isChecked(options, DiagnosisKind::MarksScattered))
        return Doubt::Wandering;
    return Doubt::None;
}

/// Whether leaving the setting as it is promises clearly less work than the best move.
bool leavingPays(const Choice& choice) { return kLeaveMargin * choice.leaveHours <= choice.best.expectedHours; }

/// The verdict where nothing stops the setting and the marks can be used.
struct Decided {
    Verdict verdict = Verdict::MeasureAgain;
    Doubt doubt = Doubt::None;
    bool readAgain = false;
};
Decided verdictOf(const Choice& choice, const Advice& advice, const std::vector<JobTrial>& trials,
                  const ToothContact& contact, const AdviceOptions& options) {
    const TrialObservation& last = trials.back().seen;
    const int observations = observationsOfThisSetting(trials);
    const double width = advice.depthErrorMm.high90 - advice.depthErrorMm.low90;
    const bool leave = leavingPays(choice) && !placeOutside(last, contact);
    const bool observationPays =
        observations < kMaxObservations && kLookAhead * choice.observationWorthHours > options.costs.readAgainHours;
    const int minObservations = choice.chanceNow < kThriceBelow ? 3 : choice.chanceNow < kTwiceBelow ? 2 : 1;
    Decided decided{Verdict::Change, Doubt::None, observationPays};
    const bool open = choice.best.chance < kPoorChance && width > kOpenWidthMm && observations == 1;
    if (leave) {
        const bool looksBadNow = (last.drive && looksBad(*last.drive)) || (last.coast && looksBad(*last.coast));
        const bool asGoodAsShimsGo = std::abs(advice.depthErrorMm.best) < kFreeStepMm && width < kOpenWidthMm;
        if (looksBadNow && asGoodAsShimsGo && observations > 1)
            decided.verdict = Verdict::NoShimWillHelp;
        else if (choice.comebackNow > kStillBad)  // only because nothing better can be stacked
            decided = {Verdict::MeasureAgain, Doubt::NothingStacks, false};
        else if ((observationPays && choice.chanceNow < kSureEnough) || observations < minObservations)
            decided = {Verdict::MeasureAgain, Doubt::OneMoreObservation, true};
        else
            decided.verdict = Verdict::Accept;
    } else if (observations == 1 && (rough(last.drive) || rough(last.coast))) {
        decided = {Verdict::MeasureAgain, Doubt::PatternNoise, false};
    } else if (open && !last.backlashMm) {
        decided = {Verdict::MeasureAgain, Doubt::MissingBacklash, false};
    } else if (open && (!last.drive || !last.coast)) {
        decided = {Verdict::MeasureAgain, Doubt::MissingSide, false};
    } else if (choice.best.comeback > kStillBad && choice.comebackNow - choice.best.comeback < kLittleGain &&
               std::any_of(advice.diagnoses.begin(), advice.diagnoses.end(), [](const Diagnosis& cause) {
                   return cause.shown &&
                          (cause.kind == DiagnosisKind::HousingOffset || cause.kind == DiagnosisKind::ShaftAngle ||
                           cause.kind == DiagnosisKind::MismatchedOrWorn);
               })) {
        decided.verdict = Verdict::NoShimWillHelp;
    }
    return decided;
}

/// The amounts to say: of the best move, or of leaving it.
void fillMove(const Choice& choice, double backlashNowMm, bool moves, const BacklashRates& rates, Advice& advice) {
    const Move& move = choice.best;
    advice.chanceAcceptableNow = choice.chanceNow;
    advice.chanceAcceptableNext = moves ? move.chance : choice.chanceNow;
    advice.expectedHours = moves ? move.expectedHours : choice.leaveHours;
    advice.shim.thicknessChangeMm = moves ? move.thicknessChangeMm : 0;
    advice.backlashTargetMm = moves ? move.backlashTargetMm : backlashNowMm;
    advice.ringGearMoveMm =
        moves ? (backlashNowMm - rates.perDepth * move.depthChangeMm - move.backlashTargetMm) / rates.perRingMove : 0;
    if (moves && choice.runnerUp)
        advice.runnerUp = RunnerUp{choice.runnerUp->thicknessChangeMm, choice.runnerUp->backlashTargetMm,
                                   choice.runnerUp->chance, choice.runnerUp->expectedHours};
}

/// What the mechanic should see next.
void fillExpected(std::span<const Sample> samples, double depthChangeMm, double targetMm, double dialSigmaMm,
                  Advice& advice) {
    const auto shown = samples.first(std::min(kShownSamples, samples.size()));
    if (const auto expected = expectedPattern(shown, Side::Drive, depthChangeMm, targetMm, dialSigmaMm)) {
        advice.expectedDrive = expected->mean;
        advice.spreadDrive = expected->spread;
    }
    if (const auto expected = expectedPattern(shown, Side::Coast, depthChangeMm, targetMm, dialSigmaMm)) {
        advice.expectedCoast = expected->mean;
        advice.spreadCoast = expected->spread;
    }
}

/// What the sentences need beside the figures.
void findReasons(const JobPosterior& learned, Findings& findings) {
    const Posterior& best = learned.posteriors[learned.likeliest];
    findings.offsetMm = marginalOf(best, [](const Particle& p) { return p.setUp.error.offsetMm; });
    findings.shaftAngleRad = marginalOf(best, [](const Particle& p) { return p.setUp.error.shaftAngleRad; });
    Z mean = Z::Zero();
    for (const Particle& particle : best.particles) mean += particle.weight * particle.z;
    findings.movements = movementsOf(*findings.model, findings.model->prior.setUp(mean));
    findings.pulls = depthPulls(*findings.model->contact, findings.model->prior, learned.known[learned.likeliest],
                                learned.evidence[learned.likeliest], best.mode);
}

/// Used gears are brought back to what they showed before they came apart.
void wantAsBefore(const AdviceOptions& options, const TrialObservation& now, const ToothContact& contact,
                  DecisionInput& input) {
    if (!options.usedGears || !options.before) return;
    TrialObservation before = *options.before;
    useMeanOfRound(before);
    input.wanted = Marks{before.drive, before.coast};
    input.seen = Marks{now.drive, now.coast};
    if (before.backlashMm) input.wantedBacklashMm = *before.backlashMm * contact.toSquareReading(before.dial);
}

/// What the sentences take from the trial itself.
Findings findingsOf(const TrialObservation& trial, const std::vector<Model>& models, const AdviceOptions& options) {
    const Cut cut = models.front().contact->gearSet().cut;
    Findings findings;
    findings.trial = &trial;
    findings.cutWeighed = std::any_of(models.begin(), models.end(),
                                      [&](const Model& model) { return model.contact->gearSet().cut != cut; });
    findings.model = &models.front();
    findings.usedGears = options.usedGears;
    if (options.usedGears && options.before) findings.was = &*options.before;
    return findings;
}

/// What needs no marks: the backlash, and what forbids every setting.
Advice adviceBeforeMarks(const TrialObservation& trial, const TrialObservation& asEntered, const ToothContact& contact,
                         const AdviceOptions& options) {
    const GearSet& set = contact.gearSet();
    Advice advice;
    advice.backlashTargetMm = set.limits.backlashMm.middle();
    advice.chanceFaceMilled = set.cut == Cut::FaceMilled ? 1 : 0;
    if (trial.backlashMm) advice.backlashNowMm = *trial.backlashMm * contact.toSquareReading(trial.dial);
    advice.stop = stopOf(asEntered, contact, options);
    return advice;
}

/// Puts the amounts into what the shop can do, and tells the advice.
Advice told(Advice advice, const Findings& findings, const GearSet& set) {
    fitToShop(set, advice);
    advice.lookFirst = lookFirstOf(findings, advice);
    advice.because = becauseOf(findings, advice);
    advice.cautions = cautionsFor(set, advice);
    return advice;
}

int countMarked(const std::vector<JobTrial>& trials) {
    return static_cast<int>(std::count_if(trials.begin(), trials.end(), [](const JobTrial& each) {
        return each.seen.drive.has_value() || each.seen.coast.has_value();
    }));
}

/// Error of the dial in the last trial, square to the tooth.
double dialSigmaOf(const TrialObservation& trial, const ToothContact& contact) {
    return trial.backlashMm ? trial.backlashSigmaMm * contact.toSquareReading(trial.dial) : kDialSigmaMm;
}

/// How much longer the search may take with a longer history.
int effortOf(int trials) { return std::min((trials + 1) / 2, kMaxEffort); }

/// All that the move is decided by.
DecisionInput decisionInput(const std::vector<Sample>& samples, const JobPosterior& learned, const Findings& findings,
                            const Advice& advice, const ShimStacks& stacks, const AdviceOptions& options) {
    const TrialObservation& trial = *findings.trial;
    const Estimate& error = advice.depthErrorMm;
    const GearSet& set = findings.model->contact->gearSet();
    DecisionInput input{.samples = samples, .gearSet = set, .shim = set.build.pinionShim};
    input.thicknessChangesMm = thicknessChanges(stacks, trial.shimStackMm, std::abs(error.best) + kReachBeyondMm);
    input.depthErrorMm = error.best;
    input.depthSigmaMm = (error.high90 - error.low90) / (2 * kHalfWidthOf90);
    input.backlashNowMm = advice.backlashNowMm;
    input.costs = options.costs;
    input.effort = effortOf(advice.trials);
    input.seed = options.seed;
    for (std::size_t k = 0; k < 2; ++k)
        if (const auto& flank = learned.evidence[learned.likeliest].flank[k])
            input.observationScales[k] = flank->scales;
    return input;
}

/// What else may be wrong, and the verdict.
void fillVerdict(const JobPosterior& learned, const std::vector<Model>& models, const std::vector<JobTrial>& trials,
                 const AdviceOptions& options, Findings& findings, Advice& advice) {
    const Posterior& best = learned.posteriors[learned.likeliest];
    const bool impossible =
        best.misfit > chiSquareBeyond(learned.evidence[learned.likeliest].count(), kImpossibleMisfit);
    advice.diagnoses = diagnose({models, learned, trials, options, impossible});
    findings.doubt = doubtOf(learned, trials, advice.trials, impossible, options);
    findings.impossible = impossible && !isChecked(options, DiagnosisKind::WrongGearData);
    if (findings.doubt != Doubt::None || advice.stop) return;
    const Decided decided = verdictOf(findings.choice, advice, trials, *models.front().contact, options);
    advice.verdict = decided.verdict;
    findings.doubt = decided.doubt;
    advice.readAgainFirst = decided.readAgain;
}

/// Whether a move is told: who leaves it moves nothing, who has jammed or unknown gears has no move yet.
bool isMoveTold(const Findings& findings, const Advice& advice) {
    const bool leaves = advice.verdict == Verdict::Accept || findings.doubt == Doubt::OneMoreObservation ||
                        advice.verdict == Verdict::NoShimWillHelp || (advice.stop && leavingPays(findings.choice));
    const bool noMove =
        advice.stop && (advice.stop->kind == StopKind::Jammed || advice.stop->kind == StopKind::WearNotKnown);
    return !leaves && !noMove;
}

/// As read, else the mean over the ensemble.
double backlashNowOf(const Advice& advice, const std::vector<Sample>& samples) {
    if (advice.backlashNowMm) return *advice.backlashNowMm;
    double sum = 0;
    for (const Sample& sample : samples) sum += sample.setUp.backlashMm / static_cast<double>(samples.size());
    return sum;
}

/// The amounts of the move, or of leaving it, the stack to fit, and what will be seen next.
void fillAmounts(const std::vector<Sample>& samples, const ShimStacks& stacks, double dialSigmaMm,
                 const Findings& findings, Advice& advice) {
    const Choice& choice = findings.choice;
    const bool moves = isMoveTold(findings, advice);
    fillMove(choice, backlashNowOf(advice, samples), moves, findings.model->contact->backlashRates(), advice);
    const double wished = moves && stacks.anyThickness() ? choice.best.depthChangeMm : choice.wishedDepthChangeMm;
    Estimate& change = advice.pinionDepthChangeMm;
    change.best = std::clamp(wished, change.low90, change.high90);
    const std::optional<double>& present = findings.trial->shimStackMm;
    if (present && !stacks.anyThickness() && advice.shim.thicknessChangeMm != 0)
        advice.shim.stackMm = stacks.stackFor(*present + advice.shim.thicknessChangeMm);
    // A chance worked out by a model that cannot make the marks is no chance.
    advice.certainty = findings.impossible ? Certainty::NotSure : certaintyOf(advice.chanceAcceptableNext);
    fillExpected(samples, moves ? choice.best.depthChangeMm : 0, advice.backlashTargetMm, dialSigmaMm, advice);
}

}  // namespace

Advice advice::adviseWith(const std::vector<const ToothContact*>& contacts, std::span<const JobTrial> history,
                          const AdviceOptions& options, FilterMemo* memo) {
    check(!contacts.empty() && std::find(contacts.begin(), contacts.end(), nullptr) == contacts.end(),
          "advise needs a gear set");
    check(!history.empty(), "advise needs a trial");
    if (options.before) checkTrial(*options.before);
    const std::vector<JobTrial> trials = checkedTrials(history);
    const TrialObservation& trial = trials.back().seen;
    const ToothContact& contact = *contacts.front();
    const GearSet& set = contact.gearSet();
    const std::vector<Model> models = modelsOf(contacts);

    Advice result = adviceBeforeMarks(trial, history.back().seen, contact, options);
    Findings findings = findingsOf(trial, models, options);
    if (!trial.drive && !trial.coast) {
        findings.doubt = Doubt::NoPattern;
        return told(result, findings, set);
    }

    result.trials = findings.trials = countMarked(trials);
    const int particles = options.samples > 0 ? std::max(options.samples, 50) : kDefaultSamples;
    const JobPosterior learned = learn(models, trials, particles, options, memo);
    findings.model = &models[learned.likeliest];
    estimateDepth(models, learned, findings, result);

    Random random = Random(options.seed).fork(6);
    const std::vector<Sample> samples =
        drawSamples(models, learned.posteriors, learned.weights, kSamples * effortOf(result.trials), random);
    const ShimStacks stacks(set.build.shimsMm);
    const double dialSigma = dialSigmaOf(trial, contact);
    DecisionInput input = decisionInput(samples, learned, findings, result, stacks, options);
    input.shim = set.build.pinionShim;
    input.backlashSigmaMm = dialSigma;
    wantAsBefore(options, trial, contact, input);
    findings.choice = decide(input);

    fillVerdict(learned, models, trials, options, findings, result);
    fillAmounts(samples, stacks, dialSigma, findings, result);
    findReasons(learned, findings);
    return told(result, findings, set);
}

}  // namespace shimsight
