// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "draw/canvas.h"
#include "draw/contour.h"
#include "draw/labels.h"
#include "shimsight/draw.h"

namespace shimsight {
namespace {

using namespace draw;

/// Letter height as a share of the picture's long side: still readable when a phone shows the picture over its width.
constexpr double kLetterShare = 0.026;

PixelPoint onGrid(const std::vector<PixelPoint>& grid, double u, double v) {
    const double x = std::clamp(u, 0.0, 1.0) * (kFlankGridU - 1), y = (1 - std::clamp(v, 0.0, 1.0)) * (kFlankGridV - 1);
    const int i = std::min(static_cast<int>(x), kFlankGridU - 2), j = std::min(static_cast<int>(y), kFlankGridV - 2);
    const double fx = x - i, fy = y - j;
    const auto at = [&](int a, int b) { return grid[static_cast<std::size_t>((j + b) * kFlankGridU + i + a)]; };
    return {(1 - fy) * ((1 - fx) * at(0, 0).x + fx * at(1, 0).x) + fy * ((1 - fx) * at(0, 1).x + fx * at(1, 1).x),
            (1 - fy) * ((1 - fx) * at(0, 0).y + fx * at(1, 0).y) + fy * ((1 - fx) * at(0, 1).y + fx * at(1, 1).y)};
}

std::vector<PixelPoint> outlinePath(const AnnotatedFlank& flank, double scale) {
    std::vector<PixelPoint> out;
    if (flank.rectified && flank.rectified->gridPx.size() == static_cast<std::size_t>(kFlankGridU * kFlankGridV)) {
        const auto& grid = flank.rectified->gridPx;
        for (int k = 0; k < 32; ++k) out.push_back(onGrid(grid, k / 32.0, 0));
        for (int k = 0; k < 16; ++k) out.push_back(onGrid(grid, 1, k / 16.0));
        for (int k = 0; k < 32; ++k) out.push_back(onGrid(grid, 1 - k / 32.0, 1));
        for (int k = 0; k < 16; ++k) out.push_back(onGrid(grid, 0, 1 - k / 16.0));
    } else {
        const FlankOutline& o = flank.outline;
        out.push_back(o.corners[0]);
        out.insert(out.end(), o.rootEdge.begin(), o.rootEdge.end());
        out.push_back(o.corners[3]);
        out.insert(out.end(), o.heelEdge.begin(), o.heelEdge.end());
        out.push_back(o.corners[2]);
        out.insert(out.end(), o.tipEdge.rbegin(), o.tipEdge.rend());
        out.push_back(o.corners[1]);
        out.insert(out.end(), o.toeEdge.rbegin(), o.toeEdge.rend());
    }
    for (auto& p : out) p = {p.x * scale, p.y * scale};
    return out;
}

bool isRead(const AnnotatedFlank& flank) { return flank.contact != nullptr && flank.used; }

Message sideWords(const AnnotatedFlank& flank) {
    if (!flank.outline.side) return message("draw.of-no-side");
    return titleOf(*flank.outline.side);
}

std::string lineFor(const AnnotatedFlank& flank) {
    const Message side = sideWords(flank);
    if (!flank.contact) return say("draw.flank-left-out", side, flank.whyNot);
    const Pattern& p = flank.contact->pattern;
    if (!flank.used)
        return say("draw.flank-not-used", side, tiedPercent(p.toeHeel), tiedPercent(p.rootTip), flank.whyNot);
    return say("draw.flank-read", side, tiedPercent(p.toeHeel), tiedPercent(p.rootTip));
}

/// "5 to 11, 14" for ascending numbers.
std::string listed(const std::vector<int>& numbers) {
    std::string text;
    for (std::size_t i = 0; i < numbers.size();) {
        std::size_t k = i;
        while (k + 1 < numbers.size() && numbers[k + 1] == numbers[k] + 1) ++k;
        text += (text.empty() ? "" : ", ") +
                (k > i + 1 ? say("draw.from-to", numbers[i], numbers[k]) : std::to_string(numbers[i]));
        if (k == i + 1) text += ", " + std::to_string(numbers[k]);
        i = k + 1;
    }
    return text;
}

/// "Left out: 7 without compound (5 to 11), 2 partly hidden (12, 13)."; empty when none was.
std::string leftOutLine(std::span<const AnnotatedFlank> flanks) {
    std::vector<std::pair<std::string, std::vector<int>>> groups;
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        if (isRead(flanks[k])) continue;
        const auto known = std::find_if(groups.begin(), groups.end(),
                                        [&](const auto& group) { return group.first == flanks[k].whyNotShort; });
        auto& group = known == groups.end() ? groups.emplace_back(flanks[k].whyNotShort, std::vector<int>{}) : *known;
        group.second.push_back(static_cast<int>(k) + 1);
    }
    std::string text;
    for (const auto& [why, numbers] : groups)
        text += (text.empty() ? "" : ", ") + say("draw.left-out-group", numbers.size(), why, listed(numbers));
    return text.empty() ? text : say("draw.left-out-flanks", text);
}

/// A flank's middle and ends on the picture that is drawn.
struct Place {
    PixelPoint toe, heel, middle, along;
    double lengthPx = 1, heightPx = 1;
};

Place placeOf(const AnnotatedFlank& flank, double scale) {
    const auto& c = flank.outline.corners;
    const auto between = [&](PixelPoint a, PixelPoint b) {
        return PixelPoint{0.5 * (a.x + b.x) * scale, 0.5 * (a.y + b.y) * scale};
    };
    Place place{.toe = between(c[0], c[1]), .heel = between(c[2], c[3]), .middle = {}, .along = {}};
    const PixelPoint tip = between(c[1], c[2]), root = between(c[0], c[3]);
    place.middle = {0.5 * (tip.x + root.x), 0.5 * (tip.y + root.y)};
    if (flank.rectified) {
        const PixelPoint m = onGrid(flank.rectified->gridPx, 0.5, 0.5);
        place.middle = {m.x * scale, m.y * scale};
    }
    place.lengthPx = std::max(1.0, std::hypot(place.heel.x - place.toe.x, place.heel.y - place.toe.y));
    place.heightPx = std::max(1.0, std::hypot(tip.x - root.x, tip.y - root.y));
    place.along = {(place.heel.x - place.toe.x) / place.lengthPx, (place.heel.y - place.toe.y) / place.lengthPx};
    return place;
}

/// Neighbouring flanks of one side get the words toe, heel and the side's name once.
std::vector<std::vector<std::size_t>> neighbours(std::span<const AnnotatedFlank> flanks,
                                                 const std::vector<Place>& places) {
    // Teeth stand less than their length apart; one unpainted tooth between two painted ones parts no group.
    constexpr double kReach = 1.2;
    const bool anyRead = std::any_of(flanks.begin(), flanks.end(), isRead);
    std::vector<std::vector<std::size_t>> groups;
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        if (anyRead ? !isRead(flanks[k]) : !flanks[k].outline.side) continue;
        std::vector<std::size_t> joined{k};
        for (auto group = groups.begin(); group != groups.end();) {
            const bool near = std::any_of(group->begin(), group->end(), [&](std::size_t other) {
                return flanks[other].outline.side == flanks[k].outline.side &&
                       std::hypot(places[other].middle.x - places[k].middle.x,
                                  places[other].middle.y - places[k].middle.y) < kReach * places[k].lengthPx;
            });
            if (near) joined.insert(joined.end(), group->begin(), group->end());
            group = near ? groups.erase(group) : group + 1;
        }
        groups.push_back(std::move(joined));
    }
    // Within a group: the flank nearest to its middle first.
    for (auto& group : groups) {
        PixelPoint mean;
        for (const std::size_t k : group) {
            mean.x += places[k].middle.x / static_cast<double>(group.size());
            mean.y += places[k].middle.y / static_cast<double>(group.size());
        }
        std::sort(group.begin(), group.end(), [&](std::size_t a, std::size_t b) {
            const auto off = [&](std::size_t k) {
                return std::hypot(places[k].middle.x - mean.x, places[k].middle.y - mean.y);
            };
            return std::pair(off(a), a) < std::pair(off(b), b);
        });
    }
    return groups;
}

