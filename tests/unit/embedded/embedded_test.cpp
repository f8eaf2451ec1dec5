// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/embedded.h"

#include <array>
#include <catch2/catch.hpp>
#include <stdexcept>

using namespace shimsight;

TEST_CASE("a file in the program is found by its name") {
    constexpr std::array kFiles{EmbeddedFile{"a.css", "one"}, EmbeddedFile{"b.css", "two"}};
    CHECK(embeddedFile(kFiles, "b.css") == "two");
    CHECK_THROWS_AS(embeddedFile(kFiles, "c.css"), std::logic_error);
}
