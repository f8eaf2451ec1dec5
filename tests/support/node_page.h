// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Pages run by Node as a browser would, to hold their JavaScript to the engine.
#pragma once

#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

namespace shimsight::test {

struct PageFolder {
    std::filesystem::path path =
        std::filesystem::temp_directory_path() / ("shimsight-page-" + std::to_string(::getpid()));
    PageFolder() {
        std::filesystem::remove_all(path);
        std::filesystem::create_directories(path);
    }
    ~PageFolder() { std::filesystem::remove_all(path); }
};

/// What `script` of tests/unit ("lesson/live_numbers.js") prints for a page and a file beside it.
inline nlohmann::json ranByNode(const PageFolder& folder, const char* script, const std::string& page,
                                const nlohmann::json& beside) {
    std::ofstream(folder.path / "page.html") << page;
    std::ofstream(folder.path / "beside.json") << beside.dump();
    const std::string command = std::string("\"") + SHIMSIGHT_NODE + "\" \"" + SHIMSIGHT_SOURCE_DIR + "/tests/unit/" +
                                script + "\" \"" + (folder.path / "page.html").string() + "\" \"" +
                                (folder.path / "beside.json").string() + "\" > \"" +
                                (folder.path / "result.json").string() + "\"";
    REQUIRE(std::system(command.c_str()) == 0);
    return nlohmann::json::parse(std::ifstream(folder.path / "result.json"));
}

}  // namespace shimsight::test
