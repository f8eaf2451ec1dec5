// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Causes beyond shims, each with its evidence.
#pragma once

#include <span>
#include <vector>

#include "advice/learning.h"

namespace shimsight::advice {

struct DiagnosisInput {
    const std::vector<Model>& models;
    const JobPosterior& learned;
    std::span<const JobTrial> history;
    const AdviceOptions& options;
    bool impossible = false;  ///< nothing near the gear set makes marks like these
};

/// Whether the tooth spread of a pattern is more than measuring and teeth make.
bool wandering(const std::optional<Pattern>& pattern);

/// Those with a good chance, likeliest first.
std::vector<Diagnosis> diagnose(const DiagnosisInput& input);

}  // namespace shimsight::advice
