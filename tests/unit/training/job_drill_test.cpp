// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "shimsight/core.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"

using namespace shimsight;
using nlohmann::json;

namespace {

const std::filesystem::path kSamples = std::filesystem::path(SHIMSIGHT_SOURCE_DIR) / "samples";

JobRecord sampleJob(const char* folder) { return openJob(kSamples / folder).record; }

json truthOf(const char* file) { return json::parse(std::ifstream(kSamples / file)); }

DrillAnswer answerOf(const Exercise& exercise) {
    DrillAnswer answer;
    for (const std::size_t k : {0U, 1U}) {
        if (!exercise.asked[k]) continue;
        answer.seen[k].length = exercise.marks.pattern[k]->lengthPosition();
        answer.seen[k].depth = exercise.marks.pattern[k]->depthPosition();
    }
    answer.correction.remedy = exercise.remedy;
    answer.correction.move = exercise.remedy == Remedy::Change ? exercise.best.move : BenchMove{};
    return answer;
}

bool told(const GradedAnswer& marked, const std::string& part) {
    for (const std::string& sentence : marked.words)
        if (sentence.find(part) != std::string::npos) return true;
    return false;
}

}  // namespace

TEST_CASE("a trial of a job is judged by what was done next and read later") {
    const json demo = truthOf("archive/truth.json"), van = truthOf("job-van-17/truth.json");
    int trials = 0;
    std::vector<double> off;  // of the face width and of the depth
    const auto checkJob = [&](const std::string& folder, const json& drawn) {
        const JobRecord job = sampleJob(folder.c_str());
        const JobExercises exercises = jobExercises(job);
        CHECK(exercises.usable.size() + exercises.leftOut.size() == job.trials.size());
        for (const JobExercise& one : exercises.usable) {
            INFO(folder << " " << one.trial);
            ++trials;
            const JobTruth truth = jobTruth(job, one.trial);
            const auto number = static_cast<std::size_t>(truth.exercise.number - 1);
            // The photos are drawn: how far from right they were is known.
            const double neededMm = -drawn.at("trials").at(number).at("pinion_depth_mm").get<double>();
            CHECK(truth.deeperMm.low90 <= neededMm);
            CHECK(truth.deeperMm.high90 >= neededMm);
            CHECK(truth.deeperMm.high90 - truth.deeperMm.low90 < 0.11);
            CHECK(one.backlashMm == Approx(drawn.at("trials").at(number).at("backlash_mm").get<double>()));
            // The model, fitted where the set-up was right, tells what was read where it was wrong.
            const BenchMarks model = marksOf(*truth.contact, truth.exercise.bench);
            for (const std::size_t k : {0U, 1U}) {
                if (!one.asked[k]) continue;
                const auto &read = truth.exercise.marks.pattern[k], &said = model.pattern[k];
                REQUIRE(said.has_value());
                off.push_back(read->toeHeel - said->toeHeel);
                off.push_back(read->rootTip - said->rootTip);
                // A mark that runs off two edges is told least well.
                CHECK(std::abs(off[off.size() - 2]) < 0.06);
                CHECK(std::abs(off.back()) < 0.06);
            }
            CHECK(gradeAnswer(truth.exercise, answerOf(truth.exercise)).points() == kMaxPoints);
            REQUIRE(!one.photos.empty());
            for (const JobExercise::Photo& photo : one.photos)
                CHECK(std::filesystem::exists(kSamples / folder / photo.file));
            const JobExercise::Photo& first = one.photos.front();
            CHECK(first.sides.size() >= 1);
            // Close up: the flanks fill a good part of what is shown.
            const Picture close = decodePhoto(jobExercisePhoto(kSamples / folder, first)).picture;
            const Picture full = loadPhoto(kSamples / folder / first.file).picture;
            CHECK(close.width >= first.flanksPx[2] - first.flanksPx[0]);
            CHECK(close.height >= first.flanksPx[3] - first.flanksPx[1]);
            CHECK(close.width <= full.width);
            CHECK(close.width <= std::max(3.4 * (first.flanksPx[3] - first.flanksPx[1]),
                                          1.6 * (first.flanksPx[2] - first.flanksPx[0])) +
                                     0.16 * full.width);
        }
        return exercises;
    };
    for (const json& job : demo.at("jobs")) checkJob(job.at("folder"), job);
    CHECK(trials >= 4);
    const JobExercises signedOff = checkJob("job-van-17", van.at("jobs").at(0));
    // The last trial counts too: a person put his name under it; and that before it, of the same setting.
    REQUIRE(signedOff.usable.size() == 5);
    CHECK(jobTruth(sampleJob("job-van-17"), "t4").exercise.remedy == Remedy::Accept);
    CHECK(jobTruth(sampleJob("job-van-17"), "t5").exercise.remedy == Remedy::Accept);
    CHECK(jobTruth(sampleJob("job-van-17"), "t1").exercise.remedy == Remedy::Change);
    double squares = 0;
    for (const double one : off) squares += one * one;
    CHECK(std::sqrt(squares / static_cast<double>(off.size())) < 0.02);
}

