// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/review.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <chrono>
#include <cmath>
#include <ctime>
#include <fstream>
#include <system_error>
#include <thread>
#include <tuple>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

constexpr int kMaxJobs = 256;
constexpr int kMaxParts = 100'000;

constexpr const char* kReviewFooter =
    "A folder may hold jobs (folders with a job.json), photos, or further folders. Photos of a job belong to the trial "
    "that its record says. Other photos are grouped by the camera's time (more than 10 minutes apart: another trial) "
    "and "
    "by side (a side that comes again after the other one: another trial); those without a time in the order of their "
    "names.\n"
    "What was read is kept in a cache by the photos' content, so a review that was interrupted goes on where it "
    "stopped.";

/// A file of results that grows line by line: NAME.part until all is there, then NAME.
class LinesFile {
public:
    explicit LinesFile(std::string name) : name_(std::move(name)), part_(name_ + ".part") {
        file_ = ::open(part_.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0666);
        if (file_ < 0) cannot(errno);
        // What an interrupted review left is written over; two reviews at once must not mix.
        if (::flock(file_, LOCK_EX | LOCK_NB) != 0) {
            ::close(file_);
            throw InputError(message("cli.another-review-writes", part_));
        }
        if (::ftruncate(file_, 0) != 0) cannot(errno);
    }
    ~LinesFile() {
        if (file_ < 0) return;
        ::close(file_);
        ::unlink(part_.c_str());
    }
    LinesFile(const LinesFile&) = delete;
    LinesFile& operator=(const LinesFile&) = delete;

    void add(const std::string& text) {
        for (std::size_t at = 0; at < text.size();) {
            const ssize_t written = ::write(file_, text.data() + at, text.size() - at);
            if (written < 0 && errno == EINTR) continue;
            if (written < 0) cannot(errno);
            at += static_cast<std::size_t>(written);
        }
    }
    void finish() {
        if (::fsync(file_) != 0) cannot(errno);
        if (::rename(part_.c_str(), name_.c_str()) != 0) cannot(errno);
        ::close(file_);
        file_ = -1;
    }

private:
    std::string name_, part_;
    int file_ = -1;

    [[noreturn]] void cannot(int code) const {
        throw InputError(message("cli.file-not-written", name_, std::generic_category().message(code)));
    }
};

/// "2/5".
std::pair<int, int> partOfText(const std::string& text) {
    int part = 0, parts = 0;
    const char *begin = text.data(), *end = begin + text.size();
    const auto first = std::from_chars(begin, end, part);
    if (first.ec == std::errc() && first.ptr != end && *first.ptr == '/') {
        const auto second = std::from_chars(first.ptr + 1, end, parts);
        if (second.ec == std::errc() && second.ptr == end && part >= 1 && part <= parts && parts <= kMaxParts)
            return {part, parts};
    }
    throw UsageError(say("cli.not-a-part", text.substr(0, 40)));
}

std::string timeText(double seconds) {
    if (seconds < 90) return formatted("%.0f s", std::ceil(seconds));
    if (seconds < 5400) return formatted("%.0f min", std::ceil(seconds / 60));
    return formatted("%.1f h", seconds / 3600);
}

std::string progressText(const ReviewProgress& progress) {
    std::string text = say("cli.photo-of", progress.photosDone, progress.photosTotal);
    if (progress.fromCache > 0) text += ", " + say("cli.known-from-before", progress.fromCache);
    if (progress.secondsLeft >= 0) text += ", " + say("cli.time-left", timeText(progress.secondsLeft));
    return text;
}

/// What is asked for on the command line.
struct ReviewAsked {
    std::vector<std::string> folders;
    std::optional<std::string> gearSet, csv, json, html, cache, part, list, since;
    std::optional<int> jobs, every;
    bool noCache = false, watch = false;
    bool toStandardOutput() const { return json && *json == "-"; }
};

