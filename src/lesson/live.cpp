// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "lesson/page_data.h"
#include "lesson/parts.h"
#include "lesson_page.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"
#include "shimsight/flank_surface.h"
#include "shimsight/lesson.h"
#include "shimsight/lesson_parts.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using lesson::packedFloats;
using nlohmann::json;

/// Grids of the flanks for the picture: columns along u; the ring gear's first row is its root line, the others lie
/// between v = 0 and 1, the pinion's from a little beyond its tip (v < 0) to v = 1. Pinion frame: flank_surface.h.
constexpr int kMeshColumns = 25, kMeshRows = 10;

json ringGrid(const RingFlank& flank) {
    std::vector<float> points;
    for (int j = 0; j < kMeshRows; ++j) {
        for (int i = 0; i < kMeshColumns; ++i) {
            const double u = static_cast<double>(i) / (kMeshColumns - 1);
            const double v = j == 0 ? flank.rootV(u) : static_cast<double>(j - 1) / (kMeshRows - 2);
            const Eigen::Vector3f p = flank.at(u, v).position.cast<float>();
            points.insert(points.end(), {p.x(), p.y(), p.z()});
        }
    }
    return packedFloats(points);
}

json pinionGrid(const PinionFlank& flank) {
    constexpr double kTipV = -0.02;
    std::vector<float> points;
    for (int j = 0; j < kMeshRows; ++j) {
        for (int i = 0; i < kMeshColumns; ++i) {
            const double u = static_cast<double>(i) / (kMeshColumns - 1), v = kTipV + (1 - kTipV) * j / (kMeshRows - 1);
            const Eigen::Vector3f p = flank.at(u, v).position.cast<float>();
            points.insert(points.end(), {p.x(), p.y(), p.z()});
        }
    }
    return packedFloats(points);
}

json gearJson(const ToothContact& contact) {
    const GearSet& set = contact.gearSet();
    const Blank& blank = contact.blank();
    json ring, pinion;
    double ratio = 0;
    for (const Side side : kSides) {
        const std::string key(name(side));
        const RingFlank flank(set, blank, side);
        const PinionFlank mate(flank, set.modification[index(side)]);
        ring[key] = ringGrid(flank);
        pinion[key] = pinionGrid(mate);
        ratio = mate.ratio();
    }
    return {{"columns", kMeshColumns},
            {"rows", kMeshRows},
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

}  // namespace

std::string liveData(std::span<const ToothContact* const> sets) {
    check(!sets.empty() && sets.size() <= kMaxLiveSets, "the live tooth shows one to four gear sets");
    json data = {{"film_mm", kFilmMm}, {"sets", json::array()}};
    for (const ToothContact* set : sets) {
        data["sets"].push_back(lesson::setJson(*set));
        data["sets"].back()["gear"] = gearJson(*set);
    }
    return lesson::scriptJson(data);
}

std::string livePage(std::span<const ToothContact* const> sets, Units units) {
    const std::string data = liveData(sets);
    return lesson::pageHtml(
        {say("lesson.live-title", sets[0]->gearSet().name), lesson::part("live.css"),
         lesson::inWords(lesson::part("live.html")),
         lesson::dataScript("live-data", data) +
             lesson::scriptParts({"lengths.js", "contact.js", "flank.js", "three.js", "live.js"}) +
             lesson::script("liveTooth.start(JSON.parse(document.getElementById('live-data').textContent));\n"),
         units});
}

std::optional<std::string_view> lessonScript(std::string_view name) {
    constexpr auto kShared =
        std::to_array<std::string_view>({"contact.js", "flank.js", "three.js", "live.js", "figures.js"});
    if (name == "words.js") {
        static const std::string kWords =
            lesson::wordsScript(std::string(lesson::part("flank.js")) + std::string(lesson::part("live.js")) +
                                std::string(lesson::part("figures.js")));
        return kWords;
    }
    if (std::find(kShared.begin(), kShared.end(), name) == kShared.end()) return std::nullopt;
    return lesson::part(name);
}

}  // namespace shimsight
