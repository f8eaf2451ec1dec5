// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/learning.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

namespace shimsight::advice {

namespace {

/// Spread of a depth change that was not logged, and of one that was logged wrongly: 0.008 in.
constexpr double kUnloggedChangeMm = 0.20;

/// Share of what was learned on everything but the depth that a change of the setting makes unsure again: the model has
/// errors that repeat, and a move makes new ones. What is lost goes back to the prior, never beyond it. More of it
/// costs observations and needless corrections (tests/accuracy/closed-loop).
constexpr double kForgotten = 0.02;

/// A changed depth under this says nothing on whether the change was entered right: half a thousandth of an inch.
constexpr double kMinChangeMm = 0.0127;

/// Log odds of each fault before the marks are seen: one to four in a hundred (common practice, no source).
constexpr double kReversedBefore = -4.0, kNotMadeBefore = -4.6, kOtherBefore = -4.6, kSwappedBefore = -3.2;
constexpr double kWrongCutBefore = -3.0, kWornBefore = -3.2, kBentBefore = -3.4;
/// A reading that is not the backlash may be anything from 0.01 to 2 mm: its density is 1 / (ln 200 x reading).
constexpr double kMisreadBefore = -4.0, kMisreadLogRange = 5.3;
/// Readings typed too large by a factor: a point misplaced, the dial's travel taken for half or twice what it is. Only
/// those nearest to what the marks ask for are weighed.
constexpr std::array kFactors{0.1, 0.25, 0.5, 2.0, 4.0, 10.0};
constexpr double kFactorBefore = -4.2;
constexpr std::size_t kFactorsWeighed = 2;
/// A backlash beyond its limits by this factor after a correction is asked about at these odds whatever the marks say:
/// it was to be set inside them. The second where it is what the change of depth alone would have made of the last.
constexpr double kStrayBacklash = 1.25, kStrayOdds = 2, kLeftOdds = 0.5;
/// Readings of one backlash agree within this many dial errors, after a change of depth and without one.
constexpr double kSameReading = 2.5, kSameSetting = 3.3;
/// Entries are asked about from this chance on that another explanation holds, all of its kind together; what was not
/// changed after that, only from the second on. It is taken for the truth from the third on.
constexpr double kWorthAsking = 0.25, kWorthAskingAgain = 0.5, kWorthTaking = 0.75;

/// Of two explanations that are asked about together each is told from this chance on.
constexpr double kMinMention = 0.05;

/// Other explanations of a whole history are worked through only where the first trial, or a look at the crowns, leaves
/// them this much: log odds; the mean crowns of the loaded side, offset and shaft angle in spreads of the prior.
constexpr double kWorthWorking = -3.0, kPerhapsWorn = -0.6, kPerhapsBent = 1.0;
/// Photos doubt the cut of the file from these log odds on.
constexpr double kPhotosDoubt = 1.0;
/// Log odds of what was not weighed.
constexpr double kNoOdds = -30;
/// A gear model that explains so much less than all together is dropped: one chance in a hundred and fifty.
constexpr double kDropped = -5.0;
/// Fewest samples of a gear model among several.
constexpr int kMinSamples = 120;
/// Size of the ensembles of other explanations.
constexpr int kSamplesForRivals = 300;
/// Photos see the cut of the teeth right in 96 of 100 cases where they are sure (tests/accuracy/teeth).
constexpr double kMaxOutlineLogOdds = 3.2;

/// Odds far enough apart to be told from one another, and finite.
double oddsOf(double logOdds) { return std::exp(std::min(logOdds, 300.0)); }
double oddsOfShare(double share) { return share / std::max(1 - share, 1e-9); }

/// Of a depth change as logged; the pinion that stayed in did not move at all.
double sigmaOf(std::optional<double> change) {
    if (!change) return kUnloggedChangeMm;
    return *change == 0 ? 0 : kDepthChangeSigmaMm;
}

/// Entries that a trial may have been meant to hold.
struct Hypothesis {
    EntryFault fault = EntryFault::None;
    double depthChangeMm = 0, depthSigmaMm = 0;
    TrialObservation seen;
    double logBefore = 0;
    double factor = 0;  ///< see EntryDoubt
};

/// Whether a backlash is what the last one was, but for what the change of depth made of it.
bool isUnchanged(const Model& model, double backlashMm, double lastMm, double depthChangeMm, double sigmaMm) {
    const double left = lastMm - model.contact->backlashRates().perDepth * depthChangeMm;
    const double errors = depthChangeMm == 0 ? kSameSetting : kSameReading;
    return std::abs(backlashMm - left) < errors * std::sqrt(2.0) * sigmaMm;
}

/// Whether a backlash is far from what a correction was to set.
bool isFarOutside(const Interval& limits, double backlashMm) {
    return backlashMm < limits.low / kStrayBacklash || backlashMm > limits.high * kStrayBacklash;
}

std::vector<Hypothesis> hypothesesOf(const JobTrial& trial, std::optional<double> change, bool first) {
    const double sigma = sigmaOf(change);
    const Hypothesis logged{EntryFault::None, change.value_or(0), sigma, trial.seen, 0};
    std::vector<Hypothesis> all;
    if (!first && change && std::abs(*change) > kMinChangeMm) {
        Hypothesis h = logged;
        h.fault = EntryFault::ChangeReversed;
        h.depthChangeMm = -*change;
        h.logBefore = kReversedBefore;
        all.push_back(h);
        h.fault = EntryFault::ChangeNotMade;
        h.depthChangeMm = 0;
        h.depthSigmaMm = 0;
        h.logBefore = kNotMadeBefore;
        all.push_back(h);
    }
    if (!first && change) {
        Hypothesis h = logged;
        h.fault = EntryFault::ChangeOther;
        h.depthSigmaMm = kUnloggedChangeMm;
        h.logBefore = kOtherBefore;
        all.push_back(h);
    }
    if (trial.seen.backlashMm) {
        Hypothesis h = logged;
        h.fault = EntryFault::BacklashMisread;
        h.seen.backlashMm.reset();
        // The densities of the reading: anything, against the dial's own.
        h.logBefore = kMisreadBefore - std::log(kMisreadLogRange * std::max(*trial.seen.backlashMm, 0.01)) +
                      std::log(std::sqrt(2 * kPi) * trial.seen.backlashSigmaMm);
        all.push_back(h);
    }
    // The first trial's sides are weighed with those of all trials, see learn().
    if (!first) {
        Hypothesis h = logged;
        h.fault = EntryFault::SidesSwapped;
        std::swap(h.seen.drive, h.seen.coast);
        h.logBefore = kSwappedBefore;
        all.push_back(h);
    }
    return all;
}

/// The typing errors that bring the reading nearest to `wantedMm`, which the marks ask for.
std::vector<Hypothesis> typedBy(const Hypothesis& misread, double typedMm, double wantedMm) {
    std::vector<double> factors(kFactors.begin(), kFactors.end());
    const auto off = [&](double factor) { return std::abs(std::log(typedMm / factor / wantedMm)); };
    std::sort(factors.begin(), factors.end(), [&](double a, double b) { return off(a) < off(b); });
    std::vector<Hypothesis> all;
    for (std::size_t i = 0; i < kFactorsWeighed; ++i) {
        Hypothesis h = misread;
        h.factor = factors[i];
        h.seen.backlashMm = typedMm / factors[i];
        h.logBefore = kFactorBefore - std::log(factors[i]);  // of the density of what was typed
        all.push_back(h);
    }
    return all;
}

enum class Group { Change, Backlash, Sides };
Group groupOf(EntryFault fault) {
    if (fault == EntryFault::SidesSwapped) return Group::Sides;
    return fault == EntryFault::BacklashMisread ? Group::Backlash : Group::Change;
}

}  // namespace

std::optional<double> loggedDepthChangeMm(const JobTrial& before, const JobTrial& now, PinionShim shim) {
    if (now.shimChangeMm) return depthPerThickness(shim) * *now.shimChangeMm;
    if (before.seen.shimStackMm && now.seen.shimStackMm)
        return depthPerThickness(shim) * (*now.seen.shimStackMm - *before.seen.shimStackMm);
    return std::nullopt;
}

PriorState knownNext(const Posterior& posterior, double depthChangeMm, double sigmaMm) {
    using Matrix = Eigen::Matrix<double, kUnknowns, kUnknowns>;
    const auto moved = [&](Z z) {
        z[kDepth] = Prior::zOfDepth(Prior::depthOf(z[kDepth]) + depthChangeMm);
        return z;
    };
    Z mean = Z::Zero();
    for (const Particle& particle : posterior.particles) mean += particle.weight * moved(particle.z);
    Matrix spread = Matrix::Zero();
    for (const Particle& particle : posterior.particles) {
        const Z off = moved(particle.z) - mean;
        spread += particle.weight * off * off.transpose();
    }
    // The ensemble's covariance is steadied by that of the best fit, whose depth is stretched as the move asks.
    const double trust = posterior.effectiveSize / (posterior.effectiveSize + 2 * kUnknowns);
    Matrix fitted = posterior.modeCovariance;
    const double stretch = Prior::depthSlope(posterior.mode[kDepth]) / Prior::depthSlope(mean[kDepth]);
    fitted.row(kDepth) *= stretch;
    fitted.col(kDepth) *= stretch;
    const bool untouched = depthChangeMm == 0 && sigmaMm == 0;
    Matrix covariance = trust * spread + (1 - trust) * fitted;
    const double forgotten = untouched ? 0 : kForgotten;
    const double kept = std::sqrt(1 - forgotten);
    for (int i = 0; i < kUnknowns; ++i) {
        if (i == kDepth) continue;
        mean[i] *= kept;
        covariance.row(i) *= kept;
        covariance.col(i) *= kept;
        covariance(i, i) += forgotten;
    }
    const double depthZ = sigmaMm / Prior::depthSlope(mean[kDepth]);
    covariance(kDepth, kDepth) += depthZ * depthZ;
    // The backlash is set anew, and the coat of compound is another one, by the same hand.
    covariance.row(kBacklash).setZero();
    covariance.col(kBacklash).setZero();
    covariance(kBacklash, kBacklash) = 1;
    mean[kBacklash] = 0;
    mean[kFilm] *= kFilmKept;
    covariance.row(kFilm) *= kFilmKept;
    covariance.col(kFilm) *= kFilmKept;
    covariance(kFilm, kFilm) += 1 - kFilmKept * kFilmKept;
    return PriorState::normal(mean, covariance);
}

namespace {

bool showsBoth(const JobTrial& trial) { return trial.seen.drive && trial.seen.coast; }

void weighModels(JobPosterior& learned) {
    const std::vector<double>& logs = learned.logEvidence;
    learned.likeliest = static_cast<std::size_t>(std::max_element(logs.begin(), logs.end()) - logs.begin());
    learned.weights.clear();
    for (const double log : logs) learned.weights.push_back(std::exp(log - logs[learned.likeliest]));
    const double all = std::accumulate(learned.weights.begin(), learned.weights.end(), 0.0);
    for (double& weight : learned.weights) weight /= all;
}

/// How the entries of a state are taken.
struct FilterSettings {
    int samples = kSamplesForRivals;
    std::uint64_t seed = 1;
    bool trusting = false;   ///< no entry is doubted
    bool exchanged = false;  ///< drive is coast and coast is drive, in every trial
};

/// The likeliest kind of fault in the entries of a trial, where it is worth a question.
struct Weighed {
    std::optional<Hypothesis> best;
    EntryDoubt doubt;
};

/// What a look at a trial's entries says.
struct Signs {
    bool odd = false;        ///< they make the marks improbable
    bool readTwice = false;  ///< the backlash is what it was, and nothing was changed
    double strayOdds = 0;    ///< that it is wrong because a correction was to set it elsewhere
};

Weighed weighEntries(const Model& model, const JobTrial& trial, const FilterState& state, const Posterior& asLogged,
                     const Signs& signs) {
    struct Entry {
        Hypothesis hypothesis;
        double logOdds;
    };
    std::vector<Entry> entries;
    const auto weigh = [&](const Hypothesis& h) {
        const Evidence seen = evidenceOf(h.seen, *model.contact);
        const PriorState known =
            state.first ? PriorState{}
                        : knownNext(state.learned.posteriors[state.learned.likeliest], h.depthChangeMm, h.depthSigmaMm);
        BestFit fit = bestFit(*model.contact, model.prior, known, seen);
        if (fit.misfit <= chiSquareBeyond(seen.count(), kImpossibleMisfit))
            entries.push_back({h, fit.logEvidence - asLogged.logLaplace + h.logBefore});
        return fit;
    };
    for (const Hypothesis& h : hypothesesOf(trial, state.depthChangeMm, state.first)) {
        const bool misread = h.fault == EntryFault::BacklashMisread;
        if (misread ? signs.readTwice || !(signs.odd || signs.strayOdds > 0) : !signs.odd) continue;
        const BestFit fit = weigh(h);
        if (!misread) continue;
        const double wanted = model.prior.setUp(fit.z).backlashMm / model.contact->toSquareReading(trial.seen.dial);
        for (const Hypothesis& typed : typedBy(h, std::max(*trial.seen.backlashMm, 1e-3), wanted)) weigh(typed);
    }
    std::array<double, 3> odds{};
    for (const Entry& entry : entries)
        odds[static_cast<std::size_t>(groupOf(entry.hypothesis.fault))] += oddsOf(entry.logOdds);
    double& backlash = odds[static_cast<std::size_t>(Group::Backlash)];
    backlash = std::max(backlash, signs.strayOdds);
    const auto group = static_cast<Group>(std::max_element(odds.begin(), odds.end()) - odds.begin());
    const double share = odds[static_cast<std::size_t>(group)] / (1 + std::accumulate(odds.begin(), odds.end(), 0.0));
    Weighed weighed;
    if (share < (group == Group::Sides ? kWorthAskingAgain : kWorthAsking)) return weighed;
    double most = std::numeric_limits<double>::lowest();
    for (const Entry& entry : entries) {
        if (groupOf(entry.hypothesis.fault) != group || entry.logOdds <= most) continue;
        most = entry.logOdds;
        weighed.best = entry.hypothesis;
    }
    if (!weighed.best) return weighed;
    weighed.doubt.fault = weighed.best->fault;
    weighed.doubt.factor = weighed.best->factor;
    weighed.doubt.odds = oddsOfShare(share);
    weighed.doubt.taken = share > kWorthTaking;
    weighed.doubt.loggedDepthMm = state.depthChangeMm.value_or(0);
    return weighed;
}

double meanDepth(const Posterior& posterior) {
    double mean = 0;
    for (const Particle& particle : posterior.particles) mean += particle.weight * particle.setUp.error.depthMm;
    return mean;
}

/// Log evidence of a gear model that was dropped.
constexpr double kGone = -1e6;
bool isGone(const JobPosterior& learned, std::size_t model) { return learned.logEvidence[model] <= kGone; }

std::size_t likeliestOf(const std::vector<double>& logEvidence) {
    return static_cast<std::size_t>(std::max_element(logEvidence.begin(), logEvidence.end()) - logEvidence.begin());
}

/// What is known before a trial and what it shows, for each gear model.
struct Seen {
    std::vector<PriorState> known;
    std::vector<Evidence> evidence;
};

/// Works through the trials of a history one after another.
class Filter {
public:
    Filter(const std::vector<Model>& models, const FilterSettings& settings, FilterState& state)
        : models_(models), settings_(settings), state_(state), learned_(state.learned) {
        if (state.trials > 0) return;
        learned_.known.resize(models.size());
        learned_.evidence.resize(models.size());
        learned_.posteriors.resize(models.size());
        for (const Model& model : models) learned_.logEvidence.push_back(model.logPrior);
        state.random = Random(settings.seed);
    }

