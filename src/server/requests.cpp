// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/requests.h"

#include <algorithm>
#include <chrono>
#include <nlohmann/json.hpp>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::chrono::hours kAnswersKept{24 * 31};
constexpr std::int64_t kMaxBytes = 4'000'000;  ///< a body has a million at most
constexpr std::string_view kEnding = ".json";

std::optional<Request> readRequest(const fs::path& file) {
    try {
        const std::vector<std::uint8_t> bytes = readFile(file, kMaxBytes);
        const json document = json::parse(bytes.begin(), bytes.end());
        Request request;
        request.id = document.at("id").get<std::string>();
        request.kind = document.at("kind").get<std::string>();
        request.job = document.at("job").get<std::string>();
        request.at = document.at("at").get<std::string>();
        request.body = document.at("body").get<std::string>();
        request.answer = document.at("answer").get<std::string>();
        request.bodyHash = document.value("body_sha256", "");
        if (request.bodyHash.empty()) request.bodyHash = sha256Of(request.body);
        return request;
    } catch (const InputError&) {
        return std::nullopt;
    } catch (const json::exception&) {
        return std::nullopt;
    }
}

}  // namespace

bool isRead(std::string_view kind) { return kind == kTrialKind || kind == kBeforeKind || kind == kCorrectKind; }

Request newRequest(std::string id, std::string kind, std::string job, std::string at, std::string body) {
    Request request;
    request.id = std::move(id);
    request.kind = std::move(kind);
    request.job = std::move(job);
    request.at = std::move(at);
    request.body = std::move(body);
    request.bodyHash = sha256Of(request.body);
    return request;
}

Requests::Requests(fs::path folder) : folder_(std::move(folder)) {
    std::error_code error;
    fs::create_directories(folder_, error);
    if (error) throw InputError(message("server.folder-not-made", folder_.string(), error.message()));
}

void Requests::sweep(fs::file_time_type now) {
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        std::error_code ignored;
        if (now - entry.last_write_time(ignored) <= kAnswersKept) continue;
        const std::optional<Request> request = readRequest(entry.path());
        if (!request || !request->answer.empty() || !isRead(request->kind)) fs::remove(entry.path(), ignored);
    }
}

fs::path Requests::fileOf(std::string_view id) const {
    check(isId(id), "a request by an id that is none");
    return folder_ / (std::string(id) + std::string(kEnding));
}

std::optional<Request> Requests::find(std::string_view id) const {
    std::error_code error;
    const fs::path file = fileOf(id);
    return fs::exists(file, error) ? readRequest(file) : std::nullopt;
}

void Requests::write(const Request& request) {
    const std::string text = json{
        {"id", request.id},
        {"kind", request.kind},
        {"job", request.job},
        {"at", request.at},
        {"body", request.body},
        {"answer", request.answer},
        {"body_sha256",
         request.bodyHash}}.dump();
    writeFileAtomically(fileOf(request.id), std::vector<std::uint8_t>(text.begin(), text.end()));
}

void Requests::finish(Request request, std::string answer) {
    request.body.clear();
    request.answer = std::move(answer);
    write(request);
}

void Requests::forget(std::string_view id) {
    std::error_code error;
    fs::remove(fileOf(id), error);
}

std::vector<Request> Requests::open() const {
    std::vector<Request> found;
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        if (entry.path().extension() != kEnding || !isId(entry.path().stem().string())) continue;
        std::optional<Request> request = readRequest(entry.path());
        if (request && request->answer.empty() && isRead(request->kind)) found.push_back(std::move(*request));
    }
    std::sort(found.begin(), found.end(),
              [](const Request& a, const Request& b) { return std::pair(a.at, a.id) < std::pair(b.at, b.id); });
    return found;
}

}  // namespace shimsight::server
