// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Text as programs exchange it: fields of a table, base64. Module `core`.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace shimsight {

/// A field of a table for spreadsheets (RFC 4180), quoted where need be. One that would be taken for a formula gets a
/// quote mark in front; control characters, which a terminal may take for commands, become spaces.
std::string csvField(std::string_view text);

/// RFC 4648, section 4, with padding.
std::string base64(std::span<const std::uint8_t> bytes);
/// Padding may be left out. nullopt: a character that is no base64.
std::optional<std::vector<std::uint8_t>> bytesOfBase64(std::string_view text);

}  // namespace shimsight