    /// The trial at place `t`, after the ones before it.
    void take(std::span<const JobTrial> history, std::size_t t) {
        state_.trials = t + 1;
        JobTrial trial = history[t];
        if (settings_.exchanged) std::swap(trial.seen.drive, trial.seen.coast);
        if (t > 0) addChange(loggedDepthChangeMm(history[t - 1], trial, shim()));
        if (!trial.seen.drive && !trial.seen.coast) return;

        const std::optional<double>& change = state_.depthChangeMm;
        Seen seen = see(trial.seen, change.value_or(0), sigmaOf(change));
        std::vector<Posterior> posteriors = sampleAll(seen);
        std::vector<double> logEvidence = learned_.logEvidence;
        for (std::size_t m = 0; m < models_.size(); ++m) logEvidence[m] += posteriors[m].logEvidence;
        learned_.likeliest = likeliestOf(logEvidence);
        const Signs signs = signsOf(seen.evidence[learned_.likeliest], posteriors[learned_.likeliest]);
        weighExchange(trial, posteriors[learned_.likeliest], signs);
        if (!settings_.trusting && (signs.odd || signs.strayOdds > 0))
            doubtEntries({trial, t, signs}, seen, posteriors, logEvidence);
        learned_.logEvidence = std::move(logEvidence);
        learned_.known = std::move(seen.known);
        learned_.evidence = std::move(seen.evidence);
        learned_.posteriors = std::move(posteriors);
        state_.first = false;
        state_.depthChangeMm = 0.0;
    }

private:
    struct Doubtful {
        const JobTrial& trial;
        std::size_t place = 0;
        Signs signs;
    };

