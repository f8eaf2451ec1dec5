// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <qrencode.h>

#include <memory>

#include "shimsight/server.h"
#include "shimsight/words.h"

namespace shimsight {

std::string qrForTerminal(std::string_view text) {
    const std::string copy(text);
    const std::unique_ptr<QRcode, void (*)(QRcode*)> code(QRcode_encodeString8bit(copy.c_str(), 0, QR_ECLEVEL_L),
                                                          QRcode_free);
    if (!code) throw InputError(message("server.address-too-long-for-a-code"));
    // ISO/IEC 18004: four dots of quiet zone; two are enough for phones and fit narrow terminals.
    constexpr int kQuiet = 2;
    const int width = code->width;
    const auto dark = [&](int x, int y) {
        return x >= 0 && y >= 0 && x < width && y < width &&
               (code->data[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                           static_cast<std::size_t>(x)] &
                1U) != 0;
    };
    std::string lines;
    for (int y = -kQuiet; y < width + kQuiet; y += 2) {
        // Black on white, whatever the terminal's own colours.
        lines += "  \033[30;107m";
        for (int x = -kQuiet; x < width + kQuiet; ++x) {
            const bool top = dark(x, y), bottom = dark(x, y + 1);
            lines += top && bottom ? "\u2588" : top ? "\u2580" : bottom ? "\u2584" : " ";
        }
        lines += "\033[0m\n";
    }
    return lines;
}

}  // namespace shimsight
