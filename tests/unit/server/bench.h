// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A service with a folder of its own, asked as a phone asks it.
#pragma once

#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "request_ids.h"
#include "server/service.h"
#include "shimsight/files.h"
#include "shimsight/flank_map.h"
#include "support/temp_dir.h"

namespace shimsight::test {

namespace fs = std::filesystem;
using nlohmann::json;
using server::HttpRequest;
using server::HttpResponse;
using server::Service;

inline std::string base64(const std::vector<std::uint8_t>& bytes) {
    static const std::string kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        unsigned bits = 0;
        for (std::size_t k = 0; k < 3; ++k) bits = (bits << 8U) | (i + k < bytes.size() ? bytes[i + k] : 0U);
        for (std::size_t k = 0; k < 4; ++k)
            text += i + k < bytes.size() + 1 ? kDigits[(bits >> (18U - 6U * static_cast<unsigned>(k))) & 63U] : '=';
    }
    return text;
}

/// An ellipse of contact about the middle (u, v), drawn as a person would.
inline std::string drawnMap(double u, double v) {
    FlankMap map;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double a = ((x + 0.5) / kMapWidth - u) / 0.28, b = (1 - (y + 0.5) / kMapHeight - v) / 0.28;
            if (a * a + b * b < 1) map.at(x, y) = 255;
        }
    return base64(map.contact);
}

inline std::string sample(const std::string& name) {
    const std::vector<std::uint8_t> bytes = readFile(fs::path(SHIMSIGHT_SOURCE_DIR) / "samples" / name, 10'000'000);
    return {bytes.begin(), bytes.end()};
}

struct ServerBench {
    std::unique_ptr<TempDir> own = std::make_unique<TempDir>();
    ServerOptions options;
    std::unique_ptr<Service> service;

    explicit ServerBench(double requestsPerSecond = 100'000, std::size_t queue = 24)
        : ServerBench(fs::path(), requestsPerSecond, queue) {}
    /// In a folder that stays; empty: in one of its own.
    explicit ServerBench(const fs::path& folder, double requestsPerSecond = 100'000, std::size_t queue = 24) {
        options.jobs = (folder.empty() ? own->path() : folder) / "jobs";
        options.gearSets = {fs::path(SHIMSIGHT_SOURCE_DIR) / "models/gear-sets"};
        options.requestsPerSecond = requestsPerSecond;
        options.requestBurst = requestsPerSecond;
        options.queue = queue;
        options.workers = 1;
        service = std::make_unique<Service>(options);
    }

    HttpRequest ask(const std::string& method, const std::string& path, const std::string& body = "",
                    int id = 0) const {
        return pairedAsk(*service, method, path, body, id);
    }
    HttpResponse get(const std::string& path) { return service->answer(ask("GET", path)); }
    HttpResponse post(const std::string& path, const json& body, int id) {
        return service->answer(ask("POST", path, body.dump(), id));
    }
    HttpResponse put(const std::string& id, std::int64_t offset, std::int64_t size, const std::string& piece) {
        HttpRequest one = ask("PUT", "/api/uploads/" + id, piece);
        one.query = {{"offset", std::to_string(offset)}, {"size", std::to_string(size)}};
        return service->answer(one);
    }
    std::string gearSet(const std::string& part) {
        const json list = json::parse(get("/api/gear-sets").body);
        for (const json& set : list.at("gear_sets"))
            if (set.at("id").get<std::string>().find(part) != std::string::npos) return set.at("id").get<std::string>();
        return {};
    }
    json jobBody() { return {{"axle", "Van 7, rear"}, {"by", "Kim"}, {"gear_set", gearSet("lab-van-rear-axle-a")}}; }
    std::string newJob(int id = 1) {
        const HttpResponse answer = post("/api/jobs", jobBody(), id);
        REQUIRE(answer.status == 200);
        return json::parse(answer.body).at("job").get<std::string>();
    }
    json view(const std::string& job) { return json::parse(get("/api/jobs/" + job).body); }
    json finished(int id) {
        for (int i = 0; i < 15000; ++i) {
            const HttpResponse answer = get("/api/tasks/" + idOf(id));
            REQUIRE(answer.status == 200);
            json task = json::parse(answer.body);
            if (task.at("state") == "done" || task.at("state") == "failed") return task;
            std::this_thread::sleep_for(std::chrono::milliseconds(20));
        }
        FAIL("the task did not end within five minutes");
        return nullptr;
    }
    /// Leaves the request as a crash between the record and the answer does: done, and still open on the disk.
    void leaveOpen(int id, const json& body) const {
        const fs::path file = options.jobs / ".shimsight-server/requests" / (idOf(id) + ".json");
        json request = json::parse(std::ifstream(file));
        request["answer"] = "";
        request["body"] = body.dump();
        std::ofstream(file) << request.dump();
    }
    /// The program ends and begins anew.
    void restart() {
        service.reset();
        service = std::make_unique<Service>(options);
    }
};

inline std::string errorOf(const HttpResponse& answer) {
    return json::parse(answer.body).at("error").get<std::string>();
}

inline json drawnTrial(double u, double v) {
    return {{"by", "Kim"},
            {"backlash_mm", 0.2},
            {"shim_stack_mm", 1.0},
            {"drawn", {{"drive", drawnMap(u, v)}, {"coast", drawnMap(u, v)}}}};
}

}  // namespace shimsight::test
