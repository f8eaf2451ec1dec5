#include <cmath>

#include "records/json_reader.h"
#include "records/json_writer.h"
#include "shimsight/files.h"
#include "shimsight/records.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kSchema = "shimsight/history/1";
constexpr std::size_t kMostTrials = 20;    ///< nobody opens an axle more often for one set of gears
constexpr std::size_t kMostReadings = 64;  ///< round one ring gear: one for each tooth
constexpr double kMostBacklashMm = 5, kMostStackMm = 50, kMostChangeMm = 5;
/// Share of an edge's band that is taken as marked where only "runs_off" is known.
constexpr double kEdgeRunOff = 0.3;

constexpr std::array kDialWords{
    std::pair<std::string_view, DialReading>{"square-to-tooth", DialReading::SquareToTooth},
    std::pair<std::string_view, DialReading>{"outer-circumference", DialReading::OuterCircumference}};
constexpr std::array kSourceWords{std::pair<std::string_view, bool>{"photos", true},
                                  std::pair<std::string_view, bool>{"maps", false}};

RunsOff runsOffOf(ObjectReader& reader) {
    RunsOff off;
    for (const std::string& word : reader.texts("runs_off", 4)) {
        if (word == "toe")
            off.toe = true;
        else if (word == "heel")
            off.heel = true;
        else if (word == "tip")
            off.tip = true;
        else if (word == "root")
            off.root = true;
        else
            reader.fail("runs_off",
                        "holds \"" + shown(word) + "\"; the edges are \"toe\", \"heel\", \"tip\", \"root\"");
    }
    return off;
}

std::optional<Pattern> patternOf(ObjectReader& trial, std::string_view side) {
    std::optional<ObjectReader> reader = trial.object(side);
    if (!reader) return std::nullopt;
    const Range share{0, 1};
    Pattern pattern;
    ObjectReader centre = reader->requiredObject("centre");
    pattern.toeHeel = centre.requiredNumber("toe_heel", share);
    pattern.rootTip = centre.requiredNumber("root_tip", share);
    centre.finish();
    if (std::optional<ObjectReader> sigma = reader->object("sigma")) {
        pattern.sigmaToeHeel = sigma->number("toe_heel", share).value_or(0);
        pattern.sigmaRootTip = sigma->number("root_tip", share).value_or(0);
        sigma->finish();
    }
    pattern.length = reader->requiredNumber("length", share);
    pattern.height = reader->requiredNumber("height", share);
    pattern.area = reader->requiredNumber("area", share);
    pattern.tiltDeg = reader->requiredNumber("tilt_deg", {-90, 90});
    pattern.runsOff = runsOffOf(*reader);
    std::optional<ObjectReader> edges = reader->object("edges");
    const auto edge = [&](std::string_view name, bool runsOff) {
        const std::optional<double> given = edges ? edges->number(name, share) : std::nullopt;
        return given.value_or(runsOff ? kEdgeRunOff : 0.0);
    };
    pattern.edgeToe = edge("toe", pattern.runsOff.toe);
    pattern.edgeHeel = edge("heel", pattern.runsOff.heel);
    pattern.edgeTip = edge("tip", pattern.runsOff.tip);
    pattern.edgeRoot = edge("root", pattern.runsOff.root);
    if (edges) edges->finish();
    pattern.toothSpread = reader->number("tooth_spread", {0, 2}).value_or(0);
    pattern.teeth = reader->integer("teeth", {1, 200}).value_or(1);
    // What follows from the rest is written for the reader alone.
    reader->text("length_position");
    reader->text("depth_position");
    reader->finish();
    return pattern;
}

JobTrial trialOf(ObjectReader& reader) {
    JobTrial trial;
    TrialObservation& seen = trial.seen;
    reader.text("name");
    seen.backlashMm = reader.number("backlash_mm", {0, kMostBacklashMm});
    seen.dial = reader.choice("dial", kDialWords).value_or(DialReading::SquareToTooth);
    seen.backlashRoundMm = reader.numbers("backlash_round_mm", {0, kMostBacklashMm}, kMostReadings);
    seen.shimStackMm = reader.number("shim_stack_mm", {0, kMostStackMm});
    trial.shimChangeMm = reader.number("shim_change_mm", {-kMostChangeMm, kMostChangeMm});
    if (reader.choice("read_from", kSourceWords).value_or(true)) {
        seen.extentNoise = kPhotoExtentNoise;
        seen.readingNoise = kPhotoReadingNoise;
    }
    seen.drive = patternOf(reader, "drive");
    seen.coast = patternOf(reader, "coast");
    reader.finish();
    return trial;
}

json orNull(const std::optional<double>& value) { return value ? json(tidy(*value)) : json(nullptr); }

}  // namespace

HistoryFile parseHistoryFile(std::string_view text, std::string_view fileName) {
    HistoryFile history;
    history.fileName = std::string(fileName);
    const json document = parseJsonObject(text, history.fileName);
    ObjectReader reader(document, history.fileName, "", history.warnings);
    reader.expectSchema(kSchema);
    history.usedGears = reader.boolean("used_gears").value_or(false);
    const json* list = reader.requiredList("trials", kMostTrials);
    if (list->empty()) reader.fail("trials", "is empty; it must hold at least one trial");
    for (std::size_t i = 0; i < list->size(); ++i) {
        ObjectReader item = reader.item("trials", *list, i);
        history.trials.push_back(trialOf(item));
    }
    reader.finish();
    // A change or a backlash in a misspelled field would be lost without a word, and the advice with it.
    if (!history.warnings.empty()) throw InputError(history.warnings.front() + " Correct its name.");
    return history;
}

HistoryFile readHistoryFile(const std::filesystem::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxRecordBytes);
    return parseHistoryFile(std::string(bytes.begin(), bytes.end()), file.string());
}

std::string writeHistory(const std::vector<JobTrial>& trials, bool usedGears) {
    json list = json::array();
    for (const JobTrial& trial : trials) {
        const TrialObservation& seen = trial.seen;
        json round = json::array();
        for (const double mm : seen.backlashRoundMm) round.push_back(tidy(mm));
        list.push_back({{"backlash_mm", orNull(seen.backlashMm)},
                        {"dial", seen.dial == DialReading::SquareToTooth ? "square-to-tooth" : "outer-circumference"},
                        {"backlash_round_mm", round},
                        {"shim_stack_mm", orNull(seen.shimStackMm)},
                        {"shim_change_mm", orNull(trial.shimChangeMm)},
                        {"read_from", seen.readingNoise > 1 ? "photos" : "maps"},
                        {"drive", seen.drive ? toJson(*seen.drive) : json(nullptr)},
                        {"coast", seen.coast ? toJson(*seen.coast) : json(nullptr)}});
    }
    return fileText(json{{"schema", kSchema}, {"used_gears", usedGears}, {"trials", list}});
}

}  // namespace shimsight
