// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "fuzz/targets.h"

#include <algorithm>

namespace shimsight::fuzz {

const std::vector<Target>& targets() {
    static const std::vector<Target> all{
        {"costs", costs},     {"exif", exif},     {"gear-set", gearSet}, {"history", history},
        {"job", job},         {"length", length}, {"lesson", lesson},    {"measurement", measurement},
        {"outline", outline}, {"photo", photo},   {"service", service},  {"uploads", uploads}};
    return all;
}

const Target* targetByName(std::string_view name) {
    const auto found =
        std::find_if(targets().begin(), targets().end(), [&](const Target& target) { return target.name == name; });
    return found == targets().end() ? nullptr : &*found;
}

}  // namespace shimsight::fuzz
