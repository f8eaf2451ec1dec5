#include "server/page_files.h"

#include <nlohmann/json.hpp>
#include <string>

#include "server/page_table.h"
#include "shimsight/draw_svg.h"
#include "shimsight/words.h"

namespace shimsight::server {

namespace {

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
    for (const page::Entry& entry : page::kEntries)
        if (path == entry.path)
            return PageFile{entry.type, {entry.begin, static_cast<std::size_t>(entry.end - entry.begin)}};
    return std::nullopt;
}

std::string_view openApi() {
    return {page::kOpenApi.begin, static_cast<std::size_t>(page::kOpenApi.end - page::kOpenApi.begin)};
}

}  // namespace shimsight::server
