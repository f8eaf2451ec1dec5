// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "shimsight/core.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"
#include "support/node_page.h"

using namespace shimsight;
using nlohmann::json;
using test::PageFolder;

namespace {

/// An answer somewhere near the right one or far from it, on the steps of the sliders; as it is sent and as it is
/// marked.
struct Drawn {
    json body;
    DrillAnswer answer;
};

Drawn drawnAnswer(const Exercise& exercise, Random& random) {
    Drawn drawn;
    for (const Side side : kSides) {
        if (!exercise.asked[index(side)]) continue;
        SeenPlace& where = drawn.answer.seen[index(side)];
        where.length = static_cast<LengthPosition>(random.integer(0, 2));
        where.depth = static_cast<DepthPosition>(random.integer(0, 2));
        drawn.body[std::string(name(side))] = {{"along", name(*where.length)}, {"up", name(*where.depth)}};
    }
    Correction& said = drawn.answer.correction;
    if (exercise.story) {
        said.check = static_cast<std::size_t>(random.integer(0, 3));
        drawn.body["check"] = *said.check;
        return drawn;
    }
    const int kind = random.integer(0, 5);
    said.remedy = kind == 0 ? Remedy::Accept : kind == 1 ? Remedy::NoShim : Remedy::Change;
    drawn.body["remedy"] = kind == 0 ? "accept" : kind == 1 ? "no-shim" : "change";
    if (said.remedy != Remedy::Change) return drawn;
    // Half of the answers near the right one.
    const BenchMove about = kind < 4 ? exercise.best.move : BenchMove{};
    const auto onSlider = [&](double mm, double spread, double step, double reach) {
        const double most = step * std::floor(reach / step + 1e-6);
        return std::clamp(step * std::round((mm + random.uniform(-spread, spread)) / step), -most, most);
    };
    const double depth = onSlider(about.deeperMm, 0.15, shimStepMm(exercise.contact->gearSet()), 0.6096);
    said.move.moreBacklashMm = onSlider(about.moreBacklashMm, 0.06, kBacklashStepMm, 0.3048);
    (exercise.shimAsked ? said.thickerMm : said.move.deeperMm) = depth;
    if (depth == 0 && said.move.moreBacklashMm == 0) said.move.moreBacklashMm = kBacklashStepMm;
    drawn.body[exercise.shimAsked ? "thicker_mm" : "deeper_mm"] = depth;
    drawn.body["more_backlash_mm"] = said.move.moreBacklashMm;
    return drawn;
}

/// `exercises`: those of the page, in their order.
void checkPageMarks(const std::string& page, std::span<const Exercise* const> exercises, std::uint64_t seed) {
    Random random(seed);
    json wanted;
    std::vector<DrillAnswer> answers;
    std::vector<std::size_t> places;
    for (std::size_t k = 0; k < 20 * exercises.size(); ++k) {
        const std::size_t place = k % exercises.size();
        Drawn drawn = drawnAnswer(*exercises[place], random);
        wanted["answers"].push_back({{"question", place}, {"body", drawn.body}});
        answers.push_back(drawn.answer);
        places.push_back(place);
    }
    const PageFolder folder;
    const json results = test::ranByNode(folder, "training/stick_answers.js", page, wanted);
    REQUIRE(results.size() == answers.size());
    int full = 0;
    for (std::size_t k = 0; k < answers.size(); ++k) {
        const Exercise& exercise = *exercises[places[k]];
        const GradedAnswer marked = gradeAnswer(exercise, answers[k]);
        INFO(wanted["answers"][k].dump());
        const json& told = results[k];
        CHECK(told["place_points"] == marked.placePoints);
        CHECK(told["correction_points"] == marked.correctionPoints);
        CHECK(told["ended"] == marked.ended);
        CHECK(told["words"] == json(marked.words));
        CHECK(told["lesson"] == marked.lesson);
        CHECK(told["correction"] == correctionWords(exercise, answers[k].correction));
        CHECK(told["truth"] == truthWords(exercise));
        if (!told["backlash_after_mm"].is_null())
            CHECK(told["backlash_after_mm"].get<double>() == Approx(marked.backlashMm).margin(1e-6));
        full += static_cast<int>(marked.correctionPoints == kMaxPoints - kMaxPlacePoints);
    }
    CHECK(full > 0);
}

}  // namespace

