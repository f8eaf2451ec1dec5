// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// From light on the sensor to the picture a phone saves.
#pragma once

#include "render/tracer.h"
#include "shimsight/core.h"
#include "shimsight/photo.h"

namespace shimsight::render {

struct Sensor {
    double exposureStops = 0;   ///< from what the meter would choose
    double vignette = 0.3;      ///< share of light lost in the corners
    Vec whiteBalance{1, 1, 1};  ///< gains
    double noise = 1;           ///< 0 none; 1 a phone indoors; 3 a dark housing
    double contrast = 1;
    double saturation = 1;
    double sharpening = 0.5;
    double bloom = 0.02;  ///< share of light spread wide by a greasy lens
    bool mirrored = false;
};

Sensor drawSensor(Random& random, double variety);
Picture develop(const Radiance& light, const Sensor& sensor, std::uint64_t seed);

}  // namespace shimsight::render
