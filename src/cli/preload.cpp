#include <nlohmann/json.hpp>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/advice_start.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

nlohmann::json orNull(const std::optional<Estimate>& e) {
    if (!e) return nullptr;
    return {{"best", e->best}, {"low90", e->low90}, {"high90", e->high90}};
}

/// "0.052in:18in-lb".
PreloadReading readingOf(const std::string& text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string::npos) throw UsageError(say("cli.no-stack-and-torque", text.substr(0, 40)));
    const Length stack = parseLength(text.substr(0, colon), "--reading");
    return {*amountMm(stack, "--reading"), parseTorqueNm(text.substr(colon + 1), "--reading")};
}

}  // namespace

int runPreload(const std::vector<std::string>& words) {
    std::string gearSetName;
    std::optional<std::string> bearings, torque;
    std::vector<std::string> readingTexts;
    bool json = false;
    Args args("preload", "Judges the turning torque of the pinion against the limits of the gear-set file.");
    args.requiredText("--gear-set", gearSetName, "FILE", "the gear-set file with the preload limits");
    args.choice("--bearings", bearings, {"new", "used"}, "which limits count (else new)");
    args.texts("--reading", readingTexts, "STACK:TORQUE",
               "solid spacer: the shims beside it and the turning torque with them, such as 0.052in:18in-lb; once for "
               "each stack tried, in their order");
    args.text("--sleeve-torque", torque, "TORQUE", "crush sleeve: the turning torque, judged only");
    args.flag("--json", json, "write JSON");
    args.footer("TORQUE takes 14in-lb or 1.6Nm; a stack takes 0.052in, 52thou or 1.32mm, and 0in when not known.");
    if (!args.parse(words)) return kDone;
    if (readingTexts.empty() == !torque.has_value()) throw UsageError(say("cli.preload-without-reading"));
    const GearSet gearSet = completeGearSet(openGearSet(gearSetName).data);
    const bool used = bearings && *bearings == "used";
    const std::optional<Interval>& limits = used ? gearSet.limits.preloadUsedNm : gearSet.limits.preloadNewNm;
    if (!limits)
        throw InputError(say("cli.preload-limit-missing", gearSetName,
                             used ? "limits.pinion_preload_nm.used" : "limits.pinion_preload_nm.new"));
    PreloadAdvice advice;
    if (torque) {
        advice = crushSleevePreload(parseTorqueNm(*torque, "--sleeve-torque"), *limits);
    } else {
        std::vector<PreloadReading> readings;
        for (const std::string& text : readingTexts) readings.push_back(readingOf(text));
        advice = solidSpacerPreload(readings, *limits);
    }
    if (json) {
        const nlohmann::json document = {{"schema", "shimsight/preload/1"},
                                         {"verdict", name(advice.verdict)},
                                         {"limits_nm", {limits->low, limits->high}},
                                         {"next_change_mm", orNull(advice.nextChangeMm)},
                                         {"next_stack_mm", orNull(advice.nextStackMm)},
                                         {"torque_lost_nm_per_mm", orNull(advice.torquePerShimNmPerMm)},
                                         {"chance_in_range", advice.chanceInRange},
                                         {"because", texts(advice.because)},
                                         {"cautions", texts(advice.cautions)}};
        printText(document.dump(2) + "\n");
        return kDone;
    }
    std::string text = say(advice.verdict == PreloadVerdict::Pass       ? "cli.preload-right"
                           : advice.verdict == PreloadVerdict::TooTight ? "cli.preload-too-high"
                                                                        : "cli.preload-too-low") +
                       "\n";
    for (const std::string& sentence : texts(advice.because)) text += wrapped(sentence, "  ", "    ");
    if (advice.nextStackMm)
        text += wrapped(say("cli.stack-to-try", formatLength(Length::fromMm(advice.nextStackMm->best))), "  ", "    ");
    printText(text + "\n" + bulletList(say("cli.take-care"), texts(advice.cautions)));
    return kDone;
}

}  // namespace shimsight::cli
