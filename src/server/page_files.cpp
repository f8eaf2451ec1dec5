#include "server/page_files.h"

#include <array>

#include "server/page_table.h"
#include "shimsight/draw_svg.h"

namespace shimsight::server {

std::optional<PageFile> pageFile(std::string_view path) {
    if (path == "/") path = "/index.html";
    if (path == "/sketch.css") return PageFile{"text/css; charset=utf-8", sketchCss()};
    for (const page::Entry& entry : page::kEntries)
        if (path == entry.path)
            return PageFile{entry.type, {entry.begin, static_cast<std::size_t>(entry.end - entry.begin)}};
    return std::nullopt;
}

std::string_view openApi() {
    return {page::kOpenApi.begin, static_cast<std::size_t>(page::kOpenApi.end - page::kOpenApi.begin)};
}

}  // namespace shimsight::server
