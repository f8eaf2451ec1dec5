// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <numeric>
#include <sstream>

#include "lesson/claims.h"
#include "lesson/markdown.h"
#include "lesson/page_data.h"
#include "lesson/parts.h"
#include "lesson_page.h"
#include "shimsight/core.h"
#include "shimsight/draw_svg.h"
#include "shimsight/html.h"
#include "shimsight/lesson.h"
#include "shimsight/lesson_parts.h"
#include "shimsight/records.h"
#include "shimsight/text.h"
#include "shimsight/units.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using lesson::Block;
using lesson::parseMarkdown;
using lesson::plainText;
using lesson::SetUp;
using lesson::TextPart;

const TextPart& partOf(std::string_view name) {
    const auto parts = lesson::textParts();
    const auto found =
        std::find_if(parts.begin(), parts.end(), [&](const TextPart& part) { return part.name == name; });
    if (found == parts.end()) throw InputError(message("lesson.no-such-lesson", name.substr(0, 40)));
    return *found;
}

std::vector<std::string> linesOf(const std::string& text) {
    std::istringstream stream(text);
    std::vector<std::string> lines;
    for (std::string line; std::getline(stream, line);)
        if (line.find_first_not_of(' ') != std::string::npos) lines.push_back(line);
    return lines;
}

/// "SITUATION | caption".
struct Figure {
    SetUp setUp;
    Side side = Side::Drive;
    std::string caption;
};

Figure figureOf(const std::string& line) {
    const std::size_t stroke = line.find('|');
    check(stroke != std::string::npos, "a lesson's figure is \"SITUATION | caption\": " + line);
    Figure figure;
    figure.setUp = lesson::parseSetUp(line.substr(0, stroke));
    check(figure.setUp.side.has_value(), "a lesson's figure names its side: " + line);
    figure.side = *figure.setUp.side;
    figure.caption = line.substr(line.find_first_not_of(' ', stroke + 1));
    return figure;
}

std::string sideAndSet(const Figure& figure) {
    const ToothContact* contact = figure.setUp.contact;
    return say(contact == &lesson::smallCutterSet()   ? "lesson.side-and-small-cutter-set"
               : contact == &lesson::spiralBevelSet() ? "lesson.side-and-no-offset-set"
                                                      : "lesson.side-and-set",
               say(figure.side == Side::Drive ? "common.drive" : "common.coast"), wordFor(contact->gearSet().cut));
}

// ---- Terminal ----

constexpr std::size_t kLineWidth = 80;

std::string wrapped(const std::string& text, const std::string& first, const std::string& rest) {
    std::string out, line = first;
    bool empty = true;
    std::istringstream words(text);
    for (std::string word; words >> word;) {
        if (!empty && line.size() + 1 + word.size() > kLineWidth) {
            out += line + "\n";
            line = rest;
            empty = true;
        }
        line += (empty ? "" : " ") + word;
        empty = false;
    }
    return out + line + "\n";
}

std::string figureText(const Block& block) {
    std::vector<Figure> figures;
    for (const std::string& line : linesOf(block.code)) figures.push_back(figureOf(line));
    std::string text;
    for (std::size_t k = 0; k < figures.size(); k += 2) {
        std::vector<FlankMap> maps;
        std::vector<CharacterFlank> flanks;
        const std::size_t end = std::min(k + 2, figures.size());
        for (std::size_t i = k; i < end; ++i)
            maps.push_back(marksOf(*figures[i].setUp.contact, figures[i].setUp.bench).map[index(figures[i].side)]);
        for (std::size_t i = k; i < end; ++i) flanks.push_back({sideAndSet(figures[i]), &maps[i - k]});
        text += characterFlanks(flanks);
        for (std::size_t i = k; i < end; ++i)
            text +=
                wrapped(end - k == 1 ? figures[i].caption
                                     : say(i == k ? "lesson.left-figure" : "lesson.right-figure", figures[i].caption),
                        "  ", "  ");
        text += "\n";
    }
    return text;
}

/// The words of a cell in lines of at most `wide` characters.
std::vector<std::string> cellLines(const std::string& cell, std::size_t wide) {
    std::vector<std::string> lines(1);
    std::istringstream words(cell);
    for (std::string word; words >> word;) {
        if (!lines.back().empty() && lines.back().size() + 1 + word.size() > wide) lines.emplace_back();
        lines.back() += (lines.back().empty() ? "" : " ") + word;
    }
    return lines;
}

