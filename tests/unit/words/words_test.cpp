// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/words.h"

#include <catch2/catch.hpp>

#include "words/table.h"

using namespace shimsight;

TEST_CASE("an entry of the table is found by its id and filled with its values") {
    CHECK(say("common.and") == " and ");
    CHECK_THROWS_AS(say("common.no-such-entry"), std::logic_error);
    CHECK_THROWS_AS(say("common.and", "one value too many"), std::logic_error);
    const Message joined = message("common.and");
    CHECK(joined.id == "common.and");
    CHECK(text(joined) == " and ");
}

TEST_CASE("plain text is said as it stands") {
    CHECK(text(Message("{0} of it")) == "{0} of it");
    CHECK(text(Message(43)) == "43");
    CHECK(Message().empty());
    CHECK_FALSE(Message("a").empty());
}

TEST_CASE("a file of the table is read strictly") {
    using words::readTable;
    const auto entries = readTable("shims", "# remark\n\ntake = Take {1} out {0}.\nedge = \" and \"\n");
    REQUIRE(entries.size() == 2);
    CHECK(entries[0].id == "shims.take");
    CHECK(entries[0].places == 2);
    CHECK(entries[1].text == " and ");
    CHECK(words::filled(entries[0].text, {"here", "0.004 in"}) == "Take 0.004 in out here.");
    CHECK_THROWS_AS(readTable("shims", "no sentence\n"), std::logic_error);
    CHECK_THROWS_AS(readTable("shims", "a = b\na = c\n"), std::logic_error);
    CHECK_THROWS_AS(readTable("shims", "a = {0} and {2}\n"), std::logic_error);
}

TEST_CASE("values are not read for places again") {
    CHECK(words::filled("{0}, {0} and {1}", {"{1}", "b"}) == "{1}, {1} and b");
}

TEST_CASE("parts are listed as a sentence lists them") {
    using Parts = std::vector<std::string>;
    CHECK(listed(Parts{}).empty());
    CHECK(listed(Parts{"toe"}) == "toe");
    CHECK(listed(Parts{"toe", "tip"}) == "toe and tip");
    CHECK(listed(Parts{"toe", "heel", "tip"}) == "toe, heel and tip");
}

TEST_CASE("shares and chances in percent, and nothing is quite sure") {
    CHECK(percent(0.496) == "50 %");
    CHECK(chanceWords(0.003) == "under 1 %");
    CHECK(chanceWords(0.92) == "92 %");
    CHECK(chanceWords(0.999) == "over 99 %");
}

TEST_CASE("a time of a record as people read it") {
    CHECK(timeWords("2026-03-02T14:05:00+01:00") == "2 March 2026, 14:05");
    CHECK(timeWords("2026-12-31 08:00:59") == "31 December 2026, 08:00");
    CHECK(timeWords("2026-13-02T14:05:00Z") == "2026-13-02T14:05:00Z");
    CHECK(timeWords("yesterday") == "yesterday");
}

TEST_CASE("the shape of a text: capitals, spaces that do not break, long prints") {
    CHECK(capital("take it out.") == "Take it out.");
    CHECK(capital("").empty());
    CHECK(tied("0.004 in (0.10 mm), 92 %") == "0.004\xC2\xA0in\xC2\xA0(0.10\xC2\xA0mm), 92\xC2\xA0%");
    const std::string longName(2000, 'x');
    CHECK(formatted("%s, %.2f", longName.c_str(), 1.5) == longName + ", 1.50");
    CHECK(text(twoSentences("One.", "Two.")) == "One. Two.");
}
