// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/changes.h"

#include <algorithm>
#include <array>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "job_json.h"
#include "records_json.h"
#include "server/guard.h"
#include "server/json_text.h"
#include "server/looked.h"
#include "shimsight/advice_start.h"
#include "shimsight/blank.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/text.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::size_t kMaxOutlines = 64;
constexpr std::int64_t kMaxGearSetBytes = 1'000'000;
/// Wide on purpose: what an axle can have is for the job's own functions to say.
constexpr Range kLengthMm{-100, 100}, kTorqueNm{0, 5000}, kNotches{-10'000, 10'000}, kDegrees{0, 360},
    kPixels{-1e5, 1e5}, kTeeth{1, 1000}, kBigMm{0, 10'000};

/// What refusals call the body, where a file has its name.
std::string sentName() { return say("server.what-was-sent"); }

/// A body while it is read.
struct Body {
    json document;
    std::vector<std::string> warnings;
    ObjectReader reader;
    explicit Body(const std::string& text)
        : document(parseJsonObject(text, sentName())), reader(document, sentName(), "", warnings) {}
    Body(const Body&) = delete;
    Body& operator=(const Body&) = delete;
    void finish() {
        reader.finish();
        if (!warnings.empty()) throw InputError(warnings.front());
    }
};

std::string requiredText(ObjectReader& reader, std::string_view key) {
    std::optional<std::string> text = reader.text(key);
    if (!text || text->empty()) reader.fail(key, say("server.field-missing"));
    return std::move(*text);
}

JobStamp stampOf(ObjectReader& reader, const Request& request) {
    JobStamp stamp;
    stamp.at = request.at;
    stamp.request = request.id;
    stamp.by = reader.text("by").value_or("");
    stamp.note = reader.text("note").value_or("");
    return stamp;
}

std::string idAnswer(const JobRecord& job, const std::string& id) {
    return json{{"entry", id}, {"revision", job.revision}}.dump();
}

/// Adds an entry, unless the request has made it already, before the program ended.
template <typename Entry>
std::string addOnce(const fs::path& folder, const Request& request, std::vector<Entry> JobRecord::*list, Entry entry,
                    std::string (*add)(JobRecord&, Entry)) {
    std::string id;
    const JobRecord written = updateJob(folder, [&](JobRecord& job) {
        id = entryOfRequest(job.*list, request.id);
        if (!id.empty()) return;
        const std::string by = entry.stamp.by;
        id = add(job, std::move(entry));
        (void)adviseAgain(job, id, request.at, by);
    });
    return idAnswer(written, id);
}

/// Where the pinion starts; without a wanted depth that of the gear set, for the mark of the new pinion.
std::string addStart(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    DepthEntry entry;
    entry.stamp = stampOf(reader, request);
    entry.oldFigureMm = reader.number("old_mark_mm", kLengthMm);
    entry.newFigureMm = reader.number("new_mark_mm", kLengthMm);
    entry.measuredMm = reader.number("measured_mm", kBigMm);
    entry.wantedMm = reader.number("wanted_mm", kBigMm);
    entry.shimStackMm = reader.number("shim_stack_mm", kLengthMm);
    entry.figuresInTwoUnits = reader.boolean("marks_in_two_units").value_or(false);
    entry.oldBearingMm = reader.number("old_bearing_mm", kBigMm);
    entry.newBearingMm = reader.number("new_bearing_mm", kBigMm);
    entry.otherHousing = reader.boolean("other_housing").value_or(false);
    body.finish();
    if (entry.measuredMm) {
        if (!entry.wantedMm) entry.wantedMm = wantedDepthMm(openJob(folder).record, entry.newFigureMm);
        entry.oldFigureMm.reset();
        entry.newFigureMm.reset();
        entry.figuresInTwoUnits = false;
    }
    return addOnce(folder, request, &JobRecord::depths, std::move(entry), addDepth);
}

std::string addTurningTorque(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    PreloadEntry entry{stampOf(reader, request), reader.requiredNumber("torque_nm", kTorqueNm),
                       reader.number("stack_mm", kLengthMm), reader.boolean("with_oil_seal").value_or(false),
                       reader.boolean("for_trial").value_or(false)};
    body.finish();
    return addOnce(folder, request, &JobRecord::preloads, std::move(entry), addPreload);
}

std::string addDialReadings(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    BacklashEntry entry{stampOf(reader, request), job::backlashPointsAt(reader, "points", kDegrees, kLengthMm),
                        reader.choice("dial", kDialWords).value_or(DialReading::SquareToTooth)};
    body.finish();
    return addOnce(folder, request, &JobRecord::backlashes, std::move(entry), addBacklash);
}

std::string addRunoutReading(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    RunoutEntry entry{stampOf(reader, request),
                      reader.choice("place", job::kPlaceWords).value_or(RunoutPlace::RingGear),
                      reader.requiredNumber("runout_mm", kLengthMm)};
    body.finish();
    return addOnce(folder, request, &JobRecord::runouts, std::move(entry), addRunout);
}

std::string addLookedInto(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    const JobStamp stamp = stampOf(reader, request);
    CheckedEntry entry{stamp, parseLookedInto(requiredText(reader, "kind"), say("server.what-was-looked-into"))};
    body.finish();
    return addOnce(folder, request, &JobRecord::checked, std::move(entry), addChecked);
}

std::string addCarrierSetting(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    CarrierEntry entry;
    entry.stamp = stampOf(reader, request);
    entry.torqueNm = reader.number("torque_nm", kTorqueNm);
    entry.leftNotches = reader.number("left_notches", kNotches);
    entry.rightNotches = reader.number("right_notches", kNotches);
    entry.leftShimsMm = reader.number("left_shims_mm", kLengthMm);
    entry.rightShimsMm = reader.number("right_shims_mm", kLengthMm);
    entry.spreadMm = reader.number("spread_mm", kLengthMm);
    entry.withOilSeal = reader.boolean("with_oil_seal").value_or(false);
    body.finish();
    return addOnce(folder, request, &JobRecord::carriers, std::move(entry), addCarrier);
}

std::string addWorkDone(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    WorkEntry entry;
    entry.stamp = stampOf(reader, request);
    entry.afterTrial = reader.text("after_trial").value_or("");
    entry.shimChangeMm = reader.number("shim_change_mm", kLengthMm);
    entry.shimStackMm = reader.number("shim_stack_mm", kLengthMm);
    entry.backlashMm = reader.number("backlash_mm", kLengthMm);
    entry.leftNotches = reader.number("left_notches", kNotches);
    entry.rightNotches = reader.number("right_notches", kNotches);
    body.finish();
    return addOnce(folder, request, &JobRecord::work, std::move(entry), addWork);
}

/// A line of a check list that the shop adds; the same line sent twice is there once.
std::string addOwnLine(const fs::path& folder, const Request&, Body& body) {
    ObjectReader& reader = body.reader;
    const CheckList list = reader.choice("list", job::kListWords).value_or(CheckList::FinalAssembly);
    const std::string text = requiredText(reader, "text");
    body.finish();
    std::string key;
    const JobRecord written = updateJob(folder, [&](JobRecord& job) {
        const auto twin = std::find_if(job.checks.begin(), job.checks.end(),
                                       [&](const CheckItem& item) { return item.list == list && item.text == text; });
        key = twin != job.checks.end() ? twin->key : addCheck(job, list, text);
    });
    return idAnswer(written, key);
}

std::string tickLine(const fs::path& folder, const Request& request, Body& body) {
    ObjectReader& reader = body.reader;
    const std::string key = requiredText(reader, "key");
    Tick tick;
    tick.state = reader.choice("state", job::kStateWords).value_or(CheckState::Done);
    tick.torqueNm = reader.number("torque_nm", kTorqueNm);
    tick.wantedNm = reader.interval("wanted_nm", kTorqueNm);
    tick.wantedFrom = reader.text("wanted_from").value_or("");
    tick.by = reader.text("by").value_or("");
    tick.note = reader.text("note").value_or("");
    tick.at = request.at;
    tick.request = request.id;
    body.finish();
    const JobRecord written = updateJob(folder, [&](JobRecord& job) {
        const bool done = std::any_of(job.checks.begin(), job.checks.end(),
                                      [&](const CheckItem& item) { return item.stamp.request == request.id; });
        if (!done) tickCheck(job, key, tick);
    });
    return idAnswer(written, key);
}

/// Whether the request has struck an entry out, restored one, or reopened the job, already.
bool strikesOut(const JobRecord& job, const std::string& request) {
    const auto in = [&](const auto& list) {
        return std::any_of(list.begin(), list.end(), [&](const auto& entry) {
            const auto& back = entry.stamp.restored;
            return (entry.stamp.struck && entry.stamp.struck->request == request) ||
                   std::any_of(back.begin(), back.end(), [&](const TakenBack& one) {
                       return one.request == request || one.struck.request == request;
                   });
        });
    };
    return in(job.depths) || in(job.preloads) || in(job.backlashes) || in(job.runouts) || in(job.carriers) ||
           in(job.before) || in(job.trials) || in(job.checked) || in(job.work) || in(job.signOffs);
}

std::string signOffJob(const fs::path& folder, const Request& request, Body& body) {
    const JobStamp stamp = stampOf(body.reader, request);
    body.finish();
    const JobRecord written = updateJob(folder, [&](JobRecord& job) {
        if (entryOfRequest(job.signOffs, request.id).empty()) signOff(job, stamp);
    });
    return idAnswer(written, written.signOffs.back().stamp.id);
}

std::string addRemarkOnce(const fs::path& folder, const Request& request, Body& body) {
    const std::string by = body.reader.text("by").value_or(""), text = requiredText(body.reader, "text");
    body.finish();
    const JobRecord written = updateJob(folder, [&](JobRecord& job) {
        const bool there = std::any_of(job.remarks.begin(), job.remarks.end(),
                                       [&](const Remark& one) { return one.request == request.id; });
        if (!there) addRemark(job, {request.at, by, text, request.id});
    });
    return idAnswer(written, "");
}

/// Takes something back, or takes that back, unless the request has done so already.
template <typename Change>
std::string takeBackOnce(const fs::path& folder, const Request& request, Body& body, const std::string& id,
                         Change change) {
    ObjectReader& reader = body.reader;
    const StruckOut why{request.at, reader.text("by").value_or(""), reader.text("why").value_or(""), request.id};
    body.finish();
    const JobRecord written = updateJob(folder, [&](JobRecord& job) {
        if (!strikesOut(job, request.id)) change(job, why);
    });
    return idAnswer(written, id);
}

std::string strikeOutEntry(const fs::path& folder, const Request& request, Body& body) {
    const std::string id = requiredText(body.reader, "entry");
    return takeBackOnce(folder, request, body, id, [&](JobRecord& job, const StruckOut& why) {
        strikeOut(job, id, why);
        (void)adviseAgain(job, id, why.at, why.by);
    });
}

std::string restoreStruck(const fs::path& folder, const Request& request, Body& body) {
    const std::string id = requiredText(body.reader, "entry");
    return takeBackOnce(folder, request, body, id, [&](JobRecord& job, const StruckOut& why) {
        restoreEntry(job, id, why.at, why.by, request.id);
        (void)adviseAgain(job, id, why.at, why.by);
    });
}

std::string reopenJob(const fs::path& folder, const Request& request, Body& body) {
    return takeBackOnce(folder, request, body, "", [](JobRecord& job, const StruckOut& why) { reopen(job, why); });
}

/// A kind of change as its path names it, and who makes it: the answer.
struct EntryKind {
    std::string_view name;
    std::string (*change)(const fs::path& folder, const Request& request, Body& body);
};
constexpr std::array kEntryKinds{
    EntryKind{"depth", addStart},
    EntryKind{"preload", addTurningTorque},
    EntryKind{"backlash", addDialReadings},
    EntryKind{"runout", addRunoutReading},
    EntryKind{"carrier", addCarrierSetting},
    EntryKind{"checked", addLookedInto},
    EntryKind{"work", addWorkDone},
    EntryKind{"check", tickLine},
    EntryKind{"own-check", addOwnLine},
    EntryKind{"strike-out", strikeOutEntry},
    EntryKind{"restore", restoreStruck},
    EntryKind{"sign-off", signOffJob},
    EntryKind{"reopen", reopenJob},
    EntryKind{"remark", addRemarkOnce},
};

const EntryKind* entryKind(std::string_view kind) {
    const auto* found =
        std::find_if(kEntryKinds.begin(), kEntryKinds.end(), [&](const EntryKind& one) { return one.name == kind; });
    return found == kEntryKinds.end() ? nullptr : found;
}

/// Any of these in a body names a gear set.
constexpr std::array kSetKeys{"gear_set", "new_gear_set", "same_as"};

// A new job ----------------------------------------------------------------------------------------------------------

/// What a person describes by what stands on the parts, put into the document of a gear set. What is said to be not
/// known is taken out of it; what this form does not ask for stays.
void describe(json& document, ObjectReader reader) {
    document["name"] = requiredText(reader, "name");
    document["teeth"] = {{"pinion", reader.requiredInteger("pinion_teeth", kTeeth)},
                         {"ring", reader.requiredInteger("ring_teeth", kTeeth)}};
    document["ring_gear_diameter_mm"] = reader.requiredNumber("ring_gear_diameter_mm", kBigMm);
    document["offset_mm"] = reader.requiredNumber("offset_mm", kBigMm);
    const auto word = [&](json& into, const char* key) {
        into.erase(key);
        if (const std::optional<std::string> said = reader.text(key)) into[key] = *said;
    };
    for (const char* key : {"cut", "hand"}) word(document, key);
    json build = document.value("build", json::object());
    for (const char* key : {"pinion_shim", "carrier", "pinion"}) word(build, key);
    if (const std::optional<int> notches = reader.integer("notches", {0, 1000}))
        build["adjuster"]["notches"] = *notches;
    else if (build.contains("adjuster"))
        build["adjuster"].erase("notches");
    if (build.contains("adjuster") && build["adjuster"].empty()) build.erase("adjuster");
    if (build.empty())
        document.erase("build");
    else
        document["build"] = build;
    reader.finish();
}

json describedGearSet(ObjectReader reader) {
    json document = {{"schema", "shimsight/gear-set/1"}};
    describe(document, std::move(reader));
    document["sources"] = {say("server.source-typed-at-the-bench")};
    return document;
}

/// Parsed and checked as a gear-set file is.
JobGearSet checkedGearSet(const json& document, const std::string& fileName) {
    JobGearSet gearSet;
    gearSet.fileName = fileName;
    gearSet.document = document.dump(2) + "\n";
    gearSet.data = parseGearSet(gearSet.document, say("server.gear-set"));
    (void)designBlank(completeGearSet(gearSet.data));
    return gearSet;
}

JobGearSet chosenGearSet(const JobRepository& repository, ObjectReader& reader) {
    if (std::optional<ObjectReader> described = reader.object("new_gear_set")) {
        const json document = describedGearSet(std::move(*described));
        const std::string text = document.dump(2) + "\n";
        const std::vector<std::uint8_t> bytes(text.begin(), text.end());
        // The same set typed twice is one file, unless that was changed since.
        constexpr std::size_t kDigits = 16;
        constexpr int kMaxTwins = 1000;
        JobGearSet gearSet;
        for (int twin = 1; twin < kMaxTwins; ++twin) {
            const std::string more = twin == 1 ? "" : "-" + std::to_string(twin);
            gearSet = checkedGearSet(document, "gear-set-" + sha256Of(bytes).substr(0, kDigits) + more + ".json");
            const fs::path file = repository.ownGearSets() / gearSet.fileName;
            if (!fs::exists(file)) writeFileAtomically(file, bytes);
            if (readFile(file, kMaxGearSetBytes) == bytes) break;
        }
        return gearSet;
    }
    if (const std::optional<std::string> other = reader.text("same_as")) {
        const std::optional<fs::path> folder = repository.find(*other);
        if (!folder) reader.fail("same_as", say("server.field-no-job"));
        return openJob(*folder).record.gearSet;
    }
    const std::string id = requiredText(reader, "gear_set");
    for (const OfferedGearSet& one : repository.gearSets())
        if (one.id == id) return jobGearSet(one.file);
    reader.fail("gear_set", say("server.field-no-gear-set"));
}

/// What the shop says of this build rules over the file; what neither says stays left out.
JobGearSet withShopsWords(JobGearSet gearSet, ObjectReader& reader) {
    const std::vector<double> shims = reader.numbers("shims_mm", kLengthMm, 200);
    const std::optional<Interval> backlash = reader.interval("backlash_mm", kLengthMm);
    if (shims.empty() && !backlash) return gearSet;
    json document = json::parse(gearSet.document);
    if (!shims.empty()) document["build"]["shims_mm"] = shims;
    if (backlash) document["limits"]["backlash_mm"] = {backlash->low, backlash->high};
    return checkedGearSet(document, gearSet.fileName);
}

/// From {gear_set | new_gear_set | same_as, axle, customer, by}, each of which may be left out.
JobCorrection correctionOf(const JobRecord& job, const JobRepository& repository, const Request& request) {
    Body body(request.body);
    ObjectReader& reader = body.reader;
    JobCorrection correction;
    correction.at = request.at;
    correction.by = reader.text("by").value_or("");
    correction.request = request.id;
    const bool other = std::any_of(std::begin(kSetKeys), std::end(kSetKeys),
                                   [&](const char* key) { return body.document.contains(key); });
    if (other) {
        JobGearSet set = chosenGearSet(repository, reader);
        // The shims on hand lie in the shop whatever set they are for.
        if (!job.gearSet.data.build.shimsMm.empty() && set.data.build.shimsMm.empty()) {
            json document = json::parse(set.document);
            document["build"]["shims_mm"] = job.gearSet.data.build.shimsMm;
            set = checkedGearSet(document, set.fileName);
        }
        correction.gearSet = withShopsWords(std::move(set), reader);
    }
    correction.axle = reader.text("axle");
    correction.customer = reader.text("customer");
    body.finish();
    return correction;
}

std::string jobAnswer(const fs::path& folder) { return json{{"job", folder.filename().string()}}.dump(); }

// A trial ------------------------------------------------------------------------------------------------------------

struct SentPhoto {
    std::string upload;
    std::optional<Side> side;  ///< that it was taken of, where the page says so
    /// What the record calls it.
    std::string name() const { return side ? text(sideWords(*side)) : say("server.photo"); }
    std::string notWhole() const {
        return say(!side                  ? "server.photo-not-whole"
                   : *side == Side::Drive ? "server.drive-photo-not-whole"
                                          : "server.coast-photo-not-whole");
    }
    std::string gone() const {
        return say(!side                  ? "server.photo-gone"
                   : *side == Side::Drive ? "server.drive-photo-gone"
                                          : "server.coast-photo-gone");
    }
};
struct SentTrial {
    TrialEntry entry;
    std::vector<SentPhoto> photos;
    std::vector<std::pair<std::size_t, FlankOutline>> outlines;  ///< with the place of their photo
    std::optional<FlankMap> drive, coast;
    std::string replaces;
};

/// A flank map as base64 of its 256 x 128 values.
FlankMap mapOf(const ObjectReader& reader, std::string_view key, std::string_view text) {
    std::optional<std::vector<std::uint8_t>> values = bytesOfBase64(text);
    if (!values) reader.fail(key, say("server.field-no-base64"));
    FlankMap map;
    if (values->size() != map.contact.size()) reader.fail(key, say("server.field-no-map"));
    map.contact = std::move(*values);
    return map;
}

void readOutlines(ObjectReader& reader, SentTrial& trial, std::size_t photos) {
    const json* list = reader.list("outlines", kMaxOutlines);
    if (list == nullptr) return;
    for (std::size_t i = 0; i < list->size(); ++i) {
        ObjectReader item = reader.item("outlines", *list, i);
        const int photo = item.requiredInteger("photo", {0, 1000});
        if (static_cast<std::size_t>(photo) >= photos) item.fail("photo", say("server.field-no-photo"));
        FlankOutline outline;
        outline.side = item.choice("side", kSideWords);
        if (!outline.side) item.fail("side", say("server.field-missing"));
        const std::vector<double> numbers = item.numbers("corners_px", kPixels, 8);
        if (numbers.size() != 8) item.fail("corners_px", say("server.field-no-corners"));
        for (std::size_t k = 0; k < 4; ++k) outline.corners[k] = {numbers[2 * k], numbers[2 * k + 1]};
        item.finish();
        trial.outlines.emplace_back(static_cast<std::size_t>(photo), outline);
    }
}

SentTrial trialOf(const JobRecord& job, const Request& request) {
    Body body(request.body);
    ObjectReader& reader = body.reader;
    SentTrial trial;
    const bool before = request.kind == kBeforeKind;
    trial.replaces = reader.text("replaces").value_or("");
    if (before && !trial.replaces.empty()) reader.fail("replaces", say("server.field-replaces-before"));
    if (!trial.replaces.empty()) {
        const TrialEntry* former = findTrial(job, trial.replaces);
        if (former == nullptr) reader.fail("replaces", say("server.field-no-trial"));
        // Shims, backlash and words stay; what was read of the photos does not.
        trial.entry = *former;
        trial.entry.stamp = {};
        trial.entry.outlines.clear();
        trial.entry.measurement.reset();
        trial.entry.drawnDrive.reset();
        trial.entry.drawnCoast.reset();
        trial.entry.origin = PatternOrigin::None;
        trial.entry.side.reset();
        trial.entry.marking.reset();
    }
    trial.entry.stamp = stampOf(reader, request);
    const auto keep = [&](std::optional<double>& into, const char* key) {
        if (const std::optional<double> value = reader.number(key, kLengthMm)) into = value;
    };
    keep(trial.entry.shimStackMm, "shim_stack_mm");
    keep(trial.entry.backlashMm, "backlash_mm");
    if (!before) keep(trial.entry.shimChangeMm, "shim_change_mm");
    if (std::vector<BacklashPoint> points = job::backlashPointsAt(reader, "backlash_round", kDegrees, kLengthMm);
        !points.empty())
        trial.entry.backlashRound = std::move(points);
    if (const auto dial = reader.choice("dial", kDialWords)) trial.entry.dial = *dial;
    if (!before) {
        if (std::optional<std::string> words = reader.text("changed")) trial.entry.changed = std::move(*words);
        if (std::optional<std::string> words = reader.text("why")) trial.entry.why = std::move(*words);
    }
    trial.entry.side = reader.choice("side", kSideWords);
    trial.entry.marking = reader.choice("marking", kMarkingWords);
    std::size_t photos = trial.entry.photos.size();
    if (const json* list = reader.list("photos", kMaxTrialPhotos)) {
        if (!trial.replaces.empty()) reader.fail("photos", say("server.field-photos-read-again"));
        for (std::size_t i = 0; i < list->size(); ++i) {
            ObjectReader item = reader.item("photos", *list, i);
            SentPhoto photo{requiredText(item, "upload"), {}};
            if (!isId(photo.upload)) item.fail("upload", say("server.field-no-upload"));
            photo.side = item.choice("side", kSideWords);
            item.finish();
            trial.photos.push_back(std::move(photo));
        }
        photos = trial.photos.size();
    }
    readOutlines(reader, trial, photos);
    if (std::optional<ObjectReader> drawn = reader.object("drawn")) {
        if (const auto text = drawn->text("drive")) trial.drive = mapOf(*drawn, "drive", *text);
        if (const auto text = drawn->text("coast")) trial.coast = mapOf(*drawn, "coast", *text);
        drawn->finish();
    }
    body.finish();
    if (!before && photos == 0 && !trial.drive && !trial.coast) throw InputError(message("server.trial-without-photo"));
    return trial;
}

/// What the first looks have measured of these photos, by what was sent.
MeasuredBefore lookedAt(const Uploads& uploads, const std::vector<SentPhoto>& sent,
                        const std::vector<NewTrialPhoto>& photos) {
    std::map<std::string, std::string> uploadOf;
    for (std::size_t i = 0; i < sent.size(); ++i) uploadOf[sha256Of(photos[i].bytes)] = sent[i].upload;
    return [&uploads, uploadOf = std::move(uploadOf)](const JobPhoto& photo,
                                                      const GearSetData& gearSet) -> std::optional<MeasuredPhoto> {
        const auto upload = uploadOf.find(photo.sha256);
        if (upload == uploadOf.end()) return std::nullopt;
        return measuredAtLook(uploads, upload->second, photo.sha256, gearSet);
    };
}

/// Strikes the former trial out so that the advice does not learn from the same marks twice; gives it back when the new
/// reading fails.
class Replacing {
public:
    Replacing(const fs::path& folder, const SentTrial& trial, const Request& request)
        : folder_(folder), id_(trial.replaces) {
        if (id_.empty()) return;
        updateJob(folder, [&](JobRecord& job) {
            const TrialEntry* former = findTrial(job, id_);
            check(former != nullptr, "a trial to replace vanished");
            if (former->stamp.struck && former->stamp.struck->request == request.id) return;
            strikeOut(job, id_, {request.at, trial.entry.stamp.by, say("server.read-again-on-the-page"), request.id});
        });
    }
    void done() { id_.clear(); }
    ~Replacing() {
        if (id_.empty()) return;
        try {
            updateJob(folder_, [&](JobRecord& job) {
                for (TrialEntry& trial : job.trials)
                    if (trial.stamp.id == id_) trial.stamp.struck.reset();
            });
        } catch (const std::exception&) {
            // The disk failed twice: the trial stays struck out, to be seen, with its reason.
            return;
        }
    }
    Replacing(const Replacing&) = delete;
    Replacing& operator=(const Replacing&) = delete;

private:
    fs::path folder_;
    std::string id_;
};

}  // namespace

