// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The language of figures and claims in lessons, and their simulation.
///
/// A SITUATION is a gear set, perhaps a side, and what was done to the right setting:
///   milled | hobbed            the program's own sets (lessonSet)
///   small-cutter               the milled one as if cut with a cutter of 3 in (76.2 mm) radius
///   spiral-bevel               a milled set without offset
///   drive | coast              left out: both sides
///   deeper LEN | shallower LEN pinion depth, backlash held      deeper-alone LEN: the ring gear stays
///   more LEN | less LEN        backlash, depth held
///   offset LEN                 housing's offset larger (smaller: -LEN), backlash held
///   shaft DEG                  shaft angle of the housing larger (smaller: -DEG), backlash held
///   film FACTOR                compound so many times as thick as usual
///   crown FACTOR               length and profile crown so many times as large
///   bias UM                    bias so many micrometres more
/// A CLAIM is "SITUATION: WORDS". The words tell what is seen against the right setting of the same set:
///   toe heel face flank        the mark moves that way (clearly: more than kClearMove of the flank)
///   toe-heel-stays height-stays   it does not
///   longer shorter larger smaller   the mark's length, its area, by a tenth and more
///   tip-edge root-edge toe-edge heel-edge   it runs off there;  no-edge: nowhere
///   good not-good              by the gear set's rule, each side named
///   backlash-falls backlash-rises backlash-held
///   shim-helps no-shim         whether depth and backlash can make both sides good
///   tilts-up tilts-down        the heel end of the mark rises toward the tip, or sinks
/// or "shim PLACE thicker: deeper" (shallower), PLACE as in gear-set files.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "shimsight/lesson.h"

namespace shimsight::lesson {

inline constexpr double kClearMove = 0.02;

const ToothContact& smallCutterSet();
const ToothContact& spiralBevelSet();

/// What a claim or a figure is about: a gear set and how it stands.
struct SetUp {
    const ToothContact* contact = nullptr;
    std::optional<Side> side;
    Bench bench;
    bool changed = false;  ///< anything was done to the right setting
};
/// A text that is no set-up is a bug of the lesson.
SetUp parseSetUp(std::string_view text);

ClaimResult checkClaim(std::string_view claim);

}  // namespace shimsight::lesson
