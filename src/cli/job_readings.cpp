// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/depth_figures.h"
#include "cli/hints.h"
#include "cli/job_commands.h"
#include "cli/job_words.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

/// DIR and one value.
std::pair<std::string, std::string> folderAnd(const std::vector<std::string>& words, const char* valueName) {
    if (words.size() < 2) throw UsageError(say("cli.missing-after-folder", valueName));
    if (words.size() > 2) throw UsageError(say("cli.word-too-many", words[2]));
    return {words[0], words[1]};
}

}  // namespace

int jobAddRunout(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> place;
    ChangeOptions options;
    Args args("job add-runout", "Adds a runout: the whole movement of the dial over one turn.");
    args.words("DIR LEN", all, 1, "the job's folder and the runout");
    args.choice(
        "--place", place, {"ring-gear", "carrier-flange", "pinion-flange"},
        "where the dial stood: back face of the ring gear (the default), the carrier's flange without ring gear, "
        "or the pinion's drive flange");
    addChangeOptions(args, options);
    args.footer(say("cli.help-of-lengths"));
    if (!args.parse(words)) return kDone;
    const auto [folder, value] = folderAnd(all, "LEN");
    RunoutEntry entry;
    entry.mm = lengthMm(value, "LEN");
    if (place)
        entry.place = *place == "ring-gear"        ? RunoutPlace::RingGear
                      : *place == "carrier-flange" ? RunoutPlace::CarrierFlange
                                                   : RunoutPlace::PinionFlange;
    entry.stamp = stampOf(options, openedJob(folder));
    std::string id;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) {
        id = addRunout(record, entry);
        (void)adviseAgain(record, id, entry.stamp.at, entry.stamp.by);
    });
    printChange(job, folder, id, say("cli.runout-written", id), options.json);
    return kDone;
}

int jobAddDepth(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> oldFigure, newFigure;
    std::optional<Length> measured, wanted, stack, oldBearing, newBearing;
    bool otherHousing = false;
    ChangeOptions options;
    Args args("job add-depth",
              "Adds where the pinion starts: the depth figures of old and new pinion, or what a depth tool measures.");
    args.words("DIR", all, 1, "the job's folder");
    args.text("--old-figure", oldFigure, "LEN", "the depth figure on the old pinion, with its sign");
    args.text("--new-figure", newFigure, "LEN", "the depth figure on the new pinion, with its sign");
    args.formerly("--old-mark", "--old-figure");
    args.formerly("--new-mark", "--new-figure");
    args.length("--measured-depth", measured, "depth tool: from the axle's centre line to the face of the pinion head");
    args.length(
        "--wanted-depth", wanted,
        "the same as the pinion's figure wants it (else build.pinion_depth_mm of the gear set and --new-figure)");
    args.length("--shim-stack", stack, "pinion shims of the old pinion, or in place when the tool measured");
    args.length("--old-bearing", oldBearing, "height of the old inner pinion bearing, cone in cup");
    args.length("--new-bearing", newBearing, "height of the new one");
    args.flag("--other-housing", otherHousing, "the old pinion and its shims come from another housing");
    addChangeOptions(args, options);
    args.footer(say("cli.help-of-lengths") + " " + say("cli.help-of-negative-figure"));
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    const JobRecord before = openedJob(folder);
    const auto plainMm = [](const std::optional<Length>& length) {
        return length ? std::optional(length->mm()) : std::nullopt;
    };
    DepthEntry entry;
    entry.shimStackMm = amountMm(stack, "--shim-stack");
    entry.oldBearingMm = plainMm(oldBearing);
    entry.newBearingMm = plainMm(newBearing);
    entry.otherHousing = otherHousing;
    const std::optional<double> oldFigureMm = figureMm(oldFigure, "--old-figure"),
                                newFigureMm = figureMm(newFigure, "--new-figure");
    if (measured) {
        entry.measuredMm = plainMm(measured);
        entry.wantedMm = wanted ? plainMm(wanted) : wantedDepthMm(before, newFigureMm);
        if (!entry.wantedMm) throw UsageError(say("cli.wanted-depth-missing"));
    } else {
        if (!oldFigure || !newFigure) throw UsageError(say("cli.figures-missing"));
        entry.oldFigureMm = oldFigureMm;
        entry.newFigureMm = newFigureMm;
        entry.figuresInTwoUnits = inTwoUnits(oldFigure, newFigure);
    }
    entry.stamp = stampOf(options, before);
    std::string id;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { id = addDepth(record, entry); });
    const StartShim start = startShimOf(job, entry);
    std::string said = say("cli.depth-written", id);
    for (const std::string& sentence : texts(start.because)) said += " " + sentence;
    for (const std::string& sentence : forTerminal(start.questions)) said += " " + sentence;
    printChange(job, folder, id, said, options.json);
    return kDone;
}

