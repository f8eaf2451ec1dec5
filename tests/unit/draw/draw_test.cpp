// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/draw.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <fstream>

#include "draw/canvas.h"
#include "draw/contour.h"
#include "draw/labels.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"

using namespace shimsight;
using namespace shimsight::draw;

namespace {

FlankMap ellipseMap(double u, double v, double halfU, double halfV) {
    FlankMap map;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double r = std::hypot(((x + 0.5) / kMapWidth - u) / halfU, (1 - (y + 0.5) / kMapHeight - v) / halfV);
            map.at(x, y) = static_cast<std::uint8_t>(255 * std::clamp(0.5 + 6 * (1 - r), 0.0, 1.0));
        }
    return map;
}

/// With SHIMSIGHT_TEST_PICTURES set to a folder, the pictures are kept there to be looked at.
void keep(const Picture& picture, const std::string& name) {
    const char* folder = std::getenv("SHIMSIGHT_TEST_PICTURES");
    if (!folder) return;
    const auto bytes = encodePng(picture);
    std::ofstream(std::string(folder) + "/" + name, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

/// Number of pixels within `reach` of the colour.
int countNear(const Picture& picture, Ink ink, int reach = 30) {
    int n = 0;
    for (std::size_t i = 0; i < picture.rgb.size(); i += 3)
        if (std::abs(picture.rgb[i] - ink[0]) < reach && std::abs(picture.rgb[i + 1] - ink[1]) < reach &&
            std::abs(picture.rgb[i + 2] - ink[2]) < reach)
            ++n;
    return n;
}

Photo greyPhoto(int width, int height) {
    Photo photo;
    photo.fullWidth = width;
    photo.fullHeight = height;
    photo.picture.width = width;
    photo.picture.height = height;
    photo.picture.rgb.assign(static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 3, 110);
    return photo;
}

}  // namespace

TEST_CASE("text covers about the width it says and carries its colour", "[draw]") {
    Canvas canvas(400, 80, kWhite);
    const double width = textWidth("Centre 43 % \xC2\xB7 heel", 28, Weight::Bold);
    canvas.text(20, 50, "Centre 43 % \xC2\xB7 heel", {.sizePx = 28, .ink = kBlack, .weight = Weight::Bold});
    int left = 400, right = 0;
    for (int y = 0; y < 80; ++y)
        for (int x = 0; x < 400; ++x)
            if (canvas.picture().rgb[static_cast<std::size_t>(3 * (y * 400 + x))] < 100) {
                left = std::min(left, x);
                right = std::max(right, x);
            }
    CHECK(left >= 18);
    CHECK(left <= 25);
    CHECK(right - left == Approx(width).margin(8));
    CHECK(countNear(canvas.picture(), kBlack) > 300);
}

TEST_CASE("broken UTF-8 and text beyond the border do no harm", "[draw]") {
    Canvas canvas(60, 30, kWhite);
    canvas.text(-20, 10, "\xC3 \xFF\xE2\x82 abc", {.sizePx = 20, .haloPx = 3});
    canvas.text(50, 40, "heel", {.sizePx = 20});
    canvas.text(5, 20, "", {.sizePx = 20});
    CHECK(canvas.width() == 60);
}

TEST_CASE("long text is broken into lines that fit", "[draw]") {
    const auto lines =
        wrapText("Clean the teeth, paint them thinly, roll once each way, and take the photo again.", 20, 200);
    REQUIRE(lines.size() > 3);
    std::string joined;
    for (const auto& line : lines) {
        CHECK(textWidth(line, 20) <= 200);
        joined += (joined.empty() ? "" : " ") + line;
    }
    CHECK(joined == "Clean the teeth, paint them thinly, roll once each way, and take the photo again.");
}

TEST_CASE("contours follow the border of the contact", "[draw]") {
    const auto lines = contactContours(ellipseMap(0.4, 0.5, 0.25, 0.3));
    REQUIRE(lines.size() == 1);
    for (const auto& p : lines[0]) CHECK(std::hypot((p.u - 0.4) / 0.25, (p.v - 0.5) / 0.3) == Approx(1).margin(0.08));
    CHECK(contactContours(FlankMap{}).empty());
    CHECK_FALSE(contactContours(ellipseMap(0.0, 0.5, 0.25, 0.3)).empty());
}

TEST_CASE("the sketch shows the contact where it lies and the good zone", "[draw]") {
    FlankSketch before{"Drive side, as measured", ellipseMap(0.3, 0.62, 0.22, 0.25), std::nullopt, false, {}};
    before.pattern = measurePattern(before.map);
    before.pattern->sigmaToeHeel = 0.02;
    before.pattern->sigmaRootTip = 0.04;
    FlankSketch after{"Drive side, expected next",
                      ellipseMap(0.45, 0.5, 0.25, 0.28),
                      std::nullopt,
                      false,
                      {"After adding 0.004 in (0.10 mm) behind the pinion head."}};
    after.pattern = measurePattern(after.map);
    SketchOptions options;
    options.goodZone = AcceptanceRule{};
    const Picture both = drawFlankMaps(std::vector<FlankSketch>{before, after}, options);
    keep(both, "sketch_both.png");
    CHECK(both.width > both.height);
    CHECK(countNear(both, kOrange) > 500);
    // The dark mark's middle lies in the toe half of the left panel.
    const Picture one = drawFlankMap(before);
    keep(one, "sketch_one.png");
    double sum = 0, weight = 0;
    for (int y = 0; y < one.height; ++y)
        for (int x = 0; x < one.width; ++x) {
            const auto* p = &one.rgb[3 * static_cast<std::size_t>(y * one.width + x)];
            if (p[0] < 60 && p[2] > 110 && p[1] < 120) {
                sum += x;
                weight += 1;
            }
        }
    REQUIRE(weight > 2000);
    CHECK(sum / weight / one.width == Approx(0.5 + 0.2 * -760.0 / one.width).margin(0.03));
    FlankSketch empty{"Coast side", {}, std::nullopt, false, {}};
    keep(drawFlankMap(empty), "sketch_empty.png");
}

TEST_CASE("an annotated photo keeps the picture and adds a caption", "[draw]") {
    Photo photo = greyPhoto(1600, 1200);
    FlankOutline outline;
    outline.side = Side::Drive;
    outline.corners = {PixelPoint{300, 600}, {330, 440}, {1150, 380}, {1180, 640}};
    outline.tipEdge = {{700, 370}};
    outline.rootEdge = {{720, 590}};
    const auto flat = rectifyFlank(photo, outline);
    REQUIRE(bool(flat));
    FlankContact reading;
    reading.map = ellipseMap(0.4, 0.55, 0.25, 0.3);
    reading.pattern = measurePattern(reading.map).value();
    FlankOutline second;
    second.side = Side::Coast;
    second.corners = {PixelPoint{300, 1000}, {330, 840}, {1150, 780}, {1180, 1040}};
    std::vector<AnnotatedFlank> flanks{{.outline = outline, .rectified = &flat.value(), .contact = &reading},
                                       {.outline = second,
                                        .used = false,
                                        .whyNot = "Most of this flank is blown out by glare.",
                                        .whyNotShort = "blown out by light"}};
    AnnotateOptions options;
    options.title = "Trial 1, photo of the drive side";
    const Picture picture = annotate(photo, flanks, options);
    keep(picture, "annotated.png");
    CHECK(picture.width == 1600);
    CHECK(picture.height > 1300);
    CHECK(countNear(picture, kSkyBlue) > 1000);
    CHECK(countNear(picture, kOrange) > 1000);
    // Far from marks the photo is untouched.
    CHECK(picture.rgb[3 * (100 * 1600 + 1500)] == 110);
    options.longestSidePx = 800;
    CHECK(annotate(photo, flanks, options).width == 800);
    CHECK(annotate(photo, {}, {}).width == 1600);
}

TEST_CASE("labels keep to free places inside the picture", "[draw]") {
    LabelPlaces labels(100, 60);
    labels.take({40, 0, 60, 60});
    const std::vector<PixelPoint> spots{{50, 30}, {5, 30}, {20, 30}, {22, 32}, {80, 30}};
    const auto first = labels.place(spots, 20, 20), second = labels.place(spots, 20, 20);
    REQUIRE(first);
    CHECK(first->x == 20);  // 50 is taken, 5 would reach out of the picture
    REQUIRE(second);
    CHECK(second->x == 80);  // 22 would cover the first
    CHECK_FALSE(labels.place(spots, 20, 20));
    LabelPlaces mindful(100, 60);
    mindful.avoid({0, 0, 60, 60});
    CHECK(mindful.place(spots, 20, 20)->x == 80);
    CHECK(mindful.place(spots, 20, 20)->x == 50);  // better there than nowhere
}

TEST_CASE("many flanks left out are counted, not told one by one", "[draw]") {
    const Photo photo = greyPhoto(1600, 1200);
    FlankContact reading;
    reading.map = ellipseMap(0.4, 0.55, 0.25, 0.3);
    reading.pattern = measurePattern(reading.map).value();
    // Eight read flanks close together, twenty-four left out beside them.
    std::vector<RectifiedFlank> flat;
    for (int k = 0; k < 8; ++k) {
        const double y = 300 + 90.0 * k;
        FlankOutline outline;
        outline.side = Side::Drive;
        outline.corners = {PixelPoint{200, y}, {210, y - 70}, {700, y - 90}, {710, y - 10}};
        auto one = rectifyFlank(photo, outline);
        REQUIRE(bool(one));
        flat.push_back(std::move(one.value()));
    }
    std::vector<AnnotatedFlank> flanks;
    for (const RectifiedFlank& flank : flat)
        flanks.push_back({.outline = flank.outline, .rectified = &flank, .contact = &reading});
    for (int k = 0; k < 24; ++k) {
        const double y = 80 + 45.0 * k;
        FlankOutline outline;
        outline.side = k % 2 == 0 ? Side::Drive : Side::Coast;
        outline.corners = {PixelPoint{900, y}, {905, y - 30}, {1500, y - 40}, {1510, y - 5}};
        flanks.push_back({.outline = outline,
                          .used = false,
                          .whyNot = "Most of this flank is hidden.",
                          .whyNotShort = k < 20 ? "without compound" : "partly hidden or cut off"});
    }
    AnnotateOptions options;
    options.title = "drive.jpg";
    const Picture each = annotate(photo, flanks, options);
    options.grouped = true;
    const Picture counted = annotate(photo, flanks, options);
    keep(counted, "annotated_many.png");
    CHECK(counted.height < 1200 + 500);
    CHECK(each.height > counted.height + 1000);
    CHECK(countNear(counted, kSkyBlue) > 1000);
}

TEST_CASE("an expected pattern is an outline of its size, not a mark", "[draw]") {
    FlankSketch expected{"Drive side, expected after the change", {}, Pattern{}, true, {}};
    expected.pattern->toeHeel = 0.45;
    expected.pattern->rootTip = 0.5;
    expected.pattern->length = 0.6;
    expected.pattern->height = 0.7;
    expected.pattern->tiltDeg = 8;
    const Picture picture = drawFlankMap(expected);
    keep(picture, "sketch_expected.png");
    int left = picture.width, right = 0, ink = 0;
    for (int y = 0; y < picture.height; ++y)
        for (int x = 0; x < picture.width; ++x) {
            const auto* p = &picture.rgb[3 * static_cast<std::size_t>(y * picture.width + x)];
            if (p[0] > 20 || p[1] < 40 || p[1] > 65 || p[2] < 80) continue;
            ++ink;
            left = std::min(left, x);
            right = std::max(right, x);
        }
    CHECK(ink > 300);
    CHECK(ink < 8000);
    // 60 % of the flank between the 1 % and 99 % points: 64 % from end to end of an ellipse.
    CHECK((right - left) / 760.0 == Approx(0.64).margin(0.03));
    // Its middle lies toward the toe by 5 % of the flank.
    CHECK((0.5 * (left + right) - 0.5 * picture.width) / 760 == Approx(-0.05).margin(0.02));
}

TEST_CASE("a flank as SVG shows the mark where it is", "[draw]") {
    FlankMap map;
    for (int y = 40; y < 80; ++y)
        for (int x = 128; x < 192; ++x) map.at(x, y) = 255;  // u 0.5 to 0.75
    SvgSketch sketch{"Drive side, \"as\" measured", &map, measurePattern(map), {}, AcceptanceRule{}};
    const std::string svg = flankSvg(sketch).str();
    CHECK(svg.find("aria-label=\"Drive side, &quot;as&quot; measured\"") != std::string::npos);
    CHECK(svg.find("fk-zone") != std::string::npos);
    CHECK(svg.find("fk-next") == std::string::npos);
    const std::size_t at = svg.find("fk-mark\" d=\"M");
    REQUIRE(at != std::string::npos);
    double left = 1e9, right = -1e9;
    const char* p = svg.c_str() + at + 12;
    while (*p == 'M' || *p == 'L') {
        char* end = nullptr;
        const double x = std::strtod(p + 1, &end);
        (void)std::strtod(end, &end);
        left = std::min(left, x);
        right = std::max(right, x);
        p = end;
    }
    // The flank is 260 wide and begins at 40.
    CHECK(left == Approx(40 + 0.5 * 260).margin(4));
    CHECK(right == Approx(40 + 0.75 * 260).margin(4));
    CHECK(flankSvg({"empty", nullptr, {}, {}, {}}).str().find("fk-mark") == std::string::npos);
}

TEST_CASE("no word around a flank is cut off at the picture's upper edge", "[draw]") {
    constexpr double kTallestLetter = 0.8 * 15;  // of the words' size, 15 px
    for (const bool even : {false, true}) {
        SvgSketch sketch{"Drive side", nullptr, {}, {}, {}};
        sketch.evenHeight = even;
        const std::string svg = flankSvg(sketch).str();
        const std::size_t at = svg.find("\">tip<");
        REQUIRE(at != std::string::npos);
        const double baseline = std::strtod(svg.c_str() + svg.rfind("y=\"", at) + 3, nullptr);
        CHECK(baseline >= kTallestLetter);
    }
}

TEST_CASE("the way over the trials has a stop for each and an arrow between those that lie apart", "[draw]") {
    std::vector<PathStop> stops(3);
    stops[0].pattern.toeHeel = 0.8, stops[0].label = "1";
    stops[1].pattern.toeHeel = 0.5, stops[1].label = "2";
    stops[2].pattern.toeHeel = 0.5, stops[2].label = "3";
    const std::string svg = patternPathSvg("Drive side", stops, {}).str();
    const auto count = [&](const std::string& what) {
        std::size_t n = 0;
        for (std::size_t i = svg.find(what); i != std::string::npos; i = svg.find(what, i + 1)) ++n;
        return n;
    };
    CHECK(count("<circle") == 3);
    CHECK(count("fk-last") == 1);
    CHECK(count("fk-way") == 1);
}
