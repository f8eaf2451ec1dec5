// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Set-ups that the advice does not expect: skewed where its prior is not, depth alike likely anywhere; read with 4 %
/// noise.
#pragma once

#include <optional>

#include "accuracy/advice/simulated_trial.h"

namespace shimsight::closed_loop {

inline constexpr double kReadingSigma = 0.04;      ///< of a mark's centre, both axes
inline constexpr double kReadDialSigmaMm = 0.012;  ///< of a backlash reading
inline constexpr double kSettingSigmaMm = 0.015;   ///< how a set backlash misses its target
inline constexpr double kShimSigmaMm = 0.010;      ///< how a shim change misses its thickness
inline constexpr double kFarthestDepthMm = 0.381;  ///< 0.015 in either way, all alike likely

/// Mean 0, standard deviation 1, skewness 1 (a gamma variable of shape 4).
inline double skewed(Random& random) {
    double sum = 0;
    for (int i = 0; i < 4; ++i) sum -= std::log(1 - random.uniform());
    return (sum - 4) / 2;
}

/// The film of one coat, skewed upward.
inline double drawFilm(Random& random) { return kFilmMm * std::exp(0.30 * skewed(random)); }

/// `scatter` multiplies how far housing, crowns, bias and design points depart.
inline advice::SetUp drawSetUp(const ToothContact& contact, const advice::Prior& prior, Random& random,
                               double scatter = 1) {
    const GearSet& set = contact.gearSet();
    const Interval& limits = set.limits.backlashMm;
    advice::SetUp setUp;
    setUp.error.depthMm = random.uniform(-kFarthestDepthMm, kFarthestDepthMm);
    // One housing in thirty is bent.
    const bool bent = random.chance(1.0 / 30);
    setUp.error.offsetMm = scatter * (0.018 * skewed(random) + (bent ? random.uniform(-0.10, 0.10) : 0));
    setUp.error.shaftAngleRad = scatter * 0.0003 * skewed(random) * (random.chance(0.5) ? 1 : -1);
    setUp.filmMm = drawFilm(random);
    for (const Side side : kSides) {
        Modification m = set.modification[index(side)];
        const double bias = std::sqrt(m.lengthCrownUm * m.profileCrownUm);
        m.lengthCrownUm *= std::exp(scatter * 0.15 * skewed(random));
        m.profileCrownUm *= std::exp(scatter * 0.15 * skewed(random));
        m.biasUm += scatter * 0.18 * bias * skewed(random);
        m.lengthShift += scatter * 0.036 * skewed(random);
        m.profileShift += scatter * 0.024 * skewed(random) * (random.chance(0.5) ? 1 : -1);
        setUp.modification[index(side)] = m;
    }
    setUp.nominalBacklashMm = random.uniform(limits.low, limits.high);
    setUp.backlashMm = 0.5 * limits.low * std::pow(4 * limits.high / limits.low, random.uniform());
    setUp.error.ringMm = prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error);
    return setUp;
}

/// What the mechanic reads of it; a side without a mark stays empty.
inline TrialObservation readTrial(const ToothContact& contact, const advice::SetUp& setUp, Random& random,
                                  double readingSigma = kReadingSigma) {
    TrialObservation seen;
    const simulated::ReadingNoise noise{readingSigma, readingSigma, kReadDialSigmaMm};
    for (const Side side : kSides) {
        const FlankMap map = contact.predictMap(side, setUp.error, setUp.modification[index(side)], setUp.filmMm);
        const auto truth = measurePattern(map);
        if (!truth) continue;
        (side == Side::Drive ? seen.drive : seen.coast) = simulated::readWithNoise(map, *truth, noise, random);
    }
    seen.backlashMm = std::max(setUp.backlashMm + random.normal(0, kReadDialSigmaMm), 0.0);
    seen.backlashSigmaMm = kReadDialSigmaMm;
    return seen;
}

/// Whether the true backlash is inside its limits and no further change would pay (advice/decision.h).
inline bool trulyRight(const ToothContact& contact, const advice::Prior& prior, const advice::SetUp& setUp,
                       const Costs& costs = {}) {
    const advice::Model model{&contact, prior};
    return advice::endsRight({&model, setUp}, 0, setUp.backlashMm, 0, costs);
}

/// The set-up after a change: shim by `depthChangeMm`, backlash set to `targetMm`, a new coat.
inline void makeChange(const advice::Prior& prior, double depthChangeMm, double targetMm, advice::SetUp& setUp,
                       Random& random) {
    if (depthChangeMm != 0) setUp.error.depthMm += depthChangeMm + random.normal(0, kShimSigmaMm);
    setUp.backlashMm = std::max(targetMm + random.normal(0, kSettingSigmaMm), 0.0);
    setUp.error.ringMm = prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error);
    setUp.filmMm = drawFilm(random);
}

}  // namespace shimsight::closed_loop
