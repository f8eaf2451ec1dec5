// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the page shows of an advice, in parts, so that lengths can be written in either unit.
#pragma once

#include <nlohmann/json.hpp>

#include "shimsight/advice.h"
#include "shimsight/advice_start.h"
#include "shimsight/gear_set.h"

namespace shimsight::server {

/// headline (lead, amount_mm, place), direction, backlash, adjusters, how sure, runner-up.
nlohmann::json answerJson(const Advice& advice, const GearSet& gearSet);

/// Limits, build and what was assumed, as forms and sketches need them.
nlohmann::json gearJson(const GearSetData& data);

/// What a person typed of a gear set, null where nothing was said; of its document as parseGearSet took it.
nlohmann::json typedJson(const nlohmann::json& document);

/// Which shims to start with, and what to look at before.
nlohmann::json startJson(const StartShim& start);

/// Readings at equal steps round the ring gear: the once-per-turn wave; null: fewer than four.
nlohmann::json waveJson(const std::vector<double>& readingsMm);

}  // namespace shimsight::server
