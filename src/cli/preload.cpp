// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <nlohmann/json.hpp>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/advice_start.h"
#include "shimsight/gear_set.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

nlohmann::json orNull(const std::optional<Estimate>& e) {
    if (!e) return nullptr;
    return {{"best", e->best}, {"low90", e->low90}, {"high90", e->high90}};
}

/// "0.052in:18in-lb", or "18in-lb" where the stack is not known.
PreloadReading readingOf(const std::string& text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string::npos) return {std::nullopt, parseTorqueNm(text, "--reading")};
    const Length stack = parseLength(text.substr(0, colon), "--reading");
    return {*amountMm(stack, "--reading"), parseTorqueNm(text.substr(colon + 1), "--reading")};
}

std::vector<PreloadReading> readingsOf(const std::vector<std::string>& texts) {
    std::vector<PreloadReading> readings;
    for (const std::string& text : texts) readings.push_back(readingOf(text));
    return readings;
}

/// A crush sleeve has no shims beside it: its last reading counts, by its torque alone.
PreloadAdvice preloadOf(const std::vector<PreloadReading>& readings, bool sleeve, const Interval& limitsNm) {
    if (!sleeve) return solidSpacerPreload(readings, limitsNm);
    PreloadAdvice advice = crushSleevePreload(readings.back().torqueNm, limitsNm);
    advice.because.push_back(message("cli.sleeve-of-gear-set"));
    return advice;
}

}  // namespace

int runPreload(const std::vector<std::string>& words) {
    std::string gearSetName;
    std::optional<std::string> bearings, torque;
    std::vector<std::string> readingTexts;
    bool json = false, withSeal = false;
    Args args("preload", "Judges the turning torque of the pinion against the limits of the gear-set file.");
    args.requiredText("--gear-set", gearSetName, "FILE", "the gear-set file with the preload limits");
    args.choice("--bearings", bearings, {"new", "used"}, "which limits count (else new)");
    args.texts(
        "--reading", readingTexts, "STACK:TORQUE",
        "solid spacer: the shims beside it and the turning torque with them, such as 0.052in:18in-lb, or the torque "
        "alone where the shims are not known; once for each stack tried, in their order; where the gear set has a "
        "crush sleeve, the torque alone counts");
    args.flag("--with-seal", withSeal, "crush sleeve: the oil seal was in; the file's limits with seal count");
    args.text("--sleeve-torque", torque, "TORQUE", "crush sleeve: the turning torque, judged only");
    args.flag("--json", json, "write JSON");
    args.footer("TORQUE takes 14in-lb or 1.6Nm; a stack takes 0.052in, 52thou or 1.32mm, and 0in where no shim is in.");
    if (!args.parse(words)) return kDone;
    if (readingTexts.empty() == !torque.has_value()) throw UsageError(say("cli.preload-without-reading"));
    const bool used = bearings && *bearings == "used";
    const GearSetData set = openGearSet(gearSetName).data;
    if (torque && set.build.preloadSpacer == PreloadSpacer::SolidSpacer)
        throw UsageError(say("cli.sleeve-torque-with-spacer"));
    const bool sleeve = torque || set.build.preloadSpacer == PreloadSpacer::CrushSleeve;
    if (withSeal && !sleeve) throw UsageError(say("cli.seal-with-spacer"));
    const TurningLimits known =
        withSeal ? set.limits.preloadWithSeal : TurningLimits{set.limits.preloadNewNm, set.limits.preloadUsedNm};
    const std::optional<Interval>& limits = used ? known.usedNm : known.newNm;
    if (!limits)
        throw InputError(
            message("cli.preload-limit-missing", gearSetName,
                    std::string(withSeal ? "limits.pinion_preload_with_seal_nm" : "limits.pinion_preload_nm") +
                        (used ? ".used" : ".new")));
    const PreloadAdvice advice = torque ? crushSleevePreload(parseTorqueNm(*torque, "--sleeve-torque"), *limits)
                                        : preloadOf(readingsOf(readingTexts), sleeve, *limits);
    if (json) {
        const nlohmann::json document = {{"schema", "shimsight/preload/1"},
                                         {"verdict", name(advice.verdict)},
                                         {"limits_nm", {limits->low, limits->high}},
                                         {"next_change_mm", orNull(advice.nextChangeMm)},
                                         {"next_stack_mm", orNull(advice.nextStackMm)},
                                         {"torque_lost_nm_per_mm", orNull(advice.torquePerShimNmPerMm)},
                                         {"chance_in_range", advice.chanceInRange},
                                         {"no_stack_helps", advice.noStackHelps},
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
    if (advice.nextStackMm)  // never less than nothing, see PreloadAdvice::noStackHelps
        text += wrapped(say("cli.stack-to-try", formatLength(Length::fromMm(advice.nextStackMm->best))), "  ", "    ");
    printText(text + "\n" + bulletList(say("cli.take-care"), texts(advice.cautions)));
    return kDone;
}

}  // namespace shimsight::cli
