// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The gear sets of the studies, and the player who knows the truth.
#pragma once

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <utility>

#include "advice/shims.h"
#include "shimsight/records.h"
#include "world.h"

namespace shimsight::closed_loop {

inline const std::array kSetFiles{"lab-van-rear-axle-a", "lab-light-truck-rear-axle", "lab-farm-truck-rear-axle",
                                  "lab-farm-truck-spiral-bevel"};

struct GearUnderStudy {
    std::string name;
    GearSetData data;
    ToothContact contact;
    advice::Prior prior;
    explicit GearUnderStudy(const std::string& file)
        : GearUnderStudy(file, loadGearSet("models/gear-sets/" + file + ".json")) {}
    GearUnderStudy(const std::string& file, const GearSetData& of)
        : name(file), data(of), contact(completeGearSet(data)), prior(contact) {}

    /// The same set cut the other way, as adviseJob takes it.
    GearUnderStudy cutOtherwise() const {
        GearSetData other = data;
        other.cut = *data.cut == Cut::FaceMilled ? Cut::FaceHobbed : Cut::FaceMilled;
        other.cutterRadiusMm.reset();
        other.bladeGroups.reset();
        other.addendumAngleDeg.reset();
        other.dedendumAngleDeg.reset();
        return {name, other};
    }
};

/// Whether a set-up of it is right; see trulyRight of world.h.
inline bool trulyRight(const GearUnderStudy& gear, const advice::SetUp& setUp, const Costs& costs = {}) {
    return trulyRight(gear.contact, gear.prior, setUp, costs);
}

/// A set-up that shows a mark on one side at least: one without is turned by sight.
inline advice::SetUp drawVisible(const GearUnderStudy& gear, Random& random, double scatter = 1) {
    for (;;) {
        const advice::SetUp setUp = drawSetUp(gear.contact, gear.prior, random, scatter);
        for (const Side side : kSides)
            if (simulated::truePattern(gear.contact, side, setUp)) return setUp;
    }
}

/// The player who knows: of the moves that end right, the one after which the set is least likely to come back, by
/// trying all with the backlash set a little too small and a little too large.
inline std::optional<std::pair<double, double>> bestMove(const GearUnderStudy& gear, const advice::SetUp& setUp,
                                                         const Costs& costs = {}) {
    const GearSet& set = gear.contact.gearSet();
    const Interval& limits = set.limits.backlashMm;
    const advice::ShimStacks stacks(set.build.shimsMm);
    const double sign = advice::depthPerThickness(set.build.pinionShim);
    const advice::Model model{&gear.contact, gear.prior};
    const advice::Marks wanted = advice::bestMarks({&model, setUp});
    const auto moved = [&](double depthMm, double backlashMm) {
        advice::SetUp next = setUp;
        next.filmMm = kFilmMm;
        next.error.depthMm = depthMm;
        next.backlashMm = backlashMm;
        next.error.ringMm = gear.prior.ringFor(next.backlashMm, next.nominalBacklashMm, next.error);
        return next;
    };
    const auto comeback = [&](const advice::SetUp& next) {
        advice::Marks marks;
        for (const Side side : kSides) marks[index(side)] = advice::predictPattern(gear.contact, side, next);
        return advice::comebackChance(advice::badness(marks, wanted, set) +
                                      advice::backlashBadness(next.backlashMm, set));
    };
    std::optional<std::pair<double, double>> best;
    double least = 2;
    double last = -1e9;
    for (const double thickness : advice::thicknessChanges(stacks, std::nullopt, std::abs(setUp.error.depthMm) + 0.2)) {
        const double depth = setUp.error.depthMm + sign * thickness;
        if (std::abs(depth) > 0.2 || thickness - last < 0.008) continue;
        last = thickness;
        for (const double share : {0.25, 0.5, 0.75}) {
            const double target = limits.low + share * (limits.high - limits.low);
            const double sum =
                comeback(moved(depth, target - kSettingSigmaMm)) + comeback(moved(depth, target + kSettingSigmaMm));
            if (sum >= least || !trulyRight(gear, moved(depth, target), costs)) continue;
            least = sum;
            best = {sign * thickness, target};
        }
    }
    return best;
}

}  // namespace shimsight::closed_loop
