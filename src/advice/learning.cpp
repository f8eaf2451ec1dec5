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
/// costs readings and needless corrections (tests/accuracy/closed-loop).
constexpr double kForgotten = 0.02;

/// A changed depth under this says nothing on whether the change was entered right: half a thousandth of an inch.
constexpr double kLeastChangeMm = 0.0127;

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
constexpr double kLeastMention = 0.05;

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
constexpr int kLeastSamples = 120;
/// Size of the ensembles of other explanations.
constexpr int kSamplesForRivals = 300;
/// Photos see the cut of the teeth right in 96 of 100 cases where they are sure (tests/accuracy/teeth).
constexpr double kMostOutlineLogOdds = 3.2;

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
    if (!first && change && std::abs(*change) > kLeastChangeMm) {
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

Known knownNext(const Posterior& posterior, double depthChangeMm, double sigmaMm) {
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
    return Known::normal(mean, covariance);
}

namespace {

bool showsBoth(const JobTrial& trial) { return trial.seen.drive && trial.seen.coast; }

void weighModels(Learned& learned) {
    const std::vector<double>& logs = learned.logEvidence;
    learned.likeliest = static_cast<std::size_t>(std::max_element(logs.begin(), logs.end()) - logs.begin());
    learned.weights.clear();
    for (const double log : logs) learned.weights.push_back(std::exp(log - logs[learned.likeliest]));
    const double all = std::accumulate(learned.weights.begin(), learned.weights.end(), 0.0);
    for (double& weight : learned.weights) weight /= all;
}

/// How the entries of a course are taken.
struct Manner {
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

Weighed weighEntries(const Model& model, const JobTrial& trial, const Course& course, const Posterior& asLogged,
                     const Signs& signs) {
    struct Entry {
        Hypothesis hypothesis;
        double logOdds;
    };
    std::vector<Entry> entries;
    const auto weigh = [&](const Hypothesis& h) {
        const Evidence seen = evidenceOf(h.seen, *model.contact);
        const Known known = course.first ? Known{}
                                         : knownNext(course.learned.posteriors[course.learned.likeliest],
                                                     h.depthChangeMm, h.depthSigmaMm);
        BestFit fit = bestFit(*model.contact, model.prior, known, seen);
        if (fit.misfit <= chiSquareBeyond(seen.count(), kImpossibleMisfit))
            entries.push_back({h, fit.logEvidence - asLogged.logLaplace + h.logBefore});
        return fit;
    };
    for (const Hypothesis& h : hypothesesOf(trial, course.depthChangeMm, course.first)) {
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
    weighed.doubt.loggedDepthMm = course.depthChangeMm.value_or(0);
    return weighed;
}

double meanDepth(const Posterior& posterior) {
    double mean = 0;
    for (const Particle& particle : posterior.particles) mean += particle.weight * particle.setUp.error.depthMm;
    return mean;
}

/// Log evidence of a gear model that was dropped.
constexpr double kGone = -1e6;
bool isGone(const Learned& learned, std::size_t model) { return learned.logEvidence[model] <= kGone; }

/// Works through the trials that `course` has not seen.
void goOn(const std::vector<Model>& models, std::span<const JobTrial> history, const Manner& manner, Course& course) {
    const std::size_t count = models.size();
    Learned& learned = course.learned;
    if (course.trials == 0) {
        learned.known.resize(count);
        learned.evidence.resize(count);
        learned.posteriors.resize(count);
        for (const Model& model : models) learned.logEvidence.push_back(model.logPrior);
        course.random = Random(manner.seed);
    }
    const PinionShim shim = models.front().contact->gearSet().build.pinionShim;
    std::optional<double>& change = course.depthChangeMm;
    for (std::size_t t = course.trials; t < history.size(); ++t) {
        course.trials = t + 1;
        JobTrial trial = history[t];
        if (manner.exchanged) std::swap(trial.seen.drive, trial.seen.coast);
        if (t > 0) {
            const std::optional<double> step = loggedDepthChangeMm(history[t - 1], trial, shim);
            change = change && step ? std::optional(*change + *step) : std::nullopt;
        }
        if (!trial.seen.drive && !trial.seen.coast) continue;

        const auto knownBy = [&](std::size_t m, double depthChangeMm, double sigmaMm) {
            return course.first ? Known{} : knownNext(learned.posteriors[m], depthChangeMm, sigmaMm);
        };
        // The samples are shared out among the gear models by what each explains; hopeless ones are dropped.
        const auto sampleAll = [&](const std::vector<Known>& known, const std::vector<Evidence>& evidence) {
            const int starts = count > 2 ? kStartsOfMany : kStarts;
            std::vector<std::vector<Mode>> modes(count);
            std::vector<double> logs(count, kGone);
            for (std::size_t m = 0; m < count; ++m) {
                if (isGone(learned, m)) continue;
                modes[m] = findModes(*models[m].contact, models[m].prior, known[m], evidence[m], starts);
                logs[m] = learned.logEvidence[m] + modes[m].front().logLaplace;
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
                const int size = std::clamp(static_cast<int>(std::lround(manner.samples * share)),
                                            std::min(kLeastSamples, manner.samples), manner.samples);
                posteriors[m] = samplePosterior(*models[m].contact, models[m].prior, known[m], evidence[m], modes[m],
                                                size, course.random.bits());
            }
            return posteriors;
        };
        std::vector<Known> known(count);
        std::vector<Evidence> evidence;
        std::vector<double> logEvidence = learned.logEvidence;
        for (std::size_t m = 0; m < count; ++m) {
            if (!isGone(learned, m)) known[m] = knownBy(m, change.value_or(0), sigmaOf(change));
            evidence.push_back(evidenceOf(trial.seen, *models[m].contact));
        }
        std::vector<Posterior> posteriors = sampleAll(known, evidence);
        for (std::size_t m = 0; m < count; ++m) logEvidence[m] += posteriors[m].logEvidence;
        const auto likeliest =
            static_cast<std::size_t>(std::max_element(logEvidence.begin(), logEvidence.end()) - logEvidence.begin());
        learned.likeliest = likeliest;
        const Model& model = models[likeliest];
        const Evidence& seen = evidence[likeliest];
        Signs signs;
        signs.odd = posteriors[likeliest].misfit > chiSquareBeyond(seen.count(), kOddMisfit);
        if (!course.first && seen.backlashMm && course.lastBacklashMm) {
            const bool left =
                isUnchanged(model, *seen.backlashMm, *course.lastBacklashMm, change.value_or(0), seen.backlashSigmaMm);
            signs.readTwice = left && change == 0.0;
            if (signs.readTwice && !learned.doubts.empty() &&
                learned.doubts.back().fault == EntryFault::BacklashMisread)
                learned.doubts.back().refuted = true;
            if (!signs.readTwice && isFarOutside(backlashLimitsOf(model.contact->gearSet()), *seen.backlashMm))
                signs.strayOdds = left ? kLeftOdds : kStrayOdds;
        }
        if (seen.backlashMm) course.lastBacklashMm = seen.backlashMm;

        // Exchanged sides are weighed over all trials, see learn(); the first tells whether that is worth the work.
        if (course.first && signs.odd && !manner.exchanged && showsBoth(trial)) {
            TrialObservation other = trial.seen;
            std::swap(other.drive, other.coast);
            learned.exchangedGain =
                bestFit(*model.contact, model.prior, Known{}, evidenceOf(other, *model.contact)).logEvidence -
                posteriors[likeliest].logLaplace;
        }

        // Entries that make the marks improbable are weighed against what may have been meant.
        if (!manner.trusting && (signs.odd || signs.strayOdds > 0)) {
            Weighed weighed = weighEntries(model, trial, course, posteriors[likeliest], signs);
            if (weighed.best) {
                const Hypothesis& best = *weighed.best;
                weighed.doubt.trial = t;
                std::vector<Known> knownThen(count);
                std::vector<Evidence> evidenceThen;
                for (std::size_t m = 0; m < count; ++m) {
                    if (!isGone(learned, m)) knownThen[m] = knownBy(m, best.depthChangeMm, best.depthSigmaMm);
                    evidenceThen.push_back(evidenceOf(best.seen, *models[m].contact));
                }
                std::vector<Posterior> meant = sampleAll(knownThen, evidenceThen);
                // Where the entries as meant leave nothing of the likeliest model, there is no telling what was meant.
                if (!meant[likeliest].particles.empty()) {
                    weighed.doubt.foundDepthMm =
                        meanDepth(meant[likeliest]) - (course.first ? 0 : meanDepth(learned.posteriors[likeliest]));
                    learned.doubts.push_back(weighed.doubt);
                    if (weighed.doubt.taken) {
                        for (std::size_t m = 0; m < count; ++m)
                            logEvidence[m] = learned.logEvidence[m] + meant[m].logEvidence + best.logBefore;
                        known = std::move(knownThen);
                        evidence = std::move(evidenceThen);
                        posteriors = std::move(meant);
                    }
                }
            }
        }
        learned.logEvidence = std::move(logEvidence);
        learned.known = std::move(known);
        learned.evidence = std::move(evidence);
        learned.posteriors = std::move(posteriors);
        course.first = false;
        change = 0.0;
    }
    weighModels(learned);
}

/// The course gone on with to the end of the history.
const Learned& worked(const std::vector<Model>& models, std::span<const JobTrial> history, const Manner& manner,
                      std::optional<Course>& course) {
    if (!course || course->trials > history.size()) course.emplace();
    goOn(models, history, manner, *course);
    return course->learned;
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

double logOf(const Learned& learned) { return learned.logEvidence[learned.likeliest]; }

}  // namespace

bool isChecked(const AdviceOptions& options, DiagnosisKind kind) {
    return std::find(options.checked.begin(), options.checked.end(), kind) != options.checked.end();
}

Learned learn(const std::vector<Model>& models, std::span<const JobTrial> history, int samples,
              const AdviceOptions& options, Notebook* notebook) {
    Notebook own;
    Notebook& notes = notebook != nullptr ? *notebook : own;
    const Random random(options.seed);
    const auto manner = [&](std::uint64_t stream, int size) {
        Manner result;
        result.samples = size;
        result.seed = random.fork(stream).bits();
        return result;
    };
    Learned learned = worked(models, history, manner(1, samples), notes.named);
    const auto milled = [](const Model& model) { return model.contact->gearSet().cut == Cut::FaceMilled; };
    const bool oneCut = std::all_of(models.begin(), models.end(),
                                    [&](const Model& model) { return milled(model) == milled(models.front()); });
    if (!oneCut) {
        for (std::size_t m = 0; m < models.size(); ++m)
            if (milled(models[m])) learned.logEvidence[m] += outlineLogOdds(history);
        weighModels(learned);
    }

    Manner trusting = manner(2, samples);
    trusting.trusting = true;

    // An entry doubted earlier stays doubted only while all trials together speak for that.
    const auto older = [&](const EntryDoubt& doubt) { return doubt.trial + 1 < history.size(); };
    if (std::any_of(learned.doubts.begin(), learned.doubts.end(),
                    [&](const EntryDoubt& doubt) { return older(doubt) && doubt.taken; })) {
        const Learned& trusted = worked(models, history, trusting, notes.trusting);
        const double logOdds = logOf(learned) - logOf(trusted);
        const bool refuted = std::any_of(learned.doubts.begin(), learned.doubts.end(),
                                         [](const EntryDoubt& doubt) { return doubt.refuted && doubt.taken; });
        if (logOdds < 0 || refuted) {
            learned = trusted;
        } else {
            for (EntryDoubt& doubt : learned.doubts)
                if (older(doubt)) doubt.odds = oddsOf(logOdds);
        }
    }
    std::erase_if(learned.doubts, [&](const EntryDoubt& doubt) {
        return older(doubt) && (!doubt.taken || doubt.odds < kWorthTaking / (1 - kWorthTaking));
    });

    // What else may explain all trials, against the entries as they are.
    const bool one = history.size() == 1;
    const Model& model = models[learned.likeliest];
    const Posterior& posterior = learned.posteriors[learned.likeliest];
    const double named = one && learned.doubts.empty() ? posterior.logLaplace : logOf(learned);
    const bool odd = posterior.misfit > chiSquareBeyond(learned.evidence[learned.likeliest].count(), kOddMisfit);
    const auto gainOf = [&](const std::vector<Model>& rival, const Manner& how, std::optional<Course>& course) {
        if (one && learned.doubts.empty()) {
            const Model& of = rival.front();
            return bestFit(*of.contact, of.prior, Known{}, evidenceOf(history.front().seen, *of.contact)).logEvidence -
                   named;
        }
        return logOf(worked(rival, history, how, course)) - named;
    };
    Manner swapped = manner(3, samples);
    swapped.exchanged = true;
    double exchanged = kNoOdds, otherCut = kNoOdds, worn = kNoOdds, bent = kNoOdds;
    if (!isChecked(options, DiagnosisKind::SidesSwapped) && learned.exchangedGain > kWorthWorking &&
        std::all_of(history.begin(), history.end(), showsBoth)) {
        const bool asked = std::any_of(learned.doubts.begin(), learned.doubts.end(), [](const EntryDoubt& doubt) {
            return doubt.fault == EntryFault::SidesSwapped && doubt.taken;
        });
        exchanged = (one && learned.doubts.empty() ? learned.exchangedGain
                                                   : logOf(worked(models, history, swapped, notes.exchanged)) - named) +
                    (asked ? 0 : kSwappedBefore);
    }
    // Photos that see another cut than the file has are reason enough to weigh it.
    const double outlineAgainst = milled(model) ? -outlineLogOdds(history) : outlineLogOdds(history);
    const ToothContact* otherContact = options.otherCut && oneCut &&
                                               !isChecked(options, DiagnosisKind::WrongGearData) &&
                                               (odd || !one || outlineAgainst > kPhotosDoubt)
                                           ? options.otherCut()
                                           : nullptr;
    if (otherContact != nullptr) {
        const std::vector<Model> other{{otherContact, Prior(*otherContact)}};
        const double outline = outlineLogOdds(history);
        otherCut = gainOf(other, manner(4, kSamplesForRivals), notes.otherCut) + kWrongCutBefore +
                   (otherContact->gearSet().cut == Cut::FaceMilled ? outline : -outline);
    }
    const Side load = model.contact->gearSet().forwardLoadSide;
    Z mean = Z::Zero();
    for (const Particle& particle : posterior.particles) mean += particle.weight * particle.z;
    Suspicion ofWear, ofHousing;
    ofWear.worn = load;
    ofHousing.bentHousing = true;
    const std::vector<Model> wornModel{{model.contact, Prior(*model.contact, ofWear)}};
    const std::vector<Model> bentModel{{model.contact, Prior(*model.contact, ofHousing)}};
    const Manner asWorn = manner(5, kSamplesForRivals), asBent = manner(6, kSamplesForRivals);
    if ((mean[firstOf(load)] + mean[firstOf(load) + 1]) / std::sqrt(2.0) < kPerhapsWorn)
        worn = gainOf(wornModel, asWorn, notes.worn) + kWornBefore;
    const bool housingChecked =
        isChecked(options, DiagnosisKind::HousingOffset) || isChecked(options, DiagnosisKind::ShaftAngle);
    if (!housingChecked && (std::hypot(mean[kOffset], mean[kShaftAngle]) > kPerhapsBent || !learned.doubts.empty()))
        bent = gainOf(bentModel, asBent, notes.bent) + kBentBefore;

    double all = 1;
    for (const double log : {exchanged, otherCut, worn, bent}) all += oddsOf(log);
    const auto shareOf = [&](double log) { return oddsOf(log) / all; };
    const double cutShare = shareOf(otherCut), sidesShare = shareOf(exchanged);
    // Entries doubted in the last trial share with these.
    bool retracted = false;
    for (EntryDoubt& doubt : learned.doubts) {
        if (older(doubt)) continue;
        const double share = doubt.odds / (1 + doubt.odds) / all;
        doubt.odds = oddsOfShare(share);
        retracted = retracted || (doubt.taken && share < kWorthTaking);
        doubt.taken = doubt.taken && share >= kWorthTaking;
    }
    std::erase_if(learned.doubts, [&](const EntryDoubt& doubt) {
        return !older(doubt) && doubt.odds < kWorthAsking / (1 - kWorthAsking);
    });
    if (sidesShare > kWorthTaking) {
        Posterior asNamed = std::move(learned.posteriors[learned.likeliest]);
        learned = worked(models, history, swapped, notes.exchanged);
        learned.asNamed = std::move(asNamed);
    } else if (retracted) {
        std::vector<EntryDoubt> doubts = std::move(learned.doubts);
        learned = worked(models, history, trusting, notes.trusting);
        learned.doubts = std::move(doubts);
    }
    learned.chanceOtherCut = cutShare;
    learned.otherCut = otherContact;
    learned.chanceWorn = shareOf(worn);
    learned.chanceBent = shareOf(bent);
    learned.chanceNone = 1 / all;
    if (learned.chanceWorn > kWorthAsking)
        learned.worn = worked(wornModel, history, asWorn, notes.worn).posteriors.front();
    if (bent > 0 || learned.chanceBent > kWorthAsking * (learned.chanceNone + learned.chanceBent))
        learned.bent = worked(bentModel, history, asBent, notes.bent).posteriors.front();
    // Sides and cut are told apart by a look, and may look alike on the marks: asked about together.
    const bool asked = sidesShare + cutShare >= (one ? kWorthAsking : kWorthAskingAgain);
    learned.asksCut = asked && cutShare >= kLeastMention;
    if (asked && sidesShare >= kLeastMention) {
        EntryDoubt doubt;
        doubt.trial = history.size() - 1;
        doubt.fault = EntryFault::SidesSwapped;
        doubt.odds = oddsOfShare(sidesShare);
        doubt.taken = sidesShare > kWorthTaking;
        std::erase_if(learned.doubts, [](const EntryDoubt& d) { return d.fault == EntryFault::SidesSwapped; });
        learned.doubts.push_back(doubt);
    }
    return learned;
}

}  // namespace shimsight::advice

namespace shimsight {

std::optional<double> chanceFaceMilledTogether(std::span<const double> chances) {
    using namespace advice;
    if (chances.empty()) return std::nullopt;
    double log = 0;
    for (const double chance : chances) log += std::clamp(logOddsOf(chance), -kMostOutlineLogOdds, kMostOutlineLogOdds);
    return 1 / (1 + std::exp(-std::clamp(log, -kMostOutlineLogOdds, kMostOutlineLogOdds)));
}

TrialObservation photographed(std::optional<Pattern> drive, std::optional<Pattern> coast,
                              std::span<const double> chancesFaceMilled) {
    TrialObservation seen;
    seen.drive = drive;
    seen.coast = coast;
    seen.fromPhotos = true;
    seen.extentNoise = kPhotoExtentNoise;
    seen.readingNoise = kPhotoReadingNoise;
    seen.chanceFaceMilled = chanceFaceMilledTogether(chancesFaceMilled);
    return seen;
}

}  // namespace shimsight