void badge(Canvas& canvas, PixelPoint at, const std::string& number, double letter, bool used) {
    canvas.disc(at, 0.80 * letter, {20, 20, 20}, 0.9);
    canvas.disc(at, 0.70 * letter, used ? kWhite : kOrange);
    canvas.text(at.x, at.y + 0.33 * letter, number,
                {.sizePx = (number.size() > 1 ? 0.78 : 0.92) * letter,
                 .ink = kBlack,
                 .weight = Weight::Bold,
                 .align = Align::Centre});
}

/// The pens of the picture and of its legend.
struct Pens {
    LineStyle flank, contact, unusedContact, cross, unusedCross, leftOut;
};

Pens pensFor(double stroke) {
    return {.flank = {.ink = kWhite, .widthPx = stroke, .haloPx = 0.7 * stroke},
            .contact = {.ink = kSkyBlue, .widthPx = 1.8 * stroke, .haloPx = 0.8 * stroke},
            .unusedContact = {.ink = kOrange,
                              .widthPx = 1.4 * stroke,
                              .haloPx = 0.6 * stroke,
                              .dashPx = 3 * stroke,
                              .gapPx = 4 * stroke},
            .cross = {.ink = kWhite, .widthPx = 1.4 * stroke, .haloPx = 0.8 * stroke},
            .unusedCross = {.ink = kOrange, .widthPx = 1.4 * stroke, .haloPx = 0.8 * stroke},
            .leftOut = {.ink = kOrange,
                        .widthPx = 0.8 * stroke,
                        .haloPx = 0.5 * stroke,
                        .dashPx = 5 * stroke,
                        .gapPx = 4 * stroke}};
}

