// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <thread>

#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"

using namespace shimsight;

namespace {

DrillAnswer perfectAnswer(const Exercise& exercise) {
    DrillAnswer answer;
    for (const std::size_t k : {0U, 1U}) {
        answer.seen[k].length = exercise.marks.pattern[k]->lengthPosition();
        answer.seen[k].depth = exercise.marks.pattern[k]->depthPosition();
    }
    answer.correction.remedy = exercise.remedy;
    if (exercise.remedy == Remedy::Change) answer.correction.move = exercise.best.move;
    if (exercise.shimAsked) {
        // Under a support a thicker shim is shallower.
        const double sign = exercise.shimAsked == PinionShim::UnderPinionSupport ? -1 : 1;
        answer.correction.thickerMm = sign * exercise.best.move.deeperMm;
        answer.correction.move.deeperMm = 0;
    }
    if (exercise.story) answer.correction.check = exercise.story->right;
    return answer;
}

struct TempFolder {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / ("shimsight-lesson-" + std::to_string(::getpid()));
    TempFolder() { std::filesystem::remove_all(path); }
    ~TempFolder() { std::filesystem::remove_all(path); }
};

}  // namespace

TEST_CASE("exercises are repeatable and have one clear answer") {
    std::array<int, 3> kinds{};
    for (int level = 1; level <= kDrillLevels; ++level) {
        for (int number = 1; number <= 12; ++number) {
            const Exercise exercise = drawExercise(11, level, number);
            ++kinds[static_cast<std::size_t>(exercise.remedy)];
            INFO("level " << level << " number " << number);
            const double now = goodness(*exercise.contact, exercise.bench);
            if (exercise.remedy == Remedy::Accept) CHECK(now > 0.2);
            if (exercise.remedy == Remedy::Change) {
                CHECK(now < -0.05);
                CHECK(goodness(*exercise.contact, moved(*exercise.contact, exercise.bench, exercise.best.move)) > 0.2);
            }
            if (exercise.remedy == Remedy::NoShim && !exercise.story) CHECK(exercise.best.goodness < 0);
            CHECK(gradeAnswer(exercise, perfectAnswer(exercise)).points() == kMaxPoints);
            if (number == 3) {
                const Exercise again = drawExercise(11, level, number);
                CHECK(again.bench.error.depthMm == exercise.bench.error.depthMm);
                CHECK(again.marks.map[0].contact == exercise.marks.map[0].contact);
                if (!exercise.story)
                    CHECK(drawExercise(12, level, number).bench.error.depthMm != exercise.bench.error.depthMm);
            }
        }
    }
    CHECK(kinds[static_cast<std::size_t>(Remedy::Accept)] > 0);
    CHECK(kinds[static_cast<std::size_t>(Remedy::NoShim)] > 0);
    CHECK(kinds[static_cast<std::size_t>(Remedy::Change)] > 30);
}

