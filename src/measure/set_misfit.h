// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Whether the photos of a trial show the gear set that was given.
#pragma once

#include <optional>
#include <vector>

#include "shimsight/measure.h"

namespace shimsight::measure {

/// nullopt where the photos fit the set, or do not tell.
std::optional<SetMisfit> setMisfitOf(const std::vector<MeasuredPhoto>& photos, const GearSet& gearSet);

}  // namespace shimsight::measure
