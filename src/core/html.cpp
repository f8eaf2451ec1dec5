// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/html.h"

namespace shimsight {

std::string escapedHtml(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    const auto byteAt = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    for (std::size_t i = 0; i < text.size();) {
        const unsigned char c = byteAt(i);
        if (c < 0x80) {
            switch (c) {
                case '&':
                    out += "&amp;";
                    break;
                case '<':
                    out += "&lt;";
                    break;
                case '>':
                    out += "&gt;";
                    break;
                case '"':
                    out += "&quot;";
                    break;
                case '\'':
                    out += "&#39;";
                    break;
                default:
                    if ((c < 0x20 && c != '\n' && c != '\t') || c == 0x7F)
                        out += "\xEF\xBF\xBD";
                    else
                        out += static_cast<char>(c);
            }
            ++i;
            continue;
        }
        // Lead byte, least and most value of the byte after it (Unicode 15, table 3-7), then plain continuation bytes.
        std::size_t length = 0;
        unsigned char low = 0x80, high = 0xBF;
        if (c >= 0xC2 && c <= 0xDF) length = 2;
        if (c >= 0xE0 && c <= 0xEF) length = 3, low = c == 0xE0 ? 0xA0 : 0x80, high = c == 0xED ? 0x9F : 0xBF;
        if (c >= 0xF0 && c <= 0xF4) length = 4, low = c == 0xF0 ? 0x90 : 0x80, high = c == 0xF4 ? 0x8F : 0xBF;
        bool whole = length > 0 && i + length <= text.size() && byteAt(i + 1) >= low && byteAt(i + 1) <= high;
        for (std::size_t k = 2; whole && k < length; ++k) whole = byteAt(i + k) >= 0x80 && byteAt(i + k) <= 0xBF;
        // C1 control characters are no text either.
        if (whole && c == 0xC2 && byteAt(i + 1) < 0xA0) {
            out += "\xEF\xBF\xBD";
            i += 2;
        } else if (whole) {
            out += text.substr(i, length);
            i += length;
        } else {
            out += "\xEF\xBF\xBD";
            ++i;
        }
    }
    return out;
}

Html Html::element(std::string_view tag, const Html& content) {
    const std::string name(tag);
    return markup("<" + name + ">" + content.str() + "</" + name + ">");
}

}  // namespace shimsight
