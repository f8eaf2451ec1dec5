// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The build sheet of a job: what a shop hands to its customer. Module `report`.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "shimsight/job.h"
#include "shimsight/review.h"
#include "shimsight/units.h"

namespace shimsight {

struct SheetOptions {
    std::string printedAt;      ///< as in the record; empty: not told
    std::string folder;         ///< name of the job's folder
    std::string version;        ///< of the program
    Units units = Units::Both;  ///< in which lengths and torques are told
    std::string shop{};         ///< whose sheet it is; empty: not told
};

/// One HTML file that asks nothing of any other and prints on A4 and US Letter: readings judged against their limits
/// with the limits' sources, the final pattern as sketches and photos, shims, the way there, torques, check lists,
/// cautions, sign-off. How sure the program was of anything stays in the record, for the shop. `reviewed`: the same job
/// as reviewJob gives it, for sketches and pictures.
std::string buildSheetHtml(const JobRecord& job, const ReviewedJob& reviewed, const SheetOptions& options);

/// A Chromium on the PATH; empty: none.
std::filesystem::path findChromium();

/// The page as PDF, printed by `chromium` without a window. Takes a few seconds; throws InputError when the program
/// fails or is not done within a minute. The file is there whole or not at all.
void writePdf(const std::string& html, const std::filesystem::path& pdf, const std::filesystem::path& chromium);

}  // namespace shimsight