    PinionShim shim() const { return models_.front().contact->gearSet().build.pinionShim; }

    void addChange(std::optional<double> step) {
        std::optional<double>& change = state_.depthChangeMm;
        change = change && step ? std::optional(*change + *step) : std::nullopt;
    }

    Seen see(const TrialObservation& trial, double depthChangeMm, double sigmaMm) const {
        Seen seen;
        seen.known.resize(models_.size());
        for (std::size_t m = 0; m < models_.size(); ++m) {
            if (!isGone(learned_, m) && !state_.first)
                seen.known[m] = knownNext(learned_.posteriors[m], depthChangeMm, sigmaMm);
            seen.evidence.push_back(evidenceOf(trial, *models_[m].contact));
        }
        return seen;
    }

    /// The samples are shared out among the gear models by what each explains; hopeless ones are dropped.
    std::vector<Posterior> sampleAll(const Seen& seen) {
        const std::size_t count = models_.size();
        const int starts = count > 2 ? kStartsOfMany : kStarts;
        std::vector<std::vector<Mode>> modes(count);
        std::vector<double> logs(count, kGone);
        for (std::size_t m = 0; m < count; ++m) {
            if (isGone(learned_, m)) continue;
            modes[m] = findModes(*models_[m].contact, models_[m].prior, seen.known[m], seen.evidence[m], starts);
            logs[m] = learned_.logEvidence[m] + modes[m].front().logLaplace;
        }
        const double most = *std::max_element(logs.begin(), logs.end());
        double sum = 0;
        for (const double log : logs) sum += std::exp(log - most);
        std::vector<Posterior> posteriors(count);
        for (std::size_t m = 0; m < count; ++m) {
            const double share = std::exp(logs[m] - most) / sum;
            if (logs[m] == kGone || share < std::exp(kDropped)) {
                posteriors[m].logEvidence = kGone;
                continue;
            }
            const int size = std::clamp(static_cast<int>(std::lround(settings_.samples * share)),
                                        std::min(kMinSamples, settings_.samples), settings_.samples);
            posteriors[m] = samplePosterior({*models_[m].contact, models_[m].prior, seen.known[m], seen.evidence[m]},
                                            modes[m], size, state_.random.bits());
        }
        return posteriors;
    }

