// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <map>

#include "job/words.h"
#include "shimsight/job.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// The photos of the trial in the folder, each once.
std::vector<JobPhoto> keepPhotos(const std::filesystem::path& folder, const NewTrial& trial, const JobRecord& job,
                                 std::vector<std::string>& samePhotos, std::vector<std::size_t>& kept,
                                 const FileCalls& calls) {
    std::vector<JobPhoto> photos;
    for (std::size_t i = 0; i < trial.photos.size(); ++i) {
        const NewTrialPhoto& given = trial.photos[i];
        JobPhoto photo;
        try {
            photo = keepPhoto(folder, given.bytes, given.name, calls);
        } catch (const FileError&) {
            throw;
        } catch (const InputError& error) {
            throw InputError(message("job.photo-unusable", given.name, error.sentence()));
        }
        const auto twin = std::find_if(photos.begin(), photos.end(),
                                       [&](const JobPhoto& other) { return other.sha256 == photo.sha256; });
        if (twin != photos.end()) {
            samePhotos.push_back(say("job.same-photo-in-trial", given.name, twin->originalName));
            continue;
        }
        if (const std::string other = trialWithPhoto(job, photo.sha256); !other.empty())
            samePhotos.push_back(say("job.same-photo-as-trial", given.name, other));
        kept.push_back(i);
        photos.push_back(std::move(photo));
    }
    return photos;
}

/// A flank map drawn by hand, kept like a photo; its pattern.
Pattern keepDrawing(const std::filesystem::path& folder, const FlankMap& map, std::optional<std::string>& file,
                    const char* side, const FileCalls& calls) {
    const std::optional<Pattern> pattern = measurePattern(map);
    if (!pattern) throw InputError(message("job.map-without-contact", side));
    file = keepPhoto(folder, encodePngGrey(kMapWidth, kMapHeight, map.contact), side, calls).file;
    return *pattern;
}

/// Each photo of `entry` by itself; one that was measured before under the same conditions is not read again.
std::vector<MeasuredPhoto> measureKept(const std::filesystem::path& folder, const GearSetData& gearSet,
                                       const TrialEntry& entry, const MeasuredBefore& measuredBefore,
                                       const std::function<void(std::size_t)>& beforePhoto) {
    std::vector<std::optional<MeasuredPhoto>> measured(entry.photos.size());
    std::vector<TrialPhoto> unread;
    std::vector<std::size_t> places;
    for (std::size_t i = 0; i < entry.photos.size(); ++i) {
        const JobPhoto& photo = entry.photos[i];
        std::vector<FlankOutline> outlines;
        for (const PhotoOutline& outlined : entry.outlines)
            if (outlined.photo == photo.file) outlines.push_back(outlined.outline);
        if (measuredBefore && outlines.empty() && !entry.marking && !entry.side)
            measured[i] = measuredBefore(photo, gearSet);
        if (measured[i]) {
            measured[i]->file = photo.file;
            continue;
        }
        places.push_back(i);
        unread.push_back({photo.file, openTrialPhoto((folder / photo.file).string()), std::move(outlines)});
    }
    MeasureOptions options;
    options.marking = entry.marking;
    options.side = entry.side;
    if (beforePhoto) options.beforePhoto = [&](std::size_t i) { beforePhoto(places[i]); };
    std::vector<MeasuredPhoto> anew = measurePhotos(unread, &gearSet, options);
    for (std::size_t i = 0; i < anew.size(); ++i) measured[places[i]] = std::move(anew[i]);
    std::vector<MeasuredPhoto> photos;
    for (std::optional<MeasuredPhoto>& photo : measured) photos.push_back(std::move(*photo));
    return photos;
}

