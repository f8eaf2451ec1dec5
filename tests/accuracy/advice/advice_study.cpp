// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How good the advice is, on trials drawn from its documented prior: error of the depth estimate, whether the 90 %
// intervals hold, whether the chances told come true. Prints a table; see README.md beside this file.
//
// Usage: advice_study [TRIALS_PER_SET] [SEED]

#include <array>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <string>
#include <vector>

#include "accuracy/quantiles.h"
#include "simulated_trial.h"

using namespace shimsight;
using namespace shimsight::simulated;

namespace {

enum class Sides { Both, DriveOnly, BothNoBacklash, BothCutUnknown };

struct Tally {
    std::vector<double> errorsThou, moveErrorsThou;
    std::vector<double> widthsThou;
    std::vector<double> times;
    int held = 0, low = 0, beyondThree = 0, directionRight = 0;
    std::array<int, 4> verdicts{};
    std::array<int, 5> binCount{};
    std::array<double, 5> binTold{}, binTrue{};
    double brier = 0;
    int rightCut = 0;
    double cutChance = 0;
};

Tally runTrials(const ToothContact& contact, const ToothContact* other, Sides sides, int trials, std::uint64_t seed,
                double scatter = 1) {
    const advice::Prior prior(contact);
    Tally tally;
    for (int i = 0; i < trials; ++i) {
        Random random = Random(seed).fork(static_cast<std::uint64_t>(i));
        Trial trial = drawTrial(contact, prior, {}, random, scatter);
        if (sides == Sides::DriveOnly) trial.seen.coast.reset();
        if (sides == Sides::BothNoBacklash) trial.seen.backlashMm.reset();
        std::vector<const ToothContact*> models{&contact};
        if (sides == Sides::BothCutUnknown) models.push_back(other);
        AdviceOptions options;
        options.seed = seed + static_cast<std::uint64_t>(i);
        const std::clock_t start = std::clock();
        const Advice advice = advise(models, trial.seen, options);
        tally.times.push_back(1e3 * static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC);

        const double truth = trial.truth.error.depthMm / 0.0254;
        const double best = advice.depthErrorMm.best / 0.0254;
        tally.errorsThou.push_back(std::abs(best - truth));
        tally.moveErrorsThou.push_back(std::abs(advice.pinionDepthChangeMm.best / 0.0254 + truth));
        tally.widthsThou.push_back((advice.depthErrorMm.high90 - advice.depthErrorMm.low90) / 0.0254);
        tally.held += advice.depthErrorMm.low90 <= trial.truth.error.depthMm &&
                      trial.truth.error.depthMm <= advice.depthErrorMm.high90;
        tally.low += trial.truth.error.depthMm < advice.depthErrorMm.low90;
        if (std::abs(truth) > 3) {
            ++tally.beyondThree;
            tally.directionRight += (best > 0) == (truth > 0);
        }
        ++tally.verdicts[static_cast<std::size_t>(advice.verdict)];
        const bool right = rightAfter(contact, prior, trial, advice, random);
        if (advice.verdict == Verdict::Change || advice.verdict == Verdict::Accept) {
            const auto bin = static_cast<std::size_t>(std::min(4, static_cast<int>(advice.chanceAcceptableNext * 5)));
            ++tally.binCount[bin];
            tally.binTold[bin] += advice.chanceAcceptableNext;
            tally.binTrue[bin] += right;
        }
        const bool milled = contact.gearSet().cut == Cut::FaceMilled;
        tally.rightCut += (advice.chanceFaceMilled > 0.5) == milled;
    }
    return tally;
}

void printRow(const std::string& what, const Tally& t) {
    const double n = static_cast<double>(t.errorsThou.size());
    std::printf("| %-28s | %4.0f | %5.2f | %5.2f | %5.2f | %5.2f | %5.1f %% | %4.1f %% | %5.1f | %3d / %3d | %4.1f |\n",
                what.c_str(), n, quantileOrZero(t.errorsThou, 0.5), quantileOrZero(t.errorsThou, 0.95),
                quantileOrZero(t.moveErrorsThou, 0.5), quantileOrZero(t.moveErrorsThou, 0.95), 100 * t.held / n,
                100 * t.low / n, quantileOrZero(t.widthsThou, 0.5), t.directionRight, t.beyondThree,
                quantileOrZero(t.times, 0.5));
}

void printChances(const std::string& what, const Tally& t) {
    const double n = static_cast<double>(t.errorsThou.size());
    std::printf("| %-28s |", what.c_str());
    for (const int count : t.verdicts) std::printf(" %3.0f %% |", 100 * count / n);
    for (std::size_t b = 0; b < 5; ++b) {
        if (t.binCount[b] < 5)
            std::printf(" - (%d) |", t.binCount[b]);
        else
            std::printf(" %.2f -> %.2f (%d) |", t.binTold[b] / t.binCount[b], t.binTrue[b] / t.binCount[b],
                        t.binCount[b]);
    }
    std::printf("\n");
}

}  // namespace

