// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/pattern.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "shimsight/core.h"

namespace shimsight {

namespace {

/// Less than this share of the flank is no pattern.
constexpr double kMinArea = 0.002;
/// Ends of a pattern: between these shares of its contact along an axis (a streak of a few pixels moves them little).
constexpr double kEndShare = 0.01;
/// Band along an edge that tells whether the pattern reaches it, as a share of the flank's length (height).
constexpr double kEdgeBandLength = 1.0 / 32, kEdgeBandHeight = 1.0 / 16;
/// A pattern runs off an edge when it marks this share of the edge's band.
constexpr double kRunsOffShare = 0.10;
/// Zones of the words toe, centre, heel and flank, centre, face.
constexpr double kCentreLow = 0.42, kCentreHigh = 0.58;

/// Position below which `share` of the sums lies, linear inside a bin; 0..1 over the bins.
double quantile(std::span<const double> sums, double total, double share) {
    double below = 0;
    const double wanted = share * total;
    for (std::size_t i = 0; i < sums.size(); ++i) {
        if (below + sums[i] >= wanted && sums[i] > 0)
            return (static_cast<double>(i) + (wanted - below) / sums[i]) / static_cast<double>(sums.size());
        below += sums[i];
    }
    return 1;
}

/// Of one row: its sum, and the sum of each value times its column.
struct RowSums {
    double sum = 0, moment = 0;
};

RowSums sumRow(const float* row, int columns, double* alongLength) {
    RowSums sums;
    for (int i = 0; i < columns; ++i) {
        const double value = row[i];
        sums.sum += value;
        sums.moment += value * i;
        alongLength[i] += value;
    }
    return sums;
}

/// Four rows that follow one another, side by side: a sum waits for the one before it, four of them do not.
std::array<RowSums, 4> sumFourRows(const float* first, int columns, double* alongLength) {
    const float *row1 = first + columns, *row2 = row1 + columns, *row3 = row2 + columns;
    RowSums s0, s1, s2, s3;
    for (int i = 0; i < columns; ++i) {
        const double v0 = first[i], v1 = row1[i], v2 = row2[i], v3 = row3[i];
        s0.sum += v0, s1.sum += v1, s2.sum += v2, s3.sum += v3;
        s0.moment += v0 * i, s1.moment += v1 * i, s2.moment += v2 * i, s3.moment += v3 * i;
        alongLength[i] = alongLength[i] + v0 + v1 + v2 + v3;
    }
    return {s0, s1, s2, s3};
}

}  // namespace

LengthPosition Pattern::lengthPosition() const {
    if (toeHeel < kCentreLow) return LengthPosition::Toe;
    return toeHeel > kCentreHigh ? LengthPosition::Heel : LengthPosition::Centre;
}

DepthPosition Pattern::depthPosition() const {
    if (rootTip < kCentreLow) return DepthPosition::Flank;
    return rootTip > kCentreHigh ? DepthPosition::Face : DepthPosition::Centre;
}

std::string_view name(LengthPosition position) {
    switch (position) {
        case LengthPosition::Toe:
            return "toe";
        case LengthPosition::Centre:
            return "centre";
        case LengthPosition::Heel:
            return "heel";
    }
    throw std::logic_error("a length position without a name");
}

std::string_view name(DepthPosition position) {
    switch (position) {
        case DepthPosition::Face:
            return "face";
        case DepthPosition::Centre:
            return "centre";
        case DepthPosition::Flank:
            return "flank";
    }
    throw std::logic_error("a depth position without a name");
}

std::optional<Pattern> measurePattern(std::span<const float> contact, int columns, int rows) {
    constexpr int kMaxCells = 256;
    check(columns > 0 && rows > 0 && columns <= kMaxCells && rows <= kMaxCells &&
              contact.size() == static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows),
          "measurePattern: the grid does not have columns x rows cells");
    std::array<double, kMaxCells> alongLength, alongHeight;  // filled as far as there are columns and rows
    std::fill_n(alongLength.begin(), columns, 0.0);
    double cross = 0;
    const auto take = [&](int j, const RowSums& sums) {
        alongHeight[static_cast<std::size_t>(j)] = sums.sum;
        cross += sums.moment * j;
    };
    int j = 0;
    for (; j + 4 <= rows; j += 4) {
        const auto sums = sumFourRows(contact.data() + j * columns, columns, alongLength.data());
        for (int k = 0; k < 4; ++k) take(j + k, sums[static_cast<std::size_t>(k)]);
    }
    for (; j < rows; ++j) take(j, sumRow(contact.data() + j * columns, columns, alongLength.data()));
    double total = 0, first = 0, second = 0, firstV = 0;
    for (j = 0; j < rows; ++j) {
        total += alongHeight[static_cast<std::size_t>(j)];
        firstV += alongHeight[static_cast<std::size_t>(j)] * j;
    }
    Pattern p;
    p.area = total / (static_cast<double>(columns) * rows);
    if (!(p.area >= kMinArea)) return std::nullopt;
    for (int i = 0; i < columns; ++i) {
        first += alongLength[static_cast<std::size_t>(i)] * i;
        second += alongLength[static_cast<std::size_t>(i)] * i * i;
    }
    const double meanU = first / total, meanV = firstV / total;
    p.toeHeel = (meanU + 0.5) / columns;
    p.rootTip = (meanV + 0.5) / rows;
    const double varianceU = (second / total - meanU * meanU) / (static_cast<double>(columns) * columns);
    const double covariance = (cross / total - meanU * meanV) / (static_cast<double>(columns) * rows);
    // The flank map is drawn twice as long as high: a slope of dv/du is half as steep on it.
    p.tiltDeg = varianceU > 1e-9 ? degrees(std::atan(0.5 * covariance / varianceU)) : 0;
    const std::span<const double> us(alongLength.data(), static_cast<std::size_t>(columns));
    const std::span<const double> vs(alongHeight.data(), static_cast<std::size_t>(rows));
    p.length = quantile(us, total, 1 - kEndShare) - quantile(us, total, kEndShare);
    p.height = quantile(vs, total, 1 - kEndShare) - quantile(vs, total, kEndShare);

