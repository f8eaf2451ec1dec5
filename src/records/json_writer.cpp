// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <cmath>

#include "records_json.h"
#include "shimsight/records.h"

namespace shimsight {

using nlohmann::json;

double tidy(double value) {
    check(std::isfinite(value), "a number that is not finite was about to be written to a record");
    return std::round(value * 1e6) / 1e6 + 0.0;
}

json pointJson(const PixelPoint& point) {
    return json::array({std::round(tidy(point.x) * 100) / 100, std::round(tidy(point.y) * 100) / 100});
}

json refusedJson(const Refused& refused) {
    return {{"why", name(refused.why)}, {"reason", text(refused.reason)}, {"what_to_do", text(refused.whatToDo)}};
}

namespace {

template <typename Json>
std::string textOf(const Json& document) {
    return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

std::string fileText(const json& document) { return textOf(document); }

std::string fileText(const nlohmann::ordered_json& document) { return textOf(document); }

json toJson(const Modification& modification) {
    return {{"length_crown_um", tidy(modification.lengthCrownUm)},
            {"profile_crown_um", tidy(modification.profileCrownUm)},
            {"bias_um", tidy(modification.biasUm)},
            {"length_shift", tidy(modification.lengthShift)},
            {"profile_shift", tidy(modification.profileShift)}};
}

}  // namespace shimsight
