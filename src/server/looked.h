// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The first look at a photo that has just come in: which flanks are there, and what to do better before Read.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "server/uploads.h"
#include "shimsight/job.h"

namespace shimsight::server {

/// Kind of the task of a first look; it changes nothing.
inline constexpr std::string_view kLookKind = "look";

/// JSON: the flanks, a verdict and a line for people. `wanted`: the side that it was taken of. What was measured is
/// kept beside the upload, so that its trial need not measure it again. Throws InputError where there is no such photo.
std::string lookAt(const Uploads& uploads, const std::string& upload, const JobGearSet& gearSet,
                   std::optional<Side> wanted);

/// What a look has measured of the photo with these bytes (`sum`: their SHA-256) and this gear set; nullopt: nothing
/// that a trial would measure likewise.
std::optional<MeasuredPhoto> measuredAtLook(const Uploads& uploads, const std::string& upload, const std::string& sum,
                                            const GearSetData& gearSet);

}  // namespace shimsight::server
