// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/statistics.h"
#include "shimsight/training.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

bool isAccepted(const TrialEntry& trial) {
    return trial.hasPattern() && trial.measurement->advice && trial.measurement->advice->verdict == Verdict::Accept;
}

const std::optional<Pattern>& readPattern(const TrialEntry& trial, Side side) {
    return side == Side::Drive ? trial.measurement->drive : trial.measurement->coast;
}

/// The trials that count, and the history that goes with them, entry by entry.
struct Trials {
    std::vector<const TrialEntry*> entries;
    std::vector<JobTrial> history;
};
Trials trialsOf(const JobRecord& job) {
    Trials trials;
    for (const TrialEntry& trial : job.trials)
        if (trial.stamp.counts()) trials.entries.push_back(&trial);
    trials.history = historyOf(job);
    check(trials.entries.size() == trials.history.size(), "the history has every trial that counts");
    return trials;
}

/// A trial and the accepted one that tells its truth, as places in Trials; or why there is none.
struct Known {
    std::size_t trial = 0, accepted = 0;
    std::string whyNot;
};

/// Whether the job was signed off with this setting: each later trial was read as good, too, on the same shims.
bool isSignedOffWith(const JobRecord& job, const Trials& trials, std::size_t at) {
    for (std::size_t k = at + 1; k < trials.entries.size(); ++k) {
        const std::optional<double>& change = trials.history[k].shimChangeMm;
        if (!isAccepted(*trials.entries[k]) || !change || std::abs(*change) > kNoMoveMm) return false;
    }
    return signedOff(job) != nullptr;
}

Known knownOutcome(const JobRecord& job, const Trials& trials, std::size_t at) {
    Known known{at, at, ""};
    const TrialEntry& trial = *trials.entries[at];
    if (!trial.hasPattern()) {
        known.whyNot = say("training.trial-without-mark");
        return known;
    }
    if (trial.photos.empty()) {
        known.whyNot = say("training.trial-without-photo");
        return known;
    }
    if (!trials.history[at].seen.backlashMm) {
        known.whyNot = say("training.trial-without-backlash");
        return known;
    }
    if (isAccepted(trial)) {
        if (!isSignedOffWith(job, trials, at)) known.whyNot = say("training.good-but-not-signed-off");
        return known;
    }
    while (known.accepted < trials.entries.size() && !isAccepted(*trials.entries[known.accepted])) ++known.accepted;
    if (known.accepted == trials.entries.size()) {
        known.whyNot = say("training.no-later-good-trial");
        return known;
    }
    for (std::size_t k = at + 1; k <= known.accepted; ++k)
        if (!trials.history[k].shimChangeMm)
            known.whyNot = say("training.shim-change-unknown", trials.entries[k]->stamp.id);
    if (!trials.history[known.accepted].seen.backlashMm)
        known.whyNot = say("training.good-trial-without-backlash", trials.entries[known.accepted]->stamp.id);
    return known;
}

JobExercise exerciseOf(const JobRecord& job, const ToothContact& contact, const TrialEntry& trial,
                       const TrialObservation& seen) {
    JobExercise exercise;
    exercise.job = job.axle;
    exercise.trial = trial.stamp.id;
    exercise.gearSet = contact.gearSet().name;
    exercise.backlashLimitsMm = contact.gearSet().limits.backlashMm;
    exercise.backlashLimitsGiven = contact.gearSet().given.backlashLimits;
    exercise.backlashMm = *seen.backlashMm * contact.toSquareReading(seen.dial);
    for (const Side side : kSides) exercise.asked[index(side)] = readPattern(trial, side).has_value();
    for (const JobPhoto& photo : trial.photos) {
        JobExercise::Photo shown{photo.file, {}, {HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL}};
        for (const RecordedPhoto& read : trial.measurement->photos) {
            if (read.file != photo.file) continue;
            for (const RecordedFlank& flank : read.flanks) {
                if (std::find(shown.sides.begin(), shown.sides.end(), flank.side) == shown.sides.end())
                    shown.sides.push_back(flank.side);
                for (const PixelPoint& corner : flank.outline) {
                    shown.flanksPx[0] = std::min(shown.flanksPx[0], corner.x);
                    shown.flanksPx[1] = std::min(shown.flanksPx[1], corner.y);
                    shown.flanksPx[2] = std::max(shown.flanksPx[2], corner.x);
                    shown.flanksPx[3] = std::max(shown.flanksPx[3], corner.y);
                }
            }
        }
        std::sort(shown.sides.begin(), shown.sides.end());
        exercise.photos.push_back(std::move(shown));
    }
    std::stable_partition(exercise.photos.begin(), exercise.photos.end(),
                          [](const JobExercise::Photo& photo) { return !photo.sides.empty(); });
    return exercise;
}

