#include "cli/args.h"
#include "cli/commands.h"
#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"

namespace shimsight::cli {
namespace {

constexpr int kMostChanges = 12;

std::string settingText(const ToothContact& contact, const Bench& bench) {
    const Interval& limits = contact.gearSet().limits.backlashMm;
    const double lash = backlashMm(contact, bench);
    // Nothing rolls without play, so there is no mark to see.
    if (lash <= 0)
        return "  No backlash: the teeth are jammed. Do not turn them; give more backlash. Limits " +
               formatLength(Length::fromMm(limits.low)) + " to " + formatLength(Length::fromMm(limits.high)) + ".\n";
    return marksText(marksOf(contact, bench)) + "  Backlash " + formatLength(Length::fromMm(lash)) + ", limits " +
           formatLength(Length::fromMm(limits.low)) + " to " + formatLength(Length::fromMm(limits.high)) + ".\n";
}

std::string pathText(const Exercise& exercise) {
    const PathWords path = pathWords(exercise, advisedPath(exercise));
    std::string text = "\nShimsight, from the same start, seeing only the marks and the dial:\n";
    int number = 0;
    for (const std::string& step : path.steps) text += printed("  %d. ", ++number) + step + "\n";
    return text + (path.end.empty() ? "" : "  " + path.end + "\n");
}

}  // namespace

int runLessonGame(const std::vector<std::string>& words) {
    std::optional<int> seed, level;
    std::optional<std::string> gearSet, html;
    Args args("lesson game", "Set up a gear set from an unknown error; every change costs bench hours.");
    args.integer("--seed", seed, 0, 1'000'000'000, "the same seed starts from the same error (else drawn)");
    args.integer("--level", level, 1, kDrillLevels, "1 easy to 4 hard (else 3)");
    args.text("--gear-set", gearSet, "FILE", "play with this gear set (else with one of the program's own)");
    args.text("--html", html, "FILE", "write the game as a page to play in a browser instead");
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
    const std::uint64_t chosenSeed = seedOf(seed);
    if (html) {
        const std::string page = gamePage(chosenSeed, level.value_or(3), contact ? &*contact : nullptr);
        writeOutput(*html, {reinterpret_cast<const std::uint8_t*>(page.data()), page.size()});
        tell("Wrote " + *html + printed(", seed %llu.\n", static_cast<unsigned long long>(chosenSeed)));
        return kDone;
    }
    const Exercise exercise = drawExercise(chosenSeed, level.value_or(3), 1, contact ? &*contact : nullptr);
    const ToothContact& set = *exercise.contact;
    tell(printed("Game with seed %llu, level %d: ", static_cast<unsigned long long>(exercise.seed), exercise.level) +
         set.gearSet().name + ".\n" +
         wrapped(
             printed("Bring both marks and the backlash into the rule with as few bench hours as you can. A round of "
                     "setting, painting and rolling is %.2f h; a pinion shim is %.2f h more, a move of the ring gear "
                     "%.2f h.",
                     Costs{}.trialHours, Costs{}.pinionShimHours, Costs{}.ringGearHours),
             "", "") +
         "\n" + settingText(set, exercise.bench));

    Bench bench = exercise.bench;
    double hours = 0;
    bool ended = false;
    for (int change = 0; change <= kMostChanges && !ended;) {
        const auto move = askUntil(printed("%.2f h so far. Your move?", hours), parseCorrection);
        if (!move) break;
        if (move->remedy == Remedy::Change) {
            if (++change > kMostChanges) break;
            bench = moved(set, bench, move->move);
            hours += benchHours(move->move);
            tell("\n" + settingText(set, bench));
            continue;
        }
        ended = true;
        const bool good = goodness(set, bench) > 0;
        if (move->remedy == Remedy::Accept)
            tell(printed(good ? "\nGood. You needed %.2f h.\n" : "\nNot good yet after %.2f h.\n", hours));
        else
            tell(printed(exercise.remedy == Remedy::NoShim ? "\nRight: no shim helps here. You saw it after %.2f h.\n"
                                                           : "\nA shim does help here. You gave up after %.2f h.\n",
                         hours));
    }
    if (!ended) tell(printed("\nThe game ends here, after %.2f h, without a verdict.\n", hours));
    if (exercise.remedy == Remedy::Change)
        tell("From the start, this would have set it right in one step: " + moveWords(exercise.best.move) + ".\n");
    tell(pathText(exercise));
    tell(benchCaution());
    return kDone;
}

}  // namespace shimsight::cli