TEST_CASE("answers are marked against the truth") {
    Exercise exercise;
    exercise.contact = &lessonSet(Cut::FaceMilled);
    exercise.bench = moved(*exercise.contact, rightBench(*exercise.contact), {0.2, 0});
    exercise.marks = marksOf(*exercise.contact, exercise.bench);
    exercise.backlashMm = backlashMm(*exercise.contact, exercise.bench);
    exercise.best = bestMove(*exercise.contact, exercise.bench);
    exercise.remedy = Remedy::Change;
    CHECK(exercise.best.move.deeperMm == Approx(-0.2).margin(0.04));

    DrillAnswer answer;
    answer.seen = {parseSeenPlace("toe flank"), parseSeenPlace("heel flank")};
    answer.correction = parseCorrection("shallower 8thou");
    const GradedAnswer right = gradeAnswer(exercise, answer);
    CHECK(right.points() == 10);
    CHECK(right.ended);
    CHECK(isAcceptable(*right.expected.pattern[0], exercise.contact->gearSet().limits.acceptance));

    answer.correction = parseCorrection("deeper 4thou");
    const GradedAnswer wrong = gradeAnswer(exercise, answer);
    CHECK(wrong.placePoints == 4);
    CHECK(wrong.correctionPoints == 0);  // though the backlash was left inside its limits
    CHECK_FALSE(wrong.ended);
    CHECK(wrong.words[0].find("goes the wrong way") != std::string::npos);
    CHECK(wrong.words[1].find("worse after it than before: it fails") != std::string::npos);
    CHECK(wrong.words[3] == "The rule: both marks low, toward the root, means the pinion is too deep. Move it out.");
    CHECK(wrong.words[4] == "Read again: the lesson \"Pinion depth\".");
    CHECK(wrong.lesson == "depth");
    CHECK(wrong.expected.pattern[0]->rootTip < exercise.marks.pattern[0]->rootTip);

    answer.correction = parseCorrection("shallower 16thou");
    const GradedAnswer beyond = gradeAnswer(exercise, answer);
    CHECK(beyond.correctionPoints < 6);
    CHECK(beyond.words[0].find("would have overshot by 0.00") != std::string::npos);

    // Five times what it needs: past its place and off the other end.
    answer.correction = parseCorrection("shallower 40thou");
    const GradedAnswer off = gradeAnswer(exercise, answer);
    CHECK(off.placePoints == 4);
    CHECK(off.correctionPoints == 0);
    CHECK(off.words[1].find("on toward the other end of the tooth: it fails") != std::string::npos);

    answer.correction = parseCorrection("shallower 2thou");
    const GradedAnswer shortOf = gradeAnswer(exercise, answer);
    CHECK(shortOf.correctionPoints == 5);  // both ways right and nearer, but not there
    CHECK(shortOf.words[0].find("short") != std::string::npos);

    answer.correction = parseCorrection("accept");
    CHECK(gradeAnswer(exercise, answer).correctionPoints == 0);
    answer.correction = parseCorrection("no shim");
    CHECK(gradeAnswer(exercise, answer).correctionPoints == 0);

    answer.seen = {parseSeenPlace("heel face"), parseSeenPlace("none")};
    CHECK(gradeAnswer(exercise, answer).placePoints == 0);
}

TEST_CASE("the best move pulls the pinion only for what shows, and by shims that exist") {
    const ToothContact& contact = lessonSet(Cut::FaceMilled);
    const Bench right = rightBench(contact);
    // Too little backlash alone: the ring gear moves, the pinion stays.
    const BestMove loose = bestMove(contact, moved(contact, right, {0, -0.12}));
    CHECK(loose.move.deeperMm == 0);
    CHECK(loose.move.moreBacklashMm > 0.05);
    CHECK(loose.goodness > kClearlyGood);
    // What is clearly good is left.
    CHECK(bestMove(contact, right).move.deeperMm == 0);
    CHECK(bestMove(contact, right).move.moreBacklashMm == 0);
    // As seen at the bench: a half thousandth of depth beside a wrong backlash.
    int depths = 0;
    for (int number = 1; number <= 8; ++number) {
        const Exercise exercise = drawExercise(7, 1, number);
        const double depth = exercise.best.move.deeperMm;
        const double steps = depth / shimStepMm(exercise.contact->gearSet());
        INFO("number " << number << ": " << depth);
        CHECK((depth == 0 || std::abs(depth) >= kMinPinionMoveMm - 1e-9));
        CHECK(steps == Approx(std::round(steps)).margin(1e-9));
        depths += depth != 0;
    }
    CHECK(depths > 0);
    CHECK(depths < 8);
}

TEST_CASE("a pinion that was right is not pulled for nothing, and jammed teeth fail") {
    Exercise exercise;
    exercise.contact = &lessonSet(Cut::FaceMilled);
    exercise.bench = moved(*exercise.contact, rightBench(*exercise.contact), {0, 0.12});
    exercise.marks = marksOf(*exercise.contact, exercise.bench);
    exercise.backlashMm = backlashMm(*exercise.contact, exercise.bench);
    exercise.best = bestMove(*exercise.contact, exercise.bench);
    exercise.remedy = Remedy::Change;
    REQUIRE(exercise.best.move.deeperMm == 0);
    const auto marked = [&](const char* words) { return gradeCorrection(exercise, parseCorrection(words)); };
    const GradedCorrection right = marked("less 4thou");
    CHECK(right.points == 6);
    CHECK(right.lesson.empty());
    CHECK(right.words.back() ==
          "The rule: where the ring gear alone cures it, the pinion stays in. Set the dial first, then look again.");
    const GradedCorrection pulled = marked("deeper 2thou less 4thou");
    CHECK(pulled.ended);
    CHECK(pulled.points == 4);
    CHECK(pulled.lesson == "backlash");
    CHECK(pulled.words[1].find("came out for nothing") != std::string::npos);
    // An amount below the shims is none of them, and none is right.
    const GradedCorrection thin = marked("deeper 0.5thou less 4thou");
    CHECK(thin.words[0].find("so small a change cannot be made") != std::string::npos);
    CHECK(thin.words[1].find("came out for nothing") != std::string::npos);
    const GradedCorrection jammed = marked("less 16thou");
    CHECK(jammed.points == 0);
    CHECK(jammed.backlashMm < 0);
    CHECK(std::any_of(jammed.words.begin(), jammed.words.end(), [](const std::string& one) {
        return one == "That leaves no backlash: the teeth are jammed, do not turn them.";
    }));
    CHECK(marked("deeper 0.09mm less 4thou").words[0] ==
          "Shims of this set change by 0.002 in (0.05 mm); the nearest to yours is 0.004 in (0.10 mm). A change "
          "that no shim makes gets no points for the depth.");
    // Where the depth was right, neither a shim of no size nor any other earns points for it.
    CHECK(marked("shallower 0.5thou").points == 0);
    CHECK(marked("deeper 2thou").points == 0);
}

