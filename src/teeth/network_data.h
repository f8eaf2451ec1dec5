#pragma once

#include <span>

namespace shimsight::teeth {

/// The trained network as it lies in models/flank-finder.
std::span<const char> flankFinderOnnx();

}  // namespace shimsight::teeth
