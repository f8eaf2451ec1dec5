// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/words.h"

#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"

namespace shimsight {

PathWords pathWords(const Exercise& exercise, std::span<const PathStep> path) {
    PathWords words;
    double hours = 0;
    for (const PathStep& step : path) {
        if (step.advice.verdict == Verdict::Change && step.hours > 0) {
            hours += step.hours;
            words.steps.push_back(say("training.step-with-chance", moveWords(step.move), formatted("%.2f", step.hours),
                                      percent(step.advice.chanceAcceptableNext)));
            continue;
        }
        const bool good = goodness(*exercise.contact, step.after) > 0;
        words.end =
            say(step.advice.verdict == Verdict::Accept ? (good ? "training.accepts-good" : "training.accepts-bad")
                : step.advice.verdict == Verdict::NoShimWillHelp
                    ? (good ? "training.no-shim-good" : "training.no-shim-bad")
                    : (good ? "training.gives-up-good" : "training.gives-up-bad"),
                formatted("%.2f", hours));
    }
    return words;
}

}  // namespace shimsight
