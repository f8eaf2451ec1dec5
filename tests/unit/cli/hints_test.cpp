// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/hints.h"

#include <catch2/catch.hpp>

using namespace shimsight;

TEST_CASE("the terminal names the option that does what a sentence asks for") {
    CHECK(cli::forTerminal(message("measure.no-backlash")).ends_with(" Option: --backlash."));
    CHECK(cli::forTerminal(message("measure.say-side")).find("--side") != std::string::npos);
    // The sentence itself names none: pages and records show it as it is.
    CHECK(text(message("measure.no-backlash")).find("--") == std::string::npos);
}

TEST_CASE("a sentence without such an option stays as it is") {
    const Message missing = message("measure.side-missing", "coast");
    CHECK(cli::forTerminal(missing) == text(missing));
    CHECK(cli::forTerminal(Message("A name that a person typed")) == "A name that a person typed");
}
