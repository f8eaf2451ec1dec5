// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/training.h"

#include <sys/resource.h>

#include <algorithm>
#include <atomic>
#include <charconv>
#include <deque>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <utility>

#include "server/guard.h"
#include "server/json_text.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/lesson.h"
#include "shimsight/lesson_parts.h"
#include "shimsight/training.h"
#include "shimsight/words.h"
#include "training_json.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using namespace training;

/// Gear sets with their contact model (some 2 MB each), exercises, rendered pictures (some 100 kB each) that are kept.
constexpr std::size_t kSetsKept = 12, kExercisesKept = 200, kPicturesKept = 120;
/// Pictures that may wait to be rendered; each takes seconds on all processors.
constexpr std::size_t kMaxPicturesWaiting = 16;
constexpr int kRenderNiceness = 10;
constexpr int kMaxQuestions = 100;
constexpr std::size_t kMaxJobsAsked = 300;  ///< the newest ones
constexpr const char* kMilledSet = "milled";
constexpr const char* kHobbedSet = "hobbed";

using Contact = std::shared_ptr<const ToothContact>;

std::string asked(const HttpRequest& ask, const char* key) {
    const auto found = ask.query.find(key);
    return found == ask.query.end() ? std::string() : found->second;
}

template <typename T>
T askedNumber(const std::string& text, const char* what, T low, T high) {  // `what`: id of an entry
    T value{};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || value < low || value > high)
        throw InputError(message("server.not-a-whole-number", say(what), low, high));
    return value;
}

/// Values by their names; the oldest gives way when there are too many.
template <typename T>
class FifoCache {
public:
    explicit FifoCache(std::size_t maxSize) : maxSize_(maxSize) {}
    std::optional<T> find(const std::string& name) {
        const std::lock_guard lock(guard_);
        const auto found = values_.find(name);
        return found == values_.end() ? std::nullopt : std::optional<T>(found->second);
    }
    void keep(const std::string& name, T value) {
        const std::lock_guard lock(guard_);
        if (!values_.insert_or_assign(name, std::move(value)).second) return;
        order_.push_back(name);
        while (order_.size() > maxSize_) {
            values_.erase(order_.front());
            order_.pop_front();
        }
    }

private:
    std::size_t maxSize_;
    std::mutex guard_;
    std::map<std::string, T> values_;
    std::deque<std::string> order_;
};

/// An exercise with the gear set that it points to.
struct Held {
    Contact contact;
    Exercise exercise;
};
using HeldExercise = std::shared_ptr<const Held>;

struct Picture {
    std::shared_ptr<const std::string> jpeg;
};

std::string jpegText(const std::vector<std::uint8_t>& bytes) { return {bytes.begin(), bytes.end()}; }

}  // namespace

struct Training::State {
    State(const ServerOptions& options, const JobRepository& repository, std::function<std::string()> tell,
          std::function<std::string(const HttpRequest&)> deviceOf)
        : repository_(repository),
          deviceOf_(std::move(deviceOf)),
          book_(options.scores, options.exam, std::stoull(randomHex(8), nullptr, 16)),
          renderQueue_(1, kMaxPicturesWaiting, std::move(tell)) {}

    std::vector<Route> routes();
    std::vector<Route> sheetRoutes();
    HttpResponse game(const HttpRequest& ask);
    HttpResponse lessonPicture(const HttpRequest& ask, const std::string& lesson, const std::string& number);
    HttpResponse questionPictures(const HttpRequest& ask, const std::string& number);
    HttpResponse overview() const;
    /// Those that can be used; the lessons' own come first, under the shop's file of that name where there is one.
    std::vector<OfferedGearSet> offered() const;
    HttpResponse lesson(const std::string& name);
    HttpResponse live(const HttpRequest& ask);
    HttpResponse chart(const HttpRequest& ask, bool picture);
    HttpResponse question(const HttpRequest& ask, const std::string& number);
    HttpResponse trials();
    HttpResponse trialQuestion(const std::string& job, const std::string& trial);
    HeldExercise trialExercise(const std::string& job, const std::string& trial);
    HttpResponse sheets(const std::string& name);
    HttpResponse picture(const std::string& key);
    /// Renders what `make` gives, unless `recipe` was rendered before: {"path": ..} or a task.
    HttpResponse render(const HttpRequest& ask, const std::string& recipe,
                        const std::vector<std::function<std::vector<std::uint8_t>()>>& make);

