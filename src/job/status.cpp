// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "job/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/advice_words.h"
#include "shimsight/job.h"
#include "shimsight/statistics.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using job::signedLengthWords;

/// Two figures for the same shims contradict each other beyond this: half a thousandth of an inch, half a shim step.
constexpr double kContradictionMm = 0.0127;
/// A cause that is at least this likely is named.
constexpr double kLikely = 0.5;
constexpr std::string_view kTrialId = "job.trial-id";

bool hasWorkAfter(const JobRecord& job, const TrialEntry& trial) { return !workAfter(job, trial.stamp.id).empty(); }

bool isAccepted(const TrialEntry& trial) {
    return trial.hasPattern() && trial.measurement->advice && trial.measurement->advice->verdict == Verdict::Accept &&
           !trial.measurement->advice->stop;
}

/// The ring gear was taken off and put right after this trial, so the trial shows another setting.
bool putRightAfter(const JobRecord& job, const TrialEntry& trial) {
    const RunoutEntry* right = runoutPutRight(job);
    return right != nullptr && secondsOf(right->stamp.at) > secondsOf(trial.stamp.at);
}

/// A check of an axle in which nothing is changed ends with the reading: used gears need no number to be left alone.
bool isReadForCheck(const JobRecord& job, const TrialEntry& trial) {
    return job.build == BuildKind::CheckOnly && trial.hasPattern() && trial.measurement->advice &&
           trial.measurement->advice->stop && trial.measurement->advice->stop->kind == StopKind::WearNotKnown;
}

/// The last trial accepted, nothing changed since, and nothing that forbids it.
bool patternStands(const JobRecord& job) {
    const TrialEntry* last = lastTrial(job);
    return last != nullptr && (isAccepted(*last) || isReadForCheck(job, *last)) && !hasWorkAfter(job, *last) &&
           !putRightAfter(job, *last) && !jobStop(job);
}

/// Used gears about which nothing from before they came apart is known.
bool wearIsUnknown(const JobRecord& job) {
    if (job.build != BuildKind::UsedGears) return false;
    const std::optional<TrialObservation> before = beforeOf(job);
    return !before || !before->backlashMm || (!before->drive && !before->coast);
}

Message whatIsMissingBefore(const JobRecord& job) {
    const std::optional<TrialObservation> before = beforeOf(job);
    const bool marks = before && (before->drive || before->coast), backlash = before && before->backlashMm;
    return marks      ? message("job.missing-backlash")
           : backlash ? message("job.missing-marks")
                      : message("job.missing-marks-and-backlash");
}

/// The trial as sentences name it; see withTrialNumbers.
Message named(const TrialEntry& trial) { return message(kTrialId, trial.stamp.id); }

JobStep openStep(std::string key, const char* title, Message detail) {
    return {.key = std::move(key), .title = say(title), .state = StepState::Open, .detail = std::move(detail)};
}

/// When something was last done that makes earlier readings worthless; 0: never. `anyWork`: ring gear moves count too.
std::int64_t lastChange(const JobRecord& job, bool anyWork) {
    std::int64_t last = 0;
    for (const WorkEntry& work : job.work) {
        if (!work.stamp.counts()) continue;
        const bool pinion =
            (work.shimChangeMm && std::abs(*work.shimChangeMm) > kNoMoveMm) || (!work.shimChangeMm && work.shimStackMm);
        if (anyWork || pinion) last = std::max(last, secondsOf(work.stamp.at));
    }
    return last;
}

template <typename Entry>
const Entry* lastOf(const std::vector<Entry>& list) {
    for (auto at = list.rbegin(); at != list.rend(); ++at)
        if (at->stamp.counts()) return &*at;
    return nullptr;
}

JobStep runoutStep(const JobRecord& job) {
    JobStep step = openStep("runout", "job.step-runout", message("job.not-read-yet"));
    const RunoutEntry* last = nullptr;
    for (const RunoutEntry& entry : job.runouts)
        if (entry.stamp.counts() && entry.place == RunoutPlace::RingGear) last = &entry;
    if (last == nullptr) return step;
    const Judgement judged = judgeRunout(job, *last);
    step.detail = judged.sentence;
    if (judged.result != JudgedAs::Fail) step.state = StepState::Done;
    return step;
}

JobStep startDepthStep(const JobRecord& job) {
    JobStep step = openStep("start-depth", "job.step-start-depth", message("job.start-not-entered"));
    const DepthEntry* last = lastOf(job.depths);
    if (last != nullptr) {
        if (const std::optional<StartShim> start = fittingStartOf(job, *last)) {
            step.state = StepState::Done;
            step.detail = twoSentences(start->needed, start->shims);
        } else {
            step.detail = message("job.start-does-not-fit");
        }
    } else if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.nothing-taken-apart");
    } else if (lastTrial(job) != nullptr) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.start-trial-tells");
    } else if (job.build == BuildKind::UsedGears) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.start-old-shims");
    }
    return step;
}

