// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "review/judge.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>

#include "shimsight/advice_words.h"
#include "shimsight/review_words.h"
#include "shimsight/words.h"

namespace shimsight::review {
namespace {

/// A cause is told from this chance on.
constexpr double kTellChance = 0.5;
/// The tooth form of a photo contradicts the gear set from this chance on.
constexpr double kSureCut = 0.9;
/// Shims and dials are read to about half of these (common practice, no source).
constexpr double kSameShimMm = 0.02, kSameBacklashMm = 0.03;
/// A depth error that changed by less is the same: the measurements' own error is about this (tests/accuracy/line).
constexpr double kSameDepthMm = 0.02;
/// Two measurements of one photo by two programs differ by less than this (share of the flank), besides their own
/// errors.
constexpr double kSameCentre = 0.03;
constexpr double kErrors = 3;  ///< standard errors

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
    return text;
}

std::string shownName(const KeptPhoto& photo) {
    return photo.originalName.empty() ? std::filesystem::path(photo.file).filename().string() : photo.originalName;
}

/// The side that a file's name tells, when it tells one.
std::optional<Side> sideByName(const KeptPhoto& photo) {
    const std::string text = lower(shownName(photo));
    const bool drive = text.find("drive") != std::string::npos, coast = text.find("coast") != std::string::npos;
    if (drive == coast) return std::nullopt;
    return drive ? Side::Drive : Side::Coast;
}

void add(std::vector<Finding>& findings, FindingKind kind, std::string text, bool looksWrong = true) {
    findings.push_back({kind, std::move(text), looksWrong});
}

/// What the photos of one trial tell by themselves.
void addPhotoFindings(ReviewedTrial& trial, const GearSetData* gearSet) {
    std::array<int, 2> photosOf{};
    for (const KeptPhoto& photo : trial.kept.photos) {
        const auto seen = photo.side();
        if (seen) ++photosOf[index(*seen)];
        if (const auto told = sideByName(photo); told && seen && *told != *seen)
            add(trial.findings, FindingKind::OtherSide,
                say(*seen == Side::Drive ? "review.named-coast-shows-drive" : "review.named-drive-shows-coast",
                    shownName(photo)));
        if (!photo.cut || gearSet == nullptr || !gearSet->cut) continue;
        const bool milled = *gearSet->cut == Cut::FaceMilled;
        const double against = milled ? 1 - photo.cut->chanceFaceMilled : photo.cut->chanceFaceMilled;
        if (against >= kSureCut)
            add(trial.findings, FindingKind::WrongGearSet,
                say(milled ? "review.looks-hobbed" : "review.looks-milled", shownName(photo), chanceWords(against),
                    photo.cut->because));
    }
    if (!trial.kept.anythingRead()) {
        add(trial.findings, FindingKind::NotRead,
            say(trial.kept.photos.empty() ? "review.nothing-there" : "review.nothing-read"), false);
        return;
    }
    for (const Side side : kSides) {
        if (trial.kept.sides[index(side)]) continue;
        const Side other = side == Side::Drive ? Side::Coast : Side::Drive;
        const bool twice = photosOf[index(other)] >= 2;
        const bool drive = side == Side::Drive;
        add(trial.findings, FindingKind::SideMissing,
            twice ? say(drive ? "review.drive-missing-coast-twice" : "review.coast-missing-drive-twice",
                        photosOf[index(other)])
                  : say(drive ? "review.drive-missing" : "review.coast-missing"),
            twice);
    }
}

void addDiagnoses(ReviewedTrial& trial) {
    if (!trial.advice) return;
    for (const Diagnosis& diagnosis : trial.advice->diagnoses) {
        if (diagnosis.chance < kTellChance) continue;
        FindingKind kind = FindingKind::Cause;
        if (diagnosis.kind == DiagnosisKind::SidesSwapped) kind = FindingKind::OtherSide;
        if (diagnosis.kind == DiagnosisKind::WrongGearData) kind = FindingKind::WrongGearSet;
        if (diagnosis.kind == DiagnosisKind::EntryChange || diagnosis.kind == DiagnosisKind::EntryBacklash)
            kind = FindingKind::Entry;
        add(trial.findings, kind, text(diagnosis.evidence), kind != FindingKind::Cause);
    }
}

/// What the record has of a trial against what its photos show now.
void compareWithRecord(ReviewedTrial& trial, const TrialEntry& entry) {
    if (entry.origin == PatternOrigin::Drawn || !entry.measurement) return;
    for (const Side side : kSides) {
        const auto& then = side == Side::Drive ? entry.measurement->drive : entry.measurement->coast;
        const auto& now = trial.kept.sides[index(side)];
        if (then.has_value() != now.has_value()) {
            add(trial.findings, FindingKind::RecordDiffers,
                say(then ? "review.only-record-has-pattern" : "review.only-photos-give-pattern", wordFor(side)));
            continue;
        }
        if (!then) continue;
        const Pattern& p = now->pattern;
        const auto far = [](double a, double b, double sa, double sb) {
            return std::abs(a - b) > kSameCentre + kErrors * std::hypot(sa, sb);
        };
        if (far(then->toeHeel, p.toeHeel, then->sigmaToeHeel, p.sigmaToeHeel) ||
            far(then->rootTip, p.rootTip, then->sigmaRootTip, p.sigmaRootTip))
            add(trial.findings, FindingKind::RecordDiffers,
                say("review.pattern-lies-elsewhere", wordFor(side), centreText(*then), centreText(p)));
    }
    if (!entry.measurement->advice || !trial.advice) return;
    const Advice &then = *entry.measurement->advice, &now = *trial.advice;
    const bool otherShim = then.verdict == Verdict::Change && now.verdict == Verdict::Change &&
                           std::abs(then.shim.thicknessChangeMm - now.shim.thicknessChangeMm) > 2 * kSameShimMm;
    if (then.verdict != now.verdict || otherShim) {
        // The same marks weighed a little otherwise, or another of two moves that are equally good: no fault inside
        // what is known.
        const double known = now.depthErrorMm.high90 - now.depthErrorMm.low90;
        const bool apart =
            then.verdict != now.verdict || std::abs(then.shim.thicknessChangeMm - now.shim.thicknessChangeMm) > known;
        add(trial.findings, FindingKind::RecordDiffers,
            say("review.advice-differs", leadInShort(then), leadInShort(now)), apart);
    }
}

std::string doneWords(std::optional<double> shimChangeMm, std::optional<double> backlashMm) {
    if (!backlashMm) return shimChangeMm ? shimChangeText(*shimChangeMm, true) : std::string();
    const std::string backlash = say("review.backlash", lengthText(*backlashMm));
    return shimChangeMm ? say("review.shims-and-backlash", shimChangeText(*shimChangeMm, true), backlash) : backlash;
}

/// What was done between this trial that counts and the next one.
std::optional<DoneNext> doneAfter(const JobRecord& record, const TrialEntry& entry, const TrialEntry* following) {
    DoneNext done;
    const auto join = [&](const std::string& text) {
        if (!text.empty() && done.note.find(text) == std::string::npos)
            done.note += (done.note.empty() ? "" : " ") + text;
    };
    const std::vector<const WorkEntry*> work = workAfter(record, entry.stamp.id);
    for (const WorkEntry* w : work) {
        if (w->shimChangeMm) done.shimChangeMm = done.shimChangeMm.value_or(0) + *w->shimChangeMm;
        if (w->backlashMm) done.backlashMm = w->backlashMm;
        join(w->stamp.note);
    }
    if (following != nullptr) {
        if (!done.shimChangeMm) done.shimChangeMm = following->shimChangeMm;
        if (!done.shimChangeMm && entry.shimStackMm && following->shimStackMm)
            done.shimChangeMm = *following->shimStackMm - *entry.shimStackMm;
        if (!done.backlashMm) done.backlashMm = following->backlashMm;
        join(following->changed);
        join(following->why);
    }
    if (work.empty() && following == nullptr) return std::nullopt;
    done.words = doneWords(done.shimChangeMm, done.backlashMm);
    if (done.words.empty()) done.words = done.note.empty() ? say("review.not-said") : done.note;
    return done;
}

std::string againstAdviceText(const Advice& advice, const DoneNext& done) {
    const auto told = [&](const char* key) { return say(key, leadInShort(advice), done.words); };
    switch (*done.as) {
        case DoneAs::OtherWayRound:
            return told("review.done-other-way-round");
        case DoneAs::LessThanAdvised:
            return told("review.done-less");
        case DoneAs::MoreThanAdvised:
            return told("review.done-more");
        case DoneAs::OtherThanAdvised:
            return told("review.done-other");
        case DoneAs::NotAdvised:
        case DoneAs::AsAdvised:
            break;
    }
    return told("review.done-not-advised");
}

/// Photos that stand in two trials, and times that do not follow the trials' order.
void addJobFindings(ReviewedJob& job) {
    std::map<std::string, std::pair<std::size_t, const KeptPhoto*>> firstUse;
    std::string latest;
    std::string latestLabel;
    for (std::size_t k = 0; k < job.trials.size(); ++k) {
        ReviewedTrial& trial = job.trials[k];
        std::string newest;
        for (const KeptPhoto& photo : trial.kept.photos) {
            if (!photo.sha256.empty()) {
                const auto [at, isNew] = firstUse.try_emplace(photo.sha256, k, &photo);
                const auto& [firstTrial, twin] = at->second;
                if (!isNew)
                    add(trial.findings, FindingKind::SamePhoto,
                        firstTrial == k ? say("review.same-photo-here", shownName(photo), shownName(*twin))
                                        : say("review.same-photo-in-trial", shownName(photo), shownName(*twin),
                                              job.trials[firstTrial].label));
            }
            if (!photo.takenAt || (!trial.findings.empty() && trial.findings.back().kind == FindingKind::SamePhoto))
                continue;
            if (!latest.empty() && *photo.takenAt < latest)
                add(trial.findings, FindingKind::Order,
                    say("review.taken-before", shownName(photo), *photo.takenAt, latestLabel, latest));
            newest = std::max(newest, *photo.takenAt);
        }
        if (newest > latest) latest = newest, latestLabel = trial.label;
    }
}

}  // namespace

