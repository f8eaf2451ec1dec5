// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The pieces of the lessons' pages, for a page of somebody else's that may hold neither scripts nor styles. Module
/// `lesson`.
///
/// Markup is plain: elements, classes and inline sketches (sketchCss() of draw_svg.h), no script, style or address.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/lesson.h"

namespace shimsight {

/// A script by its name: "words.js", "contact.js", "flank.js", "three.js", "live.js", "figures.js". Each is an ordinary
/// script that defines its name in the page; live.js needs the others before it, figures.js the first three. nullopt:
/// there is none of this name.
std::optional<std::string_view> lessonScript(std::string_view name);

/// A lesson as one `<article>`. Each rendered photo is an empty `<figure class="photo" data-photo="0">` with its
/// caption. Each figure to try is a hidden `<figure class="try">` with its caption, which lessonFigures.start of
/// figures.js brings to life with lessonFigureData(). Throws InputError when there is no such lesson.
std::string lessonArticle(std::string_view lesson);

/// Photo `number` of a lesson, rendered: a JPEG. Takes seconds to half a minute. Throws InputError when there is none.
std::vector<std::uint8_t> lessonPhoto(std::string_view lesson, std::size_t number);

/// The tables and sentences of chartPage, without its frame.
std::string chartTables(std::span<const ToothContact* const> sets, const ChartOptions& options = {});
/// "Toe at the left, tip at the top ..."
std::string chartHowToRead();

/// What figures.js needs for all lessons, as JSON: about 450 kB.
std::string lessonFigureData();

/// What live.js needs of the sets, as JSON.
std::string liveData(std::span<const ToothContact* const> sets);

}  // namespace shimsight
