// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Trials from worlds of three scatters, as a table for scatter_ceiling.py: what is seen, and the truth.
//
// Usage: scatter_draws TRIALS_PER_SET_AND_SCATTER [SEED] > draws.csv

#include <cstdio>
#include <cstdlib>

#include "simulated_trial.h"

using namespace shimsight;
using namespace shimsight::simulated;

int main(int argc, char** argv) {
    const int trials = argc > 1 ? std::atoi(argv[1]) : 0;
    const std::uint64_t seed = argc > 2 ? static_cast<std::uint64_t>(std::atoll(argv[2])) : 1;
    if (trials < 1) {
        std::fprintf(stderr, "usage: scatter_draws TRIALS_PER_SET_AND_SCATTER [SEED] > draws.csv\n");
        return 2;
    }
    for (const Cut cut : {Cut::FaceMilled, Cut::FaceHobbed}) {
        const ToothContact contact(demonstrationSet(cut));
        const advice::Prior prior(contact);
        for (const double scatter : {1.0, 1.5, 2.0}) {
            for (int i = 0; i < trials; ++i) {
                Random random = Random(seed).fork(static_cast<std::uint64_t>(i));
                const Trial trial = drawTrial(contact, prior, {}, random, scatter);
                std::printf("%s,%.1f,%.5f", cut == Cut::FaceMilled ? "milled" : "hobbed", scatter,
                            trial.truth.error.depthMm);
                std::printf(",%.5f", *trial.seen.backlashMm);
                for (const auto& side : {trial.seen.drive, trial.seen.coast})
                    std::printf(",%.4f,%.4f,%.4f,%.4f,%.4f,%.2f,%.4f,%.4f,%.4f,%.4f", side->toeHeel, side->rootTip,
                                side->length, side->height, side->area, side->tiltDeg, side->edgeToe, side->edgeHeel,
                                side->edgeTip, side->edgeRoot);
                std::printf("\n");
            }
        }
    }
    return 0;
}
