/// From the measured patterns of one trial to the correction. Sees no pixels.
///
/// HOW IT WORKS. The unknowns of the set-up are drawn from the prior below. Each draw gives a pattern on both flanks by
/// tooth contact analysis of the gear set in hand; draws whose patterns and backlash agree with the trial count more.
/// The answer is a weighted ensemble of set-ups; the correction is the one under which most of them end up acceptable.
///
/// PRIOR (before the marks are seen). Every unknown is a fixed function of an independent standard normal number z:
///   pinion depth error      kDepthScaleMm sinh(kDepthTail z) / kDepthTail      (sd 0.008 in near the middle, tails to
///   0.025 in) backlash now            lognormal, median the middle of the limits, kBacklashSpread; the dial then
///   narrows it backlash in the design position   middle of the limits + kNominalBacklashShare (half width of the
///   limits) z offset error            kOffsetScaleMm sinh(kOffsetTail z) / kOffsetTail   (most housings are good, a
///   few are bent) shaft-angle error       kShaftAngleScaleRad sinh(kShaftAngleTail z) / kShaftAngleTail film thickness
///   lognormal, median kFilmMm, kFilmSpread each flank's crowns     lognormal about the gear set's value,
///   kCrownSpread.. (known) or kAssumedCrownSpread (assumed) each flank's bias       the gear set's value +
///   kBiasShare.. sqrt(length crown x profile crown) z each flank's design point   the gear set's value +
///   kLengthShiftScatter.., kProfileShiftScatter.. sinh(kShiftTail z) / kShiftTail
/// The ring gear's position follows from the two backlashes and the depth. The scatters of cutting, housings and film
/// are chosen for a workshop (common practice, no source); they decide how wide the intervals are.
///
/// LIKELIHOOD. Each feature of each pattern differs from the predicted one by Student-t noise (kNoiseDof) whose scale
/// comes from the standard errors of the pattern's centre, sT lengthwise and sR up the tooth (each at least the model's
/// own error kModelSigma.., and times readingNoise): centre sT, sR; length 2 sT and height 2 sR (two ends of sqrt(2)
/// times the centre's error each); area twice what length and height make of it; tilt sR over the length of the mark;
/// share of an edge kEdgeSigma; all but the centre times extentNoise. A standard error of 0 means not stated:
/// kDefaultSigma.. is used. Dial reading: normal, backlashSigmaMm.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/pattern.h"
#include "shimsight/tooth_contact.h"

