// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <functional>

#include "cli/annotate.h"
#include "cli/args.h"
#include "cli/commands.h"
#include "cli/hints.h"
#include "cli/output.h"
#include "cli/report.h"
#include "cli/trial_input.h"
#include "shimsight/job.h"
#include "shimsight/measure.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

/// A trial has a few photos of each side; each decoded one takes up to 180 MB.
constexpr std::size_t kMaxPhotos = 24;

constexpr const char* kReadFooter =
    "The teeth are found in the photo, and flanks without compound are left out. Where that fails, outline the "
    "painted flanks in an outline file: {\"schema\": \"shimsight/outline/1\", \"flanks\": [{\"side\": \"drive\", "
    "\"corners_px\": [[x,y], [x,y], [x,y], [x,y]]}]}, corners in the order toe-root, toe-tip, heel-tip, heel-root. "
    "With more than one photo, give one --outline for each photo in the order of the photos, or one file whose flanks "
    "each name their \"photo\"; photos that no outline names are searched.\n"
    "LEN is a length with its unit: 4thou, 0.004in or 0.10mm.";

/// What the found flanks say of how the teeth were cut, where the gear set does not say it.
std::vector<std::string> cutLines(const Measurement& measurement) {
    std::vector<std::string> lines;
    for (const MeasuredPhoto& photo : measurement.photos) {
        if (!photo.cut) continue;
        const double milled = photo.cut->chanceFaceMilled;
        lines.push_back(say(milled >= 0.5 ? "cli.teeth-look-milled" : "cli.teeth-look-hobbed", photo.file,
                            percent(std::max(milled, 1 - milled)), photo.cut->because));
    }
    return lines;
}

std::string readingText(const Measurement& measurement, const MeasurementRecord& record,
                        const std::optional<GearSet>& gearSet) {
    std::optional<Pattern> drive, coast;
    if (measurement.drive) drive = measurement.drive->pattern;
    if (measurement.coast) coast = measurement.coast->pattern;
    std::string text = measurement.setMisfit ? say("cli.another-gear-set", misfitWords(*measurement.setMisfit)) + "\n" +
                                                   say("cli.no-correction-from-this-set") + "\n\n"
                                             : "";
    text += record.advice && gearSet ? adviceText(*record.advice, *gearSet, drive, coast)
                                     : say("cli.pattern-measured") + "\n" + patternTable(drive, coast);
    std::vector<std::string> photos;
    for (const MeasuredPhoto& photo : measurement.photos) photos.push_back(photoLine(photo));
    text += "\n" + bulletList(say("cli.photos"), photos);
    std::vector<std::string> notes = forTerminal(record.notes);
    if (!gearSet || !gearSet->cutKnown)
        for (std::string& line : cutLines(measurement)) notes.push_back(std::move(line));
    if (!notes.empty()) text += "\n" + bulletList(say("cli.to-know"), notes);
    if (!measurement.assumed.empty())
        text += "\n" + bulletList(say("cli.assumed-in-gear-set"), texts(measurement.assumed));
    return text;
}

void addMaps(FolderOutput& output, const Measurement& measurement) {
    if (measurement.drive) output.addMap("drive.png", measurement.drive->map);
    if (measurement.coast) output.addMap("coast.png", measurement.coast->map);
    for (std::size_t i = 0; i < measurement.photos.size(); ++i) {
        const MeasuredPhoto& photo = measurement.photos[i];
        for (std::size_t k = 0; k < photo.flanks.size(); ++k)
            output.addMap(formatted("photo%zu-flank%zu-%s.png", i + 1, k + 1, name(photo.flanks[k].side).data()),
                          photo.flanks[k].contact.map);
    }
}

