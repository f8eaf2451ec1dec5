// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The cache of what was read: one file for each set of photos that were read together.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "shimsight/review.h"

namespace shimsight::review {

/// What was kept under `key`; nullopt when there is nothing, or what is there is damaged or of another kind.
std::optional<KeptPhotos> loadRead(const std::filesystem::path& cache, const std::string& key);

/// Keeps it. A cache that cannot be written is passed by: the review only loses its memory.
void keepRead(const std::filesystem::path& cache, const std::string& key, const KeptPhotos& photos);

}  // namespace shimsight::review
