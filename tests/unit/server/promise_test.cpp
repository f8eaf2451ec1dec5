// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What was answered with 202 or 200 is in the record, once: over restarts, other programs, clocks and kills.
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <catch2/catch.hpp>
#include <fstream>
#include <map>
#include <mutex>
#include <random>
#include <set>
#include <sstream>

#include "bench.h"
#include "server/changes.h"
#include "server/guard.h"
#include "shimsight/job.h"

using namespace shimsight;
using namespace shimsight::server;
using namespace shimsight::test;

namespace {

constexpr std::chrono::seconds kLong{120};

/// Requests that stand in the job's trials and remarks, each as often as it stands there.
std::multiset<std::string> requestsIn(const JobRecord& job) {
    std::multiset<std::string> found;
    for (const TrialEntry& trial : job.trials) found.insert(trial.stamp.request);
    for (const Remark& remark : job.remarks) found.insert(remark.request);
    return found;
}

/// A trial as the command line adds one, at a time that is said.
void addByHand(const fs::path& folder, const std::string& at) {
    updateJob(folder, [&](JobRecord& job) {
        TrialEntry entry;
        entry.stamp.at = at;
        entry.backlashMm = 0.2;
        (void)addTrial(job, entry);
    });
}

void makeOld(const fs::path& file, std::chrono::hours age) {
    fs::last_write_time(file, fs::file_time_type::clock::now() - age);
}

}  // namespace

TEST_CASE("a trial is known by its request, not by its second") {
    ServerBench bench;
    const std::string job = bench.newJob();
    const std::string at = "2026-03-02T14:05:00+01:00";
    // Accepted by the server; the command line wrote another trial in the same second.
    bench.service.reset();
    Requests(bench.options.jobs / ".shimsight-server/requests")
        .write(newRequest(idOf(60), "trial", job, at, drawnTrial(0.6, 0.6).dump()));
    addByHand(bench.options.jobs / job, at);
    bench.service = std::make_unique<Service>(bench.options);
    CHECK(bench.finished(60).at("result").at("trial") == "t2");
    const JobRecord record = openJob(bench.options.jobs / job).record;
    REQUIRE(record.trials.size() == 2);
    CHECK(record.trials[0].stamp.request.empty());
    CHECK(record.trials[1].stamp.request == idOf(60));
    CHECK(record.trials[1].hasPattern());
}

TEST_CASE("a burst, a restart, and one more: each trial is there once") {
    ServerBench bench;
    const std::string job = bench.newJob();
    for (int i = 0; i < 4; ++i)
        REQUIRE(bench.post("/api/jobs/" + job + "/trials", drawnTrial(0.4 + 0.05 * i, 0.5), 100 + i).status == 202);
    bench.restart();
    REQUIRE(bench.post("/api/jobs/" + job + "/trials", drawnTrial(0.5, 0.6), 104).status == 202);
    for (int i = 0; i < 5; ++i) CHECK(bench.finished(100 + i).at("state") == "done");
    const std::multiset<std::string> found = requestsIn(openJob(bench.options.jobs / job).record);
    CHECK(found.size() == 5);
    for (int i = 0; i < 5; ++i) CHECK(found.count(idOf(100 + i)) == 1);
}

TEST_CASE("a clock that was set back takes nothing for something else") {
    ServerBench bench;
    const std::string job = bench.newJob();
    // Entries of the hours to come, one in each second, as a wrong clock left them.
    const std::time_t now = std::time(nullptr);
    for (int i = 0; i < 8; ++i) addByHand(bench.options.jobs / job, timeText(now + i));
    for (int i = 0; i < 3; ++i) {
        REQUIRE(bench.post("/api/jobs/" + job + "/trials", drawnTrial(0.5, 0.5), 100 + i).status == 202);
        CHECK(bench.finished(100 + i).at("result").at("trial") == "t" + std::to_string(9 + i));
    }
    CHECK(openJob(bench.options.jobs / job).record.trials.size() == 11);
}

