// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <stdexcept>

#include "job_measured.h"
#include "shimsight/core.h"
#include "shimsight/photo.h"
#include "shimsight/words.h"

namespace shimsight::job {

using nlohmann::json;

namespace {

json messageJson(const Message& message) {
    if (message.id.empty()) return message.plain;
    json values = json::array();
    for (const Message& value : message.values) values.push_back(messageJson(value));
    return {{"id", message.id}, {"values", values}};
}

Message messageFrom(const json& j) {
    if (j.is_string()) return j.get<std::string>();
    std::vector<Message> values;
    for (const json& value : j.at("values")) values.push_back(messageFrom(value));
    try {
        return messageOf(j.at("id").get<std::string>(), std::move(values));
    } catch (const std::logic_error&) {
        throw InputError(message("job.kept-message-unknown"));  // of a program with other words
    }
}

}  // namespace

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

json mapJson(const FlankMap& map) { return json::binary(encodePngGrey(kMapWidth, kMapHeight, map.contact)); }

FlankMap mapFrom(const json& j) {
    GreyPicture map = decodePngGrey(j.get_binary());
    if (map.width != kMapWidth || map.height != kMapHeight) throw InputError(message("job.kept-map-unusable"));
    FlankMap out;
    out.contact = std::move(map.values);
    return out;
}

Refused refusalFrom(const json& j) {
    const int why = j.at(0).get<int>();
    if (why < 0 || why > static_cast<int>(Refusal::UnreadablePhoto))
        throw InputError(message("job.kept-refusal-unknown"));
    return {static_cast<Refusal>(why), messageFrom(j.at(1)), messageFrom(j.at(2))};
}

json refusalJson(const Refused& r) { return {static_cast<int>(r.why), messageJson(r.reason), messageJson(r.whatToDo)}; }

namespace {

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
    if (corners.size() != o.corners.size()) throw InputError(message("job.kept-outline-unusable"));
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

FlankShape shapeFrom(const json& j) {
    const int shape = j.get<int>();
    if (shape < 0 || shape > static_cast<int>(FlankShape::GearSet))
        throw InputError(message("job.kept-outline-unusable"));
    return static_cast<FlankShape>(shape);
}

json handJson(const std::optional<Hand>& hand) { return hand ? json(*hand == Hand::Right) : json(nullptr); }

std::optional<Hand> handFrom(const json& j) {
    if (j.is_null()) return std::nullopt;
    return j.get<bool>() ? Hand::Right : Hand::Left;
}

json fitJson(const std::optional<SetFit>& fit) {
    if (!fit) return nullptr;
    return {handJson(fit->hand), fit->ringTeeth ? json(*fit->ringTeeth) : json(nullptr), fit->countGain,
            fit->shapeGain};
}

std::optional<SetFit> fitFrom(const json& j) {
    if (j.is_null()) return std::nullopt;
    SetFit fit;
    fit.hand = handFrom(j.at(0));
    if (!j.at(1).is_null()) fit.ringTeeth = j.at(1).get<double>();
    fit.countGain = j.at(2).get<double>();
    fit.shapeGain = j.at(3).get<double>();
    return fit;
}

json flankJson(const MeasuredFlank& f) {
    return {{"side", index(f.side)},
            {"outline", outlineJson(f.rectified.outline)},
            {"grid", pointsJson(f.rectified.gridPx)},
            {"found", f.rectified.found},
            {"size", {f.rectified.lengthPx, f.rectified.heightPx}},
            {"shape", {static_cast<int>(f.rectified.shape), f.rectified.shapeResidualPx}},
            {"pattern", patternJson(f.contact.pattern)},
            {"map", mapJson(f.contact.map)},
            {"marking", static_cast<int>(f.contact.marking)},
            {"certainty", {f.contact.markingCertainty, f.contact.flankConfidence}},
            {"compound", f.contact.compound},
            {"used", f.used},
            {"why_not", messageJson(f.whyNotUsed)},
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
    f.rectified.lengthPx = j.at("size").at(0).get<double>();
    f.rectified.heightPx = j.at("size").at(1).get<double>();
    f.rectified.shape = shapeFrom(j.at("shape").at(0));
    f.rectified.shapeResidualPx = j.at("shape").at(1).get<double>();
    f.contact.pattern = patternFrom(j.at("pattern"));
    f.contact.map = mapFrom(j.at("map"));
    f.contact.marking = j.at("marking").get<int>() == 0 ? Marking::Wiped : Marking::Transferred;
    f.contact.markingCertainty = j.at("certainty").at(0).get<double>();
    f.contact.flankConfidence = j.at("certainty").at(1).get<double>();
    f.contact.compound = j.at("compound").get<std::array<float, 3>>();
    f.used = j.at("used").get<bool>();
    f.whyNotUsed = messageFrom(j.at("why_not"));
    f.paintedLogOdds = j.at("painted").get<double>();
    f.tooth = toothFrom(j.at("tooth"));
    return f;
}

}  // namespace

json measuredJson(const MeasuredPhoto& m) {
    json out{{"refused", m.refused ? refusalJson(*m.refused) : json(nullptr)},
             {"found", m.found},
             {"cut", m.cut ? json{m.cut->chanceFaceMilled, messageJson(m.cut->because)} : json(nullptr)},
             {"hand", handJson(m.hand)},
             {"set_fit", fitJson(m.setFit)},
             {"flanks", json::array()},
             {"left_out", json::array()}};
    for (const MeasuredFlank& flank : m.flanks) out["flanks"].push_back(flankJson(flank));
    for (const RefusedFlank& f : m.refusedFlanks)
        out["left_out"].push_back({f.side ? json(index(*f.side)) : json(nullptr), outlineJson(f.outline),
                                   refusalJson(f.refused), f.paintedLogOdds, f.tooth ? json(*f.tooth) : json(nullptr),
                                   f.outline.side.has_value()});
    return out;
}

MeasuredPhoto measuredFrom(const json& j) {
    MeasuredPhoto m;
    if (const json& refused = j.at("refused"); !refused.is_null()) m.refused = refusalFrom(refused);
    m.found = j.at("found").get<bool>();
    if (const json& cut = j.at("cut"); !cut.is_null())
        m.cut = CutEvidence{cut.at(0).get<double>(), messageFrom(cut.at(1))};
    m.hand = handFrom(j.at("hand"));
    m.setFit = fitFrom(j.at("set_fit"));
    for (const json& flank : j.at("flanks")) m.flanks.push_back(flankFrom(flank));
    for (const json& f : j.at("left_out")) {
        const std::optional<Side> side = sideOf(f.at(0));
        m.refusedFlanks.push_back({side, outlineFrom(f.at(1), f.at(5).get<bool>() ? side : std::nullopt),
                                   refusalFrom(f.at(2)), f.at(3).get<double>(), toothFrom(f.at(4))});
    }
    return m;
}

}  // namespace shimsight::job
