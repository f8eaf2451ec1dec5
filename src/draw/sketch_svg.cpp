// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "draw/contour.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"
#include "shimsight/html.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using draw::kToeHeight;
using draw::MapPoint;

/// Sizes in the units of the view box.
constexpr double kWidth = 260, kHeight = 118, kSideRoom = 40, kTopRoom = 19, kFootRoom = 23, kPlainRoom = 3;
/// A word's baseline lies no nearer to the upper edge: below that the dot of an i is cut off.
constexpr double kWordHeight = 14;
constexpr double kStopRadius = 8.5;

std::string number(double value) {
    std::array<char, 32> text{};
    std::snprintf(text.data(), text.size(), "%.1f", value + 0.0);
    std::string out = text.data();
    if (out.ends_with(".0")) out.resize(out.size() - 2);
    return out == "-0" ? "0" : out;
}

struct Frame {
    double toeHeight = kToeHeight;
    double left = kSideRoom, top = kTopRoom, wide = kWidth + 2 * kSideRoom, high = kHeight + kTopRoom + kFootRoom;
    explicit Frame(bool words, bool evenHeight = false) {
        if (evenHeight) toeHeight = 1;
        if (words) return;
        left = top = kPlainRoom;
        wide = kWidth + 2 * kPlainRoom;
        high = kHeight + 2 * kPlainRoom;
    }
    double x(double u) const { return left + kWidth * u; }
    double y(double u, double v) const { return top + kHeight - kHeight * (toeHeight + (1 - toeHeight) * u) * v; }
    std::string at(double u, double v) const { return number(x(u)) + " " + number(y(u, v)); }
};

std::string closedPath(const Frame& frame, const std::vector<MapPoint>& points, std::size_t step) {
    std::string path;
    for (std::size_t k = 0; k < points.size(); k += step)
        path += (path.empty() ? "M" : "L") + frame.at(points[k].u, points[k].v);
    return path + "Z";
}

Html opened(const Frame& frame, std::string_view title, const std::optional<SvgPlace>& place = {}) {
    const Html begin = place ? Html("<svg x=\"") + formatted("%.1f", place->x) + "\" y=\"" +
                                   formatted("%.1f", place->y) + "\" width=\"" + formatted("%.1f", place->width) +
                                   "\" height=\"" + formatted("%.1f", place->height)
                             : Html("<svg class=\"fk");
    return begin + "\" viewBox=\"0 0 " + number(frame.wide) + " " + number(frame.high) +
           "\" role=\"img\" aria-label=\"" + title + "\">";
}

/// A path of this class of the style sheet. `lines`: "M0 0L1 1".
Html path(std::string_view kind, const std::string& lines) {
    return Html("<path class=\"") + kind + "\" d=\"" + lines + "\"/>";
}

Html steel(const Frame& frame) {
    return path("fk-steel",
                "M" + frame.at(0, 0) + "L" + frame.at(1, 0) + "L" + frame.at(1, 1) + "L" + frame.at(0, 1) + "Z");
}

/// Dashes on a light line, so that they show on steel and on the mark.
Html zoneBox(const Frame& frame, const AcceptanceRule& rule) {
    const Interval &u = rule.toeHeel, &v = rule.rootTip;
    const std::string box = "M" + frame.at(u.low, v.low) + "L" + frame.at(u.high, v.low) + "L" +
                            frame.at(u.high, v.high) + "L" + frame.at(u.low, v.high) + "Z";
    return path("fk-under", box) + path("fk-zone", box);
}

/// A line from (x0, y0) to (x1, y1) with a head at its end.
std::string arrowPath(double x0, double y0, double x1, double y1) {
    const double far = std::hypot(x1 - x0, y1 - y0), dx = (x1 - x0) / far, dy = (y1 - y0) / far;
    return "M" + number(x0) + " " + number(y0) + "L" + number(x1) + " " + number(y1) + "M" +
           number(x1 - 6 * dx - 3.5 * dy) + " " + number(y1 - 6 * dy + 3.5 * dx) + "L" + number(x1) + " " + number(y1) +
           "L" + number(x1 - 6 * dx + 3.5 * dy) + " " + number(y1 - 6 * dy - 3.5 * dx);
}

Html word(double x, double y, std::string_view text) {
    return Html("<text class=\"fk-word\" x=\"") + number(x) + "\" y=\"" + number(y) + "\">" + text + "</text>";
}

Html words(const Frame& frame) {
    const double middle = frame.y(0, 0.5) + 4;
    return word(kSideRoom / 2 - 1, middle, say("common.toe")) +
           word(frame.wide - kSideRoom / 2 + 2, middle, say("common.heel")) +
           word(frame.x(0.5), std::max(frame.y(0.5, 1) - 8, kWordHeight), say("common.tip")) +
           word(frame.x(0.5), frame.y(0.5, 0) + 18, say("common.root"));
}

}  // namespace

