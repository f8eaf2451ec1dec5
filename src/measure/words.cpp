// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <stdexcept>
#include <utility>

#include "shimsight/measure.h"

namespace shimsight {

std::string behindCount(Refusal why) {
    switch (why) {
        case Refusal::NoToothFound:
            return say("measure.counted-no-tooth");
        case Refusal::FlankTooSmall:
            return say("measure.counted-too-small");
        case Refusal::FlankOutsidePicture:
            return say("measure.counted-cut-off");
        case Refusal::OutlineUnusable:
            return say("measure.counted-aside");
        case Refusal::TooDark:
            return say("measure.counted-dark");
        case Refusal::Glare:
            return say("measure.counted-glare");
        case Refusal::OutOfFocus:
            return say("measure.counted-focus");
        case Refusal::NoCompound:
            return say("measure.counted-no-compound");
        case Refusal::NotRolled:
            return say("measure.counted-not-rolled");
        case Refusal::Smeared:
            return say("measure.counted-smeared");
        case Refusal::SideUnknown:
            return say("measure.counted-side");
        case Refusal::UnreadablePhoto:
            return say("measure.counted-broken");
    }
    throw std::logic_error("a refusal without words");
}

std::string countedReasons(std::span<const Refusal> reasons) {
    std::vector<std::pair<Refusal, std::size_t>> counts;
    for (const Refusal why : reasons) {
        const auto known = std::find_if(counts.begin(), counts.end(), [&](const auto& c) { return c.first == why; });
        if (known == counts.end())
            counts.emplace_back(why, 1);
        else
            ++known->second;
    }
    std::stable_sort(counts.begin(), counts.end(), [](const auto& a, const auto& b) { return a.second > b.second; });
    std::string text;
    for (const auto& [why, count] : counts)
        text += (text.empty() ? "" : ", ") + say("measure.counted", count, behindCount(why));
    return text;
}

std::vector<Message> whatIsMissing(const Measurement& measurement, const GearSetData* gearSet,
                                   const TrialObservation& seen, std::optional<Side> onlySide) {
    std::vector<Message> notes;
    if (!measurement.anythingRead()) return notes;
    const bool found = std::any_of(measurement.photos.begin(), measurement.photos.end(),
                                   [](const MeasuredPhoto& photo) { return photo.found; });
    for (const Side side : kSides) {
        if (side == Side::Drive ? measurement.drive.has_value() : measurement.coast.has_value()) continue;
        const bool leftOut = onlySide && *onlySide != side && found;
        notes.push_back(message(leftOut ? "measure.side-left-out" : "measure.side-missing", wordFor(side)));
    }
    if (gearSet == nullptr) {
        notes.push_back(message("measure.no-gear-set"));
        return notes;
    }
    if (measurement.setMisfit) {
        notes.push_back(message("measure.misfit-no-correction", misfitWords(*measurement.setMisfit)));
        return notes;
    }
    if (!seen.backlashMm) notes.push_back(message("measure.no-backlash"));
    if (!seen.shimStackMm) notes.push_back(message("measure.no-shim-stack"));
    return notes;
}

}  // namespace shimsight
