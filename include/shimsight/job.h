// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The job record: what one set-up is made of (parts, readings, trials, decisions), judged and kept in a folder.
///
/// A JOB FOLDER holds job.json (models/schemas/job-1.schema.json), job.previous.json (the version before), job.lock,
/// and photos/ with the copies of the trial photos and hand-drawn flank maps. It needs nothing outside itself: the
/// gear-set file is embedded.
///
/// NOTHING IS LOST. Every change goes through updateJob: under a file lock, the new record is written whole beside the
/// old one, flushed, the old one kept as job.previous.json, and the new one renamed into place; the revision goes up by
/// one. A reader needs no lock. A crash or a full disk at any moment leaves the old or the new record whole. Entries
/// are never deleted: a wrong one is struck out, with the reason, and counts no more. Fields that this program does not
/// know are kept as they are.
///
/// Times are given by the caller, "2026-03-02T14:05:00+01:00" or with Z; only the command line and pages read a clock.
/// Lengths are millimetres, torques newton metres; people see thousandths of an inch, in-lb and ft-lb beside them.
/// Whatever cannot be used throws InputError with one plain sentence.
#pragma once

#include <array>
#include <cstdint>
#include <ctime>
#include <filesystem>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/advice_start.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/flank_map.h"
#include "shimsight/gear_set.h"
#include "shimsight/measure.h"
#include "shimsight/records.h"
#include "shimsight/words.h"

