#include "lesson/page_data.h"
#include "lesson/parts.h"
#include "shimsight/lesson.h"

namespace shimsight {
namespace {

using nlohmann::json;

const char* remedyName(Remedy remedy) {
    return remedy == Remedy::Accept ? "accept" : remedy == Remedy::Change ? "change" : "no-shim";
}

json photoJson(const Exercise& exercise, Side side) {
    return "data:image/jpeg;base64," +
           lesson::base64(benchPhoto(*exercise.contact, exercise.bench, side,
                                     exercise.seed + static_cast<std::uint64_t>(exercise.number)));
}

json exerciseJson(const Exercise& exercise, std::size_t set, bool photos) {
    const SetupError& error = exercise.bench.error;
    json truth, modification;
    for (const Side side : kSides) {
        const char* name = side == Side::Drive ? "drive" : "coast";
        // Every exercise shows a mark on both sides.
        const Pattern& pattern = *exercise.marks.pattern[index(side)];
        truth[name] = {{"toeHeel", pattern.toeHeel}, {"rootTip", pattern.rootTip}};
        modification[name] = lesson::toJson(exercise.bench.modification[index(side)]);
    }
    json one = {{"set", set},
                {"number", exercise.number},
                {"error", {error.depthMm, error.ringMm, error.offsetMm, error.shaftAngleRad}},
                {"modification", modification},
                {"film_mm", exercise.bench.filmMm},
                {"backlash_mm", exercise.backlashMm},
                {"truth", truth},
                {"remedy", remedyName(exercise.remedy)},
                {"needed", {{"deeper", exercise.best.move.deeperMm}, {"more", exercise.best.move.moreBacklashMm}}}};
    if (photos)
        one["photos"] = {{"drive", photoJson(exercise, Side::Drive)}, {"coast", photoJson(exercise, Side::Coast)}};
    return one;
}

}  // namespace

std::string drillPage(const DrillPageOptions& options) {
    json data = {{"seed", options.seed},
                 {"level", options.level},
                 {"level_words", drillLevelWords(options.level)},
                 {"sets", json::array()},
                 {"exercises", json::array()}};
    std::vector<const ToothContact*> sets;
    for (int number = 1; number <= options.questions; ++number) {
        const Exercise exercise = drawExercise(options.seed, options.level, number, options.contact);
        std::size_t set = 0;
        while (set < sets.size() && sets[set] != exercise.contact) ++set;
        if (set == sets.size()) {
            sets.push_back(exercise.contact);
            data["sets"].push_back(lesson::setJson(*exercise.contact));
        }
        data["exercises"].push_back(exerciseJson(exercise, set, options.photos));
    }
    return lesson::pageHtml({"Drill", lesson::drillCss(), std::string(lesson::drillBody()),
                             "<script type=\"application/json\" id=\"drill-data\">" + lesson::scriptJson(data) +
                                 "</script>\n" + lesson::script(lesson::contactScript()) +
                                 lesson::script(lesson::flankScript()) + lesson::script(lesson::markingScript()) +
                                 lesson::script(lesson::drillScript())});
}

}  // namespace shimsight