void cross(Canvas& canvas, PixelPoint at, double arm, const LineStyle& pen) {
    canvas.line({{at.x - arm, at.y}, {at.x + arm, at.y}}, pen);
    canvas.line({{at.x, at.y - arm}, {at.x, at.y + arm}}, pen);
}

/// Outline, contact and centre of a flank.
void drawFlank(Canvas& canvas, const AnnotatedFlank& flank, const Pens& pens, double scale, double arm,
               LabelPlaces& labels) {
    const bool read = isRead(flank);
    const auto path = outlinePath(flank, scale);
    // A flank that is seen edge-on may reach far out of the picture.
    const double farOut = 2.0 * std::max(canvas.width(), canvas.height());
    if (std::any_of(path.begin(), path.end(), [&](PixelPoint p) {
            return !(std::abs(p.x - canvas.width() / 2.0) < farOut && std::abs(p.y - canvas.height() / 2.0) < farOut);
        }))
        return;
    canvas.line(path, read ? pens.flank : pens.leftOut, true);
    if (!flank.contact || !flank.rectified) return;
    const auto at = [&](double u, double v) {
        const PixelPoint q = onGrid(flank.rectified->gridPx, u, v);
        return PixelPoint{q.x * scale, q.y * scale};
    };
    for (const auto& contour : contactContours(flank.contact->map)) {
        std::vector<PixelPoint> line;
        for (const auto& p : contour) line.push_back(at(p.u, p.v));
        canvas.line(line, read ? pens.contact : pens.unusedContact, true);
    }
    const PixelPoint centre = at(flank.contact->pattern.toeHeel, flank.contact->pattern.rootTip);
    cross(canvas, centre, arm, read ? pens.cross : pens.unusedCross);
    labels.take(roomAround(centre, 2.2 * arm, 2.2 * arm));
}

