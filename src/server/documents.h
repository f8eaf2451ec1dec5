/// Pages about a job that stand alone: the review and the build sheet, made by their own modules.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace shimsight::server {

std::vector<std::string> documentKinds();  ///< those that this program can make: "review", "sheet"

/// The page as one HTML file; what was read is kept in `own`. Throws InputError.
std::string makeDocumentHtml(const std::filesystem::path& folder, const std::filesystem::path& own,
                             const std::string& kind);

}  // namespace shimsight::server
