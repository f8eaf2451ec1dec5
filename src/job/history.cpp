// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "job/words.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// Positions count as equal steps when they lie this close to them: a tooth of forty is nine degrees.
constexpr double kStepToleranceDeg = 5;

/// Readings once round at equal steps, as advice wants them; empty when they are not.
std::vector<double> roundReadings(const std::vector<BacklashPoint>& points) {
    std::vector<double> readings;
    const double step = 360.0 / static_cast<double>(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const double wanted = points.front().positionDeg + step * static_cast<double>(i);
        const double off = std::remainder(points[i].positionDeg - wanted, 360.0);
        if (std::abs(off) > kStepToleranceDeg) return {};
        readings.push_back(points[i].mm);
    }
    return readings;
}

/// Pinion shims added on the way from trial `i - 1` to trial `i`; nullopt: nobody wrote it down.
std::optional<double> changeInto(const JobRecord& job, std::size_t i) {
    const TrialEntry& now = job.trials[i];
    const TrialEntry& before = job.trials[i - 1];
    if (now.shimChangeMm) return now.shimChangeMm;
    if (now.shimStackMm && before.shimStackMm) return *now.shimStackMm - *before.shimStackMm;
    std::optional<double> sum;
    std::optional<double> stack = before.shimStackMm;
    for (const WorkEntry* work : workAfter(job, before.stamp.id)) {
        std::optional<double> change = work->shimChangeMm;
        if (!change && work->shimStackMm && stack) change = *work->shimStackMm - *stack;
        if (!change) continue;
        sum = sum.value_or(0) + *change;
        if (work->shimStackMm)
            stack = work->shimStackMm;
        else if (stack)
            *stack += *change;
    }
    return sum;
}

}  // namespace

TrialObservation observationOf(const TrialEntry& trial) {
    std::optional<Pattern> drive, coast;
    std::vector<double> milled;
    if (trial.measurement) {
        drive = trial.measurement->drive;
        coast = trial.measurement->coast;
        for (const RecordedPhoto& photo : trial.measurement->photos)
            if (photo.cutEvidence) milled.push_back(photo.cutEvidence->chanceFaceMilled);
    }
    TrialObservation seen;
    if (trial.origin != PatternOrigin::Drawn) {
        seen = photographed(drive, coast, milled);
    } else {
        seen.drive = drive;
        seen.coast = coast;
    }
    seen.backlashMm = trial.backlashMm;
    if (!seen.backlashMm && !trial.backlashRound.empty()) seen.backlashMm = meanOf(trial.backlashRound);
    seen.dial = trial.dial;
    seen.shimStackMm = trial.shimStackMm;
    if (!trial.backlashRound.empty()) seen.backlashRoundMm = roundReadings(trial.backlashRound);
    return seen;
}

std::vector<JobTrial> historyOf(const JobRecord& job, std::string_view upTo) {
    std::vector<JobTrial> history;
    std::optional<double> change = 0;  // since the last trial that counts; nullopt: not known
    for (std::size_t i = 0; i < job.trials.size(); ++i) {
        const TrialEntry& trial = job.trials[i];
        if (i > 0) {
            const std::optional<double> step = changeInto(job, i);
            change = change && step ? std::optional(*change + *step) : std::nullopt;
        }
        if (trial.stamp.counts()) {
            JobTrial one;
            one.seen = observationOf(trial);
            if (!history.empty()) one.shimChangeMm = change;
            history.push_back(std::move(one));
            change = 0;
        }
        if (trial.stamp.id == upTo) break;
    }
    return history;
}

std::optional<TrialObservation> beforeOf(const JobRecord& job) {
    std::optional<TrialObservation> all;
    for (const TrialEntry& entry : job.before) {
        if (!entry.stamp.counts()) continue;
        const TrialObservation one = observationOf(entry);
        if (!all) all = TrialObservation{};
        if (one.drive) all->drive = one.drive;
        if (one.coast) all->coast = one.coast;
        if (one.drive || one.coast) {
            // A mark drawn by hand beside one read off a photo: the errors of the worse count for both.
            all->extentNoise = std::max(all->extentNoise, one.extentNoise);
            all->patternNoise = std::max(all->patternNoise, one.patternNoise);
            all->fromPhotos = all->fromPhotos || one.fromPhotos;
            if (one.chanceFaceMilled) all->chanceFaceMilled = one.chanceFaceMilled;
        }
        if (one.backlashMm) {
            all->backlashMm = one.backlashMm;
            all->backlashRoundMm = one.backlashRoundMm;
            all->dial = one.dial;
        }
        if (one.shimStackMm) all->shimStackMm = one.shimStackMm;
    }
    return all;
}

GearSetData advisedGearSet(const JobRecord& job) {
    GearSetData data = job.gearSet.data;
    if (!data.build.preloadSpacer && job.spacer != PinionSpacer::NotSaid)
        data.build.preloadSpacer =
            job.spacer == PinionSpacer::CrushSleeve ? PreloadSpacer::CrushSleeve : PreloadSpacer::SolidSpacer;
    return data;
}

AdviceOptions adviceOptionsOf(const JobRecord& job) {
    AdviceOptions options;
    options.usedGears = job.build != BuildKind::NewGears;
    options.before = beforeOf(job);
    for (const CheckedEntry& entry : job.checked) {
        if (!entry.stamp.counts()) continue;
        for (const DiagnosisKind kind : closedBy(entry.kind))
            if (std::find(options.checked.begin(), options.checked.end(), kind) == options.checked.end())
                options.checked.push_back(kind);
    }
    for (const RunoutEntry& entry : job.runouts)
        if (entry.stamp.counts() && entry.place == RunoutPlace::RingGear) options.ringRunoutMm = entry.mm;
    return options;
}

bool adviseAgain(JobRecord& job, std::string_view entry, const std::string& at, const std::string& by,
                 const std::optional<Costs>& costs) {
    const char kind = entry.empty() ? '\0' : entry.front();
    if (kind != 'u' && kind != 'q' && kind != 'r' && kind != 't') return false;
    const TrialEntry* last = lastTrial(job);
    // What was changed since makes it the advice of another setting.
    if (last == nullptr || !last->hasPattern() || !workAfter(job, last->stamp.id).empty()) return false;
    if (kind == 't') {
        // Only a trial before the last one is what its advice learned from.
        const TrialEntry* changed = findTrial(job, entry);
        if (changed == nullptr || changed >= last) return false;
    }
    if (kind == 'r') {
        const auto isRing = [&](const RunoutEntry& one) {
            return one.stamp.id == entry && one.place == RunoutPlace::RingGear;
        };
        if (std::none_of(job.runouts.begin(), job.runouts.end(), isRing)) return false;
        // A gear that was put right since is another setting: its new trial decides.
        if (const RunoutEntry* right = runoutPutRight(job);
            right != nullptr && secondsOf(right->stamp.at) > secondsOf(last->stamp.at))
            return false;
    }
    AdviceOptions options = adviceOptionsOf(job);
    if (costs) options.costs = *costs;
    TrialEntry& trial = job.trials[static_cast<std::size_t>(last - job.trials.data())];
    const std::optional<Advice> former = std::move(trial.measurement->advice);
    trial.measurement->advice = adviseJob(advisedGearSet(job), historyOf(job), options);
    addRemark(job, {at, by,
                    former ? say("job.advised-again-was", trial.stamp.id, entry, adviceInShort(*former))
                           : say("job.advised-again", trial.stamp.id, entry)});
    return true;
}

}  // namespace shimsight
