// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <cmath>
#include <ctime>
#include <numeric>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr int kUsualQuestions = 5;

std::string placeText(const SeenPlace& place) {
    if (!place.length || !place.depth) return "none";
    return std::string(name(*place.length)) + ", " + std::string(name(*place.depth));
}

void writePhotos(const Exercise& exercise, const std::filesystem::path& file) {
    Progress progress;
    for (const Side side : kSides) {
        std::filesystem::path named = file;
        named.replace_filename(file.stem().string() + "-" + std::to_string(exercise.number) + "-" +
                               std::string(name(side)) + file.extension().string());
        progress.show(say(side == Side::Drive ? "cli.drawing-drive-photo" : "cli.drawing-coast-photo"));
        const std::vector<std::uint8_t> jpeg = drillPhoto(exercise, side);
        progress.wipe();
        writeOutput(named, jpeg);
        tell(say("cli.photo", named.string()) + "\n");
    }
}

std::string backlashText(double mm, const Interval& limits, bool given) {
    return say(given ? "cli.backlash-now" : "cli.backlash-now-usual", dialText(mm), cli::mm(limits.low),
               cli::mm(limits.high));
}

std::string gradedText(const Exercise& exercise, const DrillAnswer& answer, const GradedAnswer& graded) {
    std::string text = "\n" +
                       say("cli.points-in-parts", graded.placePoints, kMaxPlacePoints, graded.correctionPoints,
                           kMaxPoints - kMaxPlacePoints) +
                       "\n";
    for (const std::string& sentence : graded.words) text += wrapped(sentence, "  - ", "    ");
    if (exercise.story || answer.correction.remedy != Remedy::Change) return text;
    if (graded.backlashMm <= 0) return text + "\n" + say("cli.jammed-after-your-change") + "\n";
    {
        text += "\n" + say("cli.expected-after-your-change", dialText(graded.backlashMm)) + "\n\n" +
                marksText(graded.expected);
        for (const Side side : kSides) {
            const auto &from = exercise.marks.pattern[index(side)], &to = graded.expected.pattern[index(side)];
            text += "  " +
                    say(side == Side::Drive ? "cli.drive-at" : "cli.coast-at",
                        placeWords(to) + (from && to ? ", " + wayWords(*from, *to) : "")) +
                    "\n";
        }
    }
    return text;
}

/// One question after the other: asks, grades, keeps the score.
class Sitting {
public:
    Sitting(bool exam, std::optional<std::string> learner, std::optional<std::string> folder)
        : exam_(exam), learner_(std::move(learner)), folder_(std::move(folder)) {}

    /// False: there were no further answers. `question` is what the learner sees.
    bool ask(const Exercise& exercise, const std::string& question, const std::string& job, const std::string& trial) {
        ++asked_;
        tell(question);
        DrillAnswer answer;
        for (const Side side : kSides) {
            if (!exercise.asked[index(side)]) continue;
            const auto seen =
                askUntil(say(side == Side::Drive ? "cli.where-is-the-drive-mark" : "cli.where-is-the-coast-mark"),
                         parseSeenPlace);
            if (!seen) return false;
            answer.seen[index(side)] = *seen;
        }
        const auto correction = askUntil(exercise.story       ? say("cli.what-would-you-check")
                                         : exercise.shimAsked ? say("cli.what-shim", text(wordFor(*exercise.shimAsked)))
                                                              : say("cli.what-would-you-change"),
                                         [&](const std::string& line) {
                                             Correction said = exercise.story
                                                                   ? parseCheck(line, exercise.story->checks.size())
                                                                   : parseCorrection(line);
                                             (void)correctionWords(exercise, said);  // of the kind that is asked
                                             return said;
                                         });
        if (!correction) return false;
        answer.correction = *correction;
        const GradedAnswer graded = gradeAnswer(exercise, answer);
        points_ += graded.points();
        ++answered_;
        const std::string text = gradedText(exercise, answer, graded);
        if (exam_)
            later_ += "\n" + say("cli.question", asked_) + "\n" + text;
        else
            tell(text);
        keep(exercise, answer, graded, job, trial);
        return true;
    }

