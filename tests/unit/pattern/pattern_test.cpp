// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/pattern.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "shimsight/core.h"

using namespace shimsight;

namespace {

/// A filled rectangle of contact, u and v ranges.
FlankMap rectangle(double u0, double u1, double v0, double v1) {
    FlankMap map;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double u = (x + 0.5) / kMapWidth, v = 1 - (y + 0.5) / kMapHeight;
            if (u > u0 && u < u1 && v > v0 && v < v1) map.at(x, y) = 255;
        }
    return map;
}

/// An ellipse turned by `tiltDeg` as drawn on the 2:1 map (+ = heel end nearer the tip).
FlankMap ellipse(double u, double v, double halfLength, double halfHeight, double tiltDeg) {
    FlankMap map;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double du = 2 * ((x + 0.5) / kMapWidth - u), dv = 1 - (y + 0.5) / kMapHeight - v;
            const double a = du * std::cos(radians(tiltDeg)) + dv * std::sin(radians(tiltDeg));
            const double b = -du * std::sin(radians(tiltDeg)) + dv * std::cos(radians(tiltDeg));
            if (std::pow(a / (2 * halfLength), 2) + std::pow(b / halfHeight, 2) < 1) map.at(x, y) = 255;
        }
    return map;
}

}  // namespace

TEST_CASE("centre, length, height and area of a rectangle") {
    const auto p = measurePattern(rectangle(0.2, 0.6, 0.25, 0.75));
    REQUIRE(p);
    CHECK(p->toeHeel == Approx(0.4).margin(0.003));
    CHECK(p->rootTip == Approx(0.5).margin(0.005));
    CHECK(p->length == Approx(0.4 * 0.98).margin(0.01));
    CHECK(p->height == Approx(0.5 * 0.98).margin(0.01));
    CHECK(p->area == Approx(0.2).margin(0.005));
    CHECK(p->tiltDeg == Approx(0).margin(0.1));
    CHECK_FALSE(p->runsOff.any());
    CHECK(p->lengthPosition() == LengthPosition::Toe);
    CHECK(p->depthPosition() == DepthPosition::Centre);
}

TEST_CASE("tilt has the sign of the drawing") {
    for (const double tilt : {-12.0, 12.0}) {
        const auto p = measurePattern(ellipse(0.5, 0.5, 0.3, 0.15, tilt));
        REQUIRE(p);
        // Regression of height on length is a little flatter than the long axis of a plump ellipse.
        CHECK(p->tiltDeg * tilt > 0);
        CHECK(std::abs(p->tiltDeg) > 9);
        CHECK(std::abs(p->tiltDeg) < 12.5);
    }
}

TEST_CASE("running off is told for each edge") {
    const auto heelTip = measurePattern(rectangle(0.6, 1.0, 0.5, 1.0));
    REQUIRE(heelTip);
    CHECK(heelTip->runsOff.heel);
    CHECK(heelTip->runsOff.tip);
    CHECK_FALSE(heelTip->runsOff.toe);
    CHECK_FALSE(heelTip->runsOff.root);
    CHECK(heelTip->lengthPosition() == LengthPosition::Heel);
    CHECK(heelTip->depthPosition() == DepthPosition::Face);
    const auto toeRoot = measurePattern(rectangle(0.0, 0.4, 0.0, 0.4));
    REQUIRE(toeRoot);
    CHECK(toeRoot->runsOff.toe);
    CHECK(toeRoot->runsOff.root);
}

TEST_CASE("no mark is no pattern, and a wrong grid is a bug") {
    CHECK_FALSE(measurePattern(FlankMap{}));
    const std::vector<float> few(10, 1.0F);
    CHECK_THROWS_AS(measurePattern(few, 4, 4), std::logic_error);
}

TEST_CASE("the acceptance rule") {
    const AcceptanceRule rule;
    const auto good = measurePattern(ellipse(0.45, 0.5, 0.28, 0.3, 0));
    const auto heel = measurePattern(ellipse(0.75, 0.5, 0.2, 0.3, 0));
    const auto high = measurePattern(ellipse(0.45, 0.75, 0.28, 0.2, 0));
    const auto shortMark = measurePattern(ellipse(0.45, 0.5, 0.1, 0.3, 0));
    const auto off = measurePattern(rectangle(0.0, 0.86, 0.2, 0.8));
    REQUIRE((good && heel && high && shortMark && off));
    CHECK(isAcceptable(*good, rule));
    CHECK_FALSE(isAcceptable(*heel, rule));
    CHECK_FALSE(isAcceptable(*high, rule));
    CHECK_FALSE(isAcceptable(*shortMark, rule));
    CHECK_FALSE(isAcceptable(*off, rule));
    AcceptanceRule lenient = rule;
    lenient.mayRunOff = true;
    CHECK(isAcceptable(*off, lenient));
}
