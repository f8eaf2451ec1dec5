// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Counts in words, for page and terminal.
#pragma once

#include <cstddef>
#include <string>

namespace shimsight::review {

/// "1 job", "3 jobs".
std::string jobsCounted(std::size_t count);
std::string trialsCounted(std::size_t count);
std::string photosCounted(std::size_t count);

}  // namespace shimsight::review
