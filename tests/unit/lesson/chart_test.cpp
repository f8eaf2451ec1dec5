// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>
#include <catch2/catch.hpp>
#include <regex>
#include <tuple>

#include "lesson/claims.h"
#include "shimsight/draw_svg.h"
#include "shimsight/lesson.h"
#include "shimsight/units.h"

using namespace shimsight;

namespace {

std::size_t countOf(const std::string& text, const std::string& word) {
    std::size_t count = 0;
    for (std::size_t at = 0; (at = text.find(word, at)) != std::string::npos; at += word.size()) ++count;
    return count;
}

}  // namespace

TEST_CASE("a chart shows nine settings of both sides of each set") {
    const std::array sets{&lessonSet(Cut::FaceMilled), &lessonSet(Cut::FaceHobbed)};
    for (const std::size_t many : {std::size_t{1}, std::size_t{2}}) {
        const std::span<const ToothContact* const> shown(sets.data(), many);
        const std::string svg = chartSvg(shown), page = chartPage(shown);
        CHECK(countOf(svg, "class=\"fk-mark\"") == many * 18);
        CHECK(countOf(page, "class=\"fk-mark\"") == many * 18);
        // Colours are resolved: viewers of pictures know no custom properties.
        CHECK(countOf(svg, "var(") == 0);
        CHECK(countOf(page, "http") == 0);
        CHECK(countOf(page, "contradict") == many - 1);
        CHECK(chartSvg(shown) == svg);
    }
}

TEST_CASE("a tick means that both marks and the backlash are right") {
    const std::array sets{&lessonSet(Cut::FaceHobbed)};
    const std::string page = chartPage(sets), svg = chartSvg(sets);
    // 0.003 in less than 0.004 in is 0.001 in, out of its limits; 0.003 in more is 0.007 in, out as well.
    CHECK(countOf(page, "<small class=\"out\">out of limits</small>") == 4);
    // Of the nine settings only those in the middle column can be ticked, each on both sides.
    const std::size_t ticks = countOf(page, "class=\"say good\"");
    CHECK(ticks >= 2);
    CHECK(ticks <= 6);
    CHECK(ticks % 2 == 0);
    CHECK(countOf(svg, "class=\"good middle\"") == ticks);
    // Hobbed teeth are drawn as high at the toe as at the heel.
    CHECK(countOf(page, "M3 121L263 121L263 3L3 3Z") == 18);
    const std::array milled{&lessonSet(Cut::FaceMilled)};
    CHECK(countOf(chartPage(milled), "M3 121L263 121L263 3L3 3Z") == 0);
}

TEST_CASE("two sets beside each other are told as they move") {
    const std::array same{&lessonSet(Cut::FaceMilled), &lessonSet(Cut::FaceMilled)};
    CHECK(countOf(chartPage(same), "These two sets move the same way") == 1);
    const std::array other{&lessonSet(Cut::FaceMilled), &lesson::smallCutterSet()};
    CHECK(countOf(chartPage(other), "contradict") == 1);
    CHECK(countOf(chartPage(other), "between them a set may move like neither") == 1);
}

TEST_CASE("a good mark is not called toe for lying a little toward it") {
    Pattern pattern;
    pattern.rootTip = 0.5;
    pattern.toeHeel = 0.38;
    CHECK(placeWords(pattern) == "toe side");
    pattern.toeHeel = 0.28;
    CHECK(placeWords(pattern) == "toe");
    pattern.toeHeel = 0.45;
    CHECK(placeWords(pattern) == "centre");
}

TEST_CASE("a chart follows its steps") {
    const std::array sets{&lessonSet(Cut::FaceMilled)};
    const std::string usual = chartSvg(sets);
    CHECK(usual.find("Deeper by 0.004 in (0.10 mm), backlash held: drive 16 +/- 2 % of the face toward the toe") !=
          std::string::npos);
    CHECK(chartSvg(sets, {0.05, 0.05}).find("Deeper by 0.002 in (0.05 mm)") != std::string::npos);
}

TEST_CASE("a chart tells lengths in the wished unit") {
    const std::array sets{&lessonSet(Cut::FaceMilled), &lessonSet(Cut::FaceHobbed)};
    ChartOptions options;
    const std::regex inches("[0-9](in| in)[ ,.:;)<]"), millimetres("[0-9] mm");
    for (const auto& [units, other, own] :
         {std::tuple{Units::Metric, inches, millimetres}, {Units::Inch, millimetres, inches}}) {
        options.units = units;
        for (const std::string& text : {chartPage(sets, options), chartSvg(sets, options)}) {
            // Styles have lengths of their own.
            const std::string shown = std::regex_replace(text, std::regex("<style>[^]*?</style>"), "");
            CHECK_FALSE(std::regex_search(shown, other));
            CHECK(std::regex_search(shown, own));
        }
    }
    options.units = Units::Both;
    CHECK(chartSvg(sets, options).find(">(0.10 mm)<") != std::string::npos);
}

TEST_CASE("an arrow leads from where the mark was") {
    Pattern was, is;
    was.toeHeel = 0.45;
    is.toeHeel = 0.30;
    SvgSketch sketch;
    sketch.pattern = is;
    CHECK(countOf(flankSvg(sketch).str(), "H") == 2);  // the arms of a cross, and their halo
    sketch.cameFrom = was;
    CHECK(countOf(flankSvg(sketch).str(), "H") == 0);
    sketch.cameFrom = is;  // hardly moved: no arrow
    CHECK(countOf(flankSvg(sketch).str(), "H") == 2);
}
