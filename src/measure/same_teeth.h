// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Which flanks of several photos are of one tooth.
#pragma once

#include <vector>

#include "shimsight/measure.h"

namespace shimsight::measure {

/// For each flank of `side`, photo after photo in their order, the tooth that it is of; numbers from 0. Flanks of
/// one photo are of different teeth. Those of two photos are taken for the same teeth wherever they can be: where found
/// flanks have their places on the gear, one row of teeth is shifted along the other until most marks are alike and
/// neither a mark lies over a bare tooth nor over quite another mark; outlined flanks, whose places are not known, are
/// paired by how alike their marks are. So a tooth that is seen twice never makes an answer surer, and teeth that
/// cannot be the same count as more.
std::vector<int> toothOfEach(const std::vector<MeasuredPhoto>& photos, Side side);

}  // namespace shimsight::measure
