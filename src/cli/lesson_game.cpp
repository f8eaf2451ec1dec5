// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <cmath>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr int kMaxChanges = 12;

std::string settingText(const ToothContact& contact, const Bench& bench) {
    const Interval& limits = contact.gearSet().limits.backlashMm;
    const double backlash = backlashMm(contact, bench);
    // Nothing rolls without play, so there is no mark to see.
    const bool given = contact.gearSet().given.backlashLimits;
    if (backlash <= 0)
        return "  " + say(given ? "cli.game-jammed" : "cli.game-jammed-usual", mm(limits.low), mm(limits.high)) + "\n";
    return marksText(marksOf(contact, bench)) + "  " +
           say(given ? "cli.game-backlash" : "cli.game-backlash-usual", dialText(backlash), mm(limits.low),
               mm(limits.high)) +
           "\n";
}

std::string pathText(const Exercise& exercise) {
    const PathWords path = pathWords(exercise, advisedPath(exercise));
    std::string text = "\n" + say("cli.game-path") + "\n";
    int number = 0;
    for (const std::string& step : path.steps) text += formatted("  %d. ", ++number) + step + "\n";
    return text + (path.end.empty() ? "" : "  " + path.end + "\n");
}

}  // namespace

int runLessonGame(const std::vector<std::string>& words) {
    std::optional<int> seed, level;
    std::optional<std::string> gearSet, html;
    Args args("lesson game", "Set up a gear set from an unknown error; every change costs bench hours.");
    args.integer("--seed", seed, 0, static_cast<int>(kMaxPracticeSeed),
                 "the same seed starts from the same error (else drawn)");
    args.integer("--level", level, 1, kGameLevels, "1 easy to 4 hard (else 3)");
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
        const std::string page = gamePage(chosenSeed, level.value_or(3), contact ? &*contact : nullptr, shownUnits());
        writeOutput(*html, {reinterpret_cast<const std::uint8_t*>(page.data()), page.size()});
        tell(say("cli.wrote-with-seed", *html, chosenSeed) + "\n");
        return kDone;
    }
    const Exercise exercise = drawExercise(chosenSeed, level.value_or(3), 1, contact ? &*contact : nullptr);
    const ToothContact& set = *exercise.contact;
    const auto shown = [](double number) { return formatted("%.2f", number); };
    tell(say("cli.game-begins", exercise.seed, exercise.level, set.gearSet().name) + "\n" +
         wrapped(say("cli.game-rules", shown(Costs{}.trialHours), shown(Costs{}.pinionShimHours),
                     shown(Costs{}.ringGearHours)),
                 "", "") +
         "\n" + settingText(set, exercise.bench));

    Bench bench = exercise.bench;
    double hours = 0;
    bool ended = false;
    for (int change = 0; change <= kMaxChanges && !ended;) {
        const auto move = askUntil(say("cli.game-your-move", shown(hours)), parseCorrection);
        if (!move) break;
        if (move->remedy == Remedy::Change && std::abs(move->thickerMm) > 0) {
            tell(say("training.say-the-depth") + "\n");
            continue;
        }
        if (const auto fault = shimFault(set.gearSet(), move->move.deeperMm); fault) {
            tell(*fault + "\n");
            continue;
        }
        if (move->remedy == Remedy::Change) {
            if (++change > kMaxChanges) break;
            bench = moved(set, bench, move->move);
            hours += benchHours(move->move);
            tell("\n" + settingText(set, bench));
            continue;
        }
        ended = true;
        const bool good = goodness(set, bench) > 0;
        if (move->remedy == Remedy::Accept)
            tell("\n" + say(good ? "cli.game-good" : "cli.game-not-good", shown(hours)) + "\n");
        else
            tell("\n" +
                 say(exercise.remedy == Remedy::NoShim ? "cli.game-no-shim-right" : "cli.game-no-shim-wrong",
                     shown(hours)) +
                 "\n");
    }
    if (!ended) tell("\n" + say("cli.game-without-verdict", shown(hours)) + "\n");
    if (exercise.remedy == Remedy::Change) tell(say("cli.game-one-step", moveWords(exercise.best.move)) + "\n");
    tell(wrapped(ruleWords(exercise), "", ""));
    tell(pathText(exercise));
    tell(benchCaution());
    return kDone;
}

}  // namespace shimsight::cli
