// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The same trials without a server: kept apart, since the HTTP library's header and Eigen cannot stand in one file.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace shimsight::bench {

/// The two photos of samples/van-b-good.
std::vector<std::string> samplePhotos(const std::filesystem::path& root);

/// Seconds for recording `count` trials of them one after the other, as `shimsight job` does.
double directReadings(const std::filesystem::path& root, int count, const std::filesystem::path& folder);

}  // namespace shimsight::bench