/// Whether the pinion bearings stay as they are when the depth shims change: in a removable support they do.
bool preloadOutlivesShims(const JobRecord& job) {
    return job.gearSet.data.build.pinionShim == PinionShim::UnderPinionSupport;
}

bool isStale(const JobRecord& job, const PreloadEntry& entry) {
    return !preloadOutlivesShims(job) && secondsOf(entry.stamp.at) < lastChange(job, false);
}

/// Under what preload the next pattern is rolled.
JobStep trialPreloadStep(const JobRecord& job) {
    JobStep step = openStep("trial-preload", "job.step-trial-preload", message("job.not-read-yet"));
    const PreloadEntry* last = lastOf(job.preloads);
    const TrialEntry* trial = lastTrial(job);
    if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.nothing-taken-apart");
    } else if (last == nullptr) {
        if (!patternStands(job)) return step;
        step.state = StepState::NotNeeded;
        step.detail = message("job.rolled-without-preload");
    } else if (patternStands(job)) {
        // What is read from here on is for good.
        step.state = StepState::Done;
        step.detail = message("job.pattern-is-rolled");
    } else if (const Judgement judged = judgePreload(job, *last); judged.result == JudgedAs::Fail) {
        step.detail = judged.sentence;
    } else if (isStale(job, *last) && (trial == nullptr || secondsOf(trial->stamp.at) < lastChange(job, false))) {
        step.detail = message("job.preload-read-before-change");
    } else {
        step.state = StepState::Done;
        step.detail = judged.sentence;
    }
    return step;
}

/// Whether what was done since undid this tick.
bool isUndone(const JobRecord& job, const CheckItem& item) {
    const bool comesOutWithPinion = item.list == CheckList::Pinion && !preloadOutlivesShims(job);
    const bool loosenedForRingGear =
        item.key == "bearing-caps" || item.key == "cap-torque" || item.key == "adjuster-locks";
    std::int64_t undone = comesOutWithPinion || item.key == "pinion-support-bolts" ? lastChange(job, false)
                          : loosenedForRingGear                                    ? lastChange(job, true)
                                                                                   : 0;
    // A ring gear that ran out came off its case.
    const RunoutEntry* right = item.key == "ring-gear-bolts" ? runoutPutRight(job) : nullptr;
    if (right != nullptr) undone = secondsOf(right->stamp.at);
    return secondsOf(item.stamp.at) < undone;
}

/// The line's key, with the reason where it is open again.
std::string openWords(const CheckItem& item, std::optional<OpenAgain> again) {
    if (!again) return item.key;
    switch (*again) {
        case OpenAgain::WithoutTorque:
            return say("job.item-without-torque", item.key);
        case OpenAgain::WrongTorque:
            return say("job.item-wrong-torque", item.key);
        case OpenAgain::BeforeChange:
            break;
    }
    return say("job.item-before-change", item.key);
}

JobStep checkStep(const JobRecord& job, CheckList list, const char* key, const char* title) {
    JobStep step = openStep(key, title, {});
    std::vector<std::string> open;
    for (const CheckItem& item : job.checks) {
        if (item.list != list) continue;
        step.lines.push_back(item.key);
        const std::optional<OpenAgain> again = openAgain(job, item);
        if (item.state != CheckState::Open && !again) continue;
        step.open.push_back(item.key);
        open.push_back(openWords(item, again));
    }
    const std::size_t all = step.lines.size(), done = all - open.size();
    step.detail = open.empty() ? message("job.items-done", done, all)
                               : message("job.items-done-and-open", done, all, job::joined(open, ", "));
    if (all == 0) {
        // A record from before this list.
        step.state = StepState::NotNeeded;
        step.detail = message(job.build == BuildKind::CheckOnly ? "job.nothing-taken-apart" : "job.no-such-list");
    } else if (list != CheckList::FinalAssembly && job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.nothing-taken-apart");
    } else if (open.empty()) {
        step.state = StepState::Done;
    }
    return step;
}

JobStep pinionStep(const JobRecord& job) { return checkStep(job, CheckList::Pinion, "pinion", "job.step-pinion"); }

JobStep torqueStep(const JobRecord& job) { return checkStep(job, CheckList::Torque, "torques", "job.step-torques"); }

/// When the last of these lines was ticked as done; 0: none was.
template <typename Wanted>
std::int64_t lastTick(const JobRecord& job, Wanted isWanted) {
    std::int64_t last = 0;
    for (const CheckItem& item : job.checks)
        if (item.state == CheckState::Done && isWanted(item)) last = std::max(last, secondsOf(item.stamp.at));
    return last;
}

