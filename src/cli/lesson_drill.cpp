#include <chrono>
#include <ctime>
#include <numeric>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"

namespace shimsight::cli {
namespace {

std::string nowText() {
    const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
    std::tm utc{};
    gmtime_r(&now, &utc);
    std::array<char, 32> text{};
    std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &utc);
    return text.data();
}

std::string placeText(const SeenPlace& place) {
    if (!place.length || !place.depth) return "none";
    return std::string(name(*place.length)) + ", " + std::string(name(*place.depth));
}

std::string truthText(const Exercise& exercise) {
    return correctionWords({exercise.remedy, exercise.remedy == Remedy::Change ? exercise.best.move : BenchMove{}});
}

void writePhotos(const Exercise& exercise, const std::filesystem::path& file) {
    for (const Side side : kSides) {
        std::filesystem::path named = file;
        named.replace_filename(file.stem().string() + printed("-%d-", exercise.number) +
                               (side == Side::Drive ? "drive" : "coast") + file.extension().string());
        writeFileAtomically(named, benchPhoto(*exercise.contact, exercise.bench, side,
                                              exercise.seed + static_cast<std::uint64_t>(exercise.number)));
        say("Photo: " + named.string() + "\n");
    }
}

/// The exercise as the learner sees it.
std::string questionText(const Exercise& exercise, int of) {
    const GearSet& set = exercise.contact->gearSet();
    const Interval& limits = set.limits.backlashMm;
    return printed("\nQuestion %d of %d, level %d: ", exercise.number, of, exercise.level) +
           std::string(drillLevelWords(exercise.level)) + ".\n" + set.name + ". Backlash now " +
           formatLength(Length::fromMm(exercise.backlashMm)) + ", limits " + formatLength(Length::fromMm(limits.low)) +
           " to " + formatLength(Length::fromMm(limits.high)) + ".\n\n" + marksText(exercise.marks) + "\n";
}

std::string markedText(const Exercise& exercise, const DrillAnswer& answer, const MarkedAnswer& marked) {
    std::string text =
        printed("\nWhere: %d of 4 points. Correction: %d of 6 points.\n", marked.placePoints, marked.correctionPoints);
    for (const std::string& sentence : marked.words) text += wrapped(sentence, "  - ", "    ");
    if (answer.correction.remedy == Remedy::Change) {
        text += "\nExpected after your change (backlash " + formatLength(Length::fromMm(marked.backlashMm)) + "):\n\n" +
                marksText(marked.expected);
        for (const Side side : kSides) {
            const auto &from = exercise.marks.pattern[index(side)], &to = marked.expected.pattern[index(side)];
            text += std::string(side == Side::Drive ? "  drive: " : "  coast: ") + placeWords(to) +
                    (from && to ? ", " + wayWords(*from, *to) : "") + "\n";
        }
    }
    return text;
}

}  // namespace