/// The gear set of the job. Where the file does not say how it was cut, as the accepted trial found it.
ToothContact contactOf(const JobRecord& job, const TrialEntry* accepted) {
    const GearSetData& data = job.gearSet.data;
    if (!data.cut && accepted != nullptr && accepted->measurement->advice &&
        accepted->measurement->advice->chanceFaceMilled < 0.5)
        return ToothContact(withCut(data, Cut::FaceHobbed));
    return ToothContact(completeGearSet(data));
}

// ---- The model fitted to the accepted trial ----

/// How this flank was cut and lapped, from what was read of it where the set-up was right: the least change from
/// the gear set's own form, by the prior of the advice, that explains centre, length and height of the mark.
Modification fittedForm(const ToothContact& contact, Side side, const SetupError& error, const Pattern& read) {
    const Modification own = contact.gearSet().modification[index(side)];
    constexpr int kUnknowns = 4, kRounds = 6;
    using Vector = Eigen::Matrix<double, kUnknowns, 1>;
    const auto formOf = [&](const Vector& z) {
        Modification m = own;
        m.lengthShift += kLengthShiftScatter * z[0];
        m.profileShift += kProfileShiftScatter * z[1];
        m.lengthCrownUm *= std::exp(kCrownSpreadKnown * z[2]);
        m.profileCrownUm *= std::exp(kCrownSpreadKnown * z[3]);
        return m;
    };
    const double sigmaU = std::max(read.sigmaToeHeel, kModelSigmaToeHeel);
    const double sigmaV = std::max(read.sigmaRootTip, kModelSigmaRootTip);
    const Vector sigma(sigmaU, sigmaV, 2 * kPhotoExtentNoise * sigmaU, 2 * kPhotoExtentNoise * sigmaV);
    // In standard errors; nullopt: no mark.
    const auto residualOf = [&](const Vector& z) -> std::optional<Vector> {
        const auto p = measurePattern(contact.predict(side, error, formOf(z)));
        if (!p) return std::nullopt;
        const Vector residual(read.toeHeel - p->toeHeel, read.rootTip - p->rootTip, read.length - p->length,
                              read.height - p->height);
        return Vector(residual.cwiseQuotient(sigma));
    };
    const auto costOf = [&](const Vector& z) {
        const auto residual = residualOf(z);
        return residual ? residual->squaredNorm() + z.squaredNorm() : HUGE_VAL;
    };
    // Gauss-Newton with the prior as its damping; a step that does not help is halved.
    Vector z = Vector::Zero();
    for (int round = 0; round < kRounds; ++round) {
        const auto residual = residualOf(z);
        if (!residual) break;
        Eigen::Matrix<double, kUnknowns, kUnknowns> jacobian;
        constexpr double kStep = 0.2;
        for (int k = 0; k < kUnknowns; ++k) {
            const auto beside = residualOf(z + kStep * Vector::Unit(k));
            jacobian.col(k) = beside ? Vector((*beside - *residual) / kStep) : Vector::Zero();
        }
        Eigen::Matrix<double, kUnknowns, kUnknowns> normal = jacobian.transpose() * jacobian;
        normal.diagonal().array() += 1;
        Vector step = -normal.ldlt().solve(Vector(jacobian.transpose() * *residual + z));
        const double before = costOf(z);
        for (int half = 0; half < 4 && !(costOf(z + step) < before); ++half) step *= 0.5;
        if (!(costOf(z + step) < before)) break;
        z += step;
    }
    return formOf(z);
}

Bench benchOf(const ToothContact& contact, const TrialEntry& accepted, double squareBacklashMm) {
    Bench bench = rightBench(contact);
    bench = moved(contact, bench, {0, squareBacklashMm - backlashMm(contact, bench)});
    for (const Side side : kSides)
        if (const auto& read = readPattern(accepted, side))
            bench.modification[index(side)] = fittedForm(contact, side, bench.error, *read);
    return bench;
}

// ---- How well the truth is known ----

Estimate neededDepth(const Trials& trials, const Known& known, bool thickerIsShallower, int& steps) {
    double thicker = 0, variance = 0;
    for (std::size_t k = known.trial + 1; k <= known.accepted; ++k) {
        const double change = *trials.history[k].shimChangeMm;
        if (std::abs(change) > kNoMoveMm) variance += kDepthChangeSigmaMm * kDepthChangeSigmaMm;
        thicker += change;
        ++steps;
    }
    // The accepted setting may itself be off by what its own advice left open.
    const Estimate& left = trials.entries[known.accepted]->measurement->advice->pinionDepthChangeMm;
    const double shims = kHalfWidthOf90 * std::sqrt(variance);
    const double best = thickerIsShallower ? -thicker : thicker;
    return {best, best - std::hypot(std::max(0.0, -left.low90), shims),
            best + std::hypot(std::max(0.0, left.high90), shims)};
}

