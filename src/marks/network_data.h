#pragma once

#include <span>

namespace shimsight::marks {

/// The trained network as it lies in models/mark-reader.
std::span<const char> markReaderOnnx();

}  // namespace shimsight::marks
