/// Reading of the PATTERN object, which several records hold.
#pragma once

#include <optional>
#include <string_view>

#include "records/json_reader.h"
#include "shimsight/pattern.h"

namespace shimsight {

/// The pattern at `key`; nullopt when it is missing or null. Edge shares that are not given follow from "runs_off".
std::optional<Pattern> readPattern(ObjectReader& parent, std::string_view key);

}  // namespace shimsight
