// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/hints.h"

#include <algorithm>
#include <array>
#include <string_view>

namespace shimsight::cli {
namespace {

/// The entry that a sentence is told by, and the one that names the option.
struct Hint {
    std::string_view id, hint;
};
constexpr std::array kHints{
    Hint{"measure.say-side", "cli.hint-side-in-outline"},
    Hint{"measure.check-side-or-closer", "cli.hint-side"},
    Hint{"measure.side-left-out", "cli.hint-side"},
    Hint{"measure.no-gear-set", "cli.hint-gear-set"},
    Hint{"measure.no-backlash", "cli.hint-backlash"},
    Hint{"measure.no-shim-stack", "cli.hint-shim-stack"},
    Hint{"advice.ask-bearing-height", "cli.hint-bearings"},
    Hint{"teeth.closer-or-outline", "cli.hint-outline"},
    Hint{"teeth.say-side-or-hand", "cli.hint-side-and-gear-set"},
};

}  // namespace

std::string forTerminal(const Message& message) {
    const auto hint = std::find_if(kHints.begin(), kHints.end(), [&](const Hint& one) { return one.id == message.id; });
    return text(hint == kHints.end() ? message : twoSentences(message, shimsight::message(hint->hint)));
}

std::vector<std::string> forTerminal(std::span<const Message> messages) {
    std::vector<std::string> out;
    for (const Message& message : messages) out.push_back(forTerminal(message));
    return out;
}

}  // namespace shimsight::cli
