// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "lesson/parts.h"
#include "lesson_page.h"
#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"
#include "shimsight/html.h"
#include "shimsight/lesson.h"
#include "shimsight/lesson_parts.h"
#include "shimsight/units.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

constexpr int kSteps = 3;  // shallower, right, deeper; less, right, more

struct Cell {
    BenchMarks marks;
    double backlashMm = 0;
    /// Both sides by the gear set's rule, and the backlash inside its limits.
    bool good = false, inLimits = false;
};

struct ChartOfSet {
    const ToothContact* contact = nullptr;
    std::array<std::array<Cell, kSteps>, kSteps> cells;  ///< [row: depth][column: backlash]
    const Cell& right() const { return cells[1][1]; }
};

ChartOfSet chartOf(const ToothContact& contact, const ChartOptions& options) {
    ChartOfSet chart;
    chart.contact = &contact;
    const AcceptanceRule& rule = contact.gearSet().limits.acceptance;
    for (int row = 0; row < kSteps; ++row) {
        for (int column = 0; column < kSteps; ++column) {
            const Bench bench = moved(contact, rightBench(contact),
                                      {(row - 1) * options.depthStepMm, (column - 1) * options.backlashStepMm});
            Cell& cell = chart.cells[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)];
            cell.marks = marksOf(contact, bench);
            cell.backlashMm = backlashMm(contact, bench);
            const Interval& limits = contact.gearSet().limits.backlashMm;
            constexpr double kRoundingMm = 1e-6;
            cell.inLimits = limits.low - kRoundingMm <= cell.backlashMm && cell.backlashMm <= limits.high + kRoundingMm;
            cell.good = cell.inLimits && std::all_of(kSides.begin(), kSides.end(), [&](Side side) {
                            const auto& pattern = cell.marks.pattern[index(side)];
                            return pattern && isAcceptable(*pattern, rule);
                        });
        }
    }
    return chart;
}

std::string outOfLimits() { return say("lesson.out-of-limits"); }

std::string lengthText(double mm) { return formatLength(Length::fromMm(mm)); }

std::string sideTitle(Side side) {
    return say(side == Side::Drive ? "lesson.drive-side-convex" : "lesson.coast-side-concave");
}

std::string rowWord(int row) {
    return say(row == 0 ? "lesson.depth-shallower" : row == 1 ? "lesson.depth-right" : "lesson.depth-deeper");
}
/// The same at the head of a row.
std::string rowHead(int row) { return row == 1 ? say("lesson.row-right") : rowWord(row); }
std::string columnWord(int column) {
    return say(column == 0 ? "lesson.backlash-less" : column == 1 ? "lesson.backlash-right" : "lesson.backlash-more");
}

/// Where the mark is, and the edges that it runs off.
struct Caption {
    std::string place, edges;
    std::string line() const { return edges.empty() ? place : place + "; " + edges; }
};

Caption captionOf(const Cell& cell, Side side) {
    const std::optional<Pattern>& pattern = cell.marks.pattern[index(side)];
    Caption caption{placeWords(pattern), ""};
    if (!pattern) return caption;
    const std::string edges = edgesOff(pattern->runsOff);
    if (!edges.empty()) caption.edges = say("lesson.off-edges", edges);
    return caption;
}

/// "0.004 in" and "(0.10 mm)", which must not be broken; in one unit the second is empty.
std::pair<std::string, std::string> inLines(double mm, Units units) {
    const auto words = [&](Units one) { return inUnits(lengthText(mm), one); };
    if (units != Units::Both) return {words(units), ""};
    return {words(Units::Inch), "(" + words(Units::Metric) + ")"};
}

Html sketchOf(const ChartOfSet& chart, int row, int column, Side side, const std::optional<SvgPlace>& place = {}) {
    const Cell& cell = chart.cells[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)];
    SvgSketch sketch;
    sketch.title =
        say("lesson.sketch-title", sideTitle(side), rowWord(row), columnWord(column), captionOf(cell, side).line());
    sketch.map = &cell.marks.map[index(side)];
    sketch.pattern = cell.marks.pattern[index(side)];
    if (row != 1 || column != 1) sketch.cameFrom = chart.right().marks.pattern[index(side)];
    sketch.words = false;
    sketch.evenHeight = isEvenHeight(*chart.contact);
    sketch.place = place;
    return flankSvg(sketch);
}

std::string setWords(const ToothContact& contact) {
    const Blank& blank = contact.blank();
    return say("lesson.set-of-chart", wordFor(contact.gearSet().cut), contact.gearSet().ringTeeth,
               contact.gearSet().pinionTeeth, formatted("%.2f", blank.lengthwiseRadius / blank.coneDistanceM2));
}

