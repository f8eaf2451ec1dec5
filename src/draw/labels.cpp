#include "draw/labels.h"

#include <algorithm>

namespace shimsight::draw {

Room roomAround(PixelPoint middle, double width, double height) {
    return {middle.x - width / 2, middle.y - height / 2, middle.x + width / 2, middle.y + height / 2};
}

bool LabelPlaces::isFree(const Room& room) const {
    if (room.left < 0 || room.top < 0 || room.right > width_ || room.bottom > height_) return false;
    return std::none_of(taken_.begin(), taken_.end(), [&](const Room& other) {
        return room.left < other.right && other.left < room.right && room.top < other.bottom && other.top < room.bottom;
    });
}

std::optional<PixelPoint> LabelPlaces::place(std::span<const PixelPoint> middles, double width, double height) {
    for (const PixelPoint middle : middles) {
        const Room room = roomAround(middle, width, height);
        if (!isFree(room)) continue;
        take(room);
        return middle;
    }
    return std::nullopt;
}

}  // namespace shimsight::draw
