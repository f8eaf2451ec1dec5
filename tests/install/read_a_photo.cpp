// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Reads the contact pattern of a photo of a ring gear: read_a_photo PHOTO
#include <shimsight/gear_set.h>
#include <shimsight/measure.h>
#include <shimsight/pattern.h>
#include <shimsight/photo.h>
#include <shimsight/version.h>

#include <cstdio>
#include <exception>

int main(int argc, char** argv) {
    if (argc != 2) return 2;
    try {
        shimsight::GearSetData data;
        data.name = "Lab van rear axle B";
        data.pinionTeeth = 11;
        data.ringTeeth = 41;
        data.ringGearDiameterMm = 194;
        data.offsetMm = 32;
        const auto read = shimsight::measureTrial({{argv[1], shimsight::loadPhoto(argv[1]), {}}}, &data);
        std::printf("Shimsight %s\n", SHIMSIGHT_VERSION);
        for (const auto* side : {&read.drive, &read.coast}) {
            if (!side->has_value()) continue;
            const shimsight::Pattern& pattern = (*side)->pattern;
            std::printf("%s side: centre %.2f from toe to heel, %.2f from root to tip\n",
                        side == &read.drive ? "drive" : "coast", pattern.toeHeel, pattern.rootTip);
        }
        return read.drive || read.coast ? 0 : 1;
    } catch (const std::exception& problem) {
        std::fprintf(stderr, "%s\n", problem.what());
        return 1;
    }
}