Html flankSvg(const SvgSketch& sketch) {
    const Frame frame(sketch.words, sketch.evenHeight);
    Html svg = opened(frame, sketch.title, sketch.place) + steel(frame);
    if (sketch.map != nullptr) {
        std::string mark;
        for (const auto& contour : draw::contactContours(*sketch.map)) mark += closedPath(frame, contour, 3);
        if (!mark.empty()) svg += path("fk-mark", mark);
    }
    if (sketch.goodZone) svg += zoneBox(frame, *sketch.goodZone);
    if (sketch.expected) svg += path("fk-next", closedPath(frame, draw::expectedOutline(*sketch.expected), 3));
    if (sketch.pattern) {
        const double x = frame.x(sketch.pattern->toeHeel),
                     y = frame.y(sketch.pattern->toeHeel, sketch.pattern->rootTip);
        const double fromX = sketch.cameFrom ? frame.x(sketch.cameFrom->toeHeel) : x,
                     fromY = sketch.cameFrom ? frame.y(sketch.cameFrom->toeHeel, sketch.cameFrom->rootTip) : y;
        constexpr double kMinArrow = 7;  // a shorter one would be all head
        const std::string cross = std::hypot(x - fromX, y - fromY) > kMinArrow
                                      ? arrowPath(fromX, fromY, x, y)
                                      : "M" + number(x - 8) + " " + number(y) + "H" + number(x + 8) + "M" + number(x) +
                                            " " + number(y - 8) + "V" + number(y + 8);
        svg += path("fk-halo", cross) + path("fk-cross", cross);
    }
    if (sketch.words) svg += words(frame);
    return svg + "</svg>";
}

Html patternPathSvg(std::string_view title, std::span<const PathStop> stops,
                    const std::optional<AcceptanceRule>& goodZone) {
    const Frame frame(true);
    Html svg = opened(frame, title) + steel(frame);
    if (goodZone) svg += zoneBox(frame, *goodZone);
    // Lines first, so that no disc is crossed.
    for (std::size_t k = 1; k < stops.size(); ++k) {
        const Pattern &a = stops[k - 1].pattern, &b = stops[k].pattern;
        const double x0 = frame.x(a.toeHeel), y0 = frame.y(a.toeHeel, a.rootTip), x1 = frame.x(b.toeHeel),
                     y1 = frame.y(b.toeHeel, b.rootTip), far = std::hypot(x1 - x0, y1 - y0);
        if (far < 2 * kStopRadius + 4) continue;
        const double short0 = (kStopRadius + 1) / far;
        svg += path("fk-way", arrowPath(x0, y0, x1 - short0 * (x1 - x0), y1 - short0 * (y1 - y0)));
    }
    for (std::size_t k = 0; k < stops.size(); ++k) {
        const Pattern& p = stops[k].pattern;
        const double x = frame.x(p.toeHeel), y = frame.y(p.toeHeel, p.rootTip);
        const bool last = k + 1 == stops.size();
        svg += (last ? Html("<circle class=\"fk-stop fk-last") : Html("<circle class=\"fk-stop")) + "\" cx=\"" +
               number(x) + "\" cy=\"" + number(y) + "\" r=\"" + number(kStopRadius) + "\"/>";
        svg += (last ? Html("<text class=\"fk-num fk-numlast") : Html("<text class=\"fk-num")) + "\" x=\"" + number(x) +
               "\" y=\"" + number(y + 3.6) + "\">" + stops[k].label + "</text>";
    }
    return svg + words(frame) + "</svg>";
}

std::string_view sketchCss() {
    return R"css(:root{--fk-steel:#e3e8ec;--fk-edge:#59636e;--fk-mark:#0b5c94;--fk-markline:#073d63;--fk-zone:#b06f00;--fk-word:#5b646d;--fk-paper:#fff;--fk-next:#073d63}
@media (prefers-color-scheme:dark){:root{--fk-steel:#39424b;--fk-edge:#9aa6b1;--fk-mark:#4ea6dc;--fk-markline:#a8d8f5;--fk-zone:#f0b03c;--fk-word:#a9b3bd;--fk-paper:#14181c;--fk-next:#d3ecfb}}
@media print{:root{--fk-steel:#edf0f2;--fk-edge:#59636e;--fk-mark:#0b5c94;--fk-markline:#073d63;--fk-zone:#b06f00;--fk-word:#4b545d;--fk-paper:#fff;--fk-next:#073d63}}
.fk{display:block;width:100%;height:auto;-webkit-print-color-adjust:exact;print-color-adjust:exact}
.fk-steel{fill:var(--fk-steel);stroke:var(--fk-edge);stroke-width:1.4;stroke-linejoin:round}
.fk-mark{fill:var(--fk-mark);fill-rule:evenodd;fill-opacity:.82;stroke:var(--fk-markline);stroke-width:1.1;stroke-linejoin:round}
.fk-under{fill:none;stroke:var(--fk-paper);stroke-opacity:.75;stroke-width:2.6;stroke-linejoin:round}
.fk-zone{fill:none;stroke:var(--fk-zone);stroke-width:1.7;stroke-dasharray:5.5 3.5;stroke-linejoin:round}
.fk-next{fill:none;stroke:var(--fk-next);stroke-width:1.3;stroke-dasharray:1.6 3;stroke-linecap:round}
.fk-halo{fill:none;stroke:#101418;stroke-width:4.2;stroke-linecap:round}
.fk-cross{fill:none;stroke:#fff;stroke-width:2;stroke-linecap:round}
.fk-word{font-size:15px;fill:var(--fk-word);text-anchor:middle}
.fk-way{fill:none;stroke:var(--fk-edge);stroke-width:1.5;stroke-linecap:round;stroke-linejoin:round}
.fk-stop{fill:var(--fk-paper);stroke:var(--fk-mark);stroke-width:1.8}
.fk-last{fill:var(--fk-mark)}
.fk-num{font-size:10.5px;font-weight:700;fill:var(--fk-mark);text-anchor:middle}
.fk-numlast{fill:var(--fk-paper)}
)css";
}

}  // namespace shimsight
