// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// How well flanks are found in rendered photos without marks, and what each step of the finder buys. Photos are those
// of tests/accuracy/line (trials drawn from the advice's prior), kept in a folder. See README.md beside this file.
//
// Run from the root of the repository. Usage: teeth_study TRIALS FIRST_SEED THREADS OUT.csv WIDTH SAMPLES_PER_PIXEL
// PHOTO_FOLDER [OVERLAY_FOLDER]
// or: teeth_study without-gear PICTURES SEED THREADS WIDTH [FOLDER_OF_FALSE_ALARMS]

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "accuracy/quantiles.h"
#include "render/shot.h"
#include "shimsight/files.h"
#include "shimsight/teeth.h"
#include "training_pictures/training_pictures.h"
#include "trial_photos.h"

using namespace shimsight;
using namespace shimsight::study;

namespace {

/// A flank that ought to be found: this much of it in view, this large (full-size pixels).
constexpr double kUsableShare = 0.7, kUsableLengthPx = 120, kUsableHeightPx = 20;

/// The ways of finding that are compared.
struct Way {
    const char* name;
    bool gearSet;
    FindOptions options;
};

std::vector<Way> ways() {
    FindOptions warp, camera;
    warp.useCamera = false;
    return {{"warp", false, warp}, {"camera", false, camera}, {"warp+set", true, warp}, {"camera+set", true, camera}};
}

double lengthOf(const std::array<PixelPoint, 4>& c) {
    return 0.5 * (std::hypot(c[3].x - c[0].x, c[3].y - c[0].y) + std::hypot(c[2].x - c[1].x, c[2].y - c[1].y));
}

/// Width of the outline square to its length.
double heightOf(const std::array<PixelPoint, 4>& c) {
    double area = 0;
    for (std::size_t k = 0; k < 4; ++k) area += c[k].x * c[(k + 1) % 4].y - c[(k + 1) % 4].x * c[k].y;
    return 0.5 * std::abs(area) / std::max(1.0, lengthOf(c));
}

PixelPoint middleOf(const std::array<PixelPoint, 4>& c) {
    PixelPoint m;
    for (const PixelPoint& p : c) m.x += p.x / 4, m.y += p.y / 4;
    return m;
}

struct Match {
    const FlankTruth* truth = nullptr;
    bool sideRight = false;
    double meanCorner = 0, worstCorner = 0;  ///< shares of the true flank's length
};

/// The true flank whose middle is nearest, if within half its length.
Match matchOf(const FlankOutline& found, const std::vector<FlankTruth>& truth) {
    Match match;
    double nearest = 1e9;
    const PixelPoint m = middleOf(found.corners);
    for (const FlankTruth& flank : truth) {
        if (flank.visibleShare < 0.02) continue;
        const PixelPoint t = middleOf(flank.corners);
        const double d = std::hypot(m.x - t.x, m.y - t.y) / lengthOf(flank.corners);
        if (d < nearest && d < 0.5) nearest = d, match.truth = &flank;
    }
    if (match.truth == nullptr) return match;
    match.sideRight = found.side == match.truth->side;
    for (std::size_t c = 0; c < 4; ++c) {
        const double d =
            std::hypot(found.corners[c].x - match.truth->corners[c].x, found.corners[c].y - match.truth->corners[c].y) /
            lengthOf(match.truth->corners);
        match.meanCorner += d / 4;
        match.worstCorner = std::max(match.worstCorner, d);
    }
    return match;
}

struct Tally {
    int photos = 0, withTwo = 0, answered = 0, usable = 0, usableFound = 0, reported = 0, ghosts = 0, sideRight = 0;
    std::vector<double> mean, worst;
    std::array<int, 3> cutTold{}, cutRight{};  ///< by how sure: under 0.7, under 0.9, more
};

void drawLine(Picture& picture, PixelPoint a, PixelPoint b, std::array<std::uint8_t, 3> ink) {
    const int steps = static_cast<int>(std::hypot(b.x - a.x, b.y - a.y)) + 1;
    for (int k = 0; k <= steps; ++k) {
        const int x = static_cast<int>(a.x + (b.x - a.x) * k / steps),
                  y = static_cast<int>(a.y + (b.y - a.y) * k / steps);
        for (int dy = 0; dy < 2; ++dy)
            for (int dx = 0; dx < 2; ++dx)
                if (x + dx >= 0 && y + dy >= 0 && x + dx < picture.width && y + dy < picture.height)
                    std::copy(ink.begin(), ink.end(),
                              picture.rgb.begin() + 3 * (static_cast<std::ptrdiff_t>(y + dy) * picture.width + x + dx));
    }
}

void drawOutline(Picture& picture, const FlankOutline& o, std::array<std::uint8_t, 3> ink) {
    std::vector<PixelPoint> path{o.corners[0], o.corners[1]};
    path.insert(path.end(), o.tipEdge.begin(), o.tipEdge.end());
    path.insert(path.end(), {o.corners[2], o.corners[3]});
    path.insert(path.end(), o.rootEdge.rbegin(), o.rootEdge.rend());
    for (std::size_t k = 0; k < path.size(); ++k) drawLine(picture, path[k], path[(k + 1) % path.size()], ink);
}

/// Pictures without a ring gear: how many flanks are reported in them. Half are the renderer's plain kinds of things,
/// half its wider ones.
int studyWithoutGear(int count, std::uint64_t seed, int threads, int width, const std::string& folder) {
    std::atomic<int> next{0}, photos{0}, flanks{0};
    std::mutex guard;
    if (!folder.empty()) std::filesystem::create_directories(folder);
    const auto work = [&] {
        for (int i = next++; i < count; i = next++) {
            Random random = Random(seed).fork(static_cast<std::uint64_t>(i));
            RenderRequest request;
            request.widthPx = width;
            request.heightPx = width * 3 / 4;
            request.samplesPerPixel = 3;
            request.variety = random.uniform(0.2, 2);
            request.seed = random.bits();
            request.threads = 1;
            const Picture picture =
                i % 2 == 0 ? renderWithoutGear(request)
                           : render::takeShot(render::sceneOfOtherParts(request), request, false, 1).picture;
            const Photo photo = decodePhoto(encodeJpeg(picture, 90));
            const auto found = findTeeth(photo);
            const std::size_t n = found ? found.value().flanks.size() : 0;
            photos += n > 0;
            flanks += static_cast<int>(n);
            if (n == 0) continue;
            const std::lock_guard lock(guard);
            std::printf("picture %d: %zu flanks\n", i, n);
            if (!folder.empty())
                writeFileAtomically(folder + "/" + std::to_string(i) + ".jpg", encodeJpeg(picture, 85));
        }
    };
    std::vector<std::thread> workers;
    for (int i = 0; i < threads; ++i) workers.emplace_back(work);
    for (std::thread& worker : workers) worker.join();
    std::printf(
        "%d pictures without a ring gear (seed %llu, %d px wide): flanks reported in %d of them, %d flanks in all\n",
        count, static_cast<unsigned long long>(seed), width, photos.load(), flanks.load());
    return 0;
}

bool isUsable(const FlankTruth& flank) {
    return flank.visibleShare >= kUsableShare && lengthOf(flank.corners) >= kUsableLengthPx &&
           heightOf(flank.corners) >= kUsableHeightPx;
}

const char* sideName(Side side) { return side == Side::Drive ? "drive" : "coast"; }

/// Looks for teeth in the photos of drawn trials, each way, and counts what was found.
class Study {
public:
    Study(const Drawing& drawing, const std::string& csvFile, std::string overlays)
        : drawing_(drawing), overlays_(std::move(overlays)), gears_(gearsUnderStudy()), csv_(csvFile) {
        if (!overlays_.empty()) std::filesystem::create_directories(overlays_);
        csv_
            << "way,trial,faced,found_side,confidence,seen,corner_sigma,source,true_side,state,tooth,visible,length_px,"
               "height_px,side_right,"
               "mean_corner,worst_corner,what\n";
    }