/// What used gears were before they came apart, from photos whose teeth are found.
TrialObservation beforeOf(const std::vector<std::string>& photos, const GearSetData& gearSet, MeasureOptions options) {
    std::vector<TrialPhoto> trial;
    for (const std::string& photo : photos) trial.push_back({photo, openTrialPhoto(photo), {}});
    options.beforePhoto = nullptr;
    const Measurement measurement = measureTrial(trial, &gearSet, options);
    if (!measurement.anythingRead())
        throw InputError(message("cli.before-not-read", photoLine(measurement.photos.front())));
    return observationOf(measurement);
}

/// What was asked for.
struct ReadInput {
    std::vector<std::string> photos, outlineFiles, beforePhotos;
    std::optional<std::string> gearSetName, side, marking, dial, annotate, maps, costs;
    std::optional<Length> backlash, shimStack, beforeBacklash;
    KnownInput known;
    bool json = false, used = false;
    bool tellsBefore() const { return !beforePhotos.empty() || beforeBacklash; }
};

void addReadOptions(Args& args, ReadInput& into) {
    args.words("PHOTO", into.photos, 1, "photos of the painted ring gear teeth (JPEG, PNG, WebP or HEIC)");
    args.text("--gear-set", into.gearSetName, "FILE", "the gear-set file; without it there is no correction");
    args.choice("--side", into.side, {"drive", "coast"},
                "count flanks of this side only; with --outline, the side of flanks whose side the file does not say");
    args.texts("--outline", into.outlineFiles, "FILE",
               "flanks outlined by hand, for a photo whose teeth are not found; see below");
    args.choice(
        "--marking", into.marking, {"wiped", "transferred"},
        "how contact shows: wiped clear in a painted flank, or printed on a clean one (else told from the photo)");
    args.length("--backlash", into.backlash, "backlash as read on the dial");
    addDialOption(args, into.dial);
    args.length("--shim-stack", into.shimStack, "thickness of the pinion shims in place now");
    args.text("--costs", into.costs, "FILE",
              "hours that work takes in this shop, by which moves are weighed (models/schemas/costs-1.schema.json)");
    args.flag(
        "--used", into.used,
        "gears that ran together: they are set to what they were before they came apart; without --before-photo and "
        "--before-backlash no correction is worked out");
    args.texts("--before-photo", into.beforePhotos, "PHOTO",
               "with --used: a photo of the marks from before the gears came apart, given once for each");
    args.length("--before-backlash", into.beforeBacklash,
                "with --used: backlash from before they came apart, read as --dial says");
    addKnownOptions(args, into.known);
    args.text("--annotate", into.annotate, "DIR",
              "write the photos with what was found drawn on them into this folder");
    args.text("--maps", into.maps, "DIR", "write the flank maps (256 x 128 grey PNG) into this folder");
    args.flag("--json", into.json, "write JSON (models/schemas/reading-1.schema.json)");
    args.footer(kReadFooter);
}

/// Refuses options that do not go together.
void checkRead(const ReadInput& input) {
    if (input.photos.size() > kMaxPhotos) throw UsageError(say("cli.too-many-photos", input.photos.size(), kMaxPhotos));
    const bool before = input.tellsBefore();
    if (!input.gearSetName && (input.used || before || input.known.any()))
        throw UsageError(say("cli.correction-without-gear-set"));
    if (before && !input.used) throw UsageError(say("cli.before-without-used"));
    if (before && (input.beforePhotos.empty() || !input.beforeBacklash))
        throw UsageError(
            say("cli.before-missing", input.beforePhotos.empty() ? "--before-photo PHOTO" : "--before-backlash LEN"));
    if (input.beforePhotos.size() > kMaxPhotos)
        throw UsageError(say("cli.too-many-photos-from-before", input.beforePhotos.size(), kMaxPhotos));
}

