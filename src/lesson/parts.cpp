#include "lesson/parts.h"

#include <array>

#include "shimsight/draw_svg.h"

// One symbol for the begin and one for the end of each file.
#define SHIMSIGHT_PART(name, file)                                                                      \
    asm(".section .rodata\n.globl shimsightLesson" #name "\nshimsightLesson" #name ":\n.incbin \"" file \
        "\"\n.globl shimsightLesson" #name "End\nshimsightLesson" #name "End:\n.text\n");               \
    extern "C" {                                                                                        \
    extern const char shimsightLesson##name[], shimsightLesson##name##End[];                            \
    }
#define SHIMSIGHT_TEXT_OF(name)             \
    std::string_view(shimsightLesson##name, \
                     static_cast<std::size_t>(shimsightLesson##name##End - shimsightLesson##name))

SHIMSIGHT_PART(Tooth, SHIMSIGHT_LESSON_DIR "/text/tooth.md")
SHIMSIGHT_PART(Compound, SHIMSIGHT_LESSON_DIR "/text/compound.md")
SHIMSIGHT_PART(Good, SHIMSIGHT_LESSON_DIR "/text/good.md")
SHIMSIGHT_PART(Depth, SHIMSIGHT_LESSON_DIR "/text/depth.md")
SHIMSIGHT_PART(Backlash, SHIMSIGHT_LESSON_DIR "/text/backlash.md")
SHIMSIGHT_PART(Both, SHIMSIGHT_LESSON_DIR "/text/both.md")
SHIMSIGHT_PART(Cuts, SHIMSIGHT_LESSON_DIR "/text/cuts.md")
SHIMSIGHT_PART(Bias, SHIMSIGHT_LESSON_DIR "/text/bias.md")
SHIMSIGHT_PART(Shims, SHIMSIGHT_LESSON_DIR "/text/shims.md")
SHIMSIGHT_PART(Runout, SHIMSIGHT_LESSON_DIR "/text/runout.md")
SHIMSIGHT_PART(NoShim, SHIMSIGHT_LESSON_DIR "/text/no-shim.md")
SHIMSIGHT_PART(Used, SHIMSIGHT_LESSON_DIR "/text/used.md")
SHIMSIGHT_PART(Safety, SHIMSIGHT_LESSON_DIR "/text/safety.md")
SHIMSIGHT_PART(PageCss, SHIMSIGHT_LESSON_DIR "/page/page.css")
SHIMSIGHT_PART(LiveCss, SHIMSIGHT_LESSON_DIR "/page/live.css")
SHIMSIGHT_PART(LiveBody, SHIMSIGHT_LESSON_DIR "/page/live.html")
SHIMSIGHT_PART(FiguresCss, SHIMSIGHT_LESSON_DIR "/page/figures.css")
SHIMSIGHT_PART(FiguresScript, SHIMSIGHT_LESSON_DIR "/page/figures.js")
SHIMSIGHT_PART(LiveScript, SHIMSIGHT_LESSON_DIR "/page/live.js")
SHIMSIGHT_PART(ContactScript, SHIMSIGHT_LESSON_DIR "/page/contact.js")
SHIMSIGHT_PART(Three, SHIMSIGHT_LESSON_DIR "/page/three.js")
SHIMSIGHT_PART(FlankScript, SHIMSIGHT_LESSON_DIR "/page/flank.js")
SHIMSIGHT_PART(MarkingScript, SHIMSIGHT_LESSON_DIR "/page/marking.js")
SHIMSIGHT_PART(GameScript, SHIMSIGHT_LESSON_DIR "/page/game.js")
SHIMSIGHT_PART(GameBody, SHIMSIGHT_LESSON_DIR "/page/game.html")
SHIMSIGHT_PART(DrillScript, SHIMSIGHT_LESSON_DIR "/page/drill.js")
SHIMSIGHT_PART(DrillCss, SHIMSIGHT_LESSON_DIR "/page/drill.css")
SHIMSIGHT_PART(DrillBody, SHIMSIGHT_LESSON_DIR "/page/drill.html")
SHIMSIGHT_PART(Milled, SHIMSIGHT_SETS_DIR "/lab-van-rear-axle-b.json")
SHIMSIGHT_PART(Hobbed, SHIMSIGHT_SETS_DIR "/lab-light-truck-rear-axle.json")

namespace shimsight::lesson {

std::span<const TextPart> textParts() {
    static const std::array parts{
        TextPart{"tooth", SHIMSIGHT_TEXT_OF(Tooth)},       TextPart{"compound", SHIMSIGHT_TEXT_OF(Compound)},
        TextPart{"good", SHIMSIGHT_TEXT_OF(Good)},         TextPart{"depth", SHIMSIGHT_TEXT_OF(Depth)},
        TextPart{"backlash", SHIMSIGHT_TEXT_OF(Backlash)}, TextPart{"both", SHIMSIGHT_TEXT_OF(Both)},
        TextPart{"cuts", SHIMSIGHT_TEXT_OF(Cuts)},         TextPart{"bias", SHIMSIGHT_TEXT_OF(Bias)},
        TextPart{"shims", SHIMSIGHT_TEXT_OF(Shims)},       TextPart{"runout", SHIMSIGHT_TEXT_OF(Runout)},
        TextPart{"no-shim", SHIMSIGHT_TEXT_OF(NoShim)},    TextPart{"used", SHIMSIGHT_TEXT_OF(Used)},
        TextPart{"safety", SHIMSIGHT_TEXT_OF(Safety)}};
    return parts;
}

std::string_view pageCss() { return SHIMSIGHT_TEXT_OF(PageCss); }
std::string_view liveCss() { return SHIMSIGHT_TEXT_OF(LiveCss); }
std::string_view liveBody() { return SHIMSIGHT_TEXT_OF(LiveBody); }
std::string_view liveScript() { return SHIMSIGHT_TEXT_OF(LiveScript); }
std::string_view figuresCss() { return SHIMSIGHT_TEXT_OF(FiguresCss); }
std::string_view figuresScript() { return SHIMSIGHT_TEXT_OF(FiguresScript); }
std::string_view contactScript() { return SHIMSIGHT_TEXT_OF(ContactScript); }
std::string_view threeScript() { return SHIMSIGHT_TEXT_OF(Three); }
std::string_view flankScript() { return SHIMSIGHT_TEXT_OF(FlankScript); }
std::string_view markingScript() { return SHIMSIGHT_TEXT_OF(MarkingScript); }
std::string_view gameScript() { return SHIMSIGHT_TEXT_OF(GameScript); }
std::string_view gameBody() { return SHIMSIGHT_TEXT_OF(GameBody); }
std::string_view drillScript() { return SHIMSIGHT_TEXT_OF(DrillScript); }
std::string_view drillCss() { return SHIMSIGHT_TEXT_OF(DrillCss); }
std::string_view drillBody() { return SHIMSIGHT_TEXT_OF(DrillBody); }
std::string_view gearSetText(Cut cut) {
    return cut == Cut::FaceMilled ? SHIMSIGHT_TEXT_OF(Milled) : SHIMSIGHT_TEXT_OF(Hobbed);
}

std::string pageHtml(const Page& page) {
    std::string html =
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
        "<meta name=\"referrer\" content=\"no-referrer\">\n<link rel=\"icon\" href=\"data:,\">\n<title>" +
        escapedHtml(page.title) + "</title>\n<style>\n";
    html += sketchCss();
    html += pageCss();
    html += page.css;
    html += "</style>\n</head>\n<body>\n" + page.body + page.scripts + "</body>\n</html>\n";
    return html;
}

std::string script(std::string_view code) { return "<script>\n" + std::string(code) + "</script>\n"; }

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

std::string base64(std::span<const std::uint8_t> bytes) {
    static constexpr std::string_view kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t k = 0; k < bytes.size(); k += 3) {
        const auto byte = [&](std::size_t i) { return i < bytes.size() ? std::uint32_t{bytes[i]} : 0U; };
        const std::uint32_t bits = byte(k) << 16U | byte(k + 1) << 8U | byte(k + 2);
        for (unsigned i = 0; i < 4; ++i) text += k + i > bytes.size() ? '=' : kDigits[bits >> (18 - 6 * i) & 63U];
    }
    return text;
}

std::string cutWords(Cut cut) { return cut == Cut::FaceMilled ? "face-milled" : "face-hobbed"; }

}  // namespace shimsight::lesson