std::optional<DoneAs> compareDone(const Advice& advice, std::optional<double> shimChangeMm,
                                  std::optional<double> backlashMm) {
    if (!shimChangeMm && !backlashMm) return std::nullopt;
    const double done = shimChangeMm.value_or(0);
    if (advice.verdict != Verdict::Change) {
        if (!shimChangeMm) return std::nullopt;
        return std::abs(done) < kSameShimMm ? DoneAs::AsAdvised : DoneAs::NotAdvised;
    }
    const double advised = advice.shim.thicknessChangeMm;
    if (shimChangeMm && std::abs(done - advised) > kSameShimMm) {
        if (std::abs(advised) < kNoMoveMm) return DoneAs::OtherThanAdvised;
        if (done * advised < 0 && std::abs(done) > kNoMoveMm) return DoneAs::OtherWayRound;
        return std::abs(done) < std::abs(advised) ? DoneAs::LessThanAdvised : DoneAs::MoreThanAdvised;
    }
    if (backlashMm && std::abs(*backlashMm - advice.backlashTargetMm) > kSameBacklashMm)
        return DoneAs::OtherThanAdvised;
    return DoneAs::AsAdvised;
}

Helped compareTrials(const Advice& before, const Advice& after) {
    if (after.verdict == Verdict::Accept) return Helped::Yes;
    const double nearer = std::abs(before.depthErrorMm.best) - std::abs(after.depthErrorMm.best);
    if (nearer > kSameDepthMm) return Helped::Yes;
    if (nearer < -kSameDepthMm) return Helped::No;
    return Helped::NoClearChange;
}