TEST_CASE("no points for the depth of a shim that does not exist, full ones for the nearest that does") {
    int asked = 0;
    for (int number = 1; number <= 12; ++number) {
        const Exercise exercise = drawExercise(1, 1, number);
        const double needed = exercise.best.move.deeperMm, step = shimStepMm(exercise.contact->gearSet());
        if (needed == 0) continue;
        ++asked;
        Correction said;
        said.remedy = Remedy::Change;
        said.move = exercise.best.move;
        CHECK(gradeCorrection(exercise, said).points == 6);
        CHECK_FALSE(shimFault(exercise.contact->gearSet(), said.move.deeperMm));
        // A quarter of a step beside it.
        said.move.deeperMm = needed + 0.25 * step;
        REQUIRE(0.25 * step > 0.005);
        REQUIRE(shimFault(exercise.contact->gearSet(), said.move.deeperMm));
        const GradedCorrection marked = gradeCorrection(exercise, said);
        INFO(correctionWords(said));
        CHECK(marked.ended);
        CHECK(marked.points == 4);
        CHECK(marked.lesson == "shims");
    }
    CHECK(asked > 2);
}

TEST_CASE("a metric shim may be said in the inches that it is told in") {
    const GearSet& hobbed = lessonSet(Cut::FaceHobbed).gearSet();
    REQUIRE(shimStepMm(hobbed) == Approx(0.03));
    CHECK_FALSE(shimFault(hobbed, 0.12));
    CHECK_FALSE(shimFault(hobbed, Length::fromThou(5).mm()));
    CHECK_FALSE(shimFault(hobbed, -Length::fromThou(5).mm()));
    CHECK(shimFault(hobbed, 0.105));
    CHECK(*shimFault(hobbed, Length::fromThou(4.5).mm()) ==
          "Shims of this set change by 0.001 in (0.03 mm); the nearest to yours is 0.12 mm (about 0.005 in).");
    CHECK(shimFault(hobbed, Length::fromThou(0.5).mm()));
}

TEST_CASE("a good setting keeps few points where only the dial was touched, none where the pinion came out") {
    Exercise exercise;
    exercise.contact = &lessonSet(Cut::FaceMilled);
    exercise.bench = rightBench(*exercise.contact);
    exercise.marks = marksOf(*exercise.contact, exercise.bench);
    exercise.backlashMm = backlashMm(*exercise.contact, exercise.bench);
    exercise.best = bestMove(*exercise.contact, exercise.bench);
    exercise.remedy = Remedy::Accept;
    const auto points = [&](const char* words) { return gradeCorrection(exercise, parseCorrection(words)).points; };
    CHECK(points("accept") == 6);
    CHECK(points("less 1thou") == 2);
    CHECK(points("deeper 2thou") == 0);
}

