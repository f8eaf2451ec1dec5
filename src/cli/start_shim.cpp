#include <nlohmann/json.hpp>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/advice_start.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

PinionShim placeOf(const std::string& word) {
    if (word == "behind-pinion-head") return PinionShim::BehindPinionHead;
    return word == "under-bearing-cup" ? PinionShim::UnderBearingCup : PinionShim::UnderPinionSupport;
}

}  // namespace

int runStartShim(const std::vector<std::string>& words) {
    std::optional<std::string> gearSetName, place;
    std::optional<Length> oldMark, newMark, oldStack;
    bool json = false;
    Args args("start-shim", "Says which pinion shim to start with, from the depth marks of the old and new pinion.");
    args.text("--gear-set", gearSetName, "FILE", "the gear-set file: tells where the shims sit and which are on hand");
    args.choice("--place", place, {"behind-pinion-head", "under-bearing-cup", "under-pinion-support"},
                "where the pinion shims sit, without a gear-set file");
    args.length("--old-mark", oldMark, "the mark on the old pinion, with its sign (needed)");
    args.length("--new-mark", newMark, "the mark on the new pinion, with its sign (needed)");
    args.length("--old-stack", oldStack, "thickness of the shims that the old pinion had");
    args.flag("--json", json, "write JSON");
    args.footer(
        "LEN is a length with its unit. A mark of +2 means 2thou on inch axles and 0.02mm on metric ones; a mark of -1 "
        "is --new-mark=-1thou. No mark: 0thou.");
    if (!args.parse(words)) return kDone;
    if (!oldMark || !newMark) throw UsageError(say("cli.marks-missing"));
    if (gearSetName.has_value() == place.has_value()) throw UsageError(say("cli.shim-place-missing"));
    PinionShim where = PinionShim::BehindPinionHead;
    std::vector<double> shims;
    if (gearSetName) {
        const GearSet gearSet = completeGearSet(openGearSet(*gearSetName).data);
        where = gearSet.build.pinionShim;
        shims = gearSet.build.shimsMm;
    } else {
        where = placeOf(*place);
    }
    const StartShim start = startShim(oldMark->mm(), newMark->mm(), where, amountMm(oldStack, "--old-stack"), shims);
    if (json) {
        const nlohmann::json document = {
            {"schema", "shimsight/start-shim/1"},
            {"pinion_depth_change_mm", start.depthChangeMm},
            {"thickness_change_mm", start.thicknessChangeMm},
            {"sigma_mm", start.sigmaMm},
            {"total_mm", start.totalMm ? nlohmann::json(*start.totalMm) : nlohmann::json(nullptr)},
            {"stack_mm", start.stackMm},
            {"because", texts(start.because)},
            {"cautions", texts(start.cautions)}};
        printText(document.dump(2) + "\n");
        return kDone;
    }
    std::string text = say("cli.start-shim") + "\n";
    for (const std::string& sentence : texts(start.because)) text += wrapped(sentence, "  ", "    ");
    if (!start.stackMm.empty()) {
        std::string stack;
        for (const double shim : start.stackMm)
            stack += (stack.empty() ? "" : " + ") + formatLength(Length::fromMm(shim));
        text += wrapped(say("cli.shims-to-fit", stack), "  ", "    ");
    }
    printText(text + "\n" + bulletList(say("cli.take-care"), texts(start.cautions)));
    return kDone;
}

}  // namespace shimsight::cli
