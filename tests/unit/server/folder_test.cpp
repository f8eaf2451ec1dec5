// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What lies in the folder of jobs: links that lead out of it, left-overs of killed writers, pages that were made, and
// how much of the disk it may take.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>

#include "bench.h"
#include "server/guard.h"
#include "server/space.h"
#include "shimsight/files.h"
#include "shimsight/job.h"

using namespace shimsight;
using namespace shimsight::server;
using namespace shimsight::test;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

/// A job with photos, as it was kept by the program.
void addSampleJob(const ServerBench& bench, const std::string& name) {
    fs::copy(fs::path(SHIMSIGHT_SOURCE_DIR) / "samples/job-van-17", bench.options.jobs / name,
             fs::copy_options::recursive);
}

/// Another job's file of this name in place of it.
void link(const fs::path& to, const fs::path& at) {
    fs::remove_all(at);
    fs::create_symlink(to, at);
}

void write(const fs::path& file, std::size_t bytes = 10) {
    fs::create_directories(file.parent_path());
    std::ofstream(file) << std::string(bytes, 'x');
}

}  // namespace

TEST_CASE("no link leads out of the folder of jobs") {
    ServerBench bench;
    addSampleJob(bench, "van-17");
    const fs::path job = bench.options.jobs / "van-17", secret = bench.own->path() / "secret.jpg";
    fs::copy(fs::path(SHIMSIGHT_SOURCE_DIR) / "samples/van-b-good/drive.jpg", secret);
    const std::string trial = openJob(job).record.trials.front().stamp.id;
    const std::string file = openJob(job).record.trials.front().photos.front().file;
    const std::string photo = "/api/jobs/van-17/trials/" + trial + "/photos/0";
    REQUIRE(bench.get(photo).status == 200);

    SECTION("a photo") { link(secret, job / file); }
    SECTION("by words that point up") { link("../../../secret.jpg", job / file); }
    SECTION("one that points nowhere yet") { link(bench.own->path() / "later.jpg", job / file); }
    SECTION("the folder of photos") {
        fs::rename(job / "photos", bench.own->path() / "photos");
        link(bench.own->path() / "photos", job / "photos");
    }
    SECTION("the record") {
        fs::rename(job / "job.json", bench.own->path() / "job.json");
        link(bench.own->path() / "job.json", job / "job.json");
    }
    SECTION("the job") {
        fs::rename(job, bench.own->path() / "van-17");
        link(bench.own->path() / "van-17", job);
    }
    SECTION("into the server's own folder") { link(bench.options.jobs / ".shimsight-server/devices.json", job / file); }
    const HttpResponse answer = bench.get(photo);
    CHECK(answer.status == 400);
    CHECK_THAT(errorOf(answer), Contains("van-17") && Contains("a link that leads out of the folder of jobs"));
    CHECK_THAT(errorOf(answer), !Contains(bench.own->path().string()));
    CHECK(bench.get("/api/jobs/van-17").status == 400);
    CHECK(bench.post("/api/jobs/van-17/documents/sheet", json::object(), 5).status == 400);
    CHECK(bench.post("/api/jobs/van-17/entries/remark", {{"text", "x"}}, 6).status == 400);
    CHECK(json::parse(bench.get("/api/training/trials").body).at("trials").empty());
    // The list names the job, and why it cannot be opened; the rest of the shop goes on.
    bench.restart();
    const json line = json::parse(bench.get("/api/jobs").body).at("jobs").at(0);
    CHECK_THAT(line.at("fault").get<std::string>(), Contains("a link that leads out"));
    CHECK_NOTHROW(bench.newJob());
}

TEST_CASE("a link from one job to another is followed") {
    ServerBench bench;
    addSampleJob(bench, "van-17");
    addSampleJob(bench, "again");
    const TrialEntry trial = openJob(bench.options.jobs / "again").record.trials.front();
    const std::string file = trial.photos.front().file;
    link(bench.options.jobs / "van-17" / file, bench.options.jobs / "again" / file);
    CHECK(bench.get("/api/jobs/again/trials/" + trial.stamp.id + "/photos/0").status == 200);
}

TEST_CASE("a trial that waits for a job that leads out now fails with the reason, and the server starts") {
    ServerBench bench;
    const std::string job = bench.newJob();
    REQUIRE(bench.post("/api/jobs/" + job + "/trials", drawnTrial(0.5, 0.5), 60).status == 202);
    REQUIRE(bench.finished(60).at("state") == "done");
    bench.service.reset();
    bench.leaveOpen(60, drawnTrial(0.5, 0.5));
    fs::rename(bench.options.jobs / job, bench.own->path() / "moved");
    link(bench.own->path() / "moved", bench.options.jobs / job);
    bench.restart();
    const json task = bench.finished(60);
    CHECK(task.at("state") == "failed");
    CHECK_THAT(task.at("error").get<std::string>(), Contains("a link that leads out"));
}