    void run(int trials, int threads) {
        std::atomic<int> next{0};
        const auto work = [&] {
            for (int i = next++; i < trials; i = next++) {
                const GearUnderStudy& gear = gears_[static_cast<std::size_t>(i) % gears_.size()];
                const DrawnTrial drawn = drawTrialPhotos(gear, i, drawing_);
                for (const TrialShot& shot : drawn.shots) look(gear.contact.gearSet(), i, shot);
            }
        };
        std::vector<std::thread> workers;
        for (int i = 0; i < threads; ++i) workers.emplace_back(work);
        for (std::thread& worker : workers) worker.join();
    }

    void print() {
        std::printf(
            "| way | photos | with two usable flanks, of them two or more found | usable flanks found | reported | no "
            "flank there "
            "| side right | corners, %% of length: median | 95 %% | worst corner: median | 95 %% |\n"
            "|---|---|---|---|---|---|---|---|---|---|---|\n");
        for (const Way& way : ways()) {
            const Tally& t = tallies_[way.name];
            std::printf("| %s | %d | %d of %d | %d of %d (%.1f %%) | %d | %d | %.2f %% | %.2f | %.2f | %.2f | %.2f |\n",
                        way.name, t.photos, t.answered, t.withTwo, t.usableFound, t.usable,
                        100.0 * t.usableFound / std::max(1, t.usable), t.reported, t.ghosts,
                        100.0 * t.sideRight / std::max(1, t.reported), 100 * quantileOrZero(t.mean, 0.5),
                        100 * quantileOrZero(t.mean, 0.95), 100 * quantileOrZero(t.worst, 0.5),
                        100 * quantileOrZero(t.worst, 0.95));
        }
        const Tally& t = tallies_["camera"];
        std::printf(
            "cut told without a gear set, right of told: under 0.7 sure %d of %d, under 0.9 %d of %d, more %d of %d\n",
            t.cutRight[0], t.cutTold[0], t.cutRight[1], t.cutTold[1], t.cutRight[2], t.cutTold[2]);
    }

private:
    void look(const GearSet& gearSet, int trial, const TrialShot& shot) {
        const Photo photo = decodePhoto(shot.jpeg);
        const auto usable = static_cast<int>(std::count_if(shot.flanks.begin(), shot.flanks.end(), isUsable));
        for (const Way& way : ways()) {
            const auto found = findTeeth(photo, way.gearSet ? &gearSet : nullptr, way.options);
            const std::lock_guard lock(guard_);
            Tally& tally = tallies_[way.name];
            ++tally.photos;
            tally.usable += usable;
            tally.withTwo += usable >= 2;
            if (!found) continue;
            tally.answered += found.value().flanks.size() >= 2 && usable >= 2;
            countCut(found.value(), gearSet.cut, tally);
            std::vector<const FlankTruth*> met;
            for (const FoundFlank& flank : found.value().flanks) {
                csv_ << way.name << ',' << trial << ',';
                count(flank, shot, met, tally);
            }
            if (!overlays_.empty() && std::string(way.name) == "camera+set")
                drawOverlay(photo, found.value(),
                            overlays_ + "/" + std::to_string(trial) + "-" + sideName(shot.faced) + ".jpg");
        }
    }

