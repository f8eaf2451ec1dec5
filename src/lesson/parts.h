// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What is put into the program: texts, page parts, gear sets.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace shimsight::lesson {

/// A lesson's text as written, "NAME.md" under src/lesson/text. In the order in which they are taught.
struct TextPart {
    std::string_view name, markdown;
};
std::span<const TextPart> textParts();

/// A file of src/lesson/page, or one of the lessons' gear sets, by its name: "live.css". `three.js` is bundled; its
/// licence stands in its head.
std::string_view part(std::string_view file);

/// The style of flank sketches with plain colours for light paper, for pictures that are no page.
std::string plainSketchCss();

}  // namespace shimsight::lesson