int jobAddPreload(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<Length> stack;
    bool withSeal = false, forTrial = false;
    ChangeOptions options;
    Args args("job add-preload", "Adds a turning torque of the pinion, read before the carrier goes in.");
    args.words("DIR TORQUE", all, 1, "the job's folder and the torque, such as 15in-lb or 1.7Nm");
    args.length("--stack", stack, "solid spacer: the shims beside it");
    args.flag("--with-seal", withSeal, "the oil seal is in, so the reading holds its drag too");
    args.flag("--for-trial", forTrial, "with set-up bearings or the old sleeve, to roll the pattern; not for good");
    addChangeOptions(args, options);
    args.footer(say("cli.help-of-lengths"));
    if (!args.parse(words)) return kDone;
    const auto [folder, value] = folderAnd(all, "TORQUE");
    PreloadEntry entry;
    entry.torqueNm = turningTorque(value, "TORQUE");
    entry.stackMm = amountMm(stack, "--stack");
    entry.withOilSeal = withSeal;
    entry.forTrial = forTrial;
    entry.stamp = stampOf(options, openedJob(folder));
    std::string id;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { id = addPreload(record, entry); });
    printChange(job, folder, id, say("cli.preload-written", id), options.json);
    return kDone;
}

int jobAddBacklash(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> dial;
    ChangeOptions options;
    Args args("job add-backlash", "Adds backlash readings round the ring gear: one, three, four, eight, any number.");
    args.words("DIR READING", all, 1,
               "the job's folder, then the readings in their order: LEN at equal steps once round, or 90:LEN with the "
               "position in degrees");
    addDialOption(args, dial);
    addChangeOptions(args, options);
    args.footer(say("cli.help-of-lengths"));
    if (!args.parse(words)) return kDone;
    if (all.size() < 2) throw UsageError(say("cli.missing-after-folder", "READING"));
    const std::string folder = all.front();
    BacklashEntry entry;
    entry.points = backlashPoints({all.begin() + 1, all.end()}, "READING");
    const JobRecord before = openedJob(folder);
    entry.dial = dialOf(dial, before.gearSet.data.limits.dial);
    entry.stamp = stampOf(options, before);
    std::string id;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { id = addBacklash(record, entry); });
    printChange(
        job, folder, id,
        say(entry.points.size() == 1 ? "cli.backlash-written-one" : "cli.backlash-written", id, entry.points.size()),
        options.json);
    return kDone;
}

