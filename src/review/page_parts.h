/// Style and script of the review page, and what it shares with the terminal.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace shimsight::review {

extern const std::string_view kPageCss;
extern const std::string_view kPageScript;

/// "1 job", "3 jobs".
std::string jobsCounted(std::size_t count);
std::string trialsCounted(std::size_t count);
std::string photosCounted(std::size_t count);

}  // namespace shimsight::review
