// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "job_json.h"

namespace shimsight {

std::vector<BacklashPoint> job::backlashPointsAt(ObjectReader& reader, std::string_view key, Range positionDeg,
                                                 Range backlashMm) {
    std::vector<BacklashPoint> points;
    const nlohmann::json* list = reader.list(key, kMaxBacklashPoints);
    if (list == nullptr) return points;
    for (std::size_t i = 0; i < list->size(); ++i) {
        ObjectReader item = reader.item(key, *list, i);
        points.push_back(
            {item.requiredNumber("position_deg", positionDeg), item.requiredNumber("backlash_mm", backlashMm)});
        item.finish();
    }
    return points;
}

}  // namespace shimsight
