// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "review/plan.h"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cerrno>
#include <chrono>
#include <cstdio>
#include <set>
#include <system_error>

#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/review.h"
#include "shimsight/words.h"

namespace fs = std::filesystem;

namespace shimsight {
namespace {

constexpr int kDeepest = 16;  ///< folders in one another
/// The notes of a JPEG stand in its first segments, at most 64 kB each.
constexpr std::size_t kNotesBytes = 256 * 1024;

/// Up to `most` bytes from the start of a plain file; empty when it cannot be read.
std::vector<std::uint8_t> firstBytes(const fs::path& file, std::size_t most) {
    std::vector<std::uint8_t> bytes(most);
    // Not blocking: opening a pipe that nobody writes to would wait for ever.
    const int number = ::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (number < 0) return {};
    std::size_t length = 0;
    while (length < bytes.size()) {
        const ssize_t got = ::read(number, bytes.data() + length, bytes.size() - length);
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) break;
        length += static_cast<std::size_t>(got);
    }
    ::close(number);
    bytes.resize(length);
    return bytes;
}

bool hasPhotoName(const fs::path& file) {
    std::string ending = file.extension().string();
    std::transform(ending.begin(), ending.end(), ending.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    for (const char* photo : {".jpg", ".jpeg", ".jpe", ".png", ".webp", ".heic", ".heif"})
        if (ending == photo) return true;
    return false;
}

std::optional<std::string> takenAtOf(const fs::path& file) {
    std::vector<std::uint8_t> bytes = firstBytes(file, kNotesBytes);
    if (photoFormatOf(bytes) != PhotoFormat::Jpeg && bytes.size() == kNotesBytes) {
        try {
            bytes = readFile(file, DecodeLimits{}.maxFileBytes);
        } catch (const InputError&) {
            return std::nullopt;
        }
    }
    return readCameraNotes(bytes).takenAt;
}

struct PlainPhoto {
    std::string name;
    std::optional<std::string> takenAt;
};

class Walk {
public:
    ReviewPlan plan;

    void into(const fs::path& folder, int depth) {
        std::error_code error;
        const fs::path real = fs::canonical(folder, error);
        if (error || !seen_.insert(real).second) return;
        if (isJobFolder(folder)) {
            addJob(folder);
            return;
        }
        std::vector<fs::path> folders;
        std::vector<std::string> files;
        fs::directory_iterator entries(folder, error);
        for (; !error && entries != fs::directory_iterator(); entries.increment(error)) {
            const std::string name = entries->path().filename().string();
            if (name.starts_with('.')) continue;
            std::error_code ignored;
            if (entries->is_symlink(ignored) && entries->is_directory(ignored)) continue;
            if (entries->is_directory(ignored))
                folders.push_back(entries->path());
            else
                files.push_back(name);
        }
        if (error) {
            plan.leftOut.push_back({folder.string(), say("review.folder-not-read", error.message())});
            return;
        }
        std::sort(files.begin(), files.end(), review::naturalLess);
        std::sort(folders.begin(), folders.end(),
                  [](const fs::path& a, const fs::path& b) { return review::naturalLess(a.string(), b.string()); });
        addPhotos(folder, files);
        if (depth >= kDeepest && !folders.empty()) {
            plan.leftOut.push_back({folder.string(), say("review.folders-too-deep")});
            return;
        }
        for (const fs::path& next : folders) into(next, depth + 1);
    }

private:
    std::set<fs::path> seen_;

    void addJob(const fs::path& folder) {
        try {
            const JobRecord job = openJob(folder).record;
            ReviewUnit unit;
            unit.folder = folder;
            unit.isJob = true;
            for (const TrialEntry& trial : job.trials) {
                if (!trial.stamp.counts()) continue;
                ++unit.trialCount;
                unit.photoCount += trial.photos.size();
            }
            if (unit.trialCount == 0)
                plan.leftOut.push_back({folder.string(), say("review.job-without-trial")});
            else
                plan.units.push_back(std::move(unit));
        } catch (const InputError& why) {
            plan.leftOut.push_back({folder.string(), review::without(why.what(), folder.string() + ": ")});
        }
    }

    void addPhotos(const fs::path& folder, const std::vector<std::string>& files) {
        std::vector<PlainPhoto> timed, untimed;
        for (const std::string& name : files) {
            const fs::path file = folder / name;
            const auto start = firstBytes(file, 64);
            if (!photoFormatOf(start)) {
                if (hasPhotoName(file))
                    plan.leftOut.push_back(
                        {file.string(), say(start.empty() ? "review.file-not-read" : "review.file-no-photo")});
                else
                    ++plan.otherFiles;
                continue;
            }
            PlainPhoto photo{name, takenAtOf(file)};
            (photo.takenAt ? timed : untimed).push_back(std::move(photo));
        }
        std::stable_sort(timed.begin(), timed.end(),
                         [](const PlainPhoto& a, const PlainPhoto& b) { return *a.takenAt < *b.takenAt; });
        for (std::size_t i = 0; i < timed.size(); ++i) {
            const auto gap = i > 0 ? review::minutesBetween(*timed[i - 1].takenAt, *timed[i].takenAt) : std::nullopt;
            if (!gap || *gap > kTrialGapMinutes) begin(folder, true);
            plan.units.back().photos.push_back(timed[i].name);
            ++plan.units.back().photoCount;
        }
        if (untimed.empty()) return;
        begin(folder, false);
        for (PlainPhoto& photo : untimed) plan.units.back().photos.push_back(std::move(photo.name));
        plan.units.back().photoCount = untimed.size();
    }

    void begin(const fs::path& folder, bool byTime) {
        plan.units.emplace_back();
        plan.units.back().folder = folder;
        plan.units.back().byTime = byTime;
    }
};

}  // namespace

namespace review {

bool naturalLess(const std::string& a, const std::string& b) {
    const auto digit = [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; };
    std::size_t i = 0, j = 0;
    while (i < a.size() && j < b.size()) {
        if (digit(a[i]) && digit(b[j])) {
            const auto endOf = [&](const std::string& text, std::size_t from) {
                while (from < text.size() && digit(text[from])) ++from;
                return from;
            };
            const std::size_t endA = endOf(a, i), endB = endOf(b, j);
            while (i + 1 < endA && a[i] == '0') ++i;
            while (j + 1 < endB && b[j] == '0') ++j;
            if (endA - i != endB - j) return endA - i < endB - j;
            const int order = a.compare(i, endA - i, b, j, endB - j);
            if (order != 0) return order < 0;
            i = endA, j = endB;
            continue;
        }
        if (a[i] != b[j]) return static_cast<unsigned char>(a[i]) < static_cast<unsigned char>(b[j]);
        ++i, ++j;
    }
    if (a.size() - i != b.size() - j) return a.size() - i < b.size() - j;
    return a < b;
}

std::optional<double> minutesBetween(const std::string& earlier, const std::string& later) {
    const auto minutes = [](const std::string& text) -> std::optional<double> {
        int y = 0, mo = 0, d = 0, h = 0, mi = 0, s = 0;
        if (std::sscanf(text.c_str(), "%4d-%2d-%2d %2d:%2d:%2d", &y, &mo, &d, &h, &mi, &s) != 6) return std::nullopt;
        const std::chrono::year_month_day day{std::chrono::year(y), std::chrono::month(static_cast<unsigned>(mo)),
                                              std::chrono::day(static_cast<unsigned>(d))};
        if (!day.ok()) return std::nullopt;
        return static_cast<double>(std::chrono::sys_days(day).time_since_epoch().count()) * 1440 + h * 60 + mi +
               s / 60.0;
    };
    const auto a = minutes(earlier), b = minutes(later);
    if (!a || !b) return std::nullopt;
    return *b - *a;
}

std::string without(std::string text, const std::string& start) {
    if (text.starts_with(start)) text.erase(0, start.size());
    return text;
}

}  // namespace review

std::size_t ReviewPlan::photoCount() const {
    std::size_t count = 0;
    for (const ReviewUnit& unit : units) count += unit.photoCount;
    return count;
}

ReviewPlan planReview(const std::vector<fs::path>& folders) {
    Walk walk;
    for (const fs::path& folder : folders) {
        std::error_code error;
        if (!fs::exists(folder, error)) throw InputError(message("review.no-such-folder", folder.string()));
        if (!fs::is_directory(folder, error)) throw InputError(message("review.no-folder", folder.string()));
        fs::path clean = folder.lexically_normal();
        if (!clean.has_filename() && clean.has_parent_path() && clean != clean.root_path()) clean = clean.parent_path();
        walk.into(clean, 0);
    }
    return std::move(walk.plan);
}

ReviewPlan partOf(ReviewPlan plan, int part, int parts) {
    check(parts >= 1 && part >= 1 && part <= parts, "partOf: no such part");
    std::vector<ReviewUnit> units;
    for (std::size_t i = 0; i < plan.units.size(); ++i)
        if (static_cast<int>(i % static_cast<std::size_t>(parts)) == part - 1)
            units.push_back(std::move(plan.units[i]));
    plan.units = std::move(units);
    if (part != 1) {
        plan.leftOut.clear();
        plan.otherFiles = 0;
    }
    return plan;
}

fs::file_time_type lastWritten(const ReviewUnit& unit) {
    std::error_code error;
    if (unit.isJob) return fs::last_write_time(unit.folder / "job.json", error);
    fs::file_time_type last = fs::file_time_type::min();
    for (const std::string& photo : unit.photos) {
        const fs::file_time_type one = fs::last_write_time(unit.folder / photo, error);
        if (!error) last = std::max(last, one);
    }
    return last;
}

ReviewPlan writtenSince(ReviewPlan plan, fs::file_time_type since) {
    std::erase_if(plan.units, [&](const ReviewUnit& unit) { return lastWritten(unit) < since; });
    return plan;
}

ReviewPlan ReviewWatch::arrived(const ReviewPlan& plan) {
    ReviewPlan out;
    for (const ReviewUnit& unit : plan.units) {
        const Seen now{lastWritten(unit), unit.photoCount + unit.photos.size() + unit.trialCount};
        const auto [known, isNew] = seen_.try_emplace(unit.folder.string(), now);
        if (isNew) continue;
        if (known->second.written != now.written || known->second.photos != now.photos) {
            known->second = now;
        } else if (!known->second.given) {
            known->second.given = true;
            out.units.push_back(unit);
        }
    }
    return out;
}

}  // namespace shimsight
