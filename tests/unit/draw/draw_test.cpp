#include "shimsight/draw.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <fstream>

#include "draw/canvas.h"
#include "draw/contour.h"
#include "shimsight/core.h"

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
    const auto flat = unwrapFlank(photo, outline);
    REQUIRE(bool(flat));
    ContactReading reading;
    reading.map = ellipseMap(0.4, 0.55, 0.25, 0.3);
    reading.pattern = measurePattern(reading.map).value();
    FlankOutline second;
    second.side = Side::Coast;
    second.corners = {PixelPoint{300, 1000}, {330, 840}, {1150, 780}, {1180, 1040}};
    std::vector<AnnotatedFlank> flanks{
        {outline, &flat.value(), &reading, true, "", ""},
        {second, nullptr, nullptr, false, "Most of this flank is blown out by glare.", "blown out by light"}};
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
