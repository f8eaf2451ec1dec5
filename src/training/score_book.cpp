// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"
#include "shimsight/words.h"
#include "training_json.h"

namespace shimsight::training {
namespace {

using nlohmann::json;

ScoreEntry entryOf(const Exercise& exercise, const SentAnswer& sent, const std::string& at) {
    const GradedAnswer graded = gradeAnswer(exercise, sent.answer);
    ScoreEntry entry;
    entry.at = at;
    entry.seed = exercise.seed;
    entry.level = exercise.level;
    entry.number = exercise.number;
    entry.job = sent.job;
    entry.trial = sent.trial;
    entry.gearSet = exercise.contact->gearSet().name;
    entry.truth = truthWords(exercise);
    entry.driveSeen = seenWords(sent.answer.seen[index(Side::Drive)]);
    entry.coastSeen = seenWords(sent.answer.seen[index(Side::Coast)]);
    entry.correction = correctionWords(exercise, sent.answer.correction);
    entry.lesson = graded.lesson;
    entry.placePoints = graded.placePoints;
    entry.correctionPoints = graded.correctionPoints;
    return entry;
}

int pointsOf(const ScoreEntry& entry) { return entry.placePoints + entry.correctionPoints; }

json answerJson(const ScoreEntry& entry) {
    return {{"at", entry.at},
            {"level", entry.level},
            {"number", entry.number},
            {"job", entry.job},
            {"trial", entry.trial},
            {"gear_set", entry.gearSet},
            {"correction", entry.correction},
            {"truth", entry.truth},
            {"points", pointsOf(entry)}};
}

json sheetJson(const ScoreSheet& sheet, bool withAnswers) {
    int points = 0;
    json answers = json::array();
    for (const ScoreEntry& entry : sheet.entries) {
        points += pointsOf(entry);
        if (withAnswers) answers.push_back(answerJson(entry));
    }
    json toRead = json::array();
    for (const LessonToRead& one : lessonsToRead(sheet.entries)) {
        json lesson = lessonJson(one.lesson);
        if (lesson.is_null()) continue;  // of a program with other lessons
        lesson["mistakes"] = one.mistakes;
        toRead.push_back(std::move(lesson));
    }
    return {{"name", sheet.name},
            {"lessons", toRead},
            {"answered", sheet.entries.size()},
            {"points", points},
            {"of", kMaxPoints * static_cast<int>(sheet.entries.size())},
            {"last_at", sheet.entries.empty() ? json(nullptr) : json(sheet.entries.back().at)},
            {"answers", answers}};
}

}  // namespace

ScoreBook::ScoreBook(std::filesystem::path folder, std::optional<ExamOptions> exam, std::uint64_t randomBits)
    : folder_(std::move(folder)),
      exam_(std::move(exam)),
      examSeed_(exam_ ? examSeed(folder_, exam_->number, randomBits) : 0) {}

std::optional<Question> ScoreBook::examQuestion(int number) const {
    if (!exam_) return std::nullopt;
    if (number > exam_->questions) throw InputError(message("training.no-such-exam-question"));
    return Question{examSeed_, exam_->level, number, ""};
}

Question ScoreBook::questionOf(const SentAnswer& sent) const {
    if (sent.exam) {
        if (!exam_) throw InputError(message("training.no-exam-now"));
        checkSits(sent.name);
        return *examQuestion(sent.number);
    }
    return {sent.seed.value_or(0), sent.level, sent.number, sent.set};
}

void ScoreBook::keep(const Exercise& exercise, const SentAnswer& sent, const std::string& at, bool again) {
    const ScoreEntry entry = entryOf(exercise, sent, at);
    const std::lock_guard lock(guard_);
    std::vector<ScoreEntry> entries;
    try {
        entries = readScoreSheet(folder_, sent.name).entries;
    } catch (const DamagedSheet&) {
        // It is set aside when the answer is added.
    }
    for (const ScoreEntry& before : entries) {
        if (before.seed != entry.seed || before.level != entry.level || before.number != entry.number) continue;
        if (again && before.at == at) return;
        if (sent.exam) throw InputError(message("training.answered-already", entry.number));
    }
    (void)addScore(folder_, sent.name, entry);
}

void ScoreBook::checkOpen() const {
    if (folder_.empty()) throw InputError(message("training.no-score-sheets-kept"));
    if (exam_) throw InputError(message("training.sheets-closed"));
}

json ScoreBook::sheets(const std::string& name) const {
    checkOpen();
    std::error_code error;
    const bool there = std::filesystem::exists(folder_, error);
    json sheets = json::array(), faults = json::array();
    if (!name.empty())
        sheets.push_back(sheetJson(readScoreSheet(folder_, name), true));
    else if (there)
        for (const ScoreSheet& sheet : scoreSheets(folder_)) sheets.push_back(sheetJson(sheet, false));
    if (name.empty() && there)
        for (const std::string& fault : scoreSheetFaults(folder_)) faults.push_back(fault);
    return {{"sheets", sheets}, {"faults", faults}};
}

std::string ScoreBook::table() const {
    checkOpen();
    std::error_code error;
    return scoresCsv(std::filesystem::exists(folder_, error) ? scoreSheets(folder_) : std::vector<ScoreSheet>());
}

void ScoreBook::checkSits(const std::string& name) const {
    if (name.empty()) throw InputError(message("training.exam-without-name"));
    const std::vector<std::string>& names = exam_->names;
    if (!names.empty() && std::find(names.begin(), names.end(), name) == names.end())
        throw InputError(message("training.not-on-exam-list", name));
}

void ScoreBook::takeName(const std::string& name, const std::string& device) {
    if (!exam_) throw InputError(message("training.no-exam-now"));
    checkSits(name);
    // Where whoever gives a name sits the exam, a name belongs to nobody.
    if (!exam_->names.empty() && !takeExamName(folder_, exam_->number, name, device))
        throw InputError(message("training.exam-name-taken", name));
}

std::vector<ScoreEntry> ScoreBook::examEntries(const std::string& name) const {
    std::vector<ScoreEntry> found;
    for (const ScoreEntry& entry : readScoreSheet(folder_, name).entries)
        if (entry.seed == examSeed_ && entry.level == exam_->level && entry.number <= exam_->questions)
            found.push_back(entry);
    return found;
}

json ScoreBook::examSoFar(const std::string& name) const {
    check(exam_.has_value(), "an exam is on");
    checkSits(name);
    const std::vector<ScoreEntry> entries = examEntries(name);
    json answered = json::array(), results = nullptr;
    for (const ScoreEntry& entry : entries) answered.push_back(entry.number);
    const bool handedIn = entries.size() >= static_cast<std::size_t>(exam_->questions);
    if (handedIn && !exam_->names.empty()) {
        // What was right stays closed as long as others may still sit the exam.
        results = json::array();
        for (const ScoreEntry& entry : entries)
            results.push_back({{"number", entry.number},
                               {"correction", entry.correction},
                               {"place_points", entry.placePoints},
                               {"correction_points", entry.correctionPoints},
                               {"points", pointsOf(entry)}});
    }
    return {{"questions", exam_->questions},
            {"answered", answered},
            {"handed_in", handedIn},
            {"results", results},
            {"of", kMaxPoints}};
}

}  // namespace shimsight::training
