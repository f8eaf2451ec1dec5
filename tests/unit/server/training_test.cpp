// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The training bench as the service answers it: what a learner gets before and after the answer, and what is kept.
#include "shimsight/training.h"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <thread>

#include "request_ids.h"
#include "server/requests.h"
#include "server/service.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "support/temp_dir.h"

using namespace shimsight;
using namespace shimsight::server;
using nlohmann::json;

namespace {

namespace fs = std::filesystem;
using test::idOf;

struct Shop {
    test::TempDir own;
    ServerOptions options;
    std::unique_ptr<Service> service;

    explicit Shop(std::optional<ExamOptions> exam = {}) {
        options.jobs = own.path() / "jobs";
        options.scores = own.path() / "scores";
        options.gearSets = {fs::path(SHIMSIGHT_SOURCE_DIR) / "models/gear-sets"};
        options.requestsPerSecond = options.requestBurst = 100'000;
        options.workers = 1;
        options.exam = exam;
        fs::create_directories(options.jobs);
        restart();
    }
    void restart() {
        service.reset();
        service = std::make_unique<Service>(options);
    }
    HttpRequest ask(const std::string& method, const std::string& path, const std::string& body = "",
                    int id = 0) const {
        HttpRequest one = test::pairedAsk(*service, method, path, body, id);
        if (const std::size_t mark = path.find('?'); mark != std::string::npos) {
            one.path = path.substr(0, mark);
            std::string rest = path.substr(mark + 1);
            while (!rest.empty()) {
                const std::size_t end = std::min(rest.find('&'), rest.size()), equal = rest.find('=');
                one.query[rest.substr(0, equal)] = rest.substr(equal + 1, end - equal - 1);
                rest = rest.substr(std::min(end + 1, rest.size()));
            }
        }
        return one;
    }
    HttpResponse get(const std::string& path) const { return service->answer(ask("GET", path)); }
    HttpResponse answered(const json& body, int id) const {
        return service->answer(ask("POST", "/api/training/answers", body.dump(), id));
    }
    json found(const std::string& path) const {
        const HttpResponse answer = get(path);
        INFO(path << ": " << answer.body.substr(0, 300));
        REQUIRE(answer.status == 200);
        return json::parse(answer.body);
    }
    /// The one score sheet of `name` as the lessons' own functions read it.
    std::vector<ScoreEntry> sheet(const std::string& name) const {
        return readScoreSheet(options.scores, name).entries;
    }
};

std::string sentenceOf(const HttpResponse& answer) { return json::parse(answer.body).at("error").get<std::string>(); }

json place(const char* along, const char* up) { return {{"along", along}, {"up", up}}; }

/// An answer to question `number` of seed 5, level 2.
json drawnAnswer(int number, const std::string& name = "") {
    json body = {{"seed", 5},
                 {"level", 2},
                 {"number", number},
                 {"drive", place("toe", "flank")},
                 {"coast", place("centre", "flank")},
                 {"remedy", "change"},
                 {"deeper_mm", -0.1524},
                 {"more_backlash_mm", 0.0762}};
    if (!name.empty()) body["name"] = name;
    return body;
}

void addSampleJob(const Shop& shop) {
    fs::copy(fs::path(SHIMSIGHT_SOURCE_DIR) / "samples/job-van-17", shop.options.jobs / "van-17",
             fs::copy_options::recursive);
}

}  // namespace

