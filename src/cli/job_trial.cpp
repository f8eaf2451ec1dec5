// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <cstddef>

#include "cli/hints.h"
#include "cli/job_commands.h"
#include "cli/job_words.h"
#include "cli/output.h"
#include "cli/report.h"
#include "cli/trial_input.h"
#include "shimsight/files.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

/// The photos under the names that the user gave them.
Measurement withGivenNames(Measurement measurement, const TrialEntry& trial) {
    for (MeasuredPhoto& photo : measurement.photos)
        for (const JobPhoto& kept : trial.photos)
            if (kept.file == photo.file) photo.file = kept.originalName;
    return measurement;
}

std::string keptWords(const RecordedTrial& recorded) {
    const TrialEntry& trial = recorded.entry();
    if (trial.photos.empty()) return say("cli.trial-written", recorded.id);
    return say(trial.photos.size() == 1 ? "cli.trial-written-with-photo" : "cli.trial-written-with-photos", recorded.id,
               trial.photos.size());
}

/// Photos, maps and readings: what a trial and what was read before have in common.
struct MarksInput {
    std::vector<std::string> outlineFiles, round;
    std::optional<std::string> side, marking, dial, driveMap, coastMap, costs;
    std::optional<Length> backlash, shimStack;
};

void addMarksOptions(Args& args, MarksInput& into) {
    args.length("--backlash", into.backlash, "backlash as read on the dial");
    args.texts("--backlash-round", into.round, "READING",
               "backlash round the ring gear: LEN at equal steps, or 90:LEN");
    addDialOption(args, into.dial);
    args.choice("--side", into.side, {"drive", "coast"}, "count flanks of this side only");
    args.choice("--marking", into.marking, {"wiped", "transferred"}, "how contact shows (else told from the photo)");
    args.texts("--outline", into.outlineFiles, "FILE", "flanks outlined by hand, as for shimsight read");
    args.text("--drive-map", into.driveMap, "PNG",
              "the pattern drawn by hand on a flank map (256 x 128), in place of what is on the photos");
    args.text("--coast-map", into.coastMap, "PNG", "the same for the coast side");
    args.text("--costs", into.costs, "FILE",
              "hours that work takes in this shop, by which moves are weighed (models/schemas/costs-1.schema.json)");
}

NewTrial newTrialOf(const MarksInput& input, const std::vector<std::string>& photos,
                    const std::optional<DialReading>& sheetsDial) {
    if (photos.size() > kMaxTrialPhotos)
        throw UsageError(say("cli.too-many-photos-of-trial", photos.size(), kMaxTrialPhotos));
    NewTrial trial;
    trial.entry.shimStackMm = amountMm(input.shimStack, "--shim-stack");
    trial.entry.backlashMm = amountMm(input.backlash, "--backlash");
    trial.entry.backlashRound = backlashPoints(input.round, "--backlash-round");
    trial.entry.dial = dialOf(input.dial, sheetsDial);
    if (input.costs) trial.costs = readCostsFile(*input.costs);
    if (input.side) trial.entry.side = *input.side == "drive" ? Side::Drive : Side::Coast;
    if (input.marking) trial.entry.marking = *input.marking == "wiped" ? Marking::Wiped : Marking::Transferred;
    if (input.driveMap) trial.drawnDrive = readFlankMap(*input.driveMap);
    if (input.coastMap) trial.drawnCoast = readFlankMap(*input.coastMap);
    std::vector<std::vector<FlankOutline>> outlines = outlinesOf(photos, input.outlineFiles, trial.entry.side);
    for (std::size_t i = 0; i < photos.size(); ++i)
        trial.photos.push_back({photos[i], readFile(photos[i], DecodeLimits{}.maxFileBytes), std::move(outlines[i])});
    return trial;
}

