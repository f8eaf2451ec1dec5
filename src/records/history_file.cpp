// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "records_json.h"
#include "shimsight/files.h"
#include "shimsight/records.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kHistorySchema = "shimsight/history/1";
constexpr std::size_t kMaxTrials = 20;    ///< nobody opens an axle more often for one set of gears
constexpr std::size_t kMaxReadings = 64;  ///< round one ring gear: one for each tooth
constexpr double kMaxBacklashMm = 5, kMaxStackMm = 50, kMaxChangeMm = 5;

constexpr std::array kSourceWords{std::pair<std::string_view, bool>{"photos", true},
                                  std::pair<std::string_view, bool>{"maps", false}};

JobTrial trialOf(ObjectReader& reader) {
    JobTrial trial;
    TrialObservation& seen = trial.seen;
    reader.text("name");
    seen.backlashMm = reader.number("backlash_mm", {0, kMaxBacklashMm});
    seen.dial = reader.choice("dial", kDialWords).value_or(DialReading::SquareToTooth);
    seen.backlashRoundMm = reader.numbers("backlash_round_mm", {0, kMaxBacklashMm}, kMaxReadings);
    seen.shimStackMm = reader.number("shim_stack_mm", {0, kMaxStackMm});
    trial.shimChangeMm = reader.number("shim_change_mm", {-kMaxChangeMm, kMaxChangeMm});
    seen.fromPhotos = reader.choice("read_from", kSourceWords).value_or(true);
    if (seen.fromPhotos) {
        seen.extentNoise = kPhotoExtentNoise;
        seen.patternNoise = kPhotoPatternNoise;
    }
    seen.drive = readPattern(reader, "drive");
    seen.coast = readPattern(reader, "coast");
    reader.finish();
    return trial;
}

/// A list of words for what was looked into.
std::vector<DiagnosisKind> checkedOf(ObjectReader& reader) {
    std::vector<DiagnosisKind> checked;
    constexpr std::size_t kMaxWords = 50;
    for (const std::string& word : reader.texts("checked", kMaxWords)) {
        DiagnosisKind kind{};
        try {
            kind = parseLookedInto(word, "");
        } catch (const InputError&) {
            reader.fail("checked", say("records.may-hold", shown(word), lookedIntoWords()));
        }
        for (const DiagnosisKind closed : closedBy(kind))
            if (std::find(checked.begin(), checked.end(), closed) == checked.end()) checked.push_back(closed);
    }
    return checked;
}

json orNull(const std::optional<double>& value) { return value ? json(tidy(*value)) : json(nullptr); }

json toJson(const JobTrial& trial) {
    const TrialObservation& seen = trial.seen;
    json round = json::array();
    for (const double mm : seen.backlashRoundMm) round.push_back(tidy(mm));
    return {{"backlash_mm", orNull(seen.backlashMm)},
            {"dial", name(seen.dial)},
            {"backlash_round_mm", round},
            {"shim_stack_mm", orNull(seen.shimStackMm)},
            {"shim_change_mm", orNull(trial.shimChangeMm)},
            {"read_from", seen.fromPhotos ? "photos" : "maps"},
            {"drive", seen.drive ? toJson(*seen.drive) : json(nullptr)},
            {"coast", seen.coast ? toJson(*seen.coast) : json(nullptr)}};
}

}  // namespace

HistoryFile parseHistoryFile(std::string_view text, std::string_view fileName) {
    HistoryFile history;
    history.fileName = std::string(fileName);
    const json document = parseJsonObject(text, history.fileName);
    ObjectReader reader(document, history.fileName, "", history.warnings);
    reader.expectSchema(kHistorySchema);
    history.usedGears = reader.boolean("used_gears").value_or(false);
    if (std::optional<ObjectReader> before = reader.object("before")) history.before = trialOf(*before).seen;
    history.checked = checkedOf(reader);
    const json* list = reader.requiredList("trials", kMaxTrials);
    if (list->empty()) reader.fail("trials", say("records.no-trial"));
    for (std::size_t i = 0; i < list->size(); ++i) {
        ObjectReader item = reader.item("trials", *list, i);
        history.trials.push_back(trialOf(item));
    }
    reader.finish();
    // A change or a backlash in a misspelled field would be lost without a word, and the advice with it.
    if (!history.warnings.empty()) throw InputError(message("records.correct-name", history.warnings.front()));
    return history;
}

HistoryFile readHistoryFile(const std::filesystem::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxRecordBytes);
    return parseHistoryFile(std::string(bytes.begin(), bytes.end()), file.string());
}

std::string writeHistory(const std::vector<JobTrial>& trials, bool usedGears) {
    HistoryFile history;
    history.trials = trials;
    history.usedGears = usedGears;
    return writeHistory(history);
}

std::string writeHistory(const HistoryFile& history) {
    json list = json::array();
    for (const JobTrial& trial : history.trials) list.push_back(toJson(trial));
    json checked = json::array();
    for (const DiagnosisKind kind : history.checked) checked.push_back(name(kind));
    return fileText(json{{"schema", kHistorySchema},
                         {"used_gears", history.usedGears},
                         {"before", history.before ? toJson(JobTrial{*history.before, {}}) : json(nullptr)},
                         {"checked", checked},
                         {"trials", list}});
}

}  // namespace shimsight