    /// What a look at the entries says; the backlash is remembered for the next trial.
    Signs signsOf(const Evidence& seen, const Posterior& posterior) {
        Signs signs;
        signs.odd = posterior.misfit > chiSquareBeyond(seen.count(), kOddMisfit);
        if (!state_.first && seen.backlashMm && state_.lastBacklashMm) {
            const Model& model = models_[learned_.likeliest];
            const std::optional<double>& change = state_.depthChangeMm;
            const bool left =
                isUnchanged(model, *seen.backlashMm, *state_.lastBacklashMm, change.value_or(0), seen.backlashSigmaMm);
            signs.readTwice = left && change == 0.0;
            if (signs.readTwice && !learned_.doubts.empty() &&
                learned_.doubts.back().fault == EntryFault::BacklashMisread)
                learned_.doubts.back().refuted = true;
            if (!signs.readTwice && isFarOutside(backlashLimitsOf(model.contact->gearSet()), *seen.backlashMm))
                signs.strayOdds = left ? kLeftOdds : kStrayOdds;
        }
        if (seen.backlashMm) state_.lastBacklashMm = seen.backlashMm;
        return signs;
    }

    /// Exchanged sides are weighed over all trials, see learn(); the first tells whether that is worth the work.
    void weighExchange(const JobTrial& trial, const Posterior& posterior, const Signs& signs) {
        if (!state_.first || !signs.odd || settings_.exchanged || !showsBoth(trial)) return;
        const Model& model = models_[learned_.likeliest];
        TrialObservation other = trial.seen;
        std::swap(other.drive, other.coast);
        learned_.exchangedGain =
            bestFit(*model.contact, model.prior, PriorState{}, evidenceOf(other, *model.contact)).logEvidence -
            posterior.logLaplace;
    }