/// The notes on the copies of the photos and of the measurement.
std::vector<std::string> notesOf(const RecordedTrial& recorded) {
    std::vector<std::string> notes = recorded.samePhotos;
    for (const JobPhoto& photo : recorded.entry().photos) {
        std::string removed;
        for (const std::string& word : photo.removed) removed += (removed.empty() ? "" : ", ") + word;
        if (!removed.empty())
            notes.push_back(
                say(photo.reencoded ? "cli.copy-cleaned-heic" : "cli.copy-cleaned", photo.originalName, removed));
    }
    if (const auto& measured = recorded.entry().measurement)
        for (std::string& note : forTerminal(measured->notes)) notes.push_back(std::move(note));
    return notes;
}

std::string trialText(const RecordedTrial& recorded, const Measurement& measurement, const std::string& folder) {
    const TrialEntry& trial = recorded.entry();
    const GearSet gearSet = completeGearSet(recorded.job.gearSet.data);
    std::string text = wrapped(keptWords(recorded), "", "  ") + "\n";
    if (trial.measurement->advice)
        text += adviceText(*trial.measurement->advice, gearSet, trial.measurement->drive, trial.measurement->coast);
    std::vector<std::string> photos;
    for (const MeasuredPhoto& photo : measurement.photos) photos.push_back(photoLine(photo));
    if (!photos.empty()) text += "\n" + bulletList(say("cli.photos"), photos);
    if (const std::vector<std::string> notes = notesOf(recorded); !notes.empty())
        text += "\n" + bulletList(say("cli.to-know"), notes);
    if (const std::string judged = judgementText(judgementsOf(recorded.job, recorded.id)); !judged.empty())
        text += "\n" + say("cli.by-the-sheet") + "\n" + judged;
    return text + "\n" + nextText(recorded.job, folder);
}

/// The last trial's advice, after it was worked out again.
std::string advisedAgainText(const JobRecord& job) {
    const TrialEntry& last = *lastTrial(job);
    return "\n" + say("cli.trial-advised-again", last.stamp.id) + "\n" +
           adviceText(*last.measurement->advice, completeGearSet(job.gearSet.data), last.measurement->drive,
                      last.measurement->coast);
}

}  // namespace

int jobAddTrial(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> changed, why;
    std::optional<Length> shimChange;
    MarksInput input;
    ChangeOptions options;
    Args args("job add-trial", "Adds a trial: keeps its photos, reads them, and says what to change.");
    args.words("DIR", all, 1, "the job's folder, then the photos of the trial");
    args.length("--shim-stack", input.shimStack, "thickness of the pinion shims in place now");
    addMarksOptions(args, input);
    args.text("--changed", changed, "TEXT", "what was changed since the last trial");
    args.text("--why", why, "TEXT", "and why");
    args.length("--shim-change", shimChange, "pinion shims added since the last trial, - taken out");
    addChangeOptions(args, options);
    args.footer(
        "LEN is a length with its unit: 4thou, 0.004in or 0.10mm. The photos are copied; the originals stay as they "
        "are. A trial whose photos cannot be read is kept all the same, and the exit status is 1.");
    if (!args.parse(words)) return kDone;
    const std::string folder = all.front();
    const std::vector<std::string> photos(all.begin() + 1, all.end());
    if (photos.empty() && !input.driveMap && !input.coastMap) throw UsageError(say("cli.trial-without-photo"));

    const JobRecord job = openedJob(folder);
    NewTrial trial = newTrialOf(input, photos, job.gearSet.data.limits.dial);
    trial.entry.stamp = stampOf(options, job);
    trial.entry.changed = changed.value_or("");
    trial.entry.why = why.value_or("");
    if (shimChange) trial.entry.shimChangeMm = shimChange->mm();
    Progress progress;
    const RecordedTrial recorded = recordTrial(folder, std::move(trial), [&](std::size_t i) {
        progress.show(say("cli.reading-photo-of", i + 1, photos.size()));
    });
    progress.wipe();
    const Measurement measurement = withGivenNames(recorded.measurement, recorded.entry());
    if (options.json) printChange(recorded.job, folder, recorded.id, keptWords(recorded), true);
    if (!recorded.entry().hasPattern()) {
        for (const MeasuredPhoto& photo : measurement.photos) note(plain(photoLine(photo)));
        note(say("cli.trial-kept-unread", recorded.id));
        return kCannot;
    }
    if (!options.json) printText(plain(trialText(recorded, measurement, folder)));
    return kDone;
}

