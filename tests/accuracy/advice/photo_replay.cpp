// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Whether intervals and chances hold for patterns read off photos: the centres that the program read on rendered trials
// (photo_readings.csv, from the study in ../line) are given to the advice once more, with the truth drawn again from
// its seed. Length, height and slant were not kept, so they are drawn with the noise named on the command line. Run
// from the root of the repository. Usage: photo_replay [EXTENT_NOISE]; see README.md beside this file.

#include <array>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "shimsight/records.h"
#include "simulated_trial.h"

using namespace shimsight;
using namespace shimsight::simulated;

namespace {

constexpr int kRepetitions = 5;  ///< of each trial, with other extents

/// No reading is this far off the true centre: the mark is another one. A prior that changed draws other trials from
/// the same seeds; more than this share of them are no chance.
constexpr double kFarOff = 0.15, kMaxOthers = 0.05;
bool farFrom(const Pattern& truth, double toeHeel, double rootTip) {
    return std::abs(truth.toeHeel - toeHeel) > kFarOff || std::abs(truth.rootTip - rootTip) > kFarOff;
}

struct Tally {
    int n = 0, held = 0;
    double width = 0;
    std::array<int, 5> count{};
    std::array<double, 5> told{}, came{};
};

/// The true mark moved to where it was read, its ends and slant off by `extentNoise` times what the errors stated.
Pattern readAgain(const ToothContact& contact, const Trial& trial, Side side, const std::vector<double>& read,
                  double extentNoise, Random& random) {
    const Pattern& truth = *trial.truePattern[index(side)];
    const FlankMap map =
        contact.predictMap(side, trial.truth.error, trial.truth.modification[index(side)], trial.truth.filmMm);
    MapChange change;
    change.shiftU = read[0] - truth.toeHeel;
    change.shiftV = read[1] - truth.rootTip;
    change.stretchU = 1 + random.normal(0, 2 * extentNoise * read[2]) / std::max(truth.length, 0.15);
    change.stretchV = 1 + random.normal(0, 2 * extentNoise * read[3]) / std::max(truth.height, 0.15);
    change.slant = random.normal(0, extentNoise * read[3]) / std::max(truth.length, 0.15);
    Pattern pattern = measurePattern(changed(map, truth, change)).value_or(truth);
    pattern.toeHeel = read[0];
    pattern.rootTip = read[1];
    pattern.sigmaToeHeel = read[2];
    pattern.sigmaRootTip = read[3];
    return pattern;
}

}  // namespace

int main(int argc, char** argv) {
    const double extentNoise = argc > 1 ? std::atof(argv[1]) : kPhotoExtentNoise;
    std::ifstream csv("tests/accuracy/advice/photo_readings.csv");
    std::string line;
    std::getline(csv, line);
    std::map<std::string, ToothContact> sets;
    Tally tally;
    int trials = 0, others = 0;
    while (std::getline(csv, line)) {
        std::stringstream fields(line);
        std::string field, set;
        std::getline(fields, field, ',');
        const std::uint64_t seed = std::stoull(field);
        std::getline(fields, field, ',');
        const std::uint64_t number = std::stoull(field);
        std::getline(fields, set, ',');
        std::vector<double> values;
        while (std::getline(fields, field, ',')) values.push_back(std::stod(field));
        if (!sets.contains(set))
            sets.emplace(set, ToothContact(completeGearSet(loadGearSet("models/gear-sets/" + set + ".json"))));
        const ToothContact& contact = sets.at(set);
        const advice::Prior prior(contact);
        Random random = Random(seed).fork(number);
        const Trial trial = drawTrial(contact, prior, {}, random);
        const double depth = trial.truth.error.depthMm;
        if (std::abs(depth / 0.0254 - values[0]) > 0.002) {
            std::fprintf(stderr, "trial %s of seed %s is drawn otherwise now; it was left out\n",
                         std::to_string(number).c_str(), std::to_string(seed).c_str());
            continue;
        }
        ++trials;
        others += farFrom(*trial.truePattern[0], values[1], values[2]) ||
                  farFrom(*trial.truePattern[1], values[5], values[6]);
        for (int i = 0; i < kRepetitions; ++i) {
            Random noise = Random(seed + 1000).fork(kRepetitions * number + static_cast<std::uint64_t>(i));
            TrialObservation seen = trial.seen;
            seen.drive = readAgain(contact, trial, Side::Drive, {values[1], values[2], values[3], values[4]},
                                   extentNoise, noise);
            seen.coast = readAgain(contact, trial, Side::Coast, {values[5], values[6], values[7], values[8]},
                                   extentNoise, noise);
            seen.extentNoise = kPhotoExtentNoise;
            seen.patternNoise = kPhotoPatternNoise;
            const Advice advice = advise({&contact}, seen);
            if (advice.verdict == Verdict::MeasureAgain) continue;
            ++tally.n;
            tally.held += advice.depthErrorMm.low90 <= depth && depth <= advice.depthErrorMm.high90;
            tally.width += (advice.depthErrorMm.high90 - advice.depthErrorMm.low90) / 0.0254;
            if (advice.verdict == Verdict::NoShimWillHelp) continue;
            const auto bin = static_cast<std::size_t>(std::min(4, static_cast<int>(advice.chanceAcceptableNext * 5)));
            ++tally.count[bin];
            tally.told[bin] += advice.chanceAcceptableNext;
            tally.came[bin] += rightAfter(contact, prior, trial, advice, noise);
        }
    }
    if (others > kMaxOthers * trials) {
        std::fprintf(stderr, "%d of %d marks were read where the trials drawn now have none: make the readings anew\n",
                     others, trials);
        return 1;
    }
    std::printf("%d trials, %d times each; extents with %.1f times the stated errors\n", trials, kRepetitions,
                extentNoise);
    std::printf("interval holds %.1f %% of %d, mean width %.2f thou\n", 100.0 * tally.held / tally.n, tally.n,
                tally.width / tally.n);
    for (std::size_t b = 0; b < 5; ++b)
        if (tally.count[b] > 0)
            std::printf("chance told %.2f -> came true %.2f (%d)\n", tally.told[b] / tally.count[b],
                        tally.came[b] / tally.count[b], tally.count[b]);
    return trials > 0 ? 0 : 1;
}