/// Whether the reading shows the pinion as the axle leaves with it: read when the pattern was right and seal and nut
/// were in for good. A crush sleeve goes in with them, and its nut is tight when the reading is right.
bool isReadForGood(const JobRecord& job, const PreloadEntry& entry) {
    const std::int64_t at = secondsOf(entry.stamp.at);
    const bool patternWasRight = std::any_of(job.trials.begin(), job.trials.end(), [&](const TrialEntry& trial) {
        return trial.stamp.counts() && isAccepted(trial) && secondsOf(trial.stamp.at) <= at;
    });
    if (!patternWasRight) return false;
    if (job::spacerOf(job) == PinionSpacer::CrushSleeve) return true;
    return pinionStep(job).state != StepState::Open &&
           lastTick(job, [](const CheckItem& item) { return item.list == CheckList::Pinion; }) <= at;
}

/// The preload that the axle leaves with.
JobStep preloadStep(const JobRecord& job) {
    JobStep step = openStep("preload", "job.step-preload", message("job.not-read-yet"));
    if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.nothing-taken-apart");
    }
    const PreloadEntry* last = lastOf(job.preloads);
    if (last == nullptr) return step;
    const Judgement judged = judgePreload(job, *last);
    const bool check = job.build == BuildKind::CheckOnly;
    step.state = StepState::Open;
    if (last->forTrial)
        step.detail = message("job.preload-still-for-trial");
    else if (judged.result == JudgedAs::Fail)
        step.detail = judged.sentence;
    else if (isStale(job, *last))
        step.detail = message("job.preload-read-before-change");
    else if (!check && !isReadForGood(job, *last))
        step.detail = message("job.preload-read-before-pinion");
    else {
        step.state = StepState::Done;
        step.detail = judged.sentence;
    }
    return step;
}

/// Whether the trial was rolled under the preload that the axle leaves with: a reading for good before it that stands
/// to the end.
bool rolledForGood(const JobRecord& job, const TrialEntry& trial) {
    return std::any_of(job.preloads.begin(), job.preloads.end(), [&](const PreloadEntry& entry) {
        return entry.stamp.counts() && !entry.forTrial && !isStale(job, entry) && isReadForGood(job, entry) &&
               secondsOf(entry.stamp.at) <= secondsOf(trial.stamp.at) &&
               judgePreload(job, entry).result != JudgedAs::Fail;
    });
}

/// What was made tight after the trial, in words and keys of lines.
std::vector<std::string> tightenedAfter(const JobRecord& job, const TrialEntry& trial) {
    std::vector<std::string> after;
    if (!rolledForGood(job, trial)) after.push_back(say("job.tightened-preload"));
    for (const CheckItem& item : job.checks) {
        const bool moves = item.list == CheckList::Pinion || (item.list == CheckList::Torque && !job::isOwnLine(item));
        if (moves && item.state == CheckState::Done && secondsOf(item.stamp.at) > secondsOf(trial.stamp.at))
            after.push_back(item.key);
    }
    return after;
}

/// The pattern once more, with all in for good that can move pinion or ring gear.
JobStep finalPatternStep(const JobRecord& job) {
    JobStep step = openStep("final-pattern", "job.step-final-pattern", message("job.final-pattern-waits"));
    if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.nothing-taken-apart");
        return step;
    }
    const auto isOpen = [](const JobStep& other) { return other.state == StepState::Open; };
    if (!patternStands(job) || isOpen(pinionStep(job)) || isOpen(preloadStep(job)) || isOpen(torqueStep(job)))
        return step;
    const TrialEntry& last = *lastTrial(job);
    const std::vector<std::string> after = tightenedAfter(job, last);
    if (after.empty()) {
        step.state = StepState::Done;
        step.detail = message("job.final-pattern-rolled", named(last));
    } else {
        step.detail = message("job.final-pattern-before-tight", named(last), job::joined(after, ", "));
    }
    return step;
}

/// What is told of the last trial where nothing stops the job.
const char* patternDetail(const JobRecord& job, const TrialEntry& last) {
    if (!last.hasPattern()) return "job.trial-not-read";
    if (patternStands(job)) return isAccepted(last) ? "job.trial-good" : "job.trial-read-for-check";
    if (putRightAfter(job, last)) return "job.ring-gear-put-right-after-trial";
    if (hasWorkAfter(job, last)) return "job.setting-changed-after-trial";
    if (!last.measurement->advice) return "job.trial-without-advice";
    switch (last.measurement->advice->verdict) {
        case Verdict::Change:
            return "job.trial-change-advised";
        case Verdict::NoShimWillHelp:
            return "job.trial-no-shim-helps";
        case Verdict::Accept:
        case Verdict::MeasureAgain:
            break;
    }
    return "job.trial-measure-again";
}

JobStep patternStep(const JobRecord& job) {
    JobStep step = openStep("pattern", "job.step-pattern", message("job.no-trial-yet"));
    const TrialEntry* last = lastTrial(job);
    const std::optional<JobStop> stop = jobStop(job);
    if (stop && (last != nullptr || stop->step != "pattern")) {
        step.detail = message("job.pattern-waits-for", stop->found);
        return step;
    }
    if (last == nullptr) {
        if (wearIsUnknown(job)) step.detail = message("job.no-trial-wear-unknown", whatIsMissingBefore(job));
        return step;
    }
    if (patternStands(job)) step.state = StepState::Done;
    step.detail = messageOf(patternDetail(job, *last), {named(*last)});
    return step;
}

