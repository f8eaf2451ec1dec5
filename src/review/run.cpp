// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <exception>
#include <map>
#include <memory>
#include <mutex>
#include <thread>

#include "review/judge.h"
#include "review/merge.h"
#include "review/plan.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/review.h"
#include "shimsight/words.h"

namespace fs = std::filesystem;

namespace shimsight {
namespace {

using Clock = std::chrono::steady_clock;

/// Photos that may be read before their turn to be handed on, for each worker: bounds what is held in memory.
constexpr std::size_t kAhead = 4;
/// Photos before the time left is told.
constexpr std::size_t kFewPhotos = 3;
constexpr auto kShowEvery = std::chrono::milliseconds(250);
/// A flank map has 32 kB.
constexpr std::int64_t kMaxMapBytes = 10'000'000;

/// One photo of the plan.
struct Item {
    std::size_t unit = 0;
    std::size_t photo = 0;  ///< place in the unit
};

/// What became of it.
struct MeasuredItem {
    KeptPhotos read;
    std::string problem;  ///< why there is no result at all; else empty
};

std::string faultText(const std::exception& fault) { return say("review.fault-of-program", fault.what()); }

/// Job records of the units in work.
class Records {
public:
    explicit Records(const ReviewPlan& plan) : plan_(&plan) {}

    /// Throws InputError when the record cannot be read any more.
    std::shared_ptr<const JobRecord> of(std::size_t unit) {
        const std::lock_guard lock(guard_);
        std::shared_ptr<const JobRecord>& kept = records_[unit];
        if (!kept) kept = std::make_shared<const JobRecord>(openJob(plan_->units[unit].folder).record);
        return kept;
    }
    void drop(std::size_t unit) {
        const std::lock_guard lock(guard_);
        records_.erase(unit);
    }

private:
    const ReviewPlan* plan_;
    std::mutex guard_;
    std::map<std::size_t, std::shared_ptr<const JobRecord>> records_;
};

std::vector<const TrialEntry*> countingTrials(const JobRecord& record) {
    std::vector<const TrialEntry*> trials;
    for (const TrialEntry& trial : record.trials)
        if (trial.stamp.counts()) trials.push_back(&trial);
    return trials;
}

/// What the record says of the photos of a trial.
PhotosRequest requestOf(const JobRecord& record, const fs::path& folder, const TrialEntry& trial) {
    PhotosRequest request;
    request.gearSet = &record.gearSet.data;
    request.side = trial.side;
    request.marking = trial.marking;
    for (const JobPhoto& photo : trial.photos) {
        request.files.push_back(folder / photo.file);
        std::vector<FlankOutline> outlines;
        for (const PhotoOutline& flank : trial.outlines)
            if (flank.photo == photo.file) outlines.push_back(flank.outline);
        request.outlines.push_back(std::move(outlines));
    }
    return request;
}

PhotosRequest onlyPhoto(const PhotosRequest& request, std::size_t photo) {
    PhotosRequest one = request;
    one.files = {request.files.at(photo)};
    one.outlines.clear();
    if (photo < request.outlines.size()) one.outlines.push_back(request.outlines[photo]);
    return one;
}

/// Reads items in worker threads, no further ahead than kAhead for each, and gives them out in their order.
class PhotoWorkers {
public:
    PhotoWorkers(const ReviewPlan& plan, const ReviewOptions& options, Records& records)
        : plan_(&plan), options_(&options), records_(&records) {
        for (std::size_t u = 0; u < plan.units.size(); ++u)
            for (std::size_t p = 0; p < plan.units[u].photoCount; ++p) items_.push_back({u, p});
        const unsigned wanted =
            options.jobs > 0 ? static_cast<unsigned>(options.jobs) : std::max(1u, std::thread::hardware_concurrency());
        const std::size_t count = std::min<std::size_t>(wanted, std::max<std::size_t>(1, items_.size()));
        window_ = kAhead * count;
        for (std::size_t k = 0; k < count; ++k) threads_.emplace_back([this] { work(); });
    }
    ~PhotoWorkers() {
        {
            const std::lock_guard lock(guard_);
            stop_ = true;
        }
        room_.notify_all();
        for (std::thread& thread : threads_) thread.join();
    }
    PhotoWorkers(const PhotoWorkers&) = delete;
    PhotoWorkers& operator=(const PhotoWorkers&) = delete;

    /// The next item's result. `wait` is called four times a second while it is not there yet.
    MeasuredItem next(const std::function<void()>& wait) {
        std::unique_lock lock(guard_);
        while (!done_.contains(given_)) {
            if (ready_.wait_for(lock, kShowEvery) == std::cv_status::timeout) {
                lock.unlock();
                wait();
                lock.lock();
            }
        }
        MeasuredItem item = std::move(done_.at(given_));
        done_.erase(given_++);
        lock.unlock();
        room_.notify_all();
        return item;
    }

