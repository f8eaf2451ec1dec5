// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/job_repository.h"

#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <chrono>
#include <nlohmann/json.hpp>
#include <span>

#include "server/answer.h"
#include "server/guard.h"
#include "server/job_index.h"
#include "server/json_text.h"
#include "shimsight/advice_words.h"
#include "shimsight/draw_svg.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

/// A shop of thirty years; a view has a hundred kilobytes.
constexpr std::size_t kMaxJobs = 20'000, kMaxViews = 200;
constexpr std::size_t kMaxGearSets = 500;       ///< of each folder
constexpr std::int64_t kMaxMapBytes = 200'000;  ///< a flank map has 33 kB before it is packed
/// Positions round the ring gear count as equal steps within this (a tooth of forty is nine degrees).
constexpr double kStepToleranceDeg = 5;

const std::optional<Pattern>& patternOf(const MeasurementRecord& record, Side side) {
    return side == Side::Drive ? record.drive : record.coast;
}
const std::optional<Pattern>& expectedOf(const Advice& advice, Side side) {
    return side == Side::Drive ? advice.expectedDrive : advice.expectedCoast;
}

/// The page counts the trials that count; the record's sentences name them by their ids.
std::string numbered(const Message& sentence, const JobRecord& job) { return text(withTrialNumbers(sentence, job)); }

/// The page shows the lines of check lists by their texts; the record's sentences name them by their keys, which are
/// typed at the command line.
Message withTextOfLine(Message sentence, const JobRecord& job) {
    for (const CheckItem& item : job.checks)
        if (sentence.values.front() == Message(item.key)) sentence.values.front() = item.text;
    return sentence;
}

json numbered(const std::vector<Attention>& attention, const JobRecord& job) {
    json list = json::array();
    for (const Attention& one : attention)
        list.push_back(
            numbered(one.kind == AttentionKind::FittedEarly ? withTextOfLine(one.sentence, job) : one.sentence, job));
    return list;
}

json stepsJson(const JobStatus& status, const JobRecord& job) {
    json steps = json::array();
    for (const JobStep& step : status.steps)
        steps.push_back({{"key", step.key},
                         {"title", step.title},
                         {"state", name(step.state)},
                         {"detail", numbered(step.detail, job)},
                         {"lines", step.lines},
                         {"open_lines", step.open}});
    return steps;
}

/// The lines of the check lists that are done with a torque.
json jointsJson(const JobRecord& job) {
    json keys = json::array();
    for (const CheckItem& item : job.checks)
        if (takesTorque(item)) keys.push_back(item.key);
    return keys;
}

/// By key of the line, why it is open again though it is ticked.
json openAgainJson(const JobRecord& job) {
    json why = json::object();
    for (const CheckItem& item : job.checks)
        if (const std::optional<OpenAgain> again = openAgain(job, item)) why[item.key] = name(*again);
    return why;
}

void putNewestFirst(std::vector<fs::path>& files) {
    std::vector<std::pair<fs::file_time_type, fs::path>> timed;
    for (fs::path& file : files) {
        std::error_code ignored;
        const auto time = fs::last_write_time(file, ignored);
        timed.emplace_back(time, std::move(file));
    }
    std::stable_sort(timed.begin(), timed.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
    files.clear();
    for (auto& [time, file] : timed) files.push_back(std::move(file));
}

std::vector<double> stepReadings(const std::vector<BacklashPoint>& points) {
    std::vector<double> readings;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const double wanted = 360.0 * static_cast<double>(i) / static_cast<double>(points.size());
        if (std::abs(points[i].positionDeg - points.front().positionDeg - wanted) > kStepToleranceDeg) return {};
        readings.push_back(points[i].mm);
    }
    return readings;
}

}  // namespace

