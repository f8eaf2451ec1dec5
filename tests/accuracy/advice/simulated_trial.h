// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A trial whose truth is known: drawn from the documented prior, read with stated noise.
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>

#include "advice/decision.h"
#include "advice/prior.h"
#include "advice/shims.h"
#include "shimsight/advice.h"
#include "shimsight/core.h"

namespace shimsight::simulated {

/// Errors of one reading of one flank: its shift, stretch and slant on the map.
struct ReadingNoise {
    double sigmaToeHeel = 0.02;
    double sigmaRootTip = 0.04;
    double sigmaBacklashMm = 0.012;
};

/// The demonstration sets: 11/43, ring gear 222 mm, offset 36 mm, crowning known.
inline GearSet demonstrationSet(Cut cut) {
    GearSetData data;
    data.name = cut == Cut::FaceMilled ? "milled 11/43" : "hobbed 11/43";
    data.pinionTeeth = 11;
    data.ringTeeth = 43;
    data.ringGearDiameterMm = 222;
    data.offsetMm = 36;
    data.faceWidthMm = 34;
    data.cut = cut;
    data.pinionSpiralDeg = 47;
    data.cutterRadiusMm = cut == Cut::FaceMilled ? 101.6 : 88;
    if (cut == Cut::FaceHobbed) data.bladeGroups = 13;
    data.modification[0] = ModificationData{22, 14, 0, -0.04, 0};
    data.modification[1] = ModificationData{22, 14, 0, -0.04, 0};
    return completeGearSet(data);
}

struct Trial {
    advice::SetUp truth;
    std::array<std::optional<Pattern>, 2> truePattern;
    TrialObservation seen;
};

inline std::optional<Pattern> truePattern(const ToothContact& contact, Side side, const advice::SetUp& setUp) {
    return measurePattern(contact.predictMap(side, setUp.error, setUp.modification[index(side)], setUp.filmMm));
}

/// How a reading distorts a mark: shifted, stretched about its centre and slanted.
struct MapChange {
    double shiftU = 0, shiftV = 0, stretchU = 1, stretchV = 1, slant = 0;
};

/// The map as it is then rectified; what leaves the flank is lost.
inline FlankMap changed(const FlankMap& map, const Pattern& truth, const MapChange& change) {
    FlankMap read;
    for (int y = 0; y < kMapHeight; ++y) {
        for (int x = 0; x < kMapWidth; ++x) {
            const double u = (x + 0.5) / kMapWidth - truth.toeHeel - change.shiftU;
            const double v = 1 - (y + 0.5) / kMapHeight - truth.rootTip - change.shiftV - 2 * change.slant * u;
            const double fromU = truth.toeHeel + u / std::max(change.stretchU, 0.2),
                         fromV = truth.rootTip + v / std::max(change.stretchV, 0.2);
            const double column = fromU * kMapWidth - 0.5, row = (1 - fromV) * kMapHeight - 0.5;
            const int i = static_cast<int>(std::lround(column)), j = static_cast<int>(std::lround(row));
            // Beyond the flank the mark is taken to go on as at its edge.
            read.at(x, y) = map.at(std::clamp(i, 0, kMapWidth - 1), std::clamp(j, 0, kMapHeight - 1));
        }
    }
    return read;
}

/// The pattern of the map as a rectification with errors shows it.
inline std::optional<Pattern> readWithNoise(const FlankMap& map, const Pattern& truth, const ReadingNoise& noise,
                                            Random& random) {
    MapChange change;
    change.shiftU = random.normal(0, noise.sigmaToeHeel);
    change.shiftV = random.normal(0, noise.sigmaRootTip);
    change.stretchU = 1 + random.normal(0, 2 * noise.sigmaToeHeel) / std::max(truth.length, 0.15);
    change.stretchV = 1 + random.normal(0, 2 * noise.sigmaRootTip) / std::max(truth.height, 0.15);
    change.slant = random.normal(0, noise.sigmaRootTip) / std::max(truth.length, 0.15);
    auto pattern = measurePattern(changed(map, truth, change));
    if (pattern) {
        pattern->sigmaToeHeel = noise.sigmaToeHeel;
        pattern->sigmaRootTip = noise.sigmaRootTip;
    }
    return pattern;
}

/// The standard normal number whose heavy-tailed function (advice.h, PRIOR) is `times` that of `z`.
inline double stretchedBy(double times, double z, double tail) {
    return std::asinh(times * std::sinh(tail * z)) / tail;
}

/// `z` with all departures but those of depth and backlash `scatter` times as large, and the usual scatter of the
/// prior.
inline advice::Z withScatter(advice::Z z, double scatter) {
    z[advice::kScatter] = 0;
    z[advice::kOffset] = stretchedBy(scatter, z[advice::kOffset], kOffsetTail);
    z[advice::kShaftAngle] = stretchedBy(scatter, z[advice::kShaftAngle], kShaftAngleTail);
    z[advice::kNominalBacklash] *= scatter;
    z[advice::kFilm] *= scatter;
    for (const Side side : kSides) {
        const int first = advice::firstOf(side);
        for (int i = 0; i < 3; ++i) z[first + i] *= scatter;
        for (int i = 3; i < 5; ++i) z[first + i] = stretchedBy(scatter, z[first + i], kShiftTail);
    }
    return z;
}

/// A trial from the prior in which both sides show a mark. `scatter` other than 1 makes all departures but those of
/// depth and backlash so many times the usual (crowns and film: their logarithms), and the prior's own scatter is then
/// the usual one.
inline Trial drawTrial(const ToothContact& contact, const advice::Prior& prior, const ReadingNoise& noise,
                       Random& random, double scatter = 1) {
    for (;;) {
        advice::Z z;
        for (int i = 0; i < advice::kUnknowns; ++i) z[i] = random.normal();
        if (scatter != 1) z = withScatter(z, scatter);
        Trial trial;
        trial.truth = prior.setUp(z);
        std::array<std::optional<Pattern>, 2> read;
        for (const Side side : kSides) {
            const FlankMap map =
                contact.predictMap(side, trial.truth.error, trial.truth.modification[index(side)], trial.truth.filmMm);
            trial.truePattern[index(side)] = measurePattern(map);
            if (trial.truePattern[index(side)])
                read[index(side)] = readWithNoise(map, *trial.truePattern[index(side)], noise, random);
        }
        if (!read[0] || !read[1]) continue;
        trial.seen.drive = read[0];
        trial.seen.coast = read[1];
        trial.seen.backlashMm = std::max(trial.truth.backlashMm + random.normal(0, noise.sigmaBacklashMm), 0.0);
        trial.seen.backlashSigmaMm = noise.sigmaBacklashMm;
        return trial;
    }
}

/// Whether the truth, moved as advised, ends right: no further change would pay (advice/decision.h). Shims and backlash
/// miss what was asked for as the advice takes it.
inline bool rightAfter(const ToothContact& contact, const advice::Prior& prior, const Trial& trial,
                       const Advice& advice, Random& random) {
    const advice::Model model{&contact, prior};
    const double backlashNoise = random.normal(), shimNoise = random.normal();
    const advice::Sample situation{&model, trial.truth, backlashNoise, shimNoise};
    if (advice.verdict != Verdict::Change)
        return advice::endsRight(situation, 0, trial.truth.backlashMm, 0, AdviceOptions{}.costs);
    const double depthChange =
        advice::depthPerThickness(contact.gearSet().build.pinionShim) * advice.shim.thicknessChangeMm;
    return advice::endsRight(situation, depthChange, advice.backlashTargetMm, trial.seen.backlashSigmaMm,
                             AdviceOptions{}.costs);
}

}  // namespace shimsight::simulated
