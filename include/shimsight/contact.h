// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The contact on tooth flanks: read on each by a small network, then weighed over the teeth of a side. Module
/// `contact`.
///
/// The network (models/mark-reader) sees the flank with a border around it and gives for each cell the chance that it
/// is contact, whether compound covers it, whether the flank shows there at all, and how far the flank really lies from
/// where the outline has it; and for the flank as a whole whether it is bare, painted but not rolled, wiped clear by
/// rolling or printed on. What one photo's flanks share (one pot, one way of marking) is decided for all of them.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/flank_map.h"
#include "shimsight/pattern.h"
#include "shimsight/photo.h"
#include "shimsight/rectify.h"
#include "shimsight/words.h"

namespace shimsight {

struct FlankContact {
    FlankMap map;                   ///< contact 0..255
    std::vector<float> confidence;  ///< per map pixel 0..1 (low under gloss, in shadow, outside the photo)
    Marking marking = Marking::Wiped;
    double markingCertainty = 0;  ///< 0.5 = could be either
    Pattern pattern;              ///< with the standard errors of this one flank
    double flankConfidence = 0;   ///< 0..1
    /// Mean colour of the marking compound, R, G, B, 0..255; black: hardly any is seen.
    std::array<float, 3> compound{};
};

/// One answer for each flank of the photo, in the order given; `marking` where the user says how contact shows.
/// Refused: NoCompound (bare), NotRolled (full coat, no pattern), Smeared (the contact has no clear border),
/// FlankOutsidePicture (hidden for the most part). Safe to call from several threads at once.
std::vector<Outcome<FlankContact>> measureContact(const Photo& photo, std::span<const RectifiedFlank* const> flanks,
                                                  std::optional<Marking> marking = std::nullopt);

/// The refusal of a flank without marking compound on it.
Refused bareFlank();

/// One side's pattern from all its teeth (same side): the contact that they agree on cell by cell, each weighed by how
/// well it is known, outliers left out; the spread between teeth and standard errors that hold (tooth-to-tooth spread
/// and the measuring's own error). Never called with none.
/// `tooth`: for each contact the tooth that it is of, so that one seen in several photos counts once: its contacts
/// share the weight of the surest. Empty: each is of a tooth of its own.
struct Consensus {
    FlankMap map;
    Pattern pattern;
    std::vector<bool> used;
    std::vector<Message> whyNot;  ///< for each tooth left out, why; empty for those used
};
Consensus consensusOverTeeth(const std::vector<FlankContact>& contacts, const std::vector<int>& tooth = {});

}  // namespace shimsight
