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

}  // namespace shimsight
