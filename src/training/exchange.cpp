// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>

#include "lesson_page.h"
#include "records_json.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"
#include "shimsight/words.h"
#include "training_json.h"

namespace shimsight::training {
namespace {

using nlohmann::json;

constexpr Range kSeeds{0, static_cast<double>(kMaxPracticeSeed)}, kLevels{1, kDrillLevels},
    kGameLevelRange{1, kGameLevels}, kNumbers{1, 100}, kMovesMm{-2, 2}, kChecks{0, 3};
constexpr std::size_t kMaxGameMoves = 12;
constexpr std::array kRemedies{std::pair<std::string_view, Remedy>{"accept", Remedy::Accept},
                               std::pair<std::string_view, Remedy>{"change", Remedy::Change},
                               std::pair<std::string_view, Remedy>{"no-shim", Remedy::NoShim}};

struct TrainingBody {
    json document;
    std::vector<std::string> warnings;
    ObjectReader reader;
    explicit TrainingBody(const std::string& text)
        : document(parseJsonObject(text, say("training.what-was-sent"))),
          reader(document, say("training.what-was-sent"), "", warnings) {}
    TrainingBody(const TrainingBody&) = delete;
    TrainingBody& operator=(const TrainingBody&) = delete;
    void finish() {
        reader.finish();
        if (!warnings.empty()) throw InputError(warnings.front());
    }
};

/// {"along": "toe", "up": "flank"}; both "none": no mark there.
SeenPlace seenPlace(ObjectReader& reader, Side side) {
    constexpr std::array kAlong{
        std::pair<std::string_view, int>{"toe", 0}, std::pair<std::string_view, int>{"centre", 1},
        std::pair<std::string_view, int>{"heel", 2}, std::pair<std::string_view, int>{"none", 3}};
    constexpr std::array kUp{std::pair<std::string_view, int>{"face", 0}, std::pair<std::string_view, int>{"centre", 1},
                             std::pair<std::string_view, int>{"flank", 2}, std::pair<std::string_view, int>{"none", 3}};
    SeenPlace place;
    std::optional<ObjectReader> seen = reader.object(name(side));
    if (!seen) return place;
    const std::optional<int> along = seen->choice("along", kAlong), up = seen->choice("up", kUp);
    seen->finish();
    if (!along || !up) seen->fail("along", say("training.field-up-missing"));
    if ((*along == 3) != (*up == 3)) seen->fail("along", say("training.field-none-alone"));
    if (*along == 3) return place;
    place.length = std::array{LengthPosition::Toe, LengthPosition::Centre, LengthPosition::Heel}.at(
        static_cast<std::size_t>(*along));
    place.depth =
        std::array{DepthPosition::Face, DepthPosition::Centre, DepthPosition::Flank}.at(static_cast<std::size_t>(*up));
    return place;
}

bool withinLimits(const ToothContact& contact, double backlash) {
    constexpr double kRoundingMm = 1e-6;
    const Interval& limits = contact.gearSet().limits.backlashMm;
    return limits.low - kRoundingMm <= backlash && backlash <= limits.high + kRoundingMm;
}

json stateJson(const ToothContact& contact, const Bench& bench, double hours, json sketches) {
    const double backlash = backlashMm(contact, bench);
    // Nothing rolls without play, so there is no mark to see.
    return {{"backlash_mm", backlash},
            {"backlash_inside", withinLimits(contact, backlash)},
            {"hours", hours},
            {"sketches", backlash > 0 ? std::move(sketches) : json(nullptr)}};
}

}  // namespace

json advisedJson(const Exercise& exercise) {
    const ToothContact& contact = *exercise.contact;
    json steps = json::array();
    double hours = 0;
    std::string end;
    BenchMarks before = exercise.marks;
    for (const PathStep& step : advisedPath(exercise)) {
        if (step.advice.verdict == Verdict::Change && step.hours > 0) {
            hours += step.hours;
            const BenchMarks after = marksOf(contact, step.after);
            json one = stateJson(contact, step.after, hours, toldSketches(contact, after, &before));
            one["words"] = moveWords(step.move);
            one["chance"] = step.advice.chanceAcceptableNext;
            steps.push_back(std::move(one));
            before = after;
            continue;
        }
        const bool good = goodness(contact, step.after) > 0;
        end = say(
            step.advice.verdict == Verdict::Accept ? (good ? "training.leaves-it-good" : "training.leaves-it-bad")
            : step.advice.verdict == Verdict::NoShimWillHelp
                ? (exercise.remedy == Remedy::NoShim ? "training.says-no-shim-right" : "training.says-no-shim-wrong")
                : (good ? "training.stops-good" : "training.stops-bad"));
    }
    return {{"steps", steps}, {"hours", hours}, {"sentence", end}};
}

json gameEndJson(const Exercise& exercise, Remedy verdict, bool good) {
    const bool right = verdict == Remedy::Accept ? good : exercise.remedy == Remedy::NoShim;
    return {{"good", right},
            {"sentence",
             say(verdict == Remedy::Accept ? (right ? "training.game-good" : "training.game-not-good")
                                           : (right ? "training.game-no-shim-right" : "training.game-no-shim-wrong"))}};
}

json bareSketches(const ToothContact& contact, const BenchMarks& marks) {
    json sketches = json::object();
    for (const Side side : kSides) {
        SvgSketch sketch;
        sketch.title = say("training.side-with-mark", text(titleOf(side)));
        sketch.evenHeight = isEvenHeight(contact);
        sketch.map = &marks.map[index(side)];
        sketches[name(side)] = flankSvg(sketch).str();
    }
    return sketches;
}

json toldSketches(const ToothContact& contact, const BenchMarks& marks, const BenchMarks* before,
                  const std::array<bool, 2>& sides) {
    json sketches = json::object();
    for (const Side side : kSides) {
        if (!sides[index(side)]) continue;
        SvgSketch sketch;
        sketch.title = say("training.side-at", text(titleOf(side)), placeWords(marks.pattern[index(side)]));
        sketch.map = &marks.map[index(side)];
        sketch.pattern = marks.pattern[index(side)];
        sketch.goodZone = contact.gearSet().limits.acceptance;
        sketch.evenHeight = isEvenHeight(contact);
        if (before != nullptr) sketch.cameFrom = before->pattern[index(side)];
        sketches[name(side)] = flankSvg(sketch).str();
    }
    return sketches;
}

json readSketches(const Exercise& exercise) {
    json sketches = json::object();
    for (const Side side : kSides) {
        if (!exercise.asked[index(side)]) continue;
        SvgSketch sketch;
        sketch.title =
            say("training.side-as-read", text(titleOf(side)), placeWords(exercise.marks.pattern[index(side)]));
        sketch.pattern = sketch.expected = exercise.marks.pattern[index(side)];
        sketch.goodZone = exercise.contact->gearSet().limits.acceptance;
        sketch.evenHeight = isEvenHeight(*exercise.contact);
        sketches[name(side)] = flankSvg(sketch).str();
    }
    return sketches;
}

json benchFacts(const ToothContact& contact, double backlash) {
    const GearSet& set = contact.gearSet();
    return {{"gear_set", set.name},
            {"cut", name(set.cut)},
            {"cut_words", text(wordFor(set.cut))},
            {"backlash_mm", backlash},
            {"backlash_limits_mm", {set.limits.backlashMm.low, set.limits.backlashMm.high}},
            {"backlash_limits_given", set.given.backlashLimits}};
}

json stepsJson(const GearSet& gearSet) { return {{"depth", shimStepMm(gearSet)}, {"backlash", kBacklashStepMm}}; }

json questionJson(const Exercise& exercise, bool onPhotos) {
    json answer = benchFacts(*exercise.contact, exercise.backlashMm);
    answer["number"] = exercise.number;
    answer["level"] = exercise.level;
    answer["level_words"] = drillLevelWords(exercise.level);
    answer["asked"] = {{"drive", true}, {"coast", true}};
    answer["steps_mm"] = stepsJson(exercise.contact->gearSet());
    answer["shim"] = exercise.shimAsked ? json(say("training.shim-where", text(wordFor(*exercise.shimAsked)))) : json();
    answer["story"] =
        exercise.story ? json{{"complaint", exercise.story->complaint}, {"checks", exercise.story->checks}} : json();
    // On photos the mark is to be found there.
    answer["sketches"] =
        onPhotos || isPhotoLevel(exercise.level) ? json(nullptr) : bareSketches(*exercise.contact, exercise.marks);
    return answer;
}

json trialJson(const std::string& job, const JobRecord& record, const JobExercise& exercise) {
    const std::vector<JobPhoto>& photos = findTrial(record, exercise.trial)->photos;
    json shown = json::array();
    for (const JobExercise::Photo& one : exercise.photos) {
        const auto place =
            std::find_if(photos.begin(), photos.end(), [&](const JobPhoto& photo) { return photo.file == one.file; });
        json sides = json::array();
        for (const Side side : one.sides) sides.push_back(name(side));
        shown.push_back({{"number", place - photos.begin()}, {"sides", sides}});
    }
    return {{"job", job},
            {"axle", exercise.job},
            {"trial", exercise.trial},
            {"gear_set", exercise.gearSet},
            {"level", nullptr},
            {"number", findTrial(record, exercise.trial) - record.trials.data() + 1},
            {"steps_mm", stepsJson(completeGearSet(record.gearSet.data))},
            {"shim", nullptr},
            {"story", nullptr},
            {"backlash_mm", exercise.backlashMm},
            {"backlash_limits_mm", {exercise.backlashLimitsMm.low, exercise.backlashLimitsMm.high}},
            {"backlash_limits_given", exercise.backlashLimitsGiven},
            {"asked", {{"drive", exercise.asked[index(Side::Drive)]}, {"coast", exercise.asked[index(Side::Coast)]}}},
            {"photos", shown}};
}

std::string seenWords(const SeenPlace& place) {
    if (!place.length || !place.depth) return "none";
    return std::string(name(*place.length)) + ", " + std::string(name(*place.depth));
}

SentAnswer parseSentAnswer(const std::string& text) {
    TrainingBody body(text);
    ObjectReader& reader = body.reader;
    SentAnswer sent;
    sent.exam = reader.boolean("exam").value_or(false);
    sent.job = reader.text("job").value_or("");
    sent.trial = reader.text("trial").value_or("");
    if (const std::optional<int> seed = reader.integer("seed", kSeeds)) sent.seed = static_cast<std::uint64_t>(*seed);
    sent.level = reader.integer("level", kLevels).value_or(1);
    sent.number = reader.integer("number", kNumbers).value_or(1);
    sent.set = reader.text("set").value_or("");
    sent.name = reader.text("name").value_or("");
    for (const Side side : kSides) sent.answer.seen[index(side)] = seenPlace(reader, side);
    const std::optional<Remedy> remedy = reader.choice("remedy", kRemedies);
    const std::optional<int> chosen = reader.integer("check", kChecks);
    if (!remedy && !chosen) reader.fail("remedy", say("training.field-missing"));
    Correction& correction = sent.answer.correction;
    correction.remedy = remedy.value_or(Remedy::NoShim);
    if (chosen) correction.check = static_cast<std::size_t>(*chosen);
    const BenchMove move{reader.number("deeper_mm", kMovesMm).value_or(0),
                         reader.number("more_backlash_mm", kMovesMm).value_or(0)};
    const double thickerMm = reader.number("thicker_mm", kMovesMm).value_or(0);
    if (remedy == Remedy::Change) {
        correction.move = move;
        correction.thickerMm = thickerMm;
    }
    body.finish();
    if (sent.job.empty() && !sent.exam && !sent.seed) reader.fail("seed", say("training.field-missing"));
    return sent;
}

json lessonJson(const std::string& name) {
    const LessonInfo* found = lessonNamed(name);
    return found == nullptr ? json(nullptr) : json{{"name", name}, {"title", found->title}};
}

json nowSketches(const Exercise& exercise) {
    // Of a trial of a job the place and size of the mark are known, not its shape.
    return exercise.level == 0 ? readSketches(exercise) : toldSketches(*exercise.contact, exercise.marks);
}

json gradedJson(const Exercise& exercise, const SentAnswer& sent, const GradedAnswer& graded) {
    const ToothContact& contact = *exercise.contact;
    const bool change = !exercise.story && sent.answer.correction.remedy == Remedy::Change;
    return {{"graded", true},
            {"place_points", graded.placePoints},
            {"correction_points", graded.correctionPoints},
            {"points", graded.points()},
            {"of", kMaxPoints},
            {"words", graded.words},
            {"truth", truthWords(exercise)},
            {"correction", correctionWords(exercise, sent.answer.correction)},
            {"ended", graded.ended},
            {"lesson", lessonJson(graded.lesson)},
            {"now", nowSketches(exercise)},
            {"after", change ? toldSketches(contact, graded.expected, &exercise.marks, exercise.asked) : json(nullptr)},
            {"backlash_after_mm", change ? json(graded.backlashMm) : json(nullptr)}};
}

SentGame parseSentGame(const std::string& text) {
    constexpr std::array kVerdicts{std::pair<std::string_view, Remedy>{"accept", Remedy::Accept},
                                   std::pair<std::string_view, Remedy>{"no-shim", Remedy::NoShim}};
    TrainingBody body(text);
    ObjectReader& reader = body.reader;
    SentGame game;
    game.seed = static_cast<std::uint64_t>(reader.requiredInteger("seed", kSeeds));
    game.level = reader.integer("level", kGameLevelRange).value_or(game.level);
    game.set = reader.text("set").value_or("");
    if (const json* moves = reader.list("moves", kMaxGameMoves)) {
        for (std::size_t i = 0; i < moves->size(); ++i) {
            ObjectReader item = reader.item("moves", *moves, i);
            game.moves.push_back({item.number("deeper_mm", kMovesMm).value_or(0),
                                  item.number("more_backlash_mm", kMovesMm).value_or(0)});
            item.finish();
        }
    }
    game.verdict = reader.choice("verdict", kVerdicts);
    body.finish();
    return game;
}

json gameRulesJson(const Exercise& exercise) {
    const Costs costs;
    return {
        {"level_words", drillLevelWords(exercise.level)},
        {"most_moves", kMaxGameMoves},
        {"steps_mm", stepsJson(exercise.contact->gearSet())},
        {"costs_h",
         {{"trial", costs.trialHours}, {"pinion_shim", costs.pinionShimHours}, {"ring_gear", costs.ringGearHours}}}};
}

json gameTruthJson(const Exercise& exercise) {
    return {{"truth", truthWords(exercise)},
            {"rule", ruleWords(exercise)},
            {"remedy", kRemedies.at(static_cast<std::size_t>(exercise.remedy)).first},
            {"advised", advisedJson(exercise)}};
}

json gameJson(const Exercise& exercise, const SentGame& game) {
    const ToothContact& contact = *exercise.contact;
    const Costs costs;
    json result = benchFacts(contact, exercise.backlashMm);
    Bench bench = exercise.bench;
    double hours = 0;
    BenchMarks marks = exercise.marks;
    result["states"] = json::array({stateJson(contact, bench, hours, bareSketches(contact, marks))});
    for (const BenchMove& move : game.moves) {
        bench = moved(contact, bench, move);
        hours += benchHours(move, costs);
        marks = marksOf(contact, bench);
        json state = stateJson(contact, bench, hours, bareSketches(contact, marks));
        state["words"] = moveWords(move);
        result["states"].push_back(std::move(state));
    }
    result.update(gameRulesJson(exercise));
    result["end"] = nullptr;
    if (!game.verdict) return result;
    result["end"] = gameEndJson(exercise, *game.verdict, goodness(contact, bench) > 0);
    result["end"].update(gameTruthJson(exercise));
    result["end"]["last"] = backlashMm(contact, bench) > 0 ? toldSketches(contact, marks) : json(nullptr);
    return result;
}

}  // namespace shimsight::training
