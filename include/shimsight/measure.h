// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Photos of one trial in, the contact pattern out. Command line, jobs, reviews and lessons all call this. The
/// correction is the next step and the caller's: observationOf makes of a measurement what advice learns from.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/contact.h"
#include "shimsight/photo.h"
#include "shimsight/records.h"
#include "shimsight/rectify.h"
#include "shimsight/teeth.h"
#include "shimsight/words.h"

namespace shimsight {

/// One flank, outlined or found, that was rectified and measured.
struct MeasuredFlank {
    Side side = Side::Drive;
    RectifiedFlank rectified;
    FlankContact contact;
    bool used = true;           ///< false: left out of the consensus as an outlier
    Message whyNotUsed;         ///< one plain sentence when not used
    double paintedLogOdds = 0;  ///< that somebody painted this tooth, at first sight; of found flanks
    std::optional<int> tooth;   ///< as FoundFlank::tooth
};

/// One flank, outlined or found, that gave nothing.
struct RefusedFlank {
    std::optional<Side> side;
    FlankOutline outline;
    Refused refused;
    double paintedLogOdds = 0;  ///< as of a MeasuredFlank
    std::optional<int> tooth;   ///< as of a MeasuredFlank
};

struct MeasuredPhoto {
    std::string file;
    std::optional<Refused> refused;  ///< nothing at all was read from this photo
    std::vector<MeasuredFlank> flanks;
    std::vector<RefusedFlank> refusedFlanks;
    bool found = false;              ///< the flanks were found, not outlined
    std::optional<CutEvidence> cut;  ///< what found flanks say of the tooth form
    std::optional<SetFit> setFit;    ///< how found flanks fit the gear set
    std::optional<Hand> hand;        ///< of the ring gear, where found flanks tell it surely
};

struct TrialPhoto {
    std::string file;                    ///< as the user named it
    Outcome<Photo> photo;                ///< refused: UnreadablePhoto
    std::vector<FlankOutline> outlines;  ///< outlined flanks, sides filled in where they are known; empty: to be found
};

struct MeasureOptions {
    std::optional<Marking> marking;
    std::optional<Side> side;                      ///< of flanks that are found: the others do not count
    std::function<void(std::size_t)> beforePhoto;  ///< called with a photo's place when its turn comes, from any thread
                                                   ///< but one at a time; may be empty
};

struct Measurement {
    std::vector<MeasuredPhoto> photos;
    std::optional<Consensus> drive, coast;  ///< over all teeth of each side
    std::optional<SetMisfit> setMisfit;     ///< the photos clearly show another gear set than the one given
    std::vector<Message> assumed;
    bool anythingRead() const { return drive.has_value() || coast.has_value(); }
};

/// The photo of a file as a trial wants it: a file that cannot be read or decoded is an ordinary refusal that names it.
Outcome<Photo> openTrialPhoto(const std::string& file);
/// The same of the file's bytes.
Outcome<Photo> openTrialPhoto(std::shared_ptr<const std::vector<std::uint8_t>> bytes);

/// Each photo by itself, as many at a time as the machine has processors; in the order given.
std::vector<MeasuredPhoto> measurePhotos(const std::vector<TrialPhoto>& photos, const GearSetData* gearSet,
                                         const MeasureOptions& options = {});

/// What photos that were measured by themselves say together: the teeth of each side over all of them, one seen in
/// several photos counted once.
Measurement weighPhotos(std::vector<MeasuredPhoto> photos, const GearSetData* gearSet);

/// Both in one: measurePhotos, then weighPhotos. `gearSet` null: nothing is known of it. A photo without usable flanks
/// is refused by itself; the others count. Throws InputError when the data give no gear set.
Measurement measureTrial(const std::vector<TrialPhoto>& photos, const GearSetData* gearSet,
                         const MeasureOptions& options = {});

/// What the photos of a trial showed, as advice takes it; backlash and shims, which no photo shows, are left open.
TrialObservation observationOf(const Measurement& measurement);

/// The correction by this trial alone. `seen`: observationOf the measurement, with what was read by dial and
/// micrometer. nullopt where nothing was read, or where the photos show another gear set.
std::optional<Advice> adviseTrial(const Measurement& measurement, const GearSetData& gearSet,
                                  const TrialObservation& seen, const AdviceOptions& options = {});

/// What a trial lacks, and what that costs, a sentence each. `gearSet` null: none was given. `onlySide`: as in
/// MeasureOptions. Empty where nothing was read.
std::vector<Message> whatIsMissing(const Measurement& measurement, const GearSetData* gearSet,
                                   const TrialObservation& seen, std::optional<Side> onlySide = {});

/// A refusal as words behind a count: "without compound".
std::string behindCount(Refusal why);

/// Refusals counted by reason, most frequent first: "8 without compound, 3 partly hidden or cut off". Empty for none.
std::string countedReasons(std::span<const Refusal> reasons);

/// A misfit as a sentence: "the photos show about 39 teeth on the ring gear, the gear set has 43."
std::string misfitWords(const SetMisfit& misfit);

/// The measurement as the record that is written; notes and advice are the caller's.
MeasurementRecord recordOf(const Measurement& measurement);

}  // namespace shimsight
