// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Reviewing many trials at once: job folders and plain folders of photos. Module `review`.
///
/// HOW IT WORKS. planReview walks the folders once and lists units: one for each job (its record says which photo
/// belongs to which trial) and one for each run of photos without a record that lie close in time. runReview reads the
/// photos one by one in worker threads, puts their results in order, and hands on one finished job after another; of
/// the pictures and maps only those of the jobs in work are held, so memory does not grow with the archive.
///
/// GROUPING WITHOUT A RECORD. Photos of one folder with a camera time are sorted by it, and a gap of more than
/// kTrialGapMinutes begins a new trial: nobody changes a shim and rolls a new pattern faster. Inside such a run, and
/// for photos without a time in the order of their names, a new trial begins when a side comes again after the other
/// side (drive, coast | drive, coast), and where a photo clearly shows another gear or another marking compound than
/// those before it, which is told. Gears and shims are taken for unknown from trial to trial.
///
/// MANY PHOTOS OF A TRIAL. Each is read once. What it says by itself is kept with it, and the teeth of each side are
/// weighed over all photos (weighPhotos): a tooth that several of them show counts once.
///
/// RESULTS ARE KEPT in a cache folder, one small file for each photo, named by the content of the photo, the gear set,
/// what the record says of the photo, and the version of everything that reads. So a review that was interrupted goes
/// on where it stopped, whatever files are called, and a new program reads anew. The folder may be deleted at any time.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/flank_map.h"
#include "shimsight/gear_set.h"
#include "shimsight/job.h"
#include "shimsight/measure.h"
#include "shimsight/pattern.h"
#include "shimsight/records.h"
#include "shimsight/units.h"

