// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What was measured of photos as JSON, for those who keep it so that no photo is read twice. Numbers as they are in
/// memory: what comes back gives the same advice to the last digit. Module `job`.
#pragma once

#include <nlohmann/json.hpp>

#include "shimsight/measure.h"

namespace shimsight::job {

nlohmann::json patternJson(const Pattern& pattern);
nlohmann::json mapJson(const FlankMap& map);
nlohmann::json refusalJson(const Refused& refused);
/// What a photo says by itself, all that is weighed with other photos, drawn and compared; without its file's name and
/// the confidence of each place of a map, which nobody asks for after the measuring.
nlohmann::json measuredJson(const MeasuredPhoto& photo);

/// The same back. They throw InputError or the JSON library's exception for what was not written by this program.
Pattern patternFrom(const nlohmann::json& document);
FlankMap mapFrom(const nlohmann::json& document);
Refused refusalFrom(const nlohmann::json& document);
MeasuredPhoto measuredFrom(const nlohmann::json& document);

}  // namespace shimsight::job