/// "16 +/- 2 % of the face toward the toe, 12 +/- 3 % of the depth toward the root"; the loss of a mark.
std::string movedBy(const std::optional<Pattern>& from, const std::optional<Pattern>& to) {
    if (!from || !to) return say("lesson.loses-its-mark");
    // Two standard errors of the difference of two predictions.
    constexpr double kErrorU = 2 * 1.4142 * kModelSigmaToeHeel, kErrorV = 2 * 1.4142 * kModelSigmaRootTip;
    const double along = to->toeHeel - from->toeHeel, up = to->rootTip - from->rootTip;
    const char* key = along > 0 ? (up > 0 ? "lesson.moves-toward-heel-and-tip" : "lesson.moves-toward-heel-and-root")
                                : (up > 0 ? "lesson.moves-toward-toe-and-tip" : "lesson.moves-toward-toe-and-root");
    return say(key, formatted("%.0f +/- %.0f", 100 * std::abs(along), 100 * kErrorU),
               formatted("%.0f +/- %.0f", 100 * std::abs(up), 100 * kErrorV));
}

/// How the marks of both sides move by a step of depth, and by one of backlash.
std::vector<std::string> movementLines(const ChartOfSet& chart, const ChartOptions& options) {
    const auto line = [&](const std::string& what, const Cell& cell) {
        const auto &from = chart.right().marks.pattern, &to = cell.marks.pattern;
        return say("lesson.both-sides-move", what, movedBy(from[index(Side::Drive)], to[index(Side::Drive)]),
                   movedBy(from[index(Side::Coast)], to[index(Side::Coast)]));
    };
    return {line(say("lesson.deeper-backlash-held", lengthText(options.depthStepMm)), chart.cells[2][1]),
            line(say("lesson.more-backlash-depth-held", lengthText(options.backlashStepMm)), chart.cells[1][2])};
}

/// Whether two sets answer depth and backlash with the same moves along the tooth: what was computed, not what their
/// cuts let expect.
std::string whatTwoDo(const std::vector<ChartOfSet>& charts) {
    const auto along = [](const ChartOfSet& chart, int row, int column, Side side) {
        const auto &from = chart.right().marks.pattern[index(side)],
                   &to = chart.cells[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)]
                             .marks.pattern[index(side)];
        return from && to ? to->toeHeel - from->toeHeel : 0.0;
    };
    bool differ = false;
    for (const Side side : kSides) {
        constexpr double kHardly = 0.02;
        for (const auto& [row, column] : {std::pair{2, 1}, {1, 2}}) {
            const double a = along(charts[0], row, column, side), b = along(charts[1], row, column, side);
            differ = differ || (a * b < 0 && std::abs(a) > kHardly && std::abs(b) > kHardly);
        }
    }
    return say(differ ? "lesson.why-charts-differ" : "lesson.charts-agree");
}

/// In print one sheet, A4 or Letter, lying.
constexpr std::string_view kPrintCss =
    "@media print{@page{size:landscape;margin:8mm}.wrap{max-width:none;padding:0}.top{padding:0 0 "
    "2mm}.brand{display:none}"
    ".top h1{font-size:12pt}.top h1+p{font-size:7.5pt;margin:0;max-width:none}.charts{gap:4mm}"
    ".charts:not(.two) .sides{grid-template-columns:1fr 1fr}.chartset h2{font-size:9.5pt}.chartset "
    ".small{font-size:7pt}"
    ".sides{gap:2mm 5mm;margin-top:1mm}table.chart caption{font-size:8pt;padding:0}table.chart "
    "th{font-size:7pt;padding:0 .5mm}"
    "table.chart th small{font-size:6.5pt}table.chart td{padding:.3mm .5mm}.charts.two .chart "
    "svg{display:block;margin:0 auto;height:11mm;width:auto;max-width:100%}"
    ".say{font-size:6.5pt;margin:0}.moves{font-size:7pt;line-height:1.3;margin-top:1mm;gap:0}"
    ".callout{margin-top:2mm;padding:1mm 3mm;font-size:8pt;max-width:none}.foot{margin-top:2mm;padding:1mm 0 "
    "0;font-size:7pt}}\n";

void checkSets(std::span<const ToothContact* const> sets) {
    check(!sets.empty() && sets.size() <= 2, "a chart shows one gear set or two");
}

// ---- The picture ----

constexpr double kFlankWide = 158, kFlankHigh = 74, kGap = 12, kCaption = 32, kRowHead = 96, kHeadRoom = 62;
constexpr double kBlockWide = kRowHead + kSteps * (kFlankWide + kGap);
constexpr double kBlockHigh = kHeadRoom + kSteps * (kFlankHigh + kCaption + kGap);
constexpr double kMargin = 28, kBetween = 34;

Html svgText(double x, double y, std::string_view style, std::string_view text) {
    return Html("<text x=\"") + formatted("%.1f", x) + "\" y=\"" + formatted("%.1f", y) + "\" class=\"" + style +
           "\">" + text + "</text>\n";
}