TEST_CASE("nothing of the training bench is readable without the token, its scripts are part of the page") {
    const Shop shop;
    for (const char* path :
         {"/api/training", "/api/training/lessons/depth", "/api/training/live?set=milled",
          "/api/training/chart.svg?set=milled", "/api/training/questions/1?seed=5&level=2", "/api/training/trials",
          "/api/training/sheets", "/api/training/sheets.csv", "/api/training/pictures/0"}) {
        HttpRequest ask = shop.ask("GET", path);
        ask.token.clear();
        INFO(path);
        CHECK(shop.service->answer(ask).status == 401);
    }
    for (const char* path : {"/api/training/answers", "/api/training/game"}) {
        HttpRequest ask = shop.ask("POST", path, "{}", 1);
        ask.client = "192.0.2.7";  // wrong tokens of one device are slowed down
        ask.token.clear();
        CHECK(shop.service->answer(ask).status == 401);
        HttpRequest foreign = shop.ask("POST", path, "{}", 1);
        foreign.origin = "http://elsewhere.example";
        CHECK(shop.service->answer(foreign).status == 403);
    }
    for (const char* name : {"words.js", "contact.js", "flank.js", "three.js", "live.js"}) {
        HttpRequest ask = shop.ask("GET", std::string("/lesson/") + name);
        ask.token.clear();
        const HttpResponse script = shop.service->answer(ask);
        REQUIRE(script.status == 200);
        CHECK(script.type == "text/javascript; charset=utf-8");
        CHECK(script.lasting.size() > 1000);
        ask.ifNoneMatch = script.headers.front().second;
        CHECK(shop.service->answer(ask).status == 304);
    }
    CHECK(shop.get("/lesson/none.js").status == 404);
}

TEST_CASE("every lesson comes without script, style or address") {
    const Shop shop;
    const json all = shop.found("/api/training");
    REQUIRE(all.at("lessons").size() == lessons().size());
    for (const json& one : all.at("lessons")) {
        const std::string article =
            shop.found("/api/training/lessons/" + one.at("name").get<std::string>()).at("article").get<std::string>();
        for (const char* never : {"<script", "style=", "<style", "href", "src=", "onclick"})
            CHECK(article.find(never) == std::string::npos);
    }
    CHECK(shop.get("/api/training/lessons/..").status == 404);
}

TEST_CASE("a question tells nothing of what is right, and is the same for the same seed") {
    const Shop shop;
    const std::string path = "/api/training/questions/1?seed=5&level=2&set=";
    const json question = shop.found(path);
    const Exercise exercise = drawExercise(5, 2, 1);
    std::vector<std::string> keys;
    for (const auto& [key, value] : question.items()) keys.push_back(key);
    CHECK(keys == std::vector<std::string>{"asked", "backlash_limits_given", "backlash_limits_mm", "backlash_mm", "cut",
                                           "cut_words", "gear_set", "level", "level_words", "number", "shim",
                                           "sketches", "steps_mm", "story"});
    // On photos alone, in shims, of complaints.
    CHECK(shop.found("/api/training/questions/1?seed=5&level=5").at("sketches").is_null());
    CHECK(shop.found("/api/training/questions/1?seed=5&level=6").at("shim").get<std::string>().starts_with("Shim "));
    CHECK(shop.found("/api/training/questions/1?seed=5&level=7").at("story").at("checks").size() == 4);
    CHECK(question.at("backlash_mm").get<double>() == Approx(exercise.backlashMm));
    // The drawn mark alone: no cross on its middle, no box of where it should lie.
    for (const auto& [side, sketch] : question.at("sketches").items()) {
        CHECK(sketch.get<std::string>().find("fk-mark") != std::string::npos);
        CHECK(sketch.get<std::string>().find("fk-cross") == std::string::npos);
        CHECK(sketch.get<std::string>().find("fk-zone") == std::string::npos);
    }
    CHECK(shop.found(path + "&photos=1").at("sketches").is_null());
    CHECK(shop.found(path) == question);
    CHECK(shop.found("/api/training/questions/2?seed=5&level=2&set=").at("sketches") != question.at("sketches"));
    for (const char* wrong :
         {"0?seed=5&level=2", "101?seed=5&level=2", "x?seed=5&level=2", "1?level=2", "1?seed=-1&level=2",
          "1?seed=5&level=8", "1?seed=5&level=2&set=none", "1?seed=5&level=2&set=../../etc/passwd"})
        CHECK(shop.get(std::string("/api/training/questions/") + wrong).status == 400);
}