/// Numbers beyond the heel, where teeth stand widest apart, else beyond the toe, else on the flank.
void numberFlanks(Canvas& canvas, std::span<const AnnotatedFlank> flanks, const std::vector<Place>& places,
                  double letter, LabelPlaces& labels) {
    // Read flanks first: their numbers must find room, those of the others may be missing.
    for (const bool read : {true, false})
        for (std::size_t k = 0; k < flanks.size(); ++k) {
            if (isRead(flanks[k]) != read) continue;
            const Place& p = places[k];
            const double size = (read ? 1.0 : 0.72) * letter, away = 1.05 * size;
            const auto beyond = [&](PixelPoint end, double direction, double steps) {
                return PixelPoint{end.x + direction * p.along.x * steps * away,
                                  end.y + direction * p.along.y * steps * away};
            };
            const auto on = [&](double w) {
                return PixelPoint{p.toe.x + w * (p.heel.x - p.toe.x), p.toe.y + w * (p.heel.y - p.toe.y)};
            };
            std::vector<PixelPoint> spots;
            if (read) {
                spots = {beyond(p.heel, 1, 1), beyond(p.heel, 1, 1.9), beyond(p.toe, -1, 1), beyond(p.toe, -1, 1.9)};
                for (const double w : {0.92, 0.08, 0.8, 0.2, 0.7, 0.3}) spots.push_back(on(w));
            } else {
                spots = {p.middle, on(0.65), on(0.35), on(0.8), on(0.2)};
            }
            if (const auto at = labels.place(spots, 1.55 * size, 1.55 * size))
                badge(canvas, *at, std::to_string(k + 1), size, read);
        }
}

void nameEnds(Canvas& canvas, std::span<const AnnotatedFlank> flanks, const std::vector<Place>& places, double letter,
              LabelPlaces& labels) {
    const double size = 0.92 * letter;
    const TextStyle style{
        .sizePx = size, .ink = kWhite, .weight = Weight::Bold, .haloPx = 0.14 * letter, .align = Align::Centre};
    // Steps past the end at which a word is tried, in letters: first beside the end, then beyond a number there.
    constexpr std::array kSteps{0.3, 0.8, 1.4, 2.0, 2.6, 3.3, 4.2, 5.2};
    const auto groups = neighbours(flanks, places);
    const auto write = [&](const std::vector<std::size_t>& group, std::span<const double> directions,
                           const std::string& word) {
        const double width = textWidth(word, size, Weight::Bold) + 0.5 * letter, height = 1.15 * letter;
        std::vector<PixelPoint> spots;
        for (const double direction : directions)
            for (const std::size_t k : group) {
                const Place& p = places[k];
                const PixelPoint end = direction > 0 ? p.heel : p.toe;
                // Half the word's room along the tooth, so that it clears the end.
                const double half = std::min(width / 2 / std::max(0.05, std::abs(p.along.x)),
                                             height / 2 / std::max(0.05, std::abs(p.along.y)));
                for (const double step : kSteps)
                    spots.push_back({end.x + direction * p.along.x * (half + step * letter),
                                     end.y + direction * p.along.y * (half + step * letter)});
            }
        // Else above or below the flanks.
        if (directions.size() > 1)
            for (const std::size_t k : group)
                for (const double direction : {-1.0, 1.0})
                    spots.push_back({places[k].middle.x,
                                     places[k].middle.y + direction * (0.6 * places[k].heightPx + 0.8 * letter)});
        if (const auto at = labels.place(spots, width, height)) canvas.text(at->x, at->y + 0.34 * size, word, style);
    };
    for (const auto& group : groups) {
        write(group, std::array{-1.0}, say("draw.toe"));
        write(group, std::array{1.0}, say("draw.heel"));
        if (flanks[group.front()].outline.side)
            write(group, std::array{-1.0, 1.0}, text(sideWords(*flanks[group.front()].outline.side)));
    }
}

