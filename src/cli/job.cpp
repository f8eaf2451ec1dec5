// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>

#include "cli/job_commands.h"
#include "cli/job_words.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr std::array kJobCommands = {
    Command{"new", "make a job: gear set, axle, customer, who sets it up", jobNew},
    Command{"status", "where the set-up stands and what comes next", jobStatusCommand},
    Command{"show", "the whole record", jobShow},
    Command{"add-runout", "add a runout of ring gear or flange", jobAddRunout},
    Command{"add-depth", "add where the pinion starts: depth figures, or a depth tool's reading", jobAddDepth},
    Command{"add-preload", "add a turning torque of the pinion", jobAddPreload},
    Command{"before", "add what used gears were before they came apart: marks and backlash", jobBefore},
    Command{"add-trial", "add a trial: keep and read its photos, say what to change", jobAddTrial},
    Command{"checked", "add that what an advice asks about was looked into and is right", jobChecked},
    Command{"done", "add what was really done after a trial", jobDone},
    Command{"add-backlash", "add backlash readings round the ring gear", jobAddBacklash},
    Command{"add-carrier", "add the preload of the carrier or the turns of the adjusters", jobAddCarrier},
    Command{"check", "tick a line of the lists: parts, pinion, torques, final assembly", jobCheck},
    Command{"remark", "add a remark", jobRemark},
    Command{"strike", "strike out a wrong entry; it can still be seen", jobStrike},
    Command{"sign-off", "sign the job off", jobSignOff},
    Command{"reopen", "take the sign-off back", jobReopen},
    Command{"correct", "correct the gear set, the axle or the customer; all photos are read again", jobCorrect},
    Command{"restore", "let an entry that was struck out count again; without ID mend a damaged record", jobRestore},
};

CheckList listOf(const std::optional<std::string>& word) {
    for (const CheckList list : {CheckList::Parts, CheckList::Pinion, CheckList::Torque})
        if (word && *word == name(list)) return list;
    return CheckList::FinalAssembly;
}

std::string jobHelpText() {
    std::string text =
        "Keeps the record of a set-up in a folder: parts, readings, trials, decisions, check lists. Every reading is\n"
        "judged at once by the limits of the gear-set file.\n\nUsage: shimsight job COMMAND DIR "
        "[OPTIONS]\n\nCommands\n";
    for (const Command& command : kJobCommands)
        text += formatted("  %-12s %s\n", std::string(command.name).c_str(), std::string(command.summary).c_str());
    text +=
        "\n  shimsight job COMMAND --help shows the options of a command.\n\n"
        "A job from its beginning to its end\n"
        "  $ shimsight job new van-12 --gear-set axle.json --axle \"Van 12, rear\" --by Mira\n"
        "  $ shimsight job check van-12 match-numbers\n"
        "  $ shimsight job add-depth van-12 --old-figure 2thou --new-figure=-1thou\n"
        "  $ shimsight job add-preload van-12 15in-lb --for-trial\n"
        "  $ shimsight job add-runout van-12 2thou\n"
        "  $ shimsight job add-carrier van-12 --left-notches 2 --right-notches 2\n"
        "  $ shimsight job add-trial van-12 drive.jpg coast.jpg --shim-stack 0.76mm --backlash 8thou\n"
        "  $ shimsight job done van-12 --shim-change=-5thou --backlash 8thou\n"
        "  ... further trials, until the pattern is good; job status says what comes next\n"
        "  $ shimsight job sign-off van-12 --by Mira\n";
    return text;
}

}  // namespace

int runJob(const std::vector<std::string>& words) {
    if (words.empty()) throw UsageError(say("cli.job-command-missing"));
    const std::string& first = words.front();
    if (first == "--help" || first == "-h" || first == "help") {
        printText(jobHelpText());
        return kDone;
    }
    for (const Command& command : kJobCommands)
        if (first == command.name) return runPart("job", command, words);
    throw UsageError(say("cli.no-such-job-command", plain(first.substr(0, 40))));
}

