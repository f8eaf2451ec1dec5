// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/service.h"

#include <algorithm>
#include <charconv>
#include <condition_variable>
#include <cstdio>
#include <exception>
#include <functional>
#include <iterator>
#include <mutex>
#include <new>
#include <nlohmann/json.hpp>
#include <set>
#include <thread>

#include "server/changes.h"
#include "server/devices.h"
#include "server/documents.h"
#include "server/guard.h"
#include "server/job_repository.h"
#include "server/json_text.h"
#include "server/links.h"
#include "server/looked.h"
#include "server/page_files.h"
#include "server/requests.h"
#include "server/routes.h"
#include "server/space.h"
#include "server/training.h"
#include "server/trial_worker.h"
#include "server/uploads.h"
#include "server/work_queue.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/lesson_parts.h"
#include "shimsight/photo.h"
#include "shimsight/version.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

/// Wrong tokens of one address: ten at once, then one in six seconds. A token has 128 bits.
constexpr double kWrongTokensPerSecond = 1.0 / 6, kWrongTokensAtOnce = 10;
constexpr std::chrono::minutes kDocumentKept{15};
constexpr std::size_t kMaxDocuments = 12;
/// First looks at photos that may wait: an answer that comes late is of no use.
constexpr std::size_t kMaxLooks = 12;

int workersOf(const ServerOptions& options) {
    if (options.workers > 0) return options.workers;
    // A reading of two photos uses two processors by itself.
    return std::max(1, static_cast<int>(std::thread::hardware_concurrency() / 2));
}

bool isApi(const HttpRequest& ask) {
    const std::vector<std::string> parts = partsOf(ask.path);
    return !parts.empty() && parts[0] == "api";
}

template <typename T>
std::optional<T> numberOf(const std::string& text) {
    T value{};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
    return value;
}

/// Whether the browser that asks runs on this computer: it came from the address that it came to.
bool isOwnComputer(const HttpRequest& ask) { return !ask.client.empty() && ask.client == ask.reached; }

JobSearch searchOf(const HttpRequest& ask) {
    const auto word = [&](const char* key) {
        const auto found = ask.query.find(key);
        return found == ask.query.end() ? std::string() : found->second;
    };
    JobSearch search;
    search.words = word("search");
    if (const std::string state = word("state"); state == "open" || state == "signed-off")
        search.signedOff = state == "signed-off";
    search.from = word("from");
    search.to = word("to");
    search.skip = numberOf<std::size_t>(word("skip")).value_or(0);
    search.limit = numberOf<std::size_t>(word("limit"));
    return search;
}

const HttpResponse& noSuchJob() {
    static const HttpResponse kNothing = refusal(404, say("server.no-such-job"));
    return kNothing;
}

}  // namespace

const std::vector<std::pair<std::string, std::string>>& safeHeaders() {
    static const std::vector<std::pair<std::string, std::string>> kHeaders{
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
         "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"X-Frame-Options", "DENY"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cache-Control", "no-store"}};
    return kHeaders;
}

HttpResponse jsonAnswer(std::string text, int status) { return {status, "application/json", std::move(text), {}}; }

HttpResponse jsonAnswer(const json& document, int status) { return jsonAnswer(jsonText(document), status); }

HttpResponse refusal(int status, const std::string& sentence) { return jsonAnswer(json{{"error", sentence}}, status); }

struct Service::State {
    struct Document {
        MadeDocument made;
        RateLimit::Clock::time_point until;
    };
    explicit State(const ServerOptions& options);
    std::optional<HttpResponse> admit(const HttpRequest& ask);
    HttpResponse handle(const HttpRequest& ask);
    std::optional<HttpResponse> refusedApi(const HttpRequest& ask);
    std::optional<HttpResponse> refusedPhoto(const HttpRequest& ask) const;
    void changed(const fs::path& folder);
    Routes routes();
    std::vector<Route> jobRoutes();
    HttpResponse about() const;
    HttpResponse jobView(const HttpRequest& ask, const std::string& job);
    HttpResponse uploadState(const std::string& id);
    HttpResponse takeUpload(const HttpRequest& ask, const std::string& id);
    HttpResponse dropUpload(const std::string& id);
    HttpResponse look(const HttpRequest& ask, const std::string& upload);
    HttpResponse pair(const HttpRequest& ask);
    HttpResponse deviceList(const HttpRequest& ask);
    std::vector<Route> deviceRoutes();
    static HttpResponse photo(const fs::path& folder, const std::string& trial, const std::string& number);
    static HttpResponse script(const HttpRequest& ask, const std::string& name);
    HttpResponse drillAnswer(const HttpRequest& ask);
    HttpResponse task(const std::string& id);
    HttpResponse change(const HttpRequest& ask, const std::string& kind, const std::string& job);
    HttpResponse acceptTrial(const Request& request, const fs::path& folder);
    std::string carryOut(const Request& request, bool again);
    std::vector<std::string> beginTrial(const Request& request);
    void endTrial(const Request& request);
    std::string lookUnlessRead(const Request& request, const std::string& upload);
    void waitForLooks(const Request& request);
    void sweepNowAndThen();
    HttpResponse makeDocument(const HttpRequest& ask, const fs::path& folder, const std::string& kind);
    HttpResponse document(const std::string& ticket);
    std::vector<Route> linkRoutes();
    void enqueue(const Request& request, const fs::path& folder, bool placeKept);
    std::string doApart(const Request& request);
    std::string sentence() const;  ///< of the exception in hand

