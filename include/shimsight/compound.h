/// Compound and contact on an unwrapped flank, under uneven light, gloss and shadow. Module `compound`.
#pragma once

#include "shimsight/flank_map.h"
#include "shimsight/pattern.h"
#include "shimsight/unwrap.h"

#include <string_view>
#include <vector>

namespace shimsight {

enum class Marking { Wiped, Transferred };  ///< contact wiped clear in a painted flank; contact printed on a clean flank
std::string_view name(Marking marking);     ///< "wiped", "transferred"

struct ContactReading {
    FlankMap map;                           ///< contact 0..255
    std::vector<float> confidence;          ///< per map pixel 0..1 (low under gloss, in shadow, outside the photo)
    Marking marking = Marking::Wiped;
    double markingCertainty = 0;            ///< 0.5 = could be either
    Pattern pattern;                        ///< with the standard errors of this one flank
    double flankConfidence = 0;             ///< 0..1
};

struct SegmentOptions { std::optional<Marking> marking; };

/// Refused: NoCompound, NotRolled (full coat, no pattern), Smeared, TooDark, Glare, OutOfFocus.
Outcome<ContactReading> segmentCompound(const UnwrappedFlank& flank, const SegmentOptions& options = {});

/// One side's pattern from all its teeth (same side): weights by confidence, drops outliers, gives the spread between
/// teeth and standard errors that hold (tooth-to-tooth spread and the reading's own error). Never called with none.
struct Consensus { FlankMap map; Pattern pattern; std::vector<bool> used; };
Consensus consensusOverTeeth(const std::vector<ContactReading>& readings);

}  // namespace shimsight
