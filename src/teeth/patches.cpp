// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "teeth/patches.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace shimsight::teeth {
namespace {

/// Middles may lie outside the input by this much (flanks cut by the border), input pixels.
constexpr int kMargin = 192;
/// Votes of one flank scatter by some 3.5 px (the network's card).
constexpr double kVoteSigma = 3.5;
constexpr int kBin = 2;  // input pixels to a bin of the vote map
/// Two patches of one side whose middles lie closer than this share of the square root of their common area (input
/// pixels) are one flank: a flank is at least three times as long as high, and teeth stand farther apart than half a
/// flank's height.
constexpr double kSameFlankShare = 0.16;
/// A cell goes to a peak no farther than this from its vote.
constexpr double kReachPx = 9;
constexpr double kReachShare = 0.12;  // or this share of the root of the peak's area

struct Peak {
    double x, y;
    double mass;
};

std::vector<Peak> peaksOf(const std::vector<const FlankCell*>& cells) {
    // The map covers the votes and what they spread to.
    constexpr float kLowX = -kMargin, kHighX = kInputWidth + kMargin, kLowY = -kMargin, kHighY = kInputHeight + kMargin;
    float left = kHighX, right = kLowX, top = kHighY, bottom = kLowY;
    const auto counts = [&](const FlankCell& cell) {
        return cell.middleX > kLowX && cell.middleX < kHighX && cell.middleY > kLowY && cell.middleY < kHighY;
    };
    for (const FlankCell* cell : cells) {
        if (!counts(*cell)) continue;
        left = std::min(left, cell->middleX), right = std::max(right, cell->middleX);
        top = std::min(top, cell->middleY), bottom = std::max(bottom, cell->middleY);
    }
    if (right < left) return {};
    constexpr int kSpread = static_cast<int>(4 * kVoteSigma);
    const double x0 = std::floor(left) - kSpread, y0 = std::floor(top) - kSpread;
    const int width = static_cast<int>((right - x0 + kSpread) / kBin) + 1,
              height = static_cast<int>((bottom - y0 + kSpread) / kBin) + 1;
    cv::Mat votes(height, width, CV_32F, cv::Scalar(0));
    for (const FlankCell* cell : cells)
        if (counts(*cell))
            votes.at<float>(static_cast<int>((cell->middleY - y0) / kBin),
                            static_cast<int>((cell->middleX - x0) / kBin)) += 1;
    cv::GaussianBlur(votes, votes, cv::Size(), kVoteSigma / kBin, kVoteSigma / kBin, cv::BORDER_CONSTANT);
    cv::Mat highest;
    cv::dilate(votes, highest, cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(5, 5)));
    // A patch of kMinCells whose votes all meet stands this high.
    const double floor = 0.35 * kMinCells / (2 * CV_PI * kVoteSigma * kVoteSigma / (kBin * kBin));
    std::vector<Peak> peaks;
    for (int j = 0; j < height; ++j)
        for (int i = 0; i < width; ++i)
            if (const float v = votes.at<float>(j, i); v >= floor && v >= highest.at<float>(j, i))
                peaks.push_back({(i + 0.5) * kBin + x0, (j + 0.5) * kBin + y0, v});
    return peaks;
}

/// The nearest peak within reach of the cell's vote, or -1. `reach`: squared, by peak.
int nearestPeak(const FlankCell& cell, const std::vector<Peak>& peaks, const std::vector<double>& reach) {
    double nearest = 1e12;
    int best = -1;
    for (std::size_t k = 0; k < peaks.size(); ++k) {
        const double dx = cell.middleX - peaks[k].x, dy = cell.middleY - peaks[k].y, d = dx * dx + dy * dy;
        if (d < nearest && d < reach[k]) nearest = d, best = static_cast<int>(k);
    }
    return best;
}

/// Squared reach of a peak on whose flank `cells` have voted so far.
double reachOf(double cells) {
    const double reach = std::max(kReachPx, kReachShare * std::sqrt(kCellArea * cells));
    return reach * reach;
}

std::vector<Patch> partSide(const std::vector<const FlankCell*>& cells) {
    std::vector<Peak> peaks = peaksOf(cells);
    std::vector<int> owner(cells.size(), -1);
    std::vector<double> reach(peaks.size(), reachOf(0));
    for (int round = 0; round < 4; ++round) {
        // Step 1: each cell to the nearest peak in reach.
        for (std::size_t c = 0; c < cells.size(); ++c) owner[c] = nearestPeak(*cells[c], peaks, reach);
        // Step 2: peaks to the mean of their votes.
        std::vector<Peak> sums(peaks.size(), {0, 0, 0});
        for (std::size_t c = 0; c < cells.size(); ++c) {
            if (owner[c] < 0) continue;
            Peak& sum = sums[static_cast<std::size_t>(owner[c])];
            sum.x += cells[c]->middleX, sum.y += cells[c]->middleY, sum.mass += 1;
        }
        std::vector<Peak> moved;
        for (const Peak& sum : sums)
            if (sum.mass > 0) moved.push_back({sum.x / sum.mass, sum.y / sum.mass, sum.mass});
        // Step 3: peaks that are one flank are joined, the largest first.
        std::sort(moved.begin(), moved.end(), [](const Peak& a, const Peak& b) { return a.mass > b.mass; });
        peaks.clear();
        reach.clear();
        for (const Peak& peak : moved) {
            bool joined = false;
            for (std::size_t k = 0; k < peaks.size() && !joined; ++k) {
                const double common = kCellArea * (peak.mass + peaks[k].mass);
                if (std::hypot(peak.x - peaks[k].x, peak.y - peaks[k].y) > kSameFlankShare * std::sqrt(common))
                    continue;
                const double w = peak.mass / (peak.mass + peaks[k].mass);
                peaks[k] = {peaks[k].x * (1 - w) + peak.x * w, peaks[k].y * (1 - w) + peak.y * w,
                            peak.mass + peaks[k].mass};
                reach[k] = reachOf(peaks[k].mass);
                joined = true;
            }
            if (!joined) peaks.push_back(peak), reach.push_back(reachOf(peak.mass));
        }
    }
    std::vector<Patch> patches(peaks.size());
    for (std::size_t k = 0; k < peaks.size(); ++k) patches[k].middle = {peaks[k].x, peaks[k].y};
    for (const FlankCell* cell : cells)
        if (const int best = nearestPeak(*cell, peaks, reach); best >= 0)
            patches[static_cast<std::size_t>(best)].cells.push_back(*cell);
    return patches;
}

}  // namespace

std::vector<Patch> partIntoFlanks(const std::vector<FlankCell>& cells) {
    std::vector<Patch> patches;
    for (const bool convex : {true, false}) {
        std::vector<const FlankCell*> side;
        for (const FlankCell& cell : cells)
            if ((cell.convex >= cell.concave) == convex) side.push_back(&cell);
        for (Patch& patch : partSide(side)) {
            if (static_cast<int>(patch.cells.size()) < kMinCells) continue;
            for (const FlankCell& cell : patch.cells) {
                patch.convexity += (cell.convex - cell.concave) / static_cast<double>(patch.cells.size());
                patch.painted += cell.painted / static_cast<double>(patch.cells.size());
            }
            patches.push_back(std::move(patch));
        }
    }
    return patches;
}

}  // namespace shimsight::teeth
