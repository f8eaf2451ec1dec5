// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Older forms of job.json. Each step turns a document of one version into one of the next; a record of any age goes
// through all steps from its own on.
//
// shimsight/job/0, the draft form, against shimsight/job/1:
//   gear_set      the gear-set object itself; now {"file", "data"}
//   new_bearings  true or false; now bearings "new" or "used"
//   used_gears    true or false; now build "new-gears" or "used-gears"
//   preload       items with torque_in_lb; now torque_nm
//   backlash      items with readings_mm, a list of numbers at equal steps; now points with their positions
//   trials        photos as plain file names, no hash of the originals; the backlash round as a list of numbers;
//                 now objects, and points
//   no revision, changed_at, spacer, carrier, work, checks, sign_offs and remarks: a draft counts as revision 0, its
//   check lists are those of its gear set, all open
#include "job/json.h"
#include "records_json.h"
#include "shimsight/advice_start.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kPrefix = "shimsight/job/";
constexpr int kPresent = 1;

/// Numbers at equal steps as points; anything else is left for the reader to refuse.
json pointsOf(const json& readings) {
    if (!readings.is_array()) return readings;
    json points = json::array();
    for (std::size_t i = 0; i < readings.size(); ++i)
        points.push_back({{"position_deg", 360.0 * static_cast<double>(i) / static_cast<double>(readings.size())},
                          {"backlash_mm", readings[i]}});
    return points;
}

/// Takes `key` out of the object; null when it is not there.
json taken(json& object, const char* key) {
    if (!object.contains(key)) return nullptr;
    json value = std::move(object[key]);
    object.erase(key);
    return value;
}

template <typename Change>
void forEachItem(json& document, const char* key, Change change) {
    if (!document.contains(key) || !document[key].is_array()) return;
    for (json& item : document[key])
        if (item.is_object()) change(item);
}

void fromDraft(json& document) {
    if (document.contains("gear_set")) document["gear_set"] = {{"file", ""}, {"data", std::move(document["gear_set"])}};
    if (json isNew = taken(document, "new_bearings"); isNew.is_boolean())
        document["bearings"] = isNew.get<bool>() ? "new" : "used";
    const json used = taken(document, "used_gears");
    document["build"] = used.is_boolean() && used.get<bool>() ? "used-gears" : "new-gears";
    forEachItem(document, "preload", [](json& item) {
        json torque = taken(item, "torque_in_lb");
        item["torque_nm"] = torque.is_number() ? json(torque.get<double>() * kNmPerInchPound) : torque;
    });
    forEachItem(document, "backlash", [](json& item) { item["points"] = pointsOf(taken(item, "readings_mm")); });
    forEachItem(document, "trials", [](json& item) {
        if (json round = taken(item, "backlash_round_mm"); !round.is_null()) item["backlash_round"] = pointsOf(round);
        if (!item.contains("origin"))
            item["origin"] = item.contains("reading") && item["reading"].is_object() ? "found" : "none";
        if (!item.contains("photos") || !item["photos"].is_array()) return;
        for (json& photo : item["photos"])
            if (photo.is_string()) photo = {{"file", photo}, {"original_name", ""}, {"sha256", nullptr}};
    });
    document["revision"] = 0;
    if (document.contains("created_at")) document["changed_at"] = document["created_at"];
    for (const char* list : {"preload", "backlash", "runout", "carrier", "trials", "work", "sign_offs", "remarks"})
        if (!document.contains(list)) document[list] = json::array();
    document["schema"] = std::string(kPrefix) + "1";
}

}  // namespace

std::optional<std::string> job::upgrade(json& document, const std::string& fileName) {
    const json schema = document.contains("schema") ? document["schema"] : json(nullptr);
    const std::string word = schema.is_string() ? schema.get<std::string>() : std::string();
    int version = -1;
    if (word.starts_with(kPrefix) && word.size() > kPrefix.size() && word.size() <= kPrefix.size() + 6 &&
        word.find_first_not_of("0123456789", kPrefix.size()) == std::string::npos)
        version = std::stoi(word.substr(kPrefix.size()));
    if (version < 0) throw FieldError(fileName, "schema", say("job.no-job-record", kJobSchema));
    if (version > kPresent) throw NewerSchema(say("job.newer-form", fileName, shown(word), kJobSchema));
    if (version == kPresent) return std::nullopt;
    fromDraft(document);
    return word;
}

}  // namespace shimsight
