// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The contact pattern on one flank, in numbers. One definition for simulated and photographed patterns.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "shimsight/flank_map.h"
#include "shimsight/tooth_contact.h"

namespace shimsight {

enum class LengthPosition { Toe, Centre, Heel };
enum class DepthPosition { Face, Centre, Flank };  ///< face = tip half, flank = root half

/// How contact shows: wiped clear in a painted flank, or printed on a clean one.
enum class Marking { Wiped, Transferred };
std::string_view name(Marking marking);  ///< "wiped", "transferred"

struct RunsOff {
    bool toe = false, heel = false, tip = false, root = false;
    bool any() const { return toe || heel || tip || root; }
};

/// Fractions of face width (toe 0, heel 1) and working depth (root 0, tip 1).
struct Pattern {
    double toeHeel = 0.5, rootTip = 0.5;        ///< centre: contact-weighted mean over the flank
    double sigmaToeHeel = 0, sigmaRootTip = 0;  ///< standard error of the centre
    double length = 0, height = 0;              ///< between the 1 % and 99 % points of the contact along each axis
    double area = 0;                            ///< share of the working flank marked
    double tiltDeg = 0;  ///< slope of the mark as drawn on the 2:1 flank map, + heel end nearer the tip
    double edgeToe = 0, edgeHeel = 0, edgeTip = 0, edgeRoot = 0;  ///< share of each edge's band that is marked, 0..1
    RunsOff runsOff;
    double toothSpread = 0;  ///< standard deviation of the centre from tooth to tooth (both axes, root of the sum)
    int teeth = 1;
    LengthPosition lengthPosition() const;
    DepthPosition depthPosition() const;
};

std::string_view name(LengthPosition position);  ///< "toe", "centre", "heel"
std::string_view name(DepthPosition position);   ///< "face", "centre", "flank"

/// A grid of contact values 0..1 over the flank: `columns` along u (toe first), `rows` along v (root first).
/// No mark at all (area under 0.2 %): nullopt.
std::optional<Pattern> measurePattern(std::span<const float> contact, int columns, int rows);
std::optional<Pattern> measurePattern(const FlankMap& map);
std::optional<Pattern> measurePattern(const ContactGrid& grid);

/// Whether the pattern may be left alone by the gear set's rule.
bool isAcceptable(const Pattern& pattern, const AcceptanceRule& rule);

}  // namespace shimsight
