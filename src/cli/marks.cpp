// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/marks.h"

#include "cli/args.h"
#include "shimsight/core.h"

namespace shimsight::cli {

std::optional<double> markMm(const std::optional<std::string>& text, const char* option) {
    if (!text) return std::nullopt;
    try {
        return parseLength(*text, option).mm();
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
}

bool inTwoUnits(const std::optional<std::string>& oldMark, const std::optional<std::string>& newMark) {
    if (!oldMark || !newMark || *markMm(oldMark, "") == 0 || *markMm(newMark, "") == 0) return false;
    return oldMark->ends_with("mm") != newMark->ends_with("mm");
}

}  // namespace shimsight::cli