bool isEntryKind(std::string_view kind) { return entryKind(kind) != nullptr; }

void checkIsObject(const std::string& body) { (void)parseJsonObject(body, sentName()); }

std::string changeEntry(const fs::path& folder, const Request& request) {
    const EntryKind* kind = entryKind(request.kind);
    check(kind != nullptr, "a kind of change that no route lets in");
    Body body(request.body);
    return kind->change(folder, request, body);
}

std::string makeJob(const JobRepository& repository, const Request& request) {
    Body body(request.body);
    ObjectReader& reader = body.reader;
    JobGearSet gearSet = chosenGearSet(repository, reader);
    gearSet = withShopsWords(std::move(gearSet), reader);
    JobRecord job = newJob(std::move(gearSet), requiredText(reader, "axle"), reader.text("customer").value_or(""),
                           reader.text("by").value_or(""), request.at);
    job.build = reader.choice("build", job::kBuildWords).value_or(BuildKind::NewGears);
    job.bearings = reader.choice("bearings", job::kBearingWords).value_or(Bearings::New);
    job.spacer = reader.choice("spacer", job::kSpacerWords).value_or(PinionSpacer::NotSaid);
    body.finish();
    constexpr std::size_t kDay = 10;
    const fs::path folder = repository.newFolder(request.at.substr(0, kDay), job.axle, request.id);
    // There already: the program ended between the record and the answer.
    if (!isJobFolder(folder)) (void)createJob(folder, std::move(job));
    return jobAnswer(folder);
}

