#include <algorithm>
#include <nlohmann/json.hpp>

#include "lesson_page.h"
#include "records_json.h"
#include "shimsight/core.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/text.h"
#include "shimsight/training.h"
#include "shimsight/words.h"
#include "training/embedded.h"

namespace shimsight {
namespace {

using nlohmann::json;

const char* remedyName(Remedy remedy) {
    return remedy == Remedy::Accept ? "accept" : remedy == Remedy::Change ? "change" : "no-shim";
}

/// As the page shows it: a picture and what it is.
json photoJson(std::span<const std::uint8_t> jpeg, const std::string& alt, const std::string& words) {
    return {{"src", "data:image/jpeg;base64," + base64(jpeg)}, {"alt", alt}, {"words", words}};
}

json exerciseJson(const Exercise& exercise, std::size_t set) {
    const SetupError& error = exercise.bench.error;
    json truth, modification, asked;
    for (const Side side : kSides) {
        const std::string key(name(side));
        const auto& pattern = exercise.marks.pattern[index(side)];
        truth[key] = pattern ? json{{"toeHeel", pattern->toeHeel}, {"rootTip", pattern->rootTip}} : json();
        modification[key] = toJson(exercise.bench.modification[index(side)]);
        asked[key] = exercise.asked[index(side)];
    }
    return {{"set", set},
            {"number", exercise.number},
            {"error", {error.depthMm, error.ringMm, error.offsetMm, error.shaftAngleRad}},
            {"modification", modification},
            {"film_mm", exercise.bench.filmMm},
            {"backlash_mm", exercise.backlashMm},
            {"truth", truth},
            {"asked", asked},
            {"remedy", remedyName(exercise.remedy)},
            {"needed", {{"deeper", exercise.best.move.deeperMm}, {"more", exercise.best.move.moreBacklashMm}}},
            {"sure_mm", {{"deeper", exercise.depthSureMm}, {"more", exercise.backlashSureMm}}},
            {"told", exercise.told}};
}

/// A page of this module's files; `name`: of its body and its own script. Drill and game share style and marking.
std::string pageOf(const std::string& title, const std::string& name, const json& data) {
    const auto file = [](const std::string& wanted) { return embeddedFile(training::embeddedFiles(), wanted); };
    return lesson::pageHtml({title, file("drill.css"), Html::markup(file(name + ".html")),
                             lesson::dataScript(name + "-data", lesson::scriptJson(data)) +
                                 lesson::scriptParts({"contact.js", "flank.js"}) + lesson::script(file("marking.js")) +
                                 lesson::script(file(name + ".js"))});
}

std::string sidesWords(const std::vector<Side>& sides) {
    if (sides.empty()) return "";
    if (sides.size() > 1) return say("training.both-sides");
    return say(sides[0] == Side::Drive ? "training.drive-side" : "training.coast-side");
}

}  // namespace

std::string drillPage(const DrillPageOptions& options) {
    json data = {{"seed", options.seed},
                 {"level", options.level},
                 {"level_words", drillLevelWords(options.level)},
                 {"sets", json::array()},
                 {"exercises", json::array()}};
    std::vector<const ToothContact*> sets;
    int photo = 0;
    for (int number = 1; number <= options.questions; ++number) {
        const Exercise exercise = drawExercise(options.seed, options.level, number, options.contact);
        std::size_t set = 0;
        while (set < sets.size() && sets[set] != exercise.contact) ++set;
        if (set == sets.size()) {
            sets.push_back(exercise.contact);
            data["sets"].push_back(lesson::setJson(*exercise.contact));
        }
        json one = exerciseJson(exercise, set);
        for (const Side side : kSides) {
            if (!options.photos) continue;
            if (options.beforePhoto) options.beforePhoto(++photo, 2 * options.questions);
            const std::string words = sidesWords({side});
            one["photos"].push_back(photoJson(drillPhoto(exercise, side), "Rendered photo: " + words, words));
        }
        data["exercises"].push_back(std::move(one));
    }
    return pageOf(say("training.drill"), "drill", data);
}

std::string jobDrillPage(std::span<const JobTrialPlace> trials, const PhotoProgress& beforePhoto) {
    json data = {{"seed", nullptr},
                 {"level", nullptr},
                 {"level_words", nullptr},
                 {"sets", json::array()},
                 {"exercises", json::array()}};
    std::vector<std::pair<JobRecord, JobExercise>> shown;
    int photos = 0, photo = 0;
    for (const JobTrialPlace& place : trials) {
        JobRecord job = openJob(place.folder).record;
        const JobExercises exercises = jobExercises(job);
        const auto found = std::find_if(exercises.usable.begin(), exercises.usable.end(),
                                        [&](const JobExercise& one) { return one.trial == place.trial; });
        if (found == exercises.usable.end())
            throw InputError(say("training.trial-in-folder-is-no-exercise", place.folder.string(), place.trial));
        photos += static_cast<int>(found->photos.size());
        shown.emplace_back(std::move(job), *found);
    }
    std::vector<std::pair<std::string_view, Cut>> sets;  // trials of a job share theirs
    for (std::size_t k = 0; k < shown.size(); ++k) {
        const auto& [job, exercise] = shown[k];
        const JobTruth truth = jobTruth(job, exercise.trial);
        const std::pair own{std::string_view(job.gearSet.document), truth.contact->gearSet().cut};
        const auto set = static_cast<std::size_t>(std::find(sets.begin(), sets.end(), own) - sets.begin());
        if (set == sets.size()) {
            sets.push_back(own);
            data["sets"].push_back(lesson::setJson(*truth.contact));
        }
        json one = exerciseJson(truth.exercise, set);
        one["job"] = exercise.job;
        one["trial"] = exercise.trial;
        one["photos"] = json::array();
        for (const JobExercise::Photo& from : exercise.photos) {
            if (beforePhoto) beforePhoto(++photo, photos);
            const std::string sides = sidesWords(from.sides);
            one["photos"].push_back(photoJson(jobExercisePhoto(trials[k].folder, from),
                                              sides.empty()
                                                  ? say("training.photo-of-trial", exercise.trial)
                                                  : say("training.photo-of-trial-sides", exercise.trial, sides),
                                              sides));
        }
        data["exercises"].push_back(std::move(one));
    }
    return pageOf(say("training.drill"), "drill", data);
}

std::string gamePage(std::uint64_t seed, int level, const ToothContact* contact) {
    const Exercise exercise = drawExercise(seed, level, 1, contact);
    const PathWords path = pathWords(exercise, advisedPath(exercise));
    const Costs costs;
    const json data = {
        {"seed", seed},
        {"level", level},
        {"level_words", drillLevelWords(level)},
        {"set", lesson::setJson(*exercise.contact)},
        {"exercise", exerciseJson(exercise, 0)},
        {"costs",
         {{"trial", costs.trialHours}, {"pinion_shim", costs.pinionShimHours}, {"ring_gear", costs.ringGearHours}}},
        {"path", {{"steps", path.steps}, {"end", path.end}}}};
    return pageOf(say("training.set-up-game"), "game", data);
}

}  // namespace shimsight
