// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/html.h"

#include <catch2/catch.hpp>
#include <string>
#include <string_view>

using namespace shimsight;

TEST_CASE("what is no literal is escaped") {
    const std::string name = "<b>\"van\" & 'truck'</b>";
    const Html cell = Html("<td title=\"") + name + "\">" + std::string_view("<") + "</td>";
    CHECK(cell.str() == "<td title=\"&lt;b&gt;&quot;van&quot; &amp; &#39;truck&#39;&lt;/b&gt;\">&lt;</td>");
    const char* chosen = name.empty() ? "<br>" : "<hr/>";
    CHECK((Html() + chosen).str() == "&lt;hr/&gt;");
}

TEST_CASE("markup goes in as it is, once told to be markup") {
    const std::string style = "p > b { margin: 0 }";
    Html page = "<style>";
    page += Html::markup(style);
    page += "</style>";
    CHECK(page.str() == "<style>p > b { margin: 0 }</style>");
    CHECK((Html("<p>") + page).str() == "<p><style>p > b { margin: 0 }</style>");
    CHECK(Html::text("a < b").str() == "a &lt; b");
    CHECK(Html::element("em", Html::text("<")).str() == "<em>&lt;</em>");
    CHECK(Html().empty());
}

TEST_CASE("text for pages is escaped, and broken text is replaced") {
    CHECK(escapedHtml("<b onclick='x'>&\"") == "&lt;b onclick=&#39;x&#39;&gt;&amp;&quot;");
    CHECK(escapedHtml("Z\xC3\xBCrich\n") == "Z\xC3\xBCrich\n");
    const std::string bad = "\xEF\xBF\xBD";
    CHECK(escapedHtml("\xC3") == bad);
    CHECK(escapedHtml("\xC0\xAF") == bad + bad);            // an overlong slash
    CHECK(escapedHtml("\xED\xA0\x80") == bad + bad + bad);  // half of a surrogate pair
    CHECK(escapedHtml("\xF0\x9F\x94\xA7") == "\xF0\x9F\x94\xA7");
    CHECK(escapedHtml(std::string("a\0b\x1B", 4)) == "a" + bad + "b" + bad);
    CHECK(escapedHtml("\xC2\x9B") == bad);
}
