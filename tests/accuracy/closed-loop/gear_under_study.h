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

/// A set-up that shows a mark on one side at least: one without is turned by sight.
inline advice::SetUp drawVisible(const GearUnderStudy& gear, Random& random) {
    for (;;) {
        const advice::SetUp setUp = drawSetUp(gear.contact, gear.prior, random);
        for (const Side side : kSides)
            if (simulated::truePattern(gear.contact, side, setUp)) return setUp;
    }
}

/// The player who knows: the move whose result is acceptable with the most room, by trying all.
inline std::optional<std::pair<double, double>> bestMove(const GearUnderStudy& gear, const advice::SetUp& setUp) {
    const GearSet& set = gear.contact.gearSet();
    const Limits& limits = set.limits;
    const double width = limits.backlashMm.high - limits.backlashMm.low;
    const advice::ShimStacks stacks(set.build.shimsMm);
    const double sign = advice::depthPerThickness(set.build.pinionShim);
    std::optional<std::pair<double, double>> best;
    double mostRoom = 0;
    double last = -1e9;
    for (const double thickness : advice::thicknessChanges(stacks, std::nullopt, std::abs(setUp.error.depthMm) + 0.2)) {
        const double depth = setUp.error.depthMm + sign * thickness;
        if (std::abs(depth) > 0.2 || thickness - last < 0.008) continue;
        last = thickness;
        for (const double share : {0.25, 0.5, 0.75}) {
            advice::SetUp next = setUp;
            next.error.depthMm = depth;
            next.backlashMm = limits.backlashMm.low + share * width;
            next.error.ringMm = gear.prior.ringFor(next.backlashMm, next.nominalBacklashMm, next.error);
            // Room for the error of setting: 0.001 in counts like a twentieth of the tooth.
            double room = 0.05 * std::min(share, 1 - share) * width / 0.0254;
            for (const Side side : kSides) {
                const auto p = measurePattern(gear.contact.predict(side, next.error, next.modification[index(side)]));
                if (!p || !isAcceptable(*p, limits.acceptance)) {
                    room = 0;
                    break;
                }
                const AcceptanceRule& rule = limits.acceptance;
                room = std::min({room, p->rootTip - rule.rootTip.low, rule.rootTip.high - p->rootTip,
                                 p->toeHeel - rule.toeHeel.low, rule.toeHeel.high - p->toeHeel,
                                 0.5 * (rule.length.high - p->length)});
                for (const double edge : {p->edgeToe, p->edgeHeel, p->edgeTip, p->edgeRoot})
                    room = std::min(room, 0.10 - edge);
            }
            if (room <= mostRoom) continue;
            mostRoom = room;
            best = {sign * thickness, next.backlashMm};
        }
    }
    return best;
}

}  // namespace shimsight::closed_loop