TEST_CASE("in shims, the sign goes with the place") {
    std::array<int, 3> places{};
    for (int number = 1; number <= 6; ++number) {
        const Exercise exercise = drawExercise(4, 6, number);
        REQUIRE(exercise.shimAsked);
        ++places.at(static_cast<std::size_t>(*exercise.shimAsked));
        const DrillAnswer perfect = perfectAnswer(exercise);
        INFO(truthWords(exercise));
        CHECK(correctionWords(exercise, perfect.correction) == truthWords(exercise));
        CHECK(gradeAnswer(exercise, perfect).points() == kMaxPoints);
        if (exercise.best.move.deeperMm == 0) continue;
        CHECK(truthWords(exercise).find(text(wordFor(*exercise.shimAsked))) != std::string::npos);
        DrillAnswer wrong = perfect;
        wrong.correction.thickerMm = -wrong.correction.thickerMm;
        const GradedAnswer marked = gradeAnswer(exercise, wrong);
        CHECK(marked.correctionPoints <= 2);
        CHECK(marked.lesson == "shims");
    }
    CHECK(places == std::array<int, 3>{2, 2, 2});
    const Exercise exercise = drawExercise(4, 6, 1);
    CHECK_THROWS_AS(correctionWords(exercise, parseCorrection("deeper 4thou")), InputError);
    CHECK_THROWS_AS(correctionWords(drawExercise(4, 2, 1), parseCorrection("thicker 4thou")), InputError);
    CHECK(parseCorrection("take out 4 thou, more 1thou").thickerMm == Approx(-0.1016));
}

TEST_CASE("complaints ask each story once, and each has a mark") {
    std::vector<std::string> told;
    for (int number = 1; number <= 10; ++number) {
        const Exercise exercise = drawExercise(8, 7, number);
        REQUIRE(exercise.story);
        const Story& story = *exercise.story;
        INFO(story.complaint);
        CHECK(std::find(told.begin(), told.end(), story.complaint) == told.end());
        told.push_back(story.complaint);
        REQUIRE(exercise.marks.pattern[0]);
        REQUIRE(exercise.marks.pattern[1]);
        CHECK(story.checks.size() == 4);
        CHECK_FALSE(readAgainWords(story.lesson).empty());
        for (std::size_t check = 0; check < 4; ++check) {
            Correction said;
            said.check = check;
            const GradedCorrection marked = gradeCorrection(exercise, said);
            CHECK(marked.points == (check == story.right ? 6 : 0));
            CHECK(marked.lesson == (check == story.right ? "" : story.lesson));
            CHECK(marked.words.back() == story.why);
        }
    }
    CHECK(drawExercise(8, 7, 11).story->complaint == told[0]);
    CHECK(parseCheck(" 3 ", 4).check == 2U);
    for (const char* text : {"", "0", "5", "a", "12"}) CHECK_THROWS_AS(parseCheck(text, 4), InputError);
}

TEST_CASE("a score sheet names the lessons to read") {
    std::vector<ScoreEntry> entries(5);
    entries[0].lesson = "cuts";
    entries[1].lesson = entries[3].lesson = "depth";
    entries[4].lesson = "backlash";
    const std::vector<LessonToRead> read = lessonsToRead(entries);
    REQUIRE(read.size() == 3);
    CHECK(read[0].lesson == "depth");
    CHECK(read[0].mistakes == 2);
    CHECK(lessonsToRead(entries, 1).size() == 1);
    CHECK(lessonsToRead({}).empty());
}

TEST_CASE("shims change in the steps of those on hand") {
    const auto stepOf = [](std::vector<double> shimsMm) {
        GearSet gearSet;
        gearSet.build.shimsMm = std::move(shimsMm);
        return shimStepMm(gearSet);
    };
    CHECK(stepOf({}) == 0.0254);
    CHECK(stepOf({0.1, 0.15, 0.2, 0.3, 0.5}) == Approx(0.05));
    CHECK(stepOf({1.0, 1.03, 1.06, 1.09}) == Approx(0.03));
    CHECK(stepOf({0.0508, 0.1016, 0.254}) == Approx(0.0508));  // 0.002, 0.004, 0.010 in
    CHECK(stepOf({0.254}) == Approx(0.254));
    CHECK(stepOf({0.2, 0.2001}) == Approx(0.01));  // two readings of one shim are no step
}

