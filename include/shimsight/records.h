// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The program's JSON: gear-set files, outline files, readings, advice, predictions.
///
/// The JSON Schema of each is in models/schemas. Every reader throws InputError with one sentence that names the file
/// and the field; numbers must be finite, files at most kMaxRecordBytes, nesting at most kMaxRecordDepth. Every writer
/// gives the text of a whole file, pretty-printed, UTF-8, ending in a newline; a number that is not finite is a bug.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/advice.h"
#include "shimsight/blank.h"
#include "shimsight/gear_set.h"
#include "shimsight/pattern.h"
#include "shimsight/rectify.h"
#include "shimsight/words.h"

namespace shimsight {

/// A gear-set file has 3 kB, an outline of 64 flanks 300 kB.
inline constexpr std::int64_t kMaxRecordBytes = 1'000'000;
/// Objects and lists in one another; the records need 6.
inline constexpr int kMaxRecordDepth = 16;

/// A gear-set file as read. `warnings`: one sentence for each field that looks like a misspelled one and was not used.
struct GearSetFile {
    std::string fileName;
    GearSetData data;
    std::vector<std::string> warnings;
};

/// Reads a gear-set file and checks its values: fields, completeGearSet, and that pitch cones fit (designBlank).
GearSetFile readGearSetFile(const std::filesystem::path& file);
GearSetData loadGearSet(const std::filesystem::path& file);  ///< the data of readGearSetFile

/// From text: types, signs and ranges of each field; no geometry. Errors begin with `fileName`.
GearSetFile parseGearSetFile(std::string_view text, std::string_view fileName);
GearSetData parseGearSet(std::string_view text, std::string_view fileName);

std::string writeGearSet(const GearSetData& data);

/// One flank of an outline file; `photo`: the file name of the photo that it belongs to, empty when the file has none.
struct PhotoOutline {
    FlankOutline outline;
    std::string photo;
};

std::vector<PhotoOutline> readOutlineFile(const std::filesystem::path& file);
std::vector<PhotoOutline> parseOutlineFile(std::string_view text, std::string_view fileName);
std::vector<FlankOutline> loadOutline(const std::filesystem::path& file);  ///< all its flanks, photo names left out
std::string writeOutline(const std::vector<PhotoOutline>& flanks);
std::string writeOutline(const std::vector<FlankOutline>& flanks);

/// What can be looked into and found right, by the words that a person says: "sides", "cut", "housing", and the names
/// of the other diagnoses but runout, which a dial settles. Throws InputError beginning with `what`.
DiagnosisKind parseLookedInto(std::string_view word, std::string_view what);
/// The words that parseLookedInto takes, for help texts.
std::string lookedIntoWords();
/// What a look closes: offset and shaft angle are one look at the housing.
std::vector<DiagnosisKind> closedBy(DiagnosisKind lookedInto);

/// The trials of one job, as `advise --history` reads them; first to last.
struct HistoryFile {
    std::string fileName;
    std::vector<JobTrial> trials;
    bool usedGears = false;
    std::optional<TrialObservation> before;  ///< used gears, before they came apart
    std::vector<DiagnosisKind> checked;      ///< as AdviceOptions::checked
    std::vector<std::string> warnings;       ///< fields that look misspelled and were not used
};
HistoryFile readHistoryFile(const std::filesystem::path& file);
HistoryFile parseHistoryFile(std::string_view text, std::string_view fileName);
std::string writeHistory(const std::vector<JobTrial>& trials, bool usedGears = false);
std::string writeHistory(const HistoryFile& history);

/// What work costs in a shop, as --costs reads it (models/schemas/costs-1.schema.json); what is left out keeps its
/// usual value.
Costs readCostsFile(const std::filesystem::path& file);
Costs parseCostsFile(std::string_view text, std::string_view fileName);

/// What `read` answers.
struct RecordedFlank {
    Side side = Side::Drive;
    std::array<PixelPoint, 4> outline;  ///< toe-root, toe-tip, heel-tip, heel-root
    double confidence = 0;              ///< 0..1
    Marking marking = Marking::Wiped;
    double markingCertainty = 0;  ///< 0.5 = could be either
    bool used = true;             ///< counts in the pattern over all teeth
    Pattern pattern;
};
struct RecordedRefusedFlank {
    std::optional<Side> side;
    std::array<PixelPoint, 4> outline;
    Refused refused;
};
/// What the found flanks of a photo say of how the teeth were cut.
struct RecordedCutEvidence {
    double chanceFaceMilled = 0.5;  ///< else face-hobbed
    Message because;
};
struct RecordedPhoto {
    std::string file;
    std::optional<Refused> refused;
    std::vector<RecordedFlank> flanks;
    std::vector<RecordedRefusedFlank> refusedFlanks;
    bool found = false;  ///< the flanks were found, not outlined by hand
    std::optional<RecordedCutEvidence> cutEvidence;
};
/// In what the photos clearly show another gear set than the one that was given.
enum class Misfit { Hand, ToothCount, Proportions };
std::string_view name(Misfit misfit);  ///< "hand", "tooth-count", "proportions"
struct SetMisfit {
    Misfit what = Misfit::ToothCount;
    /// Teeth of the ring gear as seen and as given (ToothCount); 1 right-hand, 0 left-hand (Hand); 1 face-milled, 0
    /// face-hobbed (Cut); 0 (Proportions).
    double seen = 0, given = 0;
};
struct MeasurementRecord {
    std::vector<RecordedPhoto> photos;
    std::optional<Pattern> drive, coast;  ///< over all teeth
    std::optional<Advice> advice;
    std::optional<SetMisfit> setMisfit;
    std::vector<Message> notes;    ///< what is missing and what that costs
    std::vector<Message> assumed;  ///< values that were not given
};
std::string writeMeasurement(const MeasurementRecord& record);
/// What writeMeasurement wrote comes back, rounded as it was written.
MeasurementRecord parseMeasurement(std::string_view text, std::string_view fileName);

/// What `advise` answers: the ADVICE object with a schema and the assumed values.
std::string writeAdvice(const Advice& advice, const std::vector<Message>& assumed);

/// What `predict` answers.
struct Prediction {
    std::string gearSet;
    SetupError error;                     ///< the set-up that was drawn
    bool exact = false;                   ///< by the exact solver
    std::optional<Pattern> drive, coast;  ///< none: no contact on the flank
    double backlashChangeMm = 0;          ///< against the nominal position, dial square to the tooth
    BacklashRates rates;
    Blank blank;
    std::vector<Message> assumed;
};
std::string writePrediction(const Prediction& prediction);

}  // namespace shimsight
