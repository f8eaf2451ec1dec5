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

std::vector<std::string> whatIsMissing(const Measurement& measurement, const GearSetData* gearSet,
                                       const TrialObservation& seen, std::optional<Side> onlySide) {
    std::vector<std::string> notes;
    if (!measurement.anythingRead()) return notes;
    const bool found = std::any_of(measurement.photos.begin(), measurement.photos.end(),
                                   [](const MeasuredPhoto& photo) { return photo.found; });
    for (const Side side : kSides) {
        if (side == Side::Drive ? measurement.drive.has_value() : measurement.coast.has_value()) continue;
        const std::string name = side == Side::Drive ? "drive" : "coast";
        notes.push_back((onlySide && *onlySide != side && found
                             ? "The " + name + " side was left out by --side."
                             : "The " + name + " side is missing: take a photo of the " + name + " side too.") +
                        " Both sides together tell depth from backlash far better than one.");
    }
    if (gearSet == nullptr) {
        notes.emplace_back(
            "No gear-set file was given, so the pattern is measured but no correction is worked out. Give one with "
            "--gear-set.");
        return notes;
    }
    if (measurement.setMisfit) {
        notes.push_back("No correction is worked out: " + misfitWords(*measurement.setMisfit) +
                        " Check the gear-set file. If it is the right one, mark the flanks by hand.");
        return notes;
    }
    if (!seen.backlashMm)
        notes.emplace_back(
            "No backlash was given. Read it with a dial and give it with --backlash: the correction hangs on it.");
    if (!seen.shimStackMm)
        notes.emplace_back(
            "The present shim stack is not known, so only the change of it is given. Give it with --shim-stack to get "
            "the shims to fit.");
    return notes;
}

}  // namespace shimsight