TEST_CASE("marks that more than one fault makes are not told as one") {
    for (int number = 1; number <= 12; ++number) {
        const Exercise exercise = drawExercise(11, 4, number);
        if (exercise.remedy != Remedy::NoShim) continue;
        DrillAnswer answer = perfectAnswer(exercise);
        for (const char* words : {"no shim", "check sides", "look at the cut"}) {
            answer.correction = parseCorrection(words);
            const GradedAnswer marked = gradeAnswer(exercise, answer);
            CHECK(marked.points() == kMaxPoints);
            REQUIRE(marked.words.size() == 3);
            CHECK(marked.words[0] ==
                  "Right: no depth and no backlash makes both sides good here. Set nothing, and find the cause.");
            CHECK(marked.words[2].starts_with("The rule: when one move heals one side"));
            CHECK(marked.words[1].starts_with("Exchanged sides or another cut can make the same marks"));
        }
        answer.correction = parseCorrection("deeper 4thou");
        CHECK(gradeAnswer(exercise, answer).correctionPoints == 0);
        return;
    }
    FAIL("no exercise of the kind was drawn");
}

TEST_CASE("answers as people type them") {
    CHECK(parseSeenPlace("Toe, Flank").length == LengthPosition::Toe);
    CHECK(parseSeenPlace("low toe").depth == DepthPosition::Flank);
    CHECK(parseSeenPlace("centre").depth == DepthPosition::Centre);
    CHECK(parseSeenPlace("heel").depth == DepthPosition::Centre);
    CHECK_FALSE(parseSeenPlace("none").length);
    for (const char* text : {"", "left", "toe heel", "face root", "none toe"})
        CHECK_THROWS_AS(parseSeenPlace(text), InputError);

    const Correction both = parseCorrection("deeper 4 thou, less backlash 0.05mm");
    CHECK(both.remedy == Remedy::Change);
    CHECK(both.move.deeperMm == Approx(0.1016));
    CHECK(both.move.moreBacklashMm == Approx(-0.05));
    CHECK(parseCorrection("ACCEPT").remedy == Remedy::Accept);
    CHECK(parseCorrection("no shim will help").remedy == Remedy::NoShim);
    CHECK(correctionWords(both) == "deeper 0.004 in (0.10 mm), backlash less 0.002 in (0.05 mm)");
    for (const char* text :
         {"", "deeper", "deeper 4", "deeper -4thou", "deeper 4in", "more 1thou less 1thou", "up 4thou"})
        CHECK_THROWS_AS(parseCorrection(text), InputError);
}

TEST_CASE("score sheets") {
    const TempFolder folder;
    CHECK(scoreSheetFile("x", "Ann Lee").filename().string().starts_with("ann-lee-"));
    CHECK(scoreSheetFile("x", "Ann Lee") != scoreSheetFile("x", "ann lee"));
    CHECK(scoreSheetFile("x", "../up").parent_path() == "x");
    for (const char* name : {"", " ", "a\nb"}) CHECK_THROWS_AS(scoreSheetFile("x", name), InputError);
    CHECK(readScoreSheet(folder.path, "Ann Lee").entries.empty());

    ScoreEntry entry;
    entry.at = "2026-03-02T14:05:00Z";
    entry.seed = 7, entry.level = 2, entry.number = 1;
    entry.gearSet = "set", entry.truth = "accept";
    entry.driveSeen = "toe, flank", entry.coastSeen = "none";
    entry.correction = "deeper 0.004 in (0.10 mm)";
    entry.placePoints = 3, entry.correctionPoints = 6;
    addScore(folder.path, "Ann Lee", entry);
    entry.number = 2;
    addScore(folder.path, "Ann Lee", entry);
    entry.correction = "=1+1";
    addScore(folder.path, "B, \"C\"", entry);
    const std::vector<ScoreSheet> sheets = scoreSheets(folder.path);
    REQUIRE(sheets.size() == 2);
    REQUIRE(sheets[0].entries.size() == 2);
    CHECK(sheets[0].entries[1].number == 2);
    CHECK(sheets[0].entries[1].placePoints == 3);
    const std::string csv = scoresCsv(sheets);
    CHECK(csv.find("Ann Lee,2026-03-02T14:05:00Z,7,2,1,,,set,accept,\"toe, flank\",none,deeper 0.004 in (0.10 "
                   "mm),3,6,9,10\n") != std::string::npos);
    CHECK(csv.find("\"B, \"\"C\"\"\",") != std::string::npos);
    CHECK(csv.find(",'=1+1,") != std::string::npos);

    // Two drills at once lose nothing.
    std::vector<std::thread> drills;
    for (int k = 0; k < 4; ++k)
        drills.emplace_back([&, k] {
            ScoreEntry one = entry;
            for (int n = 1; n <= 5; ++n) {
                one.number = 10 * (k + 1) + n;
                addScore(folder.path, "Ann Lee", one);
            }
        });
    for (std::thread& drill : drills) drill.join();
    CHECK(readScoreSheet(folder.path, "Ann Lee").entries.size() == 22);

    // A trial of a job has neither seed nor level.
    ScoreEntry ofJob = entry;
    ofJob.seed = 0;
    ofJob.level = 0;
    ofJob.job = "Delivery van 17, rear axle";
    ofJob.trial = "t2";
    addScore(folder.path, "Cy", ofJob);
    const ScoreEntry back = readScoreSheet(folder.path, "Cy").entries.at(0);
    CHECK(back.level == 0);
    CHECK(back.job == ofJob.job);
    CHECK(back.trial == "t2");
    CHECK(
        scoresCsv(scoreSheets(folder.path)).find("Cy,2026-03-02T14:05:00Z,,,2,\"Delivery van 17, rear axle\",t2,set") !=
        std::string::npos);
}