namespace shimsight {

inline constexpr int kTrialGapMinutes = 10;  ///< common practice, no source
/// Above it a review's page is continued on a further page: about 12 MB with two photos to a trial.
inline constexpr std::size_t kTrialsOnPage = 100;

// Reading with memory ------------------------------------------------------------------------------------------------

/// One side of a photo or a trial.
struct KeptSide {
    Pattern pattern;
    FlankMap map;  ///< empty when the pattern comes from a record alone
};

/// A photo as a review keeps it.
struct KeptPhoto {
    std::string file;          ///< its path, beginning with the folder as given
    std::string originalName;  ///< in a job folder: what the photo was called before it was copied in
    std::string sha256;        ///< of its bytes; empty when they could not be read
    std::optional<std::string> takenAt;
    std::optional<Refused> refused;
    std::array<int, 2> flanks{};  ///< read and counted, by index(side)
    int notCounted = 0;           ///< read, but unlike the others
    std::string leftOut;          ///< "8 without compound, 3 partly hidden or cut off"; empty: none
    std::optional<CutEvidence> cut;
    int width = 0, height = 0;                     ///< of `picture`
    std::vector<std::uint8_t> picture, thumbnail;  ///< JPEG, what was read drawn on it; empty: not decoded
    /// The side of most flanks that were read.
    std::optional<Side> side() const;
};

/// Photos that were read together.
struct KeptPhotos {
    std::vector<KeptPhoto> photos;
    std::array<std::optional<KeptSide>, 2> sides;  ///< over all teeth, by index(side)
    /// For each photo what it says by itself, without what only a reader needs; empty once a job is put together.
    std::vector<MeasuredPhoto> measured;
    int fromCache = 0;  ///< photos that were not read anew
    bool anythingRead() const { return sides[0] || sides[1]; }
};

/// What is known of photos before they are read.
struct PhotosRequest {
    std::vector<std::filesystem::path> files;
    const GearSetData* gearSet = nullptr;  ///< null: typical teeth
    std::optional<Side> side;              ///< flanks of this side only count
    std::optional<Marking> marking;
    std::vector<std::vector<FlankOutline>> outlines;  ///< for each file, set by hand; empty: all are found
};

/// Reads the photos of one trial, each once, and weighs the teeth of each side over all of them. A file that cannot be
/// read or decoded is a refusal of that photo. `cache` empty: nothing is kept; a cache that cannot be written is no
/// reason to stop. Throws InputError when the gear set's data give no gear set. Safe to call from several threads at
/// once.
KeptPhotos readPhotos(const PhotosRequest& request, const std::filesystem::path& cache);

/// Where results are kept unless somebody says otherwise: shimsight/review under $XDG_CACHE_HOME or $HOME/.cache; empty
/// when neither is set.
std::filesystem::path defaultReviewCache();

/// What stands for everything that reads: program version, networks, and the sources of the modules that read.
std::string measuringVersion();

/// All that what is read of a photo depends on, as a text: the program, the photo's content (`sum`: its SHA-256) and
/// the gear set; null: none. What a person told of its flanks comes beside it.
std::string measuringBasis(std::string_view sum, const GearSetData* gearSet);

// The plan -----------------------------------------------------------------------------------------------------------

/// A file or folder that does not count, and why.
struct LeftOut {
    std::string file, reason;
};

/// Photos that are read, judged and split among processes together.
struct ReviewUnit {
    std::filesystem::path folder;
    bool isJob = false;
    std::vector<std::string> photos;  ///< names of photos without a record, in their order
    bool byTime = false;              ///< and whether that order is by camera time
    std::size_t photoCount = 0;       ///< of a job: over all trials that count
    std::size_t trialCount = 0;       ///< of a job: trials that count
};

struct ReviewPlan {
    std::vector<ReviewUnit> units;
    std::vector<LeftOut> leftOut;  ///< folders and files that cannot be read at all
    std::size_t otherFiles = 0;    ///< that are no photos by name and content
    std::size_t photoCount() const;
};

/// Walks the folders, deeper ones too; hidden ones and links to folders are passed by. A folder given twice counts
/// once. Throws InputError when a folder does not exist.
ReviewPlan planReview(const std::vector<std::filesystem::path>& folders);

/// Every `parts`-th unit, beginning with unit `part` (1 to `parts`): the parts together are the whole plan. What was
/// left out while planning belongs to part 1.
ReviewPlan partOf(ReviewPlan plan, int part, int parts);

/// When something in the unit was last written: its record, or any of its photos.
std::filesystem::file_time_type lastWritten(const ReviewUnit& unit);

/// The units in which something was written at `since` or later.
ReviewPlan writtenSince(ReviewPlan plan, std::filesystem::file_time_type since);

/// Tells what is new or changed from one look at folders to the next: a network share has no other way to say so.
class ReviewWatch {
public:
    /// The units of `plan` that were not there before or changed since, once they stay the same from one look to the
    /// next: photos may still be on their way.
    ReviewPlan arrived(const ReviewPlan& plan);

private:
    struct Seen {
        std::filesystem::file_time_type written;
        std::size_t photos = 0;
        bool given = false;
    };
    std::map<std::string, Seen> seen_;
};

// What comes out -----------------------------------------------------------------------------------------------------

/// Something that does not fit together, or is missing.
enum class FindingKind {
    OtherSide,      ///< a photo of the other side
    WrongGearSet,   ///< the photo or the pattern does not fit the gear set
    RecordDiffers,  ///< the record has another pattern or advice than the photos give now
    SamePhoto,      ///< one photo twice
    Order,          ///< photos taken in another order than the trials'
    Entry,          ///< a shim change or a backlash that does not fit the patterns
    Record,         ///< the record does not fit together
    Cause,          ///< a cause beside depth and backlash
    SideMissing,
    NotRead,
    Apart,  ///< photos of a folder that belong to different trials
    AgainstAdvice
};
std::string_view name(FindingKind kind);  ///< "other-side", "wrong-gear-set", ...

struct Finding {
    FindingKind kind = FindingKind::Record;
    std::string text;        ///< plain sentences
    bool looksWrong = true;  ///< false: worth knowing
};

enum class DoneAs { AsAdvised, LessThanAdvised, MoreThanAdvised, OtherWayRound, OtherThanAdvised, NotAdvised };
std::string_view name(DoneAs done);  ///< "as-advised", ...

/// What was done after a trial.
struct DoneNext {
    std::optional<double> shimChangeMm;  ///< + added
    std::optional<double> backlashMm;    ///< as set, or as read in the next trial
    std::string words;                   ///< "took out 0.006 in (0.15 mm), backlash 0.008 in (0.20 mm)"
    std::string note;                    ///< as the record has it
    std::optional<DoneAs> as;            ///< against the advice, when there was one to compare with
};

enum class Helped { Yes, No, NoClearChange };
std::string_view name(Helped helped);  ///< "yes", "no", "no-clear-change"

struct ReviewedTrial {
    std::string id;     ///< "t2"; without a record the name of the first photo
    std::string label;  ///< "2"; without a record the camera time or the name
    std::string at;     ///< when; may be empty
    KeptPhotos kept;
    std::array<bool, 2> drawn{};  ///< the side's pattern was drawn by hand
    std::optional<double> backlashMm, shimStackMm;
    std::string changed, why;  ///< since the trial before, as the record has it
    std::optional<Advice> advice;
    std::optional<DoneNext> next;
    std::optional<Helped> helped;  ///< whether the next trial lay nearer
    std::vector<Finding> findings;
    bool looksWrong() const;
};

/// What tells which photos belong to one trial.
enum class GroupedBy { Record, TimeAndSide, NameAndSide };
std::string_view name(GroupedBy by);  ///< "record", "time and side", "name and side"

struct ReviewedJob {
    std::string name;  ///< its folder as given
    bool hasRecord = false;
    GroupedBy groupedBy = GroupedBy::Record;
    std::string gearSetName;
    std::optional<GearSet> gearSet;
    std::string axle, customer, setUpBy;
    std::string next;       ///< what the job wants next, by its record
    bool finished = false;  ///< signed off, or the last pattern can be left alone
    std::vector<ReviewedTrial> trials;
    std::vector<Finding> findings;  ///< of the job as a whole
    std::vector<LeftOut> leftOut;   ///< photos that gave nothing, and trials that could not be judged
    bool looksWrong() const;
    bool sideMissing() const;
    bool againstAdvice() const;
};

struct ReviewProgress {
    std::size_t photosDone = 0, photosTotal = 0, fromCache = 0;
    double secondsLeft = -1;  ///< below 0: not known yet
};

struct ReviewOptions {
    const GearSetData* gearSet = nullptr;  ///< for photos without a record; null: patterns only
    std::filesystem::path cache;           ///< empty: nothing is kept
    int jobs = 0;                          ///< photos read at the same time; 0: as many as the machine has processors
    std::function<void(const ReviewProgress&)> progress;  ///< called from the calling thread; may be empty
};

struct ReviewSummary {
    std::size_t jobs = 0, trials = 0, photos = 0, photosRead = 0, fromCache = 0, looksWrong = 0;
    std::vector<LeftOut> leftOut;
};

/// Reads and judges everything of the plan. `take` gets each job once, in the order of the plan, from the calling
/// thread. What goes wrong with one photo or job is told in it and stops nothing else; what `take` throws goes through.
ReviewSummary runReview(const ReviewPlan& plan, const ReviewOptions& options,
                        const std::function<void(const ReviewedJob&)>& take);

/// One job alone, as runReview gives it.
ReviewedJob reviewJob(const std::filesystem::path& folder, const std::filesystem::path& cache);

// Writing it ---------------------------------------------------------------------------------------------------------

/// One JSON object a line, one line for each trial and each thing left out (models/schemas/review-1.schema.json). The
/// lines of a job depend on the job alone.
std::string reviewLines(const ReviewedJob& job);
std::string leftOutLine(const LeftOut& leftOut);

std::string reviewCsvHeader();
std::string reviewCsvRows(const ReviewedJob& job);

/// Rows for a terminal, with a heading for the job. In columns a pair of units breaks over lines, so `units` are chosen
/// here.
std::string reviewTable(const ReviewedJob& job, Units units = Units::Both);
/// The lines after the table: counts, and everything that was left out.
std::string summaryText(const ReviewSummary& summary);

/// A JPEG file inside a page: "data:image/jpeg;base64,...".
std::string jpegDataUri(const std::vector<std::uint8_t>& bytes);

/// The page of a review, job after job. A page that is full is written at once, and the next one begun: review.html,
/// review-2.html, ...; each is one file that asks nothing of any other.
class ReviewPages {
public:
    explicit ReviewPages(std::filesystem::path file, Units units = Units::Both);
    ~ReviewPages();
    ReviewPages(const ReviewPages&) = delete;
    ReviewPages& operator=(const ReviewPages&) = delete;
    void add(const ReviewedJob& job);
    /// Writes the last page; returns all files.
    std::vector<std::filesystem::path> finish(const ReviewSummary& summary);

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace shimsight