TEST_CASE("the drill's page on a stick marks as the program does", "[many-draws]") {
    for (int level = 1; level <= kDrillLevels; ++level) {
        if (isPhotoLevel(level)) continue;  // its photos take minutes; it is graded as level 3 is
        INFO("level " << level);
        DrillPageOptions options;
        options.seed = 31;
        options.level = level;
        options.questions = 6;
        const std::string page = drillPage(options);
        CHECK(page.size() < 2'000'000);
        CHECK(page.find("http://") == page.find("http://www.w3.org/2000/svg"));
        std::vector<Exercise> exercises;
        std::vector<const Exercise*> shown;
        for (int number = 1; number <= options.questions; ++number)
            exercises.push_back(drawExercise(options.seed, level, number));
        for (const Exercise& one : exercises) shown.push_back(&one);
        checkPageMarks(page, shown, static_cast<std::uint64_t>(level));
    }
}

TEST_CASE("the drill's page on a stick marks trials of jobs as the program does") {
    const std::filesystem::path samples = std::filesystem::path(SHIMSIGHT_SOURCE_DIR) / "samples";
    const std::array trials{JobTrialPlace{samples / "job-van-17", "t1"}, JobTrialPlace{samples / "job-van-17", "t3"},
                            JobTrialPlace{samples / "job-van-17", "t5"},
                            JobTrialPlace{samples / "archive/04-truck-02", "t1"}};
    int photos = 0;
    const std::string page = jobDrillPage(trials, [&](int number, int of) {
        CHECK(number == ++photos);
        CHECK(of == 8);
    });
    CHECK(photos == 8);
    CHECK(page.size() < 2'000'000);
    std::vector<JobTruth> truths;
    std::vector<const Exercise*> shown;
    for (const JobTrialPlace& one : trials) truths.push_back(jobTruth(openJob(one.folder).record, one.trial));
    for (const JobTruth& one : truths) shown.push_back(&one.exercise);
    checkPageMarks(page, shown, 5);
    const std::array unknown{JobTrialPlace{samples / "archive/13-van-10", "t1"}};
    CHECK_THROWS_AS(jobDrillPage(unknown), InputError);
}

