// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// From what was read to what it means: advice, what was done, whether it helped, what looks wrong.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "shimsight/review.h"

namespace shimsight::review {

/// Fills in advice, next, helped and findings of a job whose trials are read. `record`: what job.json says; the trials
/// of `job` are those that count, in order.
void judgeWithRecord(ReviewedJob& job, const JobRecord& record);

/// The same for one trial without a record.
void judgeAlone(ReviewedJob& job, const GearSetData* gearSet);

/// How what was done compares with the advice; nullopt: neither shim nor backlash is known, or there was no advice.
std::optional<DoneAs> compareDone(const Advice& advice, std::optional<double> shimChangeMm,
                                  std::optional<double> backlashMm);

/// Whether the second setting lies nearer than the first.
Helped compareTrials(const Advice& before, const Advice& after);

/// Where photos without a record begin a new trial. One entry for each photo in order: the side that it shows (nullopt:
/// none). The result names the place of the first photo of each trial.
std::vector<std::size_t> trialStarts(std::span<const std::optional<Side>> sides);

}  // namespace shimsight::review