TEST_CASE("what killed writers left is taken away: all at the start, old ones while the program works") {
    ServerBench bench;
    bench.service.reset();
    bench.options.scores = bench.own->path() / "scores";
    const fs::path own = bench.options.jobs / ".shimsight-server";
    const std::vector<fs::path> ours = {own / "index.json.1-2.part",  own / "uploads/x.1-2.part",
                                        own / "requests/x.1-2.part",  own / "maps/x.1-2.part",
                                        own / "links/x.1-2.part",     own / "review/ab/x.cbor.1-2.part",
                                        own / "review-0123abcd.html", own / "review-0123abcd-2.html"},
                                shared = {bench.options.jobs / "gear-sets/x.1-2.part",
                                          bench.options.scores / "x.1-2.part"};
    const fs::path kept = own / "requests/kept.json";
    const auto make = [&](std::chrono::minutes age) {
        for (const std::vector<fs::path>& files : {ours, shared, {kept}})
            for (const fs::path& file : files) {
                write(file);
                fs::last_write_time(file, fs::file_time_type::clock::now() - age);
            }
    };
    const auto there = [](const std::vector<fs::path>& files) {
        return std::count_if(files.begin(), files.end(), [](const fs::path& file) { return fs::exists(file); });
    };
    SECTION("at the start, when nobody else writes in the server's own folder") {
        make(std::chrono::minutes(1));
        bench.restart();
        CHECK(there(ours) == 0);
        CHECK(there(shared) == 2);
    }
    SECTION("while it works, what nobody has written to for an hour") {
        make(std::chrono::minutes(50));
        removeHalves(bench.options.jobs, bench.options.scores, timeOfDisk(own));
        CHECK(there(ours) == 8);
        make(std::chrono::minutes(70));
        removeHalves(bench.options.jobs, bench.options.scores, timeOfDisk(own));
        CHECK(there(ours) == 0);
        CHECK(there(shared) == 0);
    }
    SECTION("by the clock of the disk, however wrong that of this computer is") {
        make(std::chrono::minutes(1));
        // Files of a disk whose clock is a day behind bear times of yesterday.
        removeHalves(bench.options.jobs, bench.options.scores,
                     fs::file_time_type::clock::now() - std::chrono::hours(24));
        CHECK(there(ours) == 8);
    }
    CHECK(fs::exists(kept));
}

TEST_CASE("a change by another computer is seen though size and time of the record are the same") {
    ServerBench bench;
    const std::string job = bench.newJob();
    const fs::path file = bench.options.jobs / job / "job.json";
    CHECK(bench.view(job).at("record").at("axle") == "Van 7, rear");
    const fs::file_time_type time = fs::last_write_time(file);
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxJobBytes);
    std::string text(bytes.begin(), bytes.end());
    text.replace(text.find("Van 7, rear"), 11, "Van 8, rear");
    writeFileAtomically(file, std::vector<std::uint8_t>(text.begin(), text.end()));
    // As a clock that is some minutes behind, or a disk with coarse times, has it.
    fs::last_write_time(file, time);
    CHECK(bench.view(job).at("record").at("axle") == "Van 8, rear");
}

TEST_CASE("a server whose lock was deleted changes nothing any more") {
    ServerBench bench;
    const std::string job = bench.newJob();
    fs::remove(bench.options.jobs / ".shimsight-server/server.lock");
    const Service other(bench.options);
    const HttpResponse answer = bench.post("/api/jobs/" + job + "/entries/remark", {{"text", "x"}}, 6);
    CHECK(answer.status == 400);
    CHECK_THAT(errorOf(answer), Contains("another shimsight serve may work with it"));
    CHECK(bench.get("/api/jobs/" + job).status == 200);
    bench.service.reset();
}

TEST_CASE("a folder on a share whose locks stay on one computer is not served") {
    TempDir folder;
    FileCalls calls = systemFileCalls();
    CHECK_NOTHROW(SoleUse(folder.path(), calls));
    calls.locksReachOthers = [](int) { return false; };
    CHECK_THROWS_WITH(SoleUse(folder.path(), calls), Contains("a share whose locks do not reach"));
}

