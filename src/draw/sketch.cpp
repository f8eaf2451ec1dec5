// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "draw/canvas.h"
#include "draw/contour.h"
#include "shimsight/draw.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

/// "Give or take" is two standard errors, as in the program's tables.
constexpr double kShownSigmas = 2;

using namespace draw;

constexpr Ink kSteelDark{196, 203, 210}, kSteelLight{226, 231, 235}, kMark{0, 84, 140}, kEdge{70, 78, 86};

struct Panel {
    double left, top, width, height;  // of the flank itself
    PixelPoint at(double u, double v) const {
        const double h = height * (kToeHeight + (1 - kToeHeight) * u);
        return {left + width * u, top + height - h * v};
    }
    /// (u, v) of a pixel position; may lie outside 0..1.
    std::pair<double, double> inverse(double x, double y) const {
        const double u = (x - left) / width;
        const double h = height * (kToeHeight + (1 - kToeHeight) * u);
        return {u, (top + height - y) / h};
    }
};

double contactAt(const FlankMap& map, double u, double v) {
    const double x = std::clamp(u * kMapWidth - 0.5, 0.0, kMapWidth - 1.0),
                 y = std::clamp((1 - v) * kMapHeight - 0.5, 0.0, kMapHeight - 1.0);
    const int x0 = static_cast<int>(x), y0 = static_cast<int>(y), x1 = std::min(x0 + 1, kMapWidth - 1),
              y1 = std::min(y0 + 1, kMapHeight - 1);
    const double fx = x - x0, fy = y - y0;
    return ((1 - fy) * ((1 - fx) * map.at(x0, y0) + fx * map.at(x1, y0)) +
            fy * ((1 - fx) * map.at(x0, y1) + fx * map.at(x1, y1))) /
           255.0;
}

LineStyle expectedPen(double width) {
    return {.ink = {0, 52, 92},
            .widthPx = std::max(1.5, width / 220),
            .haloPx = 0,
            .dashPx = width / 110,
            .gapPx = width / 130};
}

std::vector<std::string> numbersOf(const FlankSketch& sketch) {
    std::vector<std::string> out;
    if (sketch.pattern) {
        const Pattern& p = *sketch.pattern;
        out.push_back(p.sigmaToeHeel > 0
                          ? say("draw.pattern-centre-give-or-take", tiedPercent(p.toeHeel), tiedPercent(p.rootTip),
                                tiedPercent(kShownSigmas * p.sigmaToeHeel), tiedPercent(kShownSigmas * p.sigmaRootTip))
                          : say("draw.pattern-centre", tiedPercent(p.toeHeel), tiedPercent(p.rootTip)));
        out.push_back(say("draw.pattern-size", tiedPercent(p.length), tiedPercent(p.height)));
    } else {
        out.push_back(say(sketch.expected ? "draw.no-contact-expected" : "draw.no-contact"));
    }
    out.insert(out.end(), sketch.notes.begin(), sketch.notes.end());
    return out;
}

LineStyle zonePen(double width) {
    return {.ink = kOrange,
            .widthPx = width / 190,
            .haloPx = width / 500,
            .halo = {40, 40, 40},
            .dashPx = width / 50,
            .gapPx = width / 70};
}

LineStyle crossPen(double width) {
    return {.ink = kWhite, .widthPx = width / 190, .haloPx = width / 380, .halo = kBlack};
}

/// Where everything stands; all sizes follow from the width of a flank. The longest text decides the height of all
/// panels.
struct Layout {
    double width, letter, sideRoom, margin, flankHeight, titleRoom, panelWidth, textWidthPx, panelHeight;

    Layout(std::span<const FlankSketch> sketches, int panelWidthPx)
        : width(std::max(240, panelWidthPx)),
          letter(width / 20),
          sideRoom(2.8 * letter),
          margin(0.8 * letter),
          flankHeight(0.46 * width),
          titleRoom(3.4 * letter),
          panelWidth(width + 2 * sideRoom),
          textWidthPx(panelWidth - 2 * margin) {
        std::size_t lines = 0;
        for (const auto& s : sketches) lines = std::max(lines, linesOf(s).size());
        panelHeight = titleRoom + flankHeight + 2.6 * letter + 1.3 * letter * static_cast<double>(lines) + margin;
    }