TEST_CASE("an answer is graded as the command line grades it, and put on the sheet of its name") {
    const Shop shop;
    const Exercise exercise = drawExercise(5, 2, 1);
    DrillAnswer said;
    said.seen = {parseSeenPlace("toe flank"), parseSeenPlace("flank")};
    said.correction = {Remedy::Change, {-0.1524, 0.0762}};
    const GradedAnswer marked = gradeAnswer(exercise, said);
    const HttpResponse answer = shop.answered(drawnAnswer(1, "Ann"), 1);
    REQUIRE(answer.status == 200);
    const json told = json::parse(answer.body);
    CHECK(told.at("place_points") == marked.placePoints);
    CHECK(told.at("correction_points") == marked.correctionPoints);
    CHECK(told.at("words") == marked.words);
    CHECK(told.at("truth") == truthWords(exercise));
    CHECK(told.at("backlash_after_mm").get<double>() == Approx(marked.backlashMm));
    CHECK(told.at("kept") == true);
    const std::vector<ScoreEntry> entries = shop.sheet("Ann");
    REQUIRE(entries.size() == 1);
    CHECK(entries[0].seed == 5);
    CHECK(entries[0].level == 2);
    CHECK(entries[0].number == 1);
    CHECK(entries[0].driveSeen == "toe, flank");
    CHECK(entries[0].correction == correctionWords(said.correction));
    CHECK(entries[0].placePoints + entries[0].correctionPoints == marked.points());

    SECTION("the same answer sent twice stands there once, and is marked again") {
        CHECK(shop.answered(drawnAnswer(1, "Ann"), 1).body == answer.body);
        CHECK(shop.sheet("Ann").size() == 1);
        CHECK(shop.answered(drawnAnswer(1, "Ann"), 2).status == 200);
        CHECK(shop.sheet("Ann").size() == 2);
        CHECK(shop.answered(drawnAnswer(2, "Ann"), 2).status == 409);
    }
    SECTION("without a name nothing is kept") {
        CHECK(json::parse(shop.answered(drawnAnswer(1), 3).body).at("kept") == false);
        CHECK(shop.sheet("Ann").size() == 1);
    }
    SECTION("leaving it or giving up is marked too") {
        for (const char* remedy : {"accept", "no-shim"}) {
            json body = drawnAnswer(1);
            body["remedy"] = remedy;
            const json other = json::parse(shop.answered(body, 4).body);
            CHECK(other.at("correction_points") == 0);
            CHECK(other.at("after").is_null());
        }
    }
}

TEST_CASE("an answer that was kept before the program ended is not kept twice") {
    Shop shop;
    // As the files lie there when the power goes between the sheet and the answer.
    const std::string at = "2026-03-02T14:05:00+01:00";
    const json body = drawnAnswer(1, "Ann");
    Requests(shop.options.jobs / ".shimsight-server/requests").write(newRequest(idOf(9), "drill", "", at, body.dump()));
    ScoreEntry entry;
    entry.at = at;
    entry.seed = 5;
    entry.level = 2;
    entry.number = 1;
    (void)addScore(shop.options.scores, "Ann", entry);
    shop.restart();
    CHECK(shop.answered(body, 9).status == 200);
    CHECK(shop.sheet("Ann").size() == 1);
}