TEST_CASE("a second server on the same folder is refused, and changes nothing") {
    ServerBench bench;
    const std::string job = bench.newJob();
    for (int i = 0; i < 3; ++i)
        REQUIRE(bench.post("/api/jobs/" + job + "/trials", drawnTrial(0.5, 0.5), 100 + i).status == 202);
    CHECK_THROWS_WITH(Service(bench.options), Catch::Contains("another shimsight serve works with this folder"));
    // Under another name of the folder too.
    ServerOptions other = bench.options;
    fs::create_directory_symlink(bench.options.jobs, bench.own->path() / "link");
    other.jobs = bench.own->path() / "link";
    CHECK_THROWS_AS(Service(other), InputError);
    for (int i = 0; i < 3; ++i) CHECK(bench.finished(100 + i).at("state") == "done");
    CHECK(openJob(bench.options.jobs / job).record.trials.size() == 3);
    bench.service.reset();
    CHECK_NOTHROW(Service(bench.options));
}

TEST_CASE("what was accepted is read though the server was off for a month and more") {
    ServerBench bench;
    const std::string job = bench.newJob();
    const std::string photo = sample("van-b-good/drive.jpg");
    bench.put(idOf(7), 0, static_cast<std::int64_t>(photo.size()), photo);
    bench.put(idOf(8), 0, static_cast<std::int64_t>(photo.size()), photo.substr(0, 1000));
    bench.service.reset();
    const fs::path own = bench.options.jobs / ".shimsight-server";
    const nlohmann::json body = {{"photos", {{{"upload", idOf(7)}, {"side", "drive"}}}}};
    Requests(own / "requests").write(newRequest(idOf(60), "trial", job, "2026-03-02T14:05:00+01:00", body.dump()));
    std::ofstream(own / "requests/half.1-2.part") << "{";
    std::ofstream(own / "maps/half.1-2.part") << "x";
    for (const char* folder : {"requests", "uploads"})
        for (const fs::directory_entry& entry : fs::directory_iterator(own / folder))
            makeOld(entry.path(), std::chrono::hours(24 * 45));
    bench.service = std::make_unique<Service>(bench.options);
    CHECK(bench.finished(60).at("state") == "done");
    CHECK(openJob(bench.options.jobs / job).record.trials.size() == 1);
    // What nobody had accepted is gone, and so are halves of files.
    CHECK(nlohmann::json::parse(bench.get("/api/uploads/" + idOf(8)).body).at("received") == 0);
    CHECK_FALSE(fs::exists(own / "requests/half.1-2.part"));
    CHECK_FALSE(fs::exists(own / "maps/half.1-2.part"));
}

TEST_CASE("the queue counts for how many trials a job keeps") {
    ServerBench bench;
    const std::string job = bench.newJob(1), other = bench.newJob(2);
    for (int i = 0; i < 18; ++i) addByHand(bench.options.jobs / job, "2026-03-02T14:05:00+01:00");
    // The one reader is busy with another job meanwhile.
    for (int i = 0; i < 4; ++i)
        REQUIRE(bench.post("/api/jobs/" + other + "/trials", drawnTrial(0.5, 0.5), 50 + i).status == 202);
    std::vector<int> accepted;
    for (int i = 0; i < 4; ++i)
        if (bench.post("/api/jobs/" + job + "/trials", drawnTrial(0.5, 0.5), 100 + i).status == 202)
            accepted.push_back(100 + i);
    CHECK(accepted == std::vector<int>{100, 101});
    for (const int id : accepted) CHECK(bench.finished(id).at("state") == "done");
    CHECK(openJob(bench.options.jobs / job).record.trials.size() == 20);
}

