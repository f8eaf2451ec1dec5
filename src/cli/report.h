// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The words that people read: calm, short, the answer first. Lengths in thousandths of an inch and millimetres both.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/core.h"
#include "shimsight/gear_set.h"
#include "shimsight/pattern.h"
#include "shimsight/records.h"

namespace shimsight::cli {

/// Table of both sides, one line a number; a number with a standard error shows twice that as "+/-".
/// Empty when neither side is given.
std::string patternTable(const std::optional<Pattern>& drive, const std::optional<Pattern>& coast);

/// The whole advice in the words of headlineOf, with reasons and cautions, several paragraphs. With the table of the
/// measured patterns where they are given.
std::string adviceText(const Advice& advice, const GearSet& gearSet, const std::optional<Pattern>& drive,
                       const std::optional<Pattern>& coast);

std::string predictionText(const Prediction& prediction);

/// Lines "  - item" under `title`; empty without items. Long items are wrapped.
std::string bulletList(const std::string& title, const std::vector<std::string>& items);

/// `text` broken into lines of at most 96 characters; the first begins with `first`, the others with `rest`.
std::string wrapped(const std::string& text, const std::string& first, const std::string& rest);

/// formatLength of millimetres.
std::string mm(double value);

}  // namespace shimsight::cli