/// The newest backlash readings: of an entry or of a trial.
struct NewestBacklash {
    std::int64_t at = -1;
    bool stale = false;   ///< something was changed since
    bool jammed = false;  ///< no play at one place at least
    std::vector<Judgement> judged;
};

bool anyJammed(const std::vector<BacklashPoint>& points) {
    return std::any_of(points.begin(), points.end(),
                       [](const BacklashPoint& point) { return job::isJammed(point.mm); });
}

NewestBacklash newestBacklash(const JobRecord& job) {
    NewestBacklash newest;
    if (const BacklashEntry* entry = lastOf(job.backlashes))
        newest = {secondsOf(entry->stamp.at), secondsOf(entry->stamp.at) < lastChange(job, true),
                  anyJammed(entry->points), judgeBacklash(job, *entry)};
    if (const TrialEntry* trial = lastTrial(job); trial != nullptr &&
                                                  (trial->backlashMm || !trial->backlashRound.empty()) &&
                                                  secondsOf(trial->stamp.at) > newest.at) {
        newest = {secondsOf(trial->stamp.at), hasWorkAfter(job, *trial),
                  anyJammed(trial->backlashRound) || (trial->backlashMm && job::isJammed(*trial->backlashMm)),
                  judgeBacklash(job, *trial)};
    }
    return newest;
}

/// The newest readings at two places or more round the ring gear: until others are read, they hold.
struct NewestRound {
    std::int64_t at = -1;
    std::string id;
    std::vector<BacklashPoint> points;
    DialReading dial = DialReading::SquareToTooth;
    std::vector<Judgement> judged;
};

NewestRound newestRound(const JobRecord& job) {
    NewestRound newest;
    for (const BacklashEntry& entry : job.backlashes)
        if (entry.stamp.counts() && entry.points.size() > 1 && secondsOf(entry.stamp.at) >= newest.at)
            newest = {secondsOf(entry.stamp.at), entry.stamp.id, entry.points, entry.dial, judgeBacklash(job, entry)};
    for (const TrialEntry& trial : job.trials)
        if (trial.stamp.counts() && trial.backlashRound.size() > 1 && secondsOf(trial.stamp.at) >= newest.at)
            newest = {secondsOf(trial.stamp.at), trial.stamp.id, trial.backlashRound, trial.dial,
                      judgeBacklash(job, {trial.stamp, trial.backlashRound, trial.dial})};
    return newest;
}

JobStep backlashStep(const JobRecord& job) {
    JobStep step = openStep("backlash", "job.step-backlash", message("job.not-read-yet"));
    if (const std::optional<JobStop> stop = jobStop(job); stop && stop->step == "backlash") {
        step.detail = stop->found;
        return step;
    }
    const NewestBacklash newest = newestBacklash(job);
    if (newest.at < 0) return step;
    bool fails = false;
    std::vector<std::string> sentences;
    for (const Judgement& one : newest.judged) {
        fails = fails || one.result == JudgedAs::Fail;
        sentences.push_back(one.sentence);
    }
    step.detail = job::joined(sentences, " ");
    if (fails) return step;
    if (newest.stale) {
        step.detail = message("job.backlash-read-before-change");
        return step;
    }
    step.state = StepState::Done;
    return step;
}

JobStep carrierStep(const JobRecord& job) {
    JobStep step = openStep("carrier", "job.step-carrier", message("job.not-written-down-yet"));
    if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = message("job.nothing-taken-apart");
    }
    if (const CarrierEntry* last = lastOf(job.carriers)) {
        const Judgement judged = judgeCarrier(job, *last);
        step.state = judged.result == JudgedAs::Fail ? StepState::Open : StepState::Done;
        step.detail = judged.sentence;
    }
    return step;
}

Message photosAgain(const TrialEntry& trial) {
    if (trial.measurement)
        for (const RecordedPhoto& photo : trial.measurement->photos)
            if (photo.refused)
                return message("job.next-photos-again-because", named(trial), photo.refused->reason,
                               photo.refused->whatToDo);
    return message("job.next-photos-again", named(trial));
}