TEST_CASE("answers to a trial of a job") {
    const JobRecord job = sampleJob("job-van-17");
    // Trial 1 was 0.012 in too shallow; the first shim went the wrong way.
    DrillAnswer answer;
    answer.seen = {parseSeenPlace("heel face"), parseSeenPlace("toe face")};
    answer.correction = parseCorrection("deeper 12thou, less 3thou");
    const GradedAnswer right = gradeJobAnswer(job, "t1", answer);
    CHECK(right.points() == kMaxPoints);
    CHECK(
        told(right,
             "What was done: deeper 0.012 in (0.30 mm), backlash less 0.003 in (0.08 mm), in 3 steps; then trial t4"));
    CHECK(told(right, "9 times in 10"));
    // Who does what was done sees what was read.
    const Pattern read = *job.trials[3].measurement->drive;
    CHECK(right.expected.pattern[0]->toeHeel == Approx(read.toeHeel).margin(0.02));
    CHECK(right.expected.pattern[0]->rootTip == Approx(read.rootTip).margin(0.02));

    answer.correction = parseCorrection("shallower 5thou");
    const GradedAnswer wrong = gradeJobAnswer(job, "t1", answer);
    CHECK(wrong.correctionPoints < 3);
    CHECK(told(wrong, "goes the wrong way: it needed 0.012 in (0.30 mm) deeper"));
    // That is what was done at first: trial 2 shows it.
    const Pattern second = *job.trials[1].measurement->drive;
    CHECK(wrong.expected.pattern[0]->rootTip == Approx(second.rootTip).margin(0.05));

    answer.correction = parseCorrection("deeper 20thou, less 3thou");
    const GradedAnswer beyond = gradeJobAnswer(job, "t1", answer);
    CHECK(told(beyond, "would have overshot by 0.008 in (0.20 mm)"));
    CHECK(beyond.expected.pattern[0]->rootTip < 0.42);
    CHECK(beyond.correctionPoints < 6);

    answer.seen = {parseSeenPlace("toe flank"), parseSeenPlace("none")};
    CHECK(gradeJobAnswer(job, "t1", answer).placePoints == 0);
    CHECK_THROWS_AS(gradeJobAnswer(job, "t9", answer), InputError);
}

TEST_CASE("a trial without a known outcome is no exercise, and why is said") {
    const auto whyNot = [](const JobRecord& job, const std::string& trial) {
        for (const JobTrialLeftOut& one : jobExercises(job).leftOut)
            if (one.trial == trial) return one.why;
        return std::string("used");
    };
    const JobRecord whole = sampleJob("job-van-17");
    CHECK(whyNot(whole, "t1") == "used");

    JobRecord job = whole;
    job.signOffs.clear();
    for (const char* trial : {"t4", "t5"}) CHECK(whyNot(job, trial).find("not signed off") != std::string::npos);
    CHECK(whyNot(job, "t1") == "used");

    // Read as good, but then the shims were changed once more.
    job = whole;
    job.trials[4].shimChangeMm = 0.05;
    CHECK(whyNot(job, "t4").find("not signed off") != std::string::npos);
    CHECK(whyNot(job, "t5") == "used");

    job = whole;
    for (const std::size_t last : {3U, 4U}) job.trials[last].measurement->advice->verdict = Verdict::Change;
    for (const char* trial : {"t1", "t2", "t3", "t4", "t5"}) CHECK(whyNot(job, trial).find("No later trial") == 0);
    CHECK_THROWS_AS(jobTruth(job, "t1"), InputError);

    // A change that nobody wrote down.
    job = whole;
    job.work.clear();
    job.trials[2].shimChangeMm.reset();
    job.trials[2].shimStackMm.reset();
    CHECK(whyNot(job, "t1").find("shim change before trial t3") != std::string::npos);
    CHECK(whyNot(job, "t2").find("shim change before trial t3") != std::string::npos);
    CHECK(whyNot(job, "t3") == "used");

    job = whole;
    job.trials[3].backlashMm.reset();
    job.trials[3].backlashRound.clear();
    CHECK(whyNot(job, "t1").find("backlash of trial t4") != std::string::npos);

    job = whole;
    job.trials[0].measurement.reset();
    CHECK(whyNot(job, "t1").find("No mark") == 0);
    job.trials[1].photos.clear();
    CHECK(whyNot(job, "t2").find("no photo") != std::string::npos);

    // A trial that was struck out counts for nothing; its shim changes still happened.
    job = whole;
    job.trials[1].stamp.struck = StruckOut{"2026-03-09T12:00:00+01:00", "lead", "wrong photo"};
    CHECK(whyNot(job, "t2").find("struck out") != std::string::npos);
    CHECK(jobTruth(job, "t1").deeperMm.best == Approx(jobTruth(whole, "t1").deeperMm.best));
    CHECK(jobTruth(job, "t1").steps == 2);
}

TEST_CASE("where one side was read, one place is asked for") {
    JobRecord job = sampleJob("job-van-17");
    job.trials[0].measurement->drive.reset();
    const JobExercises exercises = jobExercises(job);
    REQUIRE(!exercises.usable.empty());
    CHECK(exercises.usable[0].asked == std::array{false, true});
    DrillAnswer answer;
    answer.seen[1] = parseSeenPlace("toe face");
    answer.correction = parseCorrection("deeper 12thou, less 3thou");
    const GradedAnswer marked = gradeJobAnswer(job, "t1", answer);
    CHECK(marked.placePoints == 4);
    CHECK(marked.correctionPoints == 6);
}

TEST_CASE("a bolted support turns the sign of a shim round") {
    // The van's shim lies where thicker is shallower; behind the pinion head the same shims would be the other way.
    JobRecord job = sampleJob("job-van-17");
    const double deeper = jobTruth(job, "t1").deeperMm.best;
    REQUIRE(job.gearSet.data.build.pinionShim == PinionShim::UnderPinionSupport);
    job.gearSet.data.build.pinionShim = PinionShim::BehindPinionHead;
    CHECK(jobTruth(job, "t1").deeperMm.best == Approx(-deeper));
}
