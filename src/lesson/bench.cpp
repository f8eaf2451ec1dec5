#include <algorithm>
#include <cmath>

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

BestMove bestMove(const ToothContact& contact, const Bench& bench) {
    // A grid over depth and backlash, then a finer one round its best point.
    const Interval& limits = contact.gearSet().limits.backlashMm;
    const double now = backlashMm(contact, bench);
    constexpr double kReachMm = 0.5, kCoarseMm = 0.05;
    BestMove best;
    best.goodness = goodness(contact, bench);
    const auto look = [&](double centreDepth, double reachDepth, double stepDepth, double centreLash, double reachLash,
                          double stepLash) {
        const int depths = static_cast<int>(std::lround(reachDepth / stepDepth));
        const int lashes = static_cast<int>(std::lround(reachLash / stepLash));
        for (int i = -depths; i <= depths; ++i) {
            for (int j = -lashes; j <= lashes; ++j) {
                const BenchMove move{centreDepth + i * stepDepth, centreLash + j * stepLash};
                const double good = goodness(contact, moved(contact, bench, move));
                if (good > best.goodness + 1e-9) best = {move, good};
            }
        }
    };
    const double half = 0.5 * (limits.high - limits.low);
    look(0, kReachMm, kCoarseMm, limits.middle() - now, half, half / 2);
    const BenchMove coarse = best.move;
    look(coarse.deeperMm, kCoarseMm, kCoarseMm / 5, coarse.moreBacklashMm, half / 2, half / 4);
    return best;
}

double benchHours(const BenchMove& move, const Costs& costs) {
    constexpr double kNoMoveMm = 0.0025;  // a tenth of a thousandth of an inch
    double hours = costs.trialHours;
    if (std::abs(move.deeperMm) > kNoMoveMm) hours += costs.pinionShimHours;
    // The ring gear moves with every depth change too, to hold the backlash.
    if (std::abs(move.moreBacklashMm) > kNoMoveMm || std::abs(move.deeperMm) > kNoMoveMm) hours += costs.ringGearHours;
    return hours;
}

}  // namespace shimsight
