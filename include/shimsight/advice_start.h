/// Before the first trial: the starting shim from the marks on old and new pinion, and the pinion bearing preload.
///
/// DEPTH MARKS. A mark such as +2 or -3 etched on a pinion says, in thousandths of an inch or hundredths of a
/// millimetre, how much farther (+) from the ring gear than nominal the pinion runs best. A new pinion with a smaller
/// mark goes deeper by the difference of the two. Examples in print are in tests/unit/advice/start_test.cpp.
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
    double depthChangeMm = 0;       ///< + = deeper
    double thicknessChangeMm = 0;   ///< + = add
    double sigmaMm = 0;             ///< of the change: two marks, each rounded to its step
    std::optional<double> totalMm;  ///< when the old stack is known
    std::vector<double> stackMm;    ///< when the shims on hand are known and make a total within half of their step
    std::vector<Message> because, cautions;
};

/// `oldMarkMm`, `newMarkMm`: the marks as lengths, with their sign. Throws InputError for a mark beyond 1 mm (0.039
/// in).
StartShim startShim(double oldMarkMm, double newMarkMm, PinionShim place, std::optional<double> oldStackMm = {},
                    const std::vector<double>& shimsMm = {});

inline constexpr double kNmPerInchPound = 0.1129848;
/// Torque lost for each millimetre of shim, with a factor of uncertainty: about 5 in-lb for 0.001 in.
inline constexpr double kPreloadSlope = 22, kPreloadSlopeFactor = 2.0;
/// The first step when the bearings are far too tight: 0.010 in (common practice, no source).
inline constexpr double kFarTooTightStepMm = 0.254;

/// A turning torque measured with a shim stack (of the solid spacer; 0 = not known, all relative).
struct PreloadReading {
    double stackMm = 0;
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
    std::vector<Message> because, cautions;
};

/// Solid spacer: `readings` in the order they were taken, at least one. Throws InputError when a value is not one that
/// an axle has, or when the torque rises as shims are added.
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