TEST_CASE("names are never paths, and what is no name is told in a sentence") {
    const Shop shop;
    int id = 10;
    for (const char* name : {"../../outside", "/etc/passwd", "..", "a/b", "Zo\xC3\xAB", "con.scores.json"}) {
        INFO(name);
        CHECK(shop.answered(drawnAnswer(1, name), ++id).status == 200);
        CHECK(shop.sheet(name).size() == 1);
    }
    std::size_t files = 0;
    for (const auto& entry : fs::recursive_directory_iterator(shop.own.path()))
        if (entry.path().filename().string().ends_with(".scores.json")) {
            ++files;
            CHECK(entry.path().parent_path() == shop.options.scores);
        }
    CHECK(files == 6);
    for (const std::string& name : {std::string(61, 'a'), std::string("two\nlines"), std::string(" Ann")}) {
        const HttpResponse answer = shop.answered(drawnAnswer(1, name), ++id);
        CHECK(answer.status == 400);
        CHECK(sentenceOf(answer).find("--") == std::string::npos);
        CHECK(sentenceOf(answer).find(shop.own.path().string()) == std::string::npos);
    }
    const json list = shop.found("/api/training/sheets");
    CHECK(list.at("sheets").size() == 6);
    CHECK(shop.get("/api/training/sheets.csv").body.find("../../outside,") != std::string::npos);
}

TEST_CASE("a damaged sheet is told of, and the others are there") {
    const Shop shop;
    CHECK(shop.answered(drawnAnswer(1, "Ann"), 1).status == 200);
    std::ofstream(scoreSheetFile(shop.options.scores, "Bo")) << "{";
    const json list = shop.found("/api/training/sheets");
    CHECK(list.at("sheets").size() == 1);
    REQUIRE(list.at("faults").size() == 1);
    CHECK(list.at("faults")[0].get<std::string>().find(shop.own.path().string()) == std::string::npos);
    CHECK(shop.answered(drawnAnswer(1, "Bo"), 2).status == 200);
    CHECK(shop.sheet("Bo").size() == 1);
}

TEST_CASE("phones that answer at once lose nothing") {
    const Shop shop;
    std::vector<std::thread> phones;
    for (int phone = 0; phone < 4; ++phone)
        phones.emplace_back([&shop, phone] {
            for (int i = 0; i < 5; ++i) (void)shop.answered(drawnAnswer(1 + i, "Ann"), 100 + 10 * phone + i);
        });
    for (std::thread& phone : phones) phone.join();
    CHECK(shop.sheet("Ann").size() == 20);
}

TEST_CASE("in an exam each question counts once, and what is right stays closed") {
    const Shop shop(ExamOptions{77, 2, 2, {"Bo", "Ann"}});
    const json all = shop.found("/api/training");
    CHECK(all.at("exam") == json({{"level", 2},
                                  {"level_words", drillLevelWords(2)},
                                  {"on_photos", false},
                                  {"questions", 2},
                                  {"names", {"Bo", "Ann"}}}));
    CHECK(shop.get("/api/training/questions/3?exam=1").status == 400);
    CHECK(shop.answered(drawnAnswer(1), 2).status == 200);

    json body = {{"exam", true},
                 {"number", 1},
                 {"drive", place("toe", "flank")},
                 {"coast", place("toe", "face")},
                 {"remedy", "accept"}};
    CHECK(shop.answered(body, 3).status == 400);  // no name
    body["name"] = "Bo";
    const HttpResponse first = shop.answered(body, 4);
    CHECK(json::parse(first.body) == json({{"graded", false}, {"kept", true}}));
    CHECK(shop.answered(body, 4).body == first.body);
    CHECK(sentenceOf(shop.answered(body, 5)).find("answered already") != std::string::npos);
    CHECK(shop.sheet("Bo").size() == 1);
    CHECK(shop.found("/api/training/exam?name=Bo").at("results").is_null());
    body["number"] = 2;
    CHECK(shop.answered(body, 6).status == 200);
    const json end = shop.found("/api/training/exam?name=Bo");
    CHECK(end.at("handed_in") == true);
    REQUIRE(end.at("results").size() == 2);
    CHECK(end.dump().find("truth") == std::string::npos);
    CHECK(shop.get("/api/training/sheets").status == 400);
    CHECK(shop.get("/api/training/sheets?name=Bo").status == 400);
    CHECK(shop.get("/api/training/sheets.csv").status == 400);
    body["number"] = 3;
    CHECK(shop.answered(body, 7).status == 400);
}

