// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>

#include "shimsight/core.h"
#include "shimsight/settings.h"
#include "support/temp_dir.h"

using namespace shimsight;
using Catch::Contains;

TEST_CASE("a shop's settings are read strictly", "[records]") {
    const Settings settings = parseSettings(
        R"({"schema": "shimsight/settings/1", "units": "mm", "by": "Mira", "shop": "College drivetrain lab"})",
        "s.json");
    CHECK(settings.units == Units::Metric);
    CHECK(settings.by == "Mira");
    CHECK(settings.shop == "College drivetrain lab");
    CHECK(parseSettings(R"({"schema": "shimsight/settings/1"})", "s.json").units == Units::Both);
    CHECK_THROWS_WITH(parseSettings(R"({"schema": "shimsight/settings/1", "units": "cm"})", "s.json"),
                      Contains("s.json") && Contains("units"));
    CHECK_THROWS_WITH(parseSettings(R"({"schema": "shimsight/settings/1", "unit": "mm"})", "s.json"), Contains("unit"));
    CHECK_THROWS_AS(parseSettings("{}", "s.json"), InputError);
    CHECK_THROWS_AS(parseSettings("[1", "s.json"), InputError);
}

TEST_CASE("the settings lie where the XDG Base Directory Specification has them", "[records]") {
    const test::TempDir dir;
    const auto kept = [](const char* name) {
        return std::getenv(name) != nullptr ? std::string(std::getenv(name)) : "";
    };
    const std::string config = kept("XDG_CONFIG_HOME"), home = kept("HOME");
    ::setenv("XDG_CONFIG_HOME", dir.path().c_str(), 1);
    CHECK(settingsPlace() == dir.path() / "shimsight" / "settings.json");
    CHECK(readSettings().units == Units::Both);  // no file is no fault
    std::filesystem::create_directories(dir.path() / "shimsight");
    std::ofstream(settingsPlace()) << R"({"schema": "shimsight/settings/1", "units": "in"})";
    CHECK(readSettings().units == Units::Inch);
    // The specification: a relative path is to be ignored.
    ::setenv("XDG_CONFIG_HOME", "relative", 1);
    ::setenv("HOME", "/home/nobody", 1);
    CHECK(settingsPlace() == "/home/nobody/.config/shimsight/settings.json");
    ::setenv("XDG_CONFIG_HOME", config.c_str(), 1);
    ::setenv("HOME", home.c_str(), 1);
}
