// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Draws for looks and scenes.
#pragma once

#include "shimsight/core.h"

namespace shimsight::render {

/// Even between `low` and `high`.
inline float pick(Random& random, double low, double high) { return static_cast<float>(random.uniform(low, high)); }

}  // namespace shimsight::render