TEST_CASE("in an exam with a list a name belongs to the device that takes it first, until it is freed") {
    Shop shop(ExamOptions{77, 2, 2, {"Bo", "Ann"}});
    const auto paired = [&](const char* phone, int id) {
        const HttpResponse answer =
            shop.service->answer(shop.ask("POST", "/api/devices", json{{"name", phone}}.dump(), id));
        REQUIRE(answer.status == 200);
        return json::parse(answer.body).at("key").get<std::string>();
    };
    const std::string ann = paired("Ann's phone", 50), other = paired("another phone", 51);
    const auto by = [&](const std::string& key, const char* method, const std::string& path, const json& body, int id) {
        HttpRequest ask = shop.ask(method, path, body.is_null() ? "" : body.dump(), id);
        ask.token = key;
        return shop.service->answer(ask);
    };
    const auto begins = [&](const std::string& key, const char* name) {
        return by(key, "GET", std::string("/api/training/exam?name=") + name, nullptr, 0);
    };
    const json answer = {{"exam", true},
                         {"number", 1},
                         {"name", "Ann"},
                         {"drive", place("toe", "flank")},
                         {"coast", place("toe", "face")},
                         {"remedy", "accept"}};
    CHECK(begins(ann, "Ann").status == 200);
    const HttpResponse refused = begins(other, "Ann");
    CHECK(refused.status == 400);
    CHECK(sentenceOf(refused).find("Ann is taking this exam on another device") == 0);
    CHECK(by(other, "POST", "/api/training/answers", answer, 60).status == 400);
    CHECK(begins(shop.service->token(), "Ann").status == 400);  // nor this computer
    CHECK(shop.sheet("Ann").empty());
    CHECK(by(ann, "POST", "/api/training/answers", answer, 61).status == 200);
    CHECK(shop.sheet("Ann").size() == 1);
    // By an answer alone a name is taken too, and one device may have several.
    json bo = answer;
    bo["name"] = "Bo";
    CHECK(by(ann, "POST", "/api/training/answers", bo, 62).status == 200);
    CHECK(begins(other, "Bo").status == 400);
    // Practice under any name stays open to each device.
    CHECK(by(other, "POST", "/api/training/answers", drawnAnswer(1, "Ann"), 63).status == 200);
    // It holds over a restart, though the code is another one then.
    shop.restart();
    CHECK(begins(other, "Ann").status == 400);
    CHECK(begins(ann, "Ann").status == 200);
    const fs::path file = shop.options.scores / "exam-77.names.json";
    CHECK((fs::status(file).permissions() & (fs::perms::group_all | fs::perms::others_all)) == fs::perms::none);
    // Freed while the server runs: the next device has it, with what was answered.
    CHECK(freeExamName(shop.options.scores, 77, "Ann"));
    CHECK_FALSE(freeExamName(shop.options.scores, 77, "Ann"));
    CHECK_FALSE(freeExamName(shop.options.scores, 78, "Bo"));
    const HttpResponse taken = begins(other, "Ann");
    CHECK(taken.status == 200);
    CHECK(json::parse(taken.body).at("answered") == json({1}));
    CHECK(begins(ann, "Ann").status == 400);
    // No file of this kind: refused, and nothing of it is told with the folder's name.
    std::ofstream(file) << "{}";
    CHECK(begins(other, "Ann").status == 400);
    CHECK(sentenceOf(begins(other, "Ann")).find(shop.options.scores.string()) == std::string::npos);
    CHECK(sentenceOf(begins(other, "Ann")).find("exam-77.names.json") != std::string::npos);
}