    const int endCells = std::max(1, static_cast<int>(std::lround(columns * kEdgeBandLength)));
    const int sideCells = std::max(1, static_cast<int>(std::lround(rows * kEdgeBandHeight)));
    const auto bandShare = [](std::span<const double> sums, int from, int count, int across) {
        double sum = 0;
        for (int i = from; i < from + count; ++i) sum += sums[static_cast<std::size_t>(i)];
        return sum / (static_cast<double>(count) * across);
    };
    p.edgeToe = bandShare(us, 0, endCells, rows);
    p.edgeHeel = bandShare(us, columns - endCells, endCells, rows);
    p.edgeRoot = bandShare(vs, 0, sideCells, columns);
    p.edgeTip = bandShare(vs, rows - sideCells, sideCells, columns);
    p.runsOff = {p.edgeToe > kRunsOffShare, p.edgeHeel > kRunsOffShare, p.edgeTip > kRunsOffShare,
                 p.edgeRoot > kRunsOffShare};
    return p;
}

std::optional<Pattern> measurePattern(const FlankMap& map) {
    std::vector<float> contact(map.contact.size());
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x)
            contact[static_cast<std::size_t>((kMapHeight - 1 - y) * kMapWidth + x)] =
                static_cast<float>(map.at(x, y)) / 255.0F;
    return measurePattern(contact, kMapWidth, kMapHeight);
}

std::optional<Pattern> measurePattern(const ContactGrid& grid) { return measurePattern(grid.contact, kGridU, kGridV); }

std::string_view name(Marking marking) { return marking == Marking::Wiped ? "wiped" : "transferred"; }

bool isAcceptable(const Pattern& pattern, const AcceptanceRule& rule) {
    return rule.toeHeel.holds(pattern.toeHeel) && rule.rootTip.holds(pattern.rootTip) &&
           rule.length.holds(pattern.length) && (rule.mayRunOff || !pattern.runsOff.any());
}

}  // namespace shimsight
