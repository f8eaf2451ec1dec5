// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// From the measured patterns of one trial, or of all trials of a job, to the correction. Sees no pixels.
///
/// HOW IT WORKS. The unknowns of the set-up are drawn from the prior below. Each draw gives a pattern on both flanks by
/// tooth contact analysis of the gear set in hand; draws whose patterns and backlash agree with the trial count more.
/// The answer is a weighted ensemble of set-ups; the correction is the one that costs the fewest hours over all of
/// them, until the set is as good as it can be made (src/advice/decision.h, src/advice/quality.h have those equations).
///
// clang-format off
/// PRIOR (before the marks are seen). Every unknown is a fixed function of an independent standard normal number z.
/// Write S(z; scale, tail) = scale sinh(tail z) / tail: like scale z near 0, with heavier tails. Known: the file gives it.
///   scatter k                    exp(kScatterSpread z): how far this housing and this pair depart, against the usual;
///                                one number for all that it multiplies, so the marks of a job teach it
///   pinion depth error           S(z; kDepthScaleMm, kDepthTail): sd 0.008 in near the middle, tails to 0.025 in
///   backlash now                 middle of the limits x exp(kBacklashSpread z); the dial then narrows it
///   backlash in design position  middle of the limits + kNominalBacklashShare (half width of the limits) z where the
///                                limits are known, else middle of kUsualBacklashHobbedMm + kNominalBacklashAssumedMm z
///   offset error                 k S(z; kOffsetScaleMm, kOffsetTail): most housings are good, a few are bent
///   shaft-angle error            k S(z; kShaftAngleScaleRad, kShaftAngleTail)
///   film thickness               kFilmMm exp(kFilmSpread z)
/// and for each flank:
///   length and profile crown     known: the file's x exp(kCrownSpreadKnown z); else kFilmMm / share^2 with share, of the
///                                length or height that the usual coat marks, lognormal: nine sets in ten between
///                                kContactLength.. or kContactHeight..
///   bias                         the set's + k kBiasShare sqrt(length crown x profile crown) z
///   design point                 the set's + k S(z; kLengthShiftScatter, kShiftTail) along, k S(z; kProfileShiftScatter,
///                                kShiftTail) up the tooth
/// The lengthwise curvature of the tooth, where the file gives no cutter, is one of kCurvaturesMilled / kCurvaturesHobbed
/// (radius over mean cone distance), each as likely as the other: one ensemble for each, weighed by what it explains.
/// The ring gear's position follows from the two backlashes and the depth. The scatters of cutting, housings and film
/// are chosen for a workshop (common practice, no source); they decide how wide the intervals are.
///
// clang-format on
/// LIKELIHOOD. Each feature of each pattern differs from the predicted one by Student-t noise (kNoiseDof) whose scale
/// comes from the standard errors of the pattern's centre, sT lengthwise and sR up the tooth (each at least the model's
/// own error kModelSigma.., and times patternNoise): centre sT, sR; length 2 sT and height 2 sR (two ends of sqrt(2)
/// times the centre's error each); area twice what length and height make of it; tilt sR over the length of the mark;
/// share of an edge kEdgeSigma; all but the centre times extentNoise. A standard error of 0 means not stated:
/// kDefaultSigma.. is used. Dial reading: normal, backlashSigmaMm.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/pattern.h"
#include "shimsight/tooth_contact.h"
#include "shimsight/words.h"