    /// nullopt: one of the program's own.
    std::optional<JobGearSet> setAsked(const std::string& set, const std::string& job) const;
    Contact contactAsked(const std::string& set, const std::string& job);
    Contact contactOfSet(const JobGearSet& set);
    Question questionAsked(const HttpRequest& ask, const std::string& number) const;
    HeldExercise exercise(const Question& question);
    HeldExercise exerciseOf(const SentAnswer& sent);
    void keep(const Request& request, bool again);
    template <typename Work>
    auto onSheets(Work work) const -> decltype(work());

    const JobRepository& repository_;
    std::function<std::string(const HttpRequest&)> deviceOf_;
    ScoreBook book_;
    std::atomic<bool> ending_{false};
    FifoCache<Contact> sets_{kSetsKept};
    FifoCache<HeldExercise> exercises_{kExercisesKept};
    FifoCache<std::string> articles_{100};
    FifoCache<json> usable_{kMaxJobsAsked};  ///< of a state of a job: its trials that can be asked
    FifoCache<Picture> pictures_{kPicturesKept};
    FifoCache<json> rendered_{kPicturesKept / 2};
    WorkQueue renderQueue_;  ///< last: its thread uses all of the above
};

Training::Training(const ServerOptions& options, const JobRepository& repository, std::function<std::string()> tell,
                   std::function<std::string(const HttpRequest&)> deviceOf)
    : state_(std::make_unique<State>(options, repository, std::move(tell), std::move(deviceOf))) {}
Training::~Training() = default;

std::vector<Route> Training::routes() { return state_->routes(); }

std::optional<TaskView> Training::task(const std::string& id) const { return state_->renderQueue_.find(id); }

void Training::finish() {
    state_->ending_ = true;
    state_->renderQueue_.finish(std::chrono::steady_clock::now());
}

/// Names of files are for the one who started the program, not for phones.
template <typename Work>
auto Training::State::onSheets(Work work) const -> decltype(work()) {
    try {
        return work();
    } catch (const InputError& error) {
        throw InputError(withoutFolders(error.what(), book_.folder()));
    }
}

std::vector<Route> Training::State::routes() {
    using Path = PathValues;
    std::vector<Route> table{
        {"GET", "/api/training", [this](const HttpRequest&, const Path&) { return overview(); }},
        {"GET", "/api/training/lessons/{name}",
         [this](const HttpRequest&, const Path& path) { return lesson(path["name"]); }},
        {"POST", "/api/training/lessons/{name}/photos/{number}",
         [this](const HttpRequest& ask, const Path& path) { return lessonPicture(ask, path["name"], path["number"]); }},
        {"GET", "/api/training/figures",
         [](const HttpRequest&, const Path&) { return jsonAnswer(lessonFigureData()); }},
        {"GET", "/api/training/live", [this](const HttpRequest& ask, const Path&) { return live(ask); }},
        {"GET", "/api/training/chart", [this](const HttpRequest& ask, const Path&) { return chart(ask, false); }},
        {"GET", "/api/training/chart.svg", [this](const HttpRequest& ask, const Path&) { return chart(ask, true); }},
        {"GET", "/api/training/questions/{number}",
         [this](const HttpRequest& ask, const Path& path) { return question(ask, path["number"]); }},
        {"POST", "/api/training/questions/{number}/photos",
         [this](const HttpRequest& ask, const Path& path) { return questionPictures(ask, path["number"]); }},
        {"GET", "/api/training/pictures/{key}",
         [this](const HttpRequest&, const Path& path) { return picture(path["key"]); }},
        {"GET", "/api/training/trials", [this](const HttpRequest&, const Path&) { return trials(); }},
        {"GET", "/api/training/trials/{job}/{trial}",
         [this](const HttpRequest&, const Path& path) { return trialQuestion(path["job"], path["trial"]); }},
        {"POST", "/api/training/game", [this](const HttpRequest& ask, const Path&) { return game(ask); }}};
    for (Route& route : sheetRoutes()) table.push_back(std::move(route));
    return table;
}

