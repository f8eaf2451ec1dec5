/// Photos of one trial in, pattern and correction out. The command line, pages and lessons all call this.
#pragma once

#include "shimsight/advice.h"
#include "shimsight/compound.h"
#include "shimsight/photo.h"
#include "shimsight/unwrap.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace shimsight {

struct MeasuredFlank {
    Side side = Side::Drive;
    UnwrappedFlank unwrapped;
    Outcome<ContactReading> reading;
};

struct MeasuredPhoto {
    std::string file;
    std::optional<Refused> refused;
    std::vector<MeasuredFlank> flanks;
};

struct TrialPhoto {
    std::string file;                       ///< as the user named it
    Photo photo;
    std::vector<FlankOutline> outlines;     ///< sides filled in
};

struct MeasureOptions {
    std::optional<Marking> marking;
    std::optional<double> backlashMm;
    DialReading dial = DialReading::SquareToTooth;
    std::optional<double> shimStackMm;
    AdviceOptions advice;
};

struct Measurement {
    std::vector<MeasuredPhoto> photos;
    std::optional<Consensus> drive, coast;
    std::optional<Advice> advice;
    std::vector<std::string> assumed;
};

/// `gearSet` null: pattern only, no advice. A photo without usable flanks is refused by itself; the others count.
Measurement measureTrial(std::vector<TrialPhoto> photos, const GearSetData* gearSet, const MeasureOptions& options = {});

}  // namespace shimsight
