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

}  // namespace

std::string lengthText(double mm, bool sign) { return formatLength(Length::fromMm(mm), sign); }

std::string placeText(const Pattern& pattern) {
    const DepthPosition depth = pattern.depthPosition();
    return placeAlong(pattern) + ", " +
           say(depth == DepthPosition::Face    ? "common.face"
               : depth == DepthPosition::Flank ? "common.flank"
                                               : "review.mid-height");
}

std::string centreText(const Pattern& pattern) { return percent(pattern.toeHeel) + " / " + percent(pattern.rootTip); }

std::string centreWithErrorText(const Pattern& pattern) {
    if (pattern.sigmaToeHeel <= 0) return centreText(pattern);
    const auto part = [](double value, double sigma) {
        return say("review.percent-plus-minus", std::lround(100 * value), std::lround(100 * kShownSigmas * sigma));
    };
    return part(pattern.toeHeel, pattern.sigmaToeHeel) + " / " + part(pattern.rootTip, pattern.sigmaRootTip);
}

std::string runsOffText(const RunsOff& off) {
    const std::string words = edgesOff(off);
    return words.empty() ? say("review.no-edge") : words;
}

std::string shimChangeText(double thicknessChangeMm, bool done) {
    if (std::abs(thicknessChangeMm) < kNoMoveMm) return say(done ? "review.left-shims" : "review.leave-shims");
    const char* key =
        thicknessChangeMm > 0 ? (done ? "review.added" : "review.add") : (done ? "review.took-out" : "review.take-out");
    return say(key, lengthText(std::abs(thicknessChangeMm)));
}

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
