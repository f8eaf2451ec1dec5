#include "advice/learning.h"

#include <algorithm>
#include <cmath>
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

/// Log odds of each fault before the marks are seen: about two entries in a hundred (common practice, no source).
constexpr double kReversedBefore = -4.0, kNotMadeBefore = -4.6, kOtherBefore = -4.6, kSwappedBefore = -4.0;
/// A reading that is not the backlash may be anything from 0.01 to 2 mm: its density is 1 / (ln 200 x reading).
constexpr double kMisreadBefore = -4.0, kMisreadLogRange = 5.3;
/// Log odds at the first trial from which on all trials are weighed with their sides exchanged.
constexpr double kWorthSwapping = -4.0;
/// A backlash beyond its limits by this factor, which the change does not explain either, is asked about at odds of
/// kStrayOdds whatever the marks say: it was to be set inside them.
constexpr double kStrayBacklash = 1.25, kStrayOdds = 2;
/// Readings of one backlash agree within this many dial errors.
constexpr double kSameReading = 2.5;
/// A fault is taken for the truth from these odds on; exchanged sides sooner, they cost only a look at the photos.
constexpr double kFaultOdds = 20, kSwappedOdds = 4;

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
};

/// Whether a backlash is neither what was to be set nor what the change of depth made of the last one.
bool isStray(const Model& model, double backlashMm, double lastMm, double depthChangeMm, double sigmaMm) {
    const Interval& limits = model.contact->gearSet().limits.backlashMm;
    if (backlashMm > limits.low / kStrayBacklash && backlashMm < limits.high * kStrayBacklash) return false;
    const double left = lastMm - model.contact->backlashRates().perDepth * depthChangeMm;
    const double same = kSameReading * std::sqrt(2.0) * sigmaMm;
    return std::abs(backlashMm - left) > same && std::abs(backlashMm - lastMm) > same;
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
    Hypothesis h = logged;
    h.fault = EntryFault::SidesSwapped;
    std::swap(h.seen.drive, h.seen.coast);
    h.logBefore = kSwappedBefore;
    all.push_back(h);
    return all;
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

Learned learnAsNamed(const std::vector<Model>& models, std::span<const JobTrial> history, int samples, Random& random) {
    const std::size_t count = models.size();
    Learned learned;
    learned.known.resize(count);
    learned.evidence.resize(count);
    learned.posteriors.resize(count);
    std::vector<double> logWeights(count, 0);
    const PinionShim shim = models.front().contact->gearSet().build.pinionShim;
    bool first = true;
    std::optional<double> lastBacklashMm;  // as read, square to the tooth
    std::optional<double> change = 0.0;    // since the last trial with a pattern; nullopt: not logged

    for (std::size_t t = 0; t < history.size(); ++t) {
        const JobTrial& trial = history[t];
        if (t > 0) {
            const std::optional<double> step = loggedDepthChangeMm(history[t - 1], trial, shim);
            change = change && step ? std::optional(*change + *step) : std::nullopt;
        }
        if (!trial.seen.drive && !trial.seen.coast) continue;

        const auto knownBy = [&](std::size_t m, double depthChangeMm, double sigmaMm) {
            return first ? Known{} : knownNext(learned.posteriors[m], depthChangeMm, sigmaMm);
        };
        const double sigma = sigmaOf(change);
        std::vector<Known> known;
        std::vector<Evidence> evidence;
        std::vector<Posterior> posteriors;
        std::size_t likeliest = 0;
        for (std::size_t m = 0; m < count; ++m) {
            known.push_back(knownBy(m, change.value_or(0), sigma));
            evidence.push_back(evidenceOf(trial.seen, *models[m].contact));
            posteriors.push_back(
                samplePosterior(*models[m].contact, models[m].prior, known[m], evidence[m], samples, random.bits()));
            if (logWeights[m] + posteriors[m].logEvidence > logWeights[likeliest] + posteriors[likeliest].logEvidence)
                likeliest = m;
        }

        const bool stray = !first && evidence[likeliest].backlashMm && lastBacklashMm &&
                           isStray(models[likeliest], *evidence[likeliest].backlashMm, *lastBacklashMm,
                                   change.value_or(0), evidence[likeliest].backlashSigmaMm);
        if (evidence[likeliest].backlashMm) lastBacklashMm = evidence[likeliest].backlashMm;

        // Entries that make the marks improbable are weighed against what may have been meant.
        const bool odd = posteriors[likeliest].misfit > chiSquareBeyond(evidence[likeliest].count(), kOddMisfit);
        const bool weighsSides = first && history.size() > 1;
        if (odd || stray || weighsSides) {
            const Model& model = models[likeliest];
            EntryDoubt doubt;
            doubt.trial = t;
            doubt.loggedDepthMm = change.value_or(0);
            const Hypothesis* best = nullptr;
            double bestGain = 0;  // above the odds asked for
            const std::vector<Hypothesis> all = hypothesesOf(trial, change, first);
            for (const Hypothesis& h : all) {
                const bool swapped = h.fault == EntryFault::SidesSwapped;
                if (!odd && !(stray && h.fault == EntryFault::BacklashMisread) && !(weighsSides && swapped)) continue;
                const Known before = knownBy(likeliest, h.depthChangeMm, h.depthSigmaMm);
                const BestFit fit = bestFit(*model.contact, model.prior, before, evidenceOf(h.seen, *model.contact));
                const double odds = fit.logEvidence - posteriors[likeliest].logLaplace + h.logBefore;
                double gain = odds - std::log(swapped ? kSwappedOdds : kFaultOdds);
                if (first && swapped) learned.firstSwappedGain = odds;
                if (stray && h.fault == EntryFault::BacklashMisread) gain = std::max(gain, 0.01);
                if (gain <= bestGain || fit.misfit > chiSquareBeyond(evidence[likeliest].count(), kImpossibleMisfit))
                    continue;
                bestGain = gain;
                best = &h;
                doubt.odds = std::exp(std::min(odds, 20.0));
            }
            if (best != nullptr) {
                doubt.fault = best->fault;
                if (stray && best->fault == EntryFault::BacklashMisread) doubt.odds = std::max(doubt.odds, kStrayOdds);
                double before = 0, after = 0;
                if (!first)
                    for (const Particle& particle : learned.posteriors[likeliest].particles)
                        before += particle.weight * particle.setUp.error.depthMm;
                for (std::size_t m = 0; m < count; ++m) {
                    known[m] = knownBy(m, best->depthChangeMm, best->depthSigmaMm);
                    evidence[m] = evidenceOf(best->seen, *models[m].contact);
                    posteriors[m] = samplePosterior(*models[m].contact, models[m].prior, known[m], evidence[m], samples,
                                                    random.bits());
                }
                for (const Particle& particle : posteriors[likeliest].particles)
                    after += particle.weight * particle.setUp.error.depthMm;
                doubt.foundDepthMm = after - before;
                learned.doubts.push_back(doubt);
            }
        }

        for (std::size_t m = 0; m < count; ++m) logWeights[m] += posteriors[m].logEvidence;
        learned.known = std::move(known);
        learned.evidence = std::move(evidence);
        learned.posteriors = std::move(posteriors);
        first = false;
        change = 0.0;
    }

    learned.logEvidence = logWeights;
    learned.likeliest =
        static_cast<std::size_t>(std::max_element(logWeights.begin(), logWeights.end()) - logWeights.begin());
    for (const double logWeight : logWeights)
        learned.weights.push_back(std::exp(logWeight - logWeights[learned.likeliest]));
    const double all = std::accumulate(learned.weights.begin(), learned.weights.end(), 0.0);
    for (double& weight : learned.weights) weight /= all;
    return learned;
}

bool showsBoth(const JobTrial& trial) { return trial.seen.drive && trial.seen.coast; }

}  // namespace