/// One row of the caption; `number` may be empty.
struct Row {
    std::string number;
    std::string text;
    bool used = true;
};

/// Several read flanks of a side in one sentence.
std::string spanLine(std::span<const AnnotatedFlank> flanks, const std::vector<int>& numbers) {
    double lowU = 1, highU = 0, lowV = 1, highV = 0;
    for (const int number : numbers) {
        const Pattern& p = flanks[static_cast<std::size_t>(number - 1)].contact->pattern;
        lowU = std::min(lowU, p.toeHeel), highU = std::max(highU, p.toeHeel);
        lowV = std::min(lowV, p.rootTip), highV = std::max(highV, p.rootTip);
    }
    const auto range = [](double low, double high) {
        const std::string a = tiedPercent(low), b = tiedPercent(high);
        return a == b ? a : say("draw.from-to", std::lround(100 * low), b);
    };
    return say("draw.flanks-read", sideWords(flanks[static_cast<std::size_t>(numbers.front() - 1)]), listed(numbers),
               range(lowU, highU), range(lowV, highV));
}

std::vector<Row> captionRows(std::span<const AnnotatedFlank> flanks, bool grouped) {
    std::vector<Row> rows;
    if (!grouped) {
        for (std::size_t k = 0; k < flanks.size(); ++k)
            rows.push_back({std::to_string(k + 1), lineFor(flanks[k]), isRead(flanks[k])});
        return rows;
    }
    for (const Side side : kSides) {
        std::vector<int> numbers;
        for (std::size_t k = 0; k < flanks.size(); ++k)
            if (isRead(flanks[k]) && flanks[k].outline.side == side) numbers.push_back(static_cast<int>(k) + 1);
        if (numbers.size() == 1)
            rows.push_back({std::to_string(numbers.front()),
                            lineFor(flanks[static_cast<std::size_t>(numbers.front() - 1)]), true});
        else if (!numbers.empty())
            rows.push_back({"", spanLine(flanks, numbers), true});
    }
    if (std::string line = leftOutLine(flanks); !line.empty()) rows.push_back({"", std::move(line), false});
    return rows;
}

/// Sizes of letters and of what stands about them, for one picture.
struct CaptionSizes {
    double letter, margin = 0.8 * letter, lead = 1.38 * letter, text = 0.96 * letter, title = 1.05 * letter;
};

struct CaptionLine {
    std::string number, text;
    bool used = true;
};

std::vector<CaptionLine> wrappedRows(const std::vector<Row>& rows, double size, double widthPx) {
    std::vector<CaptionLine> lines;
    for (const Row& row : rows) {
        bool first = true;
        for (auto& text : wrapText(row.text, size, widthPx)) {
            lines.push_back({first ? row.number : "", std::move(text), row.used});
            first = false;
        }
    }
    return lines;
}

/// What the lines in the picture mean, each by itself; only those that are in it.
void drawKey(Canvas& out, std::span<const AnnotatedFlank> flanks, const Pens& pens, const CaptionSizes& sizes,
             double y) {
    const double letter = sizes.letter;
    double x = sizes.margin;
    const auto entry = [&](const std::string& word, const LineStyle& pen, bool isCross) {
        const double middle = y - 0.3 * letter;
        const double width = (isCross ? 1.0 : 1.6) * letter;
        if (isCross)
            cross(out, {x + 0.5 * letter, middle}, 0.5 * letter, pen);
        else
            out.line({{x, middle}, {x + width, middle}}, pen);
        x += width + 0.4 * letter;
        out.text(x, y, word, {.sizePx = 0.86 * letter, .ink = kDim});
        x += textWidth(word, 0.86 * letter) + letter;
    };
    if (std::any_of(flanks.begin(), flanks.end(), isRead)) {
        entry(say("draw.flank"), pens.flank, false);
        entry(say("draw.contact"), pens.contact, false);
        entry(say("draw.centre"), pens.cross, true);
    }
    if (!std::all_of(flanks.begin(), flanks.end(), isRead)) entry(say("draw.left-out"), pens.leftOut, false);
}