std::vector<Route> Training::State::sheetRoutes() {
    using Path = PathValues;
    std::vector<Route> table{
        {"GET", "/api/training/sheets",
         [this](const HttpRequest& ask, const Path&) { return sheets(asked(ask, "name")); }},
        {"GET", "/api/training/sheets.csv", [this](const HttpRequest&, const Path&) {
             return onSheets([&] { return HttpResponse{200, "text/csv; charset=utf-8", book_.table(), {}}; });
         }}};
    if (book_.exam())
        table.push_back({"GET", "/api/training/exam", [this](const HttpRequest& ask, const Path&) {
                             return onSheets([&] {
                                 book_.takeName(asked(ask, "name"), deviceOf_(ask));
                                 return jsonAnswer(book_.examSoFar(asked(ask, "name")));
                             });
                         }});
    return table;
}

HttpResponse Training::State::game(const HttpRequest& ask) {
    const SentGame sent = parseSentGame(ask.body);
    return jsonAnswer(gameJson(exercise({sent.seed, sent.level, 1, sent.set})->exercise, sent));
}

HttpResponse Training::State::lessonPicture(const HttpRequest& ask, const std::string& lesson,
                                            const std::string& number) {
    const auto place = askedNumber<std::size_t>(number, "server.number-of-a-photo", 0, 99);
    return render(ask, "lesson/" + lesson + "/" + number, {[lesson, place] { return lessonPhoto(lesson, place); }});
}

HttpResponse Training::State::questionPictures(const HttpRequest& ask, const std::string& number) {
    const Question wanted = questionAsked(ask, number);
    const HeldExercise held = exercise(wanted);
    const auto side = [&](Side faced) { return [held, faced] { return drillPhoto(held->exercise, faced); }; };
    return render(ask, "question/" + wanted.key(), {side(Side::Drive), side(Side::Coast)});
}

std::vector<OfferedGearSet> Training::State::offered() const {
    std::vector<OfferedGearSet> shop = repository_.gearSets(), sets;
    for (const auto& [id, cut] : {std::pair{kMilledSet, Cut::FaceMilled}, {kHobbedSet, Cut::FaceHobbed}}) {
        const std::string& name = lessonSet(cut).gearSet().name;
        const auto twin = std::find_if(shop.begin(), shop.end(), [&](const auto& one) { return one.name == name; });
        if (twin == shop.end()) {
            sets.push_back({id, {}, name, {}});
        } else {
            sets.push_back(std::move(*twin));
            shop.erase(twin);
        }
    }
    for (OfferedGearSet& one : shop)
        if (one.fault.empty()) sets.push_back(std::move(one));
    return sets;
}

