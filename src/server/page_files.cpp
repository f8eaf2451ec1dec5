// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/page_files.h"

#include <array>
#include <string>
#include <utility>

#include "lesson_page.h"
#include "server/embedded.h"
#include "shimsight/draw_svg.h"

namespace shimsight::server {
namespace {

/// By the ending of a file; others are no page files.
constexpr std::array kTypes{std::pair<std::string_view, std::string_view>{".html", "text/html; charset=utf-8"},
                            std::pair<std::string_view, std::string_view>{".css", "text/css; charset=utf-8"},
                            std::pair<std::string_view, std::string_view>{".js", "text/javascript; charset=utf-8"},
                            std::pair<std::string_view, std::string_view>{".webmanifest", "application/manifest+json"},
                            std::pair<std::string_view, std::string_view>{".jpg", "image/jpeg"},
                            std::pair<std::string_view, std::string_view>{".png", "image/png"},
                            std::pair<std::string_view, std::string_view>{".svg", "image/svg+xml"}};

}  // namespace

std::optional<PageFile> pageFile(std::string_view path) {
    if (path == "/") path = "/index.html";
    if (path == "/words.js") {
        static const std::string kScript = lesson::wordsModule();
        return PageFile{"text/javascript; charset=utf-8", kScript};
    }
    if (path == "/sketch.css") return PageFile{"text/css; charset=utf-8", sketchCss()};
    for (const auto& [ending, type] : kTypes) {
        if (!path.ends_with(ending)) continue;
        for (const EmbeddedFile& file : embeddedFiles())
            if (path.starts_with('/') && path.substr(1) == file.name) return PageFile{type, file.bytes};
    }
    return std::nullopt;
}

std::string_view openApi() { return embeddedFile(embeddedFiles(), "openapi.json"); }

}  // namespace shimsight::server
