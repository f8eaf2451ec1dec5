// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The pictures of `read --annotate`.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cli/output.h"
#include "shimsight/measure.h"

namespace shimsight::cli {

/// Adds photo1.png, photo2.png, ...: each photo that could be decoded and has flanks, marked or found, with what was
/// read drawn on it; and pattern.png, the patterns over all teeth when one was measured, beside them those to expect
/// after the change that `advice` names.
void addAnnotations(FolderOutput& output, const std::vector<TrialPhoto>& photos, const Measurement& measurement,
                    const std::optional<Advice>& advice, const std::optional<GearSet>& gearSet);

}  // namespace shimsight::cli