TEST_CASE("nobody learns what answers are worth under an invented name") {
    const json answer = {{"exam", true},
                         {"number", 1},
                         {"name", "Nobody"},
                         {"drive", place("toe", "flank")},
                         {"coast", place("toe", "face")},
                         {"remedy", "accept"}};
    SECTION("with a list nobody else sits the exam") {
        const Shop shop(ExamOptions{77, 2, 1, {"Bo"}});
        CHECK(sentenceOf(shop.answered(answer, 2)).find("not on the list") != std::string::npos);
        CHECK(shop.get("/api/training/exam?name=Nobody").status == 400);
        CHECK(shop.get("/api/training/exam?name=bo").status == 400);
        CHECK(shop.get("/api/training/exam?name=").status == 400);
        CHECK(!fs::exists(scoreSheetFile(shop.options.scores, "Nobody")));
        // Practice is open to every name meanwhile.
        json practice = drawnAnswer(1);
        practice["name"] = "Nobody";
        CHECK(shop.answered(practice, 3).status == 200);
    }
    SECTION("without a list points stay closed") {
        Shop shop(ExamOptions{77, 2, 1});
        CHECK(shop.found("/api/training").at("exam").at("names").empty());
        const HttpResponse kept = shop.answered(answer, 2);
        CHECK(json::parse(kept.body) == json({{"graded", false}, {"kept", true}}));
        const json end = shop.found("/api/training/exam?name=Nobody");
        CHECK(end.at("handed_in") == true);
        CHECK(end.at("results").is_null());
        CHECK(end.dump().find("points") == std::string::npos);
        // Over, they are told.
        shop.options.exam.reset();
        shop.restart();
        CHECK(shop.found("/api/training/sheets?name=Nobody").at("sheets")[0].at("answers").size() == 1);
    }
}

TEST_CASE("the list of an exam is one name a line") {
    CHECK(examNames(std::string("\xEF\xBB\xBF") + "Bo\r\n\n  Ann Lee \r\n", "l") ==
          std::vector<std::string>{"Bo", "Ann Lee"});
    for (const auto& [text, said] : {std::pair{"", "there is no name in this list"},
                                     {"\n \n", "there is no name in this list"},
                                     {"Bo\nAnn\nBo\n", "line 3: Bo is in it twice"},
                                     {"Bo\n\x01\n", "line 2: A name has"}}) {
        INFO(text);
        try {
            (void)examNames(text, "class.txt");
            FAIL("taken");
        } catch (const InputError& error) {
            CHECK(std::string(error.what()).find(said) != std::string::npos);
            CHECK(std::string(error.what()).find("class.txt") == 0);
        }
    }
}

TEST_CASE("no number of practice is the exam's: each is answered as if no exam were on", "[many-draws]") {
    const Shop practice, shop(ExamOptions{77, 2, 2});
    const json examined = shop.found("/api/training/questions/1?exam=1");
    for (const int number : {76, 77, 78}) {
        INFO(number);
        const std::string question = "/api/training/questions/1?level=2&seed=" + std::to_string(number);
        const HttpResponse asked = shop.get(question);
        CHECK(asked.status == 200);
        CHECK(asked.body == practice.get(question).body);
        CHECK(json::parse(asked.body).at("sketches") != examined.at("sketches"));
        const json move = {{"seed", number}, {"level", 2}, {"verdict", "accept"}};
        const HttpResponse played = shop.service->answer(shop.ask("POST", "/api/training/game", move.dump()));
        CHECK(played.status == 200);
        CHECK(played.body == practice.service->answer(practice.ask("POST", "/api/training/game", move.dump())).body);
        CHECK(json::parse(played.body).at("states")[0].at("sketches") != examined.at("sketches"));
        json answer = drawnAnswer(1);
        answer["seed"] = number;
        CHECK(shop.answered(answer, number).status == 200);
        CHECK(shop.answered(answer, number).body == practice.answered(answer, number).body);
    }
    // What draws it cannot be asked for, whoever has come to know it.
    const std::string secret = std::to_string(examSeed(shop.options.scores, 77, 0));
    CHECK(shop.get("/api/training/questions/1?level=2&seed=" + secret).status == 400);
    const std::string body = "{\"level\": 2, \"seed\": " + secret + "}";
    CHECK(shop.service->answer(shop.ask("POST", "/api/training/game", body)).status == 400);
}

