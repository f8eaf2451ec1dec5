// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Trials drawn from the advice's documented prior and rendered as photos of both sides; the studies read them. A
/// folder keeps rendered photos, since rendering takes nearly all the time of a study.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "../advice/simulated_trial.h"
#include "shimsight/gear_set.h"
#include "shimsight/photo.h"
#include "shimsight/render.h"

namespace shimsight::study {

inline const std::array kSetFiles{"lab-van-rear-axle-a",         "lab-van-rear-axle-b",
                                  "lab-light-truck-rear-axle",   "lab-farm-truck-rear-axle",
                                  "lab-farm-truck-spiral-bevel", "lab-van-front-axle"};

struct GearUnderStudy {
    std::string name;
    GearSetData data;
    ToothContact contact;
    explicit GearUnderStudy(const std::string& file);
};

/// The sets of kSetFiles; run from the root of the repository.
std::vector<GearUnderStudy> gearsUnderStudy();

/// One rendered photo as its JPEG file, with the truth.
struct TrialShot {
    Side faced = Side::Drive;
    std::vector<std::uint8_t> jpeg;
    std::vector<FlankTruth> flanks;
    std::string what;  ///< scene/marking colour..., for tables
};

struct DrawnTrial {
    simulated::Trial trial;
    std::array<TrialShot, 2> shots;  ///< by index(side)
    Random random;                   ///< goes on where the drawing ended
};

/// Few teeth painted with care under good light, or paint, light and distance as in shops (`render::messUp`).
enum class Looks { Tidy, Shop };

/// How the trials of a sequence are drawn.
struct Drawing {
    std::uint64_t seed = 1;
    int widthPx = 720;  ///< the height is three quarters of it
    int samplesPerPixel = 4;
    std::string keepFolder{};  ///< photos that are there already are taken from it, others are put there; empty: none
    Looks looks = Looks::Tidy;
};

/// Trial `number` of the sequence.
DrawnTrial drawTrialPhotos(const GearUnderStudy& gear, int number, const Drawing& drawing);

}  // namespace shimsight::study
