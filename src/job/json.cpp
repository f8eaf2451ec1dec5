// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "job/json.h"

#include <algorithm>
#include <array>

#include "job/words.h"
#include "job_json.h"
#include "records_json.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using namespace job;
using nlohmann::json;

// Ranges as in record.cpp; a file that holds more was not written by this program.
constexpr Range kBacklashMm{0, 5}, kStackMm{0, 50}, kChangeMm{-5, 5}, kRunoutMm{0, 10}, kTurningNm{0, 100},
    kBoltNm{0, 3000}, kNotches{-1000, 1000}, kPositionDeg{0, 359.999999}, kRevisions{0, 2'000'000'000},
    kFigureMm{-1, 1}, kDepthMm{0, 500}, kBearingMm{0, 150};
/// Of a side; those of a photo that can be read are fewer (DecodeLimits).
constexpr Range kPhotoPx{1, 100'000};
constexpr std::size_t kMaxWords = 50, kMaxRequestId = 64;

// Writing ------------------------------------------------------------------------------------------------------------

json orNull(const std::optional<double>& value) { return value ? json(tidy(*value)) : json(nullptr); }
json orNull(const std::optional<std::string>& value) { return value ? json(*value) : json(nullptr); }
json wordOrNull(const std::string& word) { return word.empty() ? json(nullptr) : json(word); }

json struckJson(const StruckOut& struck) {
    return {{"at", struck.at}, {"by", struck.by}, {"why", struck.why}, {"request", wordOrNull(struck.request)}};
}

json stampJson(const JobStamp& stamp) {
    json restored = json::array();
    for (const TakenBack& back : stamp.restored)
        restored.push_back({{"at", back.at},
                            {"by", back.by},
                            {"request", wordOrNull(back.request)},
                            {"struck", struckJson(back.struck)}});
    return {{"id", stamp.id},
            {"at", stamp.at},
            {"by", stamp.by},
            {"note", stamp.note},
            {"struck", stamp.struck ? struckJson(*stamp.struck) : json(nullptr)},
            {"restored", restored},
            {"request", wordOrNull(stamp.request)}};
}

json pointsJson(const std::vector<BacklashPoint>& points) {
    json list = json::array();
    for (const BacklashPoint& point : points)
        list.push_back({{"position_deg", tidy(point.positionDeg)}, {"backlash_mm", tidy(point.mm)}});
    return list;
}

json toJson(const DepthEntry& entry) {
    json object = stampJson(entry.stamp);
    object["old_mark_mm"] = orNull(entry.oldFigureMm);
    object["new_mark_mm"] = orNull(entry.newFigureMm);
    object["measured_mm"] = orNull(entry.measuredMm);
    object["wanted_mm"] = orNull(entry.wantedMm);
    object["shim_stack_mm"] = orNull(entry.shimStackMm);
    object["marks_in_two_units"] = entry.figuresInTwoUnits;
    object["old_bearing_mm"] = orNull(entry.oldBearingMm);
    object["new_bearing_mm"] = orNull(entry.newBearingMm);
    object["other_housing"] = entry.otherHousing;
    return object;
}

json toJson(const PreloadEntry& entry) {
    json object = stampJson(entry.stamp);
    object["torque_nm"] = tidy(entry.torqueNm);
    object["stack_mm"] = orNull(entry.stackMm);
    object["with_oil_seal"] = entry.withOilSeal;
    object["for_trial"] = entry.forTrial;
    return object;
}

json toJson(const BacklashEntry& entry) {
    json object = stampJson(entry.stamp);
    object["dial"] = name(entry.dial);
    object["points"] = pointsJson(entry.points);
    return object;
}

json toJson(const RunoutEntry& entry) {
    json object = stampJson(entry.stamp);
    object["place"] = name(entry.place);
    object["runout_mm"] = tidy(entry.mm);
    return object;
}

json toJson(const CarrierEntry& entry) {
    json object = stampJson(entry.stamp);
    object["torque_nm"] = orNull(entry.torqueNm);
    object["left_notches"] = orNull(entry.leftNotches);
    object["right_notches"] = orNull(entry.rightNotches);
    object["left_shims_mm"] = orNull(entry.leftShimsMm);
    object["right_shims_mm"] = orNull(entry.rightShimsMm);
    object["spread_mm"] = orNull(entry.spreadMm);
    object["with_oil_seal"] = entry.withOilSeal;
    return object;
}

json sizeJson(const std::optional<PhotoSize>& size) {
    return size ? json{{"width", size->width}, {"height", size->height}} : json(nullptr);
}

json toJson(const TrialEntry& entry) {
    json object = stampJson(entry.stamp);
    json photos = json::array();
    for (const JobPhoto& photo : entry.photos)
        photos.push_back({{"file", photo.file},
                          {"original_name", photo.originalName},
                          {"sha256", photo.sha256.empty() ? json(nullptr) : json(photo.sha256)},
                          {"taken_at", orNull(photo.takenAt)},
                          {"size_px", sizeJson(photo.sizePx)},
                          {"reencoded", photo.reencoded},
                          {"removed", photo.removed}});
    object["photos"] = photos;
    object["shim_stack_mm"] = orNull(entry.shimStackMm);
    object["backlash_mm"] = orNull(entry.backlashMm);
    object["backlash_round"] = pointsJson(entry.backlashRound);
    object["dial"] = name(entry.dial);
    object["changed"] = entry.changed;
    object["why"] = entry.why;
    object["shim_change_mm"] = orNull(entry.shimChangeMm);
    object["origin"] = name(entry.origin);
    object["side"] = entry.side ? json(name(*entry.side)) : json(nullptr);
    object["marking"] = entry.marking ? json(name(*entry.marking)) : json(nullptr);
    object["outlines"] = entry.outlines.empty() ? json(nullptr) : json::parse(writeOutline(entry.outlines));
    object["drawn"] = {{"drive", orNull(entry.drawnDrive)}, {"coast", orNull(entry.drawnCoast)}};
    object["reading"] = entry.measurement ? json::parse(writeMeasurement(*entry.measurement)) : json(nullptr);
    return object;
}

json toJson(const WorkEntry& entry) {
    json object = stampJson(entry.stamp);
    object["after_trial"] = entry.afterTrial;
    object["shim_change_mm"] = orNull(entry.shimChangeMm);
    object["shim_stack_mm"] = orNull(entry.shimStackMm);
    object["backlash_mm"] = orNull(entry.backlashMm);
    object["left_notches"] = orNull(entry.leftNotches);
    object["right_notches"] = orNull(entry.rightNotches);
    return object;
}

json toJson(const CheckedEntry& entry) {
    json object = stampJson(entry.stamp);
    object["kind"] = name(entry.kind);
    return object;
}

json toJson(const CheckItem& item) {
    json wanted = nullptr;
    if (item.wantedNm) wanted = {tidy(item.wantedNm->low), tidy(item.wantedNm->high)};
    return {{"key", item.key},
            {"list", name(item.list)},
            {"text", item.text},
            {"state", name(item.state)},
            {"only_at_the_end", item.onlyAtTheEnd},
            {"wanted_nm", wanted},
            {"wanted_from", item.wantedByGearSet ? json(nullptr) : json(item.wantedFrom)},
            {"torque_nm", orNull(item.torqueNm)},
            {"at", item.stamp.at},
            {"by", item.stamp.by},
            {"note", item.stamp.note},
            {"request", wordOrNull(item.stamp.request)}};
}

json toJson(const SignOff& entry) {
    json object = stampJson(entry.stamp);
    object["open"] = entry.open;
    return object;
}

template <typename Entry>
json listJson(const std::vector<Entry>& entries) {
    json list = json::array();
    for (const Entry& entry : entries) list.push_back(toJson(entry));
    return list;
}

/// What tells items of a list apart, "" when nothing does.
std::string identityOf(const json& item) {
    for (const char* key : {"id", "key", "file"})
        if (item.is_object() && item.contains(key) && item.at(key).is_string()) return item.at(key).get<std::string>();
    return {};
}

/// Puts into `now` what `former` has and `now` does not know. Every known field is always written, if only as null, so
/// a field that is not there is one that this program does not know.
void keepUnknown(json& now, const json& former) {
    if (now.is_object() && former.is_object()) {
        for (const auto& [key, value] : former.items()) {
            if (!now.contains(key))
                now[key] = value;
            else
                keepUnknown(now[key], value);
        }
    } else if (now.is_array() && former.is_array()) {
        const std::size_t count = std::min(now.size(), former.size());
        for (std::size_t i = 0; i < count; ++i)
            if (identityOf(now[i]) == identityOf(former[i])) keepUnknown(now[i], former[i]);
    }
}

// Reading ------------------------------------------------------------------------------------------------------------

std::string requiredText(ObjectReader& reader, std::string_view key) {
    std::optional<std::string> text = reader.text(key);
    if (!text) reader.fail(key, say("job.field-missing"));
    return std::move(*text);
}

std::string timeAt(ObjectReader& reader, std::string_view key) {
    std::string time = requiredText(reader, key);
    try {
        checkTime(time, "");
    } catch (const InputError&) {
        reader.fail(key, say("job.field-no-time", shown(time)));
    }
    return time;
}

template <typename T, std::size_t N>
T requiredChoice(ObjectReader& reader, std::string_view key,
                 const std::array<std::pair<std::string_view, T>, N>& choices) {
    const std::optional<T> value = reader.choice(key, choices);
    if (!value) reader.fail(key, say("job.field-missing"));
    return *value;
}

/// The id of a server's request, "" where there is none.
std::string requestAt(ObjectReader& reader) {
    std::string request = reader.text("request").value_or("");
    if (request.size() > kMaxRequestId) reader.fail("request", say("job.field-no-request"));
    return request;
}

StruckOut struckOf(ObjectReader reader) {
    StruckOut struck{timeAt(reader, "at"), reader.text("by").value_or(""), requiredText(reader, "why"),
                     requestAt(reader)};
    reader.finish();
    return struck;
}

JobStamp stampOf(ObjectReader& reader, const char* prefix, std::size_t number) {
    JobStamp stamp;
    stamp.id = requiredText(reader, "id");
    const std::string wanted = prefix + std::to_string(number + 1);
    if (stamp.id != wanted) reader.fail("id", say("job.field-wrong-id", shown(stamp.id), wanted));
    stamp.at = timeAt(reader, "at");
    stamp.by = reader.text("by").value_or("");
    stamp.note = reader.text("note").value_or("");
    stamp.request = requestAt(reader);
    if (std::optional<ObjectReader> struck = reader.object("struck")) stamp.struck = struckOf(std::move(*struck));
    // Records from before strike-outs could be taken back have none.
    if (const json* list = reader.list("restored", kMaxTakenBack))
        for (std::size_t i = 0; i < list->size(); ++i) {
            ObjectReader back = reader.item("restored", *list, i);
            stamp.restored.push_back({.struck = struckOf(back.requiredObject("struck")),
                                      .at = timeAt(back, "at"),
                                      .by = back.text("by").value_or(""),
                                      .request = requestAt(back)});
            back.finish();
        }
    return stamp;
}

DepthEntry depthOf(ObjectReader& reader, std::size_t number) {
    DepthEntry entry;
    entry.stamp = stampOf(reader, "d", number);
    entry.oldFigureMm = reader.number("old_mark_mm", kFigureMm);
    entry.newFigureMm = reader.number("new_mark_mm", kFigureMm);
    entry.measuredMm = reader.number("measured_mm", kDepthMm);
    entry.wantedMm = reader.number("wanted_mm", kDepthMm);
    entry.shimStackMm = reader.number("shim_stack_mm", kStackMm);
    entry.figuresInTwoUnits = reader.boolean("marks_in_two_units").value_or(false);
    entry.oldBearingMm = reader.number("old_bearing_mm", kBearingMm);
    entry.newBearingMm = reader.number("new_bearing_mm", kBearingMm);
    entry.otherHousing = reader.boolean("other_housing").value_or(false);
    return entry;
}

PreloadEntry preloadOf(ObjectReader& reader, std::size_t number) {
    PreloadEntry entry;
    entry.stamp = stampOf(reader, "p", number);
    entry.torqueNm = reader.requiredNumber("torque_nm", kTurningNm);
    entry.stackMm = reader.number("stack_mm", kStackMm);
    entry.withOilSeal = reader.boolean("with_oil_seal").value_or(false);
    entry.forTrial = reader.boolean("for_trial").value_or(false);
    return entry;
}

BacklashEntry backlashOf(ObjectReader& reader, std::size_t number) {
    BacklashEntry entry;
    entry.stamp = stampOf(reader, "b", number);
    entry.dial = reader.choice("dial", kDialWords).value_or(DialReading::SquareToTooth);
    (void)reader.requiredList("points", kMaxBacklashPoints);
    entry.points = backlashPointsAt(reader, "points", kPositionDeg, kBacklashMm);
    if (entry.points.empty()) reader.fail("points", say("job.field-no-points"));
    return entry;
}

RunoutEntry runoutOf(ObjectReader& reader, std::size_t number) {
    RunoutEntry entry;
    entry.stamp = stampOf(reader, "r", number);
    entry.place = requiredChoice(reader, "place", kPlaceWords);
    entry.mm = reader.requiredNumber("runout_mm", kRunoutMm);
    return entry;
}

CarrierEntry carrierOf(ObjectReader& reader, std::size_t number) {
    CarrierEntry entry;
    entry.stamp = stampOf(reader, "c", number);
    entry.torqueNm = reader.number("torque_nm", kTurningNm);
    entry.leftNotches = reader.number("left_notches", kNotches);
    entry.rightNotches = reader.number("right_notches", kNotches);
    entry.leftShimsMm = reader.number("left_shims_mm", kStackMm);
    entry.rightShimsMm = reader.number("right_shims_mm", kStackMm);
    entry.spreadMm = reader.number("spread_mm", kRunoutMm);
    entry.withOilSeal = reader.boolean("with_oil_seal").value_or(false);
    return entry;
}

/// A file of the job folder: nothing outside it can be named.
std::string safeFile(const ObjectReader& reader, std::string_view key, const std::string& file) {
    const std::string folder = std::string(kJobPhotoFolder) + "/";
    const std::string_view rest = std::string_view(file).substr(std::min(folder.size(), file.size()));
    const bool plain = std::all_of(rest.begin(), rest.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_' ||
               c == '.';
    });
    if (!file.starts_with(folder) || rest.empty() || rest.front() == '.' || !plain || rest.size() > 120)
        reader.fail(key, say("job.field-no-file", shown(file), folder));
    return file;
}

std::optional<std::string> optionalFile(ObjectReader& reader, std::string_view key) {
    const std::optional<std::string> file = reader.text(key);
    if (!file) return std::nullopt;
    return safeFile(reader, key, *file);
}

std::optional<PhotoSize> sizeOf(ObjectReader& reader) {
    std::optional<ObjectReader> size = reader.object("size_px");
    if (!size) return std::nullopt;
    const PhotoSize read{size->requiredInteger("width", kPhotoPx), size->requiredInteger("height", kPhotoPx)};
    size->finish();
    return read;
}

JobPhoto photoOf(ObjectReader reader) {
    JobPhoto photo;
    photo.file = safeFile(reader, "file", requiredText(reader, "file"));
    photo.originalName = reader.text("original_name").value_or("");
    photo.sha256 = reader.text("sha256").value_or("");
    if (!photo.sha256.empty() &&
        (photo.sha256.size() != 64 || photo.sha256.find_first_not_of("0123456789abcdef") != std::string::npos))
        reader.fail("sha256", say("job.field-no-hash"));
    photo.takenAt = reader.text("taken_at");
    photo.sizePx = sizeOf(reader);
    photo.reencoded = reader.boolean("reencoded").value_or(false);
    photo.removed = reader.texts("removed", kMaxWords);
    reader.finish();
    return photo;
}

TrialEntry trialOf(ObjectReader& reader, const char* prefix, std::size_t number, const json& object) {
    TrialEntry entry;
    entry.stamp = stampOf(reader, prefix, number);
    const json* photos = reader.requiredList("photos", kMaxTrialPhotos);
    for (std::size_t i = 0; i < photos->size(); ++i) entry.photos.push_back(photoOf(reader.item("photos", *photos, i)));
    entry.shimStackMm = reader.number("shim_stack_mm", kStackMm);
    entry.backlashMm = reader.number("backlash_mm", kBacklashMm);
    entry.backlashRound = backlashPointsAt(reader, "backlash_round", kPositionDeg, kBacklashMm);
    entry.dial = reader.choice("dial", kDialWords).value_or(DialReading::SquareToTooth);
    entry.changed = reader.text("changed").value_or("");
    entry.why = reader.text("why").value_or("");
    entry.shimChangeMm = reader.number("shim_change_mm", kChangeMm);
    entry.origin = requiredChoice(reader, "origin", kOriginWords);
    entry.side = reader.choice("side", kSideWords);
    entry.marking = reader.choice("marking", kMarkingWords);
    if (reader.object("outlines")) {
        try {
            entry.outlines = parseOutlineFile(object.at("outlines").dump(), "outlines");
        } catch (const InputError& error) {
            reader.fail("outlines", say("job.field-unusable", error.what()));
        }
    }
    if (std::optional<ObjectReader> drawn = reader.object("drawn")) {
        entry.drawnDrive = optionalFile(*drawn, "drive");
        entry.drawnCoast = optionalFile(*drawn, "coast");
        drawn->finish();
    }
    if (std::optional<ObjectReader> reading = reader.object("reading")) entry.measurement = readMeasurement(*reading);
    return entry;
}

CheckedEntry checkedOf(ObjectReader& reader, std::size_t number) {
    CheckedEntry entry;
    entry.stamp = stampOf(reader, "q", number);
    const std::string kind = requiredText(reader, "kind");
    try {
        entry.kind = parseLookedInto(kind, "");
    } catch (const InputError&) {
        reader.fail("kind", say("job.field-no-kind", shown(kind), lookedIntoWords()));
    }
    return entry;
}

WorkEntry workOf(ObjectReader& reader, std::size_t number) {
    WorkEntry entry;
    entry.stamp = stampOf(reader, "w", number);
    entry.afterTrial = reader.text("after_trial").value_or("");
    entry.shimChangeMm = reader.number("shim_change_mm", kChangeMm);
    entry.shimStackMm = reader.number("shim_stack_mm", kStackMm);
    entry.backlashMm = reader.number("backlash_mm", kBacklashMm);
    entry.leftNotches = reader.number("left_notches", kNotches);
    entry.rightNotches = reader.number("right_notches", kNotches);
    return entry;
}

CheckItem checkOf(ObjectReader reader) {
    CheckItem item;
    item.key = requiredText(reader, "key");
    item.list = requiredChoice(reader, "list", kListWords);
    item.text = requiredText(reader, "text");
    item.state = requiredChoice(reader, "state", kStateWords);
    item.onlyAtTheEnd = reader.boolean("only_at_the_end").value_or(false);
    item.wantedNm = reader.interval("wanted_nm", kBoltNm);
    const std::optional<std::string> from = reader.text("wanted_from");
    // Records of older programs hold the line of the gear-set file, with the name of its field.
    item.wantedByGearSet = item.wantedNm && (!from || from->find(kTorquesField) != std::string::npos);
    if (!item.wantedByGearSet) item.wantedFrom = from.value_or("");
    item.torqueNm = reader.number("torque_nm", kBoltNm);
    item.stamp.id = item.key;
    // A line that nobody has touched bears no time.
    if (reader.text("at").value_or("").empty() && item.state == CheckState::Open)
        item.stamp.at.clear();
    else
        item.stamp.at = timeAt(reader, "at");
    item.stamp.by = reader.text("by").value_or("");
    item.stamp.note = reader.text("note").value_or("");
    item.stamp.request = requestAt(reader);
    reader.finish();
    return item;
}

SignOff signOffOf(ObjectReader& reader, std::size_t number) {
    SignOff entry;
    entry.stamp = stampOf(reader, "s", number);
    entry.open = reader.texts("open", kMaxWords);
    return entry;
}

template <typename Entry, typename Read>
std::vector<Entry> entriesOf(ObjectReader& reader, std::string_view key, std::size_t most, Read read) {
    std::vector<Entry> entries;
    const json* list = reader.requiredList(key, most);
    for (std::size_t i = 0; i < list->size(); ++i) {
        ObjectReader item = reader.item(key, *list, i);
        entries.push_back(read(item, i));
        item.finish();
    }
    return entries;
}

JobGearSet gearSetOf(ObjectReader& reader, const json& document) {
    JobGearSet gearSet;
    ObjectReader object = reader.requiredObject("gear_set");
    gearSet.fileName = object.text("file").value_or("");
    (void)object.requiredObject("data");
    gearSet.document = fileText(document.at("gear_set").at("data"));
    try {
        gearSet.data = parseGearSet(gearSet.document, say("job.gear-set-as-file"));
    } catch (const InputError& error) {
        object.fail("data", say("job.field-unusable", error.what()));
    }
    object.finish();
    return gearSet;
}

JobRecord recordOf(ObjectReader& reader, const json& document, bool upgraded) {
    JobRecord job;
    reader.expectSchema(kJobSchema);
    job.revision = reader.requiredInteger("revision", kRevisions);
    job.createdAt = timeAt(reader, "created_at");
    job.changedAt = timeAt(reader, "changed_at");
    job.gearSet = gearSetOf(reader, document);
    job.axle = requiredText(reader, "axle");
    job.customer = reader.text("customer").value_or("");
    job.setUpBy = reader.text("set_up_by").value_or("");
    job.build = requiredChoice(reader, "build", kBuildWords);
    job.bearings = requiredChoice(reader, "bearings", kBearingWords);
    job.spacer = reader.choice("spacer", kSpacerWords).value_or(PinionSpacer::NotSaid);
    if (document.contains("depth")) job.depths = entriesOf<DepthEntry>(reader, "depth", kMaxJobEntries, depthOf);
    job.preloads = entriesOf<PreloadEntry>(reader, "preload", kMaxJobEntries, preloadOf);
    job.backlashes = entriesOf<BacklashEntry>(reader, "backlash", kMaxJobEntries, backlashOf);
    job.runouts = entriesOf<RunoutEntry>(reader, "runout", kMaxJobEntries, runoutOf);
    job.carriers = entriesOf<CarrierEntry>(reader, "carrier", kMaxJobEntries, carrierOf);
    job.trials = entriesOf<TrialEntry>(reader, "trials", kMaxJobTrials, [&](ObjectReader& item, std::size_t i) {
        return trialOf(item, "t", i, document.at("trials").at(i));
    });
    // Records from before these were written have neither.
    if (document.contains("before"))
        job.before = entriesOf<TrialEntry>(reader, "before", kMaxJobTrials, [&](ObjectReader& item, std::size_t i) {
            return trialOf(item, "u", i, document.at("before").at(i));
        });
    if (document.contains("checked"))
        job.checked = entriesOf<CheckedEntry>(reader, "checked", kMaxJobEntries, checkedOf);
    job.work = entriesOf<WorkEntry>(reader, "work", kMaxJobEntries, [&](ObjectReader& item, std::size_t i) {
        WorkEntry entry = workOf(item, i);
        if (!entry.afterTrial.empty() && findTrial(job, entry.afterTrial) == nullptr)
            item.fail("after_trial", say("job.field-no-trial", shown(entry.afterTrial)));
        return entry;
    });
    if (upgraded && !document.contains("checks")) {
        job.checks = job::checkLists(job);
        reader.list("checks", 0);
    } else {
        const json* checks = reader.requiredList("checks", kMaxJobEntries);
        for (std::size_t i = 0; i < checks->size(); ++i) {
            CheckItem item = checkOf(reader.item("checks", *checks, i));
            const bool twice = std::any_of(job.checks.begin(), job.checks.end(),
                                           [&](const CheckItem& other) { return other.key == item.key; });
            if (twice)
                reader.fail("checks[" + std::to_string(i) + "].key", say("job.field-key-twice", shown(item.key)));
            job.checks.push_back(std::move(item));
        }
        job::putLinesInPlace(job.checks);
    }
    job.signOffs = entriesOf<SignOff>(reader, "sign_offs", kMaxJobEntries, signOffOf);
    job.remarks = entriesOf<Remark>(reader, "remarks", kMaxJobEntries, [](ObjectReader& item, std::size_t) {
        return Remark{timeAt(item, "at"), item.text("by").value_or(""), requiredText(item, "text"), requestAt(item)};
    });
    // Worked out anew from the readings whenever they are asked for.
    (void)reader.list("judgements", 100'000);
    reader.finish();
    return job;
}

}  // namespace

json job::documentOf(const JobRecord& job) {
    json remarks = json::array();
    for (const Remark& remark : job.remarks)
        remarks.push_back(
            {{"at", remark.at}, {"by", remark.by}, {"text", remark.text}, {"request", wordOrNull(remark.request)}});
    json judgements = json::array();
    for (const Judgement& one : judgeAll(job))
        judgements.push_back({{"entry", one.entryId},
                              {"what", name(one.what)},
                              {"result", name(one.result)},
                              {"sentence", one.sentence},
                              {"source", one.source}});
    return {{"schema", kJobSchema},
            {"revision", job.revision},
            {"created_at", job.createdAt},
            {"changed_at", job.changedAt},
            {"gear_set", {{"file", job.gearSet.fileName}, {"data", json::parse(job.gearSet.document)}}},
            {"axle", job.axle},
            {"customer", job.customer},
            {"set_up_by", job.setUpBy},
            {"build", name(job.build)},
            {"bearings", name(job.bearings)},
            {"spacer", name(job.spacer)},
            {"depth", listJson(job.depths)},
            {"preload", listJson(job.preloads)},
            {"backlash", listJson(job.backlashes)},
            {"runout", listJson(job.runouts)},
            {"carrier", listJson(job.carriers)},
            {"before", listJson(job.before)},
            {"trials", listJson(job.trials)},
            {"checked", listJson(job.checked)},
            {"work", listJson(job.work)},
            {"checks", listJson(job.checks)},
            {"sign_offs", listJson(job.signOffs)},
            {"remarks", remarks},
            {"judgements", judgements}};
}

std::string job::textOf(json document, const json& former) {
    json before = former;
    if (before.is_object()) before.erase("judgements");
    keepUnknown(document, before);
    return fileText(document);
}

json job::entryJson(const JobRecord& job, std::string_view id) {
    json found = nullptr;
    const auto look = [&](const auto& list) {
        for (const auto& entry : list)
            if (entry.stamp.id == id) found = toJson(entry);
    };
    look(job.depths), look(job.preloads), look(job.backlashes), look(job.runouts), look(job.carriers), look(job.before),
        look(job.trials), look(job.checked), look(job.work), look(job.checks), look(job.signOffs);
    return found;
}

job::Parsed job::parse(std::string_view text, const std::string& fileName) {
    Parsed parsed;
    parsed.document = parseJsonObject(text, fileName, kMaxJobBytes);
    try {
        parsed.upgradedFrom = upgrade(parsed.document, fileName);
        ObjectReader reader(parsed.document, fileName, "", parsed.warnings);
        parsed.record = recordOf(reader, parsed.document, parsed.upgradedFrom.has_value());
    } catch (const FieldError& error) {
        throw InputError(error.sentence(), say("job.file-at-line", fileName, lineOfField(text, error.path())));
    }
    if (parsed.upgradedFrom)
        parsed.warnings.push_back(say("job.older-form", fileName, *parsed.upgradedFrom, kJobSchema));
    return parsed;
}

JobRecord parseJob(std::string_view text, std::string_view fileName) {
    return job::parse(text, std::string(fileName)).record;
}

std::string writeJob(const JobRecord& job) { return fileText(job::documentOf(job)); }

}  // namespace shimsight
