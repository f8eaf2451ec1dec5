/// Photos that were read one by one, put together.
#pragma once

#include <optional>
#include <vector>

#include "shimsight/review.h"

namespace shimsight::review {

/// The parts as one, in their order; they are used up. nullopt, and the parts are untouched: two of them show flanks of
/// the same side, and the teeth of both must be weighed together. Exact otherwise: a side's pattern hangs on its own
/// teeth alone.
std::optional<ReadPhotos> merged(std::vector<ReadPhotos>& parts);

}  // namespace shimsight::review