Message nextOfPattern(const JobRecord& job) {
    const TrialEntry* last = lastTrial(job);
    if (last == nullptr && wearIsUnknown(job)) return message("job.next-enter-before", whatIsMissingBefore(job));
    if (last == nullptr || hasWorkAfter(job, *last) || putRightAfter(job, *last))
        return message("job.next-paint-and-roll");
    if (!last->hasPattern()) return photosAgain(*last);
    if (!last->measurement->advice) return message("job.next-judge-by-eye", named(*last));
    const Advice& advice = *last->measurement->advice;
    switch (advice.verdict) {
        case Verdict::Change:
            return message("job.next-do-advice", named(*last), adviceInShort(advice));
        case Verdict::NoShimWillHelp:
            return message("job.next-look-for-cause", named(*last));
        case Verdict::MeasureAgain:
            return message("job.next-measure-again", named(*last));
        case Verdict::Accept:
            break;
    }
    return message("job.next-leave");
}

/// How the preload is set on this axle, for rolling the pattern.
const char* nextTrialPreload(const JobRecord& job) {
    if (job::spacerOf(job) == PinionSpacer::CrushSleeve) return "job.next-trial-preload-sleeve";
    if (preloadOutlivesShims(job)) return "job.next-trial-preload-support";
    return job::spacerOf(job) == PinionSpacer::SolidSpacer ? "job.next-trial-preload-solid" : "job.next-read-preload";
}

const char* nextPinion(const JobRecord& job) {
    return job::spacerOf(job) == PinionSpacer::CrushSleeve ? "job.next-pinion-sleeve" : "job.next-pinion";
}

const char* nextPreload(const JobRecord& job) {
    const PreloadEntry* last = lastOf(job.preloads);
    const bool failed = last != nullptr && !last->forTrial && judgePreload(job, *last).result == JudgedAs::Fail;
    switch (job::spacerOf(job)) {
        case PinionSpacer::CrushSleeve:
            return failed ? "job.next-set-preload-sleeve" : "job.next-final-preload-sleeve";
        case PinionSpacer::SolidSpacer:
            return failed ? "job.next-set-preload-solid" : "job.next-final-preload-solid";
        case PinionSpacer::NotSaid:
            break;
    }
    return failed ? "job.next-set-preload" : "job.next-final-preload";
}

const char* nextCarrier(const JobRecord& job) {
    const std::optional<CarrierSetting>& carrier = job.gearSet.data.build.carrier;
    if (!carrier) return "job.next-set-carrier";
    return *carrier == CarrierSetting::ThreadedAdjusters ? "job.next-set-carrier-adjusters"
                                                         : "job.next-set-carrier-shims";
}

Message nextSentence(const JobRecord& job, const JobStep& step) {
    if (step.key == "parts") return message("job.next-parts");
    if (step.key == "start-depth") return message("job.next-start-depth");
    if (step.key == "trial-preload") return message(nextTrialPreload(job));
    if (step.key == "runout")
        return message(job.runouts.empty() ? "job.next-read-runout" : "job.next-put-runout-right");
    if (step.key == "pinion") return message(nextPinion(job));
    if (step.key == "preload") return message(nextPreload(job));
    if (step.key == "pattern") return nextOfPattern(job);
    if (step.key == "final-pattern") return message("job.next-final-pattern");
    if (step.key == "backlash") return message("job.next-read-backlash");
    if (step.key == "carrier") return message(nextCarrier(job));
    if (step.key == "torques") return message("job.next-tick-torques");
    if (step.key == "final-assembly") return message("job.next-final-assembly");
    return message("job.next-sign-off");
}

/// Figures for the same shims that contradict one another.
void noteContradictions(const JobRecord& job, std::vector<Attention>& attention) {
    for (std::size_t i = 1; i < job.trials.size(); ++i) {
        const TrialEntry& now = job.trials[i];
        const TrialEntry& before = job.trials[i - 1];
        if (!now.stamp.counts() || !before.stamp.counts()) continue;
        std::optional<double> stacks;
        if (now.shimStackMm && before.shimStackMm) stacks = *now.shimStackMm - *before.shimStackMm;
        std::optional<double> work;
        for (const WorkEntry* entry : workAfter(job, before.stamp.id))
            if (entry->shimChangeMm) work = work.value_or(0) + *entry->shimChangeMm;
        const auto compare = [&](const char* key, const std::optional<double>& a, const std::optional<double>& b) {
            if (a && b && std::abs(*a - *b) > kContradictionMm)
                attention.push_back(
                    {AttentionKind::Contradiction,
                     messageOf(key, {named(now), Message(signedLengthWords(*a)), Message(signedLengthWords(*b))})});
        };
        compare("job.figure-against-stacks", now.shimChangeMm, stacks);
        if (now.shimChangeMm)
            compare("job.figure-against-work", now.shimChangeMm, work);
        else
            compare("job.stacks-against-work", stacks, work);
    }
}

/// By how much the pinion shims changed between the tool's reading and the trial, + = added.
struct ShimsBetween {
    std::optional<double> mm;     ///< nullopt: nobody wrote it down
    bool takenAsTheSame = false;  ///< no change was entered, and one of the stacks is not known
};

