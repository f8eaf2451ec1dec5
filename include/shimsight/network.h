// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The trained networks, put into the program and shared by all threads. Module `network`.
#pragma once

#include <cstddef>
#include <vector>

#include "shimsight/photo.h"

namespace shimsight::network {

enum class Trained { FlankFinder, MarkReader };  ///< models/flank-finder, models/mark-reader

/// The network's output planes for a picture of its input size, plane after plane, row-major; the cards in models/ say
/// what they mean. Pictures are RGB, value = (byte - 127.5) / 127.5. Safe to call from several threads at once: as many
/// copies of the network are loaded as are asked at the same time, and kept. One core each.
std::vector<float> infer(Trained which, const Picture& picture);

/// Copies of the network loaded so far.
std::size_t copiesLoaded(Trained which);

}  // namespace shimsight::network
