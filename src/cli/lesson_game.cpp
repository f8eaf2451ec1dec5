#include "cli/args.h"
#include "cli/commands.h"
#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"

namespace shimsight::cli {
namespace {

constexpr int kMostChanges = 12;

std::string settingText(const ToothContact& contact, const Bench& bench) {
    const Interval& limits = contact.gearSet().limits.backlashMm;
    return marksText(marksOf(contact, bench)) + "  Backlash " +
           formatLength(Length::fromMm(backlashMm(contact, bench))) + ", limits " +
           formatLength(Length::fromMm(limits.low)) + " to " + formatLength(Length::fromMm(limits.high)) + ".\n";
}

std::string pathText(const Exercise& exercise) {
    std::string text = "\nShimsight, from the same start, seeing only the marks and the dial:\n";
    double hours = 0;
    int number = 0;
    for (const PathStep& step : advisedPath(exercise)) {
        if (step.advice.verdict == Verdict::Change && step.hours > 0) {
            hours += step.hours;
            text += printed("  %d. ", ++number) + moveWords(step.move) +
                    printed(" (%.1f h; it gave %.0f %% for a good pattern)\n", step.hours,
                            100 * step.advice.chanceAcceptableNext);
            continue;
        }
        const bool good = goodness(*exercise.contact, step.after) > 0;
        text += step.advice.verdict == Verdict::Accept           ? std::string("  It accepts")
                : step.advice.verdict == Verdict::NoShimWillHelp ? std::string("  It says that no shim will help")
                                                                 : std::string("  It stops");
        text += printed(" after %.1f h; the setting is ", hours) + (good ? "good.\n" : "not good.\n");
    }
    return text;
}

}  // namespace

int runLessonGame(const std::vector<std::string>& words) {
    std::optional<int> seed, level;
    std::optional<std::string> gearSet;
    Args args("lesson game", "Set up a gear set from an unknown error; every change costs bench hours.");
    args.integer("--seed", seed, 0, 1'000'000'000, "the same seed starts from the same error (else drawn)");
    args.integer("--level", level, 1, kDrillLevels, "1 easy to 4 hard (else 3)");
    args.text("--gear-set", gearSet, "FILE", "play with this gear set (else with one of the program's own)");
    args.footer(
        "Moves are read from the standard input, one a line: \"deeper 4thou\", \"shallower 0.10mm, less 2thou\". "
        "\"accept\" "
        "says that the setting is good, \"no shim\" that none will help.");
    if (!args.parse(words)) return kDone;
    std::optional<ToothContact> contact;
    if (gearSet) {
        const GearSetFile file = openGearSet(*gearSet);
        contact.emplace(contactOf(completeGearSet(file.data), file.fileName));
    }
    const Exercise exercise = drawExercise(seedOf(seed), level.value_or(3), 1, contact ? &*contact : nullptr);
    const ToothContact& set = *exercise.contact;
    say(printed("Game with seed %llu, level %d: ", static_cast<unsigned long long>(exercise.seed), exercise.level) +
        set.gearSet().name + ".\n" +
        wrapped(
            printed("Bring both marks and the backlash into the rule with as few bench hours as you can. A round of "
                    "setting, painting and rolling is %.1f h; a pinion shim is %.1f h more, a move of the ring gear "
                    "%.1f h.",
                    Costs{}.trialHours, Costs{}.pinionShimHours, Costs{}.ringGearHours),
            "", "") +
        "\n" + settingText(set, exercise.bench));

    Bench bench = exercise.bench;
    double hours = 0;
    bool ended = false;
    for (int change = 0; change <= kMostChanges && !ended;) {
        const auto move = askUntil(printed("%.1f h so far. Your move?", hours), parseCorrection);
        if (!move) break;
        if (move->remedy == Remedy::Change) {
            if (++change > kMostChanges) break;
            bench = moved(set, bench, move->move);
            hours += benchHours(move->move);
            say("\n" + settingText(set, bench));
            continue;
        }
        ended = true;
        const bool good = goodness(set, bench) > 0;
        if (move->remedy == Remedy::Accept)
            say(printed(good ? "\nGood. You needed %.1f h.\n" : "\nNot good yet after %.1f h.\n", hours));
        else
            say(printed(exercise.remedy == Remedy::NoShim ? "\nRight: no shim helps here. You saw it after %.1f h.\n"
                                                          : "\nA shim does help here. You gave up after %.1f h.\n",
                        hours));
    }
    if (!ended) say(printed("\nThe game ends here, after %.1f h, without a verdict.\n", hours));
    if (exercise.remedy == Remedy::Change)
        say("From the start, this would have set it right in one step: " + moveWords(exercise.best.move) + ".\n");
    say(pathText(exercise));
    return kDone;
}

}  // namespace shimsight::cli