ShimsBetween shimsBetween(const JobRecord& job, const DepthEntry& tool, const TrialEntry& trial) {
    if (tool.shimStackMm && trial.shimStackMm) return {*trial.shimStackMm - *tool.shimStackMm};
    const std::int64_t from = secondsOf(tool.stamp.at), to = secondsOf(trial.stamp.at);
    const auto between = [&](const JobStamp& stamp) {
        return stamp.counts() && secondsOf(stamp.at) > from && secondsOf(stamp.at) <= to;
    };
    double sum = 0;
    bool any = false;
    for (const WorkEntry& work : job.work) {
        if (!between(work.stamp)) continue;
        if (!work.shimChangeMm) return {};
        sum += *work.shimChangeMm;
        any = any || std::abs(*work.shimChangeMm) > kNoMoveMm;
    }
    // A trial tells of a change too; where work was entered that is the same one.
    for (const TrialEntry& one : job.trials) {
        if (!between(one.stamp) || !one.shimChangeMm) continue;
        const bool told = std::any_of(job.work.begin(), job.work.end(), [&](const WorkEntry& work) {
            return between(work.stamp) && secondsOf(work.stamp.at) <= secondsOf(one.stamp.at);
        });
        if (told) continue;
        sum += *one.shimChangeMm;
        any = any || std::abs(*one.shimChangeMm) > kNoMoveMm;
    }
    return {sum, !any};
}

/// The depth tool against the marks of the last trial.
void noteToolAgainstMarks(const JobRecord& job, std::vector<Attention>& attention) {
    const DepthEntry* tool = nullptr;
    for (const DepthEntry& entry : job.depths)
        if (entry.stamp.counts() && entry.measuredMm && entry.wantedMm) tool = &entry;
    const TrialEntry* trial = lastTrial(job);
    if (tool == nullptr || trial == nullptr || !trial->hasPattern() || !trial->measurement->advice) return;
    const Estimate& marks = trial->measurement->advice->depthErrorMm;
    if (!(marks.high90 > marks.low90)) return;
    const ShimsBetween shims = shimsBetween(job, *tool, *trial);
    if (!shims.mm) {
        attention.push_back(
            {AttentionKind::ToolAgainstMarks, message(tool->shimStackMm    ? "job.tool-without-stack-of-trial"
                                                      : trial->shimStackMm ? "job.tool-without-its-stack"
                                                                           : "job.tool-without-stacks",
                                                      named(*trial))});
        return;
    }
    const double deeper = job.gearSet.data.build.pinionShim == PinionShim::UnderPinionSupport ? -1 : 1;
    // + = too deep, as the marks' error.
    const double byTool = *tool->wantedMm - *tool->measuredMm + deeper * *shims.mm;
    const double sigma = std::hypot(kDepthToolSigmaMm, (marks.high90 - marks.low90) / (2 * kHalfWidthOf90));
    if (std::abs(byTool - marks.best) <= 2 * sigma) return;
    const Message against = message("job.tool-against-marks", depthErrorWords({byTool, byTool, byTool}), named(*trial),
                                    depthErrorWords(marks), lengthWords(2 * kDepthToolSigmaMm));
    attention.push_back({AttentionKind::ToolAgainstMarks,
                         shims.takenAsTheSame ? twoSentences(against, message("job.tool-same-shims")) : against});
}

void noteSamePhotos(const JobRecord& job, std::vector<Attention>& attention) {
    for (std::size_t i = 0; i < job.trials.size(); ++i) {
        if (!job.trials[i].stamp.counts()) continue;
        for (const JobPhoto& photo : job.trials[i].photos) {
            if (photo.sha256.empty()) continue;
            for (std::size_t k = 0; k < i; ++k) {
                const std::vector<JobPhoto>& others = job.trials[k].photos;
                if (!job.trials[k].stamp.counts() ||
                    std::none_of(others.begin(), others.end(),
                                 [&](const JobPhoto& other) { return other.sha256 == photo.sha256; }))
                    continue;
                attention.push_back({AttentionKind::SamePhoto, message("job.photo-in-two-trials", photo.originalName,
                                                                       named(job.trials[i]), named(job.trials[k]))});
                break;
            }
        }
    }
}

template <typename Entry>
void noteTimes(const std::vector<Entry>& list, std::vector<Attention>& attention) {
    const Entry* before = nullptr;
    for (const Entry& entry : list) {
        if (!entry.stamp.counts()) continue;
        if (before != nullptr && secondsOf(entry.stamp.at) < secondsOf(before->stamp.at))
            attention.push_back({AttentionKind::Times, message("job.dated-before", entry.stamp.id, before->stamp.id)});
        before = &entry;
    }
}

/// Seals and sleeve before the pattern is right; what closes the axle before it is rolled for the last time.
void noteFittedEarly(const JobRecord& job, std::vector<Attention>& attention) {
    const bool stands = patternStands(job);
    const bool waits = signedOff(job) == nullptr && finalPatternStep(job).state == StepState::Open;
    for (const CheckItem& item : job.checks) {
        if (!item.onlyAtTheEnd || item.state != CheckState::Done) continue;
        if (!stands)
            attention.push_back({AttentionKind::FittedEarly, message("job.fitted-early", item.key)});
        else if (waits && item.list == CheckList::FinalAssembly)
            attention.push_back({AttentionKind::FittedEarly, message("job.closed-early", item.key)});
    }
}

