/// Photos of one trial in, pattern and correction out. The command line, pages and lessons all call this.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/contact.h"
#include "shimsight/photo.h"
#include "shimsight/records.h"
#include "shimsight/teeth.h"
#include "shimsight/unwrap.h"
#include "shimsight/words.h"

namespace shimsight {

/// One flank, marked or found, that was laid flat and read.
struct MeasuredFlank {
    Side side = Side::Drive;
    UnwrappedFlank unwrapped;
    ContactReading reading;
    bool used = true;           ///< false: left out of the consensus as an outlier
    Message whyNotUsed;         ///< one plain sentence when not used
    double paintedLogOdds = 0;  ///< that somebody painted this tooth, at first sight; of found flanks
};

/// One flank, marked or found, that gave nothing.
struct RefusedFlank {
    std::optional<Side> side;
    FlankOutline outline;
    Refused refused;
    double paintedLogOdds = 0;  ///< as of a MeasuredFlank
};

struct MeasuredPhoto {
    std::string file;
    std::optional<Refused> refused;  ///< nothing at all was read from this photo
    std::vector<MeasuredFlank> flanks;
    std::vector<RefusedFlank> refusedFlanks;
    bool found = false;              ///< the flanks were found, not marked
    std::optional<CutEvidence> cut;  ///< what found flanks say of the tooth form
    std::optional<SetFit> setFit;    ///< how found flanks fit the gear set
};

struct TrialPhoto {
    std::string file;                    ///< as the user named it
    Outcome<Photo> photo;                ///< refused: UnreadablePhoto
    std::vector<FlankOutline> outlines;  ///< marked flanks, sides filled in where they are known; empty: to be found
};

struct MeasureOptions {
    std::optional<Marking> marking;
    std::optional<Side> side;  ///< of flanks that are found: the others do not count
    std::optional<double> backlashMm;
    DialReading dial = DialReading::SquareToTooth;
    std::optional<double> shimStackMm;
    AdviceOptions advice;
    std::function<void(std::size_t)> beforePhoto;  ///< called with a photo's place when its turn comes, from any thread
                                                   ///< but one at a time; may be empty
};

struct Measurement {
    std::vector<MeasuredPhoto> photos;
    std::optional<Consensus> drive, coast;  ///< over all teeth of each side
    std::optional<SetMisfit> setMisfit;     ///< the photos clearly show another gear set than the one given
    std::optional<Advice> advice;           ///< none without a gear set that fits, or without any pattern
    std::vector<Message> notes;             ///< what is missing and what that costs
    std::vector<Message> assumed;
    bool anythingRead() const { return drive.has_value() || coast.has_value(); }
};

/// The photo of a file as a trial wants it: a file that cannot be read or decoded is an ordinary refusal that names it.
Outcome<Photo> openTrialPhoto(const std::string& file);

/// Each photo by itself, as many at a time as the machine has processors; in the order given.
std::vector<MeasuredPhoto> measurePhotos(const std::vector<TrialPhoto>& photos, const GearSetData* gearSet,
                                         const MeasureOptions& options = {});

/// What photos that were measured by themselves say together: the teeth of each side over all of them, and the
/// correction. As measureTrial.
Measurement weighPhotos(std::vector<MeasuredPhoto> photos, const GearSetData* gearSet,
                        const MeasureOptions& options = {});

/// Both in one: measurePhotos, then weighPhotos. `gearSet` null: pattern only, no advice. A photo without usable flanks
/// is refused by itself; the others count. When the gear set does not say how its teeth are cut, both cuts are weighed.
/// Throws InputError when the data give no gear set.
Measurement measureTrial(const std::vector<TrialPhoto>& photos, const GearSetData* gearSet,
                         const MeasureOptions& options = {});

/// A refusal as words behind a count: "without compound".
std::string behindCount(Refusal why);

/// Refusals counted by reason, most frequent first: "8 without compound, 3 partly hidden or cut off". Empty for none.
std::string countedReasons(std::span<const Refusal> reasons);

/// A misfit as a sentence: "the photos show about 39 teeth on the ring gear, the gear set has 43."
std::string misfitWords(const SetMisfit& misfit);

/// The measurement as the record that is written.
Reading readingOf(const Measurement& measurement);

}  // namespace shimsight
