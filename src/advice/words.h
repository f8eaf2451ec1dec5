// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The reasons and cautions of an advice in plain sentences.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "advice/decision.h"

namespace shimsight::advice {

/// Why a trial has to be measured again; the first that holds.
enum class Doubt {
    None,
    NoPattern,
    SidesSwapped,  ///< the patterns fit far better with drive and coast exchanged
    EntryOdd,      ///< an entry of this trial does not fit its marks
    NotThisSet,    ///< nothing near this gear set makes such patterns
    Wandering,     ///< the mark wanders from tooth to tooth
    PatternNoise,  ///< the marks were read too roughly
    MissingBacklash,
    MissingSide,
    OneMoreObservation,  ///< best left as it is, but one more observation of the setting pays before that is sure
    NothingStacks        ///< the shims on hand reach nothing better, nor is the present state good
};

/// How the centre of a mark moves, mm on the tooth, for 0.10 mm of movement.
struct Movement {
    double towardHeelMm = 0, towardTipMm = 0;
};
inline constexpr double kMovementStepMm = 0.10;

/// Movements by tooth contact analysis of this set, about the design position and with the crowning found.
struct Movements {
    std::array<Movement, 2> deeper;    ///< by index(side); pinion deeper by kMovementStepMm, backlash held
    std::array<Movement, 2> ringAway;  ///< ring gear away from the pinion by kMovementStepMm, depth held
};
Movements movementsOf(const Model& model, const SetUp& found);

/// Lengthwise curvature radius of the tooth over the mean cone distance.
double lengthwiseCurvature(const ToothContact& contact);

/// A mean with its spread.
struct Marginal {
    double mean = 0, sigma = 0;
    bool certain() const;  ///< its sign is as good as certain
};

/// Of value(particle) over the particles of `posterior`.
template <typename Value>
Marginal marginalOf(const Posterior& posterior, Value&& value) {
    double mean = 0, square = 0;
    for (const Particle& particle : posterior.particles) {
        const double x = value(particle);
        mean += particle.weight * x;
        square += particle.weight * x * x;
    }
    return {mean, std::sqrt(std::max(square - mean * mean, 0.0))};
}

/// What the sentences are made from.
struct Findings {
    const TrialObservation* trial = nullptr;
    const Model* model = nullptr;  ///< the likelier one
    bool cutWeighed = false;
    double depthIfMilledMm = 0,
           depthIfHobbedMm = 0;  ///< estimates of the depth error by each cut, when both were weighed
    Movements movements;
    std::array<Features, 2> pulls;  ///< see depthPulls
    Marginal offsetMm, shaftAngleRad;
    Choice choice;  ///< the best move found, made or not
    Doubt doubt = Doubt::None;
    bool impossible = false;  ///< no set-up of the gear set makes the marks, and nobody has looked why
    int trials = 1;
    bool usedGears = false;
    const TrialObservation* was = nullptr;  ///< used gears: what they showed before they came apart, where it is known
    double chanceOfSign = 0;                ///< that the depth error has the sign of the estimate
};

/// "0.006 in (0.15 mm) too deep", "none found"; and the ends of the 90 % interval, joined by "and".
Message depthErrorOf(const Estimate& error);
Message depthBetween(const Estimate& error);
/// "add 0.006 in (0.15 mm)", "take out ..."; a thickness of 0 is taken out, as it is nowhere told.
Message shimVerb(double thicknessChangeMm);

/// What to read or check before the move, from the doubt of this trial: see Advice::lookFirst. What a diagnosis asks as
/// a question is not asked here again.
std::vector<Message> lookFirstOf(const Findings& findings, const Advice& advice);
/// Why: what the marks say, what decided and what was ruled out. The move itself is told by headlineOf.
std::vector<Message> becauseOf(const Findings& findings, const Advice& advice);
std::vector<Message> cautionsFor(const GearSet& gearSet, const Advice& advice);

}  // namespace shimsight::advice
