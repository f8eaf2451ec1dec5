#include "advice/shims.h"

#include <algorithm>
#include <cmath>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

constexpr double kThinnestShimMm = 0.001, kThickestShimMm = 10;

int grains(double mm) { return static_cast<int>(std::lround(mm / kShimGrainMm)); }

}  // namespace

double depthPerThickness(PinionShim where) { return where == PinionShim::UnderPinionSupport ? -1.0 : 1.0; }

std::string_view shimPlace(PinionShim where) {
    switch (where) {
        case PinionShim::BehindPinionHead:
            return "behind-pinion-head";
        case PinionShim::UnderBearingCup:
            return "under-bearing-cup";
        case PinionShim::UnderPinionSupport:
            break;
    }
    return "under-pinion-support";
}

std::string_view shimPlaceInWords(PinionShim where) {
    switch (where) {
        case PinionShim::BehindPinionHead:
            return "behind the pinion head";
        case PinionShim::UnderBearingCup:
            return "under the pinion's inner bearing cup";
        case PinionShim::UnderPinionSupport:
            break;
    }
    return "under the pinion support";
}

ShimStacks::ShimStacks(const std::vector<double>& shimsMm) {
    sizesMm_ = shimsMm;
    std::sort(sizesMm_.begin(), sizesMm_.end());
    for (const double mm : sizesMm_)
        if (!std::isfinite(mm) || mm < kThinnestShimMm || mm > kThickestShimMm)
            throw InputError("build.shims_mm: every shim must be between 0.001 and 10 mm thick.");
    sizesMm_.erase(
        std::unique(sizesMm_.begin(), sizesMm_.end(), [](double a, double b) { return grains(a) == grains(b); }),
        sizesMm_.end());
    for (const double mm : sizesMm_) sizes_.push_back(grains(mm));
    if (sizes_.empty()) return;

    // Level by level: totals of exactly n shims that fewer do not make.
    fewest_.assign(static_cast<std::size_t>(sizes_.back()) * kMostShims + 1, 0);
    std::vector<int> level{0};
    for (int count = 1; count <= kMostShims; ++count) {
        std::vector<int> next;
        for (const int total : level) {
            for (const int size : sizes_) {
                std::uint8_t& known = fewest_[static_cast<std::size_t>(total + size)];
                if (known != 0) continue;
                known = static_cast<std::uint8_t>(count);
                next.push_back(total + size);
            }
        }
        level = std::move(next);
    }
    for (std::size_t total = 1; total < fewest_.size(); ++total)
        if (fewest_[total] != 0) totalsMm_.push_back(static_cast<double>(total) * kShimGrainMm);
}

int ShimStacks::fewestFor(double totalMm) const {
    const int total = grains(totalMm);
    if (total < 0 || static_cast<std::size_t>(total) >= fewest_.size()) return 0;
    return fewest_[static_cast<std::size_t>(total)];
}

std::vector<double> ShimStacks::stackFor(double totalMm) const {
    int total = grains(totalMm);
    check(fewestFor(totalMm) > 0, "stackFor needs a total that the shims on hand can make");
    std::vector<double> stack;
    while (total > 0) {
        const int left = fewest_[static_cast<std::size_t>(total)] - 1;
        // The thickest shim that leaves a rest which one shim fewer can make.
        for (std::size_t i = sizes_.size(); i-- > 0;) {
            const int rest = total - sizes_[i];
            if (rest < 0 || (rest == 0) != (left == 0) || fewest_[static_cast<std::size_t>(rest)] != left) continue;
            stack.push_back(sizesMm_[i]);
            total = rest;
            break;
        }
    }
    std::sort(stack.rbegin(), stack.rend());
    return stack;
}

std::vector<double> thicknessChanges(const ShimStacks& stacks, std::optional<double> presentMm, double reachMm) {
    std::vector<int> changes{0};
    const int reach = grains(reachMm);
    if (stacks.anyThickness()) {
        const int step = grains(kFreeStepMm);
        for (int change = step; change <= reach; change += step) {
            changes.push_back(change);
            if (!presentMm || *presentMm - change * kShimGrainMm > 0) changes.push_back(-change);
        }
    } else if (presentMm) {
        for (const double total : stacks.totalsMm()) {
            const int change = grains(total - *presentMm);
            if (std::abs(change) <= reach) changes.push_back(change);
        }
    } else {
        std::vector<int> few{0};
        for (const double total : stacks.totalsMm())
            if (stacks.fewestFor(total) <= 2) few.push_back(grains(total));
        for (const int added : few)
            for (const int taken : few)
                if (std::abs(added - taken) <= reach) changes.push_back(added - taken);
    }
    std::sort(changes.begin(), changes.end());
    changes.erase(std::unique(changes.begin(), changes.end()), changes.end());
    std::vector<double> result;
    for (const int change : changes) result.push_back(change * kShimGrainMm);
    return result;
}

bool backAtLeft(const GearSet& gearSet) { return gearSet.hand == Hand::Right; }

double adjusterTurns(const Build& build, double ringGearMoveMm) {
    return build.adjusterThreadPitchMm > 0 ? ringGearMoveMm / build.adjusterThreadPitchMm : 0;
}

std::optional<AdjusterMove> adjusterMove(const GearSet& gearSet, double ringGearMoveMm) {
    const Build& build = gearSet.build;
    if (build.carrier != CarrierSetting::ThreadedAdjusters || build.adjusterNotches <= 0 ||
        build.adjusterThreadPitchMm <= 0)
        return std::nullopt;
    // To a tenth of a notch: finer means nothing on a dial.
    const double back = std::round(adjusterTurns(build, ringGearMoveMm) * build.adjusterNotches * 10) / 10 + 0.0;
    AdjusterMove move;
    move.leftNotches = backAtLeft(gearSet) ? back : -back + 0.0;
    move.rightNotches = backAtLeft(gearSet) ? -back + 0.0 : back;
    return move;
}

}  // namespace shimsight::advice
