// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "review/store.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "job_measured.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/words.h"

namespace shimsight::review {
namespace {

using namespace job;
using nlohmann::json;

constexpr const char* kKind = "shimsight-read-photos/3";
/// Two pictures of a photo and two maps have about 100 kB; a trial has at most 24 photos.
constexpr std::int64_t kMaxKeptBytes = 30'000'000;

json sideJson(const std::optional<KeptSide>& side) {
    if (!side) return nullptr;
    return {{"pattern", patternJson(side->pattern)}, {"map", mapJson(side->map)}};
}

std::optional<KeptSide> sideFrom(const json& j) {
    if (j.is_null()) return std::nullopt;
    return KeptSide{patternFrom(j.at("pattern")), mapFrom(j.at("map"))};
}

json photoJson(const KeptPhoto& p) {
    return {{"sha256", p.sha256},
            {"taken", p.takenAt ? json(*p.takenAt) : json(nullptr)},
            {"refused", p.refused ? refusalJson(*p.refused) : json(nullptr)},
            {"flanks", p.flanks},
            {"not_counted", p.notCounted},
            {"left_out", p.leftOut},
            {"cut", p.cut ? json{p.cut->chanceFaceMilled, text(p.cut->because)} : json(nullptr)},
            {"size", {p.width, p.height}},
            {"picture", json::binary(p.picture)},
            {"thumbnail", json::binary(p.thumbnail)}};
}

KeptPhoto photoFrom(const json& j) {
    KeptPhoto p;
    p.sha256 = j.at("sha256").get<std::string>();
    if (!j.at("taken").is_null()) p.takenAt = j.at("taken").get<std::string>();
    if (const json& refused = j.at("refused"); !refused.is_null()) p.refused = refusalFrom(refused);
    p.flanks = j.at("flanks").get<std::array<int, 2>>();
    p.notCounted = j.at("not_counted").get<int>();
    p.leftOut = j.at("left_out").get<std::string>();
    if (const json& cut = j.at("cut"); !cut.is_null())
        p.cut = CutEvidence{cut.at(0).get<double>(), cut.at(1).get<std::string>()};
    p.width = j.at("size").at(0).get<int>();
    p.height = j.at("size").at(1).get<int>();
    p.picture = j.at("picture").get_binary();
    p.thumbnail = j.at("thumbnail").get_binary();
    return p;
}

std::filesystem::path fileOf(const std::filesystem::path& cache, const std::string& key) {
    return cache / key.substr(0, 2) / (key.substr(2) + ".cbor");
}

}  // namespace

std::optional<KeptPhotos> loadRead(const std::filesystem::path& cache, const std::string& key) {
    if (cache.empty()) return std::nullopt;
    try {
        const json document = json::from_cbor(readFile(fileOf(cache, key), kMaxKeptBytes));
        // The file says what it is of, so that one that was moved or half copied is not taken for another.
        if (document.at("kind") != kKind || document.at("key") != key) return std::nullopt;
        KeptPhotos read;
        for (const json& photo : document.at("photos")) read.photos.push_back(photoFrom(photo));
        for (const json& photo : document.at("measured")) read.measured.push_back(measuredFrom(photo));
        for (const Side side : kSides) read.sides[index(side)] = sideFrom(document.at("sides").at(index(side)));
        return read;
    } catch (const InputError&) {
        return std::nullopt;
    } catch (const json::exception&) {
        return std::nullopt;
    }
}

void keepRead(const std::filesystem::path& cache, const std::string& key, const KeptPhotos& photos) {
    if (cache.empty()) return;
    json document{{"kind", kKind},
                  {"key", key},
                  {"photos", json::array()},
                  {"measured", json::array()},
                  {"sides", json::array()}};
    for (const MeasuredPhoto& photo : photos.measured) document["measured"].push_back(measuredJson(photo));
    for (const KeptPhoto& photo : photos.photos) document["photos"].push_back(photoJson(photo));
    for (const auto& side : photos.sides) document["sides"].push_back(sideJson(side));
    try {
        const std::filesystem::path file = fileOf(cache, key);
        std::error_code error;
        std::filesystem::create_directories(file.parent_path(), error);
        writeFileAtomically(file, json::to_cbor(document));
    } catch (const InputError&) {
        // A full disk: the review goes on without.
    }
}

}  // namespace shimsight::review