TEST_CASE("a damaged score sheet is told of and kept") {
    const TempFolder folder;
    ScoreEntry entry;
    entry.at = "2026-03-02T14:05:00Z";
    entry.gearSet = "set";
    entry.truth = entry.correction = "accept";
    entry.driveSeen = entry.coastSeen = "none";
    addScore(folder.path, "Bob", entry);
    const std::filesystem::path file = scoreSheetFile(folder.path, "Ann Lee");
    std::size_t kept = 0;
    for (const char* text :
         {"{}", "[]", "not", "", R"({"schema":"shimsight/score-sheet/1","name":"Ann Lee","answers":[{}]})",
          R"({"schema":"shimsight/score-sheet/1","name":"Ann Lee","answers":[{"at":"x","seed":-1,"level":1}]})",
          R"({"schema":"shimsight/score-sheet/1","name":"Ann Lee","answers":[{"at":"x","seed":1,"level":9}]})"}) {
        INFO(text);
        std::ofstream(file) << text;
        CHECK_THROWS_AS(readScoreSheet(folder.path, "Ann Lee"), DamagedSheet);
        // The others can still be listed; this one is told of.
        CHECK(scoreSheets(folder.path).size() == 1);
        CHECK(scoreSheetFaults(folder.path).size() == 1 + kept);
        const std::optional<std::string> said = addScore(folder.path, "Ann Lee", entry);
        REQUIRE(said.has_value());
        ++kept;
        const std::string name = "damaged-" + std::to_string(kept) + ".json";
        CHECK(said->find(name) != std::string::npos);
        CHECK(readScoreSheet(folder.path, "Ann Lee").entries.size() == 1);
        for (const auto& one : std::filesystem::directory_iterator(folder.path))
            if (one.path().filename().string().ends_with(name)) {
                std::ifstream stream(one.path());
                CHECK(std::string(std::istreambuf_iterator<char>(stream), {}) == text);
            }
    }
    CHECK(scoreSheetFaults(folder.path).size() == kept);
    CHECK_FALSE(setAsideDamagedSheet(folder.path, "Ann Lee"));
    CHECK_FALSE(addScore(folder.path, "Ann Lee", entry));

    // What somebody else or a newer program wrote is no damage, and stays.
    for (const char* text : {R"({"schema":"shimsight/score-sheet/1","name":"Bob","answers":[]})",
                             R"({"schema":"shimsight/score-sheet/2","name":"Ann Lee","pages":[]})"}) {
        INFO(text);
        std::ofstream(file) << text;
        CHECK_THROWS_AS(addScore(folder.path, "Ann Lee", entry), InputError);
        std::ifstream stream(file);
        CHECK(std::string(std::istreambuf_iterator<char>(stream), {}) == text);
    }
}

TEST_CASE("Shimsight's own way ends well from the starts of the game") {
    int good = 0, games = 0;
    for (std::uint64_t seed = 1; seed <= 6; ++seed) {
        const Exercise exercise = drawExercise(seed, 2, 1);
        const std::vector<PathStep> path = advisedPath(exercise);
        REQUIRE(!path.empty());
        ++games;
        good += static_cast<int>(goodness(*exercise.contact, path.back().after) > 0);
        CHECK(path.size() <= 6);  // readings that make sure before it is left count too
        for (const PathStep& step : path) CHECK((step.hours > 0) == (step.advice.verdict == Verdict::Change));
    }
    CHECK(games == 6);
    CHECK(good >= 5);
}