    /// Entries that make the marks improbable are weighed against what may have been meant; where that is taken for the
    /// truth, it takes the place of what was entered.
    void doubtEntries(const Doubtful& doubtful, Seen& seen, std::vector<Posterior>& posteriors,
                      std::vector<double>& logEvidence) {
        const std::size_t likeliest = learned_.likeliest;
        Weighed weighed =
            weighEntries(models_[likeliest], doubtful.trial, state_, posteriors[likeliest], doubtful.signs);
        if (!weighed.best) return;
        const Hypothesis& best = *weighed.best;
        weighed.doubt.trial = doubtful.place;
        Seen seenThen = see(best.seen, best.depthChangeMm, best.depthSigmaMm);
        std::vector<Posterior> meant = sampleAll(seenThen);
        // Where the entries as meant leave nothing of the likeliest model, there is no telling what was meant.
        if (meant[likeliest].particles.empty()) return;
        weighed.doubt.foundDepthMm =
            meanDepth(meant[likeliest]) - (state_.first ? 0 : meanDepth(learned_.posteriors[likeliest]));
        learned_.doubts.push_back(weighed.doubt);
        if (!weighed.doubt.taken) return;
        for (std::size_t m = 0; m < models_.size(); ++m)
            logEvidence[m] = learned_.logEvidence[m] + meant[m].logEvidence + best.logBefore;
        seen = std::move(seenThen);
        posteriors = std::move(meant);
    }

