// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>

#include "records_json.h"
#include "shimsight/core.h"
#include "shimsight/records.h"

using namespace shimsight;
using nlohmann::json;

namespace {

const std::string kFlank = R"("corners_px": [[10, 90], [10, 20], [200.5, 25], [205, 95]])";

std::string outline(const std::string& flanks, const std::string& more = "") {
    return R"({"schema": "shimsight/outline/1", "flanks": [)" + flanks + "]" + more + "}";
}

std::string outlineErrorOf(const std::string& text) {
    try {
        (void)parseOutlineFile(text, "marks.json");
        return "";
    } catch (const InputError& error) {
        return error.what();
    }
}

}  // namespace

TEST_CASE("an outline keeps its points when written and read", "[records]") {
    PhotoOutline flank;
    flank.photo = "a.jpg";
    flank.outline.side = Side::Coast;
    flank.outline.corners = {PixelPoint{1, 2}, PixelPoint{3.25, 4}, PixelPoint{5, 6.5}, PixelPoint{7, 8}};
    flank.outline.rootEdge = {{1.5, 2}, {2, 2.5}};
    flank.outline.tipEdge = {{3, 4}};
    flank.outline.toeEdge = {{9, 9}};
    const std::vector<PhotoOutline> again = parseOutlineFile(writeOutline(std::vector<PhotoOutline>{flank}), "x");
    REQUIRE(again.size() == 1);
    CHECK(again[0].photo == "a.jpg");
    CHECK(again[0].outline.side == Side::Coast);
    CHECK(again[0].outline.corners[1].x == 3.25);
    CHECK(again[0].outline.corners[2].y == 6.5);
    REQUIRE(again[0].outline.rootEdge.size() == 2);
    CHECK(again[0].outline.rootEdge[1].y == 2.5);
    CHECK(again[0].outline.tipEdge.size() == 1);
    CHECK(again[0].outline.toeEdge.size() == 1);
    CHECK(again[0].outline.heelEdge.empty());
}

TEST_CASE("outline: the photo of the file holds for flanks that name none", "[records]") {
    const auto flanks = parseOutlineFile(
        outline("{" + kFlank + "}, {" + kFlank + R"(, "photo": "b.jpg"})", R"(, "photo": "a.jpg")"), "x");
    REQUIRE(flanks.size() == 2);
    CHECK(flanks[0].photo == "a.jpg");
    CHECK(flanks[1].photo == "b.jpg");
    CHECK_FALSE(flanks[0].outline.side);
}

TEST_CASE("outline: each fault names file and field", "[records]") {
    CHECK(outlineErrorOf(outline("")).find("marks.json: \"flanks\" is empty") == 0);
    CHECK(outlineErrorOf(R"({"schema": "shimsight/outline/1"})").find("marks.json: \"flanks\" is missing") == 0);
    CHECK(outlineErrorOf(outline("[1]")).find("\"flanks[0]\" must be an object") != std::string::npos);
    CHECK(outlineErrorOf(outline("{}")).find("\"flanks[0].corners_px\" is missing") != std::string::npos);
    CHECK(outlineErrorOf(outline(R"({"corners_px": [[1,2],[3,4],[5,6]]})"))
              .find("\"flanks[0].corners_px\" has 3 points") != std::string::npos);
    CHECK(outlineErrorOf(outline(R"({"corners_px": [[1,2],[3,4],[5,6],[7]]})"))
              .find("\"flanks[0].corners_px\" must hold points") != std::string::npos);
    CHECK(outlineErrorOf(outline(R"({"corners_px": [[1,2],[3,4],[5,6],[7,"8"]]})")).find("must hold points") !=
          std::string::npos);
    CHECK(outlineErrorOf(outline(R"({"corners_px": [[1,2],[3,4],[5,6],[7,8e9]]})")).find("must hold points") !=
          std::string::npos);
    CHECK(outlineErrorOf(outline("{" + kFlank + R"(, "side": "left"})")).find("\"flanks[0].side\" is \"left\"") !=
          std::string::npos);
    CHECK(outlineErrorOf(outline("{" + kFlank + R"(, "edge_points_px": {"root": [[1]]}})"))
              .find("\"flanks[0].edge_points_px.root\"") != std::string::npos);
    // Marked edges in a misspelled field would be lost.
    CHECK(outlineErrorOf(outline("{" + kFlank + R"(, "edge_points": {"root": []}})"))
              .find("\"flanks[0].edge_points_px\" meant?") != std::string::npos);
    std::string many = "{" + kFlank + "}";
    for (int i = 0; i < 64; ++i) many += ", {" + kFlank + "}";
    CHECK(outlineErrorOf(outline(many)).find("at most 64") != std::string::npos);
}

TEST_CASE("a pattern is written by the names of the contract", "[records]") {
    Pattern pattern;
    pattern.toeHeel = 0.25;
    pattern.rootTip = 0.7;
    pattern.sigmaToeHeel = 0.01;
    pattern.length = 0.5;
    pattern.tiltDeg = -3;
    pattern.runsOff.toe = true;
    pattern.runsOff.tip = true;
    pattern.teeth = 3;
    const json object = toJson(pattern);
    CHECK(object["centre"]["toe_heel"] == 0.25);
    CHECK(object["centre"]["root_tip"] == 0.7);
    CHECK(object["sigma"]["toe_heel"] == 0.01);
    CHECK(object["length"] == 0.5);
    CHECK(object["tilt_deg"] == -3);
    CHECK(object["runs_off"] == json::array({"toe", "tip"}));
    CHECK(object["length_position"] == "toe");
    CHECK(object["depth_position"] == "face");
    CHECK(object["teeth"] == 3);
}

