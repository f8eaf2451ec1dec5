// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Words that the parts of the job module share.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/job.h"

namespace shimsight::job {

inline std::string signedLengthWords(double mm) { return formatLength(Length::fromMm(mm), true); }

/// The parts with `between` between them.
std::string joined(std::span<const std::string> parts, std::string_view between);

/// Readings of a dial that differ by less are the same: what is left of rounding in files and units.
inline constexpr double kSameMm = 2e-6;

inline bool isJammed(double backlashMm) { return backlashMm < kNoPlayMm; }

/// What the gear-set file says about where it has `field` from.
std::string sourceOf(const JobGearSet& gearSet, const std::string& field);
/// The field of the gear-set file that holds the torques of bolted joints.
inline constexpr const char* kTorquesField = "limits.torques_nm";

/// Where the sheet has the dial, and what a reading by another one is by this.
DialReading sheetsDial(const JobRecord& job);
double bySheetsDial(const JobRecord& job, double readMm, DialReading dial);

/// The lists that this axle and this build ask for.
std::vector<CheckItem> checkLists(const JobRecord& job);
/// Whether a line is the shop's own, which can be of anything.
bool isOwnLine(const CheckItem& item);
/// Puts each line that the program knows into its list, and the lines in the order of the work; lines of the shop's own
/// stay at the end of theirs. Older records have some in another list: their ticks come along.
void putLinesInPlace(std::vector<CheckItem>& lines);
/// What sets the pinion's preload: as the job says, else the gear-set file.
PinionSpacer spacerOf(const JobRecord& job);

}  // namespace shimsight::job
