#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
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

/// An answer somewhere near the right one or far from it, and how the program marks it.
json drawnAnswer(const Exercise& exercise, std::size_t place, Random& random) {
    DrillAnswer answer;
    json seen;
    for (const Side side : kSides) {
        if (!exercise.asked[index(side)]) continue;
        SeenPlace& where = answer.seen[index(side)];
        where.length = static_cast<LengthPosition>(random.integer(0, 2));
        where.depth = static_cast<DepthPosition>(random.integer(0, 2));
        seen[side == Side::Drive ? "drive" : "coast"] = {{"along", name(*where.length)}, {"up", name(*where.depth)}};
    }
    const int kind = random.integer(0, 5);
    answer.correction.remedy = kind == 0 ? Remedy::Accept : kind == 1 ? Remedy::NoShim : Remedy::Change;
    if (answer.correction.remedy == Remedy::Change) {
        // Half of the answers near the right one, as the sliders give them.
        const BenchMove about = kind < 4 ? exercise.best.move : BenchMove{};
        const double halfThou = 0.0127;
        const auto onSlider = [&](double mm, double spread) {
            return halfThou * std::round((mm + random.uniform(-spread, spread)) / halfThou);
        };
        answer.correction.move = {onSlider(about.deeperMm, 0.15), onSlider(about.moreBacklashMm, 0.06)};
    }
    const MarkedAnswer marked = markAnswer(exercise, answer);
    return {
        {"exercise", place},
        {"answer",
         {{"seen", seen},
          {"remedy", kind == 0   ? "accept"
                     : kind == 1 ? "no-shim"
                                 : "change"},
          {"move", {{"deeper", answer.correction.move.deeperMm}, {"more", answer.correction.move.moreBacklashMm}}}}},
        {"place", marked.placePoints},
        {"correction", marked.correctionPoints},
        {"ended", marked.ended},
        {"words", marked.words}};
}

void checkPageMarks(const std::string& page, const json& answers) {
    const PageFolder folder;
    const json result = test::ranByNode(folder, "training/drill_marking.js", page, answers);
    INFO(result["other"].dump(1));
    CHECK(result["count"] == answers.size());
    CHECK(result["other"].empty());
}

}  // namespace

TEST_CASE("the drill's page marks as the program does") {
    for (int level = 1; level <= kDrillLevels; ++level) {
        DrillPageOptions options;
        options.seed = 31;
        options.level = level;
        options.questions = 8;
        const std::string page = drillPage(options);
        CHECK(page.size() < 1'000'000);
        CHECK(page.find("http") == std::string::npos);
        Random random(static_cast<std::uint64_t>(level));
        json answers = json::array();
        for (int k = 0; k < 60; ++k) {
            const int number = 1 + k % options.questions;
            answers.push_back(
                drawnAnswer(drawExercise(options.seed, level, number), static_cast<std::size_t>(number - 1), random));
        }
        checkPageMarks(page, answers);
    }
}

TEST_CASE("the drill's page marks trials of jobs as the program does") {
    const std::filesystem::path samples = std::filesystem::path(SHIMSIGHT_SOURCE_DIR) / "samples";
    const std::array trials{JobTrialPlace{samples / "job-van-17", "t1"}, JobTrialPlace{samples / "job-van-17", "t3"},
                            JobTrialPlace{samples / "job-van-17", "t4"},
                            JobTrialPlace{samples / "archive/04-truck-02", "t1"}};
    int photos = 0;
    const std::string page = jobDrillPage(trials, [&](int number, int of) {
        CHECK(number == ++photos);
        CHECK(of == 8);
    });
    CHECK(photos == 8);
    CHECK(page.size() < 2'000'000);
    CHECK(page.find("http") == std::string::npos);
    Random random(5);
    json answers = json::array();
    for (std::size_t k = 0; k < trials.size(); ++k) {
        const JobTruth truth = jobTruth(openJob(trials[k].folder).record, trials[k].trial);
        for (int n = 0; n < 20; ++n) answers.push_back(drawnAnswer(truth.exercise, k, random));
    }
    checkPageMarks(page, answers);
    const std::array unknown{JobTrialPlace{samples / "archive/05-van-04-front", "t1"}};
    CHECK_THROWS_AS(jobDrillPage(unknown), InputError);
}

TEST_CASE("the game's page plays as the program does") {
    for (int level = 1; level <= kDrillLevels; ++level) {
        const std::string page = gamePage(9, level);
        CHECK(page.size() < 500'000);
        CHECK(page.find("http") == std::string::npos);
        const Exercise exercise = drawExercise(9, level, 1);
        Random random(static_cast<std::uint64_t>(level));
        json moves = json::array();
        std::vector<BenchMove> made{exercise.best.move};
        for (int k = 0; k < 6; ++k)
            made.push_back({random.chance(0.3) ? 0 : random.uniform(-0.2, 0.2),
                            random.chance(0.3) ? 0 : random.uniform(-0.05, 0.05)});
        for (const BenchMove& move : made) moves.push_back({{"deeper", move.deeperMm}, {"more", move.moreBacklashMm}});
        const PageFolder folder;
        const json played = test::ranByNode(folder, "training/game_numbers.js", page, moves);
        REQUIRE(played.size() == made.size());
        Bench bench = exercise.bench;
        for (std::size_t k = 0; k < made.size(); ++k) {
            INFO("level " << level << " move " << k);
            bench = moved(*exercise.contact, bench, made[k]);
            CHECK(played[k]["hours"].get<double>() == Approx(benchHours(made[k])));
            CHECK(played[k]["backlash"].get<double>() == Approx(backlashMm(*exercise.contact, bench)));
            CHECK(played[k]["goodness"].get<double>() == Approx(goodness(*exercise.contact, bench)).margin(0.01));
        }
        const PathWords path = pathWords(exercise, advisedPath(exercise));
        CHECK_FALSE(path.end.empty());
        CHECK(page.find(path.end) != std::string::npos);
    }
}
