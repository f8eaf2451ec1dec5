// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The bench page's interface from the request on, and photos in pieces.
#include <unistd.h>

#include <filesystem>
#include <memory>

#include "fuzz/targets.h"
#include "server/service.h"
#include "server/uploads.h"
#include "shimsight/core.h"

namespace shimsight::fuzz {
namespace {

namespace fs = std::filesystem;

/// A folder of this process, gone when it ends.
class OwnFolder {
public:
    explicit OwnFolder(const char* name)
        : path_(fs::temp_directory_path() / (std::string(name) + "-" + std::to_string(::getpid()))) {
        fs::create_directories(path_);
    }
    ~OwnFolder() {
        std::error_code ignored;
        fs::remove_all(path_, ignored);
    }
    OwnFolder(const OwnFolder&) = delete;
    OwnFolder& operator=(const OwnFolder&) = delete;
    const fs::path& path() const { return path_; }

private:
    fs::path path_;
};

/// The text up to `end`, which is taken off with it.
std::string_view taken(std::string_view& rest, char end) {
    const std::size_t at = rest.find(end);
    const std::string_view first = rest.substr(0, at);
    rest = at == std::string_view::npos ? std::string_view{} : rest.substr(at + 1);
    return first;
}

std::map<std::string, std::string> queryOf(std::string_view text) {
    std::map<std::string, std::string> query;
    while (!text.empty()) {
        std::string_view pair = taken(text, '&');
        const std::string key(taken(pair, '='));
        query[key] = std::string(pair);
    }
    return query;
}

struct Bench {
    OwnFolder folder{"shimsight-fuzz-service"};
    std::unique_ptr<server::Service> service;
    Bench() {
        ServerOptions options;
        options.jobs = folder.path() / "jobs";
        options.scores = folder.path() / "scores";
        options.requestsPerSecond = options.requestBurst = 1e9;
        service = std::make_unique<server::Service>(options);
    }
};

}  // namespace

/// Requests one after another, each "METHOD path?query\nflags and id\nbody\0": flags 't' with the token, 'o' with a
/// foreign origin.
void service(Bytes bytes) {
    static Bench bench;
    std::string_view rest = textOf(bytes);
    for (int k = 0; k < 8 && !rest.empty(); ++k) {
        std::string_view request = taken(rest, '\0');
        server::HttpRequest ask;
        ask.method = std::string(taken(request, ' '));
        std::string_view address = taken(request, '\n');
        ask.path = std::string(taken(address, '?'));
        ask.query = queryOf(address);
        std::string_view flags = taken(request, '\n');
        ask.host = "127.0.0.1:8000";
        ask.client = "127.0.0.1";
        if (flags.find('o') != std::string_view::npos) ask.origin = "https://elsewhere.example";
        if (flags.find('t') != std::string_view::npos) ask.token = bench.service->token();
        ask.id = std::string(flags.substr(0, 64));
        ask.body = std::string(request);
        const server::HttpResponse answer = bench.service->answer(ask);
        promise(answer.status >= 200 && answer.status < 600, "an answer has a status");
        promise(answer.status != 500, "no request is a fault in the program");
    }
}

/// Pieces of one upload: for each two bytes of offset, two of size, one of length, then the piece.
void uploads(Bytes bytes) {
    static const OwnFolder folder("shimsight-fuzz-uploads");
    static server::Uploads uploads(folder.path(), 40'000, [](const std::string&) { return false; });
    const std::string id(32, 'a');
    uploads.remove(id);
    std::int64_t had = 0;
    while (bytes.size() >= 5) {
        const auto number = [&](std::size_t at) { return static_cast<std::int64_t>(bytes[at] << 8U | bytes[at + 1]); };
        const std::int64_t offset = number(0), size = number(2);
        const std::size_t length = std::min<std::size_t>(bytes[4], bytes.size() - 5);
        const std::string_view piece = textOf(bytes.subspan(5, length));
        bytes = bytes.subspan(5 + length);
        try {
            const server::UploadState state = uploads.add(id, offset, size, piece, "phone");
            promise(state.received <= state.size, "no more is received than there is");
            had = state.received;
        } catch (const server::UploadRefused& refused) {
            promise(refused.status >= 400 && refused.status < 600, "a refusal has a status");
        }
        if (const auto now = uploads.find(id)) promise(now->received <= now->size, "what is kept fits its size");
    }
    promise(had >= 0, "nothing is received twice");
}

}  // namespace shimsight::fuzz