int runLessonDrill(const std::vector<std::string>& words) {
    std::optional<int> seed, level, questions;
    std::optional<std::string> learner, folder, photo, gearSet, html;
    bool exam = false, photos = false;
    Args args("lesson drill", "Asks where the mark is and what to change, and marks the answers.");
    args.integer("--seed", seed, 0, 1'000'000'000, "the same seed asks the same questions (else drawn)");
    args.integer("--level", level, 1, kDrillLevels, "1 easy to 4 hard (else 1)");
    args.integer("--questions", questions, 1, 100, "how many (else 5)");
    args.text("--name", learner, "NAME", "the learner; with --folder");
    args.text("--folder", folder, "DIR", "keep a score sheet for each name here");
    args.text("--gear-set", gearSet, "FILE", "drill on this gear set (else on the program's own)");
    args.text("--photo", photo, "FILE.jpg", "write rendered photos too: FILE-1-drive.jpg, FILE-1-coast.jpg, ...");
    args.flag("--exam", exam, "show the marking at the end only");
    args.text("--html", html, "FILE", "write the drill as a page to practise in a browser instead");
    args.flag("--photos", photos,
              "in the page, the marks are to be found on rendered photos; half a minute each and more");
    args.footer(
        "Answers are read from the standard input, one a line: where the drive mark is, where the coast mark is, what "
        "to "
        "change. A place is toe, centre or heel and face, centre or flank: \"toe flank\". A correction is \"deeper "
        "4thou\", \"shallower 0.10mm, less 2thou\", \"more 3thou\", \"accept\" or \"no shim\".");
    if (!args.parse(words)) return kDone;
    if (learner.has_value() != folder.has_value()) throw UsageError("--name and --folder go together.");
    if (html && (learner || photo || exam))
        throw UsageError("--html goes with --seed, --level, --questions, --gear-set and --photos only.");
    if (photos && !html) throw UsageError("--photos goes with --html; --photo writes photos beside the terminal.");
    if (folder) scoreSheetFile(*folder, *learner);  // a name that is none is told before the first question
    std::optional<ToothContact> contact;
    if (gearSet) {
        const GearSetFile file = openGearSet(*gearSet);
        contact.emplace(contactOf(completeGearSet(file.data), file.fileName));
    }
    const std::uint64_t chosenSeed = seedOf(seed);
    const int count = questions.value_or(5);
    if (html) {
        const std::string page =
            drillPage({chosenSeed, level.value_or(1), count, contact ? &*contact : nullptr, photos});
        writeFileAtomically(*html, {reinterpret_cast<const std::uint8_t*>(page.data()), page.size()});
        say("Wrote " + *html + printed(", seed %llu.\n", static_cast<unsigned long long>(chosenSeed)));
        return kDone;
    }
    say(printed("Drill with seed %llu, level %d, %d questions.\n", static_cast<unsigned long long>(chosenSeed),
                level.value_or(1), count));

    int points = 0, answered = 0;
    std::string later;
    for (int number = 1; number <= count; ++number) {
        const Exercise exercise = drawExercise(chosenSeed, level.value_or(1), number, contact ? &*contact : nullptr);
        say(questionText(exercise, count));
        if (photo) writePhotos(exercise, *photo);
        DrillAnswer answer;
        const auto drive = askUntil("Where is the drive mark?", parseSeenPlace);
        const auto coast = drive ? askUntil("Where is the coast mark?", parseSeenPlace) : std::nullopt;
        const auto correction = coast ? askUntil("What would you change?", parseCorrection) : std::nullopt;
        if (!correction) break;
        answer.seen = {*drive, *coast};
        answer.correction = *correction;
        const MarkedAnswer marked = markAnswer(exercise, answer);
        points += marked.points();
        ++answered;
        const std::string text = markedText(exercise, answer, marked);
        if (exam)
            later += printed("\nQuestion %d\n", number) + text;
        else
            say(text);
        if (folder) {
            ScoreEntry entry{nowText(),
                             exercise.seed,
                             exercise.level,
                             number,
                             exercise.contact->gearSet().name,
                             truthText(exercise),
                             placeText(answer.seen[0]),
                             placeText(answer.seen[1]),
                             correctionWords(answer.correction),
                             marked.placePoints,
                             marked.correctionPoints};
            addScore(*folder, *learner, entry);
        }
    }
    say(later);
    say(printed("\n%d of %d points in %d of %d questions.\n", points, answered * kMostPoints, answered, count));
    if (answered < count) say("The answers ended before the questions did; what was answered counts.\n");
    return kDone;
}

int runLessonScores(const std::vector<std::string>& words) {
    std::optional<std::string> csv;
    std::string folder;
    Args args("lesson scores", "The score sheets of a folder.");
    args.requiredText("--folder", folder, "DIR", "the folder of lesson drill --folder");
    args.text("--csv", csv, "FILE", "write all answers as a table for spreadsheets");
    if (!args.parse(words)) return kDone;
    const std::vector<ScoreSheet> sheets = scoreSheets(folder);
    if (sheets.empty()) throw InputError(folder + ": there are no score sheets in this folder.");
    if (csv) {
        const std::string text = scoresCsv(sheets);
        writeFileAtomically(*csv, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
    }
    std::string text;
    for (const ScoreSheet& sheet : sheets) {
        const int points =
            std::accumulate(sheet.entries.begin(), sheet.entries.end(), 0,
                            [](int sum, const ScoreEntry& e) { return sum + e.placePoints + e.correctionPoints; });
        const int most = static_cast<int>(sheet.entries.size()) * kMostPoints;
        text += printed("%-24s %3zu answers, %d of %d points", sheet.name.c_str(), sheet.entries.size(), points, most) +
                (most > 0 ? printed(" (%d %%)", 100 * points / most) : "") + "\n";
    }
    printText(text + (csv ? "Wrote " + *csv + ".\n" : ""));
    return kDone;
}

}  // namespace shimsight::cli
