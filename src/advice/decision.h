// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The move that promises the least work until the set is as good as it can be made.
///
/// EQUATIONS. Of each sample i of the ensemble, q(i) is the chance that the set, left as it is after a move, comes
/// back (quality.h), C = Costs::comebackHours, and L what a later correction costs. Whether a later correction is made
/// is decided by what the next observation tells, not by the truth: with w(j, i) how likely sample i is after an
/// observation of sample j's marks, j itself left out,
///   later(j) = C q(j)  where sum over i of w(j, i) C q(i) <= L: it is left, and costs what it costs
///              L       where not: it is corrected
///   L        = kLaterFactor (one correction with the pinion out + E[later] after a move to the middle of the estimate)
///   leave as it is   E[C q]
///   a move           its own hours + confirmHours + E[later]
///   one more observation saves E[what is chosen now] - E[what is chosen after it], chosen by w, paid for by the truth
/// To take each sample for known after the next observation makes every move look cheap, since what is left would be
/// seen at once: needless corrections.
/// Used gears are wanted as they were: what is left of D is their marks then against now, with the errors of both
/// readings, not how well the sample makes either; and the backlash counts as it was within kUsedBacklashMm.
/// The least wins. Where the backlash has to be set whatever the depth is, and the depth's interval holds zero, the
/// ring gear alone goes before a pinion move that promises hardly less (kCloseHours). A further change would pay where
/// C (q - kLeftByChange) is more than one correction with the pinion out; the chance told of a move is the share of
/// samples in which none would, and in which the backlash lies inside its limits.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "advice/posterior.h"
#include "advice/quality.h"
#include "advice/shims.h"
#include "shimsight/core.h"

namespace shimsight::advice {

/// One gear model with its prior.
struct Model {
    const ToothContact* contact = nullptr;
    Prior prior;
    double logPrior = 0;  ///< of the model among those weighed
};

/// What the model of the tooth is off in depth by itself, mm, the same at every trial of a job: blanks are not quite
/// what their proportions say, and the fast model is within a hundredth of the tooth of the exact one (0.0007 in;
/// common practice, no source). No observation takes it away.
inline constexpr double kModelDepthMm = 0.018;

/// One equally likely truth, drawn from the ensemble of all models.
struct Sample {
    const Model* model = nullptr;
    SetUp setUp;
    double backlashSetNoise = 0;  ///< standard normal: how the next backlash will miss its target, in dial errors
    double shimNoise = 0;         ///< standard normal: how the next shim change will miss its thickness
};

/// `count` samples by systematic resampling (one random offset) of the particles of all models; `modelWeights` sum
/// to 1.
std::vector<Sample> drawSamples(const std::vector<Model>& models, const std::vector<Posterior>& posteriors,
                                const std::vector<double>& modelWeights, int count, Random& random);

/// The sample after the pinion went deeper by `depthChangeMm` and the backlash was set to `backlashTargetMm`.
SetUp afterMove(const Sample& sample, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm);

/// The marks of a sample at its best: pinion, ring gear and axes where the drawing has them, under the usual coat.
Marks bestMarks(const Sample& sample);

/// Whether, after the move, the backlash is inside the limits and no further change would pay.
bool endsRight(const Sample& sample, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm,
               const Costs& costs);

/// A move with what it promises.
struct Move {
    double depthChangeMm = 0;  ///< by a thickness change that can be stacked
    double thicknessChangeMm = 0;
    double backlashTargetMm = 0;
    double expectedHours = 0;  ///< of this correction and those after it
    double chance = 0;         ///< that no further change would pay after it
    double comeback = 0;       ///< mean chance that the set comes back if it is left after it
};

struct Choice {
    Move best;
    std::optional<Move> runnerUp;      ///< of another kind and nearly as good
    double wishedDepthChangeMm = 0;    ///< the best without regard to the shims on hand
    double chanceNow = 0;              ///< that no change would pay
    double comebackNow = 0;            ///< mean chance that the set comes back as it is
    double leaveHours = 0;             ///< expected cost of leaving the setting as it is
    double observationWorthHours = 0;  ///< what one more observation of the same setting saves on the average
};

struct DecisionInput {
    const std::vector<Sample>& samples;  ///< for the search a first part is used, for the chances all
    const GearSet& gearSet;              ///< its limits, and which of them are its own
    PinionShim shim = PinionShim::BehindPinionHead;
    std::vector<double> thicknessChangesMm{};  ///< that can be stacked
    double depthErrorMm = 0;                   ///< best estimate
    double depthSigmaMm = 0.03;                ///< its standard deviation
    std::optional<double> backlashNowMm{};     ///< as read, square to the tooth
    double backlashSigmaMm = kDialSigmaMm;
    Costs costs{};
    int effort = 1;  ///< times the samples that the search uses
    /// Scales of the noise of one more observation of this setting, by index(side); without any it is worth nothing.
    std::array<std::optional<Features>, 2> observationScales{};
    std::uint64_t seed = 1;  ///< of the observations imagined
    /// Used gears: the marks and the backlash that they had before they came apart, instead of each set's best.
    std::optional<Marks> wanted{};
    Marks seen{};  ///< with `wanted`: the marks of the last trial, as read
    std::optional<double> wantedBacklashMm{};
};

/// Moves nearly alike go to the smaller change.
Choice decide(const DecisionInput& input);

/// The mean pattern of the samples after a move, and the spread of its numbers.
struct Expected {
    Pattern mean;
    PatternSpread spread;
};
/// nullopt when most show no mark.
std::optional<Expected> expectedPattern(std::span<const Sample> samples, Side side, double depthChangeMm,
                                        double backlashTargetMm, double backlashSigmaMm);

}  // namespace shimsight::advice
