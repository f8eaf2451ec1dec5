#include "shimsight/review.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <cmath>
#include <system_error>

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
            throw InputError(say("cli.another-review-writes", part_));
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
        throw InputError(say("cli.file-not-written", name_, std::generic_category().message(code)));
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
    if (seconds < 90) return printed("%.0f s", std::ceil(seconds));
    if (seconds < 5400) return printed("%.0f min", std::ceil(seconds / 60));
    return printed("%.1f h", seconds / 3600);
}

std::string progressText(const ReviewProgress& progress) {
    std::string text = say("cli.photo-of", progress.photosDone, progress.photosTotal);
    if (progress.fromCache > 0) text += ", " + say("cli.known-from-before", progress.fromCache);
    if (progress.secondsLeft >= 0) text += ", " + say("cli.time-left", timeText(progress.secondsLeft));
    return text;
}

}  // namespace

int runReviewCommand(const std::vector<std::string>& words) {
    std::vector<std::string> folders;
    std::optional<std::string> gearSetName, csvName, jsonName, htmlName, cacheName, partText;
    std::optional<int> jobs;
    bool noCache = false;
    Args args("review",
              "Reads any number of jobs, or any folder of photos, and shows what was found, advised and done.");
    args.words("FOLDER", folders, 1, "jobs, or folders of jobs or photos");
    args.text("--gear-set", gearSetName, "FILE", "gear set of the photos that belong to no job");
    args.text("--csv", csvName, "FILE", "write a table, one line a trial");
    args.text("--json", jsonName, "FILE",
              "write one JSON object a line (models/schemas/review-1.schema.json); - is the standard output");
    args.text("--html", htmlName, "FILE", "write a page to look at: one file, photos and sketches inside");
    args.text("--cache", cacheName, "DIR", "keep what was read here (else in shimsight/review of the user's cache)");
    args.flag("--no-cache", noCache, "keep nothing, and read everything anew");
    args.integer("--jobs", jobs, 1, kMaxJobs, "photos read at the same time (else as many as there are processors)");
    args.text("--part", partText, "I/N", "only the I-th of N parts: the work for several processes or machines");
    args.footer(kReviewFooter);
    if (!args.parse(words)) return kDone;
    if (noCache && cacheName) throw UsageError(say("cli.options-exclude", "--cache", "--no-cache"));

    std::optional<GearSetFile> gearSet;
    if (gearSetName) gearSet = openGearSet(*gearSetName);
    ReviewPlan plan = planReview({folders.begin(), folders.end()});
    if (partText) {
        const auto [part, parts] = partOfText(*partText);
        plan = partOf(std::move(plan), part, parts);
    }
    ReviewOptions options;
    if (gearSet) options.gearSet = &gearSet->data;
    if (!noCache) options.cache = cacheName ? std::filesystem::path(*cacheName) : defaultReviewCache();
    options.jobs = jobs.value_or(0);
    Progress progress;
    options.progress = [&](const ReviewProgress& now) { progress.show(progressText(now)); };

    const bool toStandardOutput = jsonName && *jsonName == "-";
    for (const auto& name : {csvName, htmlName, toStandardOutput ? std::nullopt : jsonName})
        if (name) checkOutput(*name);
    std::optional<LinesFile> json, csv;
    if (jsonName && !toStandardOutput) json.emplace(*jsonName);
    if (csvName) csv.emplace(*csvName);
    if (csv) csv->add(reviewCsvHeader());
    std::optional<ReviewPages> pages;
    if (htmlName) pages.emplace(*htmlName);

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
        printText(reviewTable(job));
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
    note(say(partText ? "cli.nothing-to-review-in-part" : "cli.nothing-to-review"));
    return partText ? kDone : kCannot;
}

}  // namespace shimsight::cli
