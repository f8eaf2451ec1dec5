/// Reads the contact on flanks of a photo: what a small network makes of each flank laid flat. Module `marks`.
///
/// The network (models/mark-reader) sees the flank with a border around it and gives for each cell the chance that it
/// is contact, whether compound covers it, whether the flank shows there at all, and how far the flank really lies from
/// where the outline has it; and for the flank as a whole whether it is bare, painted but not rolled, wiped clear by
/// rolling or printed on. What one photo's flanks share (one pot, one way of marking) is decided for all of them.
#pragma once

#include <span>
#include <vector>

#include "shimsight/compound.h"
#include "shimsight/photo.h"
#include "shimsight/unwrap.h"

namespace shimsight {

/// One answer for each flank of the photo, in the order given. Refused: NoCompound (bare), NotRolled (full coat, no
/// pattern), Smeared (the contact has no clear border), FlankOutsidePicture (hidden for the most part). Safe to call
/// from several threads at once.
std::vector<Outcome<ContactReading>> readMarks(const Photo& photo, std::span<const UnwrappedFlank* const> flanks,
                                               const SegmentOptions& options = {});

/// The refusal of a flank without marking compound on it.
Refused bareFlank();

}  // namespace shimsight
