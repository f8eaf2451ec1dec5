// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Where the ring gear's tooth flanks lie in a photo, found without outlines. Module `teeth`.
///
/// HOW IT WORKS. The photo is looked at as a whole, then, where flanks are small or only hinted at, closer. A small
/// network (models/flank-finder) tells for every cell of the photo what it shows and, on flanks, the place (u, v) on
/// the flank and the way to the flank's middle. The votes for the middles part the teeth. To the cells of each flank a
/// smooth warp u(x, y), v(x, y) is fitted robustly and turned round, which gives corners and edges. Toe, heel, root and
/// tip follow from u and v. The way round in which the corners run must be the same on all flanks of a side and the
/// other on the other side: that decides the side for the photo as a whole. A camera fitted to all flanks at once, with
/// the gear set's real flank or that of a typical set, then replaces the warps where it explains them.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/gear_set.h"
#include "shimsight/photo.h"
#include "shimsight/rectify.h"
#include "shimsight/words.h"

namespace shimsight {

/// How a found flank's outline came about; each step refines the one before.
enum class OutlineSource {
    Warp,    ///< this flank's own warp
    Camera,  ///< one camera for all flanks of the photo
};

struct FoundFlank {
    FlankOutline outline;            ///< side set; nine points along root and tip edge each; full-size photo pixels
    std::vector<PixelPoint> gridPx;  ///< kFlankGridU x kFlankGridV, row-major from the tip, toe first
    double confidence = 0;           ///< 0..1, how sure that this is a flank and of its side
    double seenShare = 0;            ///< share of the flank's area that was seen
    double cornerSigma = 0.1;        ///< expected error of a corner, one sigma, share of the flank's length
    double paintedLogOdds = 0;       ///< that somebody painted this tooth, at first sight
    bool whole = true;               ///< both ends lie inside the picture
    std::optional<int> tooth;  ///< its place on the ring gear, counted from any tooth of this photo, by the camera
    OutlineSource source = OutlineSource::Warp;
};

struct LeftOutFlank {
    FoundFlank flank;
    Refused why;
};

/// Which tooth form explains the flanks of the photo better: height that tapers toward the toe (face-milled) or not
/// (face-hobbed).
struct CutEvidence {
    double chanceFaceMilled = 0.5;
    Message because;
};

/// How the teeth in the photo fit the gear set that was given.
struct SetFit {
    std::optional<Hand> hand;         ///< of the ring gear in the photo, where the looks of its sides tell it surely
    std::optional<double> ringTeeth;  ///< by the angle between teeth, one sigma about 1; nullopt: too few are seen
    double countGain = 0;             ///< how much better the flanks are explained by it than by the set's own count
    double shapeGain = 0;             ///< how much better by a typical tooth than by the set's (costs of GearCamera)
};

struct FoundTeeth {
    std::vector<FoundFlank> flanks;       ///< to be read, surest first
    std::vector<LeftOutFlank> leftOut;    ///< seen but not good enough
    std::optional<CutEvidence> cut;       ///< nullopt: too few flanks to tell
    std::optional<SetFit> setFit;         ///< with a gear set
    std::optional<Hand> hand;             ///< as SetFit::hand, with or without a gear set
    double sideCertainty = 1;             ///< 0.5: either side as likely as the other
    std::shared_ptr<const Photo> larger;  ///< the photo at full size, to read small flanks in; null: not needed
};

struct FindOptions {
    std::optional<Side> side;  ///< keep flanks of this side only; settles the sides where the photo does not
    bool useCamera = true;     ///< false: warps only (for studies)
};

/// All flanks of the photo that can be trusted. With a gear set its real flank and its hand are used. Refused:
/// NoToothFound (no gear seen, or what is seen does not repeat as teeth do), SideUnknown. Safe to call
/// from several threads at once.
Outcome<FoundTeeth> findTeeth(const Photo& photo, const GearSet* gearSet = nullptr, const FindOptions& options = {});

}  // namespace shimsight