int main(int argc, char** argv) {
    const int trials = argc > 1 ? std::atoi(argv[1]) : 400;
    const std::uint64_t seed = argc > 2 ? static_cast<std::uint64_t>(std::atoll(argv[2])) : 1;
    if (trials < 1) {
        std::fprintf(stderr, "usage: advice_study [TRIALS_PER_SET] [SEED]\n");
        return 2;
    }
    std::printf(
        "%d trials for each set with both sides, half as many in the other rows; seed %llu; reading noise of a mark's "
        "centre 2 %% of the face and 4 %% of the height, its length and height twice that, its slant to match; dial "
        "0.0005 in (0.012 mm).\n\n",
        trials, static_cast<unsigned long long>(seed));
    const ToothContact milled(demonstrationSet(Cut::FaceMilled)), hobbed(demonstrationSet(Cut::FaceHobbed));
    struct Row {
        std::string name;
        Tally tally;
    };
    std::vector<Row> rows;
    const auto study = [&](const char* what, Sides sides, int count, double scatter = 1) {
        for (const bool isMilled : {true, false}) {
            const ToothContact &contact = isMilled ? milled : hobbed, &other = isMilled ? hobbed : milled;
            rows.push_back({(isMilled ? "milled, " : "hobbed, ") + std::string(what),
                            runTrials(contact, &other, sides, count, seed, scatter)});
            // Long runs are watched.
            std::fprintf(stderr, "%s: interval holds %.1f %%\n", rows.back().name.c_str(),
                         100.0 * rows.back().tally.held / static_cast<double>(rows.back().tally.errorsThou.size()));
        }
    };
    study("both sides", Sides::Both, trials);
    study("drive side only", Sides::DriveOnly, trials / 2);
    study("no backlash reading", Sides::BothNoBacklash, trials / 2);
    study("cut not known", Sides::BothCutUnknown, trials / 2);
    study("scatter 1.5 x the usual", Sides::Both, trials / 2, 1.5);
    study("scatter 2 x the usual", Sides::Both, trials / 2, 2);

    std::printf(
        "| trials | n | median error, thou | 95 %% error, thou | move advised: median off, thou | 95 %% off, thou | "
        "interval holds | truth below it | interval width, thou | direction right beyond 3 thou | processor time, ms "
        "|\n");
    std::printf("|---|---|---|---|---|---|---|---|---|---|---|\n");
    for (const Row& row : rows) printRow(row.name, row.tally);
    std::printf(
        "\n| trials | accept | change | no shim | measure again | chance told -> came true: 0-20 %% | 20-40 %% | 40-60 "
        "%% | 60-80 %% | 80-100 %% |\n");
    std::printf("|---|---|---|---|---|---|---|---|---|---|\n");
    for (const Row& row : rows) printChances(row.name, row.tally);
    std::printf("\ncut recognised: milled %d of %zu, hobbed %d of %zu\n", rows[6].tally.rightCut,
                rows[6].tally.errorsThou.size(), rows[7].tally.rightCut, rows[7].tally.errorsThou.size());
    return 0;
}
