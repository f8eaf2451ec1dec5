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
            words.steps.push_back(moveWords(step.move) + formatted(" (%.2f h; it gave %.0f %% for a good pattern)",
                                                                   step.hours, 100 * step.advice.chanceAcceptableNext));
            continue;
        }
        words.end = step.advice.verdict == Verdict::Accept           ? "It accepts"
                    : step.advice.verdict == Verdict::NoShimWillHelp ? "It says that no shim will help"
                                                                     : "It stops";
        words.end += formatted(" after %.2f h; the setting is ", hours) +
                     (goodness(*exercise.contact, step.after) > 0 ? "good." : "not good.");
    }
    return words;
}

}  // namespace shimsight