    static void countCut(const FoundTeeth& found, Cut cut, Tally& tally) {
        if (!found.cut) return;
        const double sure = std::max(found.cut->chanceFaceMilled, 1 - found.cut->chanceFaceMilled);
        const std::size_t band = sure < 0.7 ? 0 : sure < 0.9 ? 1 : 2;
        ++tally.cutTold[band];
        tally.cutRight[band] += (found.cut->chanceFaceMilled > 0.5) == (cut == Cut::FaceMilled);
    }

    /// `met`: the true flanks found so far.
    void count(const FoundFlank& flank, const TrialShot& shot, std::vector<const FlankTruth*>& met, Tally& tally) {
        const Match match = matchOf(flank.outline, shot.flanks);
        ++tally.reported;
        char line[512];
        std::snprintf(line, sizeof line, "%s,%s,%.3f,%.3f,%.4f,%d,", sideName(shot.faced),
                      sideName(flank.outline.side.value_or(Side::Coast)), flank.confidence, flank.seenShare,
                      flank.cornerSigma, static_cast<int>(flank.source));
        csv_ << line;
        if (match.truth == nullptr) {
            ++tally.ghosts;
            csv_ << ",,,,,,0,,,\"" << shot.what << "\"\n";
            return;
        }
        tally.sideRight += match.sideRight;
        tally.mean.push_back(match.meanCorner);
        tally.worst.push_back(match.worstCorner);
        const FlankTruth& t = *match.truth;
        if (match.sideRight && isUsable(t) && std::find(met.begin(), met.end(), &t) == met.end()) {
            met.push_back(&t);
            ++tally.usableFound;
        }
        std::snprintf(line, sizeof line, "%s,%s,%d,%.3f,%.1f,%.1f,%d,%.4f,%.4f,\"%s\"\n", sideName(t.side),
                      std::string(name(t.state)).c_str(), t.tooth, t.visibleShare, lengthOf(t.corners),
                      heightOf(t.corners), match.sideRight, match.meanCorner, match.worstCorner, shot.what.c_str());
        csv_ << line;
    }

    static void drawOverlay(const Photo& photo, const FoundTeeth& found, const std::string& file) {
        Picture picture = photo.picture;
        for (const FoundFlank& flank : found.flanks)
            drawOutline(picture, flank.outline,
                        flank.outline.side == Side::Drive ? std::array<std::uint8_t, 3>{0, 255, 0}
                                                          : std::array<std::uint8_t, 3>{255, 0, 255});
        for (const LeftOutFlank& flank : found.leftOut) drawOutline(picture, flank.flank.outline, {255, 160, 0});
        writeFileAtomically(file, encodeJpeg(picture, 85));
    }

    Drawing drawing_;
    std::string overlays_;
    std::vector<GearUnderStudy> gears_;
    std::ofstream csv_;
    std::map<std::string, Tally> tallies_;
    std::mutex guard_;
};

}  // namespace

int main(int argc, char** argv) {
    if (argc >= 6 && std::string(argv[1]) == "without-gear")
        return studyWithoutGear(std::atoi(argv[2]), static_cast<std::uint64_t>(std::atoll(argv[3])), std::atoi(argv[4]),
                                std::atoi(argv[5]), argc > 6 ? argv[6] : "");
    if (argc < 8) {
        std::fputs(
            "usage: teeth_study TRIALS FIRST_SEED THREADS OUT.csv WIDTH SAMPLES_PER_PIXEL PHOTO_FOLDER "
            "[OVERLAY_FOLDER]\n",
            stderr);
        return 2;
    }
    Study study({.seed = static_cast<std::uint64_t>(std::atoll(argv[2])),
                 .widthPx = std::atoi(argv[5]),
                 .samplesPerPixel = std::atoi(argv[6]),
                 .keepFolder = argv[7]},
                argv[4], argc > 8 ? argv[8] : "");
    study.run(std::atoi(argv[1]), std::max(1, std::atoi(argv[3])));
    study.print();
    return 0;
}