void describe(Args& args, ReviewAsked& asked) {
    args.words("FOLDER", asked.folders, 0, "jobs, or folders of jobs or photos");
    args.text("--list", asked.list, "FILE", "more folders, one a line; - is the standard input");
    args.text("--since", asked.since, "DATE", "only where something was written on this day or later: 2026-11-02");
    args.text("--gear-set", asked.gearSet, "FILE", "gear set of the photos that belong to no job");
    args.text("--csv", asked.csv, "FILE", "write a table, one line a trial");
    args.text("--json", asked.json, "FILE",
              "write one JSON object a line (models/schemas/review-1.schema.json); - is the standard output");
    args.text("--html", asked.html, "FILE", "write a page to look at: one file, photos and sketches inside");
    args.text("--cache", asked.cache, "DIR", "keep what was read here (else in shimsight/review of the user's cache)");
    args.flag("--no-cache", asked.noCache, "keep nothing, and read everything anew");
    args.integer("--jobs", asked.jobs, 1, kMaxJobs,
                 "photos read at the same time (else as many as there are processors)");
    args.text("--part", asked.part, "I/N", "only the I-th of N parts: the work for several processes or machines");
    args.flag("--watch", asked.watch, "stay, and read what arrives in the folders, until Ctrl-C");
    args.integer("--every", asked.every, 1, 3600,
                 "with --watch: seconds from one look at the folders to the next (else 10)");
    args.footer(kReviewFooter);
}

void checkAsked(const ReviewAsked& asked) {
    if (asked.noCache && asked.cache) throw UsageError(say("cli.options-exclude", "--cache", "--no-cache"));
    if (asked.folders.empty() && !asked.list) throw UsageError(say("cli.no-folder-to-review"));
    if (asked.every && !asked.watch) throw UsageError(say("cli.option-needs", "--every", "--watch"));
    if (!asked.watch) return;
    for (const auto& [given, option] : {std::pair{asked.csv.has_value(), "--csv"},
                                        {asked.html.has_value(), "--html"},
                                        {asked.part.has_value(), "--part"},
                                        {asked.json && !asked.toStandardOutput(), "--json FILE"}})
        if (given) throw UsageError(say("cli.options-exclude", "--watch", option));
}

/// The folders named on the command line and in the list.
std::vector<std::filesystem::path> foldersOf(const ReviewAsked& asked) {
    std::vector<std::filesystem::path> folders(asked.folders.begin(), asked.folders.end());
    if (!asked.list) return folders;
    const std::string name = *asked.list == "-" ? "/dev/stdin" : *asked.list;
    std::ifstream list(name);
    if (!list) throw InputError(message("core.no-such-file"), *asked.list);
    for (std::string line; std::getline(list, line);) {
        if (!line.empty() && line.back() == '\r') line.pop_back();
        if (!line.empty()) folders.emplace_back(line);
    }
    return folders;
}

/// The start of a day of this computer's clock.
std::filesystem::file_time_type dayOf(const std::string& text) {
    std::tm day{};
    const char* end = strptime(text.c_str(), "%Y-%m-%d", &day);
    day.tm_isdst = -1;
    const std::time_t seconds = end != nullptr && *end == '\0' ? std::mktime(&day) : -1;
    if (seconds < 0) throw UsageError(say("cli.no-date", text.substr(0, 40)));
    const auto sinceNow = std::chrono::system_clock::from_time_t(seconds) - std::chrono::system_clock::now();
    return std::filesystem::file_time_type::clock::now() + sinceNow;
}

ReviewPlan planOf(const ReviewAsked& asked, const std::vector<std::filesystem::path>& folders) {
    ReviewPlan plan = planReview(folders);
    if (asked.since) plan = writtenSince(std::move(plan), dayOf(*asked.since));
    if (asked.part) {
        const auto [part, parts] = partOfText(*asked.part);
        plan = partOf(std::move(plan), part, parts);
    }
    return plan;
}