/// Columns as wide as their longest cell; the widest give room until the table fits.
std::string tableText(const Block& block) {
    constexpr std::size_t kBetweenColumns = 2, kMinWidth = 6;
    std::vector<std::size_t> width(block.rows[0].size(), 0);
    for (const auto& row : block.rows)
        for (std::size_t k = 0; k < row.size(); ++k) width[k] = std::max(width[k], plainText(row[k]).size());
    const auto total = [&] { return std::accumulate(width.begin(), width.end(), kBetweenColumns * width.size()); };
    while (total() > kLineWidth) {
        const auto widest = std::max_element(width.begin(), width.end());
        if (*widest <= kMinWidth) break;
        --*widest;
    }
    std::string text;
    for (std::size_t r = 0; r < block.rows.size(); ++r) {
        std::vector<std::vector<std::string>> cells;
        std::size_t high = 1;
        for (std::size_t k = 0; k < block.rows[r].size(); ++k) {
            cells.push_back(cellLines(plainText(block.rows[r][k]), width[k]));
            high = std::max(high, cells.back().size());
        }
        for (std::size_t n = 0; n < high; ++n) {
            std::string line;
            for (std::size_t k = 0; k < cells.size(); ++k) {
                std::string part = n < cells[k].size() ? cells[k][n] : "";
                part.resize(width[k], ' ');
                line += std::string(kBetweenColumns, ' ') + part;
            }
            while (!line.empty() && line.back() == ' ') line.pop_back();
            text += line + "\n";
        }
        if (r > 0) continue;
        for (const std::size_t wide : width) text += std::string(kBetweenColumns, ' ') + std::string(wide, '-');
        text += "\n";
    }
    return text + "\n";
}

std::string claimsText(const Block& block, Units units) {
    std::string text = say("lesson.simulated") + "\n";
    for (const std::string& line : linesOf(block.code)) {
        const ClaimResult result = lesson::checkClaim(line);
        const std::string held = say(result.holds ? "lesson.holds" : "lesson.fails-loudly");
        text += wrapped(inUnits(result.words, units), formatted("  %-8s", held.c_str()), "          ");
        text += wrapped(inUnits(result.measured, units), "          ", "          ");
    }
    return text + "\n";
}

std::string linesText(const Block& block) {
    std::string text = say(block.info == "caution" ? "lesson.caution" : "lesson.sources") + "\n";
    for (const std::string& line : linesOf(block.code)) text += wrapped(line, "  - ", "    ");
    return text + "\n";
}

// ---- Page ----

Html claimRow(const ClaimResult& result, Units units) {
    return Html("<tr><td>") + inUnits(result.words, units) + "</td><td>" + inUnits(result.measured, units) +
           "</td><td>" + (result.holds ? Html("<span class=\"yes\">") : Html("<span class=\"no\">")) +
           say(result.holds ? "lesson.holds" : "lesson.fails") + "</span></td></tr>";
}

Html figureHtml(const Block& block) {
    Html html = "<div class=\"figures\">";
    for (const std::string& line : linesOf(block.code)) {
        const Figure figure = figureOf(line);
        const ToothContact& contact = *figure.setUp.contact;
        const BenchMarks marks = marksOf(contact, figure.setUp.bench);
        SvgSketch sketch;
        sketch.title = sideAndSet(figure) + ": " + figure.caption;
        sketch.map = &marks.map[index(figure.side)];
        sketch.pattern = marks.pattern[index(figure.side)];
        sketch.evenHeight = isEvenHeight(contact);
        if (figure.setUp.changed) sketch.cameFrom = marksOf(contact, rightBench(contact)).pattern[index(figure.side)];
        html += Html("<figure>") + flankSvg(sketch) + "<figcaption><b>" + sideAndSet(figure) + "</b> " +
                figure.caption + "</figcaption></figure>";
    }
    return html + "</div>\n";
}

/// "milled|hobbed KIND... | caption": a figure with sliders, which page/figures.js brings to life.
struct Try {
    Cut cut = Cut::FaceMilled;
    std::string kinds, caption;
};

