// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How good the whole line is, from photo to correction: trials are drawn from the advice's documented prior, rendered
// as photos of both sides, marked at the corners as a careful hand marks them, and read by the product's own facade.
// One line a trial goes to a CSV file; the table is printed at the end. See README.md beside this file.
//
// Each trial is read twice: with the marks (OUT.csv) and without, the flanks found by the program (OUT-found.csv).
//
// Run from the root of the repository. Usage: line_study TRIALS FIRST_SEED THREADS OUT.csv [WIDTH] [SAMPLES_PER_PIXEL]
// [WORST_FOLDER|-] [PHOTO_FOLDER] [shop]: photos that were refused or misread by more than a tenth go to the first
// folder; rendered photos are kept in the second and taken from it. With "shop" paint and light are as shops have them:
// messy, one hard lamp in half of the photos, gears small and large.

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "accuracy/quantiles.h"
#include "shimsight/files.h"
#include "shimsight/measure.h"
#include "shimsight/records.h"
#include "trial_photos.h"

using namespace shimsight;
using namespace shimsight::study;

namespace {

/// A careful hand marks a corner to about this share of the flank's length (one sigma, each axis).
constexpr double kPointSigmaShare = 0.004;
/// A flank is offered to the reader when this share of it is seen.
constexpr double kVisibleEnough = 0.9;

struct SideResult {
    bool asked = false;  ///< a photo showed rolled flanks of this side
    bool read = false;
    double trueU = 0, trueV = 0, u = 0, v = 0, sigmaU = 0, sigmaV = 0;
    int teeth = 0;
    std::string what;  ///< scene, marking, colour; or why nothing was read
};

struct Row {
    int trial = 0;
    std::string set;
    std::array<SideResult, 2> side;
    bool advised = false;
    double depthErrorThou = 0, bestThou = 0, lowThou = 0, highThou = 0, moveThou = 0, chance = 0;
    std::string verdict;
    bool acceptableAfter = false;
};

/// The outline file a careful person would make: every rolled flank of the faced side that is well seen.
std::vector<FlankOutline> marked(const TrialShot& photo, Random& random) {
    std::vector<FlankOutline> outlines;
    for (const FlankTruth& flank : photo.flanks) {
        if (flank.side != photo.faced || flank.state != ToothState::Rolled || flank.visibleShare < kVisibleEnough)
            continue;
        FlankOutline outline;
        outline.side = flank.side;
        const double length =
            std::hypot(flank.corners[3].x - flank.corners[0].x, flank.corners[3].y - flank.corners[0].y);
        for (std::size_t i = 0; i < 4; ++i)
            outline.corners[i] = {flank.corners[i].x + random.normal(0, kPointSigmaShare * length),
                                  flank.corners[i].y + random.normal(0, kPointSigmaShare * length)};
        outlines.push_back(outline);
    }
    return outlines;
}

/// Keeps what went wrong: the photo and its outline, to be read again by hand.
void keepWorst(const std::string& folder, int number, const Row& row, const std::vector<TrialPhoto>& photos) {
    constexpr double kMisread = 0.1;
    std::filesystem::create_directories(folder);
    for (const TrialPhoto& photo : photos) {
        const SideResult& s = row.side[photo.file == "drive" ? 0 : 1];
        if (s.read && std::hypot(s.u - s.trueU, s.v - s.trueV) < kMisread) continue;
        const std::string stem = folder + "/" + std::to_string(number) + "-" + photo.file;
        writeFileAtomically(stem + ".jpg", encodeJpeg(photo.photo.value().picture, 92));
        if (photo.outlines.empty()) continue;
        const std::string outline = writeOutline(photo.outlines);
        writeFileAtomically(stem + ".outline.json", std::vector<std::uint8_t>(outline.begin(), outline.end()));
    }
}

Row readTrial(const GearUnderStudy& gear, const DrawnTrial& drawn, int number, bool found,
              const std::string& worstFolder) {
    const simulated::Trial& trial = drawn.trial;
    const advice::Prior prior(gear.contact);
    Random random = drawn.random;
    Row row;
    row.trial = number;
    row.set = gear.name;
    std::vector<TrialPhoto> photos;
    for (const Side side : kSides) {
        const TrialShot& shot = drawn.shots[index(side)];
        SideResult& result = row.side[index(side)];
        result.what = shot.what;
        const Pattern truth = *trial.truePattern[index(side)];
        result.trueU = truth.toeHeel;
        result.trueV = truth.rootTip;
        TrialPhoto taken{std::string(side == Side::Drive ? "drive" : "coast"), decodePhoto(shot.jpeg),
                         marked(shot, random)};
        result.asked = !taken.outlines.empty();
        if (found) taken.outlines.clear();
        if (result.asked) photos.push_back(std::move(taken));
    }
    MeasureOptions options;
    const Measurement measured = measureTrial(photos, &gear.data, options);
    for (const Side side : kSides) {
        SideResult& result = row.side[index(side)];
        const auto& consensus = side == Side::Drive ? measured.drive : measured.coast;
        result.read = consensus.has_value();
        if (consensus) {
            const Pattern& p = consensus->pattern;
            result.u = p.toeHeel, result.v = p.rootTip, result.sigmaU = p.sigmaToeHeel, result.sigmaV = p.sigmaRootTip;
            result.teeth = p.teeth;
        } else {
            for (const MeasuredPhoto& photo : measured.photos)
                if (photo.refused && photo.file == (side == Side::Drive ? "drive" : "coast"))
                    result.what += " REFUSED " + text(photo.refused->reason);
        }
    }
    if (!worstFolder.empty()) keepWorst(worstFolder, number, row, photos);
    TrialObservation seen = observationOf(measured);
    seen.backlashMm = trial.seen.backlashMm;
    AdviceOptions adviceOptions;
    adviceOptions.seed = static_cast<std::uint64_t>(number) + 1;
    if (const std::optional<Advice> known = adviseTrial(measured, gear.data, seen, adviceOptions)) {
        const Advice& advice = *known;
        row.advised = true;
        row.depthErrorThou = trial.truth.error.depthMm / 0.0254;
        row.bestThou = advice.depthErrorMm.best / 0.0254;
        row.lowThou = advice.depthErrorMm.low90 / 0.0254;
        row.highThou = advice.depthErrorMm.high90 / 0.0254;
        row.moveThou = advice.pinionDepthChangeMm.best / 0.0254;
        row.chance = advice.chanceAcceptableNext;
        row.verdict = name(advice.verdict);
        row.acceptableAfter = simulated::rightAfter(gear.contact, prior, trial, advice, random);
    }
    return row;
}

std::string csvOf(const Row& row) {
    std::string line = std::to_string(row.trial) + "," + row.set;
    char buffer[256];
    for (const SideResult& s : row.side) {
        std::snprintf(buffer, sizeof buffer, ",%d,%d,%d,%.4f,%.4f,%.4f,%.4f,%.4f,%.4f", s.asked, s.read, s.teeth,
                      s.trueU, s.trueV, s.u, s.v, s.sigmaU, s.sigmaV);
        line += buffer;
    }
    std::snprintf(buffer, sizeof buffer, ",%d,%.3f,%.3f,%.3f,%.3f,%.3f,%.3f,%s,%d", row.advised, row.depthErrorThou,
                  row.bestThou, row.lowThou, row.highThou, row.moveThou, row.chance, row.verdict.c_str(),
                  row.acceptableAfter);
    line += buffer;
    for (const SideResult& s : row.side) {
        std::string what = s.what;
        std::replace(what.begin(), what.end(), '"', '\'');
        line += ",\"" + what + "\"";
    }
    return line + "\n";
}

void printTable(const std::vector<Row>& rows) {
    std::vector<double> lengthErrors[2], heightErrors[2], depthErrors, pulls[2];
    int asked = 0, read = 0, both = 0, held = 0, beyond = 0, right = 0, accepted = 0, advised = 0;
    for (const Row& row : rows) {
        for (std::size_t k = 0; k < 2; ++k) {
            const SideResult& s = row.side[k];
            asked += s.asked;
            read += s.read;
            if (!s.read) continue;
            lengthErrors[k].push_back(100 * std::abs(s.u - s.trueU));
            heightErrors[k].push_back(100 * std::abs(s.v - s.trueV));
            pulls[0].push_back(std::abs(s.u - s.trueU) / s.sigmaU);
            pulls[1].push_back(std::abs(s.v - s.trueV) / s.sigmaV);
        }
        if (!row.advised) continue;
        ++advised;
        if (!(row.side[0].read && row.side[1].read)) continue;
        ++both;
        depthErrors.push_back(std::abs(row.bestThou - row.depthErrorThou));
        held += row.lowThou <= row.depthErrorThou && row.depthErrorThou <= row.highThou;
        accepted += row.acceptableAfter;
        if (std::abs(row.depthErrorThou) > 3) {
            ++beyond;
            right += (row.bestThou > 0) == (row.depthErrorThou > 0);
        }
    }
    std::printf("trials %zu; sides with marked rolled flanks %d, read %d; trials advised %d, with both sides read %d\n",
                rows.size(), asked, read, advised, both);
    for (std::size_t k = 0; k < 2; ++k)
        std::printf(
            "%s centre error, %% of length: median %.2f, 95 %% within %.2f; %% of height: median %.2f, 95 %% within "
            "%.2f (n %zu)\n",
            k == 0 ? "drive" : "coast", quantileOrZero(lengthErrors[k], 0.5), quantileOrZero(lengthErrors[k], 0.95),
            quantileOrZero(heightErrors[k], 0.5), quantileOrZero(heightErrors[k], 0.95), lengthErrors[k].size());
    std::printf(
        "centre error over its stated standard error: 68 %% within %.2f (length), %.2f (height); 95 %% within %.2f, "
        "%.2f\n",
        quantileOrZero(pulls[0], 0.68), quantileOrZero(pulls[1], 0.68), quantileOrZero(pulls[0], 0.95),
        quantileOrZero(pulls[1], 0.95));
    std::printf("depth error, both sides read, thousandths of an inch: median %.2f, 95 %% within %.2f (n %zu)\n",
                quantileOrZero(depthErrors, 0.5), quantileOrZero(depthErrors, 0.95), depthErrors.size());
    if (both > 0)
        std::printf("90 %% intervals hold %.1f %% of the truths; acceptable after one correction %.1f %%\n",
                    100.0 * held / both, 100.0 * accepted / both);
    if (beyond > 0) std::printf("direction right beyond 0.003 in: %d of %d\n", right, beyond);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 5) {
        std::fputs(
            "usage: line_study TRIALS FIRST_SEED THREADS OUT.csv [WIDTH] [SAMPLES_PER_PIXEL] "
            "[WORST_FOLDER|-] [PHOTO_FOLDER]\n",
            stderr);
        return 2;
    }
    const int trials = std::atoi(argv[1]);
    const auto seed = static_cast<std::uint64_t>(std::atoll(argv[2]));
    const int threads = std::max(1, std::atoi(argv[3]));
    const int width = argc > 5 ? std::atoi(argv[5]) : 1280;
    const int samples = argc > 6 ? std::atoi(argv[6]) : 12;
    const std::string worstFolder = argc > 7 && std::string(argv[7]) != "-" ? argv[7] : "";
    const std::vector<GearUnderStudy> gears = gearsUnderStudy();
    const std::string photoFolder = argc > 8 ? argv[8] : "";
    const Looks looks = argc > 9 && std::string(argv[9]) == "shop" ? Looks::Shop : Looks::Tidy;
    std::string foundName = argv[4];
    foundName.insert(foundName.ends_with(".csv") ? foundName.size() - 4 : foundName.size(), "-found");
    std::array<std::ofstream, 2> csv{std::ofstream(argv[4]), std::ofstream(foundName)};
    for (std::ofstream& file : csv)
        file
            << "trial,set,drive_asked,drive_read,drive_teeth,drive_true_u,drive_true_v,drive_u,drive_v,drive_sigma_u,"
               "drive_sigma_v,coast_asked,coast_read,coast_teeth,coast_true_u,coast_true_v,coast_u,coast_v,coast_sigma_"
               "u,coast_sigma_v,advised,true_depth_thou,best_thou,low90_thou,high90_thou,move_thou,chance_next,verdict,"
               "acceptable_after,drive_what,coast_what\n";
    std::array<std::vector<Row>, 2> rows;
    std::atomic<int> next{0};
    std::mutex guard;
    const auto work = [&] {
        for (int i = next++; i < trials; i = next++) {
            const GearUnderStudy& gear = gears[static_cast<std::size_t>(i) % gears.size()];
            const DrawnTrial drawn = drawTrialPhotos(gear, i, {seed, width, samples, photoFolder, looks});
            for (const bool found : {false, true}) {
                const std::string worst = worstFolder.empty() ? "" : worstFolder + (found ? "-found" : "");
                Row row = readTrial(gear, drawn, i, found, worst);
                const std::lock_guard lock(guard);
                csv[found] << csvOf(row) << std::flush;
                rows[found].push_back(std::move(row));
            }
        }
    };
    std::vector<std::thread> workers;
    for (int i = 0; i < threads; ++i) workers.emplace_back(work);
    for (std::thread& worker : workers) worker.join();
    for (const bool found : {false, true}) {
        std::printf("-- %s\n", found ? "found" : "marked");
        printTable(rows[found]);
    }
    return 0;
}
