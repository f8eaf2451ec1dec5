#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/measure.h"
#include "shimsight/photo.h"

namespace shimsight::cli {
namespace {

/// A flank map has 32 kB; a colour one drawn in a paint program stays far below this.
constexpr std::int64_t kMostMapBytes = 10'000'000;

Pattern patternOfMap(const std::string& file) {
    GreyPicture picture;
    const std::vector<std::uint8_t> bytes = readFile(file, kMostMapBytes);
    try {
        picture = decodePngGrey(bytes);
    } catch (const InputError& error) {
        throw InputError(file + ": " + error.what());
    }
    if (picture.width != kMapWidth || picture.height != kMapHeight)
        throw InputError(
            printed("%s: the picture is %d x %d pixels; a flank map is %d wide (toe at the left) and %d high "
                    "(tip at the top).",
                    file.c_str(), picture.width, picture.height, kMapWidth, kMapHeight));
    FlankMap map;
    map.contact = std::move(picture.values);
    const std::optional<Pattern> pattern = measurePattern(map);
    if (!pattern)
        throw InputError(file +
                         ": there is no contact in this flank map; contact is bright (255) and the rest black (0).");
    return *pattern;
}

}  // namespace

int runAdvise(const std::vector<std::string>& words) {
    std::string gearSetName;
    std::optional<std::string> driveMap, coastMap, history, dial;
    std::optional<Length> backlash, shimStack;
    bool json = false;
    Args args("advise", "Says what to change, from flank maps instead of photos.");
    args.requiredText("--gear-set", gearSetName, "FILE", "the gear-set file");
    args.text("--drive-map", driveMap, "PNG",
              "flank map of the drive side, 256 x 128, toe left, tip at the top, contact bright");
    args.text("--coast-map", coastMap, "PNG", "flank map of the coast side");
    args.length("--backlash", backlash, "backlash as read on the dial (needed)");
    addDialOption(args, dial);
    args.length("--shim-stack", shimStack, "thickness of the pinion shims in place now");
    args.text("--history", history, "FILE", "earlier trials; not used by this version, which refuses it");
    args.flag("--json", json, "write JSON (models/schemas/advice-1.schema.json)");
    args.footer("LEN is a length with its unit: 4thou, 0.004in or 0.10mm.");
    if (!args.parse(words)) return kDone;
    if (!backlash) throw UsageError("--backlash LEN is missing.");
    if (!driveMap && !coastMap) throw UsageError("Give --drive-map PNG, --coast-map PNG or, better, both.");
    if (history)
        throw InputError(
            "--history " + *history +
            ": this version advises from one trial at a time and cannot use earlier ones; leave --history out.");

    const GearSetFile file = openGearSet(gearSetName);
    const GearSet gearSet = completeGearSet(file.data);
    TrialObservation trial;
    trial.backlashMm = amountMm(backlash, "--backlash");
    trial.shimStackMm = amountMm(shimStack, "--shim-stack");
    trial.dial = dialOf(dial);
    if (driveMap) trial.drive = patternOfMap(*driveMap);
    if (coastMap) trial.coast = patternOfMap(*coastMap);
    const Advice advice = adviseFor(file.data, trial);
    if (json) {
        printText(writeAdvice(advice, gearSet.assumed));
        return kDone;
    }
    std::string text = adviceText(advice, gearSet, trial.drive, trial.coast);
    if (!gearSet.assumed.empty()) text += "\n" + bulletList("Assumed, not given in the gear-set file", gearSet.assumed);
    printText(text);
    return kDone;
}

}  // namespace shimsight::cli
