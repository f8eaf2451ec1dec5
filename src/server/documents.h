// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Pages about a job that stand alone: the review and the build sheet, made by their own modules.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/settings.h"

namespace shimsight::server {

/// How the names of pages begin that are being made in the server's own folder.
inline constexpr std::string_view kReviewPage = "review-";
inline constexpr std::string_view kPageType = "text/html; charset=utf-8", kPdfType = "application/pdf";

struct MadeDocument {
    std::string type;   ///< kPageType or kPdfType
    std::string bytes;  ///< one file
};

/// Those that this program can make here: "review", "sheet", and where there is a Chromium "sheet-pdf".
std::vector<std::string> documentKinds();

/// The document as one file, in the shop's units and under its name; what was read is kept in `own`. Throws InputError.
MadeDocument makeDocumentOf(const std::filesystem::path& folder, const std::filesystem::path& own,
                            const std::string& kind, const Settings& settings);

}  // namespace shimsight::server
