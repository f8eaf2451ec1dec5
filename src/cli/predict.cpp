// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/records.h"
#include "shimsight/tooth_contact.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr double kMaxAngleDeg = 1;

FlankMap mapOf(const ToothContact& contact, Side side, const SetupError& error, const Modification& modification,
               bool exact) {
    if (!exact) return contact.predictMap(side, error, modification);
    try {
        return contact.exactMap(side, error, modification);
    } catch (const InputError& tooLarge) {
        throw InputError(message("cli.option-refused", "--depth, --offset-error", tooLarge.what()));
    }
}

}  // namespace

int runPredict(const std::vector<std::string>& words) {
    std::string gearSetName;
    std::optional<Length> depth, backlashChange, offsetError;
    std::optional<double> shaftAngleError;
    std::optional<std::string> maps;
    bool constantBacklash = false, exact = false, json = false;
    Args args("predict", "The contact pattern that a set-up error makes, from the nominal position.");
    args.requiredText("--gear-set", gearSetName, "FILE", "the gear-set file");
    args.length("--depth", depth, "pinion depth error; + is deeper, toward the ring gear axis");
    args.length("--backlash-change", backlashChange,
                "backlash change made by moving the ring gear; + is more backlash");
    args.length("--offset-error", offsetError, "offset error; + is a larger offset");
    args.number("--shaft-angle-error", shaftAngleError, "DEG", -kMaxAngleDeg, kMaxAngleDeg,
                "shaft angle error in degrees; + is a larger angle");
    args.flag("--constant-backlash", constantBacklash,
              "move the ring gear so that the errors leave the backlash as it was (or at --backlash-change)");
    args.flag("--exact", exact, "use the exact solver (seconds) instead of the fast model");
    args.text("--maps", maps, "DIR", "write the flank maps drive.png and coast.png into this folder");
    args.flag("--json", json, "write JSON (models/schemas/prediction-1.schema.json)");
    args.footer("LEN is a length with its unit: 4thou, 0.004in or 0.10mm.");
    if (!args.parse(words)) return kDone;

    SetupError error;
    error.depthMm = errorMm(depth, "--depth");
    error.offsetMm = errorMm(offsetError, "--offset-error");
    error.shaftAngleRad = radians(shaftAngleError.value_or(0));
    const double change = errorMm(backlashChange, "--backlash-change");

    const GearSetFile file = openGearSet(gearSetName);
    const GearSet gearSet = completeGearSet(file.data);
    const ToothContact contact = contactOf(gearSet, file.fileName);
    Prediction prediction;
    prediction.rates = contact.backlashRates();
    const double bySelf = constantBacklash ? contact.backlashChangeMm(error) : 0;
    error.ringMm = (bySelf - change) / prediction.rates.perRingMove;

    prediction.gearSet = gearSet.name;
    prediction.error = error;
    prediction.exact = exact;
    prediction.backlashChangeMm = contact.backlashChangeMm(error);
    prediction.blank = contact.blank();
    prediction.assumed = gearSet.assumed;
    std::array<FlankMap, 2> flankMaps;
    for (const Side side : kSides) {
        const Modification& modification = gearSet.modification[index(side)];
        flankMaps[index(side)] = mapOf(contact, side, error, modification, exact);
        (side == Side::Drive ? prediction.drive : prediction.coast) = measurePattern(flankMaps[index(side)]);
    }
    std::string answer = json ? writePrediction(prediction) : predictionText(prediction);
    // Nothing rolls without play: what is drawn then is geometry, not a mark that anybody sees.
    const double middle = gearSet.limits.backlashMm.middle();
    if (!json && middle + prediction.backlashChangeMm <= 0)
        answer += "\n" + wrapped(say("cli.prediction-jams", mm(middle)), "", "  ");
    if (maps) {
        FolderOutput output(*maps);
        output.addMap("drive.png", flankMaps[index(Side::Drive)]);
        output.addMap("coast.png", flankMaps[index(Side::Coast)]);
        output.write();
    }
    printText(answer);
    return kDone;
}

}  // namespace shimsight::cli
