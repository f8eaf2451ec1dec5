#include <algorithm>
#include <cmath>

#include "job/words.h"
#include "shimsight/advice_start.h"
#include "shimsight/advice_words.h"
#include "shimsight/job.h"

namespace shimsight {
namespace {

using job::lengthWords;
using job::signedLengthWords;

/// Two figures for the same shims contradict each other beyond this: half a thousandth of an inch, half a shim step.
constexpr double kContradictionMm = 0.0127;
/// A cause that is at least this likely is named.
constexpr double kLikely = 0.5;

bool hasWorkAfter(const JobRecord& job, const TrialEntry& trial) { return !workAfter(job, trial.stamp.id).empty(); }

bool isAccepted(const TrialEntry& trial) {
    return trial.hasPattern() && trial.reading->advice && trial.reading->advice->verdict == Verdict::Accept &&
           !trial.reading->advice->stop;
}

/// The ring gear was taken off and put right after this trial, so the trial shows another setting.
bool putRightAfter(const JobRecord& job, const TrialEntry& trial) {
    const RunoutEntry* right = runoutPutRight(job);
    return right != nullptr && secondsOf(right->stamp.at) > secondsOf(trial.stamp.at);
}

/// A check of an axle in which nothing is changed ends with the reading: used gears need no number to be left alone.
bool isReadForCheck(const JobRecord& job, const TrialEntry& trial) {
    return job.build == BuildKind::CheckOnly && trial.hasPattern() && trial.reading->advice &&
           trial.reading->advice->stop && trial.reading->advice->stop->kind == StopKind::WearNotKnown;
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

std::string whatIsMissingBefore(const JobRecord& job) {
    const std::optional<TrialObservation> before = beforeOf(job);
    const bool marks = before && (before->drive || before->coast), backlash = before && before->backlashMm;
    return marks      ? "the backlash"
           : backlash ? "the marks (photos of drive and coast side)"
                      : "the marks (photos of drive and coast side) and the backlash";
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
    JobStep step{"runout", "Runout of the ring gear", StepState::Open, "Not read yet."};
    const RunoutEntry* last = nullptr;
    for (const RunoutEntry& entry : job.runouts)
        if (entry.stamp.counts() && entry.place == RunoutPlace::RingGear) last = &entry;
    if (last == nullptr) return step;
    const Judgement judged = judgeRunout(job, *last);
    step.detail = judged.sentence;
    if (judged.result != JudgedAs::Fail) step.state = StepState::Done;
    return step;
}

JobStep preloadStep(const JobRecord& job) {
    JobStep step{"preload", "Preload of the pinion bearings", StepState::Open, "Not read yet."};
    if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = "Nothing is taken apart.";
    }
    const PreloadEntry* last = lastOf(job.preloads);
    if (last == nullptr) return step;
    const Judgement judged = judgePreload(job, *last);
    step.detail = judged.sentence;
    if (judged.result == JudgedAs::Fail || last->withOilSeal) {
        step.state = StepState::Open;
    } else if (secondsOf(last->stamp.at) < lastChange(job, false)) {
        step.state = StepState::Open;
        step.detail = "Read before the last change of the pinion shims: read it again when the pinion is in for good.";
    } else {
        step.state = StepState::Done;
    }
    return step;
}

JobStep patternStep(const JobRecord& job) {
    JobStep step{"pattern", "Contact pattern", StepState::Open, "No trial yet."};
    const TrialEntry* last = lastTrial(job);
    const std::optional<JobStop> stop = jobStop(job);
    if (stop && (last != nullptr || stop->step != "pattern")) {
        step.detail = "Nothing is set or accepted before this is put right: " + stop->found;
        return step;
    }
    if (last == nullptr) {
        if (wearIsUnknown(job))
            step.detail = "No trial yet. Used gears are set to what they were: " + whatIsMissingBefore(job) +
                          " from before they came apart is not entered.";
        return step;
    }
    const std::string which = "Trial " + last->stamp.id;
    if (!last->hasPattern()) {
        step.detail = which + " could not be read.";
    } else if (patternStands(job)) {
        step.state = StepState::Done;
        step.detail =
            isAccepted(*last) ? which + " is good: it was advised to leave it." : which + " was read for the check.";
    } else if (putRightAfter(job, *last)) {
        step.detail =
            "The ring gear was put right after trial " + last->stamp.id + "; it takes a new trial to see the result.";
    } else if (hasWorkAfter(job, *last)) {
        step.detail =
            "The setting was changed after trial " + last->stamp.id + "; it takes a new trial to see the result.";
    } else if (last->reading->advice) {
        const Advice& advice = *last->reading->advice;
        step.detail = which + ": " +
                      (advice.verdict == Verdict::Change           ? "a change was advised."
                       : advice.verdict == Verdict::NoShimWillHelp ? "no shim will put this right."
                                                                   : "it was advised to measure again.");
    } else {
        step.detail = which + " has a pattern but no advice.";
    }
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
    std::vector<Judgement> judged;
};

NewestRound newestRound(const JobRecord& job) {
    NewestRound newest;
    for (const BacklashEntry& entry : job.backlashes)
        if (entry.stamp.counts() && entry.points.size() > 1 && secondsOf(entry.stamp.at) >= newest.at)
            newest = {secondsOf(entry.stamp.at), entry.stamp.id, entry.points, judgeBacklash(job, entry)};
    for (const TrialEntry& trial : job.trials)
        if (trial.stamp.counts() && trial.backlashRound.size() > 1 && secondsOf(trial.stamp.at) >= newest.at)
            newest = {secondsOf(trial.stamp.at), trial.stamp.id, trial.backlashRound,
                      judgeBacklash(job, {trial.stamp, trial.backlashRound, trial.dial})};
    return newest;
}

JobStep backlashStep(const JobRecord& job) {
    JobStep step{"backlash", "Backlash", StepState::Open, "Not read yet."};
    if (const std::optional<JobStop> stop = jobStop(job); stop && stop->step == "backlash") {
        step.detail = stop->found;
        return step;
    }
    const NewestBacklash newest = newestBacklash(job);
    if (newest.at < 0) return step;
    bool fails = false;
    step.detail.clear();
    for (const Judgement& one : newest.judged) {
        fails = fails || one.result == JudgedAs::Fail;
        step.detail += (step.detail.empty() ? "" : " ") + one.sentence;
    }
    if (fails) return step;
    if (newest.stale) {
        step.detail = "Read before the last change of the setting: read it again.";
        return step;
    }
    step.state = StepState::Done;
    return step;
}

JobStep carrierStep(const JobRecord& job) {
    JobStep step{"carrier", "Preload of the carrier bearings", StepState::Open, "Not written down yet."};
    if (job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = "Nothing is taken apart.";
    }
    if (const CarrierEntry* last = lastOf(job.carriers)) {
        step.state = StepState::Done;
        step.detail = judgeCarrier(job, *last).sentence;
    }
    return step;
}

JobStep checkStep(const JobRecord& job, CheckList list, const char* key, const char* title) {
    JobStep step{key, title, StepState::Open, {}};
    std::string open;
    int done = 0, all = 0;
    for (const CheckItem& item : job.checks) {
        if (item.list != list) continue;
        ++all;
        const bool wrong =
            item.state == CheckState::Done && item.torqueNm && judgeTorque(item).result == JudgedAs::Fail;
        if (item.state == CheckState::Open || wrong)
            open += (open.empty() ? "" : ", ") + item.key + (wrong ? " (wrong torque)" : "");
        else
            ++done;
    }
    step.detail =
        std::to_string(done) + " of " + std::to_string(all) + " done" + (open.empty() ? "." : "; open: " + open + ".");
    if (list == CheckList::Torque && job.build == BuildKind::CheckOnly) {
        step.state = StepState::NotNeeded;
        step.detail = "Nothing is taken apart.";
    } else if (open.empty()) {
        step.state = StepState::Done;
    }
    return step;
}

std::string nextOfPattern(const JobRecord& job) {
    const TrialEntry* last = lastTrial(job);
    if (last == nullptr && wearIsUnknown(job))
        return "Enter what these gears were before they came apart: " + whatIsMissingBefore(job) +
               ". They are set to that; without it no correction can be worked out.";
    if (last == nullptr || hasWorkAfter(job, *last) || putRightAfter(job, *last))
        return "Paint three or four ring gear teeth, roll them both ways under a little drag, photograph drive and "
               "coast "
               "side, and enter the trial with shim stack and backlash.";
    if (!last->hasPattern()) {
        std::string what = "Take the photos of trial " + last->stamp.id + " again and enter them as a new trial.";
        if (last->reading)
            for (const ReadingPhoto& photo : last->reading->photos)
                if (photo.refused)
                    return what + " What was wrong: " + text(photo.refused->reason) + " " +
                           text(photo.refused->whatToDo);
        return what;
    }
    if (!last->reading->advice) return "Judge trial " + last->stamp.id + " by eye: no advice could be worked out.";
    const Advice& advice = *last->reading->advice;
    switch (advice.verdict) {
        case Verdict::Change:
            return "Do what trial " + last->stamp.id + " asks for: " + adviceInShort(advice) +
                   " Then enter what was really done.";
        case Verdict::NoShimWillHelp:
            return "Trial " + last->stamp.id +
                   " says that no shim will put this right: look for the cause that its advice names before you go on.";
        case Verdict::MeasureAgain:
            return "Wipe the teeth, paint, roll and photograph them once more; trial " + last->stamp.id +
                   " does not carry a correction.";
        case Verdict::Accept:
            break;
    }
    return "Leave the setting as it is.";
}

std::string nextSentence(const JobRecord& job, const JobStep& step) {
    if (step.key == "runout") {
        if (job.runouts.empty())
            return "Read the runout of the ring gear's back face with a dial over one whole turn, and enter it.";
        return "Put the runout of the ring gear right before you set anything by it, and read it again.";
    }
    if (step.key == "preload") {
        if (lastOf(job.preloads) == nullptr)
            return "Read the turning torque of the pinion, without the oil seal and before the carrier goes in, and "
                   "enter "
                   "it.";
        return "Set the preload of the pinion bearings and enter the new reading.";
    }
    if (step.key == "pattern") return nextOfPattern(job);
    if (step.key == "backlash")
        return "Read the backlash at four places or more round the ring gear with the caps tight, and enter it.";
    if (step.key == "carrier")
        return "Set the preload of the carrier bearings as the maker's sheet says, and enter it.";
    if (step.key == "torques") return "Tighten by the maker's sheet and tick the torques off, each with its value.";
    if (step.key == "final-assembly")
        return "Work off the final assembly list: clean the paste off, then fit oil seals and O-ring, and tick each "
               "line.";
    return "Everything is done: look it over and sign off.";
}

/// Figures for the same shims that contradict one another.
void noteContradictions(const JobRecord& job, std::vector<std::string>& attention) {
    for (std::size_t i = 1; i < job.trials.size(); ++i) {
        const TrialEntry& now = job.trials[i];
        const TrialEntry& before = job.trials[i - 1];
        if (!now.stamp.counts() || !before.stamp.counts()) continue;
        std::optional<double> stacks;
        if (now.shimStackMm && before.shimStackMm) stacks = *now.shimStackMm - *before.shimStackMm;
        std::optional<double> work;
        for (const WorkEntry* entry : workAfter(job, before.stamp.id))
            if (entry->shimChangeMm) work = work.value_or(0) + *entry->shimChangeMm;
        const auto compare = [&](const std::optional<double>& a, const char* aName, const std::optional<double>& b,
                                 const char* bName) {
            if (a && b && std::abs(*a - *b) > kContradictionMm)
                attention.push_back("Before trial " + now.stamp.id + " the pinion shims changed by " +
                                    signedLengthWords(*a) + " by " + aName + ", but by " + signedLengthWords(*b) +
                                    " by " + bName + ". Measure the stack and strike out the wrong figure.");
        };
        compare(now.shimChangeMm, "the trial's own figure", stacks, "the two stacks");
        compare(now.shimChangeMm ? now.shimChangeMm : stacks,
                now.shimChangeMm ? "the trial's own figure" : "the two stacks", work, "the work that was entered");
    }
}

void noteSamePhotos(const JobRecord& job, std::vector<std::string>& attention) {
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
                attention.push_back("The photo " + photo.originalName + " of trial " + job.trials[i].stamp.id +
                                    " is also in trial " + job.trials[k].stamp.id +
                                    ": one of the two shows the wrong setting.");
                break;
            }
        }
    }
}