JobRepository::JobRepository(fs::path jobs, std::vector<fs::path> gearSets, const fs::path& ownFolder, OpenedBy by)
    : jobs_(std::move(jobs)), gearSets_(std::move(gearSets)), maps_(ownFolder / "maps") {
    gearSets_.insert(gearSets_.begin(), jobs_ / "gear-sets");
    for (const fs::path& folder : {gearSets_.front(), maps_}) {
        std::error_code error;
        fs::create_directories(folder, error);
        if (error) throw InputError(message("server.folder-not-made", folder.string(), error.message()));
    }
    if (by == OpenedBy::Server) index_ = std::make_unique<JobIndex>(jobs_, ownFolder / "index.json");
}

JobRepository::~JobRepository() = default;

std::optional<fs::path> JobRepository::find(std::string_view id) const {
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(jobs_, error)) {
        const std::string folder = entry.path().filename().string();
        if (folder != id || folder.starts_with('.') || !isJobFolder(entry.path())) continue;
        checkStaysInside(jobs_, entry.path());
        return entry.path();
    }
    return std::nullopt;
}

OpenedJob JobRepository::open(const fs::path& folder) const {
    checkStaysInside(jobs_, folder);
    return openJob(folder);
}

fs::path JobRepository::newFolder(const std::string& day, std::string_view axle, const std::string& request) const {
    constexpr std::size_t kMaxWords = 32, kDigits = 8;
    std::string words;
    for (const char c : axle) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte < 0x80 && std::isalnum(byte) != 0)
            words += static_cast<char>(std::tolower(byte));
        else if (!words.empty() && !words.ends_with('-'))
            words += '-';
        if (words.size() >= kMaxWords) break;
    }
    while (words.ends_with('-')) words.pop_back();
    return jobs_ / (day + "-" + (words.empty() ? "axle" : words) + "-" + sha256Of(request).substr(0, kDigits));
}

std::string JobRepository::tagOf(const fs::path& folder) {
    struct stat status {};
    if (::stat((folder / kJobFile).c_str(), &status) != 0) return {};
    // Each write makes a new file: its number tells two of one size apart that bear the same time, as they do on disks
    // with coarse times and where two computers with different clocks write.
    return std::to_string(status.st_ino) + "-" + std::to_string(status.st_mtim.tv_sec) + "." +
           std::to_string(status.st_mtim.tv_nsec) + "-" + std::to_string(status.st_size);
}

std::vector<fs::path> JobRepository::folders() const {
    std::vector<fs::path> found;
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(jobs_, error)) {
        if (found.size() >= kMaxJobs) break;
        if (entry.path().filename().string().starts_with('.') || !isJobFolder(entry.path())) continue;
        found.push_back(entry.path());
    }
    return found;
}

std::string JobRepository::list(const JobSearch& search) const { return index_->list(folders(), search); }

void JobRepository::changed(const fs::path& folder) const { index_->changed(folder); }

std::optional<View> JobRepository::view(std::string_view id) const {
    const std::optional<fs::path> folder = find(id);
    if (!folder) return std::nullopt;
    View view;
    view.tag = tagOf(*folder);
    {
        const std::lock_guard lock(guard_);
        const auto known = views_.find(id);
        if (known != views_.end() && known->second.tag == view.tag) {
            view.text = known->second.text;
            return view;
        }
    }
    view.text = viewText(*folder);
    const std::lock_guard lock(guard_);
    // One makes room for one.
    if (views_.size() >= kMaxViews && !views_.contains(id)) views_.erase(views_.begin());
    views_[std::string(id)] = {view.tag, view.text};
    return view;
}

std::optional<FlankMap> JobRepository::mapOf(const fs::path& folder, const TrialEntry& trial, Side side) const {
    const std::optional<std::string>& drawn = side == Side::Drive ? trial.drawnDrive : trial.drawnCoast;
    const fs::path file =
        drawn ? folder / *drawn
              : maps_ / (folder.filename().string() + "-" + trial.stamp.id + "-" + std::string(name(side)) + ".png");
    try {
        GreyPicture picture = decodePngGrey(readFile(file, kMaxMapBytes));
        if (picture.width != kMapWidth || picture.height != kMapHeight) return std::nullopt;
        FlankMap map;
        map.contact = std::move(picture.values);
        return map;
    } catch (const InputError&) {
        return std::nullopt;
    }
}

