/// What the pages with the contact model in JavaScript carry as JSON.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "shimsight/tooth_contact.h"

namespace shimsight::lesson {

/// Single-precision numbers as base64 of their bytes, little-endian.
nlohmann::json packedFloats(const std::vector<float>& values);

nlohmann::json toJson(const Modification& modification);

/// Name, limits, rates of both flanks for contact.js.
nlohmann::json setJson(const ToothContact& contact);

/// As the content of a script element: nothing in it ends the element.
std::string scriptJson(const nlohmann::json& data);

}  // namespace shimsight::lesson
