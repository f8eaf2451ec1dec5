// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Sketches of the flank as inline SVG, for pages: sharper on paper and far smaller than pictures. Module `draw`.
///
/// The pieces bear classes and no colours; sketchCss() gives both, light, dark and in print.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/flank_map.h"
#include "shimsight/html.h"
#include "shimsight/pattern.h"

namespace shimsight {

/// Where a picture stands in a larger one, in the larger one's units.
struct SvgPlace {
    double x = 0, y = 0, width = 0, height = 0;
};

struct SvgSketch {
    std::string title;                       ///< read out instead of the picture: "Drive side of trial 2, as measured"
    const FlankMap* map = nullptr;           ///< the mark as measured; null: none
    std::optional<Pattern> pattern;          ///< its centre gets a cross
    std::optional<Pattern> expected;         ///< dashed outline of its size
    std::optional<AcceptanceRule> goodZone;  ///< where the centre should lie: dashed box
    bool words = true;                       ///< toe, heel, tip and root are named around the flank
    std::optional<Pattern> cameFrom = {};    ///< an arrow leads from its centre to the pattern's
    bool evenHeight = false;                 ///< as high at the toe as at the heel: a hobbed tooth
    std::optional<SvgPlace> place = {};      ///< a part of a larger picture; nullopt: a picture of a page
};

/// One flank: toe at the left, tip at the top. Scales with the width that the page gives it.
Html flankSvg(const SvgSketch& sketch);

struct PathStop {
    Pattern pattern;
    std::string label;  ///< one to three letters in the stop's disc
};

/// The way of the pattern's centre over the trials, drawn on the flank: numbered stops joined by arrows.
Html patternPathSvg(std::string_view title, std::span<const PathStop> stops,
                    const std::optional<AcceptanceRule>& goodZone);

/// The style sheet of the sketches: colours as custom properties of :root, the dark ones under
/// prefers-color-scheme: dark.
std::string_view sketchCss();

}  // namespace shimsight
