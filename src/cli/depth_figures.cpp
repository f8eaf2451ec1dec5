// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/depth_figures.h"

#include "cli/args.h"
#include "shimsight/core.h"

namespace shimsight::cli {

std::optional<double> figureMm(const std::optional<std::string>& text, const char* option) {
    if (!text) return std::nullopt;
    try {
        return parseLength(*text, option).mm();
    } catch (const InputError& error) {
        throw UsageError(error.what());
    }
}

bool inTwoUnits(const std::optional<std::string>& oldFigure, const std::optional<std::string>& newFigure) {
    if (!oldFigure || !newFigure || *figureMm(oldFigure, "") == 0 || *figureMm(newFigure, "") == 0) return false;
    return oldFigure->ends_with("mm") != newFigure->ends_with("mm");
}

}  // namespace shimsight::cli
