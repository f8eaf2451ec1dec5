// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Photos that were read one by one, put together.
#pragma once

#include <string>
#include <vector>

#include "shimsight/review.h"

namespace shimsight::review {

/// The parts as one, in their order: the teeth of each side weighed over all photos. A photo whose teeth count
/// otherwise beside the others' is drawn anew from its file; where that is gone, the old picture stays.
KeptPhotos merged(std::vector<KeptPhotos> parts);

/// What tells that two photos show different trials.
enum class Apart { No, OtherGear, OtherCompound };
/// Why the second photo cannot be of the trial of the first; No where nothing clear speaks
/// against it. Gears differ by their hand or by their teeth as counted, compounds by their colour or by how they were
/// used (wiped clear, or printed on clean teeth).
Apart whyApart(const MeasuredPhoto& first, const MeasuredPhoto& second);

}  // namespace shimsight::review
