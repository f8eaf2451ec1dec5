// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "review/store.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight::review {
namespace {

using nlohmann::json;

constexpr const char* kKind = "shimsight-read-photos/2";
/// Two pictures of a photo and two maps have about 100 kB; a trial has at most 24 photos.
constexpr std::int64_t kMaxKeptBytes = 30'000'000;

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

FlankMap mapFrom(const json& j) {
    GreyPicture map = decodePngGrey(j.get_binary());
    if (map.width != kMapWidth || map.height != kMapHeight) throw InputError(say("review.kept-map-unusable"));
    FlankMap out;
    out.contact = std::move(map.values);
    return out;
}

Refused refusedFrom(const json& j) {
    const int why = j.at(0).get<int>();
    if (why < 0 || why > static_cast<int>(Refusal::UnreadablePhoto))
        throw InputError(say("review.kept-refusal-unknown"));
    return {static_cast<Refusal>(why), j.at(1).get<std::string>(), j.at(2).get<std::string>()};
}

json keptRefusal(const Refused& r) { return {static_cast<int>(r.why), text(r.reason), text(r.whatToDo)}; }

json sideJson(const std::optional<KeptSide>& side) {
    if (!side) return nullptr;
    return {{"pattern", patternJson(side->pattern)},
            {"map", json::binary(encodePngGrey(kMapWidth, kMapHeight, side->map.contact))}};
}

std::optional<KeptSide> sideFrom(const json& j) {
    if (j.is_null()) return std::nullopt;
    return KeptSide{patternFrom(j.at("pattern")), mapFrom(j.at("map"))};
}

json photoJson(const KeptPhoto& p) {
    return {{"sha256", p.sha256},
            {"taken", p.takenAt ? json(*p.takenAt) : json(nullptr)},
            {"refused", p.refused ? keptRefusal(*p.refused) : json(nullptr)},
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
    if (const json& refused = j.at("refused"); !refused.is_null()) p.refused = refusedFrom(refused);
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

json pointsJson(const std::vector<PixelPoint>& points) {
    json out = json::array();
    for (const PixelPoint& p : points) out.push_back({p.x, p.y});
    return out;
}

std::vector<PixelPoint> pointsFrom(const json& j) {
    std::vector<PixelPoint> points;
    for (const json& p : j) points.push_back({p.at(0).get<double>(), p.at(1).get<double>()});
    return points;
}

json outlineJson(const FlankOutline& o) {
    return {pointsJson({o.corners.begin(), o.corners.end()}), pointsJson(o.rootEdge), pointsJson(o.tipEdge),
            pointsJson(o.toeEdge), pointsJson(o.heelEdge)};
}

FlankOutline outlineFrom(const json& j, std::optional<Side> side) {
    FlankOutline o;
    o.side = side;
    const std::vector<PixelPoint> corners = pointsFrom(j.at(0));
    if (corners.size() != o.corners.size()) throw InputError(say("review.kept-outline-unusable"));
    std::copy(corners.begin(), corners.end(), o.corners.begin());
    std::size_t i = 1;
    for (auto* edge : {&o.rootEdge, &o.tipEdge, &o.toeEdge, &o.heelEdge}) *edge = pointsFrom(j.at(i++));
    return o;
}

std::optional<Side> sideOf(const json& j) {
    if (j.is_null()) return std::nullopt;
    return j.get<int>() == 0 ? Side::Drive : Side::Coast;
}

std::optional<int> toothFrom(const json& j) { return j.is_null() ? std::nullopt : std::optional(j.get<int>()); }

json flankJson(const MeasuredFlank& f) {
    return {{"side", index(f.side)},
            {"outline", outlineJson(f.rectified.outline)},
            {"grid", pointsJson(f.rectified.gridPx)},
            {"found", f.rectified.found},
            {"pattern", patternJson(f.contact.pattern)},
            {"map", json::binary(encodePngGrey(kMapWidth, kMapHeight, f.contact.map.contact))},
            {"marking", static_cast<int>(f.contact.marking)},
            {"certainty", {f.contact.markingCertainty, f.contact.flankConfidence}},
            {"compound", f.contact.compound},
            {"used", f.used},
            {"painted", f.paintedLogOdds},
            {"tooth", f.tooth ? json(*f.tooth) : json(nullptr)}};
}

MeasuredFlank flankFrom(const json& j) {
    MeasuredFlank f;
    f.side = sideOf(j.at("side")).value_or(Side::Drive);
    f.rectified.side = f.side;
    f.rectified.outline = outlineFrom(j.at("outline"), f.side);
    f.rectified.gridPx = pointsFrom(j.at("grid"));
    f.rectified.found = j.at("found").get<bool>();
    f.contact.pattern = patternFrom(j.at("pattern"));
    f.contact.map = mapFrom(j.at("map"));
    f.contact.marking = j.at("marking").get<int>() == 0 ? Marking::Wiped : Marking::Transferred;
    f.contact.markingCertainty = j.at("certainty").at(0).get<double>();
    f.contact.flankConfidence = j.at("certainty").at(1).get<double>();
    f.contact.compound = j.at("compound").get<std::array<float, 3>>();
    f.used = j.at("used").get<bool>();
    f.paintedLogOdds = j.at("painted").get<double>();
    f.tooth = toothFrom(j.at("tooth"));
    return f;
}

/// What a photo says by itself, as far as it is weighed with others, drawn and compared.
json measuredJson(const MeasuredPhoto& m) {
    json out{{"found", m.found},
             {"hand", m.hand ? json(*m.hand == Hand::Right) : json(nullptr)},
             {"teeth", m.setFit && m.setFit->ringTeeth ? json(*m.setFit->ringTeeth) : json(nullptr)},
             {"flanks", json::array()},
             {"refused", json::array()}};
    for (const MeasuredFlank& flank : m.flanks) out["flanks"].push_back(flankJson(flank));
    for (const RefusedFlank& f : m.refusedFlanks)
        out["refused"].push_back({f.side ? json(index(*f.side)) : json(nullptr), outlineJson(f.outline),
                                  keptRefusal(f.refused), f.paintedLogOdds, f.tooth ? json(*f.tooth) : json(nullptr)});
    return out;
}

MeasuredPhoto measuredFrom(const json& j) {
    MeasuredPhoto m;
    m.found = j.at("found").get<bool>();
    if (!j.at("hand").is_null()) m.hand = j.at("hand").get<bool>() ? Hand::Right : Hand::Left;
    if (!j.at("teeth").is_null()) m.setFit = SetFit{m.hand, j.at("teeth").get<double>(), 0, 0};
    for (const json& flank : j.at("flanks")) m.flanks.push_back(flankFrom(flank));
    for (const json& f : j.at("refused")) {
        const std::optional<Side> side = sideOf(f.at(0));
        m.refusedFlanks.push_back(
            {side, outlineFrom(f.at(1), side), refusedFrom(f.at(2)), f.at(3).get<double>(), toothFrom(f.at(4))});
    }
    return m;
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