/// Reads the kept photos of `entry` and puts the measurement into it.
Measurement readKept(const std::filesystem::path& folder, const GearSetData& gearSet, TrialEntry& entry,
                     const MeasuredBefore& measuredBefore = {},
                     const std::function<void(std::size_t)>& beforePhoto = {}) {
    Measurement measurement = weighPhotos(measureKept(folder, gearSet, entry, measuredBefore, beforePhoto), &gearSet);
    entry.origin = PatternOrigin::None;
    entry.measurement = recordOf(measurement);
    entry.measurement->notes = whatIsMissing(measurement, &gearSet, observationOf(entry), entry.side);
    if (measurement.anythingRead())
        entry.origin = entry.outlines.empty() ? PatternOrigin::Found : PatternOrigin::Outlined;
    return measurement;
}

/// Keeps the photos of `trial.entry` and reads them, or keeps and measures its drawn maps.
void readInto(const std::filesystem::path& folder, const JobRecord& before, NewTrial& trial, RecordedTrial& result,
              const std::function<void(std::size_t)>& beforePhoto, const FileCalls& calls) {
    TrialEntry& entry = trial.entry;
    std::vector<std::size_t> kept;
    entry.photos = keepPhotos(folder, trial, before, result.samePhotos, kept, calls);
    if (trial.drawnDrive || trial.drawnCoast) {
        MeasurementRecord drawn;
        if (trial.drawnDrive) drawn.drive = keepDrawing(folder, *trial.drawnDrive, entry.drawnDrive, "drive", calls);
        if (trial.drawnCoast) drawn.coast = keepDrawing(folder, *trial.drawnCoast, entry.drawnCoast, "coast", calls);
        drawn.assumed = completeGearSet(before.gearSet.data).assumed;
        entry.origin = PatternOrigin::Drawn;
        entry.measurement = std::move(drawn);
        return;
    }
    if (kept.empty()) return;
    for (std::size_t k = 0; k < kept.size(); ++k) {
        NewTrialPhoto& given = trial.photos[kept[k]];
        given.bytes = {};  // no longer needed, and large
        for (const FlankOutline& outline : given.outlines) entry.outlines.push_back({outline, entry.photos[k].file});
    }
    result.measurement = readKept(folder, before.gearSet.data, entry, trial.measuredBefore, beforePhoto);
}

/// The advice of a trial by all that counts up to it.
void adviseAnew(JobRecord& job, TrialEntry& trial, const std::optional<Costs>& costs = {}) {
    if (!trial.measurement) return;
    trial.measurement->advice.reset();
    if (!trial.stamp.counts() || !trial.hasPattern() || trial.measurement->setMisfit) return;
    AdviceOptions options = adviceOptionsOf(job);
    if (costs) options.costs = *costs;
    trial.measurement->advice = adviseJob(advisedGearSet(job), historyOf(job, trial.stamp.id), options);
}

/// The job as it stands. What `add` would refuse at the end is refused before the photos are read.
JobRecord openFor(const std::filesystem::path& folder, const NewTrial& trial,
                  const std::function<void(JobRecord&, TrialEntry)>& add) {
    JobRecord job = openJob(folder).record;
    JobRecord tried = job;
    TrialEntry entry = trial.entry;
    entry.photos.resize(trial.photos.size());
    if (trial.drawnDrive || trial.drawnCoast) entry.drawnDrive = "drawn";
    add(tried, std::move(entry));
    return job;
}

}  // namespace

namespace {

/// Another gear set has come into the job while a trial was being read: its photos are read again.
void readWithNewSet(const std::filesystem::path& folder, RecordedTrial& result, const FileCalls& calls) {
    TrialEntry entry = *findTrial(result.job, result.id);
    if (entry.photos.empty() || entry.origin == PatternOrigin::Drawn) return;
    result.measurement = readKept(folder, result.job.gearSet.data, entry);
    result.job = updateJob(
        folder,
        [&](JobRecord& job) {
            for (TrialEntry& trial : job.trials) {
                if (trial.stamp.id != result.id) continue;
                trial.measurement = entry.measurement;
                trial.origin = entry.origin;
                adviseAnew(job, trial);
            }
        },
        {}, calls);
}

}  // namespace