    ReviewProgress progress() {
        const std::lock_guard lock(guard_);
        ReviewProgress progress{given_ + done_.size(), items_.size(), fromCache_, -1};
        const std::size_t readNow = progress.photosDone - fromCache_;
        const double seconds = std::chrono::duration<double>(Clock::now() - start_).count();
        if (readNow >= kFewPhotos)
            progress.secondsLeft =
                seconds / static_cast<double>(readNow) * static_cast<double>(items_.size() - progress.photosDone);
        return progress;
    }

private:
    const ReviewPlan* plan_;
    const ReviewOptions* options_;
    Records* records_;
    std::vector<Item> items_;
    std::size_t window_ = 0;
    Clock::time_point start_ = Clock::now();
    std::mutex guard_;
    std::condition_variable ready_, room_;
    std::map<std::size_t, MeasuredItem> done_;
    std::size_t taken_ = 0, given_ = 0, fromCache_ = 0;
    bool stop_ = false;
    std::vector<std::thread> threads_;

    void work() {
        std::unique_lock lock(guard_);
        while (true) {
            room_.wait(lock, [&] { return stop_ || taken_ >= items_.size() || taken_ < given_ + window_; });
            if (stop_ || taken_ >= items_.size()) return;
            const std::size_t at = taken_++;
            lock.unlock();
            MeasuredItem item = read(items_[at]);
            lock.lock();
            fromCache_ += static_cast<std::size_t>(item.read.fromCache);
            done_.emplace(at, std::move(item));
            ready_.notify_all();
        }
    }

    MeasuredItem read(const Item& item) const {
        MeasuredItem out;
        try {
            out.read = readPhotos(request(item), options_->cache);
        } catch (const InputError& why) {
            out.problem = why.what();
        } catch (const std::bad_alloc&) {
            out.problem = say("review.not-enough-memory");
        } catch (const std::exception& fault) {
            out.problem = faultText(fault);
        }
        return out;
    }

