#include <algorithm>
#include <stdexcept>
#include <utility>

#include "shimsight/measure.h"

namespace shimsight {

std::string_view behindCount(Refusal why) {
    switch (why) {
        case Refusal::NoToothFound:
            return "not seen as a tooth";
        case Refusal::FlankTooSmall:
            return "too small or mostly hidden";
        case Refusal::FlankOutsidePicture:
            return "partly hidden or cut off";
        case Refusal::OutlineUnusable:
            return "seen from too far aside";
        case Refusal::TooDark:
            return "too dark";
        case Refusal::Glare:
            return "blown out by light";
        case Refusal::OutOfFocus:
            return "out of focus";
        case Refusal::NoCompound:
            return "without compound";
        case Refusal::NotRolled:
            return "painted but without contact";
        case Refusal::Smeared:
            return "with a smeared mark";
        case Refusal::SideUnknown:
            return "of unknown side";
        case Refusal::UnreadablePhoto:
            return "in a broken file";
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
        text += (text.empty() ? "" : ", ") + std::to_string(count) + " " + std::string(behindCount(why));
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
        notes.emplace_back("No correction is worked out: " + misfitWords(*measurement.setMisfit) +
                           " Check the gear-set file. If it is the right one, mark the flanks by hand.");
        return notes;
    }
    if (!seen.backlashMm) notes.push_back(message("measure.no-backlash"));
    if (!seen.shimStackMm) notes.push_back(message("measure.no-shim-stack"));
    return notes;
}

}  // namespace shimsight
