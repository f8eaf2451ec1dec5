/// From the measured patterns of one trial to the correction. Sees no pixels.
#pragma once

#include "shimsight/pattern.h"
#include "shimsight/tooth_contact.h"

#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace shimsight {

enum class Verdict { Accept, Change, NoShimWillHelp, MeasureAgain };
std::string_view name(Verdict verdict);  ///< "accept", "change", "no-shim-will-help", "measure-again"

/// What one trial showed.
struct TrialObservation {
    std::optional<Pattern> drive, coast;      ///< with their standard errors
    std::optional<double> backlashMm;         ///< as read on the dial
    DialReading dial = DialReading::SquareToTooth;
    double backlashSigmaMm = 0.012;           ///< reading error of a dial, about half a thousandth of an inch
    std::optional<double> shimStackMm;        ///< the pinion shims in place now
};

struct AdviceOptions {
    int samples = 0;             ///< size of the ensemble; 0 = default
    std::uint64_t seed = 1;      ///< the same observation and seed give the same advice
};

struct Estimate { double best = 0, low90 = 0, high90 = 0; };

struct AdviceShim {
    std::string where;               ///< "behind-pinion-head" | "under-bearing-cup" | "under-pinion-support"
    double thicknessChangeMm = 0;    ///< + add, - take
    std::vector<double> stackMm;     ///< the stack to fit (only when the present stack is known), from the shims on hand
};
struct AdjusterMove {                ///< + = tighten (moves the ring gear away from that side's adjuster)
    double leftNotches = 0, rightNotches = 0;
};

struct Advice {
    Verdict verdict = Verdict::MeasureAgain;
    Estimate pinionDepthChangeMm;        ///< the move to make, + = deeper; the interval is that of the wanted move
    Estimate depthErrorMm;               ///< the error found, + = pinion too deep
    std::optional<double> backlashNowMm;
    double backlashTargetMm = 0;
    double ringGearMoveMm = 0;           ///< + = toward the pinion; with the depth change made
    AdviceShim shim;
    std::optional<AdjusterMove> adjusters;   ///< threaded adjusters only
    double chanceAcceptableNext = 0;
    double chanceAcceptableNow = 0;
    double chanceFaceMilled = 1;         ///< posterior when the cut is not known
    std::optional<Pattern> expectedDrive, expectedCoast;
    std::vector<std::string> because, cautions;
};

/// The correction for one trial. Bayesian: a weighted ensemble of set-ups (depth, ring gear position, crowns, bias, design
/// points, offset, shaft angle, film) drawn from a documented prior and weighed by the features of both patterns and the
/// backlash; then the move with the highest chance of an acceptable pattern among the shims and backlashes allowed.
/// `models`: one, or two (milled and hobbed) when the cut is not known.
Advice advise(const std::vector<const ToothContact*>& models, const TrialObservation& trial, const AdviceOptions& options = {});

}  // namespace shimsight
