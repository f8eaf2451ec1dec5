// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The level of the drill that tells of complaints.
#pragma once

#include <cstdint>

#include "shimsight/training.h"

namespace shimsight::training {

/// Each run of so many numbers as there are stories asks each of them once, in an order of the seed's.
Exercise drawStory(std::uint64_t seed, int number);

}  // namespace shimsight::training