/// The photos opened, with the outlines that were given for them.
std::vector<TrialPhoto> openPhotos(const ReadInput& input, std::optional<Side> side,
                                   const std::function<void(std::size_t)>& beforePhoto) {
    std::vector<std::vector<FlankOutline>> outlines = outlinesOf(input.photos, input.outlineFiles, side);
    std::vector<TrialPhoto> trial;
    for (std::size_t i = 0; i < input.photos.size(); ++i) {
        beforePhoto(i);
        trial.push_back({input.photos[i], openTrialPhoto(input.photos[i]), std::move(outlines[i])});
    }
    return trial;
}

/// Pictures first, then the answer, then the maps; nothing but refusals where nothing was read.
int writeRead(const ReadInput& input, const std::vector<TrialPhoto>& trial, const Measurement& measurement,
              const MeasurementRecord& record, const std::optional<GearSet>& gearSet) {
    if (input.annotate) {
        FolderOutput output(*input.annotate);
        addAnnotations(output, trial, measurement, record.advice, gearSet);
        output.write();
    }
    if (!measurement.anythingRead()) {
        if (input.json) printText(writeMeasurement(record));
        for (const MeasuredPhoto& photo : measurement.photos) note(photoLine(photo));
        return kCannot;
    }
    const std::string answer = input.json ? writeMeasurement(record) : readingText(measurement, record, gearSet);
    if (input.maps) {
        FolderOutput output(*input.maps);
        addMaps(output, measurement);
        output.write();
    }
    printText(answer);
    return kDone;
}

}  // namespace

int runRead(const std::vector<std::string>& words) {
    ReadInput input;
    Args args("read", "Measures the contact pattern on the photos of one trial, and says what to change.");
    addReadOptions(args, input);
    if (!args.parse(words)) return kDone;
    checkRead(input);
    MeasureOptions options;
    AdviceOptions adviceOptions;
    if (input.marking) options.marking = *input.marking == "wiped" ? Marking::Wiped : Marking::Transferred;
    const std::optional<double> backlashMm = amountMm(input.backlash, "--backlash");
    const std::optional<double> shimStackMm = amountMm(input.shimStack, "--shim-stack");
    if (input.costs) adviceOptions.costs = readCostsFile(*input.costs);
    if (input.side) options.side = *input.side == "drive" ? Side::Drive : Side::Coast;
    adviceOptions.usedGears = input.used;
    takeKnown(input.known, adviceOptions);

    std::optional<GearSetFile> file;
    std::optional<GearSet> gearSet;
    if (input.gearSetName) {
        file = openGearSet(*input.gearSetName);
        gearSet = completeGearSet(file->data);
    }
    const GearSetData* data = file ? &file->data : nullptr;
    const DialReading dialRead = dialOf(input.dial, file ? file->data.limits.dial : std::nullopt);
    Progress progress;
    const auto show = [&](const char* key, std::size_t i) {
        progress.show(say(key, i + 1, input.photos.size(), baseName(input.photos[i])));
    };
    const std::vector<TrialPhoto> trial =
        openPhotos(input, options.side, [&](std::size_t i) { show("cli.opening-photo", i); });
    options.beforePhoto = [&](std::size_t i) { show("cli.reading-photo", i); };
    if (input.tellsBefore()) {
        progress.show(say("cli.reading-photos-from-before"));
        adviceOptions.before = beforeOf(input.beforePhotos, file->data, options);
        adviceOptions.before->backlashMm = amountMm(input.beforeBacklash, "--before-backlash");
        adviceOptions.before->dial = dialRead;
    }

    const Measurement measurement = measureTrial(trial, data, options);
    progress.wipe();
    TrialObservation seen = observationOf(measurement);
    seen.backlashMm = backlashMm;
    seen.dial = dialRead;
    seen.shimStackMm = shimStackMm;
    MeasurementRecord record = recordOf(measurement);
    record.notes = whatIsMissing(measurement, data, seen, options.side);
    if (file) record.advice = adviseTrial(measurement, file->data, seen, adviceOptions);
    return writeRead(input, trial, measurement, record, gearSet);
}

}  // namespace shimsight::cli