    const std::vector<Model>& models_;
    const FilterSettings& settings_;
    FilterState& state_;
    JobPosterior& learned_;
};

/// Works through the trials that `state` has not seen.
void goOn(const std::vector<Model>& models, std::span<const JobTrial> history, const FilterSettings& settings,
          FilterState& state) {
    Filter filter(models, settings, state);
    for (std::size_t t = state.trials; t < history.size(); ++t) filter.take(history, t);
    weighModels(state.learned);
}

/// The state gone on with to the end of the history.
const JobPosterior& worked(const std::vector<Model>& models, std::span<const JobTrial> history,
                           const FilterSettings& settings, std::optional<FilterState>& state) {
    if (!state || state->trials > history.size()) state.emplace();
    goOn(models, history, settings, *state);
    return state->learned;
}

double logOddsOf(double chance) { return std::log(chance) - std::log1p(-chance); }

/// Log odds of milled teeth by their outlines on the photos.
double outlineLogOdds(std::span<const JobTrial> history) {
    std::vector<double> chances;
    for (const JobTrial& trial : history)
        if (trial.seen.chanceFaceMilled) chances.push_back(*trial.seen.chanceFaceMilled);
    const auto together = chanceFaceMilledTogether(chances);
    return together ? logOddsOf(*together) : 0;
}

double logOf(const JobPosterior& learned) { return learned.logEvidence[learned.likeliest]; }

}  // namespace

bool isChecked(const AdviceOptions& options, DiagnosisKind kind) {
    return std::find(options.checked.begin(), options.checked.end(), kind) != options.checked.end();
}

namespace {

bool isMilled(const Model& model) { return model.contact->gearSet().cut == Cut::FaceMilled; }

bool isTakenSwap(const EntryDoubt& doubt) { return doubt.fault == EntryFault::SidesSwapped && doubt.taken; }

/// What else may explain all trials, against the entries as they are: log odds.
struct RivalOdds {
    double exchanged = kNoOdds, otherCut = kNoOdds, worn = kNoOdds, bent = kNoOdds;
    double all() const {
        double sum = 1;
        for (const double log : {exchanged, otherCut, worn, bent}) sum += oddsOf(log);
        return sum;
    }
    double share(double log) const { return oddsOf(log) / all(); }
};

/// Works through a history, and weighs what else may explain it.
class Learning {
public:
    Learning(const std::vector<Model>& models, std::span<const JobTrial> history, int samples,
             const AdviceOptions& options, FilterMemo& notes)
        : models_(models),
          history_(history),
          options_(options),
          notes_(notes),
          random_(options.seed),
          named_(settingsOf(1, samples)),
          trusting_(settingsOf(2, samples)),
          swapped_(settingsOf(3, samples)),
          learned_(worked(models, history, named_, notes.named)) {
        trusting_.trusting = true;
        swapped_.exchanged = true;
    }

    JobPosterior result() {
        addOutlines();
        settleOlderDoubts();
        RivalOdds odds;
        odds.exchanged = exchangedOdds();
        odds.otherCut = otherCutOdds();
        const Model model = models_[learned_.likeliest];
        const Z mean = meanOfLikeliest();
        const Side load = model.contact->gearSet().forwardLoadSide;
        const std::vector<Model> wornModel{{model.contact, Prior(*model.contact, {.worn = load})}};
        const std::vector<Model> bentModel{{model.contact, Prior(*model.contact, {.worn = {}, .bentHousing = true})}};
        const FilterSettings asWorn = settingsOf(5, kSamplesForRivals), asBent = settingsOf(6, kSamplesForRivals);
        if ((mean[firstOf(load)] + mean[firstOf(load) + 1]) / std::sqrt(2.0) < kPerhapsWorn)
            odds.worn = gainOf(wornModel, asWorn, notes_.worn) + kWornBefore;
        if (mayBeBent(mean)) odds.bent = gainOf(bentModel, asBent, notes_.bent) + kBentBefore;

        shareDoubts(odds);
        fillChances(odds);
        if (learned_.chanceWorn > kWorthAsking)
            learned_.worn = worked(wornModel, history_, asWorn, notes_.worn).posteriors.front();
        if (odds.bent > 0 || learned_.chanceBent > kWorthAsking * (learned_.chanceNone + learned_.chanceBent))
            learned_.bent = worked(bentModel, history_, asBent, notes_.bent).posteriors.front();
        askForSidesAndCut(odds);
        return std::move(learned_);
    }

private:
    FilterSettings settingsOf(std::uint64_t stream, int samples) const {
        FilterSettings settings;
        settings.samples = samples;
        settings.seed = random_.fork(stream).bits();
        return settings;
    }

