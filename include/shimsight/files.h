/// Reading and writing whole files, with bounds and with nothing half-written.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <vector>

namespace shimsight {

/// The bytes of the file at `path`. Throws InputError, beginning with the path, when it is missing, is a folder or
/// another thing that is no plain file, is empty, cannot be read, or is larger than `maxBytes`.
std::vector<std::uint8_t> readFile(const std::filesystem::path& path, std::int64_t maxBytes);

/// Writes `bytes` to `path` so that a reader finds the old file or the whole new one, never a part: a file beside it is
/// written, flushed to the disk and renamed. Throws InputError, beginning with the path, and leaves nothing behind when
/// that fails.
void writeFileAtomically(const std::filesystem::path& path, std::span<const std::uint8_t> bytes);

}  // namespace shimsight
