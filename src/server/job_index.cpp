// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/job_index.h"

#include <algorithm>
#include <cctype>
#include <set>
#include <sstream>

#include "server/guard.h"
#include "server/json_text.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/version.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::int64_t kMaxIndexBytes = 40'000'000;  ///< 20,000 lines of a kilobyte, twice over
constexpr std::size_t kDay = 10;                     ///< "2026-03-02"

std::string small(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

}  // namespace

JobIndex::JobIndex(fs::path jobs, fs::path file) : jobs_(std::move(jobs)), file_(std::move(file)) {
    try {
        const std::vector<std::uint8_t> bytes = readFile(file_, kMaxIndexBytes);
        const json document = json::parse(bytes.begin(), bytes.end());
        // Sentences and fields are those of the version that wrote them.
        if (document.at("version") != SHIMSIGHT_VERSION) return;
        for (const auto& [name, line] : document.at("jobs").items())
            lines_[name] = {line.at("tag"), line.at("words"), line.at("shown")};
    } catch (const InputError&) {
        return;  // none yet
    } catch (const json::exception&) {
        lines_.clear();
    }
}

JobIndex::~JobIndex() { keep(); }

JobIndex::Line JobIndex::lineOf(const fs::path& folder, const std::string& tag) const {
    Line line;
    line.tag = tag;
    json& shown = line.shown;
    shown = {{"id", folder.filename().string()}, {"fault", nullptr}};
    line.words = folder.filename().string();
    try {
        checkStaysInside(jobs_, folder);
        const JobRecord job = openJob(folder).record;
        const JobStatus status = jobStatus(job);
        std::size_t trials = 0;
        for (const TrialEntry& trial : job.trials) trials += trial.stamp.counts();
        shown["axle"] = job.axle;
        shown["customer"] = job.customer;
        shown["set_up_by"] = job.setUpBy;
        shown["gear_set"] = {{"name", job.gearSet.data.name},
                             {"teeth", {job.gearSet.data.pinionTeeth, job.gearSet.data.ringTeeth}}};
        shown["changed_at"] = job.changedAt;
        shown["changed_s"] = secondsOf(job.changedAt);
        shown["trials"] = trials;
        shown["signed_off"] = signedOff(job) != nullptr;
        shown["next"] = text(withTrialNumbers(status.next, job));
        const auto step = std::find_if(status.steps.begin(), status.steps.end(),
                                       [](const JobStep& one) { return one.state == StepState::Next; });
        shown["step"] = step == status.steps.end() ? json(nullptr) : json(step->title);
        for (const std::string& more : {job.axle, job.customer, job.setUpBy, job.gearSet.data.name})
            line.words += "\n" + more;
    } catch (const InputError& error) {
        shown["fault"] = withoutFolders(error.what(), jobs_);
        shown["changed_s"] = 0;
    }
    line.words = small(std::move(line.words));
    return line;
}

void JobIndex::refresh(const std::vector<fs::path>& folders) {
    std::set<std::string> there;
    for (const fs::path& folder : folders) {
        const std::string name = folder.filename().string(), tag = JobRepository::tagOf(folder);
        there.insert(name);
        const auto known = lines_.find(name);
        if (known != lines_.end() && known->second.tag == tag) continue;
        lines_[name] = lineOf(folder, tag);
        kept_ = false;
    }
    if (std::erase_if(lines_, [&](const auto& one) { return !there.contains(one.first); }) > 0) kept_ = false;
}

void JobIndex::changed(const fs::path& folder) {
    const std::lock_guard lock(guard_);
    lines_[folder.filename().string()] = lineOf(folder, JobRepository::tagOf(folder));
    kept_ = false;
}

/// What is not kept is only made anew: a failing disk does no harm.
void JobIndex::keep() {
    if (kept_) return;
    json jobs = json::object();
    for (const auto& [name, line] : lines_)
        jobs[name] = {{"tag", line.tag}, {"words", line.words}, {"shown", line.shown}};
    const std::string text = jsonText({{"version", SHIMSIGHT_VERSION}, {"jobs", std::move(jobs)}});
    try {
        writeFileAtomically(file_, std::vector<std::uint8_t>(text.begin(), text.end()));
        kept_ = true;
    } catch (const InputError&) {
        return;
    }
}

std::string JobIndex::list(const std::vector<fs::path>& folders, const JobSearch& search) {
    const std::lock_guard lock(guard_);
    const std::size_t former = lines_.size();
    refresh(folders);
    // After a start with much that is new; else the end of the program keeps it.
    constexpr std::size_t kMany = 50;
    if (lines_.size() > former + kMany) keep();
    std::vector<std::string> words;
    std::istringstream asked(small(search.words));
    for (std::string word; asked >> word;) words.push_back(word);
    std::vector<const Line*> found;
    std::size_t open = 0;
    for (const auto& entry : lines_) {
        const Line& line = entry.second;
        const bool signedOff = line.shown.value("signed_off", false);
        open += !signedOff;
        if (search.signedOff && *search.signedOff != signedOff) continue;
        const std::string day = line.shown.value("changed_at", std::string()).substr(0, kDay);
        if ((!search.from.empty() && day < search.from) || (!search.to.empty() && day > search.to)) continue;
        if (std::all_of(words.begin(), words.end(),
                        [&](const std::string& word) { return line.words.find(word) != std::string::npos; }))
            found.push_back(&line);
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const Line* a, const Line* b) { return a->shown.at("changed_s") > b->shown.at("changed_s"); });
    json jobs = json::array();
    for (std::size_t i = search.skip; i < found.size() && (!search.limit || jobs.size() < *search.limit); ++i)
        jobs.push_back(found[i]->shown);
    return jsonText(
        {{"jobs", std::move(jobs)}, {"found", found.size()}, {"open", open}, {"signed_off", lines_.size() - open}});
}

}  // namespace shimsight::server