    fs::path jobs_, worker_, scores_;
    std::vector<fs::path> gearSets_;
    Settings settings_;
    bool encrypted_;
    SoleUse soleUse_;
    Devices devices_;
    RateLimit limit_, wrongTokens_;
    JobRepository repository_;
    std::mutex guard_;
    std::map<std::string, std::vector<std::string>> open_;  ///< by job and kind: trials accepted and not read yet
    std::multiset<std::string> needed_;                     ///< uploads that they name
    RateLimit::Clock::time_point swept_;
    Space space_;
    Uploads uploads_;
    Requests requests_;
    std::condition_variable changed_;
    std::set<std::string> busy_;           ///< ids of changes in work
    std::multiset<std::string> lookedAt_;  ///< uploads that a first look is measuring
    std::map<std::string, Document> documents_;
    Training training_;
    Links links_;
    Routes routes_;
    WorkQueue lookQueue_, trialQueue_;  ///< last: their threads use all of the above
};

Service::Service(const ServerOptions& options) {
    if (options.exam && options.scores.empty()) throw InputError(message("server.exam-without-scores"));
    state_ = std::make_unique<State>(options);
}
Service::~Service() = default;
std::optional<HttpResponse> Service::admit(const HttpRequest& ask) { return state_->admit(ask); }
HttpResponse Service::handle(const HttpRequest& ask) { return state_->handle(ask); }
HttpResponse Service::answer(const HttpRequest& ask) {
    std::optional<HttpResponse> refused = admit(ask);
    return refused ? std::move(*refused) : handle(ask);
}
std::string Service::token() const { return state_->devices_.code(); }
void Service::finish(std::chrono::seconds patience) {
    state_->lookQueue_.finish(std::chrono::steady_clock::now());
    state_->trialQueue_.finish(std::chrono::steady_clock::now() + patience);
    state_->training_.finish();
}

Service::State::State(const ServerOptions& options)
    : jobs_(fs::absolute(options.jobs)),
      worker_(options.worker),
      scores_(options.scores),
      gearSets_(options.gearSets),
      settings_(options.settings),
      encrypted_(options.encryption != Encryption::None),
      soleUse_(jobs_ / kOwnFolder),
      devices_(jobs_ / kOwnFolder),
      limit_(options.requestsPerSecond, options.requestBurst),
      wrongTokens_(kWrongTokensPerSecond, kWrongTokensAtOnce),
      repository_(jobs_, options.gearSets, jobs_ / kOwnFolder),
      space_(jobs_, options.space,
             [this] {
                 std::error_code untold;
                 return fs::space(jobs_, untold);
             }),
      uploads_(jobs_ / kOwnFolder / "uploads", options.mostUploadBytes,
               [this](const std::string& id) {
                   const std::lock_guard lock(guard_);
                   return needed_.contains(id);
               }),
      requests_(jobs_ / kOwnFolder / "requests"),
      training_(
          options, repository_, [this] { return sentence(); },
          // Who comes by the code itself sits at this computer; it is another one in each run.
          [this](const HttpRequest& ask) { return devices_.isCode(ask.token) ? "code" : sha256Of(ask.token); }),
      links_(jobs_ / kOwnFolder / "links"),
      routes_(routes()),
      lookQueue_(1, kMaxLooks, [this] { return sentence(); }),
      trialQueue_(workersOf(options), options.queue, [this] { return sentence(); }) {
    removeHalves(jobs_, scores_, timeOfDisk(jobs_ / kOwnFolder), At::Start);
    // What a former run had accepted is read now.
    for (const Request& request : requests_.open()) {
        (void)beginTrial(request);
        try {
            if (const std::optional<fs::path> folder = repository_.find(request.job)) enqueue(request, *folder, false);
        } catch (const InputError&) {
            requests_.finish(request, jsonText(json{{"error", sentence()}}));
            endTrial(request);
        }
    }
    sweepNowAndThen();
}