/// Lines of at most `most` characters.
std::vector<std::string> broken(std::string_view text, std::size_t most) {
    std::vector<std::string> lines(1);
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find(' ', at), text.size());
        if (!lines.back().empty() && lines.back().size() + 1 + end - at > most) lines.emplace_back();
        if (!lines.back().empty()) lines.back() += ' ';
        lines.back() += text.substr(at, end - at);
        at = end + 1;
    }
    return lines;
}

Html svgBlock(const ChartOfSet& chart, Side side, double left, double top, const ChartOptions& options) {
    Html svg = svgText(left, top + 18, "side", sideTitle(side));
    for (int column = 0; column < kSteps; ++column) {
        const double middle = left + kRowHead + column * (kFlankWide + kGap) + kFlankWide / 2;
        svg += svgText(middle, top + 38, "head middle", columnWord(column));
        const Cell& cell = chart.cells[1][static_cast<std::size_t>(column)];
        svg +=
            svgText(middle, top + 53, "small middle",
                    (cell.inLimits ? "" : outOfLimits() + ": ") + inUnits(lengthText(cell.backlashMm), options.units));
    }
    for (int row = 0; row < kSteps; ++row) {
        const double y = top + kHeadRoom + row * (kFlankHigh + kCaption + kGap);
        svg += svgText(left, y + 32, "head", rowHead(row));
        if (row != 1) {
            const auto [first, second] = inLines(options.depthStepMm, options.units);
            svg += svgText(left, y + 47, "small", first) + svgText(left, y + 61, "small", second);
        }
        for (int column = 0; column < kSteps; ++column) {
            const Cell& cell = chart.cells[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)];
            const double x = left + kRowHead + column * (kFlankWide + kGap);
            svg += sketchOf(chart, row, column, side, SvgPlace{x, y, kFlankWide, kFlankHigh}) + "\n";
            const bool good = cell.good;
            const Caption caption = captionOf(cell, side);
            svg += svgText(x + kFlankWide / 2, y + kFlankHigh + 13, good ? "good middle" : "small middle",
                           (good ? "\xE2\x9C\x93 " : "") + caption.place);
            if (!caption.edges.empty())
                svg += svgText(x + kFlankWide / 2, y + kFlankHigh + 26, "small middle", caption.edges);
        }
    }
    return svg;
}

}  // namespace