TEST_CASE("one phone's abandoned photos never stand in another's way") {
    ServerBench bench;
    const std::string photo = sample("van-b-good/drive.jpg");
    const auto size = static_cast<std::int64_t>(photo.size());
    const auto from = [&](const std::string& client, int id, const std::string& piece) {
        HttpRequest one = bench.ask("PUT", "/api/uploads/" + idOf(id), piece);
        one.query = {{"offset", "0"}, {"size", std::to_string(size)}};
        one.client = client;
        return bench.service->answer(one).status;
    };
    // A photo of an accepted trial, the oldest of all, then many phones that begin and never end.
    const std::string job = bench.newJob();
    REQUIRE(from("192.0.2.1", 1, photo) == 200);
    for (int i = 1000; i < 1300; ++i)
        REQUIRE(from("192.0.2." + std::to_string(2 + i % 10), i, photo.substr(0, 150)) == 200);
    const auto files = [&] {
        const fs::directory_iterator all(bench.options.jobs / ".shimsight-server/uploads");
        return std::distance(begin(all), end(all));
    };
    CHECK(files() <= 240);
    // One phone alone drives out its own only.
    for (int i = 2000; i < 2200; ++i) REQUIRE(from("192.0.2.99", i, photo.substr(0, 150)) == 200);
    CHECK(files() <= 240);
    REQUIRE(from("192.0.2.50", 3000, photo) == 200);
    CHECK(bench.post("/api/jobs/" + job + "/trials", {{"photos", {{{"upload", idOf(3000)}}}}}, 10).status == 202);
    CHECK(bench.finished(10).at("state") == "done");
}

TEST_CASE("a job's request makes one job, also when the program ended before the answer") {
    ServerBench bench;
    const std::string job = bench.newJob(1);
    const fs::path file = bench.options.jobs / ".shimsight-server/requests" / (idOf(1) + ".json");
    CHECK(nlohmann::json::parse(std::ifstream(file)).at("body") == "");  // what is done needs its body no more
    bench.leaveOpen(1, bench.jobBody());
    bench.restart();
    CHECK(bench.newJob(1) == job);
    CHECK(nlohmann::json::parse(bench.get("/api/jobs").body).at("jobs").size() == 1);
}

TEST_CASE("a body of broken UTF-8 is the sender's fault") {
    ServerBench bench;
    const std::string job = bench.newJob();
    for (const std::string& path : {std::string("/api/jobs"), "/api/jobs/" + job + "/entries/remark"})
        CHECK(bench.service->answer(bench.ask("POST", path, "{\"text\":\"\xC3\x28\"}", 5)).status == 400);
}

TEST_CASE("gear sets typed at the bench never hide the shop's, and the newest of them are shown") {
    ServerBench bench;
    const std::string set = sample("../models/gear-sets/lab-van-rear-axle-a.json");
    const fs::path own = bench.options.jobs / "gear-sets";
    for (int i = 0; i < 520; ++i) {
        const fs::path file = own / ("gear-set-" + std::to_string(1000 + i) + ".json");
        std::ofstream(file) << set;
        makeOld(file, std::chrono::hours(1000 - i));
    }
    std::ofstream(own / "a-new-one.json") << set;
    CHECK_FALSE(bench.gearSet("1/lab-van-rear-axle-a").empty());
    CHECK_FALSE(bench.gearSet("0/a-new-one").empty());
    CHECK(bench.gearSet("0/gear-set-1000").empty());
    const nlohmann::json list = nlohmann::json::parse(bench.get("/api/gear-sets").body);
    const fs::directory_iterator shipped(fs::path(SHIMSIGHT_SOURCE_DIR) / "models/gear-sets");
    const auto count = static_cast<std::size_t>(std::count_if(
        begin(shipped), end(shipped), [](const auto& entry) { return entry.path().extension() == ".json"; }));
    CHECK(list.at("gear_sets").size() == 500 + count);
}

TEST_CASE("an upload that never came is not whole") {
    ServerBench bench;
    const nlohmann::json state = nlohmann::json::parse(bench.get("/api/uploads/" + idOf(1)).body);
    CHECK(state.at("whole") == false);
    CHECK(state.at("received") == 0);
}