/// What nobody needs any more is taken away at the start, and while the program runs every ten minutes.
void Service::State::sweepNowAndThen() {
    constexpr std::chrono::minutes kPause{10};
    {
        const std::lock_guard lock(guard_);
        const auto now = RateLimit::Clock::now();
        if (swept_ != RateLimit::Clock::time_point() && now - swept_ < kPause) return;
        swept_ = now;
    }
    const fs::file_time_type disk = timeOfDisk(jobs_ / kOwnFolder);
    uploads_.sweep(disk);
    requests_.sweep(disk);
    removeHalves(jobs_, scores_, disk);
}

std::string Service::State::sentence() const {
    try {
        throw;
    } catch (const InputError& error) {
        return withoutFolders(error.what(), jobs_);
    } catch (const std::bad_alloc&) {
        return say("server.not-enough-memory");
    } catch (const std::exception& error) {
        std::fprintf(stderr, "%s\n", say("server.fault-in-the-log", error.what()).c_str());
        return say("server.fault-of-program");
    }
}

namespace {

/// The page's frame and the script that watches it open: to send them costs no more than to refuse them, and they say
/// in words what is refused of the page.
bool saysWhatIsRefused(const HttpRequest& ask) {
    return ask.method == "GET" && (ask.path == "/" || ask.path == "/opening.js");
}

}  // namespace

std::optional<HttpResponse> Service::State::admit(const HttpRequest& ask) {
    if (!limit_.take(ask.client, RateLimit::Clock::now()) && !saysWhatIsRefused(ask)) {
        HttpResponse slow = refusal(429, say("server.too-many-requests"));
        slow.headers.emplace_back("Retry-After", "2");
        return slow;
    }
    if (!isOwnHost(ask.host)) return refusal(421, say("server.wrong-host"));
    if (isApi(ask)) return refusedApi(ask);
    if (ask.method != "GET") return refusal(405, say("server.only-read"));
    return std::nullopt;
}

/// Of the programming interface: who is not paired, and what comes from other pages.
std::optional<HttpResponse> Service::State::refusedApi(const HttpRequest& ask) {
    if (!devices_.knows(ask.token)) {
        if (!wrongTokens_.take(ask.client, RateLimit::Clock::now()))
            return refusal(429, say("server.too-many-wrong-codes"));
        return refusal(401, say("server.not-paired"));
    }
    if (ask.method != "GET" && !isOwnOrigin(ask.origin, ask.host, encrypted_))
        return refusal(403, say("server.from-another-page"));
    return refusedPhoto(ask);
}

namespace {

std::optional<std::int64_t> numberAsked(const HttpRequest& ask, const char* key) {
    const auto found = ask.query.find(key);
    return found == ask.query.end() ? std::nullopt : numberOf<std::int64_t>(found->second);
}

}  // namespace

/// The first piece of a photo for which there is no room.
std::optional<HttpResponse> Service::State::refusedPhoto(const HttpRequest& ask) const {
    const std::vector<std::string> parts = partsOf(ask.path);
    const bool isPiece = ask.method == "PUT" && parts.size() == 3 && parts[1] == "uploads" && isId(parts[2]);
    const std::optional<std::int64_t> size = numberAsked(ask, "size");
    if (!isPiece || !size || *size < 1 || *size > uploads_.mostBytes() || numberAsked(ask, "offset") != 0 ||
        uploads_.find(parts[2]))
        return std::nullopt;
    const std::optional<std::string> why = space_.refusal(*size, uploads_.held());
    return why ? std::optional(refusal(507, *why)) : std::nullopt;
}

void Service::State::changed(const fs::path& folder) {
    repository_.changed(folder);
    space_.changed(folder);
}

HttpResponse Service::State::handle(const HttpRequest& ask) {
    try {
        return routes_.answer(ask);
    } catch (const JobConflict& error) {
        return refusal(409, withoutFolders(error.what(), jobs_));
    } catch (const InputError&) {
        return refusal(400, sentence());
    } catch (...) {
        return refusal(500, sentence());
    }
}

