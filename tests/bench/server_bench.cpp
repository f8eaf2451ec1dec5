// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How much the bench page's server carries: light pages, readings against the same readings without it, and fifty
// phones at once of which none may lose anything.
//
// Usage: server_bench [PAGE_SECONDS] [READINGS] [PHONES]
#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "direct_readings.h"
#include "shimsight/server.h"
#include "support/temp_dir.h"

// After all others: the system's resolv.h behind it makes a macro of a name that Eigen uses.
#include <httplib.h>

namespace {

using Clock = std::chrono::steady_clock;
using nlohmann::json;

constexpr std::size_t kPiece = 262'144;
constexpr int kTrialsOfJob = 10;

double secondsSince(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

std::string newId() {
    static std::atomic<int> counter{0};
    const std::string digits = std::to_string(++counter);
    return std::string(32 - digits.size(), '0') + digits;
}

struct Phone {
    httplib::Client http;
    httplib::Headers token;
    Phone(int port, const std::string& secret) : http("127.0.0.1", port), token{{"X-Shimsight-Token", secret}} {
        http.set_keep_alive(true);
        http.set_read_timeout(60);
    }
    json post(const std::string& path, const json& body, const std::string& id, int& status, double& retryAfter) {
        httplib::Headers headers = token;
        headers.emplace("X-Shimsight-Request", id);
        const auto answer = http.Post(path.c_str(), headers, body.dump(), "application/json");
        status = answer ? answer->status : 0;
        retryAfter =
            answer && answer->has_header("Retry-After") ? std::stod(answer->get_header_value("Retry-After")) : 1;
        return answer ? json::parse(answer->body) : json();
    }
    std::string upload(const std::string& photo) {
        const std::string id = newId();
        for (std::size_t at = 0; at < photo.size();) {
            const std::string path =
                "/api/uploads/" + id + "?offset=" + std::to_string(at) + "&size=" + std::to_string(photo.size());
            const auto answer = http.Put(path.c_str(), token, photo.substr(at, kPiece), "application/octet-stream");
            if (answer && answer->status == 200) at = json::parse(answer->body).at("received").get<std::size_t>();
        }
        return id;
    }
    std::string newJob(const std::string& axle) {
        int status = 0;
        double wait = 0;
        return post("/api/jobs", {{"axle", axle}, {"gear_set", "1/lab-van-rear-axle-b.json"}}, newId(), status, wait)
            .at("job");
    }
};

/// What one phone saw: the wait that it was told when its trial was accepted, and the real one.
struct Seen {
    double told = 0, waited = 0;
    int busy = 0;
    bool done = false;
};

Seen readOnce(Phone& phone, const std::string& job, const std::vector<std::string>& photos) {
    Seen seen;
    json body = {{"photos", json::array()}, {"backlash_mm", 0.1778}};
    for (const std::string& photo : photos) body["photos"].push_back({{"upload", phone.upload(photo)}});
    const std::string id = newId();
    for (;;) {
        int status = 0;
        double retryAfter = 1;
        const json answer = phone.post("/api/jobs/" + job + "/trials", body, id, status, retryAfter);
        if (status == 202) {
            seen.told = answer.at("wait_s");
            break;
        }
        if (status != 503 && status != 0) {
            std::printf("refused with %d: %s\n", status, answer.dump().c_str());
            return seen;
        }
        ++seen.busy;
        std::this_thread::sleep_for(std::chrono::duration<double>(retryAfter));
    }
    const auto start = Clock::now();
    for (;;) {
        const auto answer = phone.http.Get(("/api/tasks/" + id).c_str(), phone.token);
        if (answer && answer->status == 200) {
            const std::string state = json::parse(answer->body).at("state");
            if (state == "done" || state == "failed") {
                seen.done = state == "done";
                break;
            }
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(100));
    }
    seen.waited = secondsSince(start);
    return seen;
}

void lightPages(int port, const std::string& token, const std::string& job, double seconds) {
    for (const std::string& path : {std::string("/"), std::string("/api/jobs"), "/api/jobs/" + job}) {
        std::atomic<int> good{0}, bad{0};
        std::vector<std::thread> threads;
        const auto start = Clock::now();
        for (int i = 0; i < 4; ++i)
            threads.emplace_back([&] {
                Phone phone(port, token);
                while (secondsSince(start) < seconds) {
                    const auto answer = phone.http.Get(path.c_str(), phone.token);
                    ++(answer && answer->status == 200 ? good : bad);
                }
            });
        for (std::thread& thread : threads) thread.join();
        std::printf("light page %-12s %8.0f a second, 4 clients, %d not answered\n",
                    path.size() > 12 ? "one job" : path.c_str(), good / secondsSince(start), bad.load());
    }
}

}  // namespace

int main(int argc, char** argv) {
    const double pageSeconds = argc > 1 ? std::atof(argv[1]) : 4;
    const int readings = argc > 2 ? std::atoi(argv[2]) : 10, phones = argc > 3 ? std::atoi(argv[3]) : 50;
    const std::filesystem::path root = SHIMSIGHT_SOURCE_DIR;
    // Each line as it is known, also into a file.
    std::setvbuf(stdout, nullptr, _IOLBF, 0);
    const std::vector<std::string> photos = shimsight::bench::samplePhotos(root);
    const shimsight::test::TempDir folder;
    shimsight::ServerOptions options;
    options.jobs = folder.path() / "jobs";
    options.gearSets = {root / "models/gear-sets"};
    // All phones of this benchmark have one address.
    options.requestsPerSecond = options.requestBurst = 1e6;
    shimsight::Server server(options);
    std::thread thread([&] { server.run(); });
    Phone phone(server.port(), server.token());
    const std::string first = phone.newJob("first");
    (void)readOnce(phone, first, photos);
    lightPages(server.port(), server.token(), first, pageSeconds);

    const double direct = shimsight::bench::directReadings(root, readings, folder.path() / "direct");
    const std::string job = phone.newJob("readings");
    auto start = Clock::now();
    std::vector<std::thread> two;
    std::atomic<int> left{readings};
    for (int i = 0; i < 2; ++i)
        two.emplace_back([&] {
            Phone mine(server.port(), server.token());
            while (left-- > 0) (void)readOnce(mine, job, photos);
        });
    for (std::thread& one : two) one.join();
    std::printf("trials of two photos a second: %.2f by the server (two phones), %.2f without it\n",
                readings / secondsSince(start), readings / direct);

    std::vector<std::string> jobs;
    for (int i = 0; i * kTrialsOfJob < phones; ++i) jobs.push_back(phone.newJob("many " + std::to_string(i)));
    std::vector<Seen> seen(static_cast<std::size_t>(phones));
    std::vector<std::thread> many;
    start = Clock::now();
    for (int i = 0; i < phones; ++i)
        many.emplace_back([&, i] {
            Phone mine(server.port(), server.token());
            seen[static_cast<std::size_t>(i)] =
                readOnce(mine, jobs[static_cast<std::size_t>(i / kTrialsOfJob)], photos);
        });
    for (std::thread& one : many) one.join();
    const double all = secondsSince(start);
    int done = 0, busy = 0, late = 0;
    double longest = 0, worst = 0;
    for (const Seen& one : seen) {
        done += one.done;
        busy += one.busy;
        longest = std::max(longest, one.waited);
        worst = std::max(worst, one.waited / one.told);
        late += one.waited > one.told;
    }
    int kept = 0;
    for (const std::string& one : jobs) {
        const auto answer = phone.http.Get(("/api/jobs/" + one).c_str(), phone.token);
        kept += static_cast<int>(json::parse(answer->body).at("record").at("trials").size());
    }
    std::printf("%d phones at once: %d read, %d in the records, %d times told to come again, %.1f s in all\n", phones,
                done, kept, busy, all);
    std::printf("longest wait after acceptance %.1f s; longest wait over the one told %.2f; later than told: %d\n",
                longest, worst, late);
    server.stop();
    thread.join();
    return done == phones && kept == phones ? 0 : 1;
}
