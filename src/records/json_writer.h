/// Small helpers shared by the writers of records.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "shimsight/gear_set.h"
#include "shimsight/unwrap.h"

namespace shimsight {

/// `value` rounded to six decimals, so that files stay readable (1e-6 mm or 1e-6 of a flank is below everything that is
/// measured). A value that is not finite is a bug and throws std::logic_error.
double tidy(double value);

nlohmann::json pointJson(const PixelPoint& point);  ///< [x, y], rounded to a hundredth of a pixel
nlohmann::json refusedJson(const Refused& refused);

/// The text of a whole file. Broken UTF-8 (file names) is replaced.
std::string fileText(const nlohmann::json& document);
std::string fileText(const nlohmann::ordered_json& document);  ///< fields in the order they were put

}  // namespace shimsight