/// The picture with its caption below: title, what was read and left out, what the lines mean.
Picture withCaption(const Canvas& canvas, std::span<const AnnotatedFlank> flanks, const AnnotateOptions& options,
                    const Pens& pens, const CaptionSizes& sizes) {
    const double margin = sizes.margin;
    const std::vector<Row> rows = captionRows(flanks, options.grouped);
    const bool numbered = std::any_of(rows.begin(), rows.end(), [](const Row& row) { return !row.number.empty(); });
    const double indent = margin + (numbered ? 2.0 * sizes.letter : 0);
    const std::vector<CaptionLine> lines = wrappedRows(rows, sizes.text, canvas.width() - margin - indent);
    const auto title = wrapText(options.title, sizes.title, canvas.width() - 2 * margin, Weight::Bold);
    const int captionHeight = static_cast<int>(
        std::lround(1.6 * margin + sizes.lead * (static_cast<double>(lines.size() + title.size()) + 1.15)));
    Canvas out(canvas.width(), canvas.height() + captionHeight, kPaper);
    out.paste(canvas.picture(), 0, 0);
    double y = canvas.height() + margin + 0.7 * sizes.letter;
    for (const auto& text : title) {
        out.text(margin, y, text, {.sizePx = sizes.title, .weight = Weight::Bold});
        y += sizes.lead;
    }
    for (const CaptionLine& line : lines) {
        if (!line.number.empty())
            badge(out, {margin + 0.75 * sizes.letter, y - 0.32 * sizes.letter}, line.number, 0.8 * sizes.letter,
                  line.used);
        out.text(indent, y, line.text, {.sizePx = sizes.text});
        y += sizes.lead;
    }
    drawKey(out, flanks, pens, sizes, y);
    return out.take();
}

/// Keeps labels away from the flanks that were read, so that these stay in sight.
void keepInSight(LabelPlaces& labels, std::span<const AnnotatedFlank> flanks, const std::vector<Place>& places) {
    for (std::size_t k = 0; k < flanks.size(); ++k) {
        if (!isRead(flanks[k])) continue;
        const Place& p = places[k];
        for (int part = 1; part <= 9; ++part) {
            const double w = 0.1 * part;
            labels.avoid(roomAround({p.toe.x + w * (p.heel.x - p.toe.x), p.toe.y + w * (p.heel.y - p.toe.y)},
                                    0.6 * p.heightPx, 0.6 * p.heightPx));
        }
    }
}

}  // namespace

Picture annotate(const Photo& photo, std::span<const AnnotatedFlank> flanks, const AnnotateOptions& options) {
    // The photo without the rows that a reduced decode may add.
    Canvas canvas(shrunkTo(photo.picture, options.longestSidePx));
    const double scale = photo.scale * canvas.width() / static_cast<double>(photo.picture.width);
    const double longSide = std::max(canvas.width(), canvas.height());
    const CaptionSizes sizes{.letter = std::max(13.0, kLetterShare * longSide)};
    const double letter = sizes.letter;
    const Pens pens = pensFor(std::max(1.5, 0.0016 * longSide));

    // Lines of all flanks, those read on top, then labels, so that no line crosses a label.
    LabelPlaces labels(canvas.width(), canvas.height());
    for (const bool read : {false, true})
        for (const auto& flank : flanks)
            if (isRead(flank) == read) drawFlank(canvas, flank, pens, scale, 0.55 * letter, labels);
    std::vector<Place> places;
    for (const auto& flank : flanks) places.push_back(placeOf(flank, scale));
    keepInSight(labels, flanks, places);
    numberFlanks(canvas, flanks, places, letter, labels);
    nameEnds(canvas, flanks, places, letter, labels);
    return withCaption(canvas, flanks, options, pens, sizes);
}

}  // namespace shimsight