std::string chartSvg(std::span<const ToothContact* const> sets, const ChartOptions& options) {
    checkSets(sets);
    std::vector<ChartOfSet> charts;
    for (const ToothContact* set : sets) charts.push_back(chartOf(*set, options));
    const bool two = charts.size() == 2;
    const double wide = 2 * kMargin + 2 * kBlockWide + kBetween;
    Html body;
    double y = kMargin;
    const auto setHead = [&](const ChartOfSet& chart, double x) {
        body += svgText(x, y + 22, "set", chart.contact->gearSet().name);
        body += svgText(x, y + 42, "small", setWords(*chart.contact));
    };
    constexpr double kSetHead = 66;
    const double second = kMargin + kBlockWide + kBetween;
    if (two) {
        setHead(charts[0], kMargin);
        setHead(charts[1], second);
        y += kSetHead;
        for (const Side side : kSides) {
            body += svgBlock(charts[0], side, kMargin, y, options) + svgBlock(charts[1], side, second, y, options);
            y += kBlockHigh + kBetween / 2;
        }
    } else {
        setHead(charts[0], kMargin);
        y += kSetHead;
        body += svgBlock(charts[0], Side::Drive, kMargin, y, options) +
                svgBlock(charts[0], Side::Coast, second, y, options);
        y += kBlockHigh + kBetween / 2;
    }
    const auto note = [&](std::string_view text) {
        for (const std::string& line : broken(inUnits(text, options.units), 175)) {
            body += svgText(kMargin, y + 12, "note", line);
            y += 18;
        }
        y += 4;
    };
    note(chartHowToRead());
    for (const ChartOfSet& chart : charts)
        for (const std::string& line : movementLines(chart, options))
            note(two ? chart.contact->gearSet().name + ". " + line : line);
    if (two) note(whatTwoDo(charts));
    note(makersSheet());
    const double high = y + kMargin / 2;
    const std::string first = charts[0].contact->gearSet().name;
    const std::string title = two ? say("lesson.chart-title-two", first, charts[1].contact->gearSet().name)
                                  : say("lesson.chart-title", first);
    const std::string width = formatted("%.0f", wide), height = formatted("%.0f", high);
    return (Html("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"") + width + "\" height=\"" + height +
            "\" viewBox=\"0 0 " + width + " " + height + "\" role=\"img\">\n<title>" + title + "</title>\n<style>\n" +
            Html::markup(lesson::plainSketchCss()) +
            "text{font-family:system-ui,'DejaVu Sans',sans-serif;fill:#1a2026;font-size:13px}\n"
            ".set{font-size:19px;font-weight:700}.side{font-size:15px;font-weight:700;fill:#0b5c94}\n"
            ".head{font-weight:600}.small{font-size:11.5px;fill:#58626c}.note{font-size:12.5px;fill:#2d363e}\n"
            ".fk-cross{stroke-width:3}.fk-halo{stroke-width:5.6}\n.good{font-size:11.5px;font-weight:700;fill:#1a7046}."
            "middle{text-anchor:middle}\n</style>\n"
            "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n" +
            body + "</svg>\n")
        .str();
}

std::string chartHowToRead() { return say("lesson.how-to-read-chart"); }

namespace {

Html lengthCell(double mm, Units units) {
    const auto [first, second] = inLines(mm, units);
    return Html("<small>") + first + (second.empty() ? Html() : Html("<br>") + second) + "</small>";
}

Html chartHead(const ChartOfSet& chart, Side side) {
    Html head = Html("<caption>") + sideTitle(side) + "</caption><thead><tr><td></td>";
    for (int column = 0; column < kSteps; ++column) {
        const Cell& cell = chart.cells[1][static_cast<std::size_t>(column)];
        head += Html("<th scope=\"col\">") + columnWord(column) + "<small>" + lengthText(cell.backlashMm) + "</small>" +
                (cell.inLimits ? Html() : Html("<small class=\"out\">") + outOfLimits() + "</small>") + "</th>";
    }
    return head + "</tr></thead>";
}

Html chartCell(const ChartOfSet& chart, int row, int column, Side side) {
    const Cell& cell = chart.cells[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)];
    const bool good = cell.good;
    const Caption caption = captionOf(cell, side);
    Html html = Html("<td>") + sketchOf(chart, row, column, side) + "<span class=\"" + (good ? "say good" : "say") +
                "\">" + (good ? "\xE2\x9C\x93 " : "") + caption.place;
    if (!caption.edges.empty()) html += Html("<br>") + caption.edges;
    return html + "</span></td>";
}

Html chartTable(const ChartOfSet& chart, Side side, const ChartOptions& options) {
    Html table = Html("<table class=\"chart\">") + chartHead(chart, side) + "<tbody>";
    for (int row = 0; row < kSteps; ++row) {
        table += Html("<tr><th scope=\"row\">") + rowHead(row) +
                 (row == 1 ? Html() : lengthCell(options.depthStepMm, options.units)) + "</th>";
        for (int column = 0; column < kSteps; ++column) table += chartCell(chart, row, column, side);
        table += "</tr>";
    }
    return table + "</tbody></table>";
}

Html chartsHtml(std::span<const ToothContact* const> sets, const ChartOptions& options) {
    const bool two = sets.size() == 2;
    Html body = two ? Html("<div class=\"charts two\">\n") : Html("<div class=\"charts\">\n");
    std::vector<ChartOfSet> charts;
    for (const ToothContact* set : sets) {
        const ChartOfSet& chart = charts.emplace_back(chartOf(*set, options));
        body += Html("<section class=\"chartset\"><h2>") + set->gearSet().name + "</h2><p class=\"dim small\">" +
                setWords(*set) + "</p><div class=\"sides\">";
        for (const Side side : kSides) body += chartTable(chart, side, options);
        body += "</div><ul class=\"moves\">";
        for (const std::string& line : movementLines(chart, options)) body += Html::element("li", Html::text(line));
        body += "</ul></section>\n";
    }
    body += "</div>";
    if (two) body += Html("<p class=\"callout\">") + whatTwoDo(charts) + "</p>";
    return body;
}

}  // namespace

std::string chartTables(std::span<const ToothContact* const> sets, const ChartOptions& options) {
    checkSets(sets);
    return chartsHtml(sets, options).str();
}

std::string chartPage(std::span<const ToothContact* const> sets, const ChartOptions& options) {
    checkSets(sets);
    const Html body = Html("<header class=\"top\"><div class=\"wrap\"><p class=\"brand\">Shimsight</p><h1>") +
                      say("lesson.chart-of", say(sets.size() == 2 ? "lesson.two-gear-sets" : "lesson.this-gear-set")) +
                      "</h1><p class=\"dim\">" + chartHowToRead() + "</p></div></header>\n<main class=\"wrap\">" +
                      chartsHtml(sets, options) + "</main>\n<footer class=\"foot\"><div class=\"wrap\"><p>" +
                      Html::markup(makersSheet()) + " " + say("lesson.chart-errors") + "</p></div></footer>\n";
    return inUnits(lesson::pageHtml({say("lesson.chart-page-title", sets[0]->gearSet().name), kPrintCss, body, {}}),
                   options.units);
}

}  // namespace shimsight