    std::vector<std::string> linesOf(const FlankSketch& sketch) const {
        std::vector<std::string> lines;
        for (const auto& note : numbersOf(sketch))
            for (auto& line : wrapText(note, 0.86 * letter, textWidthPx)) lines.push_back(std::move(line));
        return lines;
    }
};

std::vector<PixelPoint> onPanel(const Panel& panel, const std::vector<MapPoint>& line) {
    std::vector<PixelPoint> points;
    for (const auto& p : line) points.push_back(panel.at(p.u, p.v));
    return points;
}

/// Steel with the contact, four samples to the pixel.
void drawSteel(Canvas& canvas, const Panel& panel, const FlankMap& map) {
    for (int y = static_cast<int>(panel.top) - 1; y <= panel.top + panel.height + 1; ++y)
        for (int x = static_cast<int>(panel.left) - 1; x <= panel.left + panel.width + 1; ++x) {
            double cover = 0, mark = 0, shade = 0;
            for (const double dx : {0.25, 0.75})
                for (const double dy : {0.25, 0.75}) {
                    const auto [u, v] = panel.inverse(x + dx, y + dy);
                    if (u < 0 || u > 1 || v < 0 || v > 1) continue;
                    cover += 0.25;
                    mark += 0.25 * contactAt(map, u, v);
                    shade += 0.25 * v;
                }
            if (cover <= 0) continue;
            const double s = shade / cover, m = mark / cover;
            Ink ink;
            for (std::size_t c = 0; c < 3; ++c) {
                const double steel = (1 - s) * kSteelDark[c] + s * kSteelLight[c];
                ink[c] = static_cast<std::uint8_t>(std::lround((1 - 0.88 * m) * steel + 0.88 * m * kMark[c]));
            }
            canvas.blend(x, y, ink, cover);
        }
}

/// The edge of the flank, the outline that is expected, and the outline of what was measured.
void drawOutlines(Canvas& canvas, const Panel& panel, const FlankSketch& sketch) {
    const double width = panel.width;
    std::vector<PixelPoint> border;
    for (const auto& [u, v] : {std::pair{0., 0.}, {1., 0.}, {1., 1.}, {0., 1.}}) border.push_back(panel.at(u, v));
    canvas.line(border, {.ink = kEdge, .widthPx = std::max(1.5, width / 320), .haloPx = 0}, true);
    if (sketch.expected && sketch.pattern)
        canvas.line(onPanel(panel, expectedOutline(*sketch.pattern)), expectedPen(width), true);
    for (const auto& contour : contactContours(sketch.map))
        canvas.line(onPanel(panel, contour), {.ink = {0, 52, 92}, .widthPx = std::max(1.2, width / 420), .haloPx = 0},
                    true);
}

/// The box in which the centre should lie.
void drawZone(Canvas& canvas, const Panel& panel, const AcceptanceRule& zone) {
    std::vector<PixelPoint> box;
    const double across = zone.toeHeel.high - zone.toeHeel.low;
    for (int i = 0; i <= 8; ++i) box.push_back(panel.at(zone.toeHeel.low + across * i / 8, zone.rootTip.low));
    for (int i = 0; i <= 8; ++i) box.push_back(panel.at(zone.toeHeel.high - across * i / 8, zone.rootTip.high));
    canvas.line(box, zonePen(panel.width), true);
}

/// A cross where the centre lies.
void drawCentre(Canvas& canvas, const Panel& panel, const Pattern& pattern, double letter) {
    const PixelPoint m = panel.at(pattern.toeHeel, pattern.rootTip);
    const double arm = 0.6 * letter;
    const LineStyle cross = crossPen(panel.width);
    canvas.line({{m.x - arm, m.y}, {m.x + arm, m.y}}, cross);
    canvas.line({{m.x, m.y - arm}, {m.x, m.y + arm}}, cross);
}