Try tryOf(const std::string& line) {
    const std::size_t stroke = line.find('|');
    check(stroke != std::string::npos, "a figure to try is \"SET KIND... | caption\": " + line);
    std::istringstream words(line.substr(0, stroke));
    Try one;
    std::string word;
    words >> word;
    check(word == "milled" || word == "hobbed", "a figure to try names its set: " + line);
    one.cut = word == "milled" ? Cut::FaceMilled : Cut::FaceHobbed;
    while (words >> word) {
        constexpr std::array kKinds{"depth", "backlash", "offset", "shaft", "film", "crown", "bias"};
        check(std::find(kKinds.begin(), kKinds.end(), word) != kKinds.end(), "no kind of slider: " + line);
        one.kinds += (one.kinds.empty() ? "" : " ") + word;
    }
    check(!one.kinds.empty(), "a figure to try has a slider: " + line);
    one.caption = line.substr(line.find_first_not_of(' ', stroke + 1));
    return one;
}

Html tryHtml(const Block& block) {
    Html html;
    for (const std::string& line : linesOf(block.code)) {
        const Try one = tryOf(line);
        html += Html("<figure class=\"try\" data-cut=\"") + name(one.cut) + "\" data-vary=\"" + one.kinds +
                "\" hidden><figcaption><b>" + say("lesson.try-it", wordFor(one.cut)) + "</b> " + one.caption +
                "</figcaption></figure>\n";
    }
    return html;
}

constexpr std::uint64_t kPhotoSeed = 7;

/// How a lesson's photos come into a page.
enum class Photos { None, Inside, Places };

/// `places` counts the photos of the lesson so far; `before` may be empty.
Html photoHtml(const Block& block, Photos how, int& places, const std::function<void()>& before) {
    Html html;
    for (const std::string& line : linesOf(block.code)) {
        const Figure figure = figureOf(line);
        html += "<figure class=\"photo\"";
        if (how == Photos::Places) html += Html(" data-photo=\"") + std::to_string(places++) + "\"";
        html += ">";
        if (how == Photos::Inside && before) before();
        if (how == Photos::Inside)
            html += Html("<img alt=\"") + say("lesson.rendered-photo", figure.caption) +
                    "\" src=\"data:image/jpeg;base64," +
                    base64(benchPhoto(*figure.setUp.contact, figure.setUp.bench, figure.side, kPhotoSeed)) + "\">";
        html += Html("<figcaption><b>") + sideAndSet(figure) + "</b> " +
                say("lesson.rendered-no-real-gear", figure.caption) + "</figcaption></figure>\n";
    }
    return html;
}

Html listHtml(const Block& block) {
    Html items;
    for (const lesson::Spans& item : block.items) items += Html::element("li", lesson::htmlOf(item));
    return Html::element(block.kind == Block::Kind::Bullets ? "ul" : "ol", items) + "\n";
}

Html tableHtml(const Block& block) {
    Html html = "<div class=\"scroll\" tabindex=\"0\"><table class=\"facts\">";
    for (std::size_t k = 0; k < block.rows.size(); ++k) {
        Html cells;
        for (const lesson::Spans& cell : block.rows[k])
            cells += k == 0 ? Html("<th scope=\"col\">") + lesson::htmlOf(cell) + "</th>"
                            : Html::element("td", lesson::htmlOf(cell));
        const Html row = Html::element("tr", cells);
        html += k == 0 ? Html::element("thead", row) + "<tbody>" : row;
    }
    return html + "</tbody></table></div>\n";
}

Html claimsHtml(const Block& block, Units units) {
    Html html = Html("<details class=\"claims\"><summary>") + say("lesson.checked-by-simulation") +
                "</summary><div class=\"scroll\" tabindex=\"0\"><table class=\"facts\"><thead><tr>";
    for (const char* head : {"lesson.claim", "lesson.measured", "lesson.result"})
        html += Html("<th scope=\"col\">") + say(head) + "</th>";
    html += "</tr></thead><tbody>";
    for (const std::string& line : linesOf(block.code)) html += claimRow(lesson::checkClaim(line), units);
    return html + "</tbody></table></div></details>\n";
}

/// Cautions at the head of a lesson, its sources at the foot: a line each.
Html linesHtml(const Block& block) {
    const bool caution = block.info == "caution";
    Html items;
    for (const std::string& line : linesOf(block.code)) items += Html::element("li", Html::text(line));
    return (caution ? Html("<div class=\"caution\"><strong>") : Html("<div class=\"sources small\"><strong>")) +
           say(caution ? "lesson.caution" : "lesson.sources") + "</strong><ul>" + items + "</ul></div>\n";
}

