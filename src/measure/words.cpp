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

}  // namespace shimsight
