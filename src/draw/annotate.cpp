#include <algorithm>
#include <cmath>

#include "draw/canvas.h"
#include "draw/contour.h"
#include "shimsight/draw.h"

namespace shimsight {
namespace {

using namespace draw;

/// Letter height as a share of the picture's long side: still readable when a phone shows the picture over its width.
constexpr double kLetterShare = 0.024;

PixelPoint onGrid(const std::vector<PixelPoint>& grid, double u, double v) {
    const double x = std::clamp(u, 0.0, 1.0) * (kUnwrapGridU - 1),
                 y = (1 - std::clamp(v, 0.0, 1.0)) * (kUnwrapGridV - 1);
    const int i = std::min(static_cast<int>(x), kUnwrapGridU - 2), j = std::min(static_cast<int>(y), kUnwrapGridV - 2);
    const double fx = x - i, fy = y - j;
    const auto at = [&](int a, int b) { return grid[static_cast<std::size_t>((j + b) * kUnwrapGridU + i + a)]; };
    return {(1 - fy) * ((1 - fx) * at(0, 0).x + fx * at(1, 0).x) + fy * ((1 - fx) * at(0, 1).x + fx * at(1, 1).x),
            (1 - fy) * ((1 - fx) * at(0, 0).y + fx * at(1, 0).y) + fy * ((1 - fx) * at(0, 1).y + fx * at(1, 1).y)};
}

std::vector<PixelPoint> outlinePath(const AnnotatedFlank& flank, double scale) {
    std::vector<PixelPoint> out;
    if (flank.unwrapped && flank.unwrapped->gridPx.size() == static_cast<std::size_t>(kUnwrapGridU * kUnwrapGridV)) {
        const auto& grid = flank.unwrapped->gridPx;
        for (int k = 0; k < 32; ++k) out.push_back(onGrid(grid, k / 32.0, 0));
        for (int k = 0; k < 16; ++k) out.push_back(onGrid(grid, 1, k / 16.0));
        for (int k = 0; k < 32; ++k) out.push_back(onGrid(grid, 1 - k / 32.0, 1));
        for (int k = 0; k < 16; ++k) out.push_back(onGrid(grid, 0, 1 - k / 16.0));
    } else {
        out.assign(flank.outline.corners.begin(), flank.outline.corners.end());
    }
    for (auto& p : out) p = {p.x * scale, p.y * scale};
    return out;
}

std::string percent(double share) { return std::to_string(static_cast<long>(std::lround(100 * share))) + "\xC2\xA0%"; }

std::string lineFor(const AnnotatedFlank& flank) {
    std::string side =
        flank.outline.side ? (*flank.outline.side == Side::Drive ? "Drive side" : "Coast side") : "Side not known";
    if (!flank.reading) return side + ": left out. " + flank.whyNot;
    const Pattern& p = flank.reading->pattern;
    std::string text =
        side + ": centre " + percent(p.toeHeel) + " from toe to heel, " + percent(p.rootTip) + " from root to tip";
    if (!flank.used) return text + ". Left out. " + flank.whyNot;
    return text + ".";
}

void badge(Canvas& canvas, PixelPoint at, const std::string& number, double letter, bool used) {
    canvas.disc(at, 0.80 * letter, {20, 20, 20}, 0.9);
    canvas.disc(at, 0.70 * letter, used ? kWhite : kOrange);
    canvas.text(at.x, at.y + 0.33 * letter, number,
                {.sizePx = 0.92 * letter, .ink = kBlack, .weight = Weight::Bold, .align = Align::Centre});
}

}  // namespace

Picture annotate(const Photo& photo, std::span<const AnnotatedFlank> flanks, const AnnotateOptions& options) {
    // The photo without the rows that a reduced decode may add.
    Canvas canvas(shrunkTo(photo.picture, options.longestSidePx));
    const double scale = photo.scale * canvas.width() / static_cast<double>(photo.picture.width);
    const double longSide = std::max(canvas.width(), canvas.height());
    const double letter = std::max(13.0, kLetterShare * longSide);
    const double stroke = std::max(1.5, 0.0016 * longSide);

    // Step 1: lines of all flanks, then labels, so that no line crosses a label.
    for (const auto& flank : flanks) {
        const bool used = flank.reading && flank.used;
        const auto path = outlinePath(flank, scale);
        if (used) {
            canvas.line(path, {.ink = kWhite, .widthPx = stroke, .haloPx = 0.7 * stroke}, true);
        } else {
            canvas.line(path,
                        {.ink = kOrange,
                         .widthPx = 1.3 * stroke,
                         .haloPx = 0.7 * stroke,
                         .dashPx = 6 * stroke,
                         .gapPx = 5 * stroke},
                        true);
        }
        if (!flank.reading || !flank.unwrapped) continue;
        for (const auto& contour : contactContours(flank.reading->map)) {
            std::vector<PixelPoint> line;
            for (const auto& p : contour) {
                const PixelPoint q = onGrid(flank.unwrapped->gridPx, p.u, p.v);
                line.push_back({q.x * scale, q.y * scale});
            }
            canvas.line(line,
                        {.ink = used ? kSkyBlue : kOrange,
                         .widthPx = 1.8 * stroke,
                         .haloPx = 0.8 * stroke,
                         .dashPx = used ? 0 : 3 * stroke,
                         .gapPx = 4 * stroke},
                        true);
        }
    }
    int number = 0;
    for (const auto& flank : flanks) {
        ++number;
        const auto& c = flank.outline.corners;
        const PixelPoint toe{0.5 * (c[0].x + c[1].x) * scale, 0.5 * (c[0].y + c[1].y) * scale},
            heel{0.5 * (c[2].x + c[3].x) * scale, 0.5 * (c[2].y + c[3].y) * scale};
        const double length = std::max(1.0, std::hypot(heel.x - toe.x, heel.y - toe.y));
        const PixelPoint along{(heel.x - toe.x) / length, (heel.y - toe.y) / length};
        if (flank.reading && flank.unwrapped) {
            const Pattern& p = flank.reading->pattern;
            PixelPoint m = onGrid(flank.unwrapped->gridPx, p.toeHeel, p.rootTip);
            m = {m.x * scale, m.y * scale};
            const double arm = 0.6 * letter;
            const LineStyle cross{
                .ink = flank.used ? kWhite : kOrange, .widthPx = 1.4 * stroke, .haloPx = 0.8 * stroke};
            canvas.line({{m.x - arm, m.y}, {m.x + arm, m.y}}, cross);
            canvas.line({{m.x, m.y - arm}, {m.x, m.y + arm}}, cross);
        }
        // "toe" and "heel" beyond the ends, kept inside the picture.
        const double size = 0.82 * letter;
        const auto endLabel = [&](PixelPoint end, double direction, const char* word) {
            const double half = 0.5 * textWidth(word, size, Weight::Bold);
            const double away = std::abs(along.x) * (half + 0.25 * letter) + std::abs(along.y) * 0.75 * letter;
            const double x = std::clamp(end.x + direction * along.x * away, half + 4, canvas.width() - half - 4);
            const double y =
                std::clamp(end.y + direction * along.y * away + 0.3 * size, 1.1 * size, canvas.height() - 0.4 * size);
            canvas.text(x, y, word,
                        {.sizePx = size,
                         .ink = kWhite,
                         .weight = Weight::Bold,
                         .haloPx = 0.14 * letter,
                         .align = Align::Centre});
        };
        endLabel(toe, -1, "toe");
        endLabel(heel, 1, "heel");
        // The number on the tip edge, at a third of the length from the toe.
        PixelPoint tip{(c[1].x * 0.7 + c[2].x * 0.3) * scale, (c[1].y * 0.7 + c[2].y * 0.3) * scale};
        const PixelPoint middle{0.5 * (toe.x + heel.x), 0.5 * (toe.y + heel.y)};
        const double out = std::max(1.0, std::hypot(tip.x - middle.x, tip.y - middle.y));
        tip = {tip.x + 1.0 * letter * (tip.x - middle.x) / out, tip.y + 1.0 * letter * (tip.y - middle.y) / out};
        tip = {std::clamp(tip.x, letter, canvas.width() - letter), std::clamp(tip.y, letter, canvas.height() - letter)};
        badge(canvas, tip, std::to_string(number), letter, flank.reading && flank.used);
    }

    // Step 2: caption below.
    const double margin = 0.8 * letter, lead = 1.32 * letter;
    struct Row {
        std::string number;
        std::string text;
        bool used;
    };
    std::vector<Row> rows;
    number = 0;
    for (const auto& flank : flanks) {
        ++number;
        const bool used = flank.reading && flank.used;
        bool first = true;
        for (auto& text : wrapText(lineFor(flank), 0.88 * letter, canvas.width() - 2 * margin - 2.2 * letter)) {
            rows.push_back({first ? std::to_string(number) : "", std::move(text), used});
            first = false;
        }
    }
    const auto title = wrapText(options.title, letter, canvas.width() - 2 * margin, Weight::Bold);
    const int captionHeight =
        static_cast<int>(std::lround(1.6 * margin + lead * (static_cast<double>(rows.size() + title.size()) + 1.15)));
    Canvas out(canvas.width(), canvas.height() + captionHeight, kPaper);
    out.paste(canvas.picture(), 0, 0);
    double y = canvas.height() + margin + 0.7 * letter;
    for (const auto& text : title) {
        out.text(margin, y, text, {.sizePx = letter, .weight = Weight::Bold});
        y += lead;
    }
    for (const Row& row : rows) {
        if (!row.number.empty())
            badge(out, {margin + 0.8 * letter, y - 0.32 * letter}, row.number, 0.9 * letter, row.used);
        out.text(margin + 2.2 * letter, y, row.text, {.sizePx = 0.88 * letter});
        y += lead;
    }
    // Legend: line styles by themselves.
    double x = margin;
    const auto entry = [&](const char* word, const LineStyle& style, bool cross) {
        const double middle = y - 0.3 * letter;
        if (cross) {
            out.line({{x, middle}, {x + letter, middle}}, style);
            out.line({{x + 0.5 * letter, middle - 0.5 * letter}, {x + 0.5 * letter, middle + 0.5 * letter}}, style);
        } else {
            out.line({{x, middle}, {x + 1.6 * letter, middle}}, style);
        }
        x += (cross ? 1.0 : 1.6) * letter + 0.4 * letter;
        out.text(x, y, word, {.sizePx = 0.78 * letter, .ink = kDim});
        x += textWidth(word, 0.78 * letter) + letter;
    };
    entry("flank", {.ink = kWhite, .widthPx = stroke, .haloPx = 0.7 * stroke}, false);
    entry("contact", {.ink = kSkyBlue, .widthPx = 1.8 * stroke, .haloPx = 0.8 * stroke}, false);
    entry("centre", {.ink = kWhite, .widthPx = 1.4 * stroke, .haloPx = 0.8 * stroke}, true);
    entry("left out",
          {.ink = kOrange, .widthPx = 1.3 * stroke, .haloPx = 0.7 * stroke, .dashPx = 6 * stroke, .gapPx = 5 * stroke},
          false);
    return out.take();
}

}  // namespace shimsight