void JobRepository::keepMaps(std::string_view job, std::string_view trial, const Measurement& measurement) const {
    for (const Side side : kSides) {
        const std::optional<Consensus>& read = side == Side::Drive ? measurement.drive : measurement.coast;
        if (!read) continue;
        writeFileAtomically(
            maps_ / (std::string(job) + "-" + std::string(trial) + "-" + std::string(name(side)) + ".png"),
            encodePngGrey(kMapWidth, kMapHeight, read->map.contact));
    }
}

std::string JobRepository::viewText(const fs::path& folder) const {
    const OpenedJob opened = openJob(folder);
    const JobRecord& job = opened.record;
    const GearSet gearSet = completeGearSet(job.gearSet.data);
    const JobStatus status = jobStatus(job);
    const std::array zones{patternRuleOf(job, Side::Drive), patternRuleOf(job, Side::Coast)};
    json trials = json::object();
    int number = 0;
    std::vector<PathStop> paths[2];
    for (const TrialEntry& trial : job.trials) {
        const bool counts = trial.stamp.counts();
        if (counts) ++number;
        const std::string label = counts ? std::to_string(number) : trial.stamp.id;
        json extra = {
            {"number", counts ? json(number) : json(nullptr)}, {"answer", nullptr}, {"sketches", json::object()}};
        const Advice* advice = trial.measurement && trial.measurement->advice ? &*trial.measurement->advice : nullptr;
        if (advice != nullptr) extra["answer"] = answerJson(*advice, gearSet);
        for (const Side side : kSides) {
            if (!trial.measurement || !patternOf(*trial.measurement, side)) continue;
            const Pattern& pattern = *patternOf(*trial.measurement, side);
            const std::optional<FlankMap> map = mapOf(folder, trial, side);
            SvgSketch now;
            now.title = say(trial.origin == PatternOrigin::Drawn ? "server.sketch-drawn" : "server.sketch-measured",
                            text(titleOf(side)), label);
            now.map = map ? &*map : nullptr;
            now.pattern = pattern;
            // Without the map the mark is shown by its place and size.
            if (!map) now.expected = pattern;
            now.goodZone = zones[index(side)];
            json sketch = {{"now", flankSvg(now).str()}, {"next", nullptr}};
            if (advice != nullptr && hasMove(*advice) && expectedOf(*advice, side)) {
                SvgSketch next;
                next.title = say("server.sketch-expected", text(titleOf(side)));
                next.expected = expectedOf(*advice, side);
                next.goodZone = zones[index(side)];
                sketch["next"] = flankSvg(next).str();
            }
            extra["sketches"][name(side)] = sketch;
            if (counts) paths[index(side)].push_back({pattern, std::to_string(number)});
        }
        if (!trial.backlashRound.empty()) extra["wave"] = waveJson(stepReadings(trial.backlashRound));
        trials[trial.stamp.id] = std::move(extra);
    }
    json path = json::object();
    for (const Side side : kSides) {
        const std::vector<PathStop>& stops = paths[index(side)];
        path[name(side)] =
            stops.empty()
                ? json(nullptr)
                : json(patternPathSvg(say("server.sketch-path", text(titleOf(side))), stops, zones[index(side)]).str());
    }
    json waves = json::object();
    for (const BacklashEntry& entry : job.backlashes) waves[entry.stamp.id] = waveJson(stepReadings(entry.points));
    json starts = json::object();
    for (const DepthEntry& entry : job.depths)
        if (const std::optional<StartShim> start = fittingStartOf(job, entry))
            starts[entry.stamp.id] = startJson(*start);
    json stop = nullptr;
    if (status.stop) stop = {{"step", status.stop->step}, {"found", numbered(status.stop->found, job)}};
    const SignOff* done = signedOff(job);
    const json view = {{"id", folder.filename().string()},
                       {"record", json::parse(writeJob(job))},
                       {"gear", gearJson(job.gearSet.data)},
                       {"joints", jointsJson(job)},
                       {"open_again", openAgainJson(job)},
                       {"status",
                        {{"next", numbered(status.next, job)},
                         {"stop", stop},
                         {"steps", stepsJson(status, job)},
                         {"attention", numbered(status.attention, job)},
                         {"cautions", texts(status.cautions)}}},
                       {"signed_off", done != nullptr},
                       {"warnings", opened.warnings},
                       {"trials", trials},
                       {"path", path},
                       {"waves", waves},
                       {"starts", starts}};
    return jsonText(view);
}

