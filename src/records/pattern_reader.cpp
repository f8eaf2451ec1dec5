// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "records_json.h"

namespace shimsight {
namespace {

/// Share of an edge's band that is taken as marked where only "runs_off" is known.
constexpr double kEdgeRunOff = 0.3;
constexpr double kMaxTeeth = 2000;  ///< of all photos of a trial

RunsOff runsOffOf(ObjectReader& reader) {
    RunsOff off;
    for (const std::string& word : reader.texts("runs_off", 4)) {
        if (word == "toe")
            off.toe = true;
        else if (word == "heel")
            off.heel = true;
        else if (word == "tip")
            off.tip = true;
        else if (word == "root")
            off.root = true;
        else
            reader.fail("runs_off", say("records.no-edge", shown(word)));
    }
    return off;
}

}  // namespace

std::optional<Pattern> readPattern(ObjectReader& parent, std::string_view key) {
    std::optional<ObjectReader> reader = parent.object(key);
    if (!reader) return std::nullopt;
    const Range share{0, 1};
    Pattern pattern;
    ObjectReader centre = reader->requiredObject("centre");
    pattern.toeHeel = centre.requiredNumber("toe_heel", share);
    pattern.rootTip = centre.requiredNumber("root_tip", share);
    centre.finish();
    if (std::optional<ObjectReader> sigma = reader->object("sigma")) {
        pattern.sigmaToeHeel = sigma->number("toe_heel", share).value_or(0);
        pattern.sigmaRootTip = sigma->number("root_tip", share).value_or(0);
        sigma->finish();
    }
    pattern.length = reader->requiredNumber("length", share);
    pattern.height = reader->requiredNumber("height", share);
    pattern.area = reader->requiredNumber("area", share);
    pattern.tiltDeg = reader->requiredNumber("tilt_deg", {-90, 90});
    pattern.runsOff = runsOffOf(*reader);
    std::optional<ObjectReader> edges = reader->object("edges");
    const auto edge = [&](std::string_view name, bool runsOff) {
        const std::optional<double> given = edges ? edges->number(name, share) : std::nullopt;
        return given.value_or(runsOff ? kEdgeRunOff : 0.0);
    };
    pattern.edgeToe = edge("toe", pattern.runsOff.toe);
    pattern.edgeHeel = edge("heel", pattern.runsOff.heel);
    pattern.edgeTip = edge("tip", pattern.runsOff.tip);
    pattern.edgeRoot = edge("root", pattern.runsOff.root);
    if (edges) edges->finish();
    pattern.toothSpread = reader->number("tooth_spread", {0, 2}).value_or(0);
    pattern.teeth = reader->integer("teeth", {1, kMaxTeeth}).value_or(1);
    // What follows from the rest is written for the reader alone.
    reader->text("length_position");
    reader->text("depth_position");
    reader->finish();
    return pattern;
}

}  // namespace shimsight