TEST_CASE("the game's page on a stick plays as the program does") {
    for (int level = 1; level <= kGameLevels; ++level) {
        const std::string page = gamePage(9, level);
        CHECK(page.size() < 600'000);
        const Exercise exercise = drawExercise(9, level, 1);
        const double step = shimStepMm(exercise.contact->gearSet());
        Random random(static_cast<std::uint64_t>(level));
        std::vector<BenchMove> made{exercise.best.move};
        for (int k = 0; k < 6; ++k) {
            BenchMove move{random.integer(-2, 2) * step, random.integer(-1, 1) * kBacklashStepMm};
            if (move.deeperMm == 0 && move.moreBacklashMm == 0) move.deeperMm = step;
            made.push_back(move);
        }
        if (made[0].deeperMm == 0 && made[0].moreBacklashMm == 0) made.erase(made.begin());
        json moves = json::array();
        for (const BenchMove& move : made)
            moves.push_back({{"deeper_mm", move.deeperMm}, {"more_backlash_mm", move.moreBacklashMm}});
        const PageFolder folder;
        const json wanted = {{"games", json::array({json{{"moves", moves}}})}};
        const json states = test::ranByNode(folder, "training/stick_answers.js", page, wanted)[0];
        REQUIRE(states.size() == made.size() + 1);
        Bench bench = exercise.bench;
        double hours = 0;
        for (std::size_t k = 0; k < made.size(); ++k) {
            INFO("level " << level << " move " << k);
            bench = moved(*exercise.contact, bench, made[k]);
            hours += benchHours(made[k]);
            const json& state = states[k + 1];
            CHECK(state["hours"].get<double>() == Approx(hours));
            CHECK(state["backlash_mm"].get<double>() == Approx(backlashMm(*exercise.contact, bench)).margin(1e-6));
            CHECK(state["good"] == (goodness(*exercise.contact, bench) > 0));
            CHECK(state["words"] == moveWords(made[k]));
            CHECK(state["error"][0].get<double>() == Approx(bench.error.depthMm).margin(1e-6));
            CHECK(state["error"][1].get<double>() == Approx(bench.error.ringMm).margin(1e-6));
        }
    }
}

TEST_CASE("lengths on the pages read as the table has them") {
    std::ifstream table(SHIMSIGHT_SOURCE_DIR "/tests/support/lengths.txt");
    struct Row {
        std::string inch, metric;
        bool about = false;
    };
    json lengths = json::array();
    std::vector<Row> rows;
    for (std::string line; std::getline(table, line);) {
        if (line.starts_with('#')) continue;
        std::istringstream words(line);
        std::string mm, about;
        Row row;
        words >> mm >> row.inch >> row.metric >> about;
        row.about = about == "about";
        lengths.push_back(std::stod(mm));
        rows.push_back(row);
    }
    REQUIRE(rows.size() > 100);
    std::ifstream sizes(SHIMSIGHT_SOURCE_DIR "/tests/support/sizes.txt");
    int sizeRows = 0;
    for (std::string line; std::getline(sizes, line);)
        if (!line.starts_with('#')) lengths.push_back(std::stod(line)), ++sizeRows;
    REQUIRE(sizeRows == 15);
    const PageFolder folder;
    const json result = test::ranByNode(folder, "training/stick_lengths.js", gamePage(9, 1), lengths);
    REQUIRE(result["told"].size() == lengths.size());
    for (std::size_t k = 0; k < lengths.size(); ++k) {
        INFO(lengths[k]);
        CHECK(result["told"][k]["size"] == sizeWords(lengths[k].get<double>()));
    }
    for (std::size_t k = 0; k < rows.size(); ++k) {
        const Row& row = rows[k];
        const json& told = result["told"][k];
        INFO(lengths[k]);
        const std::string inch = (row.about ? "about " : "") + row.inch + " in", metric = row.metric + " mm";
        // Inches first, as the program tells it.
        CHECK(told["inches"] == formatLength(Length::fromMm(lengths[k].get<double>())));
        CHECK(told["mm"] == metric + " (" + inch + ")");
        CHECK(told["lesson"] == formatLength(Length::fromMm(lengths[k].get<double>())));
        // A field that is filled keeps the length.
        CHECK(told["typed"] == (row.about ? metric : row.inch));
    }
    CHECK(result["sentence"][0] == "Take out 0.12 mm (about 0.005 in), not 0.10 mm (0.004 in).");
    CHECK(result["sentence"][1] == "Take out 0.12 mm (about 0.005 in), not 0.004 in (0.10 mm).");
}

TEST_CASE("a page on a stick begins with the units that are wished") {
    const PageFolder folder;
    const auto begins = [&](const std::string& page) {
        return test::ranByNode(folder, "training/stick_lengths.js", page, {0.1})["begins"];
    };
    CHECK(begins(gamePage(9, 1)) == "in");
    CHECK(begins(gamePage(9, 1, nullptr, Units::Metric)) == "mm");
    DrillPageOptions options;
    options.questions = 1;
    options.units = Units::Metric;
    CHECK(begins(drillPage(options)) == "mm");
    options.units = Units::Inch;
    CHECK(begins(drillPage(options)) == "in");
}
