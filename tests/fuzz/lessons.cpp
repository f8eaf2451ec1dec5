// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What learners type, and text that becomes a page.
#include "fuzz/targets.h"
#include "shimsight/core.h"
#include "shimsight/html.h"
#include "shimsight/training.h"

namespace shimsight::fuzz {

void lesson(Bytes bytes) {
    const std::string_view text = textOf(bytes);
    try {
        (void)parseSeenPlace(text);
    } catch (const InputError&) {
    }
    try {
        promise(!correctionWords(parseCorrection(text)).empty(), "a correction can be told");
    } catch (const InputError&) {
    }
    const std::string escaped = escapedHtml(text);
    promise(escaped.find_first_of("<>\"") == std::string::npos, "no markup passes");
    promise(escapedHtml(escaped).size() >= escaped.size(), "what is escaped can be escaped again");
}

}  // namespace shimsight::fuzz
