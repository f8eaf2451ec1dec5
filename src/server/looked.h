// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The first look at a photo that has just come in: which flanks are there, and what to do better before Read.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "shimsight/job.h"

namespace shimsight::server {

/// Kind of the task of a first look; it changes nothing.
inline constexpr std::string_view kLookKind = "look";

/// JSON: the flanks, a verdict and a line for people. `wanted`: the side that it was taken of.
std::string lookAt(const std::vector<std::uint8_t>& bytes, const JobGearSet& gearSet, std::optional<Side> wanted);

}  // namespace shimsight::server