RecordedTrial recordTrial(const std::filesystem::path& folder, NewTrial trial,
                          const std::function<void(std::size_t)>& beforePhoto, const FileCalls& calls) {
    const JobRecord before =
        openFor(folder, trial, [](JobRecord& job, TrialEntry entry) { (void)addTrial(job, std::move(entry)); });
    if (trial.photos.empty() && !trial.drawnDrive && !trial.drawnCoast)
        throw InputError(message("job.trial-without-photo"));

    RecordedTrial result;
    bool readWith = true;
    readInto(folder, before, trial, result, beforePhoto, calls);
    result.job = updateJob(
        folder,
        [&](JobRecord& job) {
            result.id = entryOfRequest(job.trials, trial.entry.stamp.request);
            if (!result.id.empty()) return;
            result.id = addTrial(job, trial.entry);
            // All that the job knows by now, what others entered while the photos were read included.
            adviseAnew(job, job.trials.back(), trial.costs);
            readWith = job.gearSet.document == before.gearSet.document;
        },
        {}, calls);
    if (!readWith) readWithNewSet(folder, result, calls);
    return result;
}

RecordedTrial recordBefore(const std::filesystem::path& folder, NewTrial before,
                           const std::function<void(std::size_t)>& beforePhoto, const FileCalls& calls) {
    const JobRecord former =
        openFor(folder, before, [](JobRecord& job, TrialEntry entry) { (void)addBefore(job, std::move(entry)); });
    RecordedTrial result;
    readInto(folder, former, before, result, beforePhoto, calls);
    result.job = updateJob(
        folder,
        [&](JobRecord& job) {
            result.id = entryOfRequest(job.before, before.entry.stamp.request);
            if (!result.id.empty()) return;
            result.id = addBefore(job, before.entry);
            result.advisedAgain =
                adviseAgain(job, result.id, before.entry.stamp.at, before.entry.stamp.by, before.costs);
        },
        {}, calls);
    return result;
}

CorrectedJob correctAndReadAgain(const std::filesystem::path& folder, const JobCorrection& correction,
                                 const FileCalls& calls) {
    CorrectedJob result;
    result.job = openJob(folder).record;
    const auto isDone = [&](const JobRecord& job) {
        return !correction.request.empty() &&
               std::any_of(job.remarks.begin(), job.remarks.end(),
                           [&](const Remark& one) { return one.request == correction.request; });
    };
    if (isDone(result.job)) return result;
    JobRecord tried = result.job;
    correctJob(tried, correction);
    const bool otherSet = tried.gearSet.document != result.job.gearSet.document;
    std::map<std::string, TrialEntry> read;
    const auto readMissing = [&](const JobRecord& job) {
        bool any = false;
        for (const std::vector<TrialEntry>* list : {&job.before, &job.trials})
            for (const TrialEntry& trial : *list) {
                if (trial.photos.empty() || trial.origin == PatternOrigin::Drawn || read.contains(trial.stamp.id))
                    continue;
                TrialEntry entry = trial;
                result.again.push_back({entry.stamp.id, readKept(folder, tried.gearSet.data, entry)});
                read.emplace(entry.stamp.id, std::move(entry));
                any = true;
            }
        return any;
    };
    // Trials that come in while the others are read are read in another round.
    constexpr int kMaxRounds = 4;
    for (int round = 0; otherSet && round < kMaxRounds && readMissing(result.job); ++round)
        result.job = openJob(folder).record;
    result.job = updateJob(
        folder,
        [&](JobRecord& job) {
            if (isDone(job)) return;
            correctJob(job, correction);
            if (!otherSet) return;
            for (std::vector<TrialEntry>* list : {&job.before, &job.trials})
                for (TrialEntry& trial : *list) {
                    const auto again = read.find(trial.stamp.id);
                    if (again == read.end()) continue;
                    trial.measurement = again->second.measurement;
                    trial.origin = again->second.origin;
                }
            for (TrialEntry& trial : job.trials) adviseAnew(job, trial);
        },
        {}, calls);
    return result;
}

}  // namespace shimsight