    bool isOlder(const EntryDoubt& doubt) const { return doubt.trial + 1 < history_.size(); }
    bool isOneTrial() const { return history_.size() == 1; }
    bool isOneCut() const {
        return std::all_of(models_.begin(), models_.end(),
                           [&](const Model& model) { return isMilled(model) == isMilled(models_.front()); });
    }
    /// One trial without a doubt is weighed by its best fit alone.
    bool isPlain() const { return isOneTrial() && learned_.doubts.empty(); }
    double namedEvidence() const {
        return isPlain() ? learned_.posteriors[learned_.likeliest].logLaplace : logOf(learned_);
    }

    /// Where both cuts are weighed, what the photos' outlines say of them counts.
    void addOutlines() {
        if (isOneCut()) return;
        for (std::size_t m = 0; m < models_.size(); ++m)
            if (isMilled(models_[m])) learned_.logEvidence[m] += outlineLogOdds(history_);
        weighModels(learned_);
    }

    /// An entry doubted earlier stays doubted only while all trials together speak for that.
    void settleOlderDoubts() {
        if (std::any_of(learned_.doubts.begin(), learned_.doubts.end(),
                        [&](const EntryDoubt& doubt) { return isOlder(doubt) && doubt.taken; })) {
            const JobPosterior& trusted = worked(models_, history_, trusting_, notes_.trusting);
            const double logOdds = logOf(learned_) - logOf(trusted);
            const bool refuted = std::any_of(learned_.doubts.begin(), learned_.doubts.end(),
                                             [](const EntryDoubt& doubt) { return doubt.refuted && doubt.taken; });
            if (logOdds < 0 || refuted) {
                learned_ = trusted;
            } else {
                for (EntryDoubt& doubt : learned_.doubts)
                    if (isOlder(doubt)) doubt.odds = oddsOf(logOdds);
            }
        }
        std::erase_if(learned_.doubts, [&](const EntryDoubt& doubt) {
            return isOlder(doubt) && (!doubt.taken || doubt.odds < kWorthTaking / (1 - kWorthTaking));
        });
    }

    /// Log evidence gained by another gear model.
    double gainOf(const std::vector<Model>& rival, const FilterSettings& settings,
                  std::optional<FilterState>& state) const {
        if (isPlain()) {
            const Model& of = rival.front();
            return bestFit(*of.contact, of.prior, PriorState{}, evidenceOf(history_.front().seen, *of.contact))
                       .logEvidence -
                   namedEvidence();
        }
        return logOf(worked(rival, history_, settings, state)) - namedEvidence();
    }

    double exchangedOdds() const {
        if (isChecked(options_, DiagnosisKind::SidesSwapped) || learned_.exchangedGain <= kWorthWorking ||
            !std::all_of(history_.begin(), history_.end(), showsBoth))
            return kNoOdds;
        const bool asked = std::any_of(learned_.doubts.begin(), learned_.doubts.end(), isTakenSwap);
        const double gain = isPlain() ? learned_.exchangedGain
                                      : logOf(worked(models_, history_, swapped_, notes_.exchanged)) - namedEvidence();
        return gain + (asked ? 0 : kSwappedBefore);
    }

    /// The other cut, where marks or photos speak against the one of the file: reason enough to weigh it.
    double otherCutOdds() {
        const Model& model = models_[learned_.likeliest];
        const double outline = outlineLogOdds(history_);
        const bool odd = learned_.posteriors[learned_.likeliest].misfit >
                         chiSquareBeyond(learned_.evidence[learned_.likeliest].count(), kOddMisfit);
        const bool doubted = odd || !isOneTrial() || (isMilled(model) ? -outline : outline) > kPhotosDoubt;
        if (!options_.otherCut || !isOneCut() || isChecked(options_, DiagnosisKind::WrongGearData) || !doubted)
            return kNoOdds;
        otherContact_ = options_.otherCut();
        if (otherContact_ == nullptr) return kNoOdds;
        const std::vector<Model> other{{otherContact_, Prior(*otherContact_)}};
        return gainOf(other, settingsOf(4, kSamplesForRivals), notes_.otherCut) + kWrongCutBefore +
               (isMilled(other.front()) ? outline : -outline);
    }

    Z meanOfLikeliest() const {
        Z mean = Z::Zero();
        for (const Particle& particle : learned_.posteriors[learned_.likeliest].particles)
            mean += particle.weight * particle.z;
        return mean;
    }