Html blockHtml(const Block& block, Photos photos, int& places, const std::function<void()>& before, Units units) {
    switch (block.kind) {
        case Block::Kind::Heading:
            // The page has the one h1; a lesson's title is an h2.
            return Html::element("h" + std::to_string(std::min(block.level + 1, 6)), lesson::htmlOf(block.spans)) +
                   "\n";
        case Block::Kind::Paragraph:
            return Html::element("p", lesson::htmlOf(block.spans)) + "\n";
        case Block::Kind::Bullets:
        case Block::Kind::Numbers:
            return listHtml(block);
        case Block::Kind::Table:
            return tableHtml(block);
        case Block::Kind::Fence:
            if (block.info == "figure") return figureHtml(block);
            if (block.info == "try") return tryHtml(block);
            if (block.info == "caution" || block.info == "sources") return linesHtml(block);
            if (block.info == "photo")
                return photos == Photos::None ? Html() : photoHtml(block, photos, places, before);
            return claimsHtml(block, units);
    }
    return {};
}

std::vector<Block> blocksOf(std::string_view name, Units units = Units::Both) {
    std::vector<Block> blocks = parseMarkdown(inUnits(partOf(name).markdown, units));
    check(blocks.size() > 2 && blocks[0].kind == Block::Kind::Heading && blocks[1].kind == Block::Kind::Paragraph,
          "a lesson begins with its title and one sentence that sums it up");
    for (const Block& block : blocks)
        check(block.kind != Block::Kind::Fence || block.info == "figure" || block.info == "try" ||
                  block.info == "photo" || block.info == "claims" || block.info == "caution" || block.info == "sources",
              "a lesson's fenced blocks are figure, try, photo, claims, caution and sources");
    return blocks;
}

Html articleHtml(std::string_view name, const std::vector<Block>& blocks, Photos photos,
                 const std::function<void()>& before = {}, Units units = Units::Both) {
    Html article = Html("<article class=\"lesson\" id=\"") + name + "\">\n";
    int places = 0;
    for (std::size_t k = 0; k < blocks.size(); ++k)
        article += k == 1 ? Html("<p class=\"sum\">") + lesson::htmlOf(blocks[k].spans) + "</p>\n"
                          : blockHtml(blocks[k], photos, places, before, units);
    return article + "</article>\n";
}

}  // namespace

namespace lesson {
namespace {

/// A gear set of the lessons, by its file.
GearSetData dataOf(std::string_view file) { return parseGearSet(part(file), file); }
ToothContact setOf(std::string_view file) { return ToothContact(completeGearSet(dataOf(file))); }

}  // namespace
}  // namespace lesson

const ToothContact& lessonSet(Cut cut) {
    static const ToothContact milled = lesson::setOf("lab-van-rear-axle-b.json");
    static const ToothContact hobbed = lesson::setOf("lab-light-truck-rear-axle.json");
    return cut == Cut::FaceMilled ? milled : hobbed;
}

namespace lesson {
const ToothContact& smallCutterSet() {
    static const ToothContact made = [] {
        GearSetData data = dataOf("lab-van-rear-axle-b.json");
        constexpr double kSmallCutterMm = 76.2;
        data.cutterRadiusMm = kSmallCutterMm;
        return ToothContact(completeGearSet(data));
    }();
    return made;
}

const ToothContact& spiralBevelSet() {
    static const ToothContact made = setOf("lab-farm-truck-spiral-bevel.json");
    return made;
}
}  // namespace lesson

const std::vector<LessonInfo>& lessons() {
    static const std::vector<LessonInfo> all = [] {
        std::vector<LessonInfo> list;
        for (const TextPart& part : lesson::textParts()) {
            const std::vector<Block> blocks = blocksOf(part.name);
            list.push_back({std::string(part.name), plainText(blocks[0].spans), plainText(blocks[1].spans)});
        }
        return list;
    }();
    return all;
}

const LessonInfo* lessonNamed(std::string_view name) {
    const std::vector<LessonInfo>& all = lessons();
    const auto found = std::find_if(all.begin(), all.end(), [&](const LessonInfo& one) { return one.name == name; });
    return found == all.end() ? nullptr : &*found;
}

std::vector<ClaimResult> checkedClaims(std::string_view name) {
    std::vector<ClaimResult> results;
    for (const Block& block : blocksOf(name))
        if (block.kind == Block::Kind::Fence && block.info == "claims")
            for (const std::string& line : linesOf(block.code)) results.push_back(lesson::checkClaim(line));
    return results;
}

