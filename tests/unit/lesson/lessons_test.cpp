#include <catch2/catch.hpp>
#include <sstream>

#include "lesson/markdown.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"

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
    CHECK(page.size() < 300'000);
    CHECK(page.find("http") == std::string::npos);
    CHECK(page.find("class=\"no\"") == std::string::npos);
    CHECK(lessonPage("depth").find("<title>Lesson: Pinion depth</title>") != std::string::npos);
}

TEST_CASE("Markdown of lessons") {
    const auto blocks = lesson::parseMarkdown(
        "# A & B\n\nText **bold** and `code`\nhere.\n\n- one\n- two *x*\n\n| a | b |\n|---|---|\n| 1 | 2 "
        "|\n\n```claims\nx: y\n```\n");
    REQUIRE(blocks.size() == 5);
    CHECK(lesson::htmlOf(blocks[0].spans) == "A &amp; B");
    CHECK(lesson::htmlOf(blocks[1].spans) == "Text <strong>bold</strong> and <code>code</code> here.");
    REQUIRE(blocks[2].items.size() == 2);
    CHECK(lesson::htmlOf(blocks[2].items[1]) == "two <em>x</em>");
    REQUIRE(blocks[3].rows.size() == 2);
    CHECK(lesson::plainText(blocks[3].rows[1][1]) == "2");
    CHECK(blocks[4].info == "claims");
    CHECK(blocks[4].code == "x: y\n");
    CHECK_THROWS_AS(lesson::parseMarkdown("[a](http://b)"), std::logic_error);
}