TEST_CASE("an exam goes on under its number, and each shop's is its own") {
    Shop shop(ExamOptions{77, 2, 2});
    const Shop other(ExamOptions{77, 2, 2});
    const std::string first = "/api/training/questions/1?exam=1";
    const json begun = shop.found(first);
    CHECK(begun.at("sketches") != other.found(first).at("sketches"));
    shop.restart();
    CHECK(shop.found(first) == begun);
    const fs::path file = shop.options.scores / "exam-77.json";
    CHECK((fs::status(file).permissions() & (fs::perms::group_all | fs::perms::others_all)) == fs::perms::none);
    shop.options.exam->number = 78;
    shop.restart();
    CHECK(shop.found(first).at("sketches") != begun.at("sketches"));
    for (const char* wrong : {"{", "{}", R"({"schema": "shimsight/exam/1", "number": 77, "seed": 77})"}) {
        INFO(wrong);
        std::ofstream(file) << wrong;
        CHECK_THROWS_AS(examSeed(shop.options.scores, 77, 1), InputError);
    }
}

TEST_CASE("an exam needs sheets") {
    test::TempDir folder;
    ServerOptions options;
    options.jobs = folder.path() / "jobs";
    options.exam = ExamOptions{};
    CHECK_THROWS_AS(Service(options), InputError);
}

TEST_CASE("without a folder for sheets the drill marks and keeps nothing") {
    test::TempDir folder;
    ServerOptions options;
    options.jobs = folder.path() / "jobs";
    Service service(options);
    HttpRequest ask;
    ask.method = "POST";
    ask.path = "/api/training/answers";
    ask.body = drawnAnswer(1, "Ann").dump();
    ask.token = service.token();
    ask.host = "localhost";
    ask.id = idOf(1);
    const HttpResponse answer = service.answer(ask);
    REQUIRE(answer.status == 200);
    CHECK(json::parse(answer.body).at("kept") == false);
    ask.method = "GET";
    ask.path = "/api/training/sheets";
    CHECK(service.answer(ask).status == 400);
}

TEST_CASE("the trials of a job are asked without what came of them") {
    Shop shop;
    addSampleJob(shop);
    const JobRecord record = openJob(shop.options.jobs / "van-17").record;
    const std::vector<JobExercise> usable = jobExercises(record).usable;
    REQUIRE(usable.size() >= 2);
    const json list = shop.found("/api/training/trials").at("trials");
    CHECK(list.size() == usable.size());
    const std::string trial = usable.front().trial;
    const json question = shop.found("/api/training/trials/van-17/" + trial);
    std::vector<std::string> keys;
    for (const auto& [key, value] : question.items()) keys.push_back(key);
    CHECK(keys == std::vector<std::string>{"asked", "axle", "backlash_limits_given", "backlash_limits_mm",
                                           "backlash_mm", "gear_set", "job", "level", "number", "photos", "shim",
                                           "steps_mm", "story", "trial"});
    REQUIRE(question.at("photos").size() == usable.front().photos.size());
    const auto number = question.at("photos")[0].at("number").get<int>();
    CHECK(shop.get("/api/jobs/van-17/trials/" + trial + "/photos/" + std::to_string(number)).status == 200);

    const JobTruth truth = jobTruth(record, trial);
    json body = {{"job", "van-17"},
                 {"trial", trial},
                 {"name", "Ann"},
                 {"drive", place("centre", "centre")},
                 {"coast", place("centre", "centre")},
                 {"remedy", "change"},
                 {"deeper_mm", truth.deeperMm.best},
                 {"more_backlash_mm", truth.moreBacklashMm.best}};
    const HttpResponse answer = shop.answered(body, 1);
    REQUIRE(answer.status == 200);
    CHECK(json::parse(answer.body).at("correction_points") == 6);
    REQUIRE(shop.sheet("Ann").size() == 1);
    CHECK(shop.sheet("Ann")[0].level == 0);
    CHECK(shop.sheet("Ann")[0].trial == trial);
    body["trial"] = "t99";
    CHECK(shop.answered(body, 2).status == 400);
    body["job"] = "../van-17";
    CHECK(shop.answered(body, 3).status == 400);
    CHECK(shop.get("/api/training/trials/none/t1").status == 404);
}