HttpResponse Training::State::overview() const {
    json levels = json::array(), sets = json::array(), list = json::array();
    for (int level = 1; level <= kDrillLevels; ++level)
        levels.push_back({{"level", level}, {"words", drillLevelWords(level)}, {"on_photos", isPhotoLevel(level)}});
    for (const OfferedGearSet& one : offered()) sets.push_back({{"id", one.id}, {"name", one.name}});
    for (const LessonInfo& info : lessons())
        list.push_back({{"name", info.name}, {"title", info.title}, {"summary", info.summary}});
    json exam = nullptr;
    if (const std::optional<ExamOptions>& on = book_.exam())
        exam = {{"level", on->level},
                {"level_words", drillLevelWords(on->level)},
                {"on_photos", isPhotoLevel(on->level)},
                {"questions", on->questions},
                {"names", on->names}};
    return jsonAnswer({{"lessons", list},
                       {"sets", sets},
                       {"levels", levels},
                       {"game_levels", kGameLevels},
                       {"most_questions", kMaxQuestions},
                       {"keeps_sheets", !book_.folder().empty()},
                       {"exam", exam}});
}

HttpResponse Training::State::lesson(const std::string& name) {
    const LessonInfo* found = lessonNamed(name);
    if (found == nullptr) return refusal(404, say("server.no-such-lesson"));
    std::optional<std::string> article = articles_.find(name);
    if (!article) {
        article = lessonArticle(name);
        articles_.keep(name, *article);
    }
    const auto neighbour = [&](const LessonInfo& end, int step) {
        return found == &end ? json(nullptr) : json{{"name", found[step].name}, {"title", found[step].title}};
    };
    return jsonAnswer({{"name", found->name},
                       {"title", found->title},
                       {"summary", found->summary},
                       {"article", *article},
                       {"before", neighbour(lessons().front(), -1)},
                       {"next", neighbour(lessons().back(), 1)}});
}

Contact Training::State::contactOfSet(const JobGearSet& set) {
    if (std::optional<Contact> known = sets_.find(set.document)) return *known;
    Contact made = std::make_shared<const ToothContact>(completeGearSet(set.data));
    sets_.keep(set.document, made);
    return made;
}

std::optional<JobGearSet> Training::State::setAsked(const std::string& set, const std::string& job) const {
    if (!job.empty()) {
        const std::optional<fs::path> folder = repository_.find(job);
        if (!folder) throw InputError(message("server.no-such-job"));
        return openJob(*folder).record.gearSet;
    }
    if (set == kMilledSet || set == kHobbedSet) return std::nullopt;
    for (const OfferedGearSet& one : repository_.gearSets())
        if (one.id == set && one.fault.empty()) return jobGearSet(one.file);
    throw InputError(message("server.no-such-gear-set"));
}

Contact Training::State::contactAsked(const std::string& set, const std::string& job) {
    if (const std::optional<JobGearSet> found = setAsked(set, job)) return contactOfSet(*found);
    return {&lessonSet(set == kMilledSet ? Cut::FaceMilled : Cut::FaceHobbed), [](const ToothContact*) {}};
}

HttpResponse Training::State::live(const HttpRequest& ask) {
    std::string set = asked(ask, "set");
    if (set.empty()) set = offered().front().id;
    const std::optional<JobGearSet> found = setAsked(set, asked(ask, "job"));
    const Contact contact = found ? contactOfSet(*found) : contactAsked(set, "");
    std::vector<const ToothContact*> sets{contact.get()};
    // Also as if cut the other way, where that gives a gear set.
    std::optional<ToothContact> other;
    if (found) try {
            const Cut cut = contact->gearSet().cut == Cut::FaceMilled ? Cut::FaceHobbed : Cut::FaceMilled;
            other.emplace(withCut(found->data, cut));
            sets.push_back(&*other);
        } catch (const InputError&) {
            // No teeth of the other cut close on these blanks.
        }
    return {200, "application/json", liveData(sets), {}};
}

HttpResponse Training::State::chart(const HttpRequest& ask, bool picture) {
    std::vector<Contact> held{contactAsked(asked(ask, "set"), asked(ask, "job"))};
    if (const std::string beside = asked(ask, "beside"); !beside.empty()) held.push_back(contactAsked(beside, ""));
    std::vector<const ToothContact*> sets;
    for (const Contact& one : held) sets.push_back(one.get());
    if (picture) return {200, "image/svg+xml", chartSvg(sets), {}};
    return jsonAnswer(
        {{"how_to_read", chartHowToRead()}, {"gear_set", held.front()->gearSet().name}, {"tables", chartTables(sets)}});
}

