// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What is known of a gear set and its build: the values of a gear-set file, and the same completed by proportions.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/words.h"

namespace shimsight {

enum class Side { Drive, Coast };  ///< drive = convex side of the ring gear tooth, coast = concave
inline constexpr std::array<Side, 2> kSides{Side::Drive, Side::Coast};
inline constexpr std::size_t index(Side side) { return side == Side::Drive ? 0 : 1; }

enum class Cut { FaceMilled, FaceHobbed };  ///< tapered tooth depth; uniform tooth depth
enum class Hand { Right, Left };            ///< of the ring gear
enum class PinionShim { BehindPinionHead, UnderBearingCup, UnderPinionSupport };
enum class CarrierSetting { ThreadedAdjusters, CarrierShims, OutboardShims };
enum class PinionPosition { Below, Above };  ///< of the pinion axis, seen against the middle of the ring gear
/// What sets the preload of the pinion bearings, and where a solid spacer stands: on the inner bearing itself, or on a
/// shoulder of the pinion shaft. It decides which shims have to follow a change of depth.
enum class PreloadSpacer { CrushSleeve, SolidSpacer };
enum class SpacerSeat { OnBearing, OnPinionShoulder };
enum class AxlePlace { Rear, Front };
/// Where the dial that a backlash figure was read on stands. Square to the tooth line (stem square to the tooth) at
/// mid-face is the convention of this engine; the same at the heel reads more, by the longer radius and the larger
/// spiral angle there; OuterCircumference = along the circle at the heel reads most.
enum class DialReading { SquareToTooth, SquareAtHeel, OuterCircumference };
/// Bolted joints of an axle whose torque stands on a maker's sheet.
enum class Joint { RingGearBolts, PinionSupportBolts, PinionNut, BearingCaps, AdjusterLocks, Cover, ShaftBolts };
inline constexpr std::array kJoints{Joint::RingGearBolts, Joint::PinionSupportBolts, Joint::PinionNut,
                                    Joint::BearingCaps,   Joint::AdjusterLocks,      Joint::Cover,
                                    Joint::ShaftBolts};
inline constexpr std::size_t index(Joint joint) { return static_cast<std::size_t>(joint); }

std::string_view name(Side side);         ///< as records have it: "drive", "coast"
std::string_view name(Cut cut);           ///< "face-milled", "face-hobbed"
std::string_view name(PinionShim place);  ///< "behind-pinion-head", "under-bearing-cup", "under-pinion-support"
std::string_view name(DialReading dial);  ///< "square-to-tooth", "square-at-heel", "outer-circumference"
std::string_view name(Joint joint);       ///< "ring-gear-bolts", ...: also the key of its line in a job's check list
Message wordFor(Side side);               ///< as people read it: "drive", "coast"
Message sideWords(Side side);             ///< "drive side"; titleOf: "Drive side"
Message titleOf(Side side);
Message wordFor(PinionShim place);  ///< "behind the pinion head", ...
Message wordFor(Cut cut);           ///< "face-milled", "face-hobbed"

/// Departure of the pinion flank from the conjugate, as gaps in micrometres (see interfaces of the gear-set file).
/// With s = 2 (u - 0.5 - lengthShift), h = 2 (v - 0.5 - profileShift): gap = lengthCrown s^2 + profileCrown h^2 + bias
/// s h.
struct Modification {
    double lengthCrownUm = 20;   ///< gap at the toe and heel ends of the mid-height line
    double profileCrownUm = 12;  ///< gap at the root and tip ends of the mid-length line
    double biasUm = 0;           ///< twist gap at the heel-tip corner; positive opens heel-tip and toe-root
    double lengthShift = 0;      ///< design point off mid-face, fraction of the face width, + toward the heel
    double profileShift = 0;     ///< design point off mid-height, fraction of the working depth, + toward the tip
};

struct Interval {
    double low = 0, high = 0;
    bool holds(double value) const { return low <= value && value <= high; }
    double middle() const { return 0.5 * (low + high); }
    bool operator==(const Interval&) const = default;
};

/// When a pattern is good enough to leave alone (editable in the gear-set file). Fractions of face width / working
/// depth. Defaults from published descriptions: length 1/2 to 2/3 of the tooth, a little toward the toe without load,
/// centred root to tip, never running off (axle makers' manuals 1997-2009; US Army TM 9-2320-273-34 p. 10-29); the
/// margins around them are `common practice, no source`.
struct AcceptanceRule {
    Interval toeHeel{0.30, 0.60};
    Interval rootTip{0.36, 0.64};
    Interval length{0.35, 0.90};
    bool mayRunOff = false;  ///< whether a pattern that reaches an end or the tip edge can pass
};

struct Build {
    PinionShim pinionShim = PinionShim::BehindPinionHead;
    CarrierSetting carrier = CarrierSetting::ThreadedAdjusters;
    double adjusterThreadPitchMm = 1.5;
    int adjusterNotches = 0;      ///< 0: not known, adjuster moves are given in parts of a turn
    std::vector<double> shimsMm;  ///< shim thicknesses on hand; empty: any thickness
    std::optional<PinionPosition> pinionPosition;
    std::optional<PreloadSpacer> preloadSpacer;
    std::optional<SpacerSeat> spacerSeat;
    std::vector<double> sideShimsMm;  ///< shims beside the carrier's bearings on hand; empty: any thickness
    std::optional<AxlePlace> axle;
    std::optional<double> pinionDepthMm;  ///< nominal: from the axle's centre line to the face of the pinion head
};

/// Which values the gear-set file gives itself. What is false was assumed; `GearSet::assumed` says it in words.
struct Given {
    bool hand = false, cut = false;
    bool cutter = false;  ///< the cutter's radius; a hobbing head's blade groups are a field of their own
    bool bladeGroups = false;
    std::array<bool, 2> crowning{};  ///< both crowns of the side, by index(side)
    bool pinionShim = false, carrier = false, adjusterPitch = false;
    bool backlashLimits = false, backlashVariation = false, ringRunout = false;
    bool acceptance = false;  ///< any part of the rule
};

/// Turning torque of the pinion for new and for used bearings, Nm.
struct TurningLimits {
    std::optional<Interval> newNm, usedNm;
    bool operator==(const TurningLimits&) const = default;
};

struct Limits {
    Interval backlashMm{0.13, 0.23};                ///< dial square to the tooth at mid-face, wherever the sheet has it
    double backlashVariationMm = 0.0508;            ///< the same dial; 0.002 in where the file gives none
    DialReading dial = DialReading::SquareToTooth;  ///< where the sheet has the dial
    double sheetToSquare = 1;                       ///< factor from a reading by the sheet's dial to backlashMm's
    double ringRunoutMm = 0.0508;                   ///< 0.002 in where the file gives none
    std::optional<Interval> preloadNewNm, preloadUsedNm;  ///< pinion turning torque, without seal
    AcceptanceRule acceptance;
};

/// Modification, build and limits as a gear-set file writes them: nullopt is what it leaves out.
struct ModificationData {
    std::optional<double> lengthCrownUm, profileCrownUm, biasUm, lengthShift, profileShift;
    bool operator==(const ModificationData&) const = default;
};

struct BuildData {
    std::optional<PinionShim> pinionShim;
    std::optional<CarrierSetting> carrier;
    std::optional<double> adjusterThreadPitchMm;
    std::optional<int> adjusterNotches;
    std::vector<double> shimsMm;  ///< empty: not given
    std::optional<PinionPosition> pinionPosition;
    std::optional<PreloadSpacer> preloadSpacer;
    std::optional<SpacerSeat> spacerSeat;
    std::vector<double> sideShimsMm;  ///< empty: not given
    std::optional<AxlePlace> axle;
    std::optional<double> pinionDepthMm;
    bool operator==(const BuildData&) const = default;
};

struct AcceptanceData {
    std::optional<Interval> toeHeel, rootTip, length;
    std::optional<bool> mayRunOff;
    bool operator==(const AcceptanceData&) const = default;
};

struct LimitsData {
    std::optional<Interval> backlashMm;
    std::optional<double> backlashVariationMm, ringRunoutMm;
    std::optional<DialReading> dial;  ///< of backlashMm and backlashVariationMm
    std::optional<double> carrierFlangeRunoutMm, pinionFlangeRunoutMm;
    std::optional<Interval> preloadNewNm, preloadUsedNm;  ///< the pinion alone, without its oil seal
    TurningLimits preloadWithSeal;                        ///< the pinion alone, with its oil seal
    TurningLimits carrierPreload;                         ///< what the carrier's bearings add to it, read at the pinion
    TurningLimits total, totalWithSeal;                   ///< of the pinion with the carrier in
    std::optional<Interval> carrierSpreadMm;  ///< of the housing, or the press of the side shims, both sides together
    std::array<std::optional<Interval>, kJoints.size()> torquesNm;  ///< by index(joint); one figure: low = high
    AcceptanceData acceptance;
    bool operator==(const LimitsData&) const = default;
};

/// A gear-set file as written: only teeth, diameter and offset are certain to be there.
struct GearSetData {
    std::string name;
    int pinionTeeth = 0, ringTeeth = 0;
    double ringGearDiameterMm = 0;  ///< outer pitch diameter of the ring gear
    double offsetMm = 0;
    std::optional<double> faceWidthMm;
    std::optional<Cut> cut;
    std::optional<double> pinionSpiralDeg, ringSpiralDeg, cutterRadiusMm;
    std::optional<int> bladeGroups;
    std::optional<double> pressureAngleDeg, ringPitchAngleDeg, drivePressureAngleDeg, coastPressureAngleDeg;
    std::optional<double> workingDepthMm, ringGearAddendumMm, clearanceMm;
    std::optional<double> addendumAngleDeg, dedendumAngleDeg;  ///< of the ring gear
    std::optional<double> meanPitchDiameterMm;                 ///< of the ring gear; else from the outer diameter
    std::optional<double> thicknessFactor;                     ///< k_t of ISO 23509 data type II
    std::optional<Hand> hand;
    std::optional<Side> forwardLoadSide;
    std::array<ModificationData, 2> modification;  ///< by index(side)
    BuildData build;
    LimitsData limits;
    std::vector<std::string> sources;
};

/// A gear set with every value filled in; `assumed` names, in plain words, each one that was not given.
struct GearSet {
    std::string name;
    int pinionTeeth = 0, ringTeeth = 0;
    double ringGearDiameterMm = 0, offsetMm = 0, faceWidthMm = 0;
    Cut cut = Cut::FaceMilled;
    bool cutKnown = true;
    double pinionSpiralDeg = 0;           ///< wished value; the blank says what it came to
    std::optional<double> ringSpiralDeg;  ///< when given, it rules and the pinion's follows
    double cutterRadiusMm = 0;
    int bladeGroups = 0;           ///< face-hobbed only
    double pressureAngleDeg = 20;  ///< mean of both sides
    std::optional<double> ringPitchAngleDeg, drivePressureAngleDeg, coastPressureAngleDeg, meanPitchDiameterMm;
    std::optional<double> workingDepthMm, ringGearAddendumMm, clearanceMm, addendumAngleDeg, dedendumAngleDeg;
    double thicknessFactor = 0.1;
    Hand hand = Hand::Right;
    Side forwardLoadSide = Side::Drive;
    std::array<Modification, 2> modification;
    Build build;
    Limits limits;
    Given given;
    std::vector<std::string> sources;
    std::vector<Message> assumed;
};

/// Thinner is dirt under a bearing; thicker is no shim.
inline constexpr double kThinnestShimMm = 0.005, kThickestShimMm = 20;

/// A value that no gear set can have: its field in JSON spelling, and a sentence that goes on from it.
struct FieldFault {
    std::string field;
    Message why;
};
/// The one check of the single values of a gear set, with the one set of bounds: tooth counts, an offset beyond the
/// ring gear's radius, a shim too thick, ... Gives the first fault. Whether pitch cones fit is for designBlank to say.
std::optional<FieldFault> faultOf(const GearSetData& data);

/// Fills in what is missing by published proportions. Cutter, spiral and pressure angle that are assumed give way until
/// a blank comes out of what is given. Throws InputError of faultOf. When the cut is not given: face-milled, with
/// cutKnown false; use withCut for the other. About 0.5 ms.
GearSet completeGearSet(const GearSetData& data);

/// The same gear set as if cut the other way (for a set whose cut is not known): cutter data are assumed anew. Limits
/// stay those of completeGearSet.
GearSet withCut(const GearSetData& data, Cut cut);

/// The same with a cutter such that the lengthwise curvature radius of the ring gear tooth over the mean cone distance
/// (Blank::lengthwiseRadius / coneDistanceM2) is `lengthwiseShare` to 0.01; of any size, not from the heads in use. For
/// sets that do not give their cutter. Throws InputError when there is none. A few ms.
GearSet withCutter(const GearSetData& data, Cut cut, double lengthwiseShare);

}  // namespace shimsight
