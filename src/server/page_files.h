// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The files of the page, put into the program.
#pragma once

#include <optional>
#include <string_view>

namespace shimsight::server {

struct PageFile {
    std::string_view type, text;
};

/// The file at this path of the page ("/", "/page.css", ...); nullopt: there is none.
std::optional<PageFile> pageFile(std::string_view path);

/// The description of the interface.
std::string_view openApi();

}  // namespace shimsight::server