Routes Service::State::routes() {
    using Path = PathValues;
    std::vector<Route> table{
        {"GET", "/documents/{ticket}",
         [this](const HttpRequest&, const Path& path) { return document(path["ticket"]); }},
        {"GET", "/lesson/{name}", [](const HttpRequest& ask, const Path& path) { return script(ask, path["name"]); }},
        {"GET", "/api/about", [this](const HttpRequest&, const Path&) { return about(); }},
        {"GET", "/api/openapi.json",
         [](const HttpRequest&, const Path&) { return jsonAnswer(std::string(openApi())); }},
        {"GET", "/api/gear-sets",
         [this](const HttpRequest&, const Path&) { return jsonAnswer(repository_.gearSetList()); }},
        {"GET", "/api/uploads/{id}", [this](const HttpRequest&, const Path& path) { return uploadState(path["id"]); }},
        {"PUT", "/api/uploads/{id}",
         [this](const HttpRequest& ask, const Path& path) { return takeUpload(ask, path["id"]); }},
        {"POST", "/api/uploads/{id}/look",
         [this](const HttpRequest& ask, const Path& path) { return look(ask, path["id"]); }},
        {"POST", "/api/gear-sets",
         [this](const HttpRequest& ask, const Path&) { return change(ask, std::string(kGearSetKind), ""); }},
        {"DELETE", "/api/uploads/{id}",
         [this](const HttpRequest&, const Path& path) { return dropUpload(path["id"]); }},
        {"GET", "/api/tasks/{id}", [this](const HttpRequest&, const Path& path) { return task(path["id"]); }},
        {"POST", "/api/training/answers", [this](const HttpRequest& ask, const Path&) { return drillAnswer(ask); }},
        {"GET", "/api/jobs",
         [this](const HttpRequest& ask, const Path&) { return jsonAnswer(repository_.list(searchOf(ask))); }},
        {"POST", "/api/jobs",
         [this](const HttpRequest& ask, const Path&) { return change(ask, std::string(kJobKind), ""); }}};
    for (std::vector<Route> more : {linkRoutes(), jobRoutes(), deviceRoutes(), training_.routes()})
        std::move(more.begin(), more.end(), std::back_inserter(table));
    table.push_back({"", "/api/*", [](const HttpRequest&, const Path&) { return nothingThere(); }});
    table.push_back({"GET", "/*", [](const HttpRequest& ask, const Path&) {
                         const std::optional<PageFile> file = pageFile(ask.path);
                         return file ? HttpResponse{200, std::string(file->type), "", {}, file->text} : nothingThere();
                     }});
    return Routes(std::move(table));
}

/// All of them for jobs that are there.
std::vector<Route> Service::State::jobRoutes() {
    using Handler = std::function<HttpResponse(const HttpRequest&, const PathValues&, const fs::path& folder)>;
    const auto route = [this](const char* method, const char* pattern, Handler handler) {
        return Route{method, pattern,
                     [this, handler = std::move(handler)](const HttpRequest& ask, const PathValues& path) {
                         const std::optional<fs::path> folder = repository_.find(path["job"]);
                         return folder ? handler(ask, path, *folder) : noSuchJob();
                     }};
    };
    return {route("GET", "/api/jobs/{job}",
                  [this](const HttpRequest& ask, const PathValues& path, const fs::path&) {
                      return jobView(ask, path["job"]);
                  }),
            route("GET", "/api/jobs/{job}/trials/{trial}/photos/{number}",
                  [](const HttpRequest&, const PathValues& path, const fs::path& folder) {
                      return photo(folder, path["trial"], path["number"]);
                  }),
            route("POST", "/api/jobs/{job}/trials",
                  [this](const HttpRequest& ask, const PathValues& path, const fs::path&) {
                      return change(ask, std::string(kTrialKind), path["job"]);
                  }),
            route("POST", "/api/jobs/{job}/before",
                  [this](const HttpRequest& ask, const PathValues& path, const fs::path&) {
                      return change(ask, std::string(kBeforeKind), path["job"]);
                  }),
            route("POST", "/api/jobs/{job}/correct",
                  [this](const HttpRequest& ask, const PathValues& path, const fs::path&) {
                      return change(ask, std::string(kCorrectKind), path["job"]);
                  }),
            route("POST", "/api/jobs/{job}/documents/{kind}",
                  [this](const HttpRequest& ask, const PathValues& path, const fs::path& folder) {
                      return makeDocument(ask, folder, path["kind"]);
                  }),
            route("POST", "/api/jobs/{job}/entries/{kind}",
                  [this](const HttpRequest& ask, const PathValues& path, const fs::path&) {
                      return isEntryKind(path["kind"]) ? change(ask, path["kind"], path["job"]) : nothingThere();
                  }),
            route("", "/api/jobs/{job}/*",
                  [](const HttpRequest&, const PathValues&, const fs::path&) { return nothingThere(); })};
}

HttpResponse Service::State::about() const {
    return jsonAnswer(json{{"version", SHIMSIGHT_VERSION},
                           {"piece_bytes", kPieceBytes},
                           {"documents", documentKinds()},
                           {"units", name(settings_.units)},
                           {"by", settings_.by}});
}

HttpResponse Service::State::jobView(const HttpRequest& ask, const std::string& job) {
    const std::optional<View> view = repository_.view(job);
    if (!view) return noSuchJob();
    const std::string tag = "\"" + view->tag + "\"";
    HttpResponse answer =
        ask.ifNoneMatch == tag ? HttpResponse{304, "application/json", "", {}} : jsonAnswer(view->text);
    answer.headers.emplace_back("ETag", tag);
    return answer;
}

