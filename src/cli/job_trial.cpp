#include <cstddef>

#include "cli/job_commands.h"
#include "cli/job_words.h"
#include "cli/output.h"
#include "cli/report.h"
#include "cli/trial_input.h"
#include "shimsight/files.h"

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
    std::string text = "Trial " + recorded.id + " is written down";
    if (!trial.photos.empty())
        text += printed(" with %zu %s", trial.photos.size(), trial.photos.size() == 1 ? "photo" : "photos");
    return text + ".";
}

std::string trialText(const RecordedTrial& recorded, const Measurement& measurement, const std::string& folder) {
    const TrialEntry& trial = recorded.entry();
    const GearSet gearSet = completeGearSet(recorded.job.gearSet.data);
    std::string text = wrapped(keptWords(recorded), "", "  ") + "\n";
    if (trial.reading->advice)
        text += adviceText(*trial.reading->advice, gearSet, trial.reading->drive, trial.reading->coast);
    std::vector<std::string> photos;
    for (const MeasuredPhoto& photo : measurement.photos) photos.push_back(photoLine(photo));
    if (!photos.empty()) text += "\n" + bulletList("Photos", photos);
    std::vector<std::string> notes = recorded.samePhotos;
    for (const JobPhoto& photo : trial.photos) {
        std::string removed;
        for (const std::string& word : photo.removed) removed += (removed.empty() ? "" : ", ") + word;
        if (!removed.empty())
            notes.push_back(photo.originalName + ": the copy in the job is without " + removed +
                            "; the original is untouched" +
                            (photo.reencoded ? ". It was an HEIC and is kept as a JPEG of high quality." : "."));
    }
    notes.insert(notes.end(), measurement.notes.begin(), measurement.notes.end());
    if (!notes.empty()) text += "\n" + bulletList("To know", notes);
    if (const std::string judged = judgementText(judgementsOf(recorded.job, recorded.id)); !judged.empty())
        text += "\nBy the sheet\n" + judged;
    return text + "\n" + nextText(recorded.job, folder);
}

}  // namespace

int jobAddTrial(const std::vector<std::string>& words) {
    std::vector<std::string> all, outlineFiles, round;
    std::optional<std::string> side, marking, dial, changed, why, driveMap, coastMap, costs;
    std::optional<Length> backlash, shimStack, shimChange;
    ChangeOptions options;
    Args args("job add-trial", "Adds a trial: keeps its photos, reads them, and says what to change.");
    args.words("DIR", all, 1, "the job's folder, then the photos of the trial");
    args.length("--shim-stack", shimStack, "thickness of the pinion shims in place now");
    args.length("--backlash", backlash, "backlash as read on the dial");
    args.texts("--backlash-round", round, "READING", "backlash round the ring gear: LEN at equal steps, or 90:LEN");
    addDialOption(args, dial);
    args.text("--changed", changed, "TEXT", "what was changed since the last trial");
    args.text("--why", why, "TEXT", "and why");
    args.length("--shim-change", shimChange, "pinion shims added since the last trial, - taken out");
    args.choice("--side", side, {"drive", "coast"}, "count flanks of this side only");
    args.choice("--marking", marking, {"wiped", "transferred"}, "how contact shows (else told from the photo)");
    args.texts("--outline", outlineFiles, "FILE", "flanks marked by hand, as for shimsight read");
    args.text("--drive-map", driveMap, "PNG",
              "the pattern drawn by hand on a flank map (256 x 128), in place of what is on the photos");
    args.text("--coast-map", coastMap, "PNG", "the same for the coast side");
    args.text("--costs", costs, "FILE",
              "hours that work takes in this shop, by which moves are weighed (models/schemas/costs-1.schema.json)");
    addChangeOptions(args, options);
    args.footer(
        "LEN is a length with its unit: 4thou, 0.004in or 0.10mm. The photos are copied; the originals stay as they "
        "are. A trial whose photos cannot be read is kept all the same, and the exit status is 1.");
    if (!args.parse(words)) return kDone;
    const std::string folder = all.front();
    const std::vector<std::string> photos(all.begin() + 1, all.end());
    if (photos.empty() && !driveMap && !coastMap)
        throw UsageError("PHOTO is missing: name the photos of the trial after DIR, or a map drawn by hand.");
    if (photos.size() > kMostTrialPhotos)
        throw UsageError(
            printed("%zu photos were given; at most %zu belong to one trial.", photos.size(), kMostTrialPhotos));

    const JobRecord job = openedJob(folder);
    NewTrial trial;
    trial.entry.stamp = stampOf(options, job);
    trial.entry.shimStackMm = amountMm(shimStack, "--shim-stack");
    trial.entry.backlashMm = amountMm(backlash, "--backlash");
    trial.entry.backlashRound = backlashPoints(round, "--backlash-round");
    trial.entry.dial = dialOf(dial);
    if (costs) trial.costs = readCostsFile(*costs);
    trial.entry.changed = changed.value_or("");
    trial.entry.why = why.value_or("");
    if (shimChange) trial.entry.shimChangeMm = shimChange->mm();
    if (side) trial.entry.side = *side == "drive" ? Side::Drive : Side::Coast;
    if (marking) trial.entry.marking = *marking == "wiped" ? Marking::Wiped : Marking::Transferred;
    if (driveMap) trial.drawnDrive = readFlankMap(*driveMap);
    if (coastMap) trial.drawnCoast = readFlankMap(*coastMap);
    std::vector<std::vector<FlankOutline>> outlines = outlinesOf(photos, outlineFiles, trial.entry.side);
    Progress progress;
    for (std::size_t i = 0; i < photos.size(); ++i)
        trial.photos.push_back({photos[i], readFile(photos[i], DecodeLimits{}.maxFileBytes), std::move(outlines[i])});
    const RecordedTrial recorded = recordTrial(folder, std::move(trial), [&](std::size_t i) {
        progress.show(printed("Reading photo %zu of %zu", i + 1, photos.size()));
    });
    progress.wipe();
    const Measurement measurement = withGivenNames(recorded.measurement, recorded.entry());
    if (options.json) printChange(recorded.job, folder, recorded.id, keptWords(recorded), true);
    if (!recorded.entry().hasPattern()) {
        for (const MeasuredPhoto& photo : measurement.photos) note(plain(photoLine(photo)));
        note("trial " + recorded.id + " is kept with its photos, and nothing could be read on them.");
        return kCannot;
    }
    if (!options.json) printText(plain(trialText(recorded, measurement, folder)));
    return kDone;
}

}  // namespace shimsight::cli
