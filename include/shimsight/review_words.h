// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Short words for tables, pages and sheets: what was found, advised and done. Module `review`.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "shimsight/advice.h"
#include "shimsight/gear_set.h"
#include "shimsight/pattern.h"
#include "shimsight/words.h"

namespace shimsight {

std::string lengthText(double mm, bool sign = false);  ///< as formatLength
/// "toe, face"; "centre, mid-height".
std::string placeText(const Pattern& pattern);
/// "66 % / 71 %": centre from toe to heel and from root to tip.
std::string centreText(const Pattern& pattern);
/// The same with two standard errors: "66 +/- 2 % / 71 +/- 3 %".
std::string centreWithErrorText(const Pattern& pattern);
/// "no edge", "toe, tip".
std::string runsOffText(const RunsOff& off);
/// "add 0.004 in (0.10 mm)", "take out ...", "leave the pinion shims"; with `done` in the past tense.
std::string shimChangeText(double thicknessChangeMm, bool done = false);
/// "0.006 in (0.15 mm) too deep", "none found": in whole thousandths, see depthErrorWords.
std::string depthErrorText(const Estimate& error);
/// "0.004 in (0.10 mm) to 0.008 in (0.20 mm) too deep", signs told in words: the 90 % interval.
std::string depthIntervalText(const Estimate& error);

}  // namespace shimsight
