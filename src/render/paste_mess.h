// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Paint as it is at a bench: streaks, holes, skipped strokes, wipes, prints and marks of earlier trials in a layer.
#pragma once

#include <memory>

#include "render/vec.h"
#include "shimsight/flank_map.h"

namespace shimsight::render {

/// All zero: nothing went wrong. Shares are 0..1.
struct PasteMess {
    float comb = 0;          ///< streaks along the sliding, left in the contact and drawn through its border
    float combMm = 0.6f;     ///< from streak to streak
    float crossing = 0;      ///< the same across them: rolled the other way too
    float holes = 0;         ///< spots that the paint left bare
    float skips = 0;         ///< brush strokes that did not take
    float wipe = 0;          ///< one stroke of a finger or rag over the flank
    float printBack = 0;     ///< pressed and parted again: ridges about the contact and in it
    float remnant = 0;       ///< more paint left in the contact, shares of what hides the steel
    float thick = 0;         ///< teeth that were not rolled: more coats, and lumps
    float earlierDepth = 0;  ///< how much an earlier trial thinned the paint
    std::shared_ptr<const FlankMap> earlier;

    bool isOn() const;
};

/// One spot of a layer before the mess.
struct PasteSpot {
    float u = 0, v = 0;    ///< on the flank
    float px = 0, py = 0;  ///< the same, mm
    float inside = 0;      ///< 1 in the contact, 0 outside
    float distanceMm = 0;  ///< to the contact's border, positive outside
    float thicknessUm = 0;
};

/// What the flank's own layer was drawn with.
struct FlankGround {
    float coatUm = 0, hidingUm = 1;
    float slide = 0, stroke = 0;  ///< angles of sliding and brush against the tooth's length, rad
    float lengthMm = 1, heightMm = 1;
};

/// The mess of one flank; every flank has its own place in the noise.
class FlankMess {
public:
    FlankMess(const PasteMess& mess, const FlankGround& ground, std::uint64_t seed);

    float thickness(const PasteSpot& spot) const;
    /// Of a tooth that was not rolled.
    float freshThickness(const PasteSpot& spot) const;

private:
    float brushed(const PasteSpot& spot, float thickness) const;
    float combed(const PasteSpot& spot, float thickness, float strength, float slide) const;
    float printed(const PasteSpot& spot, float thickness) const;
    float wiped(const PasteSpot& spot, float thickness) const;
    float thinnedBefore(const PasteSpot& spot, float thickness) const;

    const PasteMess& mess_;
    FlankGround ground_;
    Vec own_;
    float wipeX_, wipeY_, wipeAngle_, wipeHalfMm_, skipLevel_;
};

}  // namespace shimsight::render
