/// Style and script of the review page.
#pragma once

#include <string_view>

namespace shimsight::review {

extern const std::string_view kPageCss;
extern const std::string_view kPageScript;

}  // namespace shimsight::review
