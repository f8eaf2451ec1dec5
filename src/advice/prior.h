// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The documented prior: from independent standard normal numbers to set-ups.
#pragma once

#include <Eigen/Core>
#include <array>
#include <optional>

#include "shimsight/advice.h"

namespace shimsight::advice {

/// Places in z. Each flank has five more: length crown, profile crown, bias, length shift, profile shift.
enum Unknown : int { kDepth, kBacklash, kNominalBacklash, kOffset, kShaftAngle, kFilm, kScatter, kFlankFirst };
inline constexpr int kFlankUnknowns = 5;
inline constexpr int kUnknowns = kFlankFirst + 2 * kFlankUnknowns;
using Z = Eigen::Matrix<double, kUnknowns, 1>;

inline int firstOf(Side side) { return kFlankFirst + static_cast<int>(index(side)) * kFlankUnknowns; }

/// One possible truth behind a trial.
struct SetUp {
    SetupError error;
    std::array<Modification, 2> modification;  ///< by index(side)
    double filmMm = kFilmMm;
    double backlashMm = 0;         ///< now, dial square to the tooth
    double nominalBacklashMm = 0;  ///< with everything in its design position
};

/// Wear makes a flank conform: its crowns shrink to this share, with a log standard deviation (common practice, no
/// source).
inline constexpr double kWornShare = 0.35, kWornSpread = 0.45;

/// A housing that is out of true is so by about this much (common practice, no source).
inline constexpr double kBentOffsetMm = 0.10, kBentAngleRad = 0.0015, kBentTail = 0.30;

/// What is taken for granted of a set-up before its marks are seen.
struct Suspicion {
    std::optional<Side> worn;  ///< its crowns are kWornShare of the gear set's, give or take
    bool bentHousing = false;
};

/// Values and slopes of the prior for one gear set.
class Prior {
public:
    explicit Prior(const ToothContact& contact, const Suspicion& suspicion = {});

    SetUp setUp(const Z& z) const;

    /// d(depth, ring, offset, shaft angle, ln film) / d(z of the common unknowns).
    Eigen::Matrix<double, 5, kFlankFirst> commonJacobian(const Z& z) const;
    /// What a unit of the scatter's z does to one flank, as changes of that flank's own z.
    static Eigen::Matrix<double, kFlankUnknowns, 1> scatterJacobian(const Z& z, Side side);

    /// Depth error of its z and back, and d(depth) / dz.
    static double depthOf(double zDepth);
    static double zOfDepth(double depthMm);
    static double depthSlope(double zDepth);

    /// z of a backlash (at least 0.001 mm).
    double zOfBacklash(double backlashMm) const;

    /// Ring gear position that gives `backlashMm` with the other errors as in `error`.
    double ringFor(double backlashMm, double nominalBacklashMm, const SetupError& error) const;

private:
    struct Flank {
        Modification centre;
        double lengthCrownSpread = 0, profileCrownSpread = 0, biasUm = 0;
    };
    std::array<Flank, 2> flanks_;
    double backlashMiddleMm_ = 0, nominalSpreadMm_ = 0;
    double offsetScaleMm_ = kOffsetScaleMm, offsetTail_ = kOffsetTail;
    double angleScaleRad_ = kShaftAngleScaleRad, angleTail_ = kShaftAngleTail;
    double perRing_ = 0, perDepth_ = 0, perOffset_ = 0, perShaftAngle_ = 0;  ///< backlash gained per unit
};

}  // namespace shimsight::advice
