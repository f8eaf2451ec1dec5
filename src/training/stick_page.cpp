// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "lesson_page.h"
#include "records_json.h"
#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/text.h"
#include "shimsight/training.h"
#include "shimsight/words.h"
#include "training/bundle.h"
#include "training/embedded.h"
#include "training_json.h"

namespace shimsight {
namespace {

using nlohmann::json;

/// As far as the sliders of the page reach (REACH_MM of training_parts.js), and a game in all.
constexpr double kDepthReachMm = 0.6096, kBacklashReachMm = 0.3048, kGameDepthMm = 0.8128, kGameBacklashMm = 0.6096;

int stepsOf(double reachMm, double stepMm) { return static_cast<int>(std::floor(reachMm / stepMm + 1e-6)); }

/// Sentences and lessons by their places in a table.
class Places {
public:
    int of(const std::string& text) {
        const auto found = std::find(texts_.begin(), texts_.end(), text);
        if (found != texts_.end()) return static_cast<int>(found - texts_.begin());
        texts_.push_back(text);
        return static_cast<int>(texts_.size()) - 1;
    }
    const std::vector<std::string>& texts() const { return texts_; }

private:
    std::vector<std::string> texts_;
};

/// The gear sets of a page, each once.
struct Sets {
    std::vector<std::string> keys;
    json list = json::array();
    std::size_t add(const std::string& key, const ToothContact& contact) {
        const auto found = std::find(keys.begin(), keys.end(), key);
        if (found != keys.end()) return static_cast<std::size_t>(found - keys.begin());
        keys.push_back(key);
        list.push_back(lesson::setJson(contact));
        return keys.size() - 1;
    }
};

/// Lessons to read, as the page has them. The last is for a mark that was seen in another place.
json lessonsJson() {
    json list = json::array();
    for (const LessonInfo& one : lessons())
        list.push_back({{"name", one.name}, {"title", one.title}, {"words", readAgainWords(one.name)}});
    list.push_back({{"name", "tooth"}, {"title", ""}, {"words", readAgainWords("tooth")}});
    for (const LessonInfo& one : lessons())
        if (one.name == "tooth") list.back()["title"] = one.title;
    return list;
}

int lessonPlace(const std::string& name) {
    const LessonInfo* found = lessonNamed(name);
    return found == nullptr ? -1 : static_cast<int>(found - lessons().data());
}

json numbersOf(const SetupError& error) { return {error.depthMm, error.ringMm, error.offsetMm, error.shaftAngleRad}; }

/// What contact.js takes to draw the marks after a change.
json modelJson(const Exercise& exercise, std::size_t set) {
    const ToothContact& contact = *exercise.contact;
    const auto perMm = [&](const BenchMove& move) {
        const SetupError to = moved(contact, exercise.bench, move).error, &from = exercise.bench.error;
        return json{to.depthMm - from.depthMm, to.ringMm - from.ringMm, 0, 0};
    };
    json modification, middle = json::object();
    for (const Side side : kSides) {
        const std::string key(name(side));
        modification[key] = toJson(exercise.bench.modification[index(side)]);
        if (const auto& pattern = exercise.marks.pattern[index(side)])
            middle[key] = {pattern->toeHeel, pattern->rootTip};
    }
    return {{"set", set},
            {"error", numbersOf(exercise.bench.error)},
            {"per_deeper", perMm({1, 0})},
            {"per_more", perMm({0, 1})},
            {"deeper_per_thicker", exercise.shimAsked == PinionShim::UnderPinionSupport ? -1 : 1},
            {"modification", modification},
            {"film_mm", exercise.bench.filmMm},
            {"middle", middle}};
}

/// Of each place that can be said: points, and whether it is told where the mark is.
json placesJson(const Exercise& exercise) {
    constexpr std::array kAlong{LengthPosition::Toe, LengthPosition::Centre, LengthPosition::Heel};
    constexpr std::array kUp{DepthPosition::Face, DepthPosition::Centre, DepthPosition::Flank};
    json places;
    for (const Side side : kSides) {
        if (!exercise.asked[index(side)]) continue;
        json answers;
        std::string words;
        for (const LengthPosition along : kAlong) {
            for (const DepthPosition up : kUp) {
                const GradedPlace graded = gradePlace(exercise, side, {along, up});
                answers[std::string(name(along)) + "," + std::string(name(up))] = {graded.points,
                                                                                   !graded.words.empty()};
                if (!graded.words.empty()) words = graded.words;
            }
        }
        places[std::string(name(side))] = {{"answers", answers}, {"words", words}};
    }
    return places;
}

json gradedEntry(const Exercise& exercise, const Correction& correction, Places& sentences) {
    const GradedCorrection graded = gradeCorrection(exercise, correction);
    json entry = {graded.points, graded.ended ? 1 : 0, lessonPlace(graded.lesson)};
    for (const std::string& sentence : graded.words) entry.push_back(sentences.of(sentence));
    return entry;
}

Correction changeOf(const Exercise& exercise, double depthMm, double moreMm) {
    Correction correction;
    correction.remedy = Remedy::Change;
    (exercise.shimAsked ? correction.thickerMm : correction.move.deeperMm) = depthMm;
    correction.move.moreBacklashMm = moreMm;
    return correction;
}

/// In words: each depth alone, each backlash alone; a change is both with a comma. Nothing stands for no change.
json changeWords(const Exercise& exercise) {
    const double step = shimStepMm(exercise.contact->gearSet());
    const int depths = stepsOf(kDepthReachMm, step), lashes = stepsOf(kBacklashReachMm, kBacklashStepMm);
    json depth = json::array(), backlash = json::array();
    const auto words = [&](double depthMm, double moreMm) {
        return depthMm == 0 && moreMm == 0 ? std::string()
                                           : correctionWords(exercise, changeOf(exercise, depthMm, moreMm));
    };
    for (int i = -depths; i <= depths; ++i) depth.push_back(words(i * step, 0));
    for (int j = -lashes; j <= lashes; ++j) backlash.push_back(words(0, j * kBacklashStepMm));
    return {{"depth", depth}, {"backlash", backlash}};
}

/// How every answer is graded, and its words.
void addCorrections(const Exercise& exercise, json& question, Places& sentences) {
    json& corrections = question["corrections"] = json::object();
    if (exercise.story) {
        for (std::size_t k = 0; k < exercise.story->checks.size(); ++k) {
            Correction correction;
            correction.check = k;
            corrections["checks"].push_back(gradedEntry(exercise, correction, sentences));
        }
        return;
    }
    json& words = question["correction_words"] = changeWords(exercise);
    for (const auto& [key, remedy] : {std::pair{"accept", Remedy::Accept}, {"no-shim", Remedy::NoShim}}) {
        Correction correction;
        correction.remedy = remedy;
        corrections[key] = gradedEntry(exercise, correction, sentences);
        words[key] = correctionWords(exercise, correction);
    }
    const double step = shimStepMm(exercise.contact->gearSet());
    const int depths = stepsOf(kDepthReachMm, step), lashes = stepsOf(kBacklashReachMm, kBacklashStepMm);
    for (int i = -depths; i <= depths; ++i) {
        json row = json::array();
        for (int j = -lashes; j <= lashes; ++j)
            row.push_back(gradedEntry(exercise, changeOf(exercise, i * step, j * kBacklashStepMm), sentences));
        corrections["changes"].push_back(std::move(row));
    }
}

/// A question with what every answer to it gets; `shown`: what the learner sees of it.
json stickQuestion(const Exercise& exercise, std::size_t set, json shown) {
    Places sentences;
    json question = {{"question", std::move(shown)},           {"model", modelJson(exercise, set)},
                     {"places", placesJson(exercise)},         {"truth", truthWords(exercise)},
                     {"now", training::nowSketches(exercise)}, {"told", exercise.told}};
    addCorrections(exercise, question, sentences);
    question["sentences"] = sentences.texts();
    return question;
}

json photoJson(std::span<const std::uint8_t> jpeg, const std::string& words) {
    return {{"src", "data:image/jpeg;base64," + base64(jpeg)}, {"words", words}};
}

/// The page's frame and scripts round its data.
std::string pageOf(const std::string& title, json data, Units units) {
    const auto file = [](const std::string& wanted) { return embeddedFile(training::embeddedFiles(), wanted); };
    std::string modules;
    const auto read = [&](const std::string& module) {
        return module == "words.js" ? std::string("// Put in below.\n") : std::string(file(module));
    };
    modules = training::bundled("stick.js", read);
    const auto withWords = [&](const std::string& module) {
        return module == "words.js" ? lesson::wordsModule(modules) : read(module);
    };
    modules = training::bundled("stick.js", withWords);
    data["lessons"] = lessonsJson();
    data["makers_sheet"] = makersSheet();
    const std::string css = std::string(file("page.css")) + std::string(file("training.css"));
    return lesson::pageHtml({title, css, lesson::inWords(file("stick.html")),
                             lesson::dataScript("training-data", lesson::scriptJson(data)) +
                                 lesson::scriptParts({"lengths.js", "contact.js", "flank.js"}) +
                                 lesson::script(modules),
                             units});
}

std::string sidesWords(const std::vector<Side>& sides) {
    if (sides.empty()) return "";
    if (sides.size() > 1) return say("training.both-sides");
    return text(titleOf(sides[0]));
}

json drillData(const json& seed, const json& level) {
    const std::string head = scoresCsv({});
    return {
        {"seed", seed}, {"level", level}, {"questions", json::array()}, {"csv_head", head.substr(0, head.find('\n'))}};
}

}  // namespace

std::string drillPage(const DrillPageOptions& options) {
    json data = drillData(options.seed, options.level);
    Sets sets;
    const bool photos = options.photos || isPhotoLevel(options.level);
    int photo = 0;
    for (int number = 1; number <= options.questions; ++number) {
        const Exercise exercise = drawExercise(options.seed, options.level, number, options.contact);
        const std::size_t set = sets.add(exercise.contact->gearSet().name, *exercise.contact);
        json one = stickQuestion(exercise, set, training::questionJson(exercise, photos));
        for (const Side side : kSides) {
            if (!photos) continue;
            if (options.beforePhoto) options.beforePhoto(++photo, 2 * options.questions);
            one["photos"].push_back(photoJson(drillPhoto(exercise, side), sidesWords({side})));
        }
        if (!photos) one["photos"] = nullptr;
        data["questions"].push_back(std::move(one));
    }
    data["sets"] = sets.list;
    return pageOf(say("training.drill"), data, options.units);
}

std::string jobDrillPage(std::span<const JobTrialPlace> trials, const PhotoProgress& beforePhoto, Units units) {
    json data = drillData(nullptr, nullptr);
    std::vector<std::pair<JobRecord, JobExercise>> shown;
    int photos = 0, photo = 0;
    for (const JobTrialPlace& place : trials) {
        JobRecord job = openJob(place.folder).record;
        const JobExercises exercises = jobExercises(job);
        const auto found = std::find_if(exercises.usable.begin(), exercises.usable.end(),
                                        [&](const JobExercise& one) { return one.trial == place.trial; });
        if (found == exercises.usable.end())
            throw InputError(message("training.trial-in-folder-is-no-exercise", place.folder.string(), place.trial));
        photos += static_cast<int>(found->photos.size());
        shown.emplace_back(std::move(job), *found);
    }
    Sets sets;
    for (std::size_t k = 0; k < shown.size(); ++k) {
        const auto& [job, exercise] = shown[k];
        const JobTruth truth = jobTruth(job, exercise.trial);
        // Trials of a job share their set.
        const std::size_t set =
            sets.add(job.gearSet.document + std::string(name(truth.contact->gearSet().cut)), *truth.contact);
        json one = stickQuestion(truth.exercise, set, training::trialJson("", job, exercise));
        one["photos"] = json::array();
        for (const JobExercise::Photo& from : exercise.photos) {
            if (beforePhoto) beforePhoto(++photo, photos);
            const std::string sides = sidesWords(from.sides);
            one["photos"].push_back(photoJson(jobExercisePhoto(trials[k].folder, from),
                                              sides.empty()
                                                  ? say("training.photo-of-trial", exercise.trial)
                                                  : say("training.photo-of-trial-sides", exercise.trial, sides)));
        }
        data["questions"].push_back(std::move(one));
    }
    data["sets"] = sets.list;
    return pageOf(say("training.drill"), data, units);
}

std::string gamePage(std::uint64_t seed, int level, const ToothContact* contact, Units units) {
    check(level >= 1 && level <= kGameLevels, "a level of the game");
    const Exercise exercise = drawExercise(seed, level, 1, contact);
    const ToothContact& set = *exercise.contact;
    const Interval& limits = set.gearSet().limits.backlashMm;
    const double step = shimStepMm(set.gearSet());
    const int depths = stepsOf(kGameDepthMm, step), lashes = stepsOf(kGameBacklashMm, kBacklashStepMm);
    // Whether each setting that can be reached is good, and its backlash inside the limits: a row of 0 and 1 each.
    json good = json::array();
    std::string inside;
    for (int i = -depths; i <= depths; ++i) {
        std::string row;
        for (int j = -lashes; j <= lashes; ++j)
            row += goodness(set, moved(set, exercise.bench, {i * step, j * kBacklashStepMm})) > 0 ? '1' : '0';
        good.push_back(row);
    }
    for (int j = -lashes; j <= lashes; ++j) {
        const double backlash = exercise.backlashMm + j * kBacklashStepMm;
        inside += limits.low - 1e-6 <= backlash && backlash <= limits.high + 1e-6 ? '1' : '0';
    }
    Sets sets;
    json game = training::benchFacts(set, exercise.backlashMm);
    game.update(training::gameRulesJson(exercise));
    game["model"] = modelJson(exercise, sets.add("", set));
    game["table"] = {{"good", good}, {"inside", inside}};
    game["move_words"] = changeWords(exercise);
    game["end"] = training::gameTruthJson(exercise);
    for (const bool right : {false, true}) {
        game["ends"]["accept"].push_back(training::gameEndJson(exercise, Remedy::Accept, right));
        game["ends"]["no-shim"].push_back(training::gameEndJson(exercise, Remedy::NoShim, right));
    }
    return pageOf(say("training.set-up-game"), {{"seed", seed}, {"level", level}, {"sets", sets.list}, {"game", game}},
                  units);
}

}  // namespace shimsight