TEST_CASE("the set-up game is replayed from its start and compared with the advice") {
    const Shop shop;
    const auto play = [&](const json& body) {
        const HttpResponse answer = shop.service->answer(shop.ask("POST", "/api/training/game", body.dump()));
        INFO(answer.body.substr(0, 200));
        REQUIRE(answer.status == 200);
        return json::parse(answer.body);
    };
    const json start = play({{"seed", 5}, {"level", 2}});
    CHECK(start.at("states").size() == 1);
    CHECK(start.at("end").is_null());
    CHECK(start.dump().find("fk-zone") == std::string::npos);
    const Exercise exercise = drawExercise(5, 2, 1);
    const BenchMove move = exercise.best.move;
    const json end = play({{"seed", 5},
                           {"level", 2},
                           {"moves", {{{"deeper_mm", move.deeperMm}, {"more_backlash_mm", move.moreBacklashMm}}}},
                           {"verdict", "accept"}});
    REQUIRE(end.at("states").size() == 2);
    CHECK(end.at("states")[1].at("hours").get<double>() == Approx(benchHours(move)));
    CHECK(end.at("end").at("good") == true);
    double hours = 0;
    for (const PathStep& step : advisedPath(exercise)) hours += step.hours;
    CHECK(end.at("end").at("advised").at("hours").get<double>() == Approx(hours));
    json many = {{"seed", 5}, {"moves", json::array()}};
    for (int i = 0; i < 13; ++i) many["moves"].push_back({{"deeper_mm", 0.01}});
    CHECK(shop.service->answer(shop.ask("POST", "/api/training/game", many.dump())).status == 400);
    CHECK(shop.service->answer(shop.ask("POST", "/api/training/game", R"({"seed": 5, "moves": [{"deeper_mm": 50}]})"))
              .status == 400);
}

TEST_CASE("live tooth and chart are those of the lessons, for a set or a job") {
    Shop shop;
    addSampleJob(shop);
    CHECK(shop.found("/api/training/live").at("sets")[0].at("name") ==
          shop.found("/api/training").at("sets")[0].at("name"));
    const json live = shop.found("/api/training/live?set=milled");
    CHECK(live.at("sets").size() == 1);
    CHECK(live.at("sets")[0].at("name") == lessonSet(Cut::FaceMilled).gearSet().name);
    const json both = shop.found("/api/training/live?job=van-17").at("sets");
    REQUIRE(both.size() == 2);
    CHECK(both[0].at("cut") == "face-milled");
    CHECK(both[1].at("cut") == "face-hobbed");
    CHECK(shop.found("/api/training/figures").at("sets").size() == 2);
    CHECK(both[0].at("name") == openJob(shop.options.jobs / "van-17").record.gearSet.data.name);
    CHECK(
        shop.found("/api/training/chart?set=milled&beside=hobbed").at("tables").get<std::string>().find("charts two") !=
        std::string::npos);
    CHECK(shop.get("/api/training/chart.svg?set=hobbed").type == "image/svg+xml");
    for (const char* wrong : {"live?set=none", "live?job=none", "chart?set=milled&beside=none"})
        CHECK(shop.get(std::string("/api/training/") + wrong).status == 400);
    CHECK(shop.get("/api/training/none").status == 404);
}
