/// The move that promises the least work until the pattern is acceptable.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "advice/posterior.h"
#include "advice/shims.h"
#include "shimsight/core.h"

namespace shimsight::advice {

/// One gear model with its prior.
struct Model {
    const ToothContact* contact = nullptr;
    Prior prior;
};

/// One equally likely truth, drawn from the ensemble of all models.
struct Situation {
    const Model* model = nullptr;
    SetUp setUp;
    double backlashSetNoise = 0;  ///< standard normal: how the next backlash will miss its target, in dial errors
};

/// `count` situations by systematic resampling (one random offset) of the particles of all models; `modelWeights` sum
/// to 1.
std::vector<Situation> drawSituations(const std::vector<Model>& models, const std::vector<Posterior>& posteriors,
                                      const std::vector<double>& modelWeights, int count, Random& random);

/// The situation after the pinion went deeper by `depthChangeMm` and the backlash was set to `backlashTargetMm`.
SetUp afterMove(const Situation& situation, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm);

/// Whether the move ends right: backlash inside the limits, both patterns acceptable under the usual coat.
bool endsRight(const Situation& situation, double depthChangeMm, double backlashTargetMm, double backlashSigmaMm,
               const Limits& limits);

/// A move with what it promises.
struct Move {
    double depthChangeMm = 0;  ///< by a thickness change that can be stacked
    double thicknessChangeMm = 0;
    double backlashTargetMm = 0;
    double expectedHours = 0;  ///< of this correction and those after it
    double chance = 0;         ///< that it ends acceptable: both patterns and the backlash
};

struct Choice {
    Move best;
    std::optional<Move> runnerUp;    ///< of another kind and nearly as good
    double wishedDepthChangeMm = 0;  ///< the best without regard to the shims on hand
    double chanceNow = 0;
    double leaveHours = 0;         ///< expected cost of leaving the setting as it is
    double readingWorthHours = 0;  ///< what one more reading of the same setting saves on the average
    double chanceAny = 0;          ///< share of situations that some shim and backlash would cure
};

struct DecisionInput {
    const std::vector<Situation>& situations;  ///< for the search a first part is used, for the chances all
    Limits limits;
    PinionShim shim = PinionShim::BehindPinionHead;
    std::vector<double> thicknessChangesMm;  ///< that can be stacked
    double depthErrorMm = 0;                 ///< best estimate
    double depthSigmaMm = 0.03;              ///< its standard deviation
    std::optional<double> backlashNowMm;     ///< as read, square to the tooth
    double backlashSigmaMm = 0.012;
    Costs costs;
    int effort = 1;  ///< times the situations that the search uses
    /// Scales of the noise of one more reading of this setting, by index(side); without any it is worth nothing.
    std::array<std::optional<Features>, 2> readingScales;
    std::uint64_t seed = 1;  ///< of the readings imagined
};

/// Expected hours of a move = its own + (1 - chance of acceptance) x those of the corrections after it, which start
/// from a better known gear set, + what it takes to see that it is right. The least wins; moves nearly alike go to the
/// smaller change. Leaving the setting as it is costs its chance of being wrong times a comeback.
Choice decide(const DecisionInput& input);

/// The mean pattern of the situations after a move, and the spread of its numbers.
struct Expected {
    Pattern mean;
    PatternSpread spread;
};
/// nullopt when most show no mark.
std::optional<Expected> expectedPattern(std::span<const Situation> situations, Side side, double depthChangeMm,
                                        double backlashTargetMm, double backlashSigmaMm);

}  // namespace shimsight::advice
