#include "cli/hints.h"

#include <algorithm>
#include <array>
#include <string_view>

namespace shimsight::cli {
namespace {

struct Hint {
    std::string_view id, text;
};
constexpr std::array kHints{
    Hint{"measure.say-side", "(\"side\" in the outline file, or option --side)"},
    Hint{"measure.check-side-or-closer", "(option --side)"},
    Hint{"measure.side-left-out", "(option --side)"},
    Hint{"measure.no-gear-set", "(option --gear-set)"},
    Hint{"measure.no-backlash", "(option --backlash)"},
    Hint{"measure.no-shim-stack", "(option --shim-stack)"},
    Hint{"teeth.closer-or-mark", "(option --outline)"},
    Hint{"teeth.say-side-or-hand", "(options --side and --gear-set)"},
};

}  // namespace

std::string forTerminal(const Message& message) {
    std::string sentence = text(message);
    const auto hint = std::find_if(kHints.begin(), kHints.end(), [&](const Hint& one) { return one.id == message.id; });
    if (hint == kHints.end()) return sentence;
    const bool stopped = sentence.ends_with('.');
    if (stopped) sentence.pop_back();
    return sentence + " " + std::string(hint->text) + (stopped ? "." : "");
}

std::vector<std::string> forTerminal(std::span<const Message> messages) {
    std::vector<std::string> out;
    for (const Message& message : messages) out.push_back(forTerminal(message));
    return out;
}

}  // namespace shimsight::cli