template <typename Entry>
void noteTimes(const std::vector<Entry>& list, std::vector<std::string>& attention) {
    const Entry* before = nullptr;
    for (const Entry& entry : list) {
        if (!entry.stamp.counts()) continue;
        if (before != nullptr && secondsOf(entry.stamp.at) < secondsOf(before->stamp.at))
            attention.push_back("\"" + entry.stamp.id + "\" is dated before \"" + before->stamp.id +
                                "\", though it was entered after it. Check the clock.");
        before = &entry;
    }
}

std::vector<std::string> attentionOf(const JobRecord& job) {
    std::vector<std::string> attention;
    if (const SignOff* done = signedOff(job); done != nullptr)
        if (const std::optional<JobStop> stop = jobStop(job)) attention.push_back(stop->found);
    noteContradictions(job, attention);
    noteSamePhotos(job, attention);
    noteTimes(job.trials, attention);
    noteTimes(job.work, attention);
    if (!patternStands(job))
        for (const CheckItem& item : job.checks)
            if (item.onlyAtTheEnd && item.state == CheckState::Done)
                attention.push_back(
                    "\"" + item.key +
                    "\" is ticked, but the pattern is not accepted yet: it will have to come out again, "
                    "and a seal that was out is not fitted twice.");
    if (const TrialEntry* last = lastTrial(job); last != nullptr && last->reading && last->reading->advice)
        for (const Diagnosis& cause : last->reading->advice->diagnoses)
            if (cause.chance >= kLikely) attention.push_back("Trial " + last->stamp.id + ": " + text(cause.evidence));
    if (const SignOff* done = signedOff(job)) {
        if (!done->open.empty()) {
            std::string open;
            for (const std::string& title : done->open) open += (open.empty() ? "" : "; ") + title;
            attention.push_back("Signed off with this still open: " + open + ". Reason: " + done->stamp.note);
        }
    }
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
            if (one.what == "backlash" && one.result == JudgedAs::Fail)
                return JobStop{"backlash", one.sentence,
                               "No play: do not force the gears round. Move the ring gear away from the pinion until "
                               "there is play, then read the backlash at four places or more round it."};
    const RunoutEntry* ring = nullptr;
    for (const RunoutEntry& entry : job.runouts)
        if (entry.stamp.counts() && entry.place == RunoutPlace::RingGear) ring = &entry;
    if (ring != nullptr)
        if (const Judgement judged = judgeRunout(job, *ring); judged.result == JudgedAs::Fail)
            return JobStop{"runout", judged.sentence,
                           "Put the runout of the ring gear right before you set anything by it, and read it again."};
    const NewestRound round = newestRound(job);
    const std::string look =
        ring == nullptr ? "read the runout of the ring gear's back face, and look for dirt or a burr under the "
                          "ring gear, loose bolts and loose bearings"
                        : "look for dirt or a burr under the ring gear, loose bolts and loose bearings, and "
                          "read the runout again";
    for (const Judgement& one : round.judged)
        if (one.what == "backlash variation" && one.result == JudgedAs::Fail)
            return JobStop{ring == nullptr ? "runout" : "backlash", one.sentence,
                           "Find why the backlash is uneven before you set anything by it: " + look +
                               ". Then read the backlash round the ring gear again."};
    const std::optional<Interval>& limits = job.gearSet.data.limits.backlashMm;
    const NewestBacklash newest = newestBacklash(job);
    // A later reading, or work since, shows that the ring gear was moved. Used gears are not set by the limits.
    const bool isSetByLimits = limits && job.build != BuildKind::UsedGears && newest.at <= round.at && !newest.stale;
    for (const Judgement& one : round.judged) {
        if (!isSetByLimits || one.what != "backlash" || one.result != JudgedAs::Fail) continue;
        const auto [least, most] =
            std::minmax_element(round.points.begin(), round.points.end(),
                                [](const BacklashPoint& a, const BacklashPoint& b) { return a.mm < b.mm; });
        const bool cured = most->mm - least->mm <= limits->high - limits->low + job::kSameMm;
        return JobStop{"backlash", one.sentence,
                       cured ? "Move the ring gear until every place round it lies inside the limits, and read the "
                               "backlash round it again."
                             : "No one setting brings every place inside the limits. Find why first: " + look + "."};
    }
    const TrialEntry* last = lastTrial(job);
    if (last == nullptr || !last->hasPattern() || !last->reading->advice || !last->reading->advice->stop ||
        isReadForCheck(job, *last) || hasWorkAfter(job, *last) || putRightAfter(job, *last))
        return std::nullopt;
    const Stop& stop = *last->reading->advice->stop;
    if (stop.kind == StopKind::WearNotKnown)
        return JobStop{"pattern", text(stop.evidence),
                       "Enter " + whatIsMissingBefore(job) +
                           " of these gears from before they came apart. Where nobody knows, no correction can be "
                           "worked out: set them by eye to the polished area of their wear, and sign with the reason."};
    return JobStop{"pattern", text(stop.evidence),
                   "Find this before anything is set by trial " + last->stamp.id + ": " + text(stop.evidence)};
}