// Killed at random. The server with two clients runs as a process of its own: this program, called with the name of the
// hidden test below.

namespace {

/// What clients sent and what they were answered, line by line; it survives the kills.
class Journal {
public:
    explicit Journal(const fs::path& file) : file_(::open(file.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600)) {}
    ~Journal() { ::close(file_); }
    Journal(const Journal&) = delete;
    Journal& operator=(const Journal&) = delete;
    void write(const std::string& line) const {
        const std::string whole = line + "\n";
        if (::write(file_, whole.data(), whole.size()) != static_cast<ssize_t>(whole.size())) std::abort();
    }

private:
    int file_;
};

std::size_t sizeOf(const fs::path& file) {
    std::error_code error;
    const auto size = fs::file_size(file, error);
    return error ? 0 : size;
}

struct Sent {
    std::string path, id, job;
    bool answered = false;
};

/// In the order in which they were sent.
std::vector<Sent> readJournal(const fs::path& file) {
    std::ifstream in(file);
    std::vector<Sent> all;
    std::map<std::string, std::size_t> places;
    std::string line;
    while (std::getline(in, line)) {
        std::istringstream words(line);
        std::string what, path, id, job;
        words >> what >> path >> id >> job;
        const auto place = places.try_emplace(id, all.size());
        if (place.second) all.push_back({path, id, job, false});
        if (what == "got") all[place.first->second].answered = true;
    }
    return all;
}

/// How many trials and remarks were answered by now.
std::ptrdiff_t answersIn(const fs::path& file) {
    const std::vector<Sent> all = readJournal(file);
    return std::count_if(all.begin(), all.end(),
                         [](const Sent& one) { return one.answered && !one.path.ends_with("/jobs"); });
}

/// One client: first what it never got an answer to, under the same ids; then new jobs with remarks and trials.
void sendForEver(ServerBench& bench, const Journal& journal, std::vector<Sent> unanswered) {
    const std::string set = bench.gearSet("lab-van-rear-axle-a");
    const auto send = [&](const std::string& path, const std::string& id, const std::string& job) {
        nlohmann::json body = {{"text", "as it was"}};
        if (path.ends_with("/jobs")) body = {{"axle", "Van 7"}, {"gear_set", set}};
        if (path.ends_with("/trials")) body = drawnTrial(0.5, 0.5);
        HttpRequest ask = bench.ask("POST", path, body.dump());
        ask.id = id;
        journal.write("sent " + path + " " + id + " " + job);
        const HttpResponse answer = bench.service->answer(ask);
        if (answer.status == 200 || answer.status == 202) journal.write("got " + path + " " + id + " " + job);
        return answer;
    };
    for (const Sent& one : unanswered) (void)send(one.path, one.id, one.job);
    while (true) {
        const HttpResponse made = send("/api/jobs", randomHex(16), "-");
        if (made.status != 200) continue;
        const std::string job = nlohmann::json::parse(made.body).at("job").get<std::string>();
        for (int i = 0; i < 3; ++i) {
            (void)send("/api/jobs/" + job + "/entries/remark", randomHex(16), job);
            (void)send("/api/jobs/" + job + "/trials", randomHex(16), job);
        }
    }
}

std::string childFolder() {
    const char* folder = std::getenv("SHIMSIGHT_CRASH_FOLDER");
    return folder == nullptr ? "" : folder;
}

/// This program anew, with the hidden test; its folder by the environment.
pid_t startChild(const fs::path& folder, const char* what) {
    ::setenv("SHIMSIGHT_CRASH_FOLDER", folder.c_str(), 1);
    std::string program = "/proc/self/exe", name = what;
    std::array<char*, 3> words{program.data(), name.data(), nullptr};
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    pid_t child = 0;
    REQUIRE(posix_spawn(&child, program.c_str(), &actions, nullptr, words.data(), environ) == 0);
    posix_spawn_file_actions_destroy(&actions);
    return child;
}

}  // namespace