TEST_CASE("a number that is not finite is never written", "[records]") {
    Pattern pattern;
    pattern.area = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(toJson(pattern), std::logic_error);
    Advice advice;
    advice.backlashTargetMm = std::numeric_limits<double>::infinity();
    CHECK_THROWS_AS(toJson(advice), std::logic_error);
}

TEST_CASE("advice is written by the names of the contract", "[records]") {
    Advice advice;
    advice.verdict = Verdict::Change;
    advice.pinionDepthChangeMm = {-0.1, -0.15, -0.05};
    advice.backlashNowMm = 0.2;
    advice.backlashTargetMm = 0.18;
    advice.ringGearMoveMm = 0.03;
    advice.shim = {PinionShim::UnderPinionSupport, true, -0.1, 0.1, {0.254, 0.127}};
    advice.adjusters = AdjusterMove{-2, 2, 2, -2};
    advice.because = {"One."};
    advice.cautions = {"Two."};
    const json object = json::parse(writeAdvice(advice, {"three"}));
    CHECK(object["schema"] == "shimsight/advice/1");
    CHECK(object["verdict"] == "change");
    CHECK(object["pinion_depth_change_mm"]["best"] == -0.1);
    CHECK(object["pinion_depth_change_mm"]["low90"] == -0.15);
    CHECK(object["pinion_depth_change_mm"]["high90"] == -0.05);
    CHECK(object["backlash_now_mm"] == 0.2);
    CHECK(object["backlash_target_mm"] == 0.18);
    CHECK(object["ring_gear_move_mm"] == 0.03);
    CHECK(object["shim"]["where"] == "under-pinion-support");
    CHECK(object["shim"]["thickness_change_mm"] == 0.1);
    CHECK(object["shim"]["stack_mm"] == json::array({0.254, 0.127}));
    CHECK(object["adjusters"]["left_notches"] == -2);
    CHECK(object["adjusters"]["tooth_side_notches"] == 2);
    CHECK(object["adjusters"]["back_side_notches"] == -2);
    CHECK(object["shim"]["place_known"] == true);
    CHECK(object["shim"]["depth_change_mm"] == -0.1);
    CHECK(object["stop"].is_null());
    CHECK(object["certainty"] == "not-sure");
    CHECK(object["preload_shim"]["effect"] == "none");
    CHECK(object["expected_pattern"]["drive"].is_null());
    CHECK(object["assumed"] == json::array({"three"}));
    advice.backlashNowMm.reset();
    advice.adjusters.reset();
    CHECK(toJson(advice)["backlash_now_mm"].is_null());
    CHECK(toJson(advice)["adjusters"].is_null());
}

TEST_CASE("a reading tells refused photos and flanks apart from read ones", "[records]") {
    MeasurementRecord reading;
    RecordedPhoto photo;
    photo.file = "a\xff.jpg";  // a file name need not be UTF-8
    RecordedFlank flank;
    flank.side = Side::Coast;
    flank.confidence = 0.8;
    flank.marking = Marking::Wiped;
    flank.markingCertainty = 0.9;
    photo.flanks.push_back(flank);
    photo.refusedFlanks.push_back({std::nullopt, {}, {Refusal::Glare, "Too bright.", "Turn the lamp away."}});
    reading.photos.push_back(photo);
    photo.found = true;
    photo.cutEvidence = RecordedCutEvidence{0.8, "The teeth taper toward the toe."};
    reading.photos.push_back(photo);
    RecordedPhoto broken;
    broken.file = "b.jpg";
    broken.refused = Refused{Refusal::UnreadablePhoto, "Cut short.", "Take it again."};
    reading.photos.push_back(broken);
    const json object = json::parse(writeMeasurement(reading));
    CHECK(object["schema"] == "shimsight/reading/1");
    REQUIRE(object["photos"].size() == 3);
    CHECK(object["photos"][0]["refused"].is_null());
    CHECK(object["photos"][0]["flanks"][0]["side"] == "coast");
    CHECK(object["photos"][0]["flanks"][0]["outline_px"].size() == 4);
    CHECK(object["photos"][0]["refused_flanks"][0]["side"].is_null());
    CHECK(object["photos"][0]["refused_flanks"][0]["refused"]["why"] == name(Refusal::Glare));
    CHECK(object["photos"][0]["found"] == false);
    CHECK(object["photos"][0]["cut_evidence"].is_null());
    CHECK(object["photos"][1]["found"] == true);
    CHECK(object["photos"][1]["cut_evidence"]["chance_face_milled"] == 0.8);
    CHECK(object["photos"][1]["cut_evidence"]["because"] == "The teeth taper toward the toe.");
    CHECK(object["photos"][2]["refused"]["what_to_do"] == "Take it again.");
    CHECK(object["pattern"]["drive"].is_null());
    CHECK(object["advice"].is_null());
    CHECK(object["set_misfit"].is_null());
    reading.setMisfit = SetMisfit{Misfit::Hand, 0, 1};
    const json misfit = json::parse(writeMeasurement(reading))["set_misfit"];
    CHECK(misfit["what"] == "hand");
    CHECK(misfit["seen"] == 0);
    CHECK(misfit["given"] == 1);
}
