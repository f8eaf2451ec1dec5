/// The program's JSON: gear-set files, outline files, readings, advice, predictions, truth. Module `records`.
/// Every reader throws InputError with one sentence naming the file and the field; numbers must be finite.
#pragma once

#include "shimsight/advice.h"
#include "shimsight/gear_set.h"
#include "shimsight/unwrap.h"

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

namespace shimsight {

GearSetData loadGearSet(const std::filesystem::path& file);
GearSetData parseGearSet(std::string_view text, std::string_view fileName);
std::string writeGearSet(const GearSetData& data);   ///< pretty JSON text of a gear-set file
std::vector<FlankOutline> loadOutline(const std::filesystem::path& file);
std::string writeOutline(const std::vector<FlankOutline>& flanks);

nlohmann::json toJson(const Pattern& pattern);       ///< PATTERN of the interfaces
nlohmann::json toJson(const Advice& advice);         ///< ADVICE of the interfaces

}  // namespace shimsight
