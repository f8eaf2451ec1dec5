// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Before the first trial: the starting shim from the depth figures of old and new pinion, and the pinion bearing
/// preload.
///
/// DEPTH FIGURES. A figure such as +2 or -3 etched on a pinion says, in thousandths of an inch or hundredths of a
/// millimetre, how much farther (+) from the ring gear than nominal the pinion runs best. A new pinion with a smaller
/// figure goes deeper by the difference of the two. Examples in print are in tests/unit/advice/start_test.cpp.
///
/// DEPTH TOOL. It measures how far the face of the pinion head stands from the axle's centre line; the pinion's own
/// figure says how far it should. The difference is the start, good to about kDepthToolSigmaMm. Neither knows how this
/// pair was cut: the contact pattern decides.
///
/// PRELOAD, SOLID SPACER. The turning torque falls as shims are added beside the spacer. The slope is fitted to the
/// stacks tried; before the second stack it is only known to be about kPreloadSlope (common practice, no source).
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/words.h"

namespace shimsight {

struct StartShim {
    double depthChangeMm = 0;        ///< + = deeper
    double thicknessChangeMm = 0;    ///< + = add
    double sigmaMm = 0;              ///< of the change: two figures, each rounded to its step
    std::optional<double> totalMm;   ///< when the old stack is known
    std::vector<double> stackMm;     ///< when the shims on hand are known and make a total within half of their step
    Message needed;                  ///< what figures or tool ask of the depth; the first of `because`
    Message shims;                   ///< and so of the shims; one of `because` too
    std::vector<Message> questions;  ///< what to look at before the number is believed
    std::vector<Message> because, cautions;
};

/// A depth tool, its pads, the bores it lies in and the hand that holds it: 0.0015 in (common practice, no source).
inline constexpr double kDepthToolSigmaMm = 0.038;
/// A difference between two figures beyond this is asked about: 0.015 in (common practice, no source).
inline constexpr double kOddDepthMm = 0.381;

/// What a start is worked out from: two figures, or a tool's reading and the figure wanted, not both.
struct StartInput {
    PinionShim place = PinionShim::BehindPinionHead;
    std::optional<double> oldFigureMm, newFigureMm;    ///< with their sign, + = farther from the ring gear
    bool figuresInTwoUnits = false;                    ///< one was given in inches, the other in millimetres
    bool otherHousing = false;                         ///< the old pinion ran in another housing
    std::optional<double> measuredDepthMm;             ///< from the axle's centre line to the face of the pinion head
    std::optional<double> wantedDepthMm;               ///< the same as it should be
    std::optional<double> oldBearingMm, newBearingMm;  ///< height of the inner pinion bearing, cone in cup
    std::optional<double> stackMm;                     ///< the old pinion's shims, or those in when it was measured
    std::vector<double> shimsMm;                       ///< on hand; empty: any thickness
};

/// Throws InputError for a figure beyond 1 mm (0.039 in), a depth that no pinion has, figures of another housing, and
/// where the shims would come to nothing or less.
StartShim startShim(const StartInput& input);

/// Two figures alone.
StartShim startShim(double oldFigureMm, double newFigureMm, PinionShim place, std::optional<double> oldStackMm = {},
                    const std::vector<double>& shimsMm = {});

inline constexpr double kNmPerInchPound = 0.1129848;
/// Torque lost for each millimetre of shim, with a factor of uncertainty: about 5 in-lb for 0.001 in.
inline constexpr double kPreloadSlope = 22, kPreloadSlopeFactor = 2.0;
/// The first step when the bearings are far too tight: 0.010 in (common practice, no source).
inline constexpr double kFarTooTightStepMm = 0.254;

/// A turning torque measured with a shim stack beside the solid spacer; nullopt: the stack is not known.
struct PreloadReading {
    std::optional<double> stackMm;
    double torqueNm = 0;
};

enum class PreloadVerdict { Pass, TooTight, TooLoose };
std::string_view name(PreloadVerdict verdict);  ///< "pass", "too-tight", "too-loose"

struct PreloadAdvice {
    PreloadVerdict verdict = PreloadVerdict::Pass;  ///< of the last reading
    std::optional<Estimate> nextChangeMm;           ///< shims to add, solid spacer and not passed only
    std::optional<Estimate> nextStackMm;            ///< the same as a total
    std::optional<Estimate> torquePerShimNmPerMm;   ///< lost for each millimetre added
    double chanceInRange = 0;                       ///< that the next stack's torque is inside the limits
    /// The stack that the readings ask for is none: thinner than nothing. No next change is given then.
    bool noStackHelps = false;
    Message judged;     ///< the reading against the limits, a clause; the first of `because` is its sentence
    Message nearLimit;  ///< inside, but near a limit; one of `because` too; empty: it is not
    std::vector<Message> because, cautions;
};

/// Solid spacer: `readings` in the order they were taken, at least one. Throws InputError when a value is not one that
/// an axle has, when the torque rises as shims are added, or when one of several stacks is not known.
PreloadAdvice solidSpacerPreload(const std::vector<PreloadReading>& readings, const Interval& limitsNm);

/// Crush sleeve: a reading only.
PreloadAdvice crushSleevePreload(double torqueNm, const Interval& limitsNm);

/// "14 in-lb (1.58 Nm)".
std::string formatTorque(double nm);
/// Reads "14in-lb", "1.6Nm". Throws InputError beginning with `what`.
double parseTorqueNm(std::string_view text, std::string_view what);

/// How a torque may be written, and what is said where it is not.
struct TorqueUnit {
    std::string_view name;
    double nm = 1;
};
struct TorqueForm {
    std::span<const TorqueUnit> units;
    double mostNm = 0;
    std::string_view howTo;   ///< "write inch-pounds (14in-lb) or newton metres (1.6Nm)."
    std::string_view notOne;  ///< "is not a turning torque of a pinion"
};
/// As parseTorqueNm, for torques of any kind.
double parseTorqueNm(std::string_view text, std::string_view what, const TorqueForm& form);

}  // namespace shimsight