Question Training::State::questionAsked(const HttpRequest& ask, const std::string& number) const {
    Question question;
    question.number = askedNumber(number, "server.number-of-a-question", 1, kMaxQuestions);
    if (asked(ask, "exam") == "1")
        if (const std::optional<Question> ofExam = book_.examQuestion(question.number)) return *ofExam;
    question.seed = askedNumber<std::uint64_t>(asked(ask, "seed"), "server.number-that-draws", 0, kMaxPracticeSeed);
    question.level = askedNumber(asked(ask, "level"), "server.level", 1, kDrillLevels);
    question.set = asked(ask, "set");
    return question;
}

HeldExercise Training::State::exerciseOf(const SentAnswer& sent) {
    return sent.job.empty() ? exercise(book_.questionOf(sent)) : trialExercise(sent.job, sent.trial);
}

HeldExercise Training::State::exercise(const Question& question) {
    const Contact contact = question.set.empty() ? nullptr : contactAsked(question.set, "");
    // Another file of the same name is another set.
    const std::string key = question.key() + "/" + std::to_string(reinterpret_cast<std::uintptr_t>(contact.get()));
    if (std::optional<HeldExercise> known = exercises_.find(key)) return *known;
    auto held = std::make_shared<const Held>(
        Held{contact, drawExercise(question.seed, question.level, question.number, contact.get())});
    exercises_.keep(key, held);
    return held;
}

HttpResponse Training::State::question(const HttpRequest& ask, const std::string& number) {
    const Question wanted = questionAsked(ask, number);
    return jsonAnswer(questionJson(exercise(wanted)->exercise, asked(ask, "photos") == "1"));
}

// ---- Trials of jobs ----

HttpResponse Training::State::trials() {
    std::vector<std::pair<fs::file_time_type, fs::path>> folders;
    for (const fs::path& folder : repository_.folders()) {
        std::error_code error;
        folders.emplace_back(fs::last_write_time(folder / kJobFile, error), folder);
    }
    std::sort(folders.rbegin(), folders.rend());
    if (folders.size() > kMaxJobsAsked) folders.resize(kMaxJobsAsked);
    json list = json::array();
    for (const auto& [time, folder] : folders) {
        const std::string job = folder.filename().string(), key = job + "/" + JobRepository::tagOf(folder);
        std::optional<json> known = usable_.find(key);
        if (!known) {
            known = json::array();
            try {
                for (const JobExercise& one : jobExercises(repository_.open(folder).record).usable)
                    known->push_back({{"job", job},
                                      {"axle", one.job},
                                      {"trial", one.trial},
                                      {"gear_set", one.gearSet},
                                      {"photos", one.photos.size()}});
            } catch (const InputError&) {
                // A damaged job is told on the page of jobs; it has nothing to ask.
            }
            usable_.keep(key, *known);
        }
        list.insert(list.end(), known->begin(), known->end());
    }
    return jsonAnswer({{"trials", list}});
}

HttpResponse Training::State::trialQuestion(const std::string& job, const std::string& trial) {
    const std::optional<fs::path> folder = repository_.find(job);
    if (!folder) return refusal(404, say("server.no-such-job"));
    const JobRecord record = openJob(*folder).record;
    const std::vector<JobExercise> usable = jobExercises(record).usable;
    const auto found = std::find_if(usable.begin(), usable.end(), [&](const auto& one) { return one.trial == trial; });
    if (found == usable.end()) return refusal(404, say("server.trial-is-no-exercise"));
    return jsonAnswer(trialJson(job, record, *found));
}