TEST_CASE("crash child: serves two clients until it is killed", "[.]") {
    if (childFolder().empty()) return;
    const fs::path folder = childFolder();
    std::vector<Sent> all = readJournal(folder / "journal"), mine[2];
    std::size_t number = 0;
    for (Sent& one : all)
        if (!one.answered) mine[number++ % 2].push_back(std::move(one));
    const Journal journal(folder / "journal");
    ServerBench bench(folder);
    std::thread other([&] { sendForEver(bench, journal, mine[0]); });
    sendForEver(bench, journal, mine[1]);
    other.join();
}

TEST_CASE("crash child: finishes what was accepted", "[.]") {
    if (childFolder().empty()) return;
    ServerBench bench{fs::path(childFolder())};
    bench.service->finish(kLong);
}

TEST_CASE("a server killed at random while two clients send: what was answered is there once") {
    const char* wanted = std::getenv("SHIMSIGHT_KILLS");
    const int kills = wanted == nullptr ? 12 : std::atoi(wanted);
    constexpr int kKillsOfFolder = 12;
    std::mt19937 random(static_cast<unsigned>(kills));
    std::size_t sent = 0, answered = 0, lost = 0, doubled = 0, trials = 0;
    long pace = 0;
    for (int done = 0; done < kills;) {
        const TempDir folder;
        for (int k = 0; k < kKillsOfFolder && done < kills; ++k, ++done) {
            const std::size_t before = sizeOf(folder.path() / "journal");
            const pid_t child = startChild(folder.path(), "crash child: serves two clients until it is killed");
            const auto start = std::chrono::steady_clock::now();
            const auto waitFor = [&](auto&& holds) {
                for (int wait = 0; !holds(); ++wait) {
                    REQUIRE(wait < 60'000);
                    std::this_thread::sleep_for(std::chrono::milliseconds(2));
                }
            };
            waitFor([&] { return sizeOf(folder.path() / "journal") != before; });
            // The first of a folder shows how long a few answers take on this machine today.
            if (k == 0) waitFor([&] { return answersIn(folder.path() / "journal") >= 4; });
            // On a busy machine it comes to its work later, and is longer at it.
            const auto slow =
                std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() - start);
            if (k == 0) pace = slow.count();
            const auto longest = static_cast<unsigned long>(std::max<long>({300, pace, slow.count()}));
            std::this_thread::sleep_for(std::chrono::milliseconds(random() % longest));
            REQUIRE(::kill(child, SIGKILL) == 0);
            int status = 0;
            REQUIRE(::waitpid(child, &status, 0) == child);
            REQUIRE(WIFSIGNALED(status));  // it did not end by itself
        }
        const pid_t last = startChild(folder.path(), "crash child: finishes what was accepted");
        int status = 0;
        REQUIRE(::waitpid(last, &status, 0) == last);
        REQUIRE(status == 0);
        std::multiset<std::string> found;
        for (const fs::directory_entry& entry : fs::directory_iterator(folder.path() / "jobs")) {
            if (!isJobFolder(entry.path())) continue;
            const JobRecord job = openJob(entry.path()).record;
            trials += job.trials.size();
            found.merge(requestsIn(job));
        }
        for (const Sent& one : readJournal(folder.path() / "journal")) {
            if (one.path.ends_with("/jobs")) continue;
            ++sent;
            answered += one.answered;
            lost += one.answered && !found.contains(one.id);
            doubled += found.count(one.id) > 1;
        }
    }
    if (wanted != nullptr)
        std::printf("%d kills: %zu sent, %zu answered, %zu trials read; %zu lost, %zu doubled\n", kills, sent, answered,
                    trials, lost, doubled);
    CHECK(4 * answered > static_cast<std::size_t>(kills));  // it was at work when it was killed
    CHECK(lost == 0);
    CHECK(doubled == 0);
}