std::string changeGearSet(const JobRepository& repository, const Request& request) {
    Body body(request.body);
    ObjectReader& reader = body.reader;
    const std::optional<std::string> id = reader.text("gear_set");
    const std::optional<bool> deleted = reader.boolean("deleted");
    if (!id) {
        const JobGearSet made = chosenGearSet(repository, reader);
        body.finish();
        return json{{"gear_set", JobRepository::ownId(made.fileName)}}.dump();
    }
    if (deleted) {
        body.finish();
        repository.moveOwnGearSet(*id, *deleted);
        return json{{"gear_set", *id}}.dump();
    }
    std::optional<ObjectReader> described = reader.object("new_gear_set");
    if (!described) reader.fail("new_gear_set", say("server.field-missing"));
    const std::optional<fs::path> file = repository.findOwnGearSet(*id);
    if (!file) reader.fail("gear_set", say("server.field-no-gear-set"));
    const std::vector<std::uint8_t> former = readFile(*file, kMaxGearSetBytes);
    json document = json::parse(former.begin(), former.end());
    describe(document, std::move(*described));
    body.finish();
    const JobGearSet set = checkedGearSet(document, file->filename().string());
    const std::vector<std::uint8_t> bytes(set.document.begin(), set.document.end());
    writeFileAtomically(*file, bytes);
    return json{{"gear_set", *id}}.dump();
}

