// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What several tests of the advice share: gear sets with limits, and looking for words.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "accuracy/advice/simulated_trial.h"
#include "shimsight/advice.h"

namespace shimsight::test {

/// With limits of its own, so that what is judged depends on no usual ones.
inline GearSet limitedSet(Cut cut) {
    GearSet set = simulated::demonstrationSet(cut);
    set.limits.backlashMm = {0.13, 0.23};
    set.given.backlashLimits = true;
    return set;
}

inline const ToothContact& milledContact() {
    static const ToothContact contact(limitedSet(Cut::FaceMilled));
    return contact;
}

inline const ToothContact& hobbedContact() {
    static const ToothContact contact(limitedSet(Cut::FaceHobbed));
    return contact;
}

/// Whether one of `sentences` has `part` in it.
inline bool says(const std::vector<std::string>& sentences, const std::string& part) {
    return std::any_of(sentences.begin(), sentences.end(),
                       [&](const std::string& sentence) { return sentence.find(part) != std::string::npos; });
}
inline bool says(const std::vector<Message>& sentences, const std::string& part) {
    return says(texts(sentences), part);
}

}  // namespace shimsight::test
