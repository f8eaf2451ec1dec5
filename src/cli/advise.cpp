// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "cli/trial_input.h"
#include "shimsight/files.h"
#include "shimsight/measure.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

/// What used gears were before they came apart, from flank maps.
struct BeforeInput {
    std::optional<std::string> driveMap, coastMap;
    std::optional<Length> backlash;
    bool any() const { return driveMap || coastMap || backlash; }
};

/// `known`: what the history file has of it already.
std::optional<TrialObservation> beforeOf(const BeforeInput& input, std::optional<TrialObservation> known,
                                         DialReading dial) {
    if (!input.any()) return known;
    TrialObservation before = known.value_or(TrialObservation{});
    if (input.backlash) {
        before.backlashMm = amountMm(input.backlash, "--before-backlash");
        before.dial = dial;
    }
    if (input.driveMap) before.drive = patternOfMap(*input.driveMap);
    if (input.coastMap) before.coast = patternOfMap(*input.coastMap);
    if (!before.backlashMm) throw UsageError(say("cli.before-missing", "--before-backlash LEN"));
    if (!before.drive && !before.coast) throw UsageError(say("cli.before-maps-missing"));
    return before;
}

/// What was asked for.
struct AdviseInput {
    std::string gearSetName;
    std::optional<std::string> driveMap, coastMap, history, saveHistory, dial, costs;
    std::optional<Length> backlash, shimStack, shimChange;
    std::vector<std::string> backlashRound;
    BeforeInput before;
    KnownInput known;
    bool json = false, used = false;
    bool hasMap() const { return driveMap || coastMap; }
};

void addAdviseOptions(Args& args, AdviseInput& into) {
    args.requiredText("--gear-set", into.gearSetName, "FILE", "the gear-set file");
    args.text("--drive-map", into.driveMap, "PNG",
              "flank map of the drive side, 256 x 128, toe left, tip at the top, contact bright");
    args.text("--coast-map", into.coastMap, "PNG", "flank map of the coast side");
    args.length("--backlash", into.backlash, "backlash as read on the dial (needed with a map)");
    args.texts("--backlash-round", into.backlashRound, "LEN",
               "backlash at equal steps once round the ring gear, given once for each reading, at least four: tells "
               "runout");
    addDialOption(args, into.dial);
    args.length("--shim-stack", into.shimStack, "thickness of the pinion shims in place now");
    args.text("--history", into.history, "FILE",
              "the earlier trials of this job (models/schemas/history-1.schema.json); without a map the last of them "
              "is the present one");
    args.length("--shim-change", into.shimChange,
                "pinion shims added since the last trial of --history, - taken out; else it follows from the stacks");
    args.text("--save-history", into.saveHistory, "FILE", "write the trials with this one added");
    args.text("--costs", into.costs, "FILE",
              "hours that work takes in this shop, by which moves are weighed (models/schemas/costs-1.schema.json)");
    args.flag(
        "--used", into.used,
        "gears that ran together: they are set to what they were before they came apart, which --before-... tells; "
        "without it no correction is worked out");
    args.text("--before-drive-map", into.before.driveMap, "PNG",
              "with --used: flank map of the drive side from before the gears came apart");
    args.text("--before-coast-map", into.before.coastMap, "PNG", "the same for the coast side");
    args.length("--before-backlash", into.before.backlash,
                "with --used: backlash from before they came apart, read as --dial says");
    addKnownOptions(args, into.known);
    args.flag("--json", into.json, "write JSON (models/schemas/advice-1.schema.json)");
    args.footer("LEN is a length with its unit: 4thou, 0.004in or 0.10mm.");
}

/// Refuses options that do not go together.
void checkAdvise(const AdviseInput& input) {
    const bool hasMap = input.hasMap();
    if (!hasMap && !input.history) throw UsageError(say("cli.advise-without-trial"));
    if (hasMap && !input.backlash && input.backlashRound.empty())
        throw UsageError(say("cli.option-missing", "--backlash", "LEN"));
    if (!hasMap &&
        (input.backlash || input.shimStack || input.shimChange || !input.backlashRound.empty() || input.saveHistory))
        throw UsageError(say("cli.trial-options-without-map"));
    if (input.shimChange && !input.history) throw UsageError(say("cli.shim-change-without-history"));
}

/// The trial that the maps show.
JobTrial trialOf(const AdviseInput& input, const std::optional<DialReading>& sheetsDial) {
    JobTrial now;
    now.seen.backlashMm = amountMm(input.backlash, "--backlash");
    for (const std::string& reading : input.backlashRound)
        now.seen.backlashRoundMm.push_back(*amountMm(parseLength(reading, "--backlash-round"), "--backlash-round"));
    now.seen.shimStackMm = amountMm(input.shimStack, "--shim-stack");
    now.seen.dial = dialOf(input.dial, sheetsDial);
    if (input.driveMap) now.seen.drive = patternOfMap(*input.driveMap);
    if (input.coastMap) now.seen.coast = patternOfMap(*input.coastMap);
    if (input.shimChange) now.shimChangeMm = input.shimChange->mm();
    return now;
}

}  // namespace

int runAdvise(const std::vector<std::string>& words) {
    AdviseInput input;
    Args args("advise", "Says what to change, from flank maps instead of photos, with the earlier trials of the job.");
    addAdviseOptions(args, input);
    if (!args.parse(words)) return kDone;
    checkAdvise(input);

    const GearSetFile file = openGearSet(input.gearSetName);
    const GearSet gearSet = completeGearSet(file.data);
    HistoryFile job;
    if (input.history) job = readHistoryFile(*input.history);
    if (input.hasMap()) job.trials.push_back(trialOf(input, file.data.limits.dial));
    AdviceOptions options;
    options.usedGears = input.used || job.usedGears;
    if (input.before.any() && !options.usedGears) throw UsageError(say("cli.before-maps-without-used"));
    options.before = beforeOf(input.before, job.before, dialOf(input.dial, file.data.limits.dial));
    options.checked = job.checked;
    takeKnown(input.known, options);
    if (input.costs) options.costs = readCostsFile(*input.costs);
    const Advice advice = adviseJob(file.data, job.trials, options);
    if (input.saveHistory) {
        job.usedGears = options.usedGears;
        job.before = options.before;
        job.checked = options.checked;
        const std::string text = writeHistory(job);
        writeOutput(*input.saveHistory, std::vector<std::uint8_t>(text.begin(), text.end()));
    }
    if (input.json) {
        printText(writeAdvice(advice, gearSet.assumed));
        return kDone;
    }
    const TrialObservation& now = job.trials.back().seen;
    std::string text = adviceText(advice, gearSet, now.drive, now.coast);
    if (!gearSet.assumed.empty()) text += "\n" + bulletList(say("cli.assumed-in-gear-set"), texts(gearSet.assumed));
    printText(text);
    return kDone;
}

}  // namespace shimsight::cli
