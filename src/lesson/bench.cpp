// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>

#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/lesson.h"

namespace shimsight {
namespace {

/// 1 in the middle of the interval, 0 at its ends.
double inside(const Interval& interval, double value) {
    const double half = 0.5 * (interval.high - interval.low);
    return 1 - std::abs(value - interval.middle()) / std::max(half, 1e-6);
}

double goodnessOf(const std::optional<Pattern>& pattern, const AcceptanceRule& rule) {
    constexpr double kNoMark = -4;
    if (!pattern) return kNoMark;
    double worst = std::min({inside(rule.toeHeel, pattern->toeHeel), inside(rule.rootTip, pattern->rootTip),
                             inside(rule.length, pattern->length)});
    if (!rule.mayRunOff && pattern->runsOff.any()) {
        // Deeper into the edge is worse, so that a search knows which way to go.
        const double edge = std::max({pattern->edgeToe, pattern->edgeHeel, pattern->edgeTip, pattern->edgeRoot});
        worst = std::min(worst, -edge);
    }
    return worst;
}

/// Goodness of the patterns alone.
double markGoodness(const ToothContact& contact, const Bench& bench) {
    const AcceptanceRule& rule = contact.gearSet().limits.acceptance;
    double worst = 1;
    for (const Side side : kSides) {
        const ContactGrid grid = contact.predict(side, bench.error, bench.modification[index(side)], bench.filmMm);
        worst = std::min(worst, goodnessOf(measurePattern(grid), rule));
    }
    return worst;
}

/// Backlash may stand anywhere inside its limits; only near their ends does it count against a setting.
double backlashGoodness(const ToothContact& contact, const Bench& bench) {
    constexpr double kPlateau = 0.5;  // of the half width
    return std::min(1.0, inside(contact.gearSet().limits.backlashMm, backlashMm(contact, bench)) / (1 - kPlateau));
}

}  // namespace

Bench rightBench(const ToothContact& contact) {
    Bench bench;
    bench.modification = contact.gearSet().modification;
    return bench;
}

Bench moved(const ToothContact& contact, Bench bench, const BenchMove& move) {
    bench.error.depthMm += move.deeperMm;
    bench.error.ringMm += contact.ringMoveForConstantBacklashMm(move.deeperMm) -
                          move.moreBacklashMm / contact.backlashRates().perRingMove;
    return bench;
}

double backlashMm(const ToothContact& contact, const Bench& bench) {
    return contact.gearSet().limits.backlashMm.middle() + contact.backlashChangeMm(bench.error);
}

BenchMarks marksOf(const ToothContact& contact, const Bench& bench) {
    BenchMarks marks;
    for (const Side side : kSides) {
        const std::size_t k = index(side);
        marks.map[k] = contact.predictMap(side, bench.error, bench.modification[k], bench.filmMm);
        marks.pattern[k] = measurePattern(marks.map[k]);
    }
    return marks;
}

double goodness(const ToothContact& contact, const Bench& bench) {
    return std::min(markGoodness(contact, bench), backlashGoodness(contact, bench));
}

bool isEvenHeight(const ToothContact& contact) { return contact.gearSet().cut == Cut::FaceHobbed; }

double shimStepMm(const GearSet& gearSet) {
    constexpr double kGrainMm = 1e-4, kUsualStepMm = 0.0254, kMinStepMm = 0.01;
    std::vector<double> sizes = gearSet.build.shimsMm;
    if (sizes.empty()) return kUsualStepMm;
    std::sort(sizes.begin(), sizes.end());
    // One shim is changed for another: steps are what their sizes differ by.
    const auto grains = [&](double mm) { return std::lround(mm / kGrainMm); };
    long step = 0;
    for (std::size_t i = 1; i < sizes.size(); ++i) step = std::gcd(step, grains(sizes[i]) - grains(sizes[i - 1]));
    if (step == 0) step = grains(sizes.front());
    return std::max(static_cast<double>(step) * kGrainMm, kMinStepMm);
}

BestMove bestMove(const ToothContact& contact, const Bench& bench) {
    const Interval& limits = contact.gearSet().limits.backlashMm;
    const double now = backlashMm(contact, bench), half = 0.5 * (limits.high - limits.low);
    const double step = shimStepMm(contact.gearSet());
    BestMove best;
    best.goodness = goodness(contact, bench);
    const auto look = [&](double deeperMm, double moreBacklashMm) {
        const BenchMove move{deeperMm, moreBacklashMm};
        const double good = goodness(contact, moved(contact, bench, move));
        if (good > best.goodness + 1e-9) best = {move, good};
    };
    // As a dial is set by: whole thousandths of an inch.
    const auto lashTo = [&](double targetMm) {
        constexpr double kDialMm = 0.0254;
        return kDialMm * static_cast<double>(std::lround((targetMm - now) / kDialMm));
    };
    if (best.goodness >= kClearlyGood) return best;
    // The pinion is not pulled for what moving the ring gear cures.
    constexpr int kParts = 4;
    for (int j = -kParts + 1; j < kParts; ++j) look(0, lashTo(limits.middle() + half * j / kParts));
    if (best.goodness >= kClearlyGood) return best;
    // Depths that the shims make, a coarse look and a finer one round its best; none that a mark cannot show.
    constexpr double kReachMm = 0.5, kCoarseMm = 0.05;
    const int reach = static_cast<int>(kReachMm / step), stride = std::max(1, static_cast<int>(kCoarseMm / step));
    const auto isMove = [&](int steps) { return std::abs(steps) * step > kMinPinionMoveMm - 1e-9; };
    for (int i = -reach; i <= reach; i += stride)
        if (isMove(i))
            for (int j = -1; j <= 1; ++j) look(i * step, lashTo(limits.middle() + half * j / 2));
    const int coarse = static_cast<int>(std::lround(best.move.deeperMm / step));
    const double target = now + best.move.moreBacklashMm;
    for (int i = coarse - stride; i <= coarse + stride; ++i)
        if (isMove(i))
            for (int j = -1; j <= 1; ++j) look(i * step, lashTo(target + half * j / 4));
    return best;
}

double benchHours(const BenchMove& move, const Costs& costs) {
    double hours = costs.trialHours;
    if (std::abs(move.deeperMm) > kNoMoveMm) hours += costs.pinionShimHours;
    // The ring gear moves with every depth change too, to hold the backlash.
    if (std::abs(move.moreBacklashMm) > kNoMoveMm || std::abs(move.deeperMm) > kNoMoveMm) hours += costs.ringGearHours;
    return hours;
}

}  // namespace shimsight