    void end(int count) const {
        tell(later_);
        tell("\n" + say("cli.points-in-all", points_, answered_ * kMaxPoints, answered_, count) + "\n");
        if (answered_ < count) tell(say("cli.answers-ended-early") + "\n");
        tell(benchCaution());
    }

private:
    void keep(const Exercise& exercise, const DrillAnswer& answer, const GradedAnswer& graded, const std::string& job,
              const std::string& trial) const {
        if (!folder_) return;
        ScoreEntry entry;
        entry.at = timeNow();
        entry.seed = exercise.seed;
        entry.level = exercise.level;
        entry.number = exercise.number;
        entry.job = job;
        entry.trial = trial;
        entry.gearSet = exercise.contact->gearSet().name;
        entry.truth = truthWords(exercise);
        entry.driveSeen = exercise.asked[0] ? placeText(answer.seen[0]) : say("cli.not-asked");
        entry.coastSeen = exercise.asked[1] ? placeText(answer.seen[1]) : say("cli.not-asked");
        entry.correction = correctionWords(exercise, answer.correction);
        entry.lesson = graded.lesson;
        entry.placePoints = graded.placePoints;
        entry.correctionPoints = graded.correctionPoints;
        if (const auto damage = addScore(*folder_, *learner_, entry)) note(*damage);
    }

    bool exam_;
    std::optional<std::string> learner_, folder_;
    int points_ = 0, answered_ = 0, asked_ = 0;
    std::string later_;
};

/// `key`: id of an entry with the number of the photo and how many there are.
PhotoProgress photoProgress(Progress& progress, const char* key) {
    return [&progress, key](int number, int of) { progress.show(say(key, number, of)); };
}

void writePage(const std::string& file, const std::string& page) {
    writeOutput(file, {reinterpret_cast<const std::uint8_t*>(page.data()), page.size()});
}

// ---- Trials of jobs ----

struct JobTrialQuestion {
    std::filesystem::path folder;
    JobExercise exercise;
};

/// The job of this folder, or the jobs in it, in the order of their names.
std::vector<std::filesystem::path> jobFoldersIn(const std::filesystem::path& folder) {
    if (isJobFolder(folder)) return {folder};
    std::error_code error;
    std::vector<std::filesystem::path> jobs;
    std::filesystem::directory_iterator entries(folder, error);
    if (error) throw InputError(message("cli.folder-not-read", folder.string(), error.message()));
    for (const auto& entry : entries)
        if (isJobFolder(entry.path())) jobs.push_back(entry.path());
    if (jobs.empty()) throw InputError(message("cli.no-job-in-folder", folder.string()));
    std::sort(jobs.begin(), jobs.end());
    return jobs;
}

/// The trials that can be asked for; what cannot be used is told.
std::vector<JobTrialQuestion> jobQuestions(const std::vector<std::string>& folders) {
    std::vector<JobTrialQuestion> questions;
    std::vector<std::string> leftOut;
    for (const std::string& named : folders) {
        for (const std::filesystem::path& folder : jobFoldersIn(named)) {
            try {
                const JobRecord job = openJob(folder).record;
                JobExercises exercises = jobExercises(job);
                for (JobExercise& one : exercises.usable) questions.push_back({folder, std::move(one)});
                for (const JobTrialLeftOut& one : exercises.leftOut)
                    leftOut.push_back(say("cli.trial-not-asked", job.axle, one.trial, one.why));
            } catch (const InputError& error) {
                leftOut.emplace_back(error.what());
            }
        }
    }
    if (questions.empty()) {
        for (const std::string& why : leftOut) note(why);
        throw InputError(message("cli.no-trial-to-ask-for"));
    }
    tell(bulletList(say("cli.not-asked-heading"), leftOut));
    return questions;
}

std::string jobQuestionText(const JobTrialQuestion& question, int number, int of) {
    const JobExercise& one = question.exercise;
    std::string text = "\n" + say("cli.question-on-trial", number, of, one.job, one.trial) + "\n" +
                       say("cli.set-and-backlash", one.gearSet,
                           backlashText(one.backlashMm, one.backlashLimitsMm, one.backlashLimitsGiven)) +
                       "\n";
    for (const JobExercise::Photo& photo : one.photos) {
        text += say("cli.photo", (question.folder / photo.file).string());
        for (const Side side : photo.sides)
            text += " " + say(side == Side::Drive ? "cli.of-drive-side" : "cli.of-coast-side");
        text += "\n";
    }
    return text + "\n";
}

struct JobDrill {
    std::vector<std::string> folders;
    std::optional<int> seed, questions;
    std::optional<std::string> html;
};