Learned learn(const std::vector<Model>& models, std::span<const JobTrial> history, int samples, Random& random) {
    Learned learned = learnAsNamed(models, history, samples, random);
    // Who names the sides wrongly once does so in every trial: each trial alone may leave it open.
    const auto asked = std::count_if(learned.doubts.begin(), learned.doubts.end(),
                                     [](const EntryDoubt& doubt) { return doubt.fault == EntryFault::SidesSwapped; });
    const bool lastAsked = asked > 0 && learned.doubts.back().fault == EntryFault::SidesSwapped &&
                           learned.doubts.back().trial + 1 == history.size();
    if (lastAsked || history.size() < 2 || learned.firstSwappedGain < kWorthSwapping ||
        !std::all_of(history.begin(), history.end(), showsBoth))
        return learned;
    std::vector<JobTrial> exchanged(history.begin(), history.end());
    for (JobTrial& trial : exchanged) std::swap(trial.seen.drive, trial.seen.coast);
    Learned other = learnAsNamed(models, exchanged, samples, random);
    const double gain =
        other.logEvidence[other.likeliest] - learned.logEvidence[learned.likeliest] + (asked > 0 ? 0 : kSwappedBefore);
    if (gain <= std::log(kSwappedOdds) || other.doubts.size() > learned.doubts.size()) return learned;
    EntryDoubt doubt;
    doubt.trial = history.size() - 1;
    doubt.fault = EntryFault::SidesSwapped;
    doubt.odds = std::exp(std::min(gain, 20.0));
    other.doubts.push_back(doubt);
    return other;
}

}  // namespace shimsight::advice
