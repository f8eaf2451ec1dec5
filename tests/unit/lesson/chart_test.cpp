#include <array>
#include <catch2/catch.hpp>

#include "shimsight/draw_svg.h"
#include "shimsight/lesson.h"

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

TEST_CASE("a chart follows its steps") {
    const std::array sets{&lessonSet(Cut::FaceMilled)};
    const std::string usual = chartSvg(sets);
    CHECK(usual.find("Deeper by 0.004 in (0.10 mm), backlash held: drive 16 +/- 2 % of the face toward the toe") !=
          std::string::npos);
    CHECK(chartSvg(sets, {0.05, 0.05}).find("Deeper by 0.002 in (0.05 mm)") != std::string::npos);
}

TEST_CASE("an arrow leads from where the mark was") {
    Pattern was, is;
    was.toeHeel = 0.45;
    is.toeHeel = 0.30;
    SvgSketch sketch;
    sketch.pattern = is;
    CHECK(countOf(flankSvg(sketch), "H") == 2);  // the arms of a cross, and their halo
    sketch.cameFrom = was;
    CHECK(countOf(flankSvg(sketch), "H") == 0);
    sketch.cameFrom = is;  // hardly moved: no arrow
    CHECK(countOf(flankSvg(sketch), "H") == 2);
}
