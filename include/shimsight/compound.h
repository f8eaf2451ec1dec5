/// Compound and contact on an unwrapped flank, under uneven light, gloss and shadow. Module `compound`.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/flank_map.h"
#include "shimsight/pattern.h"
#include "shimsight/unwrap.h"

namespace shimsight {

enum class Marking {
    Wiped,
    Transferred
};                                       ///< contact wiped clear in a painted flank; contact printed on a clean flank
std::string_view name(Marking marking);  ///< "wiped", "transferred"

struct ContactReading {
    FlankMap map;                   ///< contact 0..255
    std::vector<float> confidence;  ///< per map pixel 0..1 (low under gloss, in shadow, outside the photo)
    Marking marking = Marking::Wiped;
    double markingCertainty = 0;  ///< 0.5 = could be either
    Pattern pattern;              ///< with the standard errors of this one flank
    double flankConfidence = 0;   ///< 0..1
    double separation = 0;  ///< distance between contact and the rest in colour and texture, in standard deviations
};

struct SegmentOptions {
    std::optional<Marking> marking;
};

/// Refused: NoCompound, NotRolled (full coat, no pattern), Smeared, TooDark, Glare, OutOfFocus.
Outcome<ContactReading> segmentCompound(const UnwrappedFlank& flank, const SegmentOptions& options = {});

/// All flanks of one photo together: one pot of paste, one way of marking and, on teeth of one side, nearly one
/// pattern, so the flanks help one another. Same order as given; each one is answered for itself.
std::vector<Outcome<ContactReading>> segmentCompound(std::span<const UnwrappedFlank* const> flanks,
                                                     const SegmentOptions& options = {});

/// One side's pattern from all its teeth (same side): weights by confidence, drops outliers, gives the spread between
/// teeth and standard errors that hold (tooth-to-tooth spread and the reading's own error). Never called with none.
struct Consensus {
    FlankMap map;
    Pattern pattern;
    std::vector<bool> used;
    std::vector<std::string> whyNot;  ///< for each tooth left out, one plain sentence; empty for those used
};
Consensus consensusOverTeeth(const std::vector<ContactReading>& readings);

}  // namespace shimsight
