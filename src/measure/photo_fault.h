// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What is wrong with a photo as a whole.
#pragma once

#include <optional>

#include "shimsight/core.h"
#include "shimsight/photo.h"

namespace shimsight::measure {

/// TooDark, Glare or OutOfFocus when the photo is plainly so; asked only of photos in which no flank could be made
/// out, so a photo that can be read is never refused for its looks.
std::optional<Refused> photoFault(const Picture& picture);

}  // namespace shimsight::measure
