#include "server/requests.h"

#include <algorithm>
#include <chrono>
#include <nlohmann/json.hpp>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::chrono::hours kAnswersKept{24 * 31};
constexpr std::int64_t kMostBytes = 4'000'000;  ///< a body has a million at most
constexpr std::string_view kEnding = ".json";

std::optional<Request> readRequest(const fs::path& file) {
    try {
        const std::vector<std::uint8_t> bytes = readFile(file, kMostBytes);
        const json document = json::parse(bytes.begin(), bytes.end());
        Request request;
        request.id = document.at("id").get<std::string>();
        request.kind = document.at("kind").get<std::string>();
        request.job = document.at("job").get<std::string>();
        request.at = document.at("at").get<std::string>();
        request.body = document.at("body").get<std::string>();
        request.answer = document.at("answer").get<std::string>();
        return request;
    } catch (const InputError&) {
        return std::nullopt;
    } catch (const json::exception&) {
        return std::nullopt;
    }
}

}  // namespace

Requests::Requests(fs::path folder) : folder_(std::move(folder)) {
    std::error_code error;
    fs::create_directories(folder_, error);
    if (error) throw InputError(folder_.string() + ": the folder cannot be made (" + error.message() + ").");
    const auto now = fs::file_time_type::clock::now();
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        std::error_code ignored;
        if (now - entry.last_write_time(ignored) > kAnswersKept) fs::remove(entry.path(), ignored);
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
    const std::string text = json{{"id", request.id}, {"kind", request.kind}, {"job", request.job},
                                  {"at", request.at}, {"body", request.body}, {"answer", request.answer}}
                                 .dump();
    writeFileAtomically(fileOf(request.id), std::vector<std::uint8_t>(text.begin(), text.end()));
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
        if (request && request->answer.empty()) found.push_back(std::move(*request));
    }
    std::sort(found.begin(), found.end(),
              [](const Request& a, const Request& b) { return std::pair(a.at, a.id) < std::pair(b.at, b.id); });
    return found;
}

}  // namespace shimsight::server
