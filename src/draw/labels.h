// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Places for labels on a picture, so that none covers another one.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "shimsight/rectify.h"

namespace shimsight::draw {

/// A label's room, pixels.
struct Room {
    double left = 0, top = 0, right = 0, bottom = 0;
};

Room roomAround(PixelPoint middle, double width, double height);

class LabelPlaces {
public:
    LabelPlaces(int width, int height) : width_(width), height_(height) {}
    /// Nothing is put there any more.
    void take(const Room& room) { taken_.push_back(room); }
    /// Kept free as long as there is another place.
    void avoid(const Room& room) { avoided_.push_back(room); }
    /// The first of `middles` whose room lies inside the picture and is free; it is taken. nullopt: none is.
    std::optional<PixelPoint> place(std::span<const PixelPoint> middles, double width, double height);

private:
    bool isInside(const Room& room) const;
    double width_, height_;
    std::vector<Room> taken_, avoided_;
};

}  // namespace shimsight::draw
