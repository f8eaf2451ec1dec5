// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "lesson/parts.h"

#include <array>

#include "lesson/embedded.h"
#include "lesson_page.h"
#include "shimsight/draw_svg.h"
#include "shimsight/html.h"
#include "shimsight/words.h"

namespace shimsight::lesson {

std::span<const TextPart> textParts() {
    static const auto parts = [] {
        std::array names = std::to_array<std::string_view>(
            {"safety", "tooth", "order",   "compound", "brush",    "good",   "depth",   "backlash",   "both",
             "cuts",   "bias",  "shims",   "runout",   "bearings", "sleeve", "spacer",  "side-shims", "adjusters",
             "tool",   "four",  "no-shim", "used",     "noise",    "front",  "break-in"});
        std::array<TextPart, names.size()> made;
        for (std::size_t i = 0; i < names.size(); ++i) made[i] = {names[i], part(std::string(names[i]) + ".md")};
        return made;
    }();
    return parts;
}

namespace {
constexpr std::string_view kLengthsScript = "lengths.js";
}  // namespace

std::string_view part(std::string_view file) { return embeddedFile(embeddedFiles(), file); }

std::string pageHtml(const Page& page) {
    Html html = "<!doctype html>\n<html lang=\"en\" data-units=\"";
    html += name(page.units);
    html +=
        "\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
        "<meta name=\"referrer\" content=\"no-referrer\">\n<link rel=\"icon\" href=\"data:,\">\n<title>";
    html += page.title;
    html += "</title>\n<style>\n";
    for (const std::string_view css : {sketchCss(), part("page.css"), page.css}) html += Html::markup(css);
    html += Html("</style>\n</head>\n<body>\n") + page.body + page.scripts + "</body>\n</html>\n";
    return html.str();
}

Html script(std::string_view code) { return Html("<script>\n") + Html::markup(code) + "</script>\n"; }

namespace {

/// `var lengths = ...` of a module that imports nothing.
std::string moduleObject(std::string_view name, std::string_view code) {
    constexpr std::string_view kExport = "\nexport ";
    std::string body(code), exports;
    for (std::size_t at = 0; (at = body.find(kExport, at)) != std::string::npos;) {
        body.erase(at + 1, kExport.size() - 1);
        // "function NAME(" or "const NAME ="
        const std::size_t begin = body.find(' ', at) + 1;
        exports += body.substr(begin, body.find_first_of(" (", begin) - begin) + ", ";
        at = begin;
    }
    return "var " + std::string(name) + " = (() => {\n" + body + "return { " + exports + "};\n})();\n";
}

}  // namespace

Html scriptParts(std::initializer_list<std::string_view> files) {
    Html html;
    std::string spoken;
    for (const std::string_view file : files) {
        if (file != "three.js") spoken += part(file);  // it says nothing, and is large
        html += script(file == kLengthsScript ? moduleObject("lengths", part(file)) : part(file));
    }
    return script(wordsScript(spoken)) + html;
}

std::string plainSketchCss() {
    // The colours of the first :root rule, then the rules without those of media queries.
    std::string css(sketchCss());
    const std::size_t open = css.find('{'), close = css.find('}');
    const std::string colours = css.substr(open + 1, close - open - 1) + ";";
    std::string rules;
    for (std::size_t at = 0; at < css.size();) {
        const std::size_t end = std::min(css.find('\n', at), css.size());
        if (css.compare(at, 3, ".fk") == 0) rules += css.substr(at, end - at) + "\n";
        at = end + 1;
    }
    for (std::size_t at = 0; (at = rules.find("var(", at)) != std::string::npos;) {
        const std::size_t end = rules.find(')', at);
        const std::string variable = rules.substr(at + 4, end - at - 4) + ":";
        const std::size_t found = colours.find(variable);
        const std::size_t value = found + variable.size();
        rules.replace(at, end + 1 - at,
                      found == std::string::npos ? "#000" : colours.substr(value, colours.find(';', value) - value));
    }
    return rules;
}

}  // namespace shimsight::lesson
