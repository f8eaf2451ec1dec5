#include <algorithm>

#include "lesson/page_data.h"
#include "lesson/parts.h"
#include "shimsight/core.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"

namespace shimsight {
namespace {

using nlohmann::json;

const char* remedyName(Remedy remedy) {
    return remedy == Remedy::Accept ? "accept" : remedy == Remedy::Change ? "change" : "no-shim";
}

/// As the page shows it: a picture and what it is.
json photoJson(std::span<const std::uint8_t> jpeg, const std::string& alt, const std::string& words) {
    return {{"src", "data:image/jpeg;base64," + lesson::base64(jpeg)}, {"alt", alt}, {"words", words}};
}

json exerciseJson(const Exercise& exercise, std::size_t set) {
    const SetupError& error = exercise.bench.error;
    json truth, modification, asked;
    for (const Side side : kSides) {
        const char* name = side == Side::Drive ? "drive" : "coast";
        const auto& pattern = exercise.marks.pattern[index(side)];
        truth[name] = pattern ? json{{"toeHeel", pattern->toeHeel}, {"rootTip", pattern->rootTip}} : json();
        modification[name] = lesson::toJson(exercise.bench.modification[index(side)]);
        asked[name] = exercise.asked[index(side)];
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

std::string pageOf(const json& data) {
    return lesson::pageHtml({"Drill", lesson::drillCss(), std::string(lesson::drillBody()),
                             "<script type=\"application/json\" id=\"drill-data\">" + lesson::scriptJson(data) +
                                 "</script>\n" + lesson::script(lesson::contactScript()) +
                                 lesson::script(lesson::flankScript()) + lesson::script(lesson::markingScript()) +
                                 lesson::script(lesson::drillScript())});
}

std::string sidesWords(const std::vector<Side>& sides) {
    if (sides.empty()) return "";
    if (sides.size() > 1) return "Both sides";
    return sides[0] == Side::Drive ? "Drive side" : "Coast side";
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
    return pageOf(data);
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
            throw InputError(place.folder.string() + ": trial " + place.trial + " is no exercise.");
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
                                              "Photo of trial " + exercise.trial + (sides.empty() ? "" : ": " + sides),
                                              sides));
        }
        data["exercises"].push_back(std::move(one));
    }
    return pageOf(data);
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
    return lesson::pageHtml({"Set-up game", lesson::drillCss(), std::string(lesson::gameBody()),
                             "<script type=\"application/json\" id=\"game-data\">" + lesson::scriptJson(data) +
                                 "</script>\n" + lesson::script(lesson::contactScript()) +
                                 lesson::script(lesson::flankScript()) + lesson::script(lesson::markingScript()) +
                                 lesson::script(lesson::gameScript())});
}

}  // namespace shimsight