std::vector<Attention> attentionOf(const JobRecord& job) {
    std::vector<Attention> attention;
    if (const SignOff* done = signedOff(job); done != nullptr)
        if (const std::optional<JobStop> stop = jobStop(job))
            attention.push_back({AttentionKind::Stop, stop->found, stop->found});
    noteContradictions(job, attention);
    noteToolAgainstMarks(job, attention);
    noteSamePhotos(job, attention);
    noteTimes(job.trials, attention);
    noteTimes(job.work, attention);
    noteFittedEarly(job, attention);
    if (const TrialEntry* last = lastTrial(job); last != nullptr && last->measurement && last->measurement->advice)
        for (const Diagnosis& cause : last->measurement->advice->diagnoses)
            if (cause.chance >= kLikely)
                attention.push_back(
                    {AttentionKind::Cause, message("job.trial-shows", named(*last), cause.evidence), cause.evidence});
    if (const SignOff* done = signedOff(job); done != nullptr && !done->open.empty())
        attention.push_back({AttentionKind::SignedOffOpen,
                             message("job.signed-off-open", job::joined(done->open, "; "), done->stamp.note)});
    return attention;
}

}  // namespace

std::string_view name(StepState state) {
    switch (state) {
        case StepState::Done:
            return "done";
        case StepState::Next:
            return "next";
        case StepState::Open:
            return "open";
        case StepState::NotNeeded:
            return "not-needed";
    }
    throw std::logic_error("a state of a step without a name");
}

const RunoutEntry* runoutPutRight(const JobRecord& job) {
    const RunoutEntry* right = nullptr;
    bool failed = false;
    for (const RunoutEntry& entry : job.runouts) {
        if (!entry.stamp.counts() || entry.place != RunoutPlace::RingGear) continue;
        if (judgeRunout(job, entry).result == JudgedAs::Fail) {
            failed = true;
            right = nullptr;
        } else if (failed && right == nullptr) {
            right = &entry;
        }
    }
    return right;
}

std::optional<JobStop> jobStop(const JobRecord& job) {
    // No play at all leads: who turns it on breaks something. Work since may have given it play.
    if (const NewestBacklash newest = newestBacklash(job); newest.jammed && !newest.stale)
        for (const Judgement& one : newest.judged)
            if (one.what == Judged::Backlash && one.result == JudgedAs::Fail)
                return JobStop{"backlash", one.sentence, message("job.next-give-play")};
    const RunoutEntry* ring = nullptr;
    for (const RunoutEntry& entry : job.runouts)
        if (entry.stamp.counts() && entry.place == RunoutPlace::RingGear) ring = &entry;
    if (ring != nullptr)
        if (const Judgement judged = judgeRunout(job, *ring); judged.result == JudgedAs::Fail)
            return JobStop{"runout", judged.sentence, message("job.next-put-runout-right")};
    const NewestRound round = newestRound(job);
    for (const Judgement& one : round.judged)
        if (one.what == Judged::BacklashVariation && one.result == JudgedAs::Fail)
            return ring == nullptr ? JobStop{"runout", one.sentence, message("job.next-uneven-read-runout")}
                                   : JobStop{"backlash", one.sentence, message("job.next-uneven")};
    const std::optional<Interval>& limits = job.gearSet.data.limits.backlashMm;
    const NewestBacklash newest = newestBacklash(job);
    // A later reading, or work since, shows that the ring gear was moved. Used gears are not set by the limits.
    const bool isSetByLimits = limits && job.build != BuildKind::UsedGears && newest.at <= round.at && !newest.stale;
    for (const Judgement& one : round.judged) {
        if (!isSetByLimits || one.what != Judged::Backlash || one.result != JudgedAs::Fail) continue;
        const auto [least, most] =
            std::minmax_element(round.points.begin(), round.points.end(),
                                [](const BacklashPoint& a, const BacklashPoint& b) { return a.mm < b.mm; });
        const bool cured =
            job::bySheetsDial(job, most->mm - least->mm, round.dial) <= limits->high - limits->low + job::kSameMm;
        return JobStop{"backlash", one.sentence,
                       message(cured             ? "job.next-move-inside-limits"
                               : ring == nullptr ? "job.next-no-setting-read-runout"
                                                 : "job.next-no-setting")};
    }
    const TrialEntry* last = lastTrial(job);
    if (last == nullptr || !last->hasPattern() || !last->measurement->advice || !last->measurement->advice->stop ||
        isReadForCheck(job, *last) || hasWorkAfter(job, *last) || putRightAfter(job, *last))
        return std::nullopt;
    const Stop& stop = *last->measurement->advice->stop;
    if (stop.kind == StopKind::WearNotKnown)
        return JobStop{"pattern", stop.evidence, message("job.next-wear-not-known", whatIsMissingBefore(job))};
    return JobStop{"pattern", stop.evidence, message("job.next-find-stop", named(*last), stop.evidence)};
}

