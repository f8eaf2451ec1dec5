// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Pictures for people: what was read on a photo, and sketches of the flank. Module `draw`.
///
/// Everything is told apart by line style and label as well as by colour; the colours are those of Okabe and Ito
/// ("Color Universal Design", 2008), which people with any common colour blindness can tell apart.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "shimsight/contact.h"
#include "shimsight/pattern.h"
#include "shimsight/photo.h"
#include "shimsight/rectify.h"

namespace shimsight {

/// One flank of a photo as it was dealt with.
struct AnnotatedFlank {
    FlankOutline outline;                       ///< side filled in, full-size pixels
    const RectifiedFlank* rectified = nullptr;  ///< null: could not be rectified
    const FlankContact* contact = nullptr;      ///< null: not measured
    bool used = true;                           ///< counts in the side's pattern
    std::string whyNot = {};                    ///< plain sentence when not measured or not used
    std::string whyNotShort = {};               ///< the same as words behind a count: "without compound"
};

struct AnnotateOptions {
    int longestSidePx = 2000;  ///< a larger picture is shrunk to this; 0: never
    std::string title;         ///< written at the top of the caption; may be empty
    bool grouped = false;      ///< flanks left out are counted by reason, not told one by one: for found flanks
};

/// The photo with each flank outlined and numbered, contact and centre drawn in, toe, heel and side named once for
/// neighbouring flanks, flanks left out thin and dashed; below it a caption that tells what the numbers stand for. No
/// label covers another one.
Picture annotate(const Photo& photo, std::span<const AnnotatedFlank> flanks, const AnnotateOptions& options = {});

/// The picture with its longer side no longer than `longest`, by means over its pixels; smaller ones, and all where
/// `longest` is 0, stay as they are.
Picture shrunkTo(const Picture& picture, int longest);

/// One sketch of a flank.
struct FlankSketch {
    std::string title;  ///< for example "Drive side, as measured"
    FlankMap map;
    std::optional<Pattern> pattern;  ///< its centre gets a cross and is told below; nullopt: no mark
    bool expected = false;           ///< not measured: the pattern is drawn as a dashed outline of its size, no map
    std::vector<std::string> notes;  ///< further lines below
};

struct SketchOptions {
    std::optional<AcceptanceRule> goodZone;  ///< where the centre should lie: dashed box
    int panelWidthPx = 760;                  ///< of one flank
    int columns = 2;                         ///< side by side, then the next row
};

/// Sketches side by side (before and expected; drive and coast), each a flank with toe, heel, tip and root named.
Picture drawFlankMaps(std::span<const FlankSketch> sketches, const SketchOptions& options = {});

/// The flank map blown up on one panel: drawFlankMaps of a single sketch.
Picture drawFlankMap(const FlankSketch& sketch, const SketchOptions& options = {});

}  // namespace shimsight
