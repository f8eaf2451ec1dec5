/// What is put into the program: texts, page parts, gear sets; and what the pages share.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "shimsight/gear_set.h"

namespace shimsight::lesson {

/// A lesson's text as written, "NAME.md" under src/lesson/text. In the order in which they are taught.
struct TextPart {
    std::string_view name, markdown;
};
std::span<const TextPart> textParts();

std::string_view pageCss();
std::string_view threeScript();  ///< three.js, bundled; its licence stands in its head
std::string_view figuresCss();
std::string_view figuresScript();  ///< figures of lessons that can be tried
std::string_view contactScript();  ///< the fast model in JavaScript
std::string_view flankScript();    ///< flanks on canvas, and words
std::string_view markingScript();  ///< answers of the drill
std::string_view gameScript();
std::string_view gameBody();
std::string_view drillScript();
std::string_view drillCss();
std::string_view drillBody();
std::string_view liveScript();
std::string_view liveCss();
std::string_view liveBody();
std::string_view gearSetText(Cut cut);

/// A whole page of one file. `title` is plain text, the rest HTML, CSS and JavaScript.
struct Page {
    std::string title;
    std::string_view css;  ///< besides the shared one
    std::string body;
    std::string scripts;  ///< whole <script> elements
};
std::string pageHtml(const Page& page);

/// A script element.
std::string script(std::string_view code);

/// The style of flank sketches with plain colours for light paper, for pictures that are no page.
std::string plainSketchCss();

std::string base64(std::span<const std::uint8_t> bytes);

/// "face-milled" / "face-hobbed".
std::string cutWords(Cut cut);

}  // namespace shimsight::lesson