namespace {

std::optional<HttpResponse> refusedUploadId(const std::string& id) {
    if (isId(id)) return std::nullopt;
    return refusal(400, say("server.upload-id-wrong"));
}

HttpResponse stateAnswer(const UploadState& state) {
    return jsonAnswer(json{{"received", state.received}, {"size", state.size}, {"whole", state.whole()}});
}

}  // namespace

HttpResponse Service::State::uploadState(const std::string& id) {
    if (std::optional<HttpResponse> refused = refusedUploadId(id)) return *refused;
    const std::optional<UploadState> state = uploads_.find(id);
    // Of what never came nothing is there, so it is not whole either.
    return state ? stateAnswer(*state) : jsonAnswer(json{{"received", 0}, {"size", 0}, {"whole", false}});
}

HttpResponse Service::State::dropUpload(const std::string& id) {
    if (std::optional<HttpResponse> refused = refusedUploadId(id)) return *refused;
    uploads_.remove(id);
    return jsonAnswer(json::object());
}

HttpResponse Service::State::takeUpload(const HttpRequest& ask, const std::string& id) {
    if (std::optional<HttpResponse> refused = refusedUploadId(id)) return *refused;
    const std::optional<std::int64_t> offset = numberAsked(ask, "offset"), size = numberAsked(ask, "size");
    if (!offset || !size) return refusal(400, say("server.piece-without-place"));
    try {
        sweepNowAndThen();
        return stateAnswer(uploads_.add(id, *offset, *size, ask.body, ask.client));
    } catch (const UploadRefused& refused) {
        return refusal(refused.status, refused.sentence);
    } catch (const InputError&) {
        return refusal(507, sentence());
    }
}

/// A first look, which is of use at once or not at all: it waits in no long queue and is not taken up by the next run.
HttpResponse Service::State::look(const HttpRequest& ask, const std::string& upload) {
    if (std::optional<HttpResponse> refused = refusedUploadId(upload)) return *refused;
    if (!isId(ask.id)) return refusal(400, say("server.change-without-id"));
    checkIsObject(ask.body);
    const json body = json::parse(ask.body);
    const auto word = [&](const char* key) {
        return body.contains(key) && body.at(key).is_string() ? body.at(key).get<std::string>() : std::string();
    };
    const std::optional<fs::path> folder = repository_.find(word("job"));
    if (!folder) return noSuchJob();
    const std::optional<UploadState> state = uploads_.find(upload);
    if (!state || !state->whole()) return refusal(409, say("server.photo-not-whole"));
    const Request request = newRequest(ask.id, std::string(kLookKind), folder->filename().string(), timeNow(),
                                       json{{"upload", upload}, {"side", word("side")}}.dump());
    const bool taken = lookQueue_.add(ask.id, [this, request, upload] { return lookUnlessRead(request, upload); });
    if (!taken) return refusal(503, say("server.too-much-waits"));
    return jsonAnswer(json{{"task", ask.id}, {"wait_s", lookQueue_.waitSeconds()}}.dump(), 202);
}

/// A photo is measured once: a trial that names it measures it without a look, or waits for one that has begun.
std::string Service::State::lookUnlessRead(const Request& request, const std::string& upload) {
    {
        const std::lock_guard lock(guard_);
        if (needed_.contains(upload)) throw InputError(message("server.look-too-late"));
        lookedAt_.insert(upload);
    }
    struct End {
        State& state;
        const std::string& upload;
        ~End() {
            const std::lock_guard lock(state.guard_);
            state.lookedAt_.erase(state.lookedAt_.find(upload));
            state.changed_.notify_all();
        }
    } const end{*this, upload};
    return doApart(request);
}

/// A look takes no longer than the trial would with the same photo, and has a part of it behind it.
void Service::State::waitForLooks(const Request& request) {
    const std::vector<std::string> uploads = uploadsNamedBy(request);
    std::unique_lock lock(guard_);
    changed_.wait(lock, [&] {
        return std::none_of(uploads.begin(), uploads.end(), [&](const auto& id) { return lookedAt_.contains(id); });
    });
}

// Paired devices -----------------------------------------------------------------------------------------------------

HttpResponse Service::State::pair(const HttpRequest& ask) {
    // Who has a key already needs no other; who was sent away has to scan the code.
    if (!devices_.isCode(ask.token)) return refusal(403, say("server.pair-by-the-code"));
    checkIsObject(ask.body);
    const json body = json::parse(ask.body);
    const std::string name =
        body.contains("name") && body.at("name").is_string() ? body.at("name").get<std::string>() : "";
    return jsonAnswer(json{{"key", devices_.add(name)}});
}

