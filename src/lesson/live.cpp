#include <Eigen/Core>
#include <bit>
#include <cmath>
#include <nlohmann/json.hpp>

#include "lesson/parts.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"
#include "shimsight/flank_surface.h"
#include "shimsight/lesson.h"

namespace shimsight {
namespace {

using nlohmann::json;

json packed(const std::vector<float>& values) {
    static_assert(std::endian::native == std::endian::little, "the page reads little-endian numbers");
    return lesson::base64({reinterpret_cast<const std::uint8_t*>(values.data()), values.size() * sizeof(float)});
}

json toJson(const Interval& interval) { return {interval.low, interval.high}; }

json toJson(const Modification& m) {
    return {{"length_crown_um", m.lengthCrownUm},
            {"profile_crown_um", m.profileCrownUm},
            {"bias_um", m.biasUm},
            {"length_shift", m.lengthShift},
            {"profile_shift", m.profileShift}};
}

json toJson(const FlankRates& rates) {
    json perUnit = json::array(), delay = json::array();
    for (const auto& values : rates.perUnit) perUnit.push_back(packed(values));
    for (const auto& values : rates.delayPerUnit) delay.push_back(packed(values));
    return {{"per_unit", perUnit},
            {"delay_per_unit", delay},
            {"lever", packed(rates.lever)},
            {"phase_at_rest", packed(rates.phaseAtRest)},
            {"slide_length", rates.slideLength},
            {"slide_profile", rates.slideProfile}};
}

/// Grids of the flanks for the picture: columns along u; the ring gear's first row is its root line, the others lie
/// between v = 0 and 1, the pinion's from a little beyond its tip (v < 0) to v = 1. Pinion frame: flank_surface.h.
constexpr int kColumns = 25, kRows = 10;

json ringGrid(const RingFlank& flank) {
    std::vector<float> points;
    for (int j = 0; j < kRows; ++j) {
        for (int i = 0; i < kColumns; ++i) {
            const double u = static_cast<double>(i) / (kColumns - 1);
            const double v = j == 0 ? flank.rootV(u) : static_cast<double>(j - 1) / (kRows - 2);
            const Eigen::Vector3f p = flank.at(u, v).position.cast<float>();
            points.insert(points.end(), {p.x(), p.y(), p.z()});
        }
    }
    return packed(points);
}

json pinionGrid(const PinionFlank& flank) {
    constexpr double kTipV = -0.02;
    std::vector<float> points;
    for (int j = 0; j < kRows; ++j) {
        for (int i = 0; i < kColumns; ++i) {
            const double u = static_cast<double>(i) / (kColumns - 1), v = kTipV + (1 - kTipV) * j / (kRows - 1);
            const Eigen::Vector3f p = flank.at(u, v).position.cast<float>();
            points.insert(points.end(), {p.x(), p.y(), p.z()});
        }
    }
    return packed(points);
}

json gearJson(const ToothContact& contact) {
    const GearSet& set = contact.gearSet();
    const Blank& blank = contact.blank();
    json ring, pinion;
    double ratio = 0;
    for (const Side side : kSides) {
        const char* name = side == Side::Drive ? "drive" : "coast";
        const RingFlank flank(set, blank, side);
        const PinionFlank mate(flank, set.modification[index(side)]);
        ring[name] = ringGrid(flank);
        pinion[name] = pinionGrid(mate);
        ratio = mate.ratio();
    }
    return {{"columns", kColumns},
            {"rows", kRows},
            {"ring", ring},
            {"pinion", pinion},
            {"ring_teeth", set.ringTeeth},
            {"pinion_teeth", set.pinionTeeth},
            {"offset_mm", set.offsetMm},
            {"ratio", ratio},
            {"left_hand", set.hand == Hand::Left},
            {"pitch_point",
             {0.5 * blank.diameterM2 * std::cos(blank.pitchPointAzimuth),
              0.5 * blank.diameterM2 * std::sin(blank.pitchPointAzimuth), blank.pitchPointZ}}};
}

json setJson(const ToothContact& contact) {
    const GearSet& set = contact.gearSet();
    const AcceptanceRule& rule = set.limits.acceptance;
    const BacklashRates rates = contact.backlashRates();
    return {{"name", set.name},
            {"cut", lesson::cutWords(set.cut)},
            {"face_width_mm", set.faceWidthMm},
            {"limits_backlash_mm", toJson(set.limits.backlashMm)},
            {"acceptance",
             {{"toe_heel", toJson(rule.toeHeel)},
              {"root_tip", toJson(rule.rootTip)},
              {"length", toJson(rule.length)},
              {"may_run_off", rule.mayRunOff}}},
            {"backlash_rates",
             {{"per_ring_move", rates.perRingMove}, {"per_depth", rates.perDepth}, {"per_offset", rates.perOffset}}},
            {"modification", {{"drive", toJson(set.modification[0])}, {"coast", toJson(set.modification[1])}}},
            {"rates",
             {{"drive", toJson(contact.flankRates(Side::Drive))}, {"coast", toJson(contact.flankRates(Side::Coast))}}},
            {"gear", gearJson(contact)}};
}

}  // namespace

std::string livePage(std::span<const ToothContact* const> sets) {
    check(!sets.empty() && sets.size() <= kMostLiveSets, "the live tooth shows one to four gear sets");
    json data = {{"film_mm", kFilmMm}, {"sets", json::array()}};
    for (const ToothContact* set : sets) data["sets"].push_back(setJson(*set));
    std::string text = data.dump(-1, ' ', true, json::error_handler_t::replace);
    // A name must not end the script element.
    for (std::size_t at = 0; (at = text.find('<', at)) != std::string::npos; at += 6) text.replace(at, 1, "\\u003c");
    const auto script = [](std::string_view code) { return "<script>\n" + std::string(code) + "</script>\n"; };
    return lesson::pageHtml(
        {"Live tooth: " + sets[0]->gearSet().name, lesson::liveCss(), std::string(lesson::liveBody()),
         "<script type=\"application/json\" id=\"live-data\">" + text + "</script>\n" +
             script(lesson::contactScript()) + script(lesson::threeScript()) + script(lesson::liveScript())});
}

}  // namespace shimsight