namespace shimsight {

inline constexpr double kDepthScaleMm = 0.190;         ///< 0.0075 in
inline constexpr double kDepthTail = 0.45;             ///< two chances in a hundred beyond 0.025 in
inline constexpr double kBacklashSpread = 0.50;        ///< log standard deviation of the backlash found in a trial
inline constexpr double kNominalBacklashShare = 0.50;  ///< of the half width of the backlash limits
/// Backlash in print where the file gives no limits: 0.005 to 0.009 in for milled sets of common size, and down to
/// 0.003 in for hobbed ones (truck manuals 1988 and 1996, a light-truck manual 2008; see usualBacklashMm in
/// gear_set.cpp). What lies inside is not moved for its own sake.
inline constexpr Interval kUsualBacklashMilledMm{0.127, 0.229}, kUsualBacklashHobbedMm{0.076, 0.229};
inline constexpr double kNominalBacklashAssumedMm = 0.05;
inline constexpr double kScatterSpread = 0.40;  ///< log standard deviation: nine in ten between half and twice
inline constexpr double kOffsetScaleMm = 0.018;
inline constexpr double kOffsetTail = 0.80;             ///< one chance in a hundred beyond 0.08 mm
inline constexpr double kShaftAngleScaleRad = 0.00025;  ///< about 0.9 minutes of arc
inline constexpr double kShaftAngleTail = 0.80;
inline constexpr double kFilmSpread = 0.30;        ///< log standard deviation
inline constexpr double kCrownSpreadKnown = 0.33;  ///< log standard deviation: real sets scatter by a third
inline constexpr double kContactLengthLow = 0.40, kContactLengthHigh = 0.85;  ///< of the face width
inline constexpr double kContactHeightLow = 0.50, kContactHeightHigh = 1.10;  ///< of the working depth
inline constexpr double kBiasShare = 0.33;                                    ///< of sqrt(length crown x profile crown)
inline constexpr double kLengthShiftScatter = 0.050;                          ///< fraction of the face width
inline constexpr double kProfileShiftScatter = 0.040;                         ///< fraction of the working depth
inline constexpr double kShiftTail = 0.35;  ///< three sets in a hundred are cut off by more than 2.3 scatters
/// What is built, large-cutter milled sets to hobbed ones (contact model; the published range is 0.65 to 1.45).
inline constexpr std::array kCurvaturesMilled{0.78, 0.96, 1.18, 1.45};
inline constexpr std::array kCurvaturesHobbed{0.68, 0.84};

inline constexpr double kNoiseDof = 8;
inline constexpr double kModelSigmaToeHeel =
    0.008;  ///< of the fast model on its coarse grid, fraction of the face width
inline constexpr double kModelSigmaRootTip = 0.010;  ///< the same up the tooth
inline constexpr double kDefaultSigmaToeHeel = 0.02;
inline constexpr double kDefaultSigmaRootTip = 0.04;
inline constexpr double kEdgeSigma = 0.20;
/// For patterns read off photos (see TrialObservation). Chosen on 40 rendered trials, where 1 to 1.8 and 0.8 to 1.2
/// made no difference that counts; checked on others in tests/accuracy/line.
inline constexpr double kPhotoExtentNoise = 1.3;
inline constexpr double kPhotoPatternNoise = 1.0;

/// A shim change goes wrong by this: shims measured, bearings seated (0.0004 in; common practice, no
/// source).
inline constexpr double kDepthChangeSigmaMm = 0.010;
/// Share of the film's scatter that is the hand and the compound, not the single coat.
inline constexpr double kFilmKept = 0.5;

/// Reading error of a dial: about half a thousandth of an inch (common practice, no source).
inline constexpr double kDialSigmaMm = 0.012;
/// A backlash under this is none: a tenth of a thousandth of an inch, less than a dial of a bench shows.
inline constexpr double kNoPlayMm = 0.0025;

enum class Verdict { Accept, Change, NoShimWillHelp, MeasureAgain };
std::string_view name(Verdict verdict);  ///< "accept", "change", "no-shim-will-help", "measure-again"

/// What one trial showed.
struct TrialObservation {
    std::optional<Pattern> drive, coast;  ///< with their standard errors
    std::optional<double> backlashMm;     ///< as read on the dial
    DialReading dial = DialReading::SquareToTooth;
    double backlashSigmaMm = kDialSigmaMm;
    std::optional<double> shimStackMm;  ///< the pinion shims in place now
    bool fromPhotos = false;            ///< the patterns were read from photos; else drawn by hand or as maps
    /// Readings at equal steps once round the ring gear, with the same dial; at least four tell a wave of runout.
    std::vector<double> backlashRoundMm;
    /// How much larger the errors of length, height, area, tilt and edge shares are than the centre's errors let
    /// expect. On photos the ends of a mark are feathered, and bare strips beside it join it (kPhotoExtentNoise).
    double extentNoise = 1;
    /// How much larger all errors of the patterns are than their standard errors say (kPhotoPatternNoise).
    double patternNoise = 1;
    /// Chance that the teeth are face-milled by their outline on the photos, before any mark; inside 0 and 1.
    std::optional<double> chanceFaceMilled;
};

/// What several photos say of the cut together: chances of face-milled teeth, each strictly between 0 and 1. They see
/// one gear, and are right in 96 of 100 cases at most (tests/accuracy/teeth). nullopt: none.
std::optional<double> chanceFaceMilledTogether(std::span<const double> chances);

/// What photos of one trial show: the patterns read from them, with the noise of such patterns, and what each photo
/// says of the cut (chances of face-milled teeth, see chanceFaceMilledTogether). Backlash and shims are left open.
TrialObservation photographed(std::optional<Pattern> drive, std::optional<Pattern> coast,
                              std::span<const double> chancesFaceMilled);

/// One trial of a job.
struct JobTrial {
    TrialObservation seen;
    /// Shim thickness added since the trial before (- taken out). Without it the change follows from the two stacks;
    /// without those it counts as not known.
    std::optional<double> shimChangeMm;
};

/// Hours of a bench (common practice, no source): the pinion with its bearing pressed off and on, its nut and its
/// preload is the hours; wiping, painting and rolling once more is minutes. Adjusters are taken for the ring gear; a
/// shop whose side bearings are shimmed, or any other, gives its own by a file, see readCostsFile. Only the proportions
/// matter.
struct Costs {
    double trialHours = 0.25;      ///< of every correction: wipe, paint, roll and read what came of it
    double pinionShimHours = 2;    ///< more when the pinion comes out and goes in again
    double ringGearHours = 0.25;   ///< more for moving the ring gear
    double comebackHours = 20;     ///< a pattern left alone that was not acceptable: the axle comes back
    double readAgainHours = 0.25;  ///< wipe, paint, roll and read once more, nothing changed
    /// After a correction that ends right, until that is sure: an observation more, one change in ten that was not
    /// needed with the pinion out, and three in a hundred wrong acceptances.
    double confirmHours = 0.9;
};

enum class DiagnosisKind {
    HousingOffset,
    ShaftAngle,
    Runout,
    MarksScattered,  ///< wrong preload or loose bearings
    MismatchedOrWorn,
    UsedGears,
    FilmThick,  ///< too much compound, or too little drag
    FilmThin,
    SidesSwapped,
    WrongGearData,
    EntryChange,   ///< a shim change that the marks contradict
    EntryBacklash  ///< a backlash that the marks contradict
};
std::string_view name(DiagnosisKind kind);  ///< "housing-offset", "shaft-angle", "runout", ...

struct AdviceOptions {
    int samples = 0;         ///< size of the ensemble; 0 = default
    std::uint64_t seed = 1;  ///< the same observation and seed give the same advice
    Costs costs;
    /// Gears that ran together are set to what they were: `before` holds their marks and backlash from before they came
    /// apart. Without a mark and a backlash in it no correction is worked out (StopKind::WearNotKnown).
    bool usedGears = false;
    std::optional<TrialObservation> before;
    /// Causes that somebody has looked into and found in order: they are not asked about again, nor weighed.
    std::vector<DiagnosisKind> checked;
    std::optional<double> ringRunoutMm;  ///< full reading of a dial on the ring gear's back face, over one turn
    /// Gives the same gear set cut the other way, asked only when the marks do not fit; null: not tried.
    std::function<const ToothContact*()> otherCut;
};

/// A cause beyond shims.
struct Diagnosis {
    DiagnosisKind kind = DiagnosisKind::Runout;
    double chance = 0;
    Message evidence;       ///< sentences: what was seen, what it means, what to check
    bool question = false;  ///< a look settles it, and AdviceOptions::checked closes it
    /// Shown by a direct reading, or by the marks of two settings or more; else by one painting alone.
    bool shown = false;
};

/// What forbids every setting until it is put right; the first that holds leads all that is said.
enum class StopKind {
    Jammed,             ///< no backlash at all: nothing is forced
    Runout,             ///< of the ring gear's back face, beyond its limit
    UnevenBacklash,     ///< varies by more than its limit once round
    TightOrLoosePlace,  ///< a reading round the ring gear lies outside the limits, and no one setting brings all inside
    WearNotKnown        ///< used gears without their marks and backlash from before they came apart
};
/// "jammed", "runout", "uneven-backlash", "tight-or-loose-place", "wear-not-known".
std::string_view name(StopKind kind);

struct Stop {
    StopKind kind = StopKind::Jammed;
    Message evidence;  ///< what was read against what limit, and what to look for first
};

/// How sure the best move is; three looks and three ways to say it.
enum class Certainty { Sure, Likely, NotSure };
std::string_view name(Certainty certainty);  ///< "sure", "likely", "not-sure"

/// The shims that set the preload of the pinion bearings, when a depth shim changes.
enum class PreloadEffect {
    None,      ///< no depth change, or the stack of bearings, cups and spacer stays as it was
    Follows,   ///< thicknessChangeMm of shim beside the solid spacer goes with it
    Sleeve,    ///< a crush sleeve takes it up: set-up bearings or the old sleeve until the pattern is right, then a new
               ///< one
    AskSpacer  ///< what sets the preload, or where the spacer stands, is not known; thicknessChangeMm: if it is as
               ///< asked
};
std::string_view name(PreloadEffect effect);  ///< "none", "follows", "sleeve", "ask-spacer"
struct PreloadShim {
    PreloadEffect effect = PreloadEffect::None;
    double thicknessChangeMm = 0;  ///< + add beside the spacer
};

/// Standard deviations over the ensemble of a pattern's numbers.
struct PatternSpread {
    double toeHeel = 0, rootTip = 0, length = 0, height = 0;
};

/// The once-per-turn wave of backlash readings round the ring gear.
struct BacklashWave {
    double meanMm = 0, amplitudeMm = 0, amplitudeSigmaMm = 0;
    double restMm = 0;      ///< standard deviation of what the wave leaves
    double tightestMm = 0;  ///< the smallest reading
};
/// Least squares of mean + a cos + b sin; nullopt: fewer than four readings.
std::optional<BacklashWave> backlashWave(const std::vector<double>& readingsMm, double dialSigmaMm);

struct Estimate {
    double best = 0, low90 = 0, high90 = 0;
};

struct AdviceShim {
    PinionShim where = PinionShim::BehindPinionHead;
    /// Whether the gear-set file says where the shims sit. If not, `where` is the commonest place and the sign of
    /// thicknessChangeMm holds for it alone: say depthChangeMm, and each place's shim.
    bool placeKnown = true;
    double depthChangeMm = 0;  ///< what the shim does to the pinion, + = deeper
    /// + add, - take; in steps that exist (kFreeStepMm, or the shims on hand). Said the same everywhere.
    double thicknessChangeMm = 0;
    std::vector<double> stackMm;  ///< the stack to fit (only when the present stack and the shims on hand are known)
};

/// + = tighten (moves the ring gear away from that side's adjuster). Left and right as seen from behind the axle,
/// looking along the pinion toward its drive flange with the pinion below the middle of the ring gear: then the back of
/// a right-hand ring gear is at the left, that of a left-hand one at the right. The text names the sides by the gear.
struct AdjusterMove {
    double leftNotches = 0, rightNotches = 0;
    /// The same by the gear, in whole notches: the adjuster on the side of the ring gear's teeth, and the one at its
    /// back.
    int toothSideNotches = 0, backSideNotches = 0;
};

/// Another move that is nearly as good.
struct RunnerUp {
    double thicknessChangeMm = 0;
    double backlashTargetMm = 0;
    double chanceAcceptableNext = 0;
    double expectedHours = 0;
};

/// Whatever the verdict, shim, backlash target, ring gear move and adjusters hold the best move known: the one that
/// brings this set nearest to its own best. Accept: no move is worth its hours, they hold no change. A Stop forbids to
/// make it; with StopKind::WearNotKnown or Jammed there is none. NoShimWillHelp is said only where depth and backlash
/// are as good as a shim step and the dial allow and the marks are bad all the same, or where a cause beyond shims is
/// shown.
struct Advice {
    Verdict verdict = Verdict::MeasureAgain;
    std::optional<Stop> stop;                  ///< with it the verdict is MeasureAgain, never Accept or Change
    std::vector<Message> lookFirst;            ///< what to read or check before the move; each a plain sentence or two
    Certainty certainty = Certainty::NotSure;  ///< of the move, or of leaving it
    bool changesNothing = true;                ///< the best move known is to leave shims and backlash as they are
    PreloadShim preloadShim;
    bool limitsKnown = true;  ///< the backlash limits are the file's own; else usual ones, to be called so
    /// The move to make, + = deeper: the one of best chance, any shim thickness allowed, kept inside the interval. The
    /// interval is that of the move which ends in the design position.
    Estimate pinionDepthChangeMm;
    Estimate depthErrorMm;                ///< the error found, + = pinion too deep
    std::optional<double> backlashNowMm;  ///< as a dial square to the tooth reads it (the limits' convention)
    double backlashTargetMm = 0;          ///< the same convention
    double ringGearMoveMm = 0;            ///< + = toward the pinion; with the shim change made
    AdviceShim shim;
    std::optional<AdjusterMove> adjusters;  ///< threaded adjusters with a known number of notches only
    /// That after the move, or left as it is, no further change would pay: the mark is as good as this set's can be
    /// made, and the backlash inside its limits.
    double chanceAcceptableNext = 0;
    double chanceAcceptableNow = 0;
    double chanceFaceMilled = 1;  ///< after the marks are seen; 0 or 1 when one model is given
    /// A second observation of the same setting, freshly painted, saves more work than it costs: the marks leave open
    /// what they could tell. Verdict and figures hold without it.
    bool readAgainFirst = false;
    double expectedHours = 0;                             ///< of this correction and those after it
    std::optional<RunnerUp> runnerUp;                     ///< nullopt: none that is nearly as good
    std::vector<Diagnosis> diagnoses;                     ///< likeliest first
    int trials = 1;                                       ///< how many with a pattern were learned from
    std::optional<Pattern> expectedDrive, expectedCoast;  ///< after the move: means over the ensemble
    std::optional<PatternSpread> spreadDrive, spreadCoast;
    std::vector<Message> because, cautions;
};

/// The correction after the last trial of `history` (not empty), learned from all of them. Bayesian: see the head of
/// this file. The moves weighed are those that the shop can stack from its shims, each with a backlash inside the
/// limits. `models`: one, or two (milled and hobbed, same build and limits) when the cut is not known. Without any
/// pattern in the last trial the verdict is MeasureAgain. Deterministic; about 11 ms for each trial of one model and
/// both sides on one core of the build machine. Accuracy: tests/accuracy/advice, tests/accuracy/closed-loop. Throws
/// InputError when a length is not one that a gear can have.
Advice advise(const std::vector<const ToothContact*>& models, std::span<const JobTrial> history,
              const AdviceOptions& options = {});

/// The same from the gear-set data: weighs both cuts when the set's is not known, and looks at the other one when the
/// marks do not fit the one that the file names.
Advice adviseJob(const GearSetData& gearSet, std::span<const JobTrial> history, const AdviceOptions& options = {});

/// The same for one trial alone.
Advice advise(const std::vector<const ToothContact*>& models, const TrialObservation& trial,
              const AdviceOptions& options = {});

}  // namespace shimsight