HttpResponse Service::State::deviceList(const HttpRequest& ask) {
    json list = json::array();
    for (const PairedDevice& one : devices_.list())
        list.push_back({{"id", one.id}, {"name", one.name}, {"paired_at", one.pairedAt}, {"seen_at", one.seenAt}});
    return jsonAnswer(json{{"devices", list}, {"code", devices_.code()}, {"on_this_computer", isOwnComputer(ask)}});
}

/// Who is paired is for the shop's own computer to see and to change.
std::vector<Route> Service::State::deviceRoutes() {
    const auto own = [](auto handler) {
        return [handler](const HttpRequest& ask, const PathValues& path) {
            return isOwnComputer(ask) ? handler(ask, path) : refusal(403, say("server.only-on-this-computer"));
        };
    };
    return {{"POST", "/api/devices", [this](const HttpRequest& ask, const PathValues&) { return pair(ask); }},
            {"GET", "/api/devices", own([this](const HttpRequest& ask, const PathValues&) { return deviceList(ask); })},
            {"POST", "/api/devices/code", own([this](const HttpRequest& ask, const PathValues&) {
                 devices_.renewCode();
                 return deviceList(ask);
             })},
            {"DELETE", "/api/devices/{id}", own([this](const HttpRequest& ask, const PathValues& path) {
                 return devices_.remove(path["id"]) ? deviceList(ask) : nothingThere();
             })}};
}

HttpResponse Service::State::photo(const fs::path& folder, const std::string& trial, const std::string& number) {
    const JobRecord job = openJob(folder).record;
    const TrialEntry* entry = findTrial(job, trial);
    if (entry == nullptr) entry = findBefore(job, trial);
    const std::optional<std::size_t> place = numberOf<std::size_t>(number);
    if (entry == nullptr || !place || *place >= entry->photos.size()) return nothingThere();
    const std::vector<std::uint8_t> bytes = readFile(folder / entry->photos[*place].file, kMaxPhotoBytes);
    const std::optional<PhotoFormat> format = photoFormatOf(bytes);
    if (!format || *format == PhotoFormat::Heic) return nothingThere();
    const char* type = *format == PhotoFormat::Jpeg  ? "image/jpeg"
                       : *format == PhotoFormat::Png ? "image/png"
                                                     : "image/webp";
    return {200, type, std::string(bytes.begin(), bytes.end()), {}};
}

HttpResponse Service::State::drillAnswer(const HttpRequest& ask) {
    if (training_.keepsAnswer(ask.body)) {
        training_.takeName(ask);
        HttpResponse kept = change(ask, std::string(kDrillKind), "");
        if (kept.status != 200) return kept;
    }
    return jsonAnswer(training_.gradedAnswer(ask.body));
}

/// The scripts of the live tooth are large and the same for a whole version: a browser may keep them and ask.
HttpResponse Service::State::script(const HttpRequest& ask, const std::string& name) {
    const std::optional<std::string_view> text = lessonScript(name);
    if (!text) return nothingThere();
    const std::string tag = "\"" + std::to_string(std::hash<std::string_view>()(*text)) + "\"";
    HttpResponse answer{200, "text/javascript; charset=utf-8", "", {{"ETag", tag}, {"Cache-Control", "no-cache"}}};
    if (ask.ifNoneMatch == tag)
        answer.status = 304;
    else
        answer.lasting = *text;
    return answer;
}

HttpResponse Service::State::task(const std::string& id) {
    if (!isId(id)) return refusal(400, say("server.task-id-wrong"));
    std::optional<TaskView> view = trialQueue_.find(id);
    if (!view) view = lookQueue_.find(id);
    if (!view) view = training_.task(id);
    if (view) {
        json answer = {{"state", view->state == TaskState::Waiting   ? "waiting"
                                 : view->state == TaskState::Working ? "working"
                                 : view->state == TaskState::Done    ? "done"
                                                                     : "failed"},
                       {"ahead", view->ahead},
                       {"wait_s", view->waitSeconds},
                       {"result", nullptr},
                       {"error", nullptr}};
        if (view->state == TaskState::Done) answer["result"] = json::parse(view->result);
        if (view->state == TaskState::Failed) answer["error"] = view->result;
        return jsonAnswer(answer);
    }
    const std::optional<Request> request = requests_.find(id);
    if (!request) return refusal(404, say("server.task-unknown"));
    if (request->answer.empty())
        return jsonAnswer(json{
            {"state", "waiting"},
            {"ahead", 0},
            {"wait_s", trialQueue_.waitSeconds()},
            {"result", nullptr},
            {"error",
             nullptr}}.dump());
    const json answer = json::parse(request->answer);
    const bool failed = answer.contains("error");
    return jsonAnswer(json{{"state", failed ? "failed" : "done"},
                           {"ahead", 0},
                           {"wait_s", 0},
                           {"result", failed ? json(nullptr) : answer},
                           {"error", failed ? answer.at("error") : json(nullptr)}}
                          .dump());
}