double halfOf(const Estimate& estimate) { return 0.5 * (estimate.high90 - estimate.low90); }

std::vector<std::string> toldOf(const JobTruth& truth, bool accepted) {
    if (accepted) return {say("training.read-as-good-and-signed-off", truth.acceptedTrial)};
    const BenchMove& done = truth.exercise.best.move;
    return {truth.steps == 1 ? say("training.done-in-one-step", moveWords(done), truth.acceptedTrial)
                             : say("training.done-in-steps", moveWords(done), truth.acceptedTrial, truth.steps),
            say("training.how-well-known", lengthWords(truth.exercise.depthSureMm),
                lengthWords(truth.exercise.backlashSureMm))};
}

}  // namespace

JobExercises jobExercises(const JobRecord& job) {
    JobExercises exercises;
    const Trials trials = trialsOf(job);
    for (const TrialEntry& trial : job.trials)
        if (!trial.stamp.counts()) exercises.leftOut.push_back({trial.stamp.id, say("training.trial-struck-out")});
    for (std::size_t at = 0; at < trials.entries.size(); ++at) {
        const Known known = knownOutcome(job, trials, at);
        const TrialEntry& trial = *trials.entries[at];
        if (known.whyNot.empty())
            exercises.usable.push_back(
                exerciseOf(job, contactOf(job, trials.entries[known.accepted]), trial, trials.history[at].seen));
        else
            exercises.leftOut.push_back({trial.stamp.id, known.whyNot});
    }
    return exercises;
}

JobTruth jobTruth(const JobRecord& job, std::string_view trialId) {
    const Trials trials = trialsOf(job);
    const auto found = std::find_if(trials.entries.begin(), trials.entries.end(),
                                    [&](const TrialEntry* trial) { return trial->stamp.id == trialId; });
    if (found == trials.entries.end()) throw InputError(message("training.no-such-trial", trialId.substr(0, 40)));
    const auto at = static_cast<std::size_t>(found - trials.entries.begin());
    const Known known = knownOutcome(job, trials, at);
    if (!known.whyNot.empty())
        throw InputError(message("training.trial-is-no-exercise-because", trialId, known.whyNot));

    const TrialEntry &trial = *trials.entries[at], &accepted = *trials.entries[known.accepted];
    JobTruth truth;
    truth.contact = std::make_unique<const ToothContact>(contactOf(job, &accepted));
    const ToothContact& contact = *truth.contact;
    const auto squareBacklash = [&](std::size_t k) {
        const TrialObservation& seen = trials.history[k].seen;
        return *seen.backlashMm * contact.toSquareReading(seen.dial);
    };
    truth.acceptedTrial = accepted.stamp.id;
    truth.deeperMm =
        neededDepth(trials, known, contact.gearSet().build.pinionShim == PinionShim::UnderPinionSupport, truth.steps);
    const double backlash = squareBacklash(known.accepted) - squareBacklash(at);
    const double dialMm =
        known.accepted == at ? 0 : kHalfWidthOf90 * std::sqrt(2.0) * trials.history[at].seen.backlashSigmaMm;
    truth.moreBacklashMm = {backlash, backlash - dialMm, backlash + dialMm};

    Exercise& exercise = truth.exercise;
    exercise.level = 0;
    exercise.number = static_cast<int>(at) + 1;
    exercise.contact = truth.contact.get();
    exercise.best.move = {truth.deeperMm.best, truth.moreBacklashMm.best};
    const Bench right = benchOf(contact, accepted, squareBacklash(known.accepted));
    exercise.best.goodness = goodness(contact, right);
    exercise.bench = moved(contact, right, {-truth.deeperMm.best, -truth.moreBacklashMm.best});
    exercise.marks = marksOf(contact, exercise.bench);
    for (const Side side : kSides) {
        exercise.asked[index(side)] = readPattern(trial, side).has_value();
        if (exercise.asked[index(side)]) exercise.marks.pattern[index(side)] = readPattern(trial, side);
    }
    exercise.backlashMm = squareBacklash(at);
    exercise.remedy = known.accepted == at ? Remedy::Accept : Remedy::Change;
    exercise.depthSureMm = halfOf(truth.deeperMm);
    exercise.backlashSureMm = halfOf(truth.moreBacklashMm);
    exercise.told = toldOf(truth, known.accepted == at);
    return truth;
}

GradedAnswer gradeJobAnswer(const JobRecord& job, std::string_view trial, const DrillAnswer& answer) {
    return gradeAnswer(jobTruth(job, trial).exercise, answer);
}

}  // namespace shimsight