void checkCorrection(const fs::path& folder, const Request& request, const JobRepository& repository) {
    JobRecord tried = openJob(folder).record;
    correctJob(tried, correctionOf(tried, repository, request));
}

std::string correct(const fs::path& folder, const Request& request, const JobRepository& repository) {
    const JobRecord job = openJob(folder).record;
    const CorrectedJob corrected = correctAndReadAgain(folder, correctionOf(job, repository, request));
    for (const ReadAgain& one : corrected.again)
        repository.keepMaps(folder.filename().string(), one.id, one.measurement);
    return json{{"read_again", corrected.again.size()}, {"revision", corrected.job.revision}}.dump();
}

std::vector<std::string> uploadsNamedBy(const Request& request) {
    std::vector<std::string> ids;
    const json document = json::parse(request.body, nullptr, false);
    if (!document.is_object() || !document.contains("photos") || !document.at("photos").is_array()) return ids;
    for (const json& photo : document.at("photos"))
        if (photo.is_object() && photo.contains("upload") && photo.at("upload").is_string())
            ids.push_back(photo.at("upload").get<std::string>());
    return ids;
}

void checkTrial(const fs::path& folder, const Request& request, const Uploads& uploads,
                const std::vector<std::string>& waiting) {
    const JobRecord job = openJob(folder).record;
    const SentTrial trial = trialOf(job, request);
    for (const SentPhoto& photo : trial.photos) {
        const std::optional<UploadState> state = uploads.find(photo.upload);
        if (!state || !state->whole()) throw InputError(photo.notWhole());
    }
    JobRecord tried = job;
    TrialEntry entry = trial.entry;
    const bool before = request.kind == kBeforeKind;
    const auto add = before ? addBefore : addTrial;
    if (before) {
        entry.photos.resize(trial.photos.size());
        if (trial.drive || trial.coast) entry.drawnDrive = "drawn";
    }
    for (const std::string& other : waiting) {
        if (!entryOfRequest(before ? job.before : job.trials, other).empty()) continue;
        entry.stamp.request = other;
        (void)add(tried, entry);
    }
    entry.stamp.request = request.id;
    (void)add(tried, std::move(entry));
}