void runJobDrill(const JobDrill& drill, Sitting& sitting) {
    std::vector<JobTrialQuestion> questions = jobQuestions(drill.folders);
    if (drill.seed) {
        // Shuffled, the same for the same seed.
        Random random(static_cast<std::uint64_t>(*drill.seed));
        for (std::size_t k = questions.size(); k > 1; --k)
            std::swap(questions[k - 1],
                      questions[static_cast<std::size_t>(random.integer(0, static_cast<int>(k) - 1))]);
    }
    questions.resize(std::min(questions.size(), static_cast<std::size_t>(drill.questions.value_or(kUsualQuestions))));
    const int count = static_cast<int>(questions.size());
    if (drill.html) {
        std::vector<JobTrialPlace> places;
        for (const JobTrialQuestion& one : questions) places.push_back({one.folder, one.exercise.trial});
        Progress progress;
        const std::string page = jobDrillPage(places, photoProgress(progress, "cli.taking-in-photo"), shownUnits());
        progress.wipe();
        writePage(*drill.html, page);
        tell(say(count == 1 ? "cli.wrote-one-question" : "cli.wrote-questions", *drill.html, count) + "\n");
        return;
    }
    tell(say(count == 1 ? "cli.job-drill-of-one" : "cli.job-drill", count) + "\n");
    int number = 0;
    for (const JobTrialQuestion& one : questions) {
        const JobTruth truth = jobTruth(openJob(one.folder).record, one.exercise.trial);
        if (!sitting.ask(truth.exercise, jobQuestionText(one, ++number, count), one.exercise.job, one.exercise.trial))
            break;
    }
    sitting.end(count);
}

/// The exercise as the learner sees it.
std::string questionText(const Exercise& exercise, int of) {
    const GearSet& set = exercise.contact->gearSet();
    std::string text =
        "\n" + say("cli.question-of-level", exercise.number, of, exercise.level, drillLevelWords(exercise.level)) +
        "\n";
    if (exercise.story) text += wrapped(exercise.story->complaint, "", "");
    text += say("cli.set-and-backlash", set.name,
                backlashText(exercise.backlashMm, set.limits.backlashMm, set.given.backlashLimits)) +
            "\n";
    if (!exercise.story) text += say("cli.shims-step-by", mm(shimStepMm(set))) + "\n";
    if (!isPhotoLevel(exercise.level)) text += "\n" + marksText(exercise.marks);
    if (exercise.story)
        for (std::size_t k = 0; k < exercise.story->checks.size(); ++k)
            text += wrapped(exercise.story->checks[k], formatted("  %zu. ", k + 1), "     ");
    return text + "\n";
}

void checkName(const std::string& folder, const std::string& learner) {
    try {
        (void)scoreSheetFile(folder, learner);
    } catch (const InputError& error) {
        throw InputError(message("cli.option-refused", "--name", error.what()));
    }
}

}  // namespace

