#include "shimsight/words.h"

#include <array>
#include <cctype>
#include <cmath>
#include <cstdarg>
#include <cstdio>

#include "review/page_parts.h"
#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/review_words.h"

namespace shimsight {
namespace {

/// Two standard errors: about 95 % of readings lie inside.
constexpr double kShownSigmas = 2;

long share(double value) { return std::lround(100 * value); }

}  // namespace

std::string formatted(const char* format, ...) {
    std::array<char, 512> buffer{};
    va_list arguments;
    va_start(arguments, format);
    std::vsnprintf(buffer.data(), buffer.size(), format, arguments);
    va_end(arguments);
    return buffer.data();
}

std::string capital(std::string text) {
    if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    return text;
}

std::string lengthText(double mm, bool sign) { return formatLength(Length::fromMm(mm), sign); }

std::string percentText(double chance) { return chanceWords(chance); }

std::string sideText(Side side) { return side == Side::Drive ? "drive" : "coast"; }

std::string placeText(const Pattern& pattern) {
    const DepthPosition depth = pattern.depthPosition();
    return std::string(name(pattern.lengthPosition())) + ", " +
           (depth == DepthPosition::Face    ? "face"
            : depth == DepthPosition::Flank ? "flank"
                                            : "mid-height");
}

std::string centreText(const Pattern& pattern) {
    return formatted("%ld %% / %ld %%", share(pattern.toeHeel), share(pattern.rootTip));
}

std::string centreWithErrorText(const Pattern& pattern) {
    if (pattern.sigmaToeHeel <= 0) return centreText(pattern);
    return formatted("%ld \xC2\xB1 %ld %% / %ld \xC2\xB1 %ld %%", share(pattern.toeHeel),
                     share(kShownSigmas * pattern.sigmaToeHeel), share(pattern.rootTip),
                     share(kShownSigmas * pattern.sigmaRootTip));
}

std::string runsOffText(const RunsOff& off) {
    std::string words;
    const auto add = [&](bool is, const char* word) {
        if (is) words += (words.empty() ? "" : ", ") + std::string(word);
    };
    add(off.toe, "toe");
    add(off.heel, "heel");
    add(off.tip, "tip");
    add(off.root, "root");
    return words.empty() ? say("review.no-edge") : words;
}

std::string shimPlaceText(std::string_view where) { return placeWords(where); }

std::string shimPlaceText(PinionShim place) { return std::string(placeWords(place)); }

std::string shimChangeText(double thicknessChangeMm, bool done) {
    if (std::abs(thicknessChangeMm) < kNoMoveMm) return say(done ? "review.left-shims" : "review.leave-shims");
    const char* key =
        thicknessChangeMm > 0 ? (done ? "review.added" : "review.add") : (done ? "review.took-out" : "review.take-out");
    return say(key, lengthText(std::abs(thicknessChangeMm)));
}

std::string shortAdvice(const Advice& advice) { return leadInShort(advice); }

std::string depthErrorText(const Estimate& error) { return depthErrorWords(error); }

std::string depthIntervalText(const Estimate& error) { return depthIntervalWords(error); }

std::string tied(std::string text) {
    for (const std::string_view unit :
         {" in ", " in,", " in.", " in-lb", " ft-lb", " Nm", " (", " mm", " %", " \xC2\xB1", "\xC2\xB1 "}) {
        const std::size_t offset = unit.find(' ');
        for (std::size_t at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1)) {
            const bool afterNumber =
                unit.front() != ' ' || (at > 0 && (std::isdigit(static_cast<unsigned char>(text[at - 1])) != 0)) ||
                unit == " \xC2\xB1" ||
                (unit == " (" && at >= 2 && (text.compare(at - 2, 2, "in") == 0 || text.compare(at - 2, 2, "lb") == 0));
            if (afterNumber) text.replace(at + offset, 1, "\xC2\xA0");
        }
    }
    // Nor must "in-lb" break at its hyphen.
    for (const std::string_view unit : {"\xC2\xA0in-lb",
                                        "\xC2\xA0"
                                        "ft-lb"})
        for (std::size_t at = text.find(unit); at != std::string::npos; at = text.find(unit, at + 1))
            text.replace(at + 4, 1, "\xE2\x80\x91");
    return text;
}

std::string review::jobsCounted(std::size_t count) {
    return say(count == 1 ? "review.one-job" : "review.many-jobs", count);
}

std::string review::trialsCounted(std::size_t count) {
    return say(count == 1 ? "review.one-trial" : "review.many-trials", count);
}

std::string review::photosCounted(std::size_t count) {
    return say(count == 1 ? "review.one-photo" : "review.many-photos", count);
}

}  // namespace shimsight
