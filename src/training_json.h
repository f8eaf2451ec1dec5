// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What a page asks and gets of exercises, marks, answers and score sheets, as JSON. Module `training`.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"

namespace shimsight::training {

/// One mark as it lies on the tooth, nothing told of it: {"drive": sketch, "coast": sketch}.
nlohmann::json bareSketches(const ToothContact& contact, const BenchMarks& marks);
/// The marks with their middle, where it should lie, and the way from `before` when there is one.
nlohmann::json toldSketches(const ToothContact& contact, const BenchMarks& marks, const BenchMarks* before = nullptr,
                            const std::array<bool, 2>& sides = {true, true});
/// The marks of an exercise as they are told with its grade.
nlohmann::json nowSketches(const Exercise& exercise);

/// A drawn question as a learner gets it: nothing that is right. `onPhotos`: without its sketches.
nlohmann::json questionJson(const Exercise& exercise, bool onPhotos);

/// Gear set, cut, limits and backlash now: what a mechanic knows beside the mark.
nlohmann::json benchFacts(const ToothContact& contact, double backlashMm);

/// A trial of a job as a question; `job`: the name of its folder.
nlohmann::json trialJson(const std::string& job, const JobRecord& record, const JobExercise& exercise);

/// A drill answer as it was sent.
struct SentAnswer {
    bool exam = false;
    std::optional<std::uint64_t> seed;
    int level = 1, number = 1;
    std::string set;         ///< empty: one of the program's own
    std::string job, trial;  ///< instead of seed, level and number
    std::string name;        ///< empty: not kept
    DrillAnswer answer;
};
/// Throws InputError.
SentAnswer parseSentAnswer(const std::string& body);

std::string seenWords(const SeenPlace& place);  ///< "toe, flank", "none"

/// {"name", "title"} of a lesson; null: none.
nlohmann::json lessonJson(const std::string& name);

/// Points, sentences, what was right, and what the learner's own choice would have given.
nlohmann::json gradedJson(const Exercise& exercise, const SentAnswer& sent, const GradedAnswer& graded);

/// The set-up game: the moves so far are replayed from the start. Throws InputError.
struct SentGame {
    std::uint64_t seed = 0;
    int level = 3;
    std::string set;
    std::vector<BenchMove> moves;
    std::optional<Remedy> verdict;  ///< Accept or NoShim: the game ends
};
SentGame parseSentGame(const std::string& body);
nlohmann::json gameJson(const Exercise& exercise, const SentGame& game);
/// Its parts: level, costs and steps; whether a verdict is right; what was right and how Shimsight goes.
nlohmann::json gameRulesJson(const Exercise& exercise);
nlohmann::json gameEndJson(const Exercise& exercise, Remedy verdict, bool good);
nlohmann::json gameTruthJson(const Exercise& exercise);

/// Which exercise: drawn by seed, level and number.
struct Question {
    std::uint64_t seed = 0;
    int level = 1, number = 1;
    std::string set;  ///< empty: one of the program's own
    std::string key() const {
        return std::to_string(seed) + "/" + std::to_string(level) + "/" + std::to_string(number) + "/" + set;
    }
};

/// The score sheets of a shop and the exam that may be on. Safe from several threads. Everything throws InputError.
class ScoreBook {
public:
    /// `folder` empty: nothing is kept. An exam needs a folder; `randomBits` draw its questions when it begins.
    ScoreBook(std::filesystem::path folder, std::optional<ExamOptions> exam, std::uint64_t randomBits);

    const std::filesystem::path& folder() const { return folder_; }
    const std::optional<ExamOptions>& exam() const { return exam_; }

    /// The exam's question of this number; nullopt: no exam is on.
    std::optional<Question> examQuestion(int number) const;
    /// The question that an answer is for, which must be no trial of a job. In an exam with a list, of a name on it.
    Question questionOf(const SentAnswer& sent) const;

    /// In an exam with a list: the name is on it, and this device has it, or takes it now. Throws where another has it.
    void takeName(const std::string& name, const std::string& device);

    /// Puts an answer on the sheet of its name. With `again` it may be there already. An exam takes each answer once.
    void keep(const Exercise& exercise, const SentAnswer& sent, const std::string& at, bool again);

    /// {"sheets": all in short, or with its answers the one of `name`, "faults": sentences}. Closed while an exam is
    /// on.
    nlohmann::json sheets(const std::string& name) const;
    std::string table() const;  ///< the same as scoresCsv
    /// What `name` answered of the exam, whether that is all, and the points then, where the exam has a list. What was
    /// right stays closed.
    nlohmann::json examSoFar(const std::string& name) const;

private:
    void checkOpen() const;
    void checkSits(const std::string& name) const;  ///< the exam
    std::vector<ScoreEntry> examEntries(const std::string& name) const;

    std::filesystem::path folder_;
    std::optional<ExamOptions> exam_;
    std::uint64_t examSeed_;
    std::mutex guard_;  ///< between looking at a sheet and writing it
};

}  // namespace shimsight::training