int jobAddCarrier(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> torque;
    std::optional<double> leftNotches, rightNotches;
    std::optional<Length> leftShims, rightShims, spread;
    bool withSeal = false;
    ChangeOptions options;
    Args args("job add-carrier", "Adds how the carrier bearings were loaded.");
    args.words("DIR", all, 1, "the job's folder");
    args.text("--torque", torque, "TORQUE",
              "turning torque of the pinion with the carrier in, such as 20in-lb or 2.3Nm");
    args.flag("--with-seal", withSeal, "the pinion's oil seal was in when the torque was read");
    args.number("--left-notches", leftNotches, "NOTCHES", -1000, 1000,
                "adjuster at the left, looking along the pinion toward its flange; past zero play, + = tightened");
    args.number("--right-notches", rightNotches, "NOTCHES", -1000, 1000, "adjuster at the right, the same");
    args.length("--left-shims", leftShims, "side shims at the left, looking along the pinion toward its flange");
    args.length("--right-shims", rightShims, "side shims at the right, the same");
    args.length("--spread", spread, "how far the housing was spread, or the shims press beyond zero play");
    addChangeOptions(args, options);
    args.footer(say("cli.help-of-lengths"));
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    CarrierEntry entry;
    if (torque) entry.torqueNm = turningTorque(*torque, "--torque");
    entry.withOilSeal = withSeal;
    entry.leftNotches = leftNotches;
    entry.rightNotches = rightNotches;
    entry.leftShimsMm = amountMm(leftShims, "--left-shims");
    entry.rightShimsMm = amountMm(rightShims, "--right-shims");
    entry.spreadMm = amountMm(spread, "--spread");
    if (!torque && !leftNotches && !rightNotches && !leftShims && !rightShims && !spread)
        throw UsageError(say("cli.carrier-without-number"));
    entry.stamp = stampOf(options, openedJob(folder));
    std::string id;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { id = addCarrier(record, entry); });
    printChange(job, folder, id, say("cli.carrier-written", id), options.json);
    return kDone;
}

int jobDone(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> trial;
    std::optional<Length> shimChange, shimStack, backlash;
    std::optional<double> leftNotches, rightNotches;
    bool kept = false;
    ChangeOptions options;
    Args args("job done", "Adds what was really done after a trial, whatever the advice was.");
    args.words("DIR", all, 1, "the job's folder");
    args.text("--trial", trial, "ID", "after which trial (else the last one)");
    args.length("--shim-change", shimChange, "pinion shims added, - taken out");
    args.length("--shim-stack", shimStack, "pinion shims now in place");
    args.flag("--shims-kept", kept, "the pinion shims were left alone");
    args.length("--backlash", backlash, "backlash as set");
    args.number("--left-notches", leftNotches, "NOTCHES", -1000, 1000,
                "adjuster at the left, looking along the pinion toward its flange; + = tightened");
    args.number("--right-notches", rightNotches, "NOTCHES", -1000, 1000, "adjuster at the right, the same");
    addChangeOptions(args, options);
    args.footer(say("cli.help-of-lengths") + " " + say("cli.help-of-shims-out"));
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    if (!shimChange && !shimStack && !kept) throw UsageError(say("cli.work-without-shims"));
    if (kept && shimChange) throw UsageError(say("cli.options-contradict", "--shims-kept", "--shim-change"));
    WorkEntry entry;
    entry.afterTrial = trial.value_or("");
    if (kept) entry.shimChangeMm = 0;
    if (shimChange) entry.shimChangeMm = shimChange->mm();
    entry.shimStackMm = amountMm(shimStack, "--shim-stack");
    entry.backlashMm = amountMm(backlash, "--backlash");
    entry.leftNotches = leftNotches;
    entry.rightNotches = rightNotches;
    entry.stamp = stampOf(options, openedJob(folder));
    std::string id;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { id = addWork(record, entry); });
    const WorkEntry& work = job.work.back();
    std::string sentence = work.afterTrial.empty() ? say("cli.work-written", id)
                                                   : say("cli.work-written-after-trial", id, work.afterTrial);
    if (const TrialEntry* after = findTrial(job, work.afterTrial);
        after != nullptr && after->measurement && after->measurement->advice)
        sentence += " " + say("cli.advised-was", adviceInShort(*after->measurement->advice));
    printChange(job, folder, id, sentence, options.json);
    return kDone;
}

}  // namespace shimsight::cli
