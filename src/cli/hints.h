// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the engine's sentences ask for, with the command line's option that does it.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "shimsight/words.h"

namespace shimsight::cli {

/// "... the correction depends on it (option --backlash)."
std::string forTerminal(const Message& message);
std::vector<std::string> forTerminal(std::span<const Message> messages);

}  // namespace shimsight::cli
