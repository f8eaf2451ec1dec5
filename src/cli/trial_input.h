/// What commands share that take the photos of a trial, its outlines or flank maps drawn by hand.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "shimsight/flank_map.h"
#include "shimsight/measure.h"

namespace shimsight::cli {

/// The marked flanks of each photo, from outline files. `side`: that of flanks whose side a file does not say.
std::vector<std::vector<FlankOutline>> outlinesOf(const std::vector<std::string>& photos,
                                                  const std::vector<std::string>& outlineFiles,
                                                  std::optional<Side> side);

/// The name of a file without its folders.
std::string baseName(const std::string& file);

/// What was read on a photo and what was not, one sentence or a few.
std::string photoLine(const MeasuredPhoto& photo);

/// A flank map that a person drew. Throws InputError when it is none.
FlankMap readFlankMap(const std::string& file);

}  // namespace shimsight::cli