/// The words round a flank, and its numbers and notes below.
void drawWords(Canvas& canvas, const Panel& panel, const Layout& layout, const FlankSketch& sketch) {
    const double letter = layout.letter, x0 = panel.left - layout.sideRoom;
    const TextStyle word{.sizePx = 0.92 * letter, .ink = kDim, .align = Align::Centre};
    const double middle = panel.top + panel.height * (1 - 0.5 * kToeHeight) + 0.3 * letter;
    canvas.text(x0 + layout.sideRoom / 2, middle, say("common.toe"), word);
    canvas.text(x0 + layout.panelWidth - layout.sideRoom / 2, middle, say("common.heel"), word);
    canvas.text(x0 + layout.panelWidth / 2, panel.top + 0.11 * panel.height - 0.55 * letter, say("common.tip"), word);
    canvas.text(x0 + layout.panelWidth / 2, panel.top + panel.height + 1.15 * letter, say("common.root"), word);
    double y = panel.top + panel.height + 2.8 * letter;
    for (const auto& text : layout.linesOf(sketch)) {
        canvas.text(x0 + layout.margin, y, text, {.sizePx = 0.86 * letter});
        y += 1.3 * letter;
    }
}

void drawPanel(Canvas& canvas, const Panel& panel, const Layout& layout, const FlankSketch& sketch,
               const std::optional<AcceptanceRule>& goodZone) {
    canvas.text(panel.left - layout.sideRoom + layout.panelWidth / 2,
                panel.top - layout.titleRoom + 1.5 * layout.letter, sketch.title,
                {.sizePx = 1.08 * layout.letter, .weight = Weight::Bold, .align = Align::Centre});
    drawSteel(canvas, panel, sketch.map);
    drawOutlines(canvas, panel, sketch);
    if (goodZone) drawZone(canvas, panel, *goodZone);
    if (sketch.pattern) drawCentre(canvas, panel, *sketch.pattern, layout.letter);
    drawWords(canvas, panel, layout, sketch);
}

/// What the lines mean, in one line at height `y`.
void drawLegend(Canvas& canvas, const Layout& layout, double y, bool anyExpected) {
    const double letter = layout.letter, middle = y - 0.3 * letter;
    double x = layout.margin;
    const auto word = [&](const std::string& text) {
        canvas.text(x, y, text, {.sizePx = 0.8 * letter, .ink = kDim});
        x += textWidth(text, 0.8 * letter) + 1.2 * letter;
    };
    canvas.line({{x, middle}, {x + 2.4 * letter, middle}}, zonePen(layout.width));
    x += 3 * letter;
    word(say("draw.should-lie"));
    const LineStyle cross = crossPen(layout.width);
    canvas.line({{x, middle}, {x + letter, middle}}, cross);
    canvas.line({{x + 0.5 * letter, y - 0.8 * letter}, {x + 0.5 * letter, y + 0.2 * letter}}, cross);
    x += 1.5 * letter;
    word(say("draw.centre-of-mark"));
    if (!anyExpected) return;
    canvas.line({{x, middle}, {x + 2.4 * letter, middle}}, expectedPen(layout.width));
    x += 3 * letter;
    word(say("draw.expected-outline"));
}

}  // namespace

Picture drawFlankMap(const FlankSketch& sketch, const SketchOptions& options) {
    return drawFlankMaps(std::span<const FlankSketch>(&sketch, 1), options);
}

Picture drawFlankMaps(std::span<const FlankSketch> sketches, const SketchOptions& options) {
    check(!sketches.empty(), "drawFlankMaps: no sketch");
    const int columns = std::clamp(options.columns, 1, static_cast<int>(sketches.size()));
    const int rows = (static_cast<int>(sketches.size()) + columns - 1) / columns;
    const Layout layout(sketches, options.panelWidthPx);
    const double legendRoom = options.goodZone ? 1.9 * layout.letter : 0.4 * layout.letter;
    Canvas canvas(static_cast<int>(std::lround(columns * layout.panelWidth)),
                  static_cast<int>(std::lround(rows * layout.panelHeight + legendRoom)), kPaper);
    for (std::size_t k = 0; k < sketches.size(); ++k) {
        const std::size_t row = k / static_cast<std::size_t>(columns), column = k % static_cast<std::size_t>(columns);
        const double x0 = static_cast<double>(column) * layout.panelWidth,
                     y0 = static_cast<double>(row) * layout.panelHeight;
        const Panel panel{x0 + layout.sideRoom, y0 + layout.titleRoom, layout.width, layout.flankHeight};
        drawPanel(canvas, panel, layout, sketches[k], options.goodZone);
    }
    if (options.goodZone)
        drawLegend(canvas, layout, rows * layout.panelHeight + 0.8 * layout.letter,
                   std::any_of(sketches.begin(), sketches.end(), [](const FlankSketch& s) { return s.expected; }));
    return canvas.take();
}

}  // namespace shimsight
