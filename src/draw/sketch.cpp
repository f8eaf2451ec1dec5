#include <algorithm>
#include <cmath>

#include "draw/canvas.h"
#include "draw/contour.h"
#include "shimsight/draw.h"

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

}  // namespace

Picture drawFlankMap(const FlankSketch& sketch, const SketchOptions& options) {
    return drawFlankMaps(std::span<const FlankSketch>(&sketch, 1), options);
}

Picture drawFlankMaps(std::span<const FlankSketch> sketches, const SketchOptions& options) {
    check(!sketches.empty(), "drawFlankMaps: no sketch");
    const int columns = std::clamp(options.columns, 1, static_cast<int>(sketches.size()));
    const int rows = (static_cast<int>(sketches.size()) + columns - 1) / columns;
    const double width = std::max(240, options.panelWidthPx);
    const double letter = width / 20;
    const double sideRoom = 2.8 * letter, margin = 0.8 * letter;
    const double flankHeight = 0.46 * width, titleRoom = 3.4 * letter;
    const double panelWidth = width + 2 * sideRoom, textWidthPx = panelWidth - 2 * margin;
    // The longest text decides the height of all panels.
    std::size_t lines = 0;
    for (const auto& s : sketches) {
        std::size_t own = 0;
        for (const auto& note : numbersOf(s)) own += wrapText(note, 0.86 * letter, textWidthPx).size();
        lines = std::max(lines, own);
    }
    const double panelHeight =
        titleRoom + flankHeight + 2.6 * letter + 1.3 * letter * static_cast<double>(lines) + margin;
    Canvas canvas(static_cast<int>(std::lround(columns * panelWidth)),
                  static_cast<int>(std::lround(rows * panelHeight + (options.goodZone ? 1.9 * letter : 0.4 * letter))),
                  kPaper);

    for (std::size_t k = 0; k < sketches.size(); ++k) {
        const FlankSketch& sketch = sketches[k];
        const std::size_t row = k / static_cast<std::size_t>(columns);
        const double x0 = static_cast<double>(k % static_cast<std::size_t>(columns)) * panelWidth,
                     y0 = static_cast<double>(row) * panelHeight;
        const Panel panel{x0 + sideRoom, y0 + titleRoom, width, flankHeight};
        canvas.text(x0 + panelWidth / 2, y0 + 1.5 * letter, sketch.title,
                    {.sizePx = 1.08 * letter, .weight = Weight::Bold, .align = Align::Centre});

        // Step 1: steel with the contact, four samples to the pixel.
        for (int y = static_cast<int>(panel.top) - 1; y <= panel.top + panel.height + 1; ++y)
            for (int x = static_cast<int>(panel.left) - 1; x <= panel.left + panel.width + 1; ++x) {
                double cover = 0, mark = 0, shade = 0;
                for (const double dx : {0.25, 0.75})
                    for (const double dy : {0.25, 0.75}) {
                        const auto [u, v] = panel.inverse(x + dx, y + dy);
                        if (u < 0 || u > 1 || v < 0 || v > 1) continue;
                        cover += 0.25;
                        mark += 0.25 * contactAt(sketch.map, u, v);
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
        std::vector<PixelPoint> border;
        for (const auto& [u, v] : {std::pair{0., 0.}, {1., 0.}, {1., 1.}, {0., 1.}}) border.push_back(panel.at(u, v));
        canvas.line(border, {.ink = kEdge, .widthPx = std::max(1.5, width / 320), .haloPx = 0}, true);
        if (sketch.expected && sketch.pattern) {
            std::vector<PixelPoint> line;
            for (const auto& p : expectedOutline(*sketch.pattern)) line.push_back(panel.at(p.u, p.v));
            canvas.line(line, expectedPen(width), true);
        }
        for (const auto& contour : contactContours(sketch.map)) {
            std::vector<PixelPoint> line;
            for (const auto& p : contour) line.push_back(panel.at(p.u, p.v));
            canvas.line(line, {.ink = {0, 52, 92}, .widthPx = std::max(1.2, width / 420), .haloPx = 0}, true);
        }

        // Step 2: where the centre should lie, and where it lies.
        if (options.goodZone) {
            const auto& zone = *options.goodZone;
            std::vector<PixelPoint> box;
            for (int i = 0; i <= 8; ++i)
                box.push_back(
                    panel.at(zone.toeHeel.low + (zone.toeHeel.high - zone.toeHeel.low) * i / 8, zone.rootTip.low));
            for (int i = 0; i <= 8; ++i)
                box.push_back(
                    panel.at(zone.toeHeel.high - (zone.toeHeel.high - zone.toeHeel.low) * i / 8, zone.rootTip.high));
            canvas.line(box,
                        {.ink = kOrange,
                         .widthPx = width / 190,
                         .haloPx = width / 500,
                         .halo = {40, 40, 40},
                         .dashPx = width / 50,
                         .gapPx = width / 70},
                        true);
        }
        if (sketch.pattern) {
            const PixelPoint m = panel.at(sketch.pattern->toeHeel, sketch.pattern->rootTip);
            const double arm = 0.6 * letter;
            const LineStyle cross{.ink = kWhite, .widthPx = width / 190, .haloPx = width / 380, .halo = kBlack};
            canvas.line({{m.x - arm, m.y}, {m.x + arm, m.y}}, cross);
            canvas.line({{m.x, m.y - arm}, {m.x, m.y + arm}}, cross);
        }

        // Step 3: words.
        const TextStyle word{.sizePx = 0.92 * letter, .ink = kDim, .align = Align::Centre};
        const double middle = panel.top + panel.height * (1 - 0.5 * kToeHeight) + 0.3 * letter;
        canvas.text(x0 + sideRoom / 2, middle, "toe", word);
        canvas.text(x0 + panelWidth - sideRoom / 2, middle, "heel", word);
        canvas.text(x0 + panelWidth / 2, panel.top + 0.11 * panel.height - 0.55 * letter, "tip", word);
        canvas.text(x0 + panelWidth / 2, panel.top + panel.height + 1.15 * letter, "root", word);
        double y = panel.top + panel.height + 2.8 * letter;
        for (const auto& note : numbersOf(sketch))
            for (const auto& text : wrapText(note, 0.86 * letter, textWidthPx)) {
                canvas.text(x0 + margin, y, text, {.sizePx = 0.86 * letter});
                y += 1.3 * letter;
            }
    }

    // Step 4: what the lines mean.
    if (options.goodZone) {
        const double y = rows * panelHeight + 0.8 * letter, middle = y - 0.3 * letter;
        double x = margin;
        const auto word = [&](const std::string& text) {
            canvas.text(x, y, text, {.sizePx = 0.8 * letter, .ink = kDim});
            x += textWidth(text, 0.8 * letter) + 1.2 * letter;
        };
        canvas.line({{x, middle}, {x + 2.4 * letter, middle}}, {.ink = kOrange,
                                                                .widthPx = width / 190,
                                                                .haloPx = width / 500,
                                                                .halo = {40, 40, 40},
                                                                .dashPx = width / 50,
                                                                .gapPx = width / 70});
        x += 3 * letter;
        word(say("draw.should-lie"));
        const LineStyle cross{.ink = kWhite, .widthPx = width / 190, .haloPx = width / 380, .halo = kBlack};
        canvas.line({{x, middle}, {x + letter, middle}}, cross);
        canvas.line({{x + 0.5 * letter, y - 0.8 * letter}, {x + 0.5 * letter, y + 0.2 * letter}}, cross);
        x += 1.5 * letter;
        word(say("draw.centre-of-mark"));
        if (std::any_of(sketches.begin(), sketches.end(), [](const FlankSketch& s) { return s.expected; })) {
            canvas.line({{x, middle}, {x + 2.4 * letter, middle}}, expectedPen(width));
            x += 3 * letter;
            word(say("draw.expected-outline"));
        }
    }
    return canvas.take();
}

}  // namespace shimsight
