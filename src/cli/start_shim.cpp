// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <nlohmann/json.hpp>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/depth_figures.h"
#include "cli/hints.h"
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

struct StartWords {
    std::optional<std::string> gearSetName, place, oldFigure, newFigure;
    std::optional<Length> oldStack, measured, wanted, oldBearing, newBearing;
    bool otherHousing = false, json = false;
};

std::optional<double> plainMm(const std::optional<Length>& length) {
    return length ? std::optional(length->mm()) : std::nullopt;
}

StartInput inputOf(const StartWords& words) {
    StartInput input;
    std::optional<double> nominal;
    if (words.gearSetName) {
        const GearSet gearSet = completeGearSet(openGearSet(*words.gearSetName).data);
        input.place = gearSet.build.pinionShim;
        input.shimsMm = gearSet.build.shimsMm;
        nominal = gearSet.build.pinionDepthMm;
    } else {
        input.place = placeOf(*words.place);
    }
    input.oldFigureMm = figureMm(words.oldFigure, "--old-figure");
    input.newFigureMm = figureMm(words.newFigure, "--new-figure");
    input.otherHousing = words.otherHousing;
    input.stackMm = amountMm(words.oldStack, "--old-stack");
    input.oldBearingMm = plainMm(words.oldBearing);
    input.newBearingMm = plainMm(words.newBearing);
    if (!words.measured) {
        input.figuresInTwoUnits = inTwoUnits(words.oldFigure, words.newFigure);
        return input;
    }
    input.measuredDepthMm = plainMm(words.measured);
    input.wantedDepthMm = plainMm(words.wanted);
    if (!input.wantedDepthMm) {
        if (!nominal) throw UsageError(say("cli.wanted-depth-missing"));
        input.wantedDepthMm = *nominal + input.newFigureMm.value_or(0);
    }
    input.oldFigureMm.reset();
    input.newFigureMm.reset();
    return input;
}

}  // namespace

int runStartShim(const std::vector<std::string>& words) {
    StartWords given;
    Args args("start-shim",
              "Says which pinion shim to start with, from the depth figures of the old and new pinion, or from what a "
              "depth tool measures.");
    args.text("--gear-set", given.gearSetName, "FILE",
              "the gear-set file: tells where the shims sit and which are on hand");
    args.choice("--place", given.place, {"behind-pinion-head", "under-bearing-cup", "under-pinion-support"},
                "where the pinion shims sit, without a gear-set file");
    args.text("--old-figure", given.oldFigure, "LEN", "the depth figure on the old pinion, with its sign");
    args.text("--new-figure", given.newFigure, "LEN", "the depth figure on the new pinion, with its sign");
    args.formerly("--old-mark", "--old-figure");
    args.formerly("--new-mark", "--new-figure");
    args.length("--old-stack", given.oldStack,
                "thickness of the shims that the old pinion had, or that were in when the tool measured");
    args.length("--measured-depth", given.measured,
                "depth tool: from the axle's centre line to the face of the pinion head");
    args.length("--wanted-depth", given.wanted,
                "the same as the pinion's figure wants it (else build.pinion_depth_mm of the gear-set file and "
                "--new-figure)");
    args.length("--old-bearing", given.oldBearing, "height of the old inner pinion bearing, cone in cup");
    args.length("--new-bearing", given.newBearing, "height of the new one");
    args.flag("--other-housing", given.otherHousing, "the old pinion and its shims come from another housing");
    args.flag("--json", given.json, "write JSON");
    args.footer(
        "LEN is a length with its unit. A figure of +2 means 2thou on inch axles and 0.02mm on metric ones; one of -1 "
        "is --new-figure=-1thou. No figure: 0thou.");
    if (!args.parse(words)) return kDone;
    if (!given.measured && (!given.oldFigure || !given.newFigure)) throw UsageError(say("cli.figures-missing"));
    if (given.gearSetName.has_value() == given.place.has_value()) throw UsageError(say("cli.shim-place-missing"));
    const StartShim start = startShim(inputOf(given));
    const bool json = given.json;
    if (json) {
        const nlohmann::json document = {
            {"schema", "shimsight/start-shim/1"},
            {"pinion_depth_change_mm", start.depthChangeMm},
            {"thickness_change_mm", start.thicknessChangeMm},
            {"sigma_mm", start.sigmaMm},
            {"total_mm", start.totalMm ? nlohmann::json(*start.totalMm) : nlohmann::json(nullptr)},
            {"stack_mm", start.stackMm},
            {"questions", texts(start.questions)},
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
    if (!start.questions.empty()) text += "\n" + bulletList(say("cli.ask-yourself"), forTerminal(start.questions));
    printText(text + "\n" + bulletList(say("cli.take-care"), texts(start.cautions)));
    return kDone;
}

}  // namespace shimsight::cli