namespace shimsight {

inline constexpr double kDepthScaleMm = 0.190;         ///< 0.0075 in
inline constexpr double kDepthTail = 0.45;             ///< two chances in a hundred beyond 0.025 in
inline constexpr double kBacklashSpread = 0.50;        ///< log standard deviation of the backlash found in a trial
inline constexpr double kNominalBacklashShare = 0.50;  ///< of the half width of the backlash limits
inline constexpr double kOffsetScaleMm = 0.015;
inline constexpr double kOffsetTail = 0.90;             ///< one chance in a hundred beyond 0.08 mm
inline constexpr double kShaftAngleScaleRad = 0.00025;  ///< about 0.9 minutes of arc
inline constexpr double kShaftAngleTail = 0.90;
inline constexpr double kFilmSpread = 0.30;        ///< log standard deviation
inline constexpr double kCrownSpreadKnown = 0.12;  ///< log standard deviations, and the same where assumed
inline constexpr double kCrownSpreadAssumed = 0.35;
inline constexpr double kBiasShareKnown = 0.15;  ///< of sqrt(length crown x profile crown)
inline constexpr double kBiasShareAssumed = 0.35;
inline constexpr double kLengthShiftScatterKnown = 0.03;  ///< fraction of the face width
inline constexpr double kLengthShiftScatterAssumed = 0.06;
inline constexpr double kProfileShiftScatterKnown = 0.02;  ///< fraction of the working depth
inline constexpr double kProfileShiftScatterAssumed = 0.04;
inline constexpr double kShiftTail = 0.35;  ///< three sets in a hundred are cut off by more than 2.3 scatters

inline constexpr double kNoiseDof = 8;
inline constexpr double kModelSigmaToeHeel =
    0.008;  ///< of the fast model on its coarse grid, fraction of the face width
inline constexpr double kModelSigmaRootTip = 0.010;  ///< the same up the tooth
inline constexpr double kDefaultSigmaToeHeel = 0.02;
inline constexpr double kDefaultSigmaRootTip = 0.04;
inline constexpr double kEdgeSigma = 0.20;
/// For patterns read off photos: with 1, the 90 % intervals held 82 % of the truths on 74 rendered trials.
inline constexpr double kPhotoExtentNoise = 1.8;
/// What the model of the reading leaves out (runout, teeth that differ, marks misread by more than they say): all
/// standard errors of a pattern off photos count for this much more, so that the likelihood is tempered and with it the
/// whole ensemble: interval, chances and expected pattern alike. Replayed on the centre errors of 136 rendered trials
/// it holds 91 to 92 % and leaves the chances true (tests/accuracy/advice).
inline constexpr double kPhotoReadingNoise = 1.2;

enum class Verdict { Accept, Change, NoShimWillHelp, MeasureAgain };
std::string_view name(Verdict verdict);  ///< "accept", "change", "no-shim-will-help", "measure-again"

/// What one trial showed.
struct TrialObservation {
    std::optional<Pattern> drive, coast;  ///< with their standard errors
    std::optional<double> backlashMm;     ///< as read on the dial
    DialReading dial = DialReading::SquareToTooth;
    double backlashSigmaMm = 0.012;     ///< reading error of a dial, about half a thousandth of an inch
    std::optional<double> shimStackMm;  ///< the pinion shims in place now
    /// How much larger the errors of length, height, area, tilt and edge shares are than the centre's errors let
    /// expect. On photos the ends of a mark are feathered, and bare strips beside it join it (kPhotoExtentNoise).
    double extentNoise = 1;
    /// How much larger all errors of the patterns are than their standard errors say (kPhotoReadingNoise).
    double readingNoise = 1;
};

struct AdviceOptions {
    int samples = 0;         ///< size of the ensemble; 0 = default
    std::uint64_t seed = 1;  ///< the same observation and seed give the same advice
};

struct Estimate {
    double best = 0, low90 = 0, high90 = 0;
};

struct AdviceShim {
    std::string where;  ///< "behind-pinion-head" | "under-bearing-cup" | "under-pinion-support"
    double thicknessChangeMm =
        0;                        ///< + add, - take; made of the shims on hand, so it may differ a little from the wish
    std::vector<double> stackMm;  ///< the stack to fit (only when the present stack and the shims on hand are known)
};

/// + = tighten (moves the ring gear away from that side's adjuster). Left and right as seen from behind the axle,
/// looking along the pinion toward its drive flange with the pinion below the middle of the ring gear: then the back of
/// a right-hand ring gear is at the left, that of a left-hand one at the right. The text names the sides by the gear.
struct AdjusterMove {
    double leftNotches = 0, rightNotches = 0;
};

/// Shim, ring gear move and adjusters are 0 unless the verdict is Change.
struct Advice {
    Verdict verdict = Verdict::MeasureAgain;
    /// The move to make, + = deeper: the one of best chance, any shim thickness allowed, kept inside the interval. The
    /// interval is that of the move which ends in the design position.
    Estimate pinionDepthChangeMm;
    Estimate depthErrorMm;                ///< the error found, + = pinion too deep
    std::optional<double> backlashNowMm;  ///< as a dial square to the tooth reads it (the limits' convention)
    double backlashTargetMm = 0;          ///< the same convention
    double ringGearMoveMm = 0;            ///< + = toward the pinion; with the shim change made
    AdviceShim shim;
    std::optional<AdjusterMove> adjusters;  ///< threaded adjusters with a known number of notches only
    double chanceAcceptableNext = 0;        ///< after the move; for NoShimWillHelp the most that any move promises
    double chanceAcceptableNow = 0;
    double chanceFaceMilled = 1;                          ///< after the marks are seen; 0 or 1 when one model is given
    std::optional<Pattern> expectedDrive, expectedCoast;  ///< after the move
    std::vector<std::string> because, cautions;
};

/// The correction for one trial. Bayesian: see the head of this file. The moves weighed are those that the shop can
/// stack from its shims, each with a backlash inside the limits; the one with the highest chance wins, ties go to the
/// smaller. `models`: one, or two (milled and hobbed, same build and limits) when the cut is not known. Without any
/// pattern the verdict is MeasureAgain. Deterministic; 11 ms for one model and both sides on one core of the build
/// machine. Accuracy: tests/accuracy/advice.
Advice advise(const std::vector<const ToothContact*>& models, const TrialObservation& trial,
              const AdviceOptions& options = {});

}  // namespace shimsight