int runLessonDrill(const std::vector<std::string>& words) {
    std::optional<int> seed, level, questions;
    std::optional<std::string> learner, folder, photo, gearSet, html;
    std::vector<std::string> jobs;
    bool exam = false, photos = false;
    Args args("lesson drill", "Asks where the mark is and what to change, and checks the answers.");
    args.integer("--seed", seed, 0, static_cast<int>(kMaxPracticeSeed),
                 "the same seed asks the same questions (else drawn)");
    args.integer("--level", level, 1, kDrillLevels,
                 "1 easy to 4 hard, 5 on photos alone, 6 in shims, 7 complaints (else 1)");
    args.integer("--questions", questions, 1, 100, "how many (else 5)");
    args.text("--name", learner, "NAME", "the learner; with --folder");
    args.text("--folder", folder, "DIR", "keep a score sheet for each name here");
    args.text("--gear-set", gearSet, "FILE", "drill on this gear set (else on the program's own)");
    args.text("--photo", photo, "FILE.jpg", "write rendered photos too: FILE-1-drive.jpg, FILE-1-coast.jpg, ...");
    args.texts("--job", jobs, "DIR",
               "ask for the trials of this job, or of the jobs in this folder, on their own photos");
    args.flag("--exam", exam, "show what was right at the end only");
    args.text("--html", html, "FILE", "write the drill as a page to practise in a browser instead");
    args.flag("--photos", photos, "in the page, the marks are to be found on rendered photos; some seconds each");
    args.footer(
        "Answers are read from the standard input, one a line: where the drive mark is, where the coast mark is, what "
        "to "
        "change. A place is toe, centre or heel and face, centre or flank: \"toe flank\". A correction is \"deeper "
        "4thou\", \"shallower 0.10mm, less 2thou\", \"more 3thou\", \"accept\" or \"no shim\"; on level 6 \"thicker "
        "4thou\" "
        "or \"thinner 4thou\"; on level 7 the number of a check. With --job a trial is "
        "asked "
        "when what it needed is known: a later trial was read as good, and every change up to it was written down. "
        "Trials are asked in their order, with --seed in a drawn one.");
    if (!args.parse(words)) return kDone;
    if (learner.has_value() != folder.has_value()) throw UsageError(say("cli.name-and-folder"));
    if (!jobs.empty() && (level || gearSet || photo || photos)) throw UsageError(say("cli.job-drill-with-others"));
    if (html && (learner || photo || exam)) throw UsageError(say("cli.drill-page-with-others"));
    if (photos && !html) throw UsageError(say("cli.photos-without-page"));
    if (level && isPhotoLevel(*level) && !html && !photo) throw UsageError(say("cli.level-needs-photo"));
    // What is wrong with the name or the sheet is told before the first question.
    if (folder) {
        checkName(*folder, *learner);
        if (const auto damage = setAsideDamagedSheet(*folder, *learner)) note(*damage);
        readScoreSheet(*folder, *learner);
    }
    Sitting sitting(exam, learner, folder);
    if (!jobs.empty()) {
        runJobDrill({jobs, seed, questions, html}, sitting);
        return kDone;
    }
    std::optional<ToothContact> contact;
    if (gearSet) {
        const GearSetFile file = openGearSet(*gearSet);
        contact.emplace(contactOf(completeGearSet(file.data), file.fileName));
    }
    const std::uint64_t chosenSeed = seedOf(seed);
    const int count = questions.value_or(kUsualQuestions);
    if (html) {
        Progress progress;
        const std::string page = drillPage({.seed = chosenSeed,
                                            .level = level.value_or(1),
                                            .questions = count,
                                            .contact = contact ? &*contact : nullptr,
                                            .photos = photos,
                                            .beforePhoto = photoProgress(progress, "cli.drawing-photo"),
                                            .units = shownUnits()});
        progress.wipe();
        writePage(*html, page);
        tell(say("cli.wrote-with-seed", *html, chosenSeed) + "\n");
        return kDone;
    }
    tell(say(count == 1 ? "cli.drill-of-one" : "cli.drill", chosenSeed, level.value_or(1), count) + "\n");
    for (int number = 1; number <= count; ++number) {
        const Exercise exercise = drawExercise(chosenSeed, level.value_or(1), number, contact ? &*contact : nullptr);
        if (photo) writePhotos(exercise, *photo);
        if (!sitting.ask(exercise, questionText(exercise, count), "", "")) break;
    }
    sitting.end(count);
    return kDone;
}

namespace {

std::string lessonToReadText(const LessonToRead& one) {
    const LessonInfo* found = lessonNamed(one.lesson);
    // A sheet of a program with other lessons keeps the names of those.
    const std::string title = found == nullptr ? one.lesson : found->title;
    return one.mistakes == 1 ? say("cli.lesson-to-read-after-one", title, one.lesson)
                             : say("cli.lesson-to-read", title, one.lesson, one.mistakes);
}

}  // namespace

int runLessonScores(const std::vector<std::string>& words) {
    std::optional<std::string> csv;
    std::string folder;
    Args args("lesson scores", "The score sheets of a folder.");
    args.requiredText("--folder", folder, "DIR", "the folder of lesson drill --folder");
    args.text("--csv", csv, "FILE", "write all answers as a table for spreadsheets");
    if (!args.parse(words)) return kDone;
    const std::vector<ScoreSheet> sheets = scoreSheets(folder);
    for (const std::string& fault : scoreSheetFaults(folder)) note(fault);
    if (sheets.empty()) throw InputError(message("cli.no-score-sheets", folder));
    if (csv) {
        const std::string text = scoresCsv(sheets);
        writeOutput(*csv, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
    }
    std::string text;
    for (const ScoreSheet& sheet : sheets) {
        const int points =
            std::accumulate(sheet.entries.begin(), sheet.entries.end(), 0,
                            [](int sum, const ScoreEntry& e) { return sum + e.placePoints + e.correctionPoints; });
        const int most = static_cast<int>(sheet.entries.size()) * kMaxPoints;
        text += say(sheet.entries.size() == 1 ? "cli.score-line-of-one" : "cli.score-line",
                    formatted("%-24s", sheet.name.c_str()), formatted("%3zu", sheet.entries.size()), points, most) +
                (most > 0 ? " (" + percent(std::floor(100.0 * points / most) / 100) + ")" : "") + "\n";
        for (const LessonToRead& one : lessonsToRead(sheet.entries)) text += "  " + lessonToReadText(one) + "\n";
    }
    printText(text + (csv ? say("cli.wrote", *csv) + "\n" : ""));
    return kDone;
}

}  // namespace shimsight::cli
