#include <algorithm>

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
        } catch (const UnconfirmedWrite&) {
            throw;
        } catch (const InputError& error) {
            // Faults of the disk name the file that was being written.
            const std::string what = error.what();
            throw InputError(what.starts_with(folder.string()) ? what : say("job.photo-unusable", given.name, what));
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
    if (!pattern) throw InputError(say("job.map-without-contact", side));
    file = keepPhoto(folder, encodePngGrey(kMapWidth, kMapHeight, map.contact), side, calls).file;
    return *pattern;
}

/// Keeps the photos of `trial.entry` and reads them, or keeps and measures its drawn maps.
void readInto(const std::filesystem::path& folder, const JobRecord& before, NewTrial& trial, RecordedTrial& result,
              const std::function<void(std::size_t)>& beforePhoto, const FileCalls& calls) {
    TrialEntry& entry = trial.entry;
    std::vector<std::size_t> kept;
    entry.photos = keepPhotos(folder, trial, before, result.samePhotos, kept, calls);
    if (trial.drawnDrive || trial.drawnCoast) {
        MeasurementRecord reading;
        if (trial.drawnDrive) reading.drive = keepDrawing(folder, *trial.drawnDrive, entry.drawnDrive, "drive", calls);
        if (trial.drawnCoast) reading.coast = keepDrawing(folder, *trial.drawnCoast, entry.drawnCoast, "coast", calls);
        reading.assumed = completeGearSet(before.gearSet.data).assumed;
        entry.origin = PatternOrigin::Drawn;
        entry.reading = std::move(reading);
        return;
    }
    if (kept.empty()) return;
    std::vector<TrialPhoto> photos;
    bool marked = false;
    for (std::size_t k = 0; k < kept.size(); ++k) {
        const std::string& file = entry.photos[k].file;
        NewTrialPhoto& given = trial.photos[kept[k]];
        given.bytes = {};  // no longer needed, and large
        for (const FlankOutline& outline : given.outlines) entry.outlines.push_back({outline, file});
        marked = marked || !given.outlines.empty();
        photos.push_back({file, openTrialPhoto((folder / file).string()), given.outlines});
    }
    MeasureOptions options;
    options.marking = entry.marking;
    options.side = entry.side;
    options.beforePhoto = beforePhoto;
    result.measurement = measureTrial(photos, &before.gearSet.data, options);
    entry.reading = recordOf(result.measurement);
    entry.reading->notes = whatIsMissing(result.measurement, &before.gearSet.data, observationOf(entry), entry.side);
    if (result.measurement.anythingRead()) entry.origin = marked ? PatternOrigin::Marked : PatternOrigin::Found;
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

RecordedTrial recordTrial(const std::filesystem::path& folder, NewTrial trial,
                          const std::function<void(std::size_t)>& beforePhoto, const FileCalls& calls) {
    const JobRecord before =
        openFor(folder, trial, [](JobRecord& job, TrialEntry entry) { (void)addTrial(job, std::move(entry)); });
    if (trial.photos.empty() && !trial.drawnDrive && !trial.drawnCoast)
        throw InputError(say("job.trial-without-photo"));

    RecordedTrial result;
    readInto(folder, before, trial, result, beforePhoto, calls);
    result.job = updateJob(
        folder,
        [&](JobRecord& job) {
            result.id = entryOfRequest(job.trials, trial.entry.stamp.request);
            if (!result.id.empty()) return;
            result.id = addTrial(job, trial.entry);
            TrialEntry& added = job.trials.back();
            if (!added.hasPattern() || added.reading->setMisfit) return;
            // All that the job knows by now, what others entered while the photos were read included.
            AdviceOptions options = adviceOptionsOf(job);
            if (trial.costs) options.costs = *trial.costs;
            added.reading->advice = adviseJob(advisedGearSet(job), historyOf(job), options);
        },
        {}, calls);
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

}  // namespace shimsight
