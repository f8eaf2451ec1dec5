// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "records_json.h"
#include "shimsight/advice_words.h"
#include "shimsight/records.h"

namespace shimsight {

using nlohmann::json;

json toJson(const Pattern& pattern) {
    json runsOff = json::array();
    if (pattern.runsOff.toe) runsOff.push_back("toe");
    if (pattern.runsOff.heel) runsOff.push_back("heel");
    if (pattern.runsOff.tip) runsOff.push_back("tip");
    if (pattern.runsOff.root) runsOff.push_back("root");
    return {
        {"centre", {{"toe_heel", tidy(pattern.toeHeel)}, {"root_tip", tidy(pattern.rootTip)}}},
        {"sigma", {{"toe_heel", tidy(pattern.sigmaToeHeel)}, {"root_tip", tidy(pattern.sigmaRootTip)}}},
        {"length", tidy(pattern.length)},
        {"height", tidy(pattern.height)},
        {"area", tidy(pattern.area)},
        {"tilt_deg", tidy(pattern.tiltDeg)},
        {"runs_off", runsOff},
        {"edges",
         {{"toe", tidy(pattern.edgeToe)},
          {"heel", tidy(pattern.edgeHeel)},
          {"tip", tidy(pattern.edgeTip)},
          {"root", tidy(pattern.edgeRoot)}}},
        {"length_position", name(pattern.lengthPosition())},
        {"depth_position", name(pattern.depthPosition())},
        {"tooth_spread", tidy(pattern.toothSpread)},
        {"teeth", pattern.teeth},
    };
}

namespace {

json orNull(const std::optional<Pattern>& pattern) { return pattern ? toJson(*pattern) : json(nullptr); }

json outlineJson(const std::array<PixelPoint, 4>& corners) {
    json outline = json::array();
    for (const PixelPoint& corner : corners) outline.push_back(pointJson(corner));
    return outline;
}

json spreadOrNull(const std::optional<PatternSpread>& spread) {
    if (!spread) return nullptr;
    return {{"toe_heel", tidy(spread->toeHeel)},
            {"root_tip", tidy(spread->rootTip)},
            {"length", tidy(spread->length)},
            {"height", tidy(spread->height)}};
}

json estimateJson(const Estimate& estimate) {
    return {{"best", tidy(estimate.best)}, {"low90", tidy(estimate.low90)}, {"high90", tidy(estimate.high90)}};
}

}  // namespace

json toJson(const Advice& advice) {
    json stack = json::array();
    for (const double shim : advice.shim.stackMm) stack.push_back(tidy(shim));
    json object = {
        {"verdict", name(advice.verdict)},
        {"stop", advice.stop ? json({{"kind", name(advice.stop->kind)}, {"evidence", text(advice.stop->evidence)}})
                             : json(nullptr)},
        {"certainty", name(advice.certainty)},
        {"lead", leadOf(advice)},
        {"look_first", texts(advice.lookFirst)},
        {"changes_nothing", advice.changesNothing},
        {"limits_known", advice.limitsKnown},
        {"pinion_depth_change_mm", estimateJson(advice.pinionDepthChangeMm)},
        {"depth_error_mm", estimateJson(advice.depthErrorMm)},
        {"backlash_now_mm", advice.backlashNowMm ? json(tidy(*advice.backlashNowMm)) : json(nullptr)},
        {"backlash_target_mm", tidy(advice.backlashTargetMm)},
        {"ring_gear_move_mm", tidy(advice.ringGearMoveMm)},
        {"shim",
         {{"where", name(advice.shim.where)},
          {"place_known", advice.shim.placeKnown},
          {"depth_change_mm", tidy(advice.shim.depthChangeMm)},
          {"thickness_change_mm", tidy(advice.shim.thicknessChangeMm)},
          {"stack_mm", stack}}},
        {"preload_shim",
         {{"effect", name(advice.preloadShim.effect)},
          {"thickness_change_mm", tidy(advice.preloadShim.thicknessChangeMm)}}},
        {"adjusters", nullptr},
        {"chance_acceptable_next", tidy(advice.chanceAcceptableNext)},
        {"chance_acceptable_now", tidy(advice.chanceAcceptableNow)},
        {"chance_face_milled", tidy(advice.chanceFaceMilled)},
        {"expected_pattern", {{"drive", orNull(advice.expectedDrive)}, {"coast", orNull(advice.expectedCoast)}}},
        {"expected_spread", {{"drive", spreadOrNull(advice.spreadDrive)}, {"coast", spreadOrNull(advice.spreadCoast)}}},
        {"trials", advice.trials},
        {"read_again_first", advice.readAgainFirst},
        {"expected_hours", tidy(advice.expectedHours)},
        {"runner_up", nullptr},
        {"diagnoses", json::array()},
        {"because", texts(advice.because)},
        {"cautions", texts(advice.cautions)},
    };
    for (const Diagnosis& diagnosis : advice.diagnoses)
        object["diagnoses"].push_back({{"kind", name(diagnosis.kind)},
                                       {"chance", tidy(diagnosis.chance)},
                                       {"evidence", text(diagnosis.evidence)},
                                       {"question", diagnosis.question},
                                       {"shown", diagnosis.shown}});
    if (advice.runnerUp)
        object["runner_up"] = {{"thickness_change_mm", tidy(advice.runnerUp->thicknessChangeMm)},
                               {"backlash_target_mm", tidy(advice.runnerUp->backlashTargetMm)},
                               {"chance_acceptable_next", tidy(advice.runnerUp->chanceAcceptableNext)},
                               {"expected_hours", tidy(advice.runnerUp->expectedHours)}};
    if (advice.adjusters)
        object["adjusters"] = {{"left_notches", tidy(advice.adjusters->leftNotches)},
                               {"right_notches", tidy(advice.adjusters->rightNotches)},
                               {"tooth_side_notches", advice.adjusters->toothSideNotches},
                               {"back_side_notches", advice.adjusters->backSideNotches}};
    return object;
}

std::string writeAdvice(const Advice& advice, const std::vector<Message>& assumed) {
    json document = toJson(advice);
    document["schema"] = "shimsight/advice/1";
    document["assumed"] = texts(assumed);
    return fileText(document);
}

std::string_view name(Misfit misfit) {
    switch (misfit) {
        case Misfit::Hand:
            return "hand";
        case Misfit::ToothCount:
            return "tooth-count";
        case Misfit::Proportions:
            return "proportions";
    }
    throw std::logic_error("a misfit without a name");
}

std::string writeMeasurement(const MeasurementRecord& record) {
    json photos = json::array();
    for (const RecordedPhoto& photo : record.photos) {
        json flanks = json::array();
        for (const RecordedFlank& flank : photo.flanks)
            flanks.push_back({
                {"side", name(flank.side)},
                {"outline_px", outlineJson(flank.outline)},
                {"confidence", tidy(flank.confidence)},
                {"marking", name(flank.marking)},
                {"marking_certainty", tidy(flank.markingCertainty)},
                {"used", flank.used},
                {"pattern", toJson(flank.pattern)},
            });
        json refusedFlanks = json::array();
        for (const RecordedRefusedFlank& flank : photo.refusedFlanks)
            refusedFlanks.push_back({
                {"side", flank.side ? json(name(*flank.side)) : json(nullptr)},
                {"outline_px", outlineJson(flank.outline)},
                {"refused", refusedJson(flank.refused)},
            });
        json cut = nullptr;
        if (photo.cutEvidence)
            cut = {{"chance_face_milled", tidy(photo.cutEvidence->chanceFaceMilled)},
                   {"because", text(photo.cutEvidence->because)}};
        photos.push_back({{"file", photo.file},
                          {"refused", photo.refused ? refusedJson(*photo.refused) : json(nullptr)},
                          {"found", photo.found},
                          {"cut_evidence", cut},
                          {"flanks", flanks},
                          {"refused_flanks", refusedFlanks}});
    }
    const json document = {
        {"schema", "shimsight/reading/1"},
        {"photos", photos},
        {"pattern", {{"drive", orNull(record.drive)}, {"coast", orNull(record.coast)}}},
        {"set_misfit", record.setMisfit ? json{{"what", std::string(name(record.setMisfit->what))},
                                               {"seen", tidy(record.setMisfit->seen)},
                                               {"given", tidy(record.setMisfit->given)}}
                                        : json(nullptr)},
        {"advice", record.advice ? toJson(*record.advice) : json(nullptr)},
        {"notes", texts(record.notes)},
        {"assumed", texts(record.assumed)},
    };
    return fileText(document);
}

std::string writePrediction(const Prediction& prediction) {
    const Blank& blank = prediction.blank;
    const json document = {
        {"schema", "shimsight/prediction/1"},
        {"gear_set", prediction.gearSet},
        {"set_up",
         {{"pinion_depth_mm", tidy(prediction.error.depthMm)},
          {"ring_gear_move_mm", tidy(prediction.error.ringMm)},
          {"offset_error_mm", tidy(prediction.error.offsetMm)},
          {"shaft_angle_error_deg", tidy(degrees(prediction.error.shaftAngleRad))}}},
        {"exact", prediction.exact},
        {"pattern", {{"drive", orNull(prediction.drive)}, {"coast", orNull(prediction.coast)}}},
        {"backlash_change_mm", tidy(prediction.backlashChangeMm)},
        {"rates",
         {{"backlash_per_ring_gear_move", tidy(prediction.rates.perRingMove)},
          {"backlash_per_depth", tidy(prediction.rates.perDepth)}}},
        {"geometry",
         {{"ring_pitch_angle_deg", tidy(degrees(blank.pitchAngle2))},
          {"pinion_pitch_angle_deg", tidy(degrees(blank.pitchAngle1))},
          {"ring_spiral_deg", tidy(degrees(blank.spiralM2))},
          {"pinion_spiral_deg", tidy(degrees(blank.spiralM1))},
          {"limit_pressure_angle_deg", tidy(degrees(blank.limitPressureAngle))},
          {"offset_angle_deg", tidy(degrees(blank.offsetAnglePitch))},
          {"lengthwise_radius_mm", tidy(blank.lengthwiseRadius)},
          {"mean_cone_distance_mm", tidy(blank.coneDistanceM2)},
          {"working_depth_mm", tidy(blank.workingDepth)}}},
        {"assumed", texts(prediction.assumed)},
    };
    return fileText(document);
}

}  // namespace shimsight
