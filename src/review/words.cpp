// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <cctype>
#include <cmath>

#include "review/counts.h"
#include "shimsight/advice_words.h"
#include "shimsight/core.h"
#include "shimsight/review_words.h"

namespace shimsight {
namespace {

/// Two standard errors: about 95 % of measurements lie inside.
constexpr double kShownSigmas = 2;

long share(double value) { return std::lround(100 * value); }

}  // namespace

std::string lengthText(double mm, bool sign) { return formatLength(Length::fromMm(mm), sign); }

std::string percentText(double chance) { return chanceWords(chance); }

std::string dateText(const std::string& at) { return timeWords(at); }

std::string sideText(Side side) { return text(wordFor(side)); }

std::string placeText(const Pattern& pattern) {
    const DepthPosition depth = pattern.depthPosition();
    return placeAlong(pattern) + ", " +
           say(depth == DepthPosition::Face    ? "common.face"
               : depth == DepthPosition::Flank ? "common.flank"
                                               : "review.mid-height");
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
    const std::string words = edgesOff(off);
    return words.empty() ? say("review.no-edge") : words;
}

std::string shimPlaceText(PinionShim place) { return placeWords(place); }

std::string shimChangeText(double thicknessChangeMm, bool done) {
    if (std::abs(thicknessChangeMm) < kNoMoveMm) return say(done ? "review.left-shims" : "review.leave-shims");
    const char* key =
        thicknessChangeMm > 0 ? (done ? "review.added" : "review.add") : (done ? "review.took-out" : "review.take-out");
    return say(key, lengthText(std::abs(thicknessChangeMm)));
}

std::string shortAdvice(const Advice& advice) { return leadInShort(advice); }

std::string depthErrorText(const Estimate& error) { return depthErrorWords(error); }

std::string depthIntervalText(const Estimate& error) { return depthIntervalWords(error); }

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