std::string lessonText(std::string_view name, Units units) {
    std::string text;
    for (const Block& block : blocksOf(name, units)) {
        switch (block.kind) {
            case Block::Kind::Heading: {
                const std::string title = plainText(block.spans);
                text += title + "\n" + std::string(title.size(), block.level == 1 ? '=' : '-') + "\n\n";
                break;
            }
            case Block::Kind::Paragraph:
                text += wrapped(plainText(block.spans), "", "") + "\n";
                break;
            case Block::Kind::Bullets:
            case Block::Kind::Numbers: {
                int number = 0;
                for (const lesson::Spans& item : block.items)
                    text += wrapped(plainText(item),
                                    block.kind == Block::Kind::Bullets ? "  - " : formatted("%2d. ", ++number), "    ");
                text += "\n";
                break;
            }
            case Block::Kind::Table:
                text += tableText(block);
                break;
            case Block::Kind::Fence:
                if (block.info == "figure") text += figureText(block);
                if (block.info == "claims") text += claimsText(block, units);
                if (block.info == "caution" || block.info == "sources") text += linesText(block);
                break;
        }
    }
    return text;
}

std::string lessonPage(std::string_view name, const LessonPageOptions& options) {
    const bool all = name == "all";
    std::vector<std::string> names;
    if (all)
        for (const LessonInfo& info : lessons()) names.push_back(info.name);
    else
        names.emplace_back(partOf(name).name);

    const auto place = [&] {
        return say("lesson.one-lesson", lessonNamed(name) - lessons().data() + 1, lessons().size());
    };
    Html body = Html("<header class=\"top\"><div class=\"wrap narrow\"><p class=\"brand\">") + say("lesson.brand") +
                "</p><h1>" + (all ? say("lesson.all-lessons") : place()) + "</h1><p class=\"dim\">" +
                inUnits(say("lesson.how-figures-are-made"), options.units) + "</p>";
    if (all) {
        body += Html("<nav aria-label=\"") + say("lesson.lessons") + "\"><ol class=\"contents\">";
        for (const LessonInfo& info : lessons())
            body += Html("<li><a href=\"#") + info.name + "\">" + info.title + "</a></li>";
        body += "</ol></nav>";
    }
    body += "</div></header>\n<main class=\"wrap narrow\">\n";
    int photos = 0, photo = 0;
    for (const std::string& one : names)
        for (const Block& block : blocksOf(one))
            if (block.kind == Block::Kind::Fence && block.info == "photo")
                photos += static_cast<int>(linesOf(block.code).size());
    const auto before = [&] {
        if (options.beforePhoto) options.beforePhoto(++photo, photos);
    };
    std::string title = say("lesson.lessons");
    for (const std::string& one : names) {
        const std::vector<Block> blocks = blocksOf(one, options.units);
        if (!all) title = say("lesson.lesson-title", plainText(blocks[0].spans));
        body += articleHtml(one, blocks, options.photos ? Photos::Inside : Photos::None, before, options.units);
    }
    body += Html("</main>\n<footer class=\"foot\"><div class=\"wrap narrow\"><p>") + Html::markup(makersSheet()) +
            "</p></div></footer>\n";
    return lesson::pageHtml({title, lesson::part("figures.css"), body,
                             lesson::dataScript("lesson-data", lessonFigureData()) +
                                 lesson::scriptParts({"lengths.js", "contact.js", "flank.js", "figures.js"}) +
                                 lesson::script("lessonFigures.start(document, "
                                                "JSON.parse(document.getElementById('lesson-data').textContent));\n"),
                             options.units});
}

std::string lessonFigureData() {
    nlohmann::json data = {{"film_mm", kFilmMm}, {"sets", nlohmann::json::array()}};
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed}) data["sets"].push_back(lesson::setJson(lessonSet(cut)));
    return lesson::scriptJson(data);
}

std::string lessonArticle(std::string_view name) {
    return articleHtml(partOf(name).name, blocksOf(name), Photos::Places).str();
}

std::vector<std::uint8_t> lessonPhoto(std::string_view name, std::size_t number) {
    for (const Block& block : blocksOf(name)) {
        if (block.kind != Block::Kind::Fence || block.info != "photo") continue;
        for (const std::string& line : linesOf(block.code)) {
            if (number-- > 0) continue;
            const Figure figure = figureOf(line);
            return benchPhoto(*figure.setUp.contact, figure.setUp.bench, figure.side, kPhotoSeed);
        }
    }
    throw InputError(message("lesson.no-such-photo"));
}

}  // namespace shimsight