std::string readTrial(const fs::path& folder, const Request& request, Uploads& uploads,
                      const JobRepository& repository) {
    const JobRecord job = openJob(folder).record;
    const bool before = request.kind == kBeforeKind;
    const char* answerKey = before ? "before" : "trial";
    if (const std::string id = entryOfRequest(before ? job.before : job.trials, request.id); !id.empty())
        return json{{answerKey, id}}.dump();
    SentTrial sent = trialOf(job, request);
    NewTrial trial;
    if (sent.replaces.empty()) {
        for (const SentPhoto& photo : sent.photos) {
            std::optional<std::vector<std::uint8_t>> bytes = uploads.bytes(photo.upload);
            if (!bytes) throw InputError(photo.gone());
            trial.photos.push_back({photo.name(), std::move(*bytes), {}});
        }
    } else {
        for (const JobPhoto& photo : sent.entry.photos)
            trial.photos.push_back({photo.originalName, readFile(folder / photo.file, kMaxPhotoBytes), {}});
        sent.entry.photos.clear();
    }
    for (const auto& [photo, outline] : sent.outlines) trial.photos[photo].outlines.push_back(outline);
    // Where flanks of some photos are outlined by hand, those of the others are still found.
    trial.entry = sent.entry;
    trial.drawnDrive = std::move(sent.drive);
    trial.drawnCoast = std::move(sent.coast);
    trial.measuredBefore = lookedAt(uploads, sent.photos, trial.photos);
    Replacing replacing(folder, sent, request);
    const RecordedTrial recorded =
        before ? recordBefore(folder, std::move(trial)) : recordTrial(folder, std::move(trial));
    replacing.done();
    repository.keepMaps(folder.filename().string(), recorded.id, recorded.measurement);
    for (const SentPhoto& photo : sent.photos) uploads.remove(photo.upload);
    json notes = json::array();
    if (sent.replaces.empty())
        for (const std::string& sentence : recorded.samePhotos) notes.push_back(sentence);
    return jsonText({{answerKey, recorded.id}, {"notes", notes}});
}

}  // namespace shimsight::server
