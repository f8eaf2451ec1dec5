#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "cli/trial_input.h"
#include "shimsight/files.h"
#include "shimsight/measure.h"

namespace shimsight::cli {
namespace {

Pattern patternOfMap(const std::string& file) {
    const std::optional<Pattern> pattern = measurePattern(readFlankMap(file));
    if (!pattern)
        throw InputError(file +
                         ": there is no contact in this flank map; contact is bright (255) and the rest black (0).");
    return *pattern;
}

}  // namespace

int runAdvise(const std::vector<std::string>& words) {
    std::string gearSetName;
    std::optional<std::string> driveMap, coastMap, history, saveHistory, dial, costs;
    std::optional<Length> backlash, shimStack, shimChange;
    std::vector<std::string> backlashRound;
    bool json = false, used = false;
    Args args("advise", "Says what to change, from flank maps instead of photos, with the earlier trials of the job.");
    args.requiredText("--gear-set", gearSetName, "FILE", "the gear-set file");
    args.text("--drive-map", driveMap, "PNG",
              "flank map of the drive side, 256 x 128, toe left, tip at the top, contact bright");
    args.text("--coast-map", coastMap, "PNG", "flank map of the coast side");
    args.length("--backlash", backlash, "backlash as read on the dial (needed with a map)");
    args.texts("--backlash-round", backlashRound, "LEN",
               "backlash at equal steps once round the ring gear, given once for each reading, at least four: tells "
               "runout");
    addDialOption(args, dial);
    args.length("--shim-stack", shimStack, "thickness of the pinion shims in place now");
    args.text("--history", history, "FILE",
              "the earlier trials of this job (models/schemas/history-1.schema.json); without a map the last of them "
              "is the present one");
    args.length("--shim-change", shimChange,
                "pinion shims added since the last trial of --history, - taken out; else it follows from the stacks");
    args.text("--save-history", saveHistory, "FILE", "write the trials with this one added");
    args.text("--costs", costs, "FILE",
              "hours that work takes in this shop, by which moves are weighed (models/schemas/costs-1.schema.json)");
    args.flag("--used", used, "gears that ran together: the old wear is matched");
    args.flag("--json", json, "write JSON (models/schemas/advice-1.schema.json)");
    args.footer("LEN is a length with its unit: 4thou, 0.004in or 0.10mm.");
    if (!args.parse(words)) return kDone;
    const bool hasMap = driveMap || coastMap;
    if (!hasMap && !history)
        throw UsageError("Give --drive-map PNG, --coast-map PNG or, better, both; or the trials by --history FILE.");
    if (hasMap && !backlash && backlashRound.empty()) throw UsageError("--backlash LEN is missing.");
    if (!hasMap && (backlash || shimStack || shimChange || !backlashRound.empty() || saveHistory))
        throw UsageError(
            "--backlash, --backlash-round, --shim-stack, --shim-change and --save-history belong to a trial given by "
            "its maps; without a map the trials come from --history alone.");
    if (shimChange && !history) throw UsageError("--shim-change tells the change since a trial of --history FILE.");

    const GearSetFile file = openGearSet(gearSetName);
    const GearSet gearSet = completeGearSet(file.data);
    HistoryFile job;
    if (history) job = readHistoryFile(*history);
    if (hasMap) {
        JobTrial now;
        now.seen.backlashMm = amountMm(backlash, "--backlash");
        for (const std::string& reading : backlashRound)
            now.seen.backlashRoundMm.push_back(*amountMm(parseLength(reading, "--backlash-round"), "--backlash-round"));
        now.seen.shimStackMm = amountMm(shimStack, "--shim-stack");
        now.seen.dial = dialOf(dial);
        if (driveMap) now.seen.drive = patternOfMap(*driveMap);
        if (coastMap) now.seen.coast = patternOfMap(*coastMap);
        if (shimChange) now.shimChangeMm = shimChange->mm();
        job.trials.push_back(std::move(now));
    }
    AdviceOptions options;
    options.usedGears = used || job.usedGears;
    if (costs) options.costs = readCostsFile(*costs);
    const Advice advice = adviseJob(file.data, job.trials, options);
    if (saveHistory) {
        const std::string text = writeHistory(job.trials, options.usedGears);
        writeFileAtomically(*saveHistory, std::vector<std::uint8_t>(text.begin(), text.end()));
    }
    if (json) {
        printText(writeAdvice(advice, gearSet.assumed));
        return kDone;
    }
    const TrialObservation& now = job.trials.back().seen;
    std::string text = adviceText(advice, gearSet, now.drive, now.coast);
    if (!gearSet.assumed.empty()) text += "\n" + bulletList("Assumed, not given in the gear-set file", gearSet.assumed);
    printText(text);
    return kDone;
}

}  // namespace shimsight::cli
