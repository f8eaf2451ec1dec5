/// The build sheet of a job: what a shop hands to its customer. Module `report`.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "shimsight/job.h"
#include "shimsight/review.h"

namespace shimsight {

struct SheetOptions {
    std::string printedAt;  ///< as in the record; empty: not told
    std::string folder;     ///< name of the job's folder
    std::string version;    ///< of the program
};

/// One HTML file that asks nothing of any other and prints on A4 and US Letter: readings judged against their limits
/// with the limits' sources, the final pattern as sketches and photos, shims, the way there, torques, assembly check
/// list, cautions, sign-off. `reviewed`: the same job as reviewJob gives it, for sketches and pictures.
std::string buildSheetHtml(const JobRecord& job, const ReviewedJob& reviewed, const SheetOptions& options);

/// A Chromium on the PATH; empty: none.
std::filesystem::path findChromium();

/// The page as PDF, printed by `chromium` without a window. Takes a few seconds; throws InputError when the program
/// fails or is not done within a minute. The file is there whole or not at all.
void writePdf(const std::string& html, const std::filesystem::path& pdf, const std::filesystem::path& chromium);

}  // namespace shimsight