/// Looks into the folders again and again, and gives each job that arrived or changed.
[[noreturn]] void watch(const ReviewAsked& asked, const std::vector<std::filesystem::path>& folders,
                        const ReviewOptions& options, Progress& progress) {
    constexpr int kUsualPause = 10;
    ReviewWatch watching;
    note(say("cli.watching", asked.every.value_or(kUsualPause)));
    while (true) {
        const ReviewPlan arrived = watching.arrived(planOf(asked, folders));
        if (!arrived.units.empty())
            runReview(arrived, options, [&](const ReviewedJob& job) {
                progress.wipe();
                printText(asked.toStandardOutput() ? reviewLines(job) : reviewTable(job, shownUnits()));
                flushOutput();
            });
        std::this_thread::sleep_for(std::chrono::seconds(asked.every.value_or(kUsualPause)));
    }
}

}  // namespace

int runReviewCommand(const std::vector<std::string>& words) {
    ReviewAsked asked;
    Args args("review",
              "Reads any number of jobs, or any folder of photos, and shows what was found, advised and done.");
    describe(args, asked);
    if (!args.parse(words)) return kDone;
    checkAsked(asked);
    const auto& [csvName, jsonName, htmlName] = std::tie(asked.csv, asked.json, asked.html);
    std::optional<GearSetFile> gearSet;
    if (asked.gearSet) gearSet = openGearSet(*asked.gearSet);
    const std::vector<std::filesystem::path> folders = foldersOf(asked);
    ReviewOptions options;
    if (gearSet) options.gearSet = &gearSet->data;
    if (!asked.noCache) options.cache = asked.cache ? std::filesystem::path(*asked.cache) : defaultReviewCache();
    options.jobs = asked.jobs.value_or(0);
    Progress progress;
    options.progress = [&](const ReviewProgress& now) { progress.show(progressText(now)); };

    if (asked.watch) watch(asked, folders, options, progress);
    const ReviewPlan plan = planOf(asked, folders);
    const bool toStandardOutput = asked.toStandardOutput();
    for (const auto& name : {csvName, htmlName, toStandardOutput ? std::nullopt : jsonName})
        if (name) checkOutput(*name);
    std::optional<LinesFile> json, csv;
    if (jsonName && !toStandardOutput) json.emplace(*jsonName);
    if (csvName) csv.emplace(*csvName);
    if (csv) csv->add(reviewCsvHeader());
    std::optional<ReviewPages> pages;
    if (htmlName) pages.emplace(*htmlName, shownUnits());

    const auto giveLines = [&](const std::string& lines) {
        if (json) json->add(lines);
        if (!toStandardOutput) return;
        progress.wipe();
        printText(lines);
        // What is not taken is told at once, not after hours.
        flushOutput();
    };
    for (const LeftOut& out : plan.leftOut) giveLines(leftOutLine(out));
    const ReviewSummary summary = runReview(plan, options, [&](const ReviewedJob& job) {
        giveLines(reviewLines(job));
        if (csv) csv->add(reviewCsvRows(job));
        if (pages) pages->add(job);
        if (toStandardOutput) return;
        progress.wipe();
        printText(reviewTable(job, shownUnits()));
    });
    progress.wipe();
    if (json) json->finish();
    if (csv) csv->finish();
    std::vector<std::filesystem::path> written;
    if (pages) written = pages->finish(summary);
    if (!toStandardOutput) {
        printText(summaryText(summary));
        for (const std::filesystem::path& page : written) printText(say("cli.wrote", page.string()) + "\n");
    }
    if (summary.trials > 0) return kDone;
    note(say(asked.part    ? "cli.nothing-to-review-in-part"
             : asked.since ? "cli.nothing-since"
                           : "cli.nothing-to-review"));
    return asked.part || asked.since ? kDone : kCannot;
}

}  // namespace shimsight::cli
