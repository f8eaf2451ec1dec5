#include "server/page_files.h"

#include <array>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>

#include "server/embedded.h"
#include "shimsight/draw_svg.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

/// By the ending of a file; others are no page files.
constexpr std::array kTypes{std::pair<std::string_view, std::string_view>{".html", "text/html; charset=utf-8"},
                            std::pair<std::string_view, std::string_view>{".css", "text/css; charset=utf-8"},
                            std::pair<std::string_view, std::string_view>{".js", "text/javascript; charset=utf-8"},
                            std::pair<std::string_view, std::string_view>{".jpg", "image/jpeg"},
                            std::pair<std::string_view, std::string_view>{".svg", "image/svg+xml"}};

/// The page's entries of the table of words as a module, with the function that fills them.
std::string wordsScript() {
    constexpr std::string_view kTopic = "page.";
    nlohmann::ordered_json table = nlohmann::ordered_json::object();
    for (const WordEntry& entry : wordTable())
        if (entry.id.starts_with(kTopic)) table[std::string(entry.id)] = std::string(entry.text);
    return "const TABLE = " + table.dump() + R"js(;
export function say(id, ...values) {
    if (!(id in TABLE)) throw new Error(`no words for ${id}`);
    return TABLE[id].replace(/\{(\d)\}/g, (_, place) => values[place]);
}
)js";
}

}  // namespace

std::optional<PageFile> pageFile(std::string_view path) {
    if (path == "/") path = "/index.html";
    if (path == "/words.js") {
        static const std::string kScript = wordsScript();
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