HttpResponse Service::State::change(const HttpRequest& ask, const std::string& kind, const std::string& job) {
    if (!isId(ask.id)) return refusal(400, say("server.change-without-id"));
    soleUse_.checkHeld();
    // The same id twice at once: the second waits for the first and gets its answer.
    std::unique_lock lock(guard_);
    changed_.wait(lock, [&] { return !busy_.contains(ask.id); });
    busy_.insert(ask.id);
    lock.unlock();
    struct Free {
        State& state;
        const std::string& id;
        ~Free() {
            const std::lock_guard guard(state.guard_);
            state.busy_.erase(id);
            state.changed_.notify_all();
        }
    } const free{*this, ask.id};

    std::optional<Request> known = requests_.find(ask.id);
    Request request = known ? *known : newRequest(ask.id, kind, job, timeNow(), ask.body);
    if (known &&
        (known->kind != kind || known->job != job || known->bodyHash != newRequest("", "", "", "", ask.body).bodyHash))
        return refusal(409, say("server.change-id-taken"));
    if (known && !known->answer.empty() && !isRead(kind)) return jsonAnswer(known->answer);
    const bool again = known.has_value();
    if (isRead(kind)) return acceptTrial(request, *repository_.find(job));
    checkIsObject(request.body);
    if (!again) requests_.write(request);
    try {
        const std::string answer = carryOut(request, again);
        if (const std::optional<fs::path> folder = repository_.find(job)) changed(*folder);
        requests_.finish(std::move(request), answer);
        return jsonAnswer(answer);
    } catch (const InputError&) {
        // Nothing was changed: the same id may try again.
        requests_.forget(ask.id);
        throw;
    }
}

/// Does what the request asks for, by its kind; the answer.
std::string Service::State::carryOut(const Request& request, bool again) {
    if (isEntryKind(request.kind)) return changeEntry(*repository_.find(request.job), request);
    if (request.kind == kJobKind) return makeJob(repository_, request);
    if (request.kind == kGearSetKind) return changeGearSet(repository_, request);
    check(request.kind == kDrillKind, "a kind of change that no route lets in");
    training_.keepAnswer(request, again);
    return "{}";
}

/// Notes that the trial is on its way to the record; the ids of those of its job and kind that were before it.
std::vector<std::string> Service::State::beginTrial(const Request& request) {
    const std::lock_guard lock(guard_);
    for (const std::string& id : uploadsNamedBy(request)) needed_.insert(id);
    std::vector<std::string>& waiting = open_[request.job + "/" + request.kind];
    std::vector<std::string> before = waiting;
    waiting.push_back(request.id);
    return before;
}

void Service::State::endTrial(const Request& request) {
    const std::lock_guard lock(guard_);
    for (const std::string& id : uploadsNamedBy(request))
        if (const auto named = needed_.find(id); named != needed_.end()) needed_.erase(named);
    std::erase(open_[request.job + "/" + request.kind], request.id);
    std::erase_if(open_, [](const auto& one) { return one.second.empty(); });
}

HttpResponse Service::State::acceptTrial(const Request& request, const fs::path& folder) {
    const auto accepted = [&] {
        return jsonAnswer(json{{"task", request.id}, {"wait_s", trialQueue_.waitSeconds()}}.dump(), 202);
    };
    if (!request.answer.empty() || trialQueue_.find(request.id)) return accepted();
    if (!trialQueue_.reserve()) {
        HttpResponse busy = refusal(503, say("server.too-many-photos-wait"));
        busy.headers.emplace_back("Retry-After", std::to_string(1 + static_cast<int>(trialQueue_.placeSeconds())));
        return busy;
    }
    try {
        if (!requests_.find(request.id)) {
            const std::vector<std::string> waiting = beginTrial(request);
            try {
                if (request.kind == kCorrectKind)
                    checkCorrection(folder, request, repository_);
                else
                    checkTrial(folder, request, uploads_, waiting);
                requests_.write(request);
            } catch (...) {
                endTrial(request);
                throw;
            }
        }
    } catch (...) {
        trialQueue_.release();
        throw;
    }
    enqueue(request, folder, true);
    return accepted();
}

/// What decodes photos is done by a process of its own, where there is a program for it.
std::string Service::State::doApart(const Request& request) {
    const TrialTask task{jobs_, gearSets_, request};
    return worker_.empty() ? doTask(task, uploads_, repository_) : readTrialApart(worker_, task);
}