    bool mayBeBent(const Z& mean) const {
        if (isChecked(options_, DiagnosisKind::HousingOffset) || isChecked(options_, DiagnosisKind::ShaftAngle))
            return false;
        return std::hypot(mean[kOffset], mean[kShaftAngle]) > kPerhapsBent || !learned_.doubts.empty();
    }

    /// Entries doubted in the last trial share with the other explanations; then sides or entries are taken as they
    /// were meant.
    void shareDoubts(const RivalOdds& odds) {
        bool retracted = false;
        for (EntryDoubt& doubt : learned_.doubts) {
            if (isOlder(doubt)) continue;
            const double share = doubt.odds / (1 + doubt.odds) / odds.all();
            doubt.odds = oddsOfShare(share);
            retracted = retracted || (doubt.taken && share < kWorthTaking);
            doubt.taken = doubt.taken && share >= kWorthTaking;
        }
        std::erase_if(learned_.doubts, [&](const EntryDoubt& doubt) {
            return !isOlder(doubt) && doubt.odds < kWorthAsking / (1 - kWorthAsking);
        });
        if (odds.share(odds.exchanged) > kWorthTaking) {
            Posterior asNamed = std::move(learned_.posteriors[learned_.likeliest]);
            learned_ = worked(models_, history_, swapped_, notes_.exchanged);
            learned_.asNamed = std::move(asNamed);
        } else if (retracted) {
            std::vector<EntryDoubt> doubts = std::move(learned_.doubts);
            learned_ = worked(models_, history_, trusting_, notes_.trusting);
            learned_.doubts = std::move(doubts);
        }
    }

    void fillChances(const RivalOdds& odds) {
        learned_.chanceOtherCut = odds.share(odds.otherCut);
        learned_.otherCut = otherContact_;
        learned_.chanceWorn = odds.share(odds.worn);
        learned_.chanceBent = odds.share(odds.bent);
        learned_.chanceNone = 1 / odds.all();
    }

    /// Sides and cut are told apart by a look, and may look alike on the marks: asked about together.
    void askForSidesAndCut(const RivalOdds& odds) {
        const double sides = odds.share(odds.exchanged), cut = odds.share(odds.otherCut);
        const bool asked = sides + cut >= (isOneTrial() ? kWorthAsking : kWorthAskingAgain);
        learned_.asksCut = asked && cut >= kMinMention;
        if (!asked || sides < kMinMention) return;
        EntryDoubt doubt;
        doubt.trial = history_.size() - 1;
        doubt.fault = EntryFault::SidesSwapped;
        doubt.odds = oddsOfShare(sides);
        doubt.taken = sides > kWorthTaking;
        std::erase_if(learned_.doubts, [](const EntryDoubt& d) { return d.fault == EntryFault::SidesSwapped; });
        learned_.doubts.push_back(doubt);
    }

    const std::vector<Model>& models_;
    std::span<const JobTrial> history_;
    const AdviceOptions& options_;
    FilterMemo& notes_;
    Random random_;
    FilterSettings named_, trusting_, swapped_;
    JobPosterior learned_;
    const ToothContact* otherContact_ = nullptr;  ///< where it is weighed
};

}  // namespace

JobPosterior learn(const std::vector<Model>& models, std::span<const JobTrial> history, int samples,
                   const AdviceOptions& options, FilterMemo* memo) {
    FilterMemo own;
    return Learning(models, history, samples, options, memo != nullptr ? *memo : own).result();
}

}  // namespace shimsight::advice

namespace shimsight {

std::optional<double> chanceFaceMilledTogether(std::span<const double> chances) {
    using namespace advice;
    if (chances.empty()) return std::nullopt;
    double log = 0;
    for (const double chance : chances) log += std::clamp(logOddsOf(chance), -kMaxOutlineLogOdds, kMaxOutlineLogOdds);
    return 1 / (1 + std::exp(-std::clamp(log, -kMaxOutlineLogOdds, kMaxOutlineLogOdds)));
}

TrialObservation photographed(std::optional<Pattern> drive, std::optional<Pattern> coast,
                              std::span<const double> chancesFaceMilled) {
    TrialObservation seen;
    seen.drive = drive;
    seen.coast = coast;
    seen.fromPhotos = true;
    seen.extentNoise = kPhotoExtentNoise;
    seen.patternNoise = kPhotoPatternNoise;
    seen.chanceFaceMilled = chanceFaceMilledTogether(chancesFaceMilled);
    return seen;
}

}  // namespace shimsight
