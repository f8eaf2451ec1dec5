// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Contact pattern of a gear set under set-up errors: a fast model for samplers, an exact solver as its reference.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <vector>

#include "shimsight/blank.h"
#include "shimsight/flank_map.h"
#include "shimsight/flank_surface.h"

namespace shimsight {

/// Departure of the assembly from the nominal position. Signs: see flank_surface.h.
struct SetupError {
    double depthMm = 0;  ///< pinion deeper
    double ringMm = 0;   ///< ring gear toward the pinion (less backlash)
    double offsetMm = 0;
    double shaftAngleRad = 0;
};

/// Marking film in unloaded contact analysis: 0.00025 in (classic practice; value from memory).
inline constexpr double kFilmMm = 0.00635;

/// A coarse grid over one flank, the sampler's picture: columns toe to heel, rows ROOT TO TIP (v grows with the row);
/// cell centres at u = (i + 0.5) / kGridU, v = (j + 0.5) / kGridV; contact 0..1.
inline constexpr int kGridU = 64;
inline constexpr int kGridV = 32;
struct ContactGrid {
    std::array<float, static_cast<std::size_t>(kGridU) * kGridV> contact{};  ///< index j * kGridU + i
};

/// Backlash per unit of movement, for one dial reading.
struct BacklashRates {
    double perRingMove = 0;  ///< backlash LOST per unit of ring gear movement toward the pinion (positive)
    double perDepth = 0;     ///< backlash LOST per unit of pinion depth (positive)
    double perOffset = 0;    ///< backlash change per unit of offset (sign as it comes)
};

/// What predict() works from on one flank, for those who evaluate it elsewhere (the live tooth's page). Cells as in
/// ContactGrid. With the set-up errors d = (depth, ring, offset, shaft angle) and the modification m:
///   s = 2 (u - 0.5 - lengthShift + slideLength . d),  h = 2 (v - 0.5 - profileShift + slideProfile . d)
///   gap = (lengthCrown s^2 + profileCrown h^2 + bias s h) / 1000 + perUnit . d;  rotation = gap / lever
///   phase = phaseAtRest + delayPerUnit . d, folded into 0..kMeshPhases
/// The smallest rotation over one pitch is kept by whole phases, joined by straight lines between their borders, and
/// corrected once more by what is left; (rotation - smallest) * lever is the separation, marked while under the film.
struct FlankRates {
    std::array<std::vector<float>, 4> perUnit;  ///< gap in mm per mm of depth, ring, offset, per rad of shaft angle
    std::array<std::vector<float>, 4> delayPerUnit;  ///< phases per mm, per rad
    std::vector<float> lever, phaseAtRest;           ///< mm; phases
    std::array<double, 4> slideLength{}, slideProfile{};
};
inline constexpr int kMeshPhases = 24;  ///< of one ring gear pitch
/// The mark fades from 1 to 0 between these shares of the film.
inline constexpr float kFadeStart = 0.85F, kFadeEnd = 1.15F;

/// Everything precomputed for one gear set; building costs milliseconds, predicting microseconds. Immutable and safe to
/// share between threads.
class ToothContact {
public:
    /// Throws InputError when the data give no gear set.
    explicit ToothContact(const GearSet& gearSet);
    ~ToothContact();
    ToothContact(ToothContact&&) noexcept;
    ToothContact& operator=(ToothContact&&) noexcept;

    const GearSet& gearSet() const;
    const Blank& blank() const;

    /// Fast model (first order in the set-up error, see contact model): which cells are marked within `filmMm`.
    ContactGrid predict(Side side, const SetupError& error, const Modification& modification,
                        double filmMm = kFilmMm) const;
    /// The same at half the grid (32 x 16) for samplers, index j * 32 + i.
    std::array<float, 512> predictCoarse(Side side, const SetupError& error, const Modification& modification,
                                         double filmMm = kFilmMm) const;
    /// The same drawn as a flank map (256 x 128, smooth between cells).
    FlankMap predictMap(Side side, const SetupError& error, const Modification& modification,
                        double filmMm = kFilmMm) const;

    /// Exact solver: displaced surfaces, no linearisation. Slow (about a second); for checks and `predict --exact`.
    FlankMap exactMap(Side side, const SetupError& error, const Modification& modification,
                      double filmMm = kFilmMm) const;

    FlankRates flankRates(Side side) const;

    BacklashRates backlashRates(DialReading dial = DialReading::SquareToTooth) const;

    /// First order change of backlash by a set-up error.
    double backlashChangeMm(const SetupError& error, DialReading dial = DialReading::SquareToTooth) const;

    /// Ring gear movement that keeps the backlash when the pinion goes deeper by `depthMm` (negative of it goes away).
    double ringMoveForConstantBacklashMm(double depthMm) const;

    /// Factor from the named dial's reading to a reading square to the tooth.
    double toSquareReading(DialReading dial) const;

private:
    struct Model;
    std::unique_ptr<Model> model_;
};

}  // namespace shimsight