TEST_CASE("of the pages that were made the oldest goes first") {
    ServerBench bench;
    const std::string job = bench.newJob();
    std::vector<std::string> pages;
    for (int i = 0; i < 14; ++i) {
        REQUIRE(bench.post("/api/jobs/" + job + "/documents/sheet", json::object(), 10 + i).status == 202);
        pages.push_back(bench.finished(10 + i).at("result").at("path").get<std::string>());
    }
    for (std::size_t i = 0; i < pages.size(); ++i) {
        INFO(i);
        CHECK(bench.get(pages[i]).status == (i < 2 ? 404 : 200));
    }
}

TEST_CASE("a photo that would take more than its share of the disk is refused before its body is read") {
    ServerBench bench;
    const std::string photo = sample("van-b-good/drive.jpg");
    const auto size = static_cast<std::int64_t>(photo.size());
    const auto begin = [&](int id, std::int64_t bytes) {
        HttpRequest ask = bench.ask("PUT", "/api/uploads/" + idOf(id));
        ask.query = {{"offset", "0"}, {"size", std::to_string(bytes)}};
        return ask;
    };
    bench.options.space = 3 * size + 200'000;
    bench.restart();
    // Two are on their way, one of them only begun: what it will take counts.
    CHECK(bench.put(idOf(1), 0, size, photo).status == 200);
    CHECK(bench.put(idOf(2), 0, size, photo.substr(0, 1000)).status == 200);
    CHECK_FALSE(bench.service->admit(begin(3, size)));
    const std::optional<HttpResponse> refused = bench.service->admit(begin(3, size + 200'001));
    REQUIRE(refused);
    CHECK(refused->status == 507);
    CHECK_THAT(errorOf(*refused), Contains("No more photos can be kept") && Contains("set aside"));
    // What was begun may come to its end, and what is no photo of this size is told as before.
    bench.options.space = size;
    bench.restart();
    CHECK(bench.service->admit(begin(3, size)));
    CHECK(bench.put(idOf(2), 1000, size, photo.substr(1000)).status == 200);
    CHECK(bench.put(idOf(4), 0, bench.options.mostUploadBytes + 1, photo.substr(0, 1000)).status == 413);
    CHECK(bench.put(idOf(4), 0, std::numeric_limits<std::int64_t>::max(), photo.substr(0, 1000)).status == 413);
    // Everything else goes on.
    CHECK_NOTHROW(bench.newJob());
}

TEST_CASE("what the folder of jobs takes is known after each change, and measured anew") {
    TempDir folder;
    const fs::path jobs = folder.path();
    write(jobs / "a/job.json", 1000);
    write(jobs / "a/photos/1.jpg", 20'000);
    write(jobs / "b/job.json", 300);
    write(jobs / ".shimsight-server/uploads/x", 7'000'000);
    write(jobs / ".shimsight-server/links/x.html", 5000);
    write(folder.path() / "a" / "deep/er/x", 10);
    fs::create_symlink("/usr", jobs / "b/usr");
    fs::space_info disk{100'000'000, 90'000'000, 90'000'000};
    Space space(jobs, 1'000'000, [&] { return disk; });
    space.measure();
    CHECK(space.used() == 26'310);
    write(jobs / "b/photos/2.jpg", 4000);
    space.changed(jobs / "b");
    CHECK(space.used() == 30'310);
    fs::remove_all(jobs / "a");
    space.measure();
    CHECK(space.used() == 9300);
    CHECK_FALSE(space.refusal(990'700, {}));
    CHECK(space.refusal(990'701, {}));
    CHECK_FALSE(space.refusal(490'700, {500'000, 0}));
    CHECK(space.refusal(490'701, {500'000, 0}));

    SECTION("a twentieth of a small disk stays free") {
        disk.available = 5'100'000;
        CHECK_FALSE(space.refusal(100'000, {}));
        CHECK_THAT(space.refusal(100'001, {}).value_or(""), Contains("is nearly full") || Contains("GB free"));
        // What is still coming has its room already.
        CHECK(space.refusal(60'001, {50'000, 40'000}));
    }
    SECTION("of a large one a gigabyte") {
        disk = {4'000'000'000'000, 1'000'100'000, 1'000'100'000};
        CHECK_FALSE(space.refusal(100'000, {}));
        CHECK(space.refusal(100'001, {}));
    }
    SECTION("a disk that does not tell is tried") {
        disk = {static_cast<std::uintmax_t>(-1), static_cast<std::uintmax_t>(-1), static_cast<std::uintmax_t>(-1)};
        CHECK_FALSE(space.refusal(100'000, {}));
    }
}