std::vector<std::size_t> trialStarts(std::span<const std::optional<Side>> sides) {
    std::vector<std::size_t> starts;
    std::array<bool, 2> seen{};
    Side last = Side::Drive;  // of the photos since the start that show a side
    for (std::size_t i = 0; i < sides.size(); ++i) {
        const bool comesAgain = sides[i] && seen[index(*sides[i])] && last != *sides[i];
        const bool full = !starts.empty() && i - starts.back() >= kMaxTrialPhotos;
        if (starts.empty() || comesAgain || full) {
            starts.push_back(i);
            seen = {};
        }
        if (!sides[i]) continue;
        seen[index(*sides[i])] = true;
        last = *sides[i];
    }
    return starts;
}

void judgeWithRecord(ReviewedJob& job, const JobRecord& record) {
    // The history as the record tells it, with the patterns as they are read now.
    JobRecord seen = record;
    for (ReviewedTrial& trial : job.trials) {
        for (TrialEntry& entry : seen.trials) {
            if (entry.stamp.id != trial.id || entry.origin == PatternOrigin::Drawn) continue;
            if (!entry.measurement) entry.measurement.emplace();
            const auto pattern = [&](Side side) -> std::optional<Pattern> {
                const auto& read = trial.kept.sides[index(side)];
                return read ? std::optional(read->pattern) : std::nullopt;
            };
            entry.measurement->drive = pattern(Side::Drive);
            entry.measurement->coast = pattern(Side::Coast);
            if (entry.origin == PatternOrigin::None && entry.hasPattern()) entry.origin = PatternOrigin::Found;
        }
    }
    const AdviceOptions options = adviceOptionsOf(record);
    for (std::size_t k = 0; k < job.trials.size(); ++k) {
        ReviewedTrial& trial = job.trials[k];
        const TrialEntry& entry = *findTrial(record, trial.id);
        if (trial.kept.anythingRead()) {
            const std::vector<JobTrial> history = historyOf(seen, trial.id);
            if (!history.empty()) trial.advice = adviseJob(advisedGearSet(record), history, options);
        }
        addPhotoFindings(trial, &record.gearSet.data);
        addDiagnoses(trial);
        compareWithRecord(trial, entry);
        const TrialEntry* following = k + 1 < job.trials.size() ? findTrial(record, job.trials[k + 1].id) : nullptr;
        trial.next = doneAfter(record, entry, following);
        // What was done is held against the advice that was shown then.
        const Advice* shown = entry.measurement && entry.measurement->advice ? &*entry.measurement->advice
                              : trial.advice                                 ? &*trial.advice
                                                                             : nullptr;
        if (trial.next && shown != nullptr) {
            trial.next->as = compareDone(*shown, trial.next->shimChangeMm, trial.next->backlashMm);
            if (trial.next->as && *trial.next->as != DoneAs::AsAdvised)
                add(trial.findings, FindingKind::AgainstAdvice, againstAdviceText(*shown, *trial.next), false);
        }
        if (k > 0 && job.trials[k - 1].advice && trial.advice)
            job.trials[k - 1].helped = compareTrials(*job.trials[k - 1].advice, *trial.advice);
    }
    addJobFindings(job);
    const JobStatus status = jobStatus(record);
    job.next = text(status.next);
    // What a trial's findings tell already is not told again for the job.
    for (const Attention& one : status.attention) {
        const bool told = std::any_of(job.trials.begin(), job.trials.end(), [&](const ReviewedTrial& trial) {
            return std::any_of(trial.findings.begin(), trial.findings.end(), [&](const Finding& finding) {
                if (one.kind == AttentionKind::SamePhoto) return finding.kind == FindingKind::SamePhoto;
                return !one.evidence.empty() && finding.text == text(one.evidence);
            });
        });
        if (!told) add(job.findings, FindingKind::Record, text(one.sentence));
    }
    const bool good =
        !job.trials.empty() && job.trials.back().advice && job.trials.back().advice->verdict == Verdict::Accept;
    job.finished = signedOff(record) != nullptr || good;
}