void Service::State::enqueue(const Request& request, const fs::path& folder, bool placeKept) {
    const auto work = [this, request, folder] {
        std::string answer;
        try {
            waitForLooks(request);
            answer = doApart(request);
        } catch (...) {
            requests_.finish(request, jsonText(json{{"error", sentence()}}));
            endTrial(request);
            throw;
        }
        changed(folder);
        requests_.finish(request, answer);
        endTrial(request);
        return answer;
    };
    trialQueue_.addAccepted(request.id, work, placeKept);
}

HttpResponse Service::State::makeDocument(const HttpRequest& ask, const fs::path& folder, const std::string& kind) {
    if (!isId(ask.id)) return refusal(400, say("server.document-without-id"));
    const std::vector<std::string> kinds = documentKinds();
    if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) return nothingThere();
    const bool taken = trialQueue_.add(ask.id, [this, folder, kind] {
        Document made{makeDocumentOf(folder, jobs_ / kOwnFolder, kind, settings_),
                      RateLimit::Clock::now() + kDocumentKept};
        const std::string ticket = randomHex(16);
        const std::lock_guard lock(guard_);
        std::erase_if(documents_, [](const auto& one) { return one.second.until < RateLimit::Clock::now(); });
        while (documents_.size() >= kMaxDocuments)
            documents_.erase(std::min_element(documents_.begin(), documents_.end(), [](const auto& a, const auto& b) {
                return a.second.until < b.second.until;
            }));
        documents_[ticket] = std::move(made);
        return json{{"path", "/documents/" + ticket}}.dump();
    });
    if (!taken) return refusal(503, say("server.too-much-waits"));
    return jsonAnswer(json{{"task", ask.id}, {"wait_s", trialQueue_.waitSeconds()}}.dump(), 202);
}

namespace {

/// It is one file that carries its own styles and script and asks nothing of anyone.
HttpResponse documentAnswer(MadeDocument made) {
    HttpResponse answer{200, made.type, std::move(made.bytes), {}};
    if (answer.type == kPdfType)
        answer.headers.emplace_back("Content-Disposition", "inline; filename=\"build-sheet.pdf\"");
    else
        answer.headers.emplace_back(
            "Content-Security-Policy",
            "sandbox allow-scripts allow-modals; default-src 'none'; style-src 'unsafe-inline'; script-src "
            "'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'");
    return answer;
}

}  // namespace

HttpResponse Service::State::document(const std::string& ticket) {
    {
        const std::lock_guard lock(guard_);
        const auto found = documents_.find(ticket);
        if (found != documents_.end() && found->second.until >= RateLimit::Clock::now())
            return documentAnswer(found->second.made);
    }
    if (std::optional<MadeDocument> linked = links_.document(ticket)) return documentAnswer(std::move(*linked));
    return {404, "text/plain; charset=utf-8", say("server.document-gone") + "\n", {}};
}

/// Links of build sheets that live until they are taken back.
std::vector<Route> Service::State::linkRoutes() {
    const auto list = [this](const std::string& job) {
        json links = json::array();
        for (const Link& one : links_.of(job))
            links.push_back({{"ticket", one.ticket}, {"path", "/documents/" + one.ticket}, {"made_at", one.madeAt}});
        return jsonAnswer(json{{"links", links}});
    };
    return {{"GET", "/api/jobs/{job}/links",
             [this, list](const HttpRequest&, const PathValues& path) {
                 return repository_.find(path["job"]) ? list(path["job"]) : noSuchJob();
             }},
            {"POST", "/api/jobs/{job}/links",
             [this](const HttpRequest& ask, const PathValues& path) {
                 const std::optional<fs::path> folder = repository_.find(path["job"]);
                 if (!folder) return noSuchJob();
                 if (!isId(ask.id)) return refusal(400, say("server.document-without-id"));
                 const bool taken = trialQueue_.add(ask.id, [this, folder = *folder] {
                     const std::string ticket = links_.add(
                         folder.filename().string(), makeDocumentOf(folder, jobs_ / kOwnFolder, "sheet", settings_));
                     return json{{"path", "/documents/" + ticket}}.dump();
                 });
                 if (!taken) return refusal(503, say("server.too-much-waits"));
                 return jsonAnswer(json{{"task", ask.id}, {"wait_s", trialQueue_.waitSeconds()}}.dump(), 202);
             }},
            {"DELETE", "/api/jobs/{job}/links/{ticket}", [this, list](const HttpRequest&, const PathValues& path) {
                 return links_.remove(path["job"], path["ticket"]) ? list(path["job"]) : nothingThere();
             }}};
}

}  // namespace shimsight::server