HeldExercise Training::State::trialExercise(const std::string& job, const std::string& trial) {
    const std::optional<fs::path> folder = repository_.find(job);
    if (!folder) throw InputError(message("server.no-such-job"));
    const std::string key = "job/" + job + "/" + JobRepository::tagOf(*folder) + "/" + trial;
    if (std::optional<HeldExercise> known = exercises_.find(key)) return *known;
    JobTruth truth = jobTruth(openJob(*folder).record, trial);
    auto held = std::make_shared<const Held>(Held{Contact(std::move(truth.contact)), std::move(truth.exercise)});
    exercises_.keep(key, held);
    return held;
}

// ---- Rendered pictures ----

HttpResponse Training::State::render(const HttpRequest& ask, const std::string& recipe,
                                     const std::vector<std::function<std::vector<std::uint8_t>()>>& make) {
    if (!isId(ask.id)) return refusal(400, say("server.picture-without-id"));
    const bool taken = renderQueue_.add(ask.id, [this, recipe, make] {
        // Those who read photos of trials come first.
        (void)setpriority(PRIO_PROCESS, 0, kRenderNiceness);
        std::optional<json> known = rendered_.find(recipe);
        const auto there = [&](const json& key) { return pictures_.find(key.get<std::string>()).has_value(); };
        if (known && std::all_of(known->begin(), known->end(), there)) return json{{"pictures", *known}}.dump();
        json keys = json::array();
        for (const auto& one : make) {
            if (ending_) throw InputError(message("server.picture-not-rendered"));
            const std::string key = randomHex(16);
            pictures_.keep(key, {std::make_shared<const std::string>(jpegText(one()))});
            keys.push_back(key);
        }
        rendered_.keep(recipe, keys);
        return json{{"pictures", keys}}.dump();
    });
    if (!taken) {
        HttpResponse busy = refusal(503, say("server.too-many-pictures"));
        busy.headers.emplace_back("Retry-After", std::to_string(1 + static_cast<int>(renderQueue_.placeSeconds())));
        return busy;
    }
    return jsonAnswer({{"task", ask.id}, {"wait_s", renderQueue_.waitSeconds()}}, 202);
}

HttpResponse Training::State::picture(const std::string& key) {
    const std::optional<Picture> found = pictures_.find(key);
    if (!found) return refusal(404, say("server.picture-gone"));
    return {200, "image/jpeg", *found->jpeg, {}};
}

HttpResponse Training::State::sheets(const std::string& name) {
    return onSheets([&] {
        json found = book_.sheets(name);
        for (json& fault : found["faults"]) fault = withoutFolders(fault.get<std::string>(), book_.folder());
        return jsonAnswer(found);
    });
}

void Training::State::keep(const Request& request, bool again) {
    const SentAnswer sent = parseSentAnswer(request.body);
    const HeldExercise held = exerciseOf(sent);
    onSheets([&] { book_.keep(held->exercise, sent, request.at, again); });
}

bool Training::keepsAnswer(const std::string& body) const {
    const SentAnswer sent = parseSentAnswer(body);
    if (sent.job.empty()) (void)state_->book_.questionOf(sent);
    return !sent.name.empty() && !state_->book_.folder().empty();
}

void Training::takeName(const HttpRequest& ask) {
    const SentAnswer sent = parseSentAnswer(ask.body);
    if (sent.exam) state_->onSheets([&] { state_->book_.takeName(sent.name, state_->deviceOf_(ask)); });
}

void Training::keepAnswer(const Request& request, bool again) { state_->keep(request, again); }

std::string Training::gradedAnswer(const std::string& body) {
    const SentAnswer sent = parseSentAnswer(body);
    if (sent.exam) return json{{"graded", false}, {"kept", true}}.dump();
    const HeldExercise held = state_->exerciseOf(sent);
    json result = gradedJson(held->exercise, sent, gradeAnswer(held->exercise, sent.answer));
    result["kept"] = keepsAnswer(body);
    return jsonText(result);
}

}  // namespace shimsight::server