namespace shimsight {

inline constexpr std::string_view kJobSchema = "shimsight/job/1";
inline constexpr std::string_view kJobFile = "job.json";
inline constexpr std::string_view kPreviousJobFile = "job.previous.json";
inline constexpr std::string_view kJobPhotoFolder = "photos";
inline constexpr std::int64_t kMaxJobBytes = 32'000'000;  ///< a trial of two photos has about 30 kB
inline constexpr std::size_t kMaxJobEntries = 500;        ///< of each kind
inline constexpr std::size_t kMaxJobTrials = 20;          ///< as many as advice learns from
inline constexpr std::size_t kMaxTrialPhotos = 24;
inline constexpr std::size_t kMaxBacklashPoints = 64;  ///< one for each tooth
inline constexpr std::size_t kMaxJobText = 4000;       ///< bytes of one free text
inline constexpr std::size_t kMaxTakenBack = 20;       ///< strike-outs of one entry that were taken back

// The record ---------------------------------------------------------------------------------------------------------

/// An entry that turned out wrong. It stays to be seen and counts for nothing.
struct StruckOut {
    std::string at, by, why;
    std::string request{};  ///< see JobStamp::request
};

/// A strike-out that was taken back: the entry counts again, and both stay to be seen.
struct TakenBack {
    StruckOut struck;
    std::string at, by;
    std::string request{};  ///< see JobStamp::request
};

/// What every entry bears.
struct JobStamp {
    std::string
        id{};  ///< of this job: "d1", "p1", "b2", "r1", "c1", "u1", "t3", "q1", "w3", "s1"; given by the add functions
    std::string at{};  ///< when
    std::string by{};  ///< who; may be empty
    std::string note{};
    std::optional<StruckOut> struck{};
    /// The id of the request that a server made it from: by it a request is known to be done, whatever the clock says.
    /// Empty: entered otherwise.
    std::string request{};
    std::vector<TakenBack> restored{};  ///< former strike-outs, oldest first
    bool counts() const { return !struck.has_value(); }
};

/// The gear-set file as it was when the job was opened.
struct JobGearSet {
    std::string fileName;  ///< without folders
    std::string document;  ///< its JSON, whole; what it leaves out stays left out
    GearSetData data;      ///< parsed from `document`
};
/// Reads and checks a gear-set file for a job.
JobGearSet jobGearSet(const std::filesystem::path& file);

enum class BuildKind {
    NewGears,   ///< a new ring and pinion goes in
    UsedGears,  ///< gears that ran together go in again: the old wear is matched
    CheckOnly   ///< nothing is changed, the set-up is looked at
};
enum class Bearings { New, Used };
enum class PinionSpacer { NotSaid, CrushSleeve, SolidSpacer };

/// Where the pinion starts: what the depth figures or a depth tool say, before the first trial. Figures: both. Tool:
/// measured and wanted.
struct DepthEntry {
    JobStamp stamp;
    std::optional<double> oldFigureMm, newFigureMm;  ///< on old and new pinion, with their sign
    std::optional<double> measuredMm;                ///< from the axle's centre line to the face of the pinion head
    std::optional<double> wantedMm;                  ///< the same as the pinion's own figure has it
    std::optional<double> shimStackMm;  ///< pinion shims in place when it was measured, or of the old pinion
    bool figuresInTwoUnits = false;     ///< one was typed in inches, the other in millimetres
    std::optional<double> oldBearingMm, newBearingMm;  ///< height of the inner pinion bearing, cone in cup
    bool otherHousing = false;                         ///< the old pinion ran in another housing
};

/// Turning torque of the pinion, without ring gear and, unless said, without oil seal.
struct PreloadEntry {
    JobStamp stamp;
    double torqueNm = 0;
    std::optional<double> stackMm;  ///< preload shims beside a solid spacer
    bool withOilSeal = false;       ///< the seal's drag is in the reading: its own limits count
    bool forTrial = false;          ///< with set-up bearings or the old sleeve, to roll the pattern; not for good
};

/// One reading of the dial.
struct BacklashPoint {
    double positionDeg = 0;  ///< round the ring gear from any mark that stays, 0 up to 360
    double mm = 0;
};

/// Backlash at one or more places round the ring gear.
struct BacklashEntry {
    JobStamp stamp;
    std::vector<BacklashPoint> points;  ///< at least one
    DialReading dial = DialReading::SquareToTooth;
};
/// Readings at equal steps once round, the first at 0 degrees.
std::vector<BacklashPoint> equalSteps(std::span<const double> readingsMm);
double meanOf(std::span<const BacklashPoint> points);

enum class RunoutPlace { RingGear, CarrierFlange, PinionFlange };
struct RunoutEntry {
    JobStamp stamp;
    RunoutPlace place = RunoutPlace::RingGear;
    double mm = 0;  ///< total reading of the dial over one turn
};

/// How the side bearings of the carrier were loaded. At least one of the numbers is there.
struct CarrierEntry {
    JobStamp stamp;
    std::optional<double> torqueNm;                   ///< turning torque with the carrier in
    std::optional<double> leftNotches, rightNotches;  ///< threaded adjusters, + = tightened past zero play
    std::optional<double> leftShimsMm, rightShimsMm;  ///< shims in place
    std::optional<double> spreadMm;                   ///< of the housing, or the press of the shims beyond zero play
    bool withOilSeal = false;                         ///< the pinion's seal was in when the torque was read
};

struct PhotoSize {
    int width = 0, height = 0;  ///< pixels
};

/// A photo in the job folder. The copy has the pixels of the original (HEIC: a JPEG of them, upright) and, of all that
/// a camera writes beside them, only how it is to be turned, the time and the focal length.
struct JobPhoto {
    std::string file;          ///< in the job folder: "photos/0123456789abcdef.jpg"; the name follows from the content
    std::string originalName;  ///< without folders
    std::string sha256;        ///< of the original's bytes, 64 hexadecimal digits: the same photo is known again
    std::optional<std::string> takenAt;  ///< "YYYY-MM-DD hh:mm:ss", the camera's local time
    std::optional<PhotoSize> sizePx;     ///< of the upright picture, so that pages keep its place before it has come
    bool reencoded = false;              ///< HEIC only
    std::vector<std::string> removed;    ///< in plain words: "location", "camera data", ...; empty: nothing was there
};

enum class PatternOrigin {
    None,      ///< nothing was measured; the measurement, if any, holds the refusals
    Found,     ///< all flanks were found by the program
    Outlined,  ///< some flanks were outlined by hand (TrialEntry::outlines)
    Drawn      ///< the pattern was drawn by hand on a flank map (TrialEntry::drawnDrive, drawnCoast)
};

/// One trial: set, painted, rolled, photographed.
struct TrialEntry {
    JobStamp stamp;
    std::vector<JobPhoto> photos;
    std::optional<double> shimStackMm;  ///< pinion shims in place
    std::optional<double> backlashMm;   ///< as read; without it the mean of the readings round counts
    std::vector<BacklashPoint> backlashRound;
    DialReading dial = DialReading::SquareToTooth;
    std::string changed;                 ///< what was changed since the trial before, in words
    std::string why;                     ///< and why
    std::optional<double> shimChangeMm;  ///< pinion shims added since the trial before, - taken out
    PatternOrigin origin = PatternOrigin::None;
    std::optional<Side> side;                           ///< only flanks of this side were counted
    std::optional<Marking> marking;                     ///< as a person said
    std::vector<PhotoOutline> outlines;                 ///< set by hand; `photo` is JobPhoto::file
    std::optional<std::string> drawnDrive, drawnCoast;  ///< flank maps in the job folder: "photos/....png"
    /// What was read, the file names being those of JobPhoto::file. Its advice is the advice that was shown then: it
    /// learned from all trials of the job up to this one. None: no gear-set advice could be worked out.
    std::optional<MeasurementRecord> measurement;
    bool hasPattern() const { return measurement && (measurement->drive || measurement->coast); }
};

/// What somebody looked into after an advice had asked for it, and found right: that explanation is closed.
struct CheckedEntry {
    JobStamp stamp;
    DiagnosisKind kind = DiagnosisKind::SidesSwapped;
};

/// What was really done after a trial, whatever the advice was.
struct WorkEntry {
    JobStamp stamp;
    std::string afterTrial;                           ///< id of the trial; empty: before the first
    std::optional<double> shimChangeMm;               ///< + added, - taken out, 0 left alone; none: not said
    std::optional<double> shimStackMm;                ///< after the change
    std::optional<double> backlashMm;                 ///< as set
    std::optional<double> leftNotches, rightNotches;  ///< adjusters, + = tightened
};

enum class CheckList {
    Parts,
    Pinion,  ///< what goes in for good when the pattern is right: sleeve, seal, nut
    Torque,  ///< what is tight before the pattern is rolled for the last time
    FinalAssembly
};
enum class CheckState { Open, Done, NotNeeded };

/// One line of a check list.
struct CheckItem {
    std::string key;  ///< "ring-gear-bolts"; stays the same over the life of the job
    CheckList list = CheckList::Torque;
    std::string text;
    CheckState state = CheckState::Open;
    bool onlyAtTheEnd = false;         ///< oil seals, cover: not before the pattern is accepted
    std::optional<Interval> wantedNm;  ///< from the maker's sheet
    bool wantedByGearSet = false;      ///< by the gear-set file; otherwise a person typed it
    std::string wantedFrom;            ///< from which sheet, as typed; where it comes from in all: wantedSource
    std::optional<double> torqueNm;    ///< as tightened
    JobStamp stamp;                    ///< of the tick; its id is the key
};

struct SignOff {
    JobStamp stamp;
    std::vector<std::string> open;  ///< titles of the steps that were left open, with `stamp.note` as the reason
};

/// Something worth knowing that belongs to no other entry; also what the store has to tell (a restore, an upgrade).
struct Remark {
    std::string at, by, text;
    std::string request{};  ///< see JobStamp::request
};

struct JobRecord {
    std::int64_t revision = 0;  ///< goes up by one with each write; set by the store
    std::string createdAt;
    std::string changedAt;  ///< of the newest entry; set by the add functions
    JobGearSet gearSet;
    std::string axle;      ///< free text
    std::string customer;  ///< free text; may be empty
    std::string setUpBy;   ///< who sets it up
    BuildKind build = BuildKind::NewGears;
    Bearings bearings = Bearings::New;
    PinionSpacer spacer = PinionSpacer::NotSaid;
    std::vector<DepthEntry> depths;
    std::vector<PreloadEntry> preloads;
    std::vector<BacklashEntry> backlashes;
    std::vector<RunoutEntry> runouts;
    std::vector<CarrierEntry> carriers;
    /// Gears that ran together, before they came apart: marks and backlash; the newest of each counts, see beforeOf.
    std::vector<TrialEntry> before;
    std::vector<TrialEntry> trials;  ///< in their order
    std::vector<CheckedEntry> checked;
    std::vector<WorkEntry> work;
    std::vector<CheckItem> checks;  ///< all lists, in the order in which they are worked off
    std::vector<SignOff> signOffs;  ///< at most the last one counts; reopening strikes it out
    std::vector<Remark> remarks;
};

std::string_view name(BuildKind kind);        ///< "new-gears", "used-gears", "check-only"
std::string_view name(Bearings bearings);     ///< "new", "used"
std::string_view name(PinionSpacer spacer);   ///< "not-said", "crush-sleeve", "solid-spacer"
std::string_view name(RunoutPlace place);     ///< "ring-gear", "carrier-flange", "pinion-flange"
std::string_view name(PatternOrigin origin);  ///< "none", "found", "marked", "drawn"
std::string_view name(CheckList list);        ///< "parts", "pinion", "torque", "final-assembly"
std::string_view name(CheckState state);      ///< "open", "done", "not-needed"

// Adding to a record -------------------------------------------------------------------------------------------------
// Pure functions on the value, for use inside updateJob. Each checks ranges and texts, gives the entry its id and
// returns it. On a job that is signed off all but reopen throw InputError. So do readings without a note that no axle
// gives (oddReading), and notches or side shims where the gear set says that the axle has the other of the two.

/// A record with its check lists, as the build of the gear set asks for. revision 0.
JobRecord newJob(JobGearSet gearSet, std::string axle, std::string customer, std::string setUpBy, std::string at);

std::string addDepth(JobRecord& job, DepthEntry entry);
std::string addPreload(JobRecord& job, PreloadEntry entry);
std::string addBacklash(JobRecord& job, BacklashEntry entry);
std::string addRunout(JobRecord& job, RunoutEntry entry);
std::string addCarrier(JobRecord& job, CarrierEntry entry);
/// `entry.measurement` should be there already; see recordTrial for the whole way from photos.
std::string addTrial(JobRecord& job, TrialEntry entry);
/// Marks (photos or drawn maps), backlash or both; see recordBefore for the whole way from photos. Refused where new
/// gears go in.
std::string addBefore(JobRecord& job, TrialEntry entry);
std::string addChecked(JobRecord& job, CheckedEntry entry);
/// `afterTrial` empty: the last trial that counts.
std::string addWork(JobRecord& job, WorkEntry entry);
void addRemark(JobRecord& job, Remark remark);

struct Tick {
    CheckState state = CheckState::Done;
    std::optional<double> torqueNm{};
    std::optional<Interval> wantedNm{};
    std::string wantedFrom{};
    std::string at{}, by{}, note{};
    std::string request{};  ///< see JobStamp::request
};
/// Torques far from what such a joint takes, in a shop of cars and trucks: asked about, unless the sheet's own figure
/// holds them (common practice, no source). nullopt: nothing odd, or a joint of the shop's own.
std::optional<Message> oddTorque(const CheckItem& item, double nm);
/// The same of a turning torque, newton metres, that no pinion and no carrier has.
std::optional<Message> oddTurning(double nm);
/// The same of a reading, unless the sheet's own limit is as high: turning torques, backlash, runouts, notches beyond a
/// turn of the adjuster, side shims, spread.
std::optional<Message> oddReading(const JobRecord& job, const PreloadEntry& entry);
std::optional<Message> oddReading(const JobRecord& job, const BacklashEntry& entry);
std::optional<Message> oddReading(const JobRecord& job, const RunoutEntry& entry);
std::optional<Message> oddReading(const JobRecord& job, const CarrierEntry& entry);
std::optional<Message> oddReading(const JobRecord& job, const WorkEntry& entry);
/// Whether the line is of a bolted joint: it is done with the torque as tightened, or with a note that says why none.
bool takesTorque(const CheckItem& item);
/// Ticks the line with this key, or takes the tick back (Open). Without a note it throws InputError for an odd torque
/// (oddTorque), and for a joint without any.
void tickCheck(JobRecord& job, std::string_view key, const Tick& tick);
/// Makes the lists anew for the build, bearings and spacer that the job has, as long as nobody has touched them.
void fitCheckLists(JobRecord& job);
/// A line of the shop's own; returns its key.
std::string addCheck(JobRecord& job, CheckList list, const std::string& text);

/// Strikes out the entry with this id; work, trials and readings alike.
void strikeOut(JobRecord& job, std::string_view id, StruckOut struck);
/// Lets an entry that was struck out count again; that it was struck out stays in its history. Beyond
/// kMaxTakenBack times it is refused.
void restoreEntry(JobRecord& job, std::string_view id, const std::string& at, const std::string& by,
                  const std::string& request = {});
/// With steps open, `note` must say why.
void signOff(JobRecord& job, JobStamp stamp);
void reopen(JobRecord& job, StruckOut why);
/// The sign-off that counts, or null.
const SignOff* signedOff(const JobRecord& job);

const TrialEntry* findTrial(const JobRecord& job, std::string_view id);   ///< null: none
const TrialEntry* findBefore(const JobRecord& job, std::string_view id);  ///< null: none
const TrialEntry* lastTrial(const JobRecord& job);                        ///< of those that count; null: none
/// Id of the entry of this list that the request made; empty: none, or no request was named.
template <typename Entry>
std::string entryOfRequest(const std::vector<Entry>& list, std::string_view request) {
    if (request.empty()) return {};
    for (const Entry& entry : list)
        if (entry.stamp.request == request) return entry.stamp.id;
    return {};
}
/// Work after this trial that counts, in its order.
std::vector<const WorkEntry*> workAfter(const JobRecord& job, std::string_view trialId);

/// What is corrected of a job; what is nullopt stays.
struct JobCorrection {
    std::optional<JobGearSet> gearSet;
    std::optional<std::string> axle, customer;
    std::string at, by;
    std::string request{};  ///< see JobStamp::request
};
/// Corrects the job itself, and writes what stood there before into its remarks. Another gear set changes the check
/// lists: ticked lines and the shop's own stay. Readings are not touched; see correctAndReadAgain for the whole way.
void correctJob(JobRecord& job, const JobCorrection& correction);

/// "59 ft-lb (80 Nm)", for bolts; a pinion's turning torque is written by formatTorque.
std::string formatBoltTorque(double nm);
/// From its low to its high end, "52 to 66 ft-lb (70 to 90 Nm)", with a decimal where the low one is under 20 ft-lb.
std::string formatBoltTorqueRange(const Interval& nm);
/// Reads "60ft-lb", "40in-lb", "80Nm". Throws InputError beginning with `what`.
double parseBoltTorqueNm(std::string_view text, std::string_view what);
/// Throws InputError beginning with `what` unless `time` is a date and time with its zone, "2026-03-02T14:05:00+01:00".
void checkTime(std::string_view time, std::string_view what);
/// Seconds since 1970 as a time with the zone of this computer, "2026-03-02T14:05:00+01:00".
std::string timeText(std::time_t seconds);
std::string timeNow();
/// Seconds since 1970 of such a time.
std::int64_t secondsOf(std::string_view time);

// Judging ------------------------------------------------------------------------------------------------------------

enum class Judged {
    PinionPreload,
    Backlash,
    BacklashVariation,
    RingGearRunout,
    CarrierFlangeRunout,
    PinionFlangeRunout,
    DrivePattern,
    CoastPattern,
    CarrierPreload,
    Torque
};
/// For records: "pinion preload", "backlash", "backlash variation", "ring gear runout", "drive pattern", ...
std::string_view name(Judged what);

enum class JudgedAs { Pass, Fail, NoLimitKnown };
std::string_view name(JudgedAs result);  ///< "pass", "fail", "no-limit-known"

/// One reading against one limit. A limit that the gear-set file leaves out is not known, though the program assumes
/// one for its advice. Patterns are judged by the rule of the file, else by published descriptions.
struct Judgement {
    std::string entryId;  ///< of the entry, or the key of a check
    Judged what = Judged::Backlash;
    JudgedAs result = JudgedAs::NoLimitKnown;
    std::string sentence{};  ///< plain, both units
    std::string source{};    ///< where the limit comes from; empty when none is known
    /// Where the gear-set file gives no limit: the field that would hold it, "limits.ring_runout_mm"; else empty.
    std::string missingField{};
};

Judgement judgePreload(const JobRecord& job, const PreloadEntry& entry);
/// Backlash inside the limits; from two points on also its variation round the ring gear.
std::vector<Judgement> judgeBacklash(const JobRecord& job, const BacklashEntry& entry);
Judgement judgeRunout(const JobRecord& job, const RunoutEntry& entry);
Judgement judgeCarrier(const JobRecord& job, const CarrierEntry& entry);
/// Backlash as for a reading, and each side's pattern against the acceptance rule.
std::vector<Judgement> judgeTrial(const JobRecord& job, const TrialEntry& trial);
/// By what a side's pattern is judged. Used gears: near where their own mark lay before they came apart, wherever that
/// was; nullopt: it is not known.
std::optional<AcceptanceRule> patternRuleOf(const JobRecord& job, Side side);
/// The backlash readings of a trial alone; a part of judgeTrial.
std::vector<Judgement> judgeBacklash(const JobRecord& job, const TrialEntry& trial);
Judgement judgeTorque(const JobRecord& job, const CheckItem& item);
/// Where the wanted torque of an item comes from.
std::string wantedSource(const JobRecord& job, const CheckItem& item);

/// Why a ticked line counts as open all the same.
enum class OpenAgain {
    WithoutTorque,  ///< of a joint, with neither torque nor note
    WrongTorque,    ///< judgeTorque fails it
    BeforeChange    ///< ticked before the last change of the setting, which undid it
};
std::string_view name(OpenAgain why);  ///< "without-torque", "wrong-torque", "before-change"
/// nullopt: it is not ticked, or its tick stands.
std::optional<OpenAgain> openAgain(const JobRecord& job, const CheckItem& item);
/// All entries that count, in the order of the work.
std::vector<Judgement> judgeAll(const JobRecord& job);

// Where it stands ----------------------------------------------------------------------------------------------------

enum class StepState { Done, Next, Open, NotNeeded };
std::string_view name(StepState state);  ///< "done", "next", "open", "not-needed"

struct JobStep {
    /// In the order of the work: "parts", "start-depth", "trial-preload", "runout", "carrier", "backlash", "pattern",
    /// "pinion", "preload", "torques", "final-pattern", "final-assembly", "sign-off"
    std::string key;
    std::string title;
    StepState state = StepState::Open;
    Message detail;                    ///< one plain sentence: what is there, or what is missing
    std::vector<std::string> lines{};  ///< keys of its check list; empty: it has none
    std::vector<std::string> open{};   ///< those of them that are not done, or no longer
};

/// What forbids to set or to accept anything until it is put right; it leads all that is said.
struct JobStop {
    std::string step;  ///< key of the step by which it is put right
    Message found;     ///< what was read, against what limit
    Message next;      ///< what to do first
};

enum class AttentionKind {
    Stop,              ///< what would stop the job, had it not been signed off
    Contradiction,     ///< two figures for the same shims
    SamePhoto,         ///< one photo in two trials
    Times,             ///< entries dated against their order
    FittedEarly,       ///< seals before the pattern is accepted, the cover before it is rolled for the last time
    ToolAgainstMarks,  ///< the depth tool and the pattern ask for different depths
    Cause,             ///< a likely cause beside depth and backlash, of the last trial's advice
    SignedOffOpen      ///< signed off with steps left open
};

/// What does not fit together.
struct Attention {
    AttentionKind kind = AttentionKind::Stop;
    Message sentence;
    Message evidence{};  ///< the part of it that an advice or a stop has too; empty: none
};
std::vector<Message> sentencesOf(std::span<const Attention> attention);

struct JobStatus {
    std::optional<JobStop> stop;
    std::vector<JobStep> steps;
    Message next;                      ///< one plain sentence: what to do next
    std::vector<Attention> attention;  ///< one plain sentence each
    std::vector<Message> cautions;     ///< safety, for what comes next
};
/// Its sentences name a trial by the id of its entry.
JobStatus jobStatus(const JobRecord& job);
/// The sentence with the numbers of the trials that count in place of the ids: "trial 2" for "trial t3".
Message withTrialNumbers(Message sentence, const JobRecord& job);
/// Jammed teeth, a crooked or unevenly meshing ring gear, or what the last trial's advice stops at.
std::optional<JobStop> jobStop(const JobRecord& job);
/// The passing runout reading that followed a failing one: the gear was taken off, and trials before it count no more
/// for the pattern. Null: none.
const RunoutEntry* runoutPutRight(const JobRecord& job);

/// What an advice asks for, in one sentence: "Add 0.005 in (0.13 mm) under the pinion support, then set the backlash to
/// 0.008 in (0.20 mm)."
std::string adviceInShort(const Advice& advice);

/// The trials that count, as adviseJob takes them; work struck out is left out, shim changes of trials between are
/// summed. `upTo`: id of the last one wanted; empty: all.
std::vector<JobTrial> historyOf(const JobRecord& job, std::string_view upTo = {});
/// What the job knows beside its trials: used gears and what they were before, what was looked into, the last ring gear
/// runout that counts.
AdviceOptions adviceOptionsOf(const JobRecord& job);
/// The marks and the backlash from before the gears came apart: of each the newest that counts; nullopt: nothing.
std::optional<TrialObservation> beforeOf(const JobRecord& job);
/// Works the advice of the last trial out again when `entry` (just added, struck out or restored) is one that it
/// depends on: a trial before it, what the gears were before, what was looked into, the ring gear's runout. What was
/// advised until then is kept as a remark of `at` and `by`. False: nothing to do, or the setting was changed since.
bool adviseAgain(JobRecord& job, std::string_view entry, const std::string& at, const std::string& by,
                 const std::optional<Costs>& costs = {});
/// What a depth tool should show: the gear set's nominal depth, farther by the figure on the pinion that goes in.
/// nullopt: the gear set has no nominal depth.
std::optional<double> wantedDepthMm(const JobRecord& job, const std::optional<double>& newFigureMm);
/// What the depth figures or the depth tool of this entry ask for; see startShim.
StartShim startShimOf(const JobRecord& job, const DepthEntry& entry);
/// The same; nullopt where it no longer fits, since the job's gear set was corrected after the entry.
std::optional<StartShim> fittingStartOf(const JobRecord& job, const DepthEntry& entry);
/// The gear set of the job, with what the job itself says of the pinion's spacer where the file is silent.
GearSetData advisedGearSet(const JobRecord& job);
/// One trial as adviseJob sees it.
TrialObservation observationOf(const TrialEntry& trial);

// The store ----------------------------------------------------------------------------------------------------------

/// `text` of a whole job.json; the reader takes every version up to kJobSchema. Errors begin with `fileName` and name
/// line or field.
JobRecord parseJob(std::string_view text, std::string_view fileName);
std::string writeJob(const JobRecord& job);

/// A good copy of a damaged record.
struct GoodCopy {
    std::filesystem::path file;
    std::int64_t revision = 0;
    std::string changedAt;
};

/// The record cannot be read. what() names file and line, and the good copy when there is one.
class DamagedJob : public InputError {
public:
    DamagedJob(const std::string& sentence, std::optional<GoodCopy> copy)
        : InputError(sentence), copy_(std::move(copy)) {}
    const std::optional<GoodCopy>& goodCopy() const { return copy_; }

private:
    std::optional<GoodCopy> copy_;
};

/// Somebody else wrote the record since the revision that the change was made for.
class JobConflict : public InputError {
public:
    using InputError::InputError;
};

struct OpenedJob {
    JobRecord record;
    std::vector<std::string> warnings;        ///< fields that look misspelled; an upgrade from an older schema
    std::optional<std::string> upgradedFrom;  ///< schema of the file when it is older; it is written anew with the
                                              ///< next change, and the old file kept
};

/// Whether the folder holds a job, whole or damaged.
bool isJobFolder(const std::filesystem::path& folder);

/// Makes the folder (which must not hold a job yet) and writes `job` as revision 1.
JobRecord createJob(const std::filesystem::path& folder, JobRecord job, const FileCalls& calls = systemFileCalls());

/// Throws DamagedJob, or InputError when there is no job or its schema is newer than this program.
OpenedJob openJob(const std::filesystem::path& folder);

/// Applies `change` to the newest record under the lock and writes it; returns what was written. Writers at once wait
/// for one another, so `change` sees all that was written before; it may run for a second, no longer. With
/// `expectedRevision`, JobConflict is thrown when the record is at another one, and nothing is changed. What `change`
/// throws goes through, and nothing is changed.
JobRecord updateJob(const std::filesystem::path& folder, const std::function<void(JobRecord&)>& change,
                    std::optional<std::int64_t> expectedRevision = {}, const FileCalls& calls = systemFileCalls());

/// Brings the good copy back; the damaged file is kept beside it. Throws InputError when the record is whole or there
/// is no good copy.
JobRecord restoreJob(const std::filesystem::path& folder, const std::string& at, const std::string& by,
                     const FileCalls& calls = systemFileCalls());

/// Copies a photo into the folder (before it is named in the record). Original untouched. Throws InputError, without a
/// file name, when the bytes are no photo. The same photo gives the same name and is written once.
JobPhoto keepPhoto(const std::filesystem::path& folder, std::span<const std::uint8_t> bytes,
                   const std::string& originalName, const FileCalls& calls = systemFileCalls());

/// The SHA-256 (FIPS 180-4) of the bytes, 64 hexadecimal digits.
std::string sha256Of(std::span<const std::uint8_t> bytes);
std::string sha256Of(std::string_view text);

/// The trial in which a photo with these bytes already is: "t1"; empty: none.
std::string trialWithPhoto(const JobRecord& job, std::string_view sha256);

// A trial, the whole way ---------------------------------------------------------------------------------------------

struct NewTrialPhoto {
    std::string name;                    ///< as the user named it
    std::vector<std::uint8_t> bytes;     ///< of the original
    std::vector<FlankOutline> outlines;  ///< set by hand; empty: to be found
};

/// What was measured of a photo already, by itself, with this gear set and nothing told of its flanks; nullopt:
/// nothing. Of the photo's bytes as they lie in the job folder.
using MeasuredBefore = std::function<std::optional<MeasuredPhoto>(const JobPhoto&, const GearSetData&)>;

struct NewTrial {
    TrialEntry entry;  ///< all but id, photos, origin, outlines, drawn maps and measurement
    std::vector<NewTrialPhoto> photos;
    std::optional<FlankMap> drawnDrive, drawnCoast;  ///< drawn by hand; then no photo is read, though all are kept
    std::optional<Costs> costs;                      ///< of the shop, for the advice of this trial; else the usual ones
    MeasuredBefore measuredBefore;                   ///< asked before a photo is read; may be empty
};

struct RecordedTrial {
    JobRecord job;  ///< as written
    std::string id;
    Measurement measurement;              ///< without maps and pictures when the pattern was drawn
    std::vector<std::string> samePhotos;  ///< one sentence for each photo that the job already had
    bool advisedAgain = false;            ///< recordBefore only: the last trial's advice was worked out again
    const TrialEntry& entry() const { return id.starts_with('u') ? *findBefore(job, id) : *findTrial(job, id); }
};

/// Keeps the photos, reads them, asks adviseJob over all trials of the job, and adds the trial; one of a request that
/// is in the record already is not added again. A trial whose photos could not be read is kept with its refusals.
/// `beforePhoto`: see MeasureOptions.
RecordedTrial recordTrial(const std::filesystem::path& folder, NewTrial trial,
                          const std::function<void(std::size_t)>& beforePhoto = {},
                          const FileCalls& calls = systemFileCalls());

/// The same for what the gears were before they came apart. A backlash alone will do, its photos may follow. Advice is
/// given for the last trial, if there is one, not for this.
RecordedTrial recordBefore(const std::filesystem::path& folder, NewTrial before,
                           const std::function<void(std::size_t)>& beforePhoto = {},
                           const FileCalls& calls = systemFileCalls());

struct ReadAgain {
    std::string id;  ///< of the trial, or of what was before
    Measurement measurement;
};
struct CorrectedJob {
    JobRecord job;                 ///< as written
    std::vector<ReadAgain> again;  ///< those whose photos were read again
};

/// correctJob, and where the gear set changes all photos of the job read again with the new one, corrected outlines
/// kept, and every advice worked out anew. One of a request that is in the record already changes nothing. Minutes for
/// a job of many trials; the record is locked only at the end.
CorrectedJob correctAndReadAgain(const std::filesystem::path& folder, const JobCorrection& correction,
                                 const FileCalls& calls = systemFileCalls());

}  // namespace shimsight