int jobNew(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::string gearSetName, axle;
    std::optional<std::string> customer, build, bearings, spacer;
    ChangeOptions options;
    Args args("job new", "Makes a job: a folder with its record.");
    args.words("DIR", all, 1, "the job's folder, made when it is not there");
    args.requiredText("--gear-set", gearSetName, "FILE", "the gear-set file; it is copied into the record");
    args.requiredText("--axle", axle, "TEXT", "which axle, in your words");
    args.text("--customer", customer, "TEXT", "whose it is, order number, anything");
    args.choice("--bearings", bearings, {"new", "used"}, "which preload limits count (else new)");
    args.choice("--build", build, {"new-gears", "used-gears", "check-only"},
                "a new ring and pinion (the default), gears that ran together, or a check where nothing is changed");
    args.choice("--spacer", spacer, {"crush-sleeve", "solid-spacer"}, "what sets the pinion preload");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    (void)openGearSet(gearSetName);  // its warnings
    const JobStamp stamp = stampOf(options, JobRecord{});
    JobRecord job = newJob(jobGearSet(gearSetName), axle, customer.value_or(""), stamp.by, stamp.at);
    if (bearings && *bearings == "used") job.bearings = Bearings::Used;
    if (build)
        job.build = *build == "new-gears"    ? BuildKind::NewGears
                    : *build == "used-gears" ? BuildKind::UsedGears
                                             : BuildKind::CheckOnly;
    if (spacer) job.spacer = *spacer == "crush-sleeve" ? PinionSpacer::CrushSleeve : PinionSpacer::SolidSpacer;
    if (!stamp.note.empty()) addRemark(job, {stamp.at, stamp.by, stamp.note});
    job = createJob(folder, std::move(job));
    printChange(job, folder, "", say("cli.job-made", folder), options.json);
    return kDone;
}

int jobStatusCommand(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    bool json = false;
    Args args("job status", "Says where the set-up stands and what comes next.");
    args.words("DIR", all, 1, "the job's folder");
    args.flag("--json", json, "write JSON (models/schemas/job-status-1.schema.json)");
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    const OpenedJob opened = openJob(folder);
    for (const std::string& warning : opened.warnings) note(plain(warning));
    printText(json ? statusJson(opened.record, folder, opened.warnings) : statusText(opened.record, folder));
    return kDone;
}

int jobShow(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    bool json = false;
    Args args("job show", "Shows the whole record.");
    args.words("DIR", all, 1, "the job's folder");
    args.flag("--json", json, "write the record as JSON (models/schemas/job-1.schema.json)");
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    const JobRecord job = openedJob(folder);
    printText(json ? writeJob(job) : recordText(job, folder));
    return kDone;
}

int jobCheck(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> torque, wanted, from, added, list;
    bool notNeeded = false, undo = false;
    ChangeOptions options;
    Args args("job check", "Ticks a line of a check list: parts, pinion, torques, final assembly.");
    args.words("DIR KEY", all, 1, "the job's folder and the key of the line; job show lists them");
    args.text("--torque", torque, "TORQUE", "as tightened, such as 60ft-lb or 80Nm");
    args.text("--wanted", wanted, "TORQUE", "what the maker's sheet wants, 80Nm or 75Nm:85Nm");
    args.text("--from", from, "TEXT", "which sheet that is");
    args.flag("--not-needed", notNeeded, "this axle has no such part");
    args.flag("--undo", undo, "take the tick back");
    args.text("--add", added, "TEXT", "add a line of your own in place of KEY");
    args.choice("--list", list, {"parts", "pinion", "torque", "final-assembly"},
                "with --add: to which list (else final-assembly)");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    const std::string folder = all.front();
    if (added) {
        if (all.size() > 1 || torque || wanted || notNeeded || undo) throw UsageError(say("cli.add-with-others"));
        (void)openedJob(folder);
        std::string key;
        const JobRecord job =
            updateJob(folder, [&](JobRecord& record) { key = addCheck(record, listOf(list), *added); });
        printChange(job, folder, key, say("cli.check-added", key), options.json);
        return kDone;
    }
    if (list) throw UsageError(say("cli.list-without-add"));
    if (all.size() != 2) throw UsageError(say("cli.check-without-key"));
    const std::string& key = all[1];
    if (notNeeded && undo) throw UsageError(say("cli.options-contradict", "--not-needed", "--undo"));
    if ((notNeeded || undo) && torque) throw UsageError(say("cli.torque-of-open-check"));
    if (from && !wanted) throw UsageError(say("cli.from-without-wanted"));
    Tick tick;
    tick.state = notNeeded ? CheckState::NotNeeded : undo ? CheckState::Open : CheckState::Done;
    if (torque) tick.torqueNm = boltTorque(*torque, "--torque");
    if (wanted) {
        const std::size_t colon = wanted->find(':');
        const double low = boltTorque(wanted->substr(0, colon), "--wanted");
        tick.wantedNm =
            Interval{low, colon == std::string::npos ? low : boltTorque(wanted->substr(colon + 1), "--wanted")};
        tick.wantedFrom = from.value_or("");
    }
    const JobStamp stamp = stampOf(options, openedJob(folder));
    tick.at = stamp.at, tick.by = stamp.by, tick.note = stamp.note;
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { tickCheck(record, key, tick); });
    printChange(job, folder, key,
                say(notNeeded ? "cli.check-not-needed"
                    : undo    ? "cli.check-open-again"
                              : "cli.check-ticked",
                    key),
                options.json);
    return kDone;
}

