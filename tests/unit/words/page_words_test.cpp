// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "shimsight/words.h"

using namespace shimsight;

TEST_CASE("what stands in HTML as it is holds no sign that HTML reads") {
    // Of the review the entries of its page; those before tell what photos and record say, and are escaped.
    bool inReviewPage = false;
    int seen = 0;
    for (const WordEntry& entry : wordTable()) {
        inReviewPage = entry.id == "review.title" || (inReviewPage && entry.id.starts_with("review."));
        if (!entry.id.starts_with("report.") && !inReviewPage) continue;
        ++seen;
        INFO(entry.id);
        CHECK(entry.text.find_first_of("<>&\"") == std::string_view::npos);
    }
    CHECK(seen > 150);
}
