// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "measure/same_teeth.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <set>

namespace shimsight::measure {
namespace {

/// Marks of one tooth in two photos differ by less than this many of their standard errors, and in area by less than
/// this factor.
constexpr double kAlikeSigmas = 3, kAlikeArea = 2.5;

/// One photo's teeth of a side.
struct Row {
    std::vector<const MeasuredFlank*> read;
    std::set<int> bare;    ///< places without compound
    bool numbered = true;  ///< the place of every flank is known
};

/// A flank of one row and one of the other that are taken for the same tooth.
using Pairs = std::vector<std::array<std::size_t, 2>>;

Row rowOf(const MeasuredPhoto& photo, Side side) {
    Row row;
    for (const MeasuredFlank& flank : photo.flanks) {
        if (flank.side != side) continue;
        row.read.push_back(&flank);
        row.numbered = row.numbered && flank.tooth.has_value();
    }
    for (const RefusedFlank& flank : photo.refusedFlanks)
        if (flank.side == side && flank.tooth && flank.refused.why == Refusal::NoCompound)
            row.bare.insert(*flank.tooth);
    return row;
}

/// How far the marks are apart, in standard errors of their difference; more than kAlikeSigmas: not the same.
double apart(const MeasuredFlank& a, const MeasuredFlank& b) {
    const Pattern &p = a.contact.pattern, &q = b.contact.pattern;
    if (p.area > kAlikeArea * q.area || q.area > kAlikeArea * p.area) return std::numeric_limits<double>::infinity();
    const double u = (p.toeHeel - q.toeHeel) / std::max(1e-6, std::hypot(p.sigmaToeHeel, q.sigmaToeHeel));
    const double v = (p.rootTip - q.rootTip) / std::max(1e-6, std::hypot(p.sigmaRootTip, q.sigmaRootTip));
    return std::max(std::abs(u), std::abs(v));
}

/// The rows laid over one another with the second shifted by `shift` teeth.
struct Laid {
    Pairs alike;
    int against = 0;      ///< a mark over a bare tooth, or over quite another mark
    double distance = 0;  ///< sum over the pairs
    double worth() const { return static_cast<double>(alike.size()) - against; }
};

Laid laid(const Row& first, const Row& second, int shift) {
    Laid out;
    for (std::size_t i = 0; i < first.read.size(); ++i) {
        const int place = *first.read[i]->tooth;
        out.against += second.bare.contains(place - shift);
        for (std::size_t j = 0; j < second.read.size(); ++j) {
            if (*second.read[j]->tooth + shift != place) continue;
            const double distance = apart(*first.read[i], *second.read[j]);
            if (distance > kAlikeSigmas) {
                ++out.against;
                continue;
            }
            out.alike.push_back({i, j});
            out.distance += distance;
        }
    }
    for (const MeasuredFlank* flank : second.read) out.against += first.bare.contains(*flank->tooth + shift);
    return out;
}

Pairs pairsByPlace(const Row& first, const Row& second) {
    Laid best;
    std::set<int> shifts;
    for (const MeasuredFlank* a : first.read)
        for (const MeasuredFlank* b : second.read) shifts.insert(*a->tooth - *b->tooth);
    for (const int shift : shifts) {
        Laid next = laid(first, second, shift);
        if (next.worth() > best.worth() ||
            (next.worth() == best.worth() && !best.alike.empty() && next.distance < best.distance))
            best = std::move(next);
    }
    return best.worth() > 0 ? best.alike : Pairs{};
}

Pairs pairsByMarks(const Row& first, const Row& second) {
    struct Pair {
        double distance;
        std::array<std::size_t, 2> of;
    };
    std::vector<Pair> all;
    for (std::size_t i = 0; i < first.read.size(); ++i)
        for (std::size_t j = 0; j < second.read.size(); ++j)
            if (const double distance = apart(*first.read[i], *second.read[j]); distance <= kAlikeSigmas)
                all.push_back({distance, {i, j}});
    std::stable_sort(all.begin(), all.end(), [](const Pair& a, const Pair& b) { return a.distance < b.distance; });
    Pairs pairs;
    for (const Pair& pair : all)
        if (std::none_of(pairs.begin(), pairs.end(),
                         [&](const auto& taken) { return taken[0] == pair.of[0] || taken[1] == pair.of[1]; }))
            pairs.push_back(pair.of);
    return pairs;
}

}  // namespace

std::vector<int> toothOfEach(const std::vector<MeasuredPhoto>& photos, Side side) {
    std::vector<Row> rows;
    for (const MeasuredPhoto& photo : photos) rows.push_back(rowOf(photo, side));
    std::vector<std::vector<int>> tooth(rows.size());
    int teeth = 0;
    for (std::size_t p = 0; p < rows.size(); ++p) {
        tooth[p].assign(rows[p].read.size(), -1);
        for (std::size_t q = 0; q < p; ++q) {
            const bool placed = rows[q].numbered && rows[p].numbered;
            for (const auto& [i, j] : placed ? pairsByPlace(rows[q], rows[p]) : pairsByMarks(rows[q], rows[p])) {
                const bool taken = std::count(tooth[p].begin(), tooth[p].end(), tooth[q][i]) > 0;
                if (tooth[p][j] < 0 && !taken) tooth[p][j] = tooth[q][i];
            }
        }
        for (int& one : tooth[p])
            if (one < 0) one = teeth++;
    }
    std::vector<int> all;
    for (const std::vector<int>& row : tooth) all.insert(all.end(), row.begin(), row.end());
    return all;
}

}  // namespace shimsight::measure
