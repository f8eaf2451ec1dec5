// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "draw/labels.h"

#include <algorithm>

namespace shimsight::draw {
namespace {

bool anyMeets(const std::vector<Room>& rooms, const Room& room) {
    return std::any_of(rooms.begin(), rooms.end(), [&](const Room& other) {
        return room.left < other.right && other.left < room.right && room.top < other.bottom && other.top < room.bottom;
    });
}

}  // namespace

Room roomAround(PixelPoint middle, double width, double height) {
    return {middle.x - width / 2, middle.y - height / 2, middle.x + width / 2, middle.y + height / 2};
}

bool LabelPlaces::isInside(const Room& room) const {
    return room.left >= 0 && room.top >= 0 && room.right <= width_ && room.bottom <= height_;
}

std::optional<PixelPoint> LabelPlaces::place(std::span<const PixelPoint> middles, double width, double height) {
    for (const bool mindful : {true, false})
        for (const PixelPoint middle : middles) {
            const Room room = roomAround(middle, width, height);
            if (!isInside(room) || anyMeets(taken_, room) || (mindful && anyMeets(avoided_, room))) continue;
            take(room);
            return middle;
        }
    return std::nullopt;
}

}  // namespace shimsight::draw
