// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Drill, exam and set-up game: exercises on drawn set-ups and on trials of jobs, how answers are graded, and the score
/// sheets. Module `training`.
///
/// What is right is computed by the engine that gives the advice. Nothing reads a clock, a network or the environment;
/// the same request gives the same bytes.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/pattern.h"
#include "shimsight/tooth_contact.h"

namespace shimsight {

struct JobRecord;  // job.h

inline constexpr int kDrillLevels = 7;
inline constexpr int kGameLevels = 4;  ///< the first ones: those of the game
/// Backlash is set by a dial, in whole thousandths of an inch.
inline constexpr double kBacklashStepMm = 0.0254;
/// "one thing wrong", ...
std::string drillLevelWords(int level);
/// The marks of this level are to be found on rendered photos alone.
bool isPhotoLevel(int level);

enum class Remedy { Accept, Change, NoShim };

/// A complaint with its marks, and what could be checked first. The texts are sentences.
struct Story {
    std::string complaint;
    std::vector<std::string> checks;
    std::size_t right = 0;  ///< place in `checks`
    std::string why;
    std::string lesson;  ///< where it is taught
};

/// One set-up error to find; the same seed, level and number give the same one.
struct Exercise {
    std::uint64_t seed = 0;
    int level = 1, number = 1;  ///< level 0: not drawn, but a trial of a job
    const ToothContact* contact = nullptr;
    Bench bench;
    BenchMarks marks;
    double backlashMm = 0;
    Remedy remedy = Remedy::Accept;  ///< the truth
    BestMove best;
    /// Depth is told and answered as the thickness of the shim here; nullopt: as depth itself.
    std::optional<PinionShim> shimAsked;
    std::optional<Story> story;  ///< what to check first is asked instead of a correction
    // A trial of a job only:
    std::array<bool, 2> asked{true, true};  ///< by index(side): whether the place of this side's mark is asked for
    /// Half of the 90 % intervals of `best.move`: nearer is right. 0: it is known exactly.
    double depthSureMm = 0, backlashSureMm = 0;
    std::vector<std::string> told;  ///< said with the grade: what was done, and how well it is known
};
/// `contact` null: the level draws one of the program's own sets.
Exercise drawExercise(std::uint64_t seed, int level, int number, const ToothContact* contact = nullptr);

/// Where the learner sees a mark; both nullopt: no mark.
struct SeenPlace {
    std::optional<LengthPosition> length;
    std::optional<DepthPosition> depth;
};
/// "toe flank", "heel", "centre", "none". Throws InputError with one sentence.
SeenPlace parseSeenPlace(std::string_view text);

struct Correction {
    Remedy remedy = Remedy::Accept;
    BenchMove move;
    double thickerMm = 0;                ///< of the shim, where that is asked; `move.deeperMm` is 0 then
    std::optional<std::size_t> check{};  ///< of a story: place in its checks
};
/// "deeper 4thou, backlash less 0.05mm", "more 2thou", "thicker 4thou", "accept", "no shim". Throws InputError with one
/// sentence.
Correction parseCorrection(std::string_view text);
/// "2": the second of so many checks. Throws InputError with one sentence.
Correction parseCheck(std::string_view text, std::size_t checks);
/// As it was said for this exercise; throws InputError where depth was said though a shim is asked, or the other way.
std::string correctionWords(const Exercise& exercise, const Correction& correction);
std::string correctionWords(const Correction& correction);
/// What was right, as correctionWords.
std::string truthWords(const Exercise& exercise);

/// The exercise as a rendered photo of one side, as benchPhoto gives it; the same for the same exercise.
std::vector<std::uint8_t> drillPhoto(const Exercise& exercise, Side faced);

struct DrillAnswer {
    std::array<SeenPlace, 2> seen;  ///< by index(side); of a side that is not asked it does not matter
    Correction correction;
};

inline constexpr int kMaxPlacePoints = 4, kMaxPoints = 10;  ///< of a question; the rest is for the correction
struct GradedAnswer {
    int placePoints = 0;       ///< of 4
    int correctionPoints = 0;  ///< of 6
    int points() const { return placePoints + correctionPoints; }
    BenchMarks expected;             ///< after the learner's own choice
    double backlashMm = 0;           ///< after it
    bool ended = false;              ///< the learner's choice ends inside the rule
    std::vector<std::string> words;  ///< plain sentences: what was right, what his choice would have done, the rule
    std::string lesson;              ///< to read after this mistake; empty: none
};
GradedAnswer gradeAnswer(const Exercise& exercise, const DrillAnswer& answer);

/// The two parts of gradeAnswer.
struct GradedPlace {
    int points = 0;
    std::string words;  ///< where the mark is; empty: it was seen
};
GradedPlace gradePlace(const Exercise& exercise, Side side, const SeenPlace& seen);
struct GradedCorrection {
    int points = 0;
    std::vector<std::string> words;
    std::string lesson;
    Bench after;
    double backlashMm = 0;
    bool ended = false;
};
/// Why the shims on hand do not make this change of depth or thickness; nullopt: they do.
std::optional<std::string> shimFault(const GearSet& gearSet, double depthMm);
/// The rule behind what was right.
std::string ruleWords(const Exercise& exercise);
GradedCorrection gradeCorrection(const Exercise& exercise, const Correction& correction);

/// "Read again: the lesson ...".
std::string readAgainWords(std::string_view lesson);

// ---- Drill on the trials of jobs ----

/// A trial of a job as the learner sees it. What was done next is not in here.
struct JobExercise {
    struct Photo {
        std::string file;         ///< in the job folder: "photos/0123456789abcdef.jpg"
        std::vector<Side> sides;  ///< of the flanks that were read on it; may be empty
        /// Round those flanks: left, top, right, bottom in pixels of the upright photo; right <= left: none.
        std::array<double, 4> flanksPx{};
    };
    std::string job;      ///< the axle, as the record names it
    std::string trial;    ///< "t1"
    std::string gearSet;  ///< its name
    Interval backlashLimitsMm;
    bool backlashLimitsGiven = true;  ///< by the gear set; else they are what is usual
    double backlashMm = 0;            ///< as a dial square to the tooth reads it
    std::array<bool, 2> asked{};  ///< by index(side): whether the place of this side's mark is asked for; one at least
    std::vector<Photo> photos;    ///< those that show a flank that was read come first
};
struct JobTrialLeftOut {
    std::string trial;
    std::string why;  ///< a plain sentence
};
struct JobExercises {
    std::vector<JobExercise> usable;
    std::vector<JobTrialLeftOut> leftOut;  ///< every other trial of the record
};
/// The trials whose truth is known from what was done next and read later: those before a trial that was read as
/// acceptable, with every change up to it written down; and that trial itself when the job was then signed off.
JobExercises jobExercises(const JobRecord& job);

/// The photo close up on the flanks that were read, upright, as a JPEG of about a thousand pixels at most. Throws
/// InputError when the file is not there or is no photo.
std::vector<std::uint8_t> jobExercisePhoto(const std::filesystem::path& jobFolder, const JobExercise::Photo& photo);

/// The truth of a trial, for grading. The needed change is the sum of the changes up to the accepted trial. The model
/// is fitted to what was read at the accepted trial, so a learner who does what was done sees what came of it; the
/// patterns in `exercise.marks` are those that were read.
struct JobTruth {
    std::unique_ptr<const ToothContact> contact;  ///< of `exercise`
    Exercise exercise;
    std::string acceptedTrial;          ///< "t4"
    int steps = 0;                      ///< changes up to it
    Estimate deeperMm, moreBacklashMm;  ///< the needed change, with its 90 % interval
};
/// Throws InputError when the trial is none of jobExercises(job).usable.
JobTruth jobTruth(const JobRecord& job, std::string_view trial);
/// gradeAnswer against jobTruth.
GradedAnswer gradeJobAnswer(const JobRecord& job, std::string_view trial, const DrillAnswer& answer);

struct DrillPageOptions {
    std::uint64_t seed = 1;
    int level = 1, questions = 5;
    const ToothContact* contact = nullptr;  ///< null: the program's own sets
    bool photos = false;                    ///< the marks are to be found on rendered photos, see benchPhoto
    PhotoProgress beforePhoto = {};
    Units units = Units::Both;  ///< what its switch begins with, as of the other pages; Both: inches first
};
/// The drill as a page of one file that asks for nothing outside: the same questions and the same grading, the marks
/// drawn, the learner's own choice drawn. The truth stands in the page: for practice, not for an exam.
std::string drillPage(const DrillPageOptions& options);

struct JobTrialPlace {
    std::filesystem::path folder;  ///< of the job
    std::string trial;
};
/// The same page with trials of jobs, each one of jobExercises; their photos are put into the page.
std::string jobDrillPage(std::span<const JobTrialPlace> trials, const PhotoProgress& beforePhoto = {},
                         Units units = Units::Both);

/// One trial of the way that `advise` takes from the same start, seeing patterns and backlash only.
struct PathStep {
    Advice advice;
    BenchMove move;
    Bench after;
    double backlashMm = 0;
    double hours = 0;  ///< of this change
};
/// Until it accepts, gives up, or has made `most` changes. The first step starts from the exercise.
std::vector<PathStep> advisedPath(const Exercise& exercise, int most = 6);

/// A path as sentences: its changes one by one, and how it ended.
struct PathWords {
    std::vector<std::string> steps;
    std::string end;
};
PathWords pathWords(const Exercise& exercise, std::span<const PathStep> path);

/// The game as a page of one file that asks for nothing outside; drawExercise's first of this seed and level. The
/// program's own way stands in it.
std::string gamePage(std::uint64_t seed, int level, const ToothContact* contact = nullptr, Units units = Units::Both);

// ---- Exam and score sheets ----

/// A drill that each learner takes once. Its questions are drawn by examSeed, so that nobody can practise them; what
/// was right is told only when a server runs without it.
struct ExamOptions {
    std::uint64_t number = 0;  ///< names the exam: the same one goes on under it
    int level = 2, questions = 10;
    /// Who sits it, see examNames; they are told their points at the end. Empty: whoever gives a name, and points stay
    /// closed too, since nobody could tell a rehearsal under an invented name from a sitting.
    std::vector<std::string> names{};
};
/// Names of a list, one a line; empty lines do not count. Throws InputError for a line that is no name, one that stands
/// there twice, or a list without a name. `file`: its name, for what is wrong.
std::vector<std::string> examNames(std::string_view text, const std::string& file);

/// What learners may give to draw exercises.
inline constexpr std::uint64_t kMaxPracticeSeed = 1'000'000'000;

/// What draws the questions of the exam of this number. It is made of `randomBits` when the exam begins, kept in
/// `folder` (made when missing) for its owner alone, and is larger than kMaxPracticeSeed. Throws InputError.
std::uint64_t examSeed(const std::filesystem::path& folder, std::uint64_t number, std::uint64_t randomBits);

/// In an exam with a list, a name belongs to the device that took it first, until it is freed; kept in `folder`.
/// False: another device has it. `device`: whatever tells devices apart. Throws InputError.
bool takeExamName(const std::filesystem::path& folder, std::uint64_t number, std::string_view name,
                  std::string_view device);
/// Frees a name for the next device that takes it; false: nobody had it.
bool freeExamName(const std::filesystem::path& folder, std::uint64_t number, std::string_view name);

inline constexpr std::string_view kScoreSheetSchema = "shimsight/score-sheet/1";

/// One answer on a score sheet.
struct ScoreEntry {
    std::string at;  ///< ISO 8601
    std::uint64_t seed = 0;
    int level = 1, number = 1;  ///< level 0: a trial of a job, without a seed
    std::string gearSet, truth, driveSeen, coastSeen, correction;
    int placePoints = 0, correctionPoints = 0;
    std::string job, trial;  ///< of a trial of a job, else empty
    std::string lesson;      ///< to read after a mistake, else empty
};
/// The lessons to read by what a sheet shows: of its last `last` answers, by how many mistakes speak for them, most
/// first.
struct LessonToRead {
    std::string lesson;
    int mistakes = 0;
};
std::vector<LessonToRead> lessonsToRead(std::span<const ScoreEntry> entries, std::size_t last = 20);
/// A file of models/schemas/score-sheet-1.schema.json.
struct ScoreSheet {
    std::string name;
    std::vector<ScoreEntry> entries;
};
/// The sheet cannot be read. It stays as it is until setAsideDamagedSheet.
class DamagedSheet : public InputError {
public:
    using InputError::InputError;
};
/// The sheet's file in `folder`; names that differ get files that differ. Throws InputError for a name that is none.
std::filesystem::path scoreSheetFile(const std::filesystem::path& folder, std::string_view name);
/// An empty sheet when there is no file yet. Throws DamagedSheet for a file that is no score sheet, and InputError for
/// one that a newer program wrote or that is somebody else's.
ScoreSheet readScoreSheet(const std::filesystem::path& folder, std::string_view name);
/// Gives a damaged sheet of `name` another name in the folder, so that a new one can begin; one sentence that says so.
/// nullopt: there is no damage.
std::optional<std::string> setAsideDamagedSheet(const std::filesystem::path& folder, std::string_view name);
/// Adds the entry to the sheet of `name` and writes it whole; two drills at once lose nothing. A damaged sheet is set
/// aside first, and the answer begins a new one; the sentence of setAsideDamagedSheet says so.
std::optional<std::string> addScore(const std::filesystem::path& folder, std::string_view name,
                                    const ScoreEntry& entry);
/// All sheets of a folder that can be read, by name.
std::vector<ScoreSheet> scoreSheets(const std::filesystem::path& folder);
/// One sentence for each file of the folder that looks like a score sheet and cannot be read, or was set aside.
std::vector<std::string> scoreSheetFaults(const std::filesystem::path& folder);
/// A table for spreadsheets, one line an answer.
std::string scoresCsv(std::span<const ScoreSheet> sheets);

}  // namespace shimsight