namespace {

/// As measured photos give it, of photos that a review has read.
TrialObservation observationOf(const KeptPhotos& kept) {
    std::array<std::optional<Pattern>, 2> seen;
    for (const Side side : kSides)
        if (const auto& read = kept.sides[index(side)]) seen[index(side)] = read->pattern;
    std::vector<double> milled;
    for (const KeptPhoto& photo : kept.photos)
        if (photo.cut) milled.push_back(photo.cut->chanceFaceMilled);
    return photographed(seen[index(Side::Drive)], seen[index(Side::Coast)], milled);
}

}  // namespace

void judgeAlone(ReviewedJob& job, const GearSetData* gearSet) {
    for (ReviewedTrial& trial : job.trials) {
        if (gearSet != nullptr && trial.kept.anythingRead()) {
            const JobTrial only{observationOf(trial.kept), std::nullopt};
            trial.advice = adviseJob(*gearSet, std::span(&only, 1));
        }
        addPhotoFindings(trial, gearSet);
        addDiagnoses(trial);
    }
    addJobFindings(job);
    job.finished =
        !job.trials.empty() && job.trials.back().advice && job.trials.back().advice->verdict == Verdict::Accept;
}

}  // namespace shimsight::review

namespace shimsight {

std::string_view name(FindingKind kind) {
    switch (kind) {
        case FindingKind::OtherSide:
            return "other-side";
        case FindingKind::WrongGearSet:
            return "wrong-gear-set";
        case FindingKind::RecordDiffers:
            return "record-differs";
        case FindingKind::SamePhoto:
            return "same-photo";
        case FindingKind::Order:
            return "order";
        case FindingKind::Entry:
            return "entry";
        case FindingKind::Record:
            return "record";
        case FindingKind::Cause:
            return "cause";
        case FindingKind::SideMissing:
            return "side-missing";
        case FindingKind::NotRead:
            return "not-read";
        case FindingKind::AgainstAdvice:
            return "against-advice";
        case FindingKind::Apart:
            return "apart";
    }
    throw std::logic_error("a finding without a name");
}

std::string_view name(GroupedBy by) {
    switch (by) {
        case GroupedBy::Record:
            return "record";
        case GroupedBy::TimeAndSide:
            return "time and side";
        case GroupedBy::NameAndSide:
            return "name and side";
    }
    throw std::logic_error("a grouping without a name");
}

std::string_view name(DoneAs done) {
    switch (done) {
        case DoneAs::AsAdvised:
            return "as-advised";
        case DoneAs::LessThanAdvised:
            return "less-than-advised";
        case DoneAs::MoreThanAdvised:
            return "more-than-advised";
        case DoneAs::OtherWayRound:
            return "other-way-round";
        case DoneAs::OtherThanAdvised:
            return "other-than-advised";
        case DoneAs::NotAdvised:
            return "not-advised";
    }
    return "";
}

std::string_view name(Helped helped) {
    switch (helped) {
        case Helped::Yes:
            return "yes";
        case Helped::No:
            return "no";
        case Helped::NoClearChange:
            return "no-clear-change";
    }
    return "";
}

bool ReviewedTrial::looksWrong() const {
    return std::any_of(findings.begin(), findings.end(), [](const Finding& finding) { return finding.looksWrong; });
}

bool ReviewedJob::looksWrong() const {
    return std::any_of(findings.begin(), findings.end(), [](const Finding& finding) { return finding.looksWrong; }) ||
           std::any_of(trials.begin(), trials.end(), [](const ReviewedTrial& trial) { return trial.looksWrong(); });
}

bool ReviewedJob::sideMissing() const {
    return std::any_of(trials.begin(), trials.end(),
                       [](const ReviewedTrial& trial) { return !trial.kept.sides[0] || !trial.kept.sides[1]; });
}

bool ReviewedJob::againstAdvice() const {
    return std::any_of(trials.begin(), trials.end(), [](const ReviewedTrial& trial) {
        return trial.next && trial.next->as && *trial.next->as != DoneAs::AsAdvised;
    });
}

}  // namespace shimsight