int jobBefore(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    MarksInput input;
    ChangeOptions options;
    Args args(
        "job before",
        "Adds what gears that ran together were before they came apart: photos of their marks, and their backlash.");
    args.words("DIR", all, 1, "the job's folder, then the photos of the marks from before");
    args.length("--shim-stack", input.shimStack, "thickness of the pinion shims that were in place");
    addMarksOptions(args, input);
    addChangeOptions(args, options);
    args.footer(
        "LEN is a length with its unit: 4thou, 0.004in or 0.10mm. Marks and backlash may be entered one after the "
        "other; "
        "the newest of each counts. The advice of the last trial, if there is one, is worked out again.");
    if (!args.parse(words)) return kDone;
    const std::string folder = all.front();
    const std::vector<std::string> photos(all.begin() + 1, all.end());
    if (photos.empty() && !input.driveMap && !input.coastMap && !input.backlash && input.round.empty())
        throw UsageError(say("cli.before-without-anything"));
    const JobRecord job = openedJob(folder);
    NewTrial before = newTrialOf(input, photos, job.gearSet.data.limits.dial);
    before.entry.stamp = stampOf(options, job);
    Progress progress;
    const RecordedTrial recorded = recordBefore(folder, std::move(before), [&](std::size_t i) {
        progress.show(say("cli.reading-photo-of", i + 1, photos.size()));
    });
    progress.wipe();
    const Measurement measurement = withGivenNames(recorded.measurement, recorded.entry());
    const TrialEntry& entry = recorded.entry();
    const bool unread = !photos.empty() && !entry.hasPattern();
    const std::string sentence = say("cli.before-written", recorded.id);
    if (options.json) {
        printChange(recorded.job, folder, recorded.id, sentence, true);
    } else {
        std::string text = wrapped(sentence, "", "  ");
        if (entry.measurement) text += patternTable(entry.measurement->drive, entry.measurement->coast);
        if (const std::vector<std::string> notes = notesOf(recorded); !notes.empty())
            text += "\n" + bulletList(say("cli.to-know"), notes);
        printText(plain(text + (recorded.advisedAgain ? advisedAgainText(recorded.job) : "") + "\n" +
                        nextText(recorded.job, folder)));
    }
    if (!unread) return kDone;
    for (const MeasuredPhoto& photo : measurement.photos) note(plain(photoLine(photo)));
    note(say("cli.before-kept-unread", recorded.id));
    return kCannot;
}

int jobChecked(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> costs;
    ChangeOptions options;
    Args args("job checked",
              "Adds that something an advice asks about was looked into and is right: that explanation is closed.");
    args.words("DIR KIND", all, 1, "the job's folder, and what was looked into: " + lookedIntoWords());
    args.text("--costs", costs, "FILE",
              "hours that work takes in this shop, by which moves are weighed (models/schemas/costs-1.schema.json)");
    addChangeOptions(args, options);
    args.footer(
        "sides: which flank is drive and which coast; cut: milled or hobbed; housing: bores, cups and pinion support. "
        "The advice of the last trial is worked out again without what is closed. Runout is entered by add-runout.");
    if (!args.parse(words)) return kDone;
    if (all.size() != 2) throw UsageError(say("cli.looked-into-missing", lookedIntoWords()));
    const std::string& folder = all[0];
    CheckedEntry entry;
    try {
        entry.kind = parseLookedInto(all[1], "KIND");
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
    std::optional<Costs> hours;
    if (costs) hours = readCostsFile(*costs);
    entry.stamp = stampOf(options, openedJob(folder));
    std::string id;
    bool again = false;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) {
        id = addChecked(record, entry);
        again = adviseAgain(record, id, entry.stamp.at, entry.stamp.by, hours);
    });
    const std::string sentence = say("cli.looked-into-written", id, name(entry.kind));
    if (options.json)
        printChange(job, folder, id, sentence, true);
    else
        printText(
            plain(wrapped(sentence, "", "  ") + (again ? advisedAgainText(job) : "") + "\n" + nextText(job, folder)));
    return kDone;
}

}  // namespace shimsight::cli
