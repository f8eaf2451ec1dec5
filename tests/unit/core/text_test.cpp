// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/text.h"

#include <catch2/catch.hpp>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

using namespace shimsight;

TEST_CASE("fields of a table as RFC 4180 has them, and no formulas") {
    CHECK(csvField("van 17") == "van 17");
    CHECK(csvField("6\", worn") == "\"6\"\", worn\"");
    CHECK(csvField("two\nlines") == "\"two\nlines\"");
    CHECK(csvField("-0.05") == "-0.05");
    CHECK(csvField("=1+1") == "'=1+1");
    CHECK(csvField("-cmd") == "'-cmd");
    CHECK(csvField("a\x1B[2J") == "a [2J");
}

TEST_CASE("base64 by the table of RFC 4648, section 10, and back") {
    const std::vector<std::pair<std::string, std::string>> table{{"", ""},
                                                                 {"f", "Zg=="},
                                                                 {"fo", "Zm8="},
                                                                 {"foo", "Zm9v"},
                                                                 {"foob", "Zm9vYg=="},
                                                                 {"fooba", "Zm9vYmE="},
                                                                 {"foobar", "Zm9vYmFy"}};
    for (const auto& [plain, coded] : table) {
        const std::vector<std::uint8_t> bytes(plain.begin(), plain.end());
        CHECK(base64(bytes) == coded);
        CHECK(bytesOfBase64(coded) == bytes);
    }
    CHECK(bytesOfBase64("Zm9vYg") == bytesOfBase64("Zm9vYg=="));
    CHECK_FALSE(bytesOfBase64("Zm9v!"));
    CHECK_FALSE(bytesOfBase64("Zm 9v"));
}