std::string adviceInShort(const Advice& advice) { return leadOf(advice); }

namespace {

/// A job was signed off by the steps that the program of its time had: what was done by these counts as done.
void countAsSigned(const JobRecord& job, const SignOff& done, std::vector<JobStep>& steps) {
    for (JobStep& step : steps) {
        if (step.state != StepState::Open) continue;
        const bool wasOpen = std::find(done.open.begin(), done.open.end(), step.title) != done.open.end();
        const bool lineIsOpen = std::any_of(job.checks.begin(), job.checks.end(), [&](const CheckItem& item) {
            return item.state == CheckState::Open &&
                   std::find(step.lines.begin(), step.lines.end(), item.key) != step.lines.end();
        });
        if (wasOpen || lineIsOpen) continue;
        step.state = StepState::Done;
        step.open.clear();
        step.detail = message("job.step-signed-off");
    }
}

}  // namespace

std::string_view name(OpenAgain why) {
    switch (why) {
        case OpenAgain::WithoutTorque:
            return "without-torque";
        case OpenAgain::WrongTorque:
            return "wrong-torque";
        case OpenAgain::BeforeChange:
            break;
    }
    return "before-change";
}

std::optional<OpenAgain> openAgain(const JobRecord& job, const CheckItem& item) {
    if (item.state != CheckState::Done) return std::nullopt;
    if (takesTorque(item) && !item.torqueNm && item.stamp.note.empty()) return OpenAgain::WithoutTorque;
    if (item.torqueNm && judgeTorque(job, item).result == JudgedAs::Fail) return OpenAgain::WrongTorque;
    if (isUndone(job, item)) return OpenAgain::BeforeChange;
    return std::nullopt;
}

JobStatus jobStatus(const JobRecord& job) {
    JobStatus status;
    if (signedOff(job) == nullptr) status.stop = jobStop(job);
    status.steps = {checkStep(job, CheckList::Parts, "parts", "job.step-parts"),
                    startDepthStep(job),
                    trialPreloadStep(job),
                    runoutStep(job),
                    carrierStep(job),
                    backlashStep(job),
                    patternStep(job),
                    pinionStep(job),
                    preloadStep(job),
                    torqueStep(job),
                    finalPatternStep(job),
                    checkStep(job, CheckList::FinalAssembly, "final-assembly", "job.step-final-assembly"),
                    openStep("sign-off", "job.step-sign-off", message("job.not-signed-off"))};
    if (const SignOff* done = signedOff(job)) {
        JobStep& step = status.steps.back();
        step.state = StepState::Done;
        step.detail = message("job.signed-off-by", done->stamp.by, done->stamp.at);
        status.next = message("job.next-nothing");
        countAsSigned(job, *done, status.steps);
    } else {
        // While a pattern is sought, the next trial comes first; it brings its own backlash.
        const bool seeking = lastTrial(job) != nullptr && !patternStands(job) && !status.stop;
        const auto waits = [&](const JobStep& step) {
            return seeking && (step.key == "parts" || step.key == "carrier" || step.key == "backlash");
        };
        // Used gears are looked at before anything comes apart.
        const bool beforeFirst = wearIsUnknown(job) && lastTrial(job) == nullptr && !status.stop;
        for (JobStep& step : status.steps) {
            if (beforeFirst && step.key != "pattern") continue;
            if (step.state != StepState::Open || waits(step)) continue;
            // What stops the setting comes before everything else.
            if (status.stop && step.key != status.stop->step) continue;
            step.state = StepState::Next;
            status.next = status.stop ? status.stop->next : nextSentence(job, step);
            break;
        }
    }
    status.attention = attentionOf(job);
    if (signedOff(job) == nullptr) status.cautions = {message("job.makers-sheet-first"), message("job.use-stands")};
    return status;
}

std::vector<Message> sentencesOf(std::span<const Attention> attention) {
    std::vector<Message> sentences;
    for (const Attention& one : attention) sentences.push_back(one.sentence);
    return sentences;
}

Message withTrialNumbers(Message sentence, const JobRecord& job) {
    for (Message& value : sentence.values) value = withTrialNumbers(std::move(value), job);
    if (sentence.id != kTrialId) return sentence;
    int number = 0;
    for (const TrialEntry& trial : job.trials) {
        if (trial.stamp.counts()) ++number;
        if (sentence.values.front() == Message(trial.stamp.id))
            return trial.stamp.counts() ? Message(number) : message("job.trial-id-struck-out", trial.stamp.id);
    }
    return sentence;
}

}  // namespace shimsight