std::string adviceInShort(const Advice& advice) { return leadOf(advice); }

JobStatus jobStatus(const JobRecord& job) {
    JobStatus status;
    if (signedOff(job) == nullptr) status.stop = jobStop(job);
    status.steps = {runoutStep(job),
                    preloadStep(job),
                    patternStep(job),
                    backlashStep(job),
                    carrierStep(job),
                    checkStep(job, CheckList::Torque, "torques", "Torques"),
                    checkStep(job, CheckList::FinalAssembly, "final-assembly", "Final assembly"),
                    {"sign-off", "Sign-off", StepState::Open, "Not signed off."}};
    if (const SignOff* done = signedOff(job)) {
        JobStep& step = status.steps.back();
        step.state = StepState::Done;
        step.detail = "Signed off by " + done->stamp.by + " on " + done->stamp.at + ".";
        status.next = "Nothing: the job is signed off.";
    } else {
        // While the pattern is being found, the preload waits once it has been right: the pinion comes out again.
        const bool preloadWaits =
            !patternStands(job) && lastTrial(job) != nullptr &&
            std::any_of(job.preloads.begin(), job.preloads.end(), [&](const PreloadEntry& entry) {
                return entry.stamp.counts() && !entry.withOilSeal && judgePreload(job, entry).result != JudgedAs::Fail;
            });
        for (JobStep& step : status.steps) {
            if (step.state != StepState::Open || (step.key == "preload" && preloadWaits)) continue;
            // What stops the setting comes before everything else.
            if (status.stop && step.key != status.stop->step) continue;
            step.state = StepState::Next;
            status.next = status.stop ? status.stop->next : nextSentence(job, step);
            break;
        }
    }
    status.attention = attentionOf(job);
    if (signedOff(job) == nullptr)
        status.cautions = {"The maker's sheet for this axle comes first: limits, torques, new bolts and seals.",
                           "Put the vehicle on stands, and keep fingers out of the gears when they turn."};
    return status;
}

}  // namespace shimsight
