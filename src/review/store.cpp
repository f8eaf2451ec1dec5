#include "review/store.h"

#include <array>
#include <nlohmann/json.hpp>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight::review {
namespace {

using nlohmann::json;

constexpr const char* kKind = "shimsight-read-photos/1";
/// Two pictures of a photo and two maps have about 100 kB; a trial has at most 24 photos.
constexpr std::int64_t kMostKeptBytes = 30'000'000;

// Numbers as they are in memory: what comes back must give the same advice to the last digit.
json patternJson(const Pattern& p) {
    return {p.toeHeel,     p.rootTip, p.sigmaToeHeel, p.sigmaRootTip, p.length,      p.height,
            p.area,        p.tiltDeg, p.edgeToe,      p.edgeHeel,     p.edgeTip,     p.edgeRoot,
            p.toothSpread, p.teeth,   p.runsOff.toe,  p.runsOff.heel, p.runsOff.tip, p.runsOff.root};
}

Pattern patternFrom(const json& j) {
    Pattern p;
    std::size_t i = 0;
    const auto next = [&] { return j.at(i++).get<double>(); };
    for (double* value : {&p.toeHeel, &p.rootTip, &p.sigmaToeHeel, &p.sigmaRootTip, &p.length, &p.height, &p.area,
                          &p.tiltDeg, &p.edgeToe, &p.edgeHeel, &p.edgeTip, &p.edgeRoot, &p.toothSpread})
        *value = next();
    p.teeth = j.at(i++).get<int>();
    for (bool* value : {&p.runsOff.toe, &p.runsOff.heel, &p.runsOff.tip, &p.runsOff.root})
        *value = j.at(i++).get<bool>();
    return p;
}

json sideJson(const std::optional<ReadSide>& side) {
    if (!side) return nullptr;
    return {{"pattern", patternJson(side->pattern)},
            {"map", json::binary(encodePngGrey(kMapWidth, kMapHeight, side->map.contact))}};
}

std::optional<ReadSide> sideFrom(const json& j) {
    if (j.is_null()) return std::nullopt;
    ReadSide side{patternFrom(j.at("pattern")), {}};
    GreyPicture map = decodePngGrey(j.at("map").get_binary());
    if (map.width != kMapWidth || map.height != kMapHeight) throw InputError(say("review.kept-map-unusable"));
    side.map.contact = std::move(map.values);
    return side;
}

json photoJson(const ReadPhoto& p) {
    return {{"sha256", p.sha256},
            {"taken", p.takenAt ? json(*p.takenAt) : json(nullptr)},
            {"refused", p.refused
                            ? json{static_cast<int>(p.refused->why), text(p.refused->reason), text(p.refused->whatToDo)}
                            : json(nullptr)},
            {"flanks", p.flanks},
            {"not_counted", p.notCounted},
            {"left_out", p.leftOut},
            {"cut", p.cut ? json{p.cut->chanceFaceMilled, text(p.cut->because)} : json(nullptr)},
            {"size", {p.width, p.height}},
            {"picture", json::binary(p.picture)},
            {"thumbnail", json::binary(p.thumbnail)}};
}

ReadPhoto photoFrom(const json& j) {
    ReadPhoto p;
    p.sha256 = j.at("sha256").get<std::string>();
    if (!j.at("taken").is_null()) p.takenAt = j.at("taken").get<std::string>();
    if (const json& refused = j.at("refused"); !refused.is_null()) {
        const int why = refused.at(0).get<int>();
        if (why < 0 || why > static_cast<int>(Refusal::UnreadablePhoto))
            throw InputError(say("review.kept-refusal-unknown"));
        p.refused =
            Refused{static_cast<Refusal>(why), refused.at(1).get<std::string>(), refused.at(2).get<std::string>()};
    }
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

std::optional<ReadPhotos> loadRead(const std::filesystem::path& cache, const std::string& key) {
    if (cache.empty()) return std::nullopt;
    try {
        const json document = json::from_cbor(readFile(fileOf(cache, key), kMostKeptBytes));
        // The file says what it is of, so that one that was moved or half copied is not taken for another.
        if (document.at("kind") != kKind || document.at("key") != key) return std::nullopt;
        ReadPhotos read;
        for (const json& photo : document.at("photos")) read.photos.push_back(photoFrom(photo));
        for (const Side side : kSides) read.sides[index(side)] = sideFrom(document.at("sides").at(index(side)));
        return read;
    } catch (const InputError&) {
        return std::nullopt;
    } catch (const json::exception&) {
        return std::nullopt;
    }
}

void keepRead(const std::filesystem::path& cache, const std::string& key, const ReadPhotos& photos) {
    if (cache.empty()) return;
    json document{{"kind", kKind}, {"key", key}, {"photos", json::array()}, {"sides", json::array()}};
    for (const ReadPhoto& photo : photos.photos) document["photos"].push_back(photoJson(photo));
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