fs::path JobRepository::deletedGearSets() const { return gearSets_.front() / "deleted"; }

namespace {

std::optional<fs::path> gearSetIn(const fs::path& folder, std::string_view id) {
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder, error))
        if (entry.path().extension() == ".json" && !entry.is_symlink(error) &&
            JobRepository::ownId(entry.path().filename().string()) == id)
            return entry.path();
    return std::nullopt;
}

}  // namespace

std::optional<fs::path> JobRepository::findOwnGearSet(std::string_view id) const {
    return gearSetIn(ownGearSets(), id);
}

void JobRepository::moveOwnGearSet(std::string_view id, bool deleted) const {
    std::error_code error;
    fs::create_directories(deletedGearSets(), error);
    const fs::path from = deleted ? ownGearSets() : deletedGearSets(), to = deleted ? deletedGearSets() : ownGearSets();
    const std::optional<fs::path> file = gearSetIn(from, id);
    if (!file) {
        if (gearSetIn(to, id)) return;
        throw InputError(message("server.no-such-gear-set"));
    }
    fs::rename(*file, to / file->filename(), error);
    if (error) throw InputError(message("server.folder-not-used", to.string(), error.message()));
}

std::vector<OfferedGearSet> JobRepository::gearSets() const {
    std::vector<OfferedGearSet> found;
    // The shop's own folders first; then what was typed at the bench, the newest of it.
    for (std::size_t turn = 0; turn < gearSets_.size(); ++turn) {
        const std::size_t place = (turn + 1) % gearSets_.size();
        std::vector<fs::path> files;
        std::error_code error;
        // What was typed at the bench is no link; what the shop chose to offer may be.
        for (const fs::directory_entry& entry : fs::directory_iterator(gearSets_[place], error))
            if (entry.path().extension() == ".json" && entry.is_regular_file(error) &&
                (place != 0 || !entry.is_symlink(error)))
                files.push_back(entry.path());
        std::sort(files.begin(), files.end());
        if (place == 0) putNewestFirst(files);
        if (files.size() > kMaxGearSets) files.resize(kMaxGearSets);
        for (const fs::path& file : files) {
            OfferedGearSet one;
            one.id = std::to_string(place) + "/" + file.filename().string();
            one.file = file;
            one.own = place == 0;
            try {
                one.name = readGearSetFile(file).data.name;
            } catch (const InputError& problem) {
                one.fault = withoutFolders(problem.what(), gearSets_[place]);
            }
            found.push_back(std::move(one));
        }
    }
    return found;
}

std::string JobRepository::gearSetList() const {
    json list = json::array();
    for (const OfferedGearSet& one : gearSets()) {
        json entry = {
            {"id", one.id}, {"name", one.name}, {"fault", one.fault.empty() ? json(nullptr) : json(one.fault)}};
        entry["own"] = one.own;
        if (one.fault.empty()) {
            const JobGearSet set = jobGearSet(one.file);
            entry["gear"] = gearJson(set.data);
            if (one.own) entry["typed"] = typedJson(json::parse(set.document));
        }
        list.push_back(std::move(entry));
    }
    json deleted = json::array();
    std::error_code error;
    for (const fs::directory_entry& file : fs::directory_iterator(deletedGearSets(), error)) try {
            if (file.path().extension() != ".json" || deleted.size() >= kMaxGearSets) continue;
            deleted.push_back(
                {{"id", ownId(file.path().filename().string())}, {"name", readGearSetFile(file.path()).data.name}});
        } catch (const InputError&) {
            continue;
        }
    return jsonText({{"gear_sets", list}, {"deleted", deleted}});
}

}  // namespace shimsight::server