    PhotosRequest request(const Item& item) const {
        const ReviewUnit& unit = plan_->units[item.unit];
        if (!unit.isJob) {
            PhotosRequest request;
            request.gearSet = options_->gearSet;
            request.files = {unit.folder / unit.photos.at(item.photo)};
            return request;
        }
        const std::shared_ptr<const JobRecord> record = records_->of(item.unit);
        std::size_t before = 0;
        for (const TrialEntry* trial : countingTrials(*record)) {
            if (item.photo < before + trial->photos.size()) {
                PhotosRequest one = onlyPhoto(requestOf(*record, unit.folder, *trial), item.photo - before);
                // The record must live as long as it is read by; the gear set is copied once for each thread.
                static thread_local GearSetData gearSet;
                gearSet = record->gearSet.data;
                one.gearSet = &gearSet;
                return one;
            }
            before += trial->photos.size();
        }
        throw InputError(message("review.record-changed"));
    }
};

/// A side whose pattern was drawn by hand; the pattern of the record with the drawn map.
void addDrawn(ReviewedTrial& trial, const TrialEntry& entry, const fs::path& folder) {
    for (const Side side : kSides) {
        const auto& file = side == Side::Drive ? entry.drawnDrive : entry.drawnCoast;
        const auto& pattern = side == Side::Drive ? entry.measurement->drive : entry.measurement->coast;
        if (!pattern) continue;
        KeptSide read{*pattern, {}};
        trial.drawn[index(side)] = true;
        try {
            if (file) {
                GreyPicture map = decodePngGrey(readFile(folder / *file, kMaxMapBytes));
                if (map.width == kMapWidth && map.height == kMapHeight) read.map.contact = std::move(map.values);
            }
        } catch (const InputError&) {
            // The pattern's numbers are in the record all the same.
        }
        trial.kept.sides[index(side)] = std::move(read);
    }
}

void addRefusals(ReviewedJob& job, const ReviewedTrial& trial) {
    for (const KeptPhoto& photo : trial.kept.photos) {
        if (!photo.refused) continue;
        job.leftOut.push_back({photo.file + (photo.originalName.empty() ? "" : " (" + photo.originalName + ")"),
                               text(photo.refused->reason) + " " + text(photo.refused->whatToDo)});
    }
}

/// The photos of a trial put together; the ones that could not be read at all are left out.
KeptPhotos together(std::vector<MeasuredItem>& items, const std::vector<fs::path>& files, ReviewedJob& job) {
    std::vector<KeptPhotos> parts;
    for (std::size_t i = 0; i < items.size(); ++i) {
        if (items[i].problem.empty())
            parts.push_back(std::move(items[i].read));
        else
            job.leftOut.push_back({files[i].string(), review::without(items[i].problem, files[i].string() + ": ")});
    }
    KeptPhotos all = review::merged(std::move(parts));
    all.measured.clear();
    return all;
}

void judged(ReviewedJob& job, const std::function<void()>& judge) {
    try {
        judge();
    } catch (const InputError& why) {
        job.leftOut.push_back({job.name, say("review.trials-not-judged", why.what())});
    } catch (const std::logic_error& fault) {
        job.leftOut.push_back({job.name, faultText(fault)});
    }
}

/// One job with a record, from its photos in order.
ReviewedJob jobWithRecord(const fs::path& folder, const JobRecord& record, std::vector<MeasuredItem> items) {
    ReviewedJob job;
    job.name = folder.string();
    job.hasRecord = true;
    job.groupedBy = GroupedBy::Record;
    job.gearSetName = record.gearSet.data.name;
    job.axle = record.axle;
    job.customer = record.customer;
    job.setUpBy = record.setUpBy;
    std::size_t at = 0;
    for (const TrialEntry* entry : countingTrials(record)) {
        ReviewedTrial trial;
        trial.id = entry->stamp.id;
        trial.label = entry->stamp.id.starts_with('t') ? entry->stamp.id.substr(1) : entry->stamp.id;
        trial.at = entry->stamp.at;
        const std::vector<fs::path> files = requestOf(record, folder, *entry).files;
        std::vector<MeasuredItem> own;
        for (std::size_t k = 0; k < entry->photos.size() && at < items.size(); ++k)
            own.push_back(std::move(items[at++]));
        if (own.size() == entry->photos.size()) trial.kept = together(own, files, job);
        for (KeptPhoto& photo : trial.kept.photos)
            for (const JobPhoto& kept : entry->photos) {
                if (photo.file != (folder / kept.file).string()) continue;
                photo.originalName = kept.originalName;
                if (!photo.takenAt) photo.takenAt = kept.takenAt;
            }
        if (entry->origin == PatternOrigin::Drawn && entry->measurement) {
            trial.kept.sides = {};
            addDrawn(trial, *entry, folder);
        }
        trial.backlashMm = entry->backlashMm;
        if (!trial.backlashMm && !entry->backlashRound.empty()) trial.backlashMm = meanOf(entry->backlashRound);
        trial.shimStackMm = entry->shimStackMm;
        trial.changed = entry->changed;
        trial.why = entry->why;
        if (entry->origin != PatternOrigin::Drawn) addRefusals(job, trial);
        job.trials.push_back(std::move(trial));
    }
    judged(job, [&] {
        job.gearSet = completeGearSet(record.gearSet.data);
        review::judgeWithRecord(job, record);
    });
    return job;
}

/// One trial of photos without a record. `apart`: why it is none with the photos before; empty where nothing speaks
/// against that.
ReviewedJob jobOfPhotos(const ReviewUnit& unit, std::vector<std::string> names, std::vector<MeasuredItem> items,
                        const ReviewOptions& options, const std::string& apart) {
    ReviewedJob job;
    job.name = unit.folder.string();
    job.groupedBy = unit.byTime ? GroupedBy::TimeAndSide : GroupedBy::NameAndSide;
    std::vector<fs::path> files;
    for (const std::string& name : names) files.push_back(unit.folder / name);
    ReviewedTrial trial;
    trial.id = names.front();
    trial.kept = together(items, files, job);
    if (!apart.empty()) trial.findings.push_back({FindingKind::Apart, apart, false});
    for (const KeptPhoto& photo : trial.kept.photos)
        if (photo.takenAt && (trial.at.empty() || *photo.takenAt < trial.at)) trial.at = *photo.takenAt;
    trial.label = unit.byTime && !trial.at.empty() ? trial.at : names.front();
    addRefusals(job, trial);
    job.trials.push_back(std::move(trial));
    judged(job, [&] {
        if (options.gearSet != nullptr) {
            job.gearSetName = options.gearSet->name;
            job.gearSet = completeGearSet(*options.gearSet);
        }
        review::judgeAlone(job, options.gearSet);
    });
    return job;
}

class Counter {
public:
    Counter(ReviewSummary& summary, const std::function<void(const ReviewedJob&)>& take)
        : summary_(&summary), take_(&take) {}
    void give(const ReviewedJob& job) {
        ++summary_->jobs;
        summary_->trials += job.trials.size();
        summary_->looksWrong += job.looksWrong() ? 1 : 0;
        for (const ReviewedTrial& trial : job.trials) {
            summary_->fromCache += static_cast<std::size_t>(trial.kept.fromCache);
            for (const KeptPhoto& photo : trial.kept.photos) summary_->photosRead += photo.refused ? 0 : 1;
        }
        summary_->leftOut.insert(summary_->leftOut.end(), job.leftOut.begin(), job.leftOut.end());
        (*take_)(job);
    }

private:
    ReviewSummary* summary_;
    const std::function<void(const ReviewedJob&)>* take_;
};

/// The photos of a trial without a record, as far as they have come.
struct Gathering {
    std::vector<std::string> names;
    std::vector<MeasuredItem> items;
    std::vector<std::optional<Side>> sides;
    std::string apart;  ///< why it is none with the photos before
};

/// What a photo says by itself; null where it could not be read.
const MeasuredPhoto* saidBy(const MeasuredItem& item) {
    return item.problem.empty() && !item.read.measured.empty() ? &item.read.measured.front() : nullptr;
}

/// A sentence where the photo clearly shows another gear or compound than one of those gathered; else empty.
std::string whyNotAmong(const Gathering& trial, const std::string& name, const MeasuredItem& item) {
    const MeasuredPhoto* said = saidBy(item);
    for (std::size_t k = 0; said != nullptr && k < trial.items.size(); ++k) {
        const MeasuredPhoto* before = saidBy(trial.items[k]);
        const review::Apart why = before != nullptr ? review::whyApart(*before, *said) : review::Apart::No;
        if (why != review::Apart::No)
            return say(why == review::Apart::OtherGear ? "review.apart-other-gear" : "review.apart-other-compound",
                       name, trial.names[k]);
    }
    return "";
}

/// Photos without a record, as they come: a trial is handed on when the next one begins.
void reviewPhotos(const ReviewUnit& unit, const ReviewOptions& options, const std::function<MeasuredItem()>& next,
                  Counter& counter) {
    Gathering trial;
    const auto give = [&] {
        if (!trial.names.empty())
            counter.give(jobOfPhotos(unit, std::move(trial.names), std::move(trial.items), options, trial.apart));
        trial = {};
    };
    for (const std::string& name : unit.photos) {
        MeasuredItem item = next();
        const std::optional<Side> side =
            item.problem.empty() && !item.read.photos.empty() ? item.read.photos.front().side() : std::nullopt;
        std::vector<std::optional<Side>> sides = trial.sides;
        sides.push_back(side);
        std::string apart = whyNotAmong(trial, name, item);
        if (!apart.empty() || review::trialStarts(sides).size() > 1) {
            give();
            trial.apart = std::move(apart);
        }
        trial.sides.push_back(side);
        trial.names.push_back(name);
        trial.items.push_back(std::move(item));
    }
    give();
}

}  // namespace

ReviewSummary runReview(const ReviewPlan& plan, const ReviewOptions& options,
                        const std::function<void(const ReviewedJob&)>& take) {
    ReviewSummary summary;
    summary.photos = plan.photoCount();
    summary.leftOut = plan.leftOut;
    Records records(plan);
    PhotoWorkers workers(plan, options, records);
    Counter counter(summary, take);
    const auto show = [&] {
        if (options.progress) options.progress(workers.progress());
    };
    const auto next = [&] {
        MeasuredItem item = workers.next(show);
        show();
        return item;
    };
    for (std::size_t u = 0; u < plan.units.size(); ++u) {
        const ReviewUnit& unit = plan.units[u];
        if (!unit.isJob) {
            reviewPhotos(unit, options, next, counter);
            continue;
        }
        std::vector<MeasuredItem> items;
        for (std::size_t p = 0; p < unit.photoCount; ++p) items.push_back(next());
        try {
            const std::shared_ptr<const JobRecord> record = records.of(u);
            counter.give(jobWithRecord(unit.folder, *record, std::move(items)));
        } catch (const InputError& why) {
            summary.leftOut.push_back({unit.folder.string(), review::without(why.what(), unit.folder.string() + ": ")});
        }
        records.drop(u);
    }
    return summary;
}

ReviewedJob reviewJob(const fs::path& folder, const fs::path& cache) {
    const JobRecord record = openJob(folder).record;
    ReviewPlan plan;
    plan.units.emplace_back();
    plan.units.back().folder = folder;
    plan.units.back().isJob = true;
    for (const TrialEntry* trial : countingTrials(record)) plan.units.back().photoCount += trial->photos.size();
    ReviewOptions options;
    options.cache = cache;
    ReviewedJob job;
    runReview(plan, options, [&](const ReviewedJob& reviewed) { job = reviewed; });
    return job;
}

}  // namespace shimsight