int jobRemark(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    ChangeOptions options;
    Args args("job remark", "Adds a remark to the job.");
    args.words("DIR TEXT", all, 1, "the job's folder and the remark, in quotes");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    if (all.size() != 2) throw UsageError(say("cli.remark-missing"));
    const JobStamp stamp = stampOf(options, openedJob(all[0]));
    const JobRecord job = updateJob(all[0], [&](JobRecord& record) {
        addRemark(record, {stamp.at, stamp.by, all[1]});
    });
    printChange(job, all[0], "", say("cli.remark-written"), options.json);
    return kDone;
}

int jobStrike(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::string why;
    ChangeOptions options;
    Args args("job strike", "Strikes out a wrong entry: it can still be seen, but no longer counts.");
    args.words("DIR ID", all, 1, "the job's folder and the entry, such as b2; job show lists them");
    args.requiredText("--why", why, "TEXT", "what is wrong with it");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    if (all.size() != 2) throw UsageError(say("cli.strike-without-id"));
    const JobStamp stamp = stampOf(options, openedJob(all[0]));
    const JobRecord job = updateJob(all[0], [&](JobRecord& record) {
        strikeOut(record, all[1], {stamp.at, stamp.by, why});
        (void)adviseAgain(record, all[1], stamp.at, stamp.by);
    });
    printChange(job, all[0], all[1], say("cli.entry-struck-out", all[1]), options.json);
    return kDone;
}

int jobCorrect(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::optional<std::string> gearSet, axle, customer;
    ChangeOptions options;
    Args args(
        "job correct",
        "Corrects what a job was begun with. With another gear set all its photos are read again and every advice "
        "is worked out anew; photos and readings stay.");
    args.words("DIR", all, 1, "the job's folder");
    args.text("--gear-set", gearSet, "FILE", "the gear-set file that is right");
    args.text("--axle", axle, "TEXT", "which axle, in your words");
    args.text("--customer", customer, "TEXT", "whose it is");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    if (!gearSet && !axle && !customer) throw UsageError(say("cli.nothing-to-correct"));
    const JobStamp stamp = stampOf(options, openedJob(folder));
    JobCorrection correction{.gearSet = {}, .axle = axle, .customer = customer, .at = stamp.at, .by = stamp.by};
    if (gearSet) {
        (void)openGearSet(*gearSet);  // its warnings
        correction.gearSet = jobGearSet(*gearSet);
    }
    const CorrectedJob corrected = correctAndReadAgain(folder, correction);
    printChange(corrected.job, folder, "", say("cli.job-corrected", corrected.again.size()), options.json);
    return kDone;
}

int jobSignOff(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    ChangeOptions options;
    Args args("job sign-off", "Signs the job off. Steps that are still open need a --note that says why.");
    args.words("DIR", all, 1, "the job's folder");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    const JobStamp stamp = stampOf(options, openedJob(folder));
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { signOff(record, stamp); });
    printChange(job, folder, job.signOffs.back().stamp.id, say("cli.job-signed-off"), options.json);
    return kDone;
}

int jobReopen(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    std::string why;
    ChangeOptions options;
    Args args("job reopen", "Takes the sign-off back, so that the job can go on.");
    args.words("DIR", all, 1, "the job's folder");
    args.requiredText("--why", why, "TEXT", "why the job goes on");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    const std::string folder = onlyFolder(all);
    const JobStamp stamp = stampOf(options, openedJob(folder));
    const JobRecord job = updateJob(folder, [&](JobRecord& record) { reopen(record, {stamp.at, stamp.by, why}); });
    printChange(job, folder, job.signOffs.back().stamp.id, say("cli.job-open-again"), options.json);
    return kDone;
}

int jobRestore(const std::vector<std::string>& words) {
    std::vector<std::string> all;
    ChangeOptions options;
    Args args("job restore",
              "Lets an entry that was struck out count again. Without an ID it brings the last good copy of a damaged "
              "record back; the damaged file is kept.");
    args.words("DIR [ID]", all, 1, "the job's folder, and the entry that counts again, such as t2");
    addChangeOptions(args, options);
    if (!args.parse(words)) return kDone;
    if (all.size() == 2) {
        const JobStamp stamp = stampOf(options, openedJob(all[0]));
        const JobRecord job = updateJob(all[0], [&](JobRecord& record) {
            restoreEntry(record, all[1], stamp.at, stamp.by);
            (void)adviseAgain(record, all[1], stamp.at, stamp.by);
        });
        printChange(job, all[0], all[1], say("cli.entry-restored", all[1]), options.json);
        return kDone;
    }
    const std::string folder = onlyFolder(all);
    const JobStamp stamp = stampOf(options, JobRecord{});
    const JobRecord job = restoreJob(folder, stamp.at, stamp.by);
    printChange(job, folder, "", job.remarks.back().text, options.json);
    return kDone;
}

}  // namespace shimsight::cli
