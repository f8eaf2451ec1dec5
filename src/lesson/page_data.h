// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Numbers for the pages with the contact model in JavaScript.
#pragma once

#include <nlohmann/json.hpp>
#include <vector>

namespace shimsight::lesson {

/// Single-precision numbers as base64 of their bytes, little-endian.
nlohmann::json packedFloats(const std::vector<float>& values);

}  // namespace shimsight::lesson
