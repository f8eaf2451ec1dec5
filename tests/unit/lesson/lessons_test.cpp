// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "lesson/markdown.h"
#include "lesson_page.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/lesson_parts.h"

using namespace shimsight;

TEST_CASE("lessons read well on a terminal of 80 columns") {
    for (const LessonInfo& lesson : lessons()) {
        std::istringstream text(lessonText(lesson.name));
        int lines = 0;
        for (std::string line; std::getline(text, line); ++lines) {
            INFO(lesson.name << ": " << line);
            CHECK(line.size() <= 80);
            CHECK(line.find("FAILS") == std::string::npos);
        }
        CHECK(lines > 20);
    }
    CHECK_THROWS_AS(lessonText("nothing"), InputError);
}

TEST_CASE("the page of all lessons is one small file that asks for nothing") {
    const std::string page = lessonPage("all");
    for (const LessonInfo& lesson : lessons()) CHECK(page.find("id=\"" + lesson.name + "\"") != std::string::npos);
    CHECK(page.size() < 1'200'000);
    CHECK(page.find("http") == std::string::npos);
    CHECK(page.find("class=\"no\"") == std::string::npos);
    CHECK(lessonPage("depth").find("<title>Lesson: Pinion depth</title>") != std::string::npos);
}

TEST_CASE("a page carries the words that its scripts say, and no others") {
    const std::regex spoken("\"((?:page|lesson|common|advice)\\.[a-z0-9-]+)\"(:?)");
    for (const std::string& page : {lessonPage("depth"), livePage(std::array{&lessonSet(Cut::FaceMilled)})}) {
        // The entry of the table is followed by a colon.
        std::set<std::string> said, carried;
        for (std::sregex_iterator found(page.begin(), page.end(), spoken), end; found != end; ++found)
            ((*found)[2].length() > 0 ? carried : said).insert((*found)[1]);
        CHECK(said.size() > 20);
        CHECK(said == carried);
    }
}

TEST_CASE("a frame takes its words escaped") {
    CHECK(lesson::inWords("<b>{{common.toe}}</b>, {{lesson.makers-sheet}}")
              .str()
              .starts_with("<b>toe</b>, The maker&#39;s sheet"));
    CHECK(lesson::inWords("no place").str() == "no place");
    CHECK_THROWS_AS(lesson::inWords("{{common.nothing}}"), std::logic_error);
    CHECK_THROWS_AS(lesson::inWords("{{common.toe"), std::logic_error);
}

TEST_CASE("each lesson has figures, one to try, and a photo") {
    const auto countIn = [](const std::string& text, const std::string& word) {
        int count = 0;
        for (std::size_t at = 0; (at = text.find(word, at)) != std::string::npos; at += word.size()) ++count;
        return count;
    };
    for (const LessonInfo& lesson : lessons()) {
        INFO(lesson.name);
        const std::string article = lessonArticle(lesson.name);
        CHECK(countIn(article, "class=\"fk\"") >= 1);
        CHECK(countIn(article, "<figure class=\"try\" data-cut=\"face-") >= 1);
        CHECK(countIn(article, "data-photo=\"") >= 1);
        CHECK(countIn(article, "<script") == 0);
    }
    const std::string data = lessonFigureData();
    CHECK(data.find("face-milled") != std::string::npos);
    CHECK(data.find("face-hobbed") != std::string::npos);
    for (const char* name : {"words.js", "contact.js", "flank.js", "figures.js", "three.js", "live.js"})
        CHECK(lessonScript(name));
    CHECK_FALSE(lessonScript("drill.js"));
}

TEST_CASE("lessons name their sources, and hands are cautioned first") {
    // Those without a hand at an axle, and the one that is all caution.
    const std::vector<std::string> noHands{"safety", "tooth", "good", "cuts", "bias"};
    CHECK(lessons().front().name == "safety");
    for (const LessonInfo& lesson : lessons()) {
        INFO(lesson.name);
        const std::string text = lessonText(lesson.name);
        const std::size_t from = text.find("Where this comes from\n");
        REQUIRE(from != std::string::npos);
        const std::string sources = text.substr(from);
        const bool named = sources.find("manual") != std::string::npos || sources.find("TM ") != std::string::npos ||
                           sources.find("no source") != std::string::npos ||
                           sources.find("simulated") != std::string::npos;
        CHECK(named);
        const bool hands = std::find(noHands.begin(), noHands.end(), lesson.name) == noHands.end();
        const std::size_t caution = text.find("Caution\n  - ");
        CHECK((caution != std::string::npos) == hands);
        // Right after the sentence that sums it up.
        if (hands) CHECK(caution < 400);
    }
}

TEST_CASE("lessons tell lengths in both units, or in the one that is wished") {
    const std::regex inches("[0-9] in[ ,.:;)]"), pairs("[0-9] in \\([-+]?[0-9]");
    const auto countOf = [](const std::string& text, const std::regex& what) {
        return std::distance(std::sregex_iterator(text.begin(), text.end(), what), std::sregex_iterator());
    };
    int lengths = 0;
    for (const LessonInfo& lesson : lessons()) {
        const auto body = [&](Units units) {
            std::string text = lessonText(lesson.name, units);
            for (std::size_t at = 0; (at = text.find('\n', at)) != std::string::npos;) text[at] = ' ';
            return std::regex_replace(text, std::regex(" +"), " ");
        };
        INFO(lesson.name);
        const std::string both = body(Units::Both);
        CHECK(countOf(both, inches) == countOf(both, pairs));
        lengths += static_cast<int>(countOf(both, pairs));
        CHECK(countOf(body(Units::Inch), std::regex("[0-9] mm")) == 0);
        CHECK(countOf(body(Units::Metric), inches) == 0);
        // On a page as well, what was simulated with it. Its scripts are not read.
        LessonPageOptions metric;
        metric.units = Units::Metric;
        const std::string page = lessonPage(lesson.name, metric), article = page.substr(0, page.find("<script"));
        CHECK(countOf(article, std::regex("[0-9](in|thou)[ ,.:;<]")) == 0);
        CHECK(countOf(article, std::regex("[0-9] in[ ,.:;)<]")) == 0);
    }
    CHECK(lengths > 45);
    CHECK(inUnits("0.003 to 0.005 in (0.08 to 0.13 mm), 10 lb-ft (14 Nm)", Units::Metric) == "0.08 to 0.13 mm, 14 Nm");
    CHECK(inUnits("milled deeper 0.005in", Units::Metric) == "milled deeper 0.005in");
}

TEST_CASE("Markdown of lessons") {
    const auto blocks = lesson::parseMarkdown(
        "# A & B\n\nText **bold** and `code`\nhere.\n\n- one\n- two *x*\n\n| a | b |\n|---|---|\n| 1 | 2 "
        "|\n\n```claims\nx: y\n```\n");
    REQUIRE(blocks.size() == 5);
    CHECK(lesson::htmlOf(blocks[0].spans).str() == "A &amp; B");
    CHECK(lesson::htmlOf(blocks[1].spans).str() == "Text <strong>bold</strong> and <code>code</code> here.");
    REQUIRE(blocks[2].items.size() == 2);
    CHECK(lesson::htmlOf(blocks[2].items[1]).str() == "two <em>x</em>");
    REQUIRE(blocks[3].rows.size() == 2);
    CHECK(lesson::plainText(blocks[3].rows[1][1]) == "2");
    CHECK(blocks[4].info == "claims");
    CHECK(blocks[4].code == "x: y\n");
    CHECK_THROWS_AS(lesson::parseMarkdown("[a](http://b)"), std::logic_error);
}
