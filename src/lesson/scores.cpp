#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "lesson/parts.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/lesson.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kSchema = "shimsight/score-sheet/1";
constexpr std::string_view kEnding = ".scores.json";
constexpr std::int64_t kMostBytes = 20'000'000;  ///< 400 bytes an answer
constexpr std::size_t kMostName = 60;
constexpr int kPatienceMs = 5000;

/// The name as a file name: what people can read of it, and a number that tells names apart (FNV-1a of its bytes).
std::string fileStem(std::string_view name) {
    std::string stem;
    std::uint32_t number = 2166136261U;
    for (const char c : name) {
        const char low = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        const bool plain = (low >= 'a' && low <= 'z') || (low >= '0' && low <= '9');
        if (plain) stem += low;
        if (!plain && !stem.empty() && stem.back() != '-') stem += '-';
        number = (number ^ static_cast<unsigned char>(c)) * 16777619U;
    }
    if (!stem.empty() && stem.back() != '-') stem += '-';
    return stem + lesson::formatted("%08x", number);
}

void checkName(std::string_view name) {
    if (name.empty() || name.size() > kMostName || name.front() == ' ' || name.back() == ' ' ||
        std::any_of(name.begin(), name.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; }))
        throw InputError("--name: a name has 1 to " + std::to_string(kMostName) +
                         " characters on one line, without spaces at its ends.");
}

std::string textOf(const json& object, const char* field) { return object.at(field).get<std::string>(); }

int intOf(const json& object, const char* field, int low, int high) {
    const auto value = object.at(field).get<std::int64_t>();
    if (value < low || value > high) throw InputError(std::string(field) + " is out of range");
    return static_cast<int>(value);
}

ScoreSheet parseSheet(const std::filesystem::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMostBytes);
    try {
        const json document = json::parse(bytes.begin(), bytes.end());
        if (document.at("schema") != kSchema) throw InputError("it has another schema");
        ScoreSheet sheet;
        sheet.name = textOf(document, "name");
        for (const json& entry : document.at("answers")) {
            ScoreEntry one;
            one.at = textOf(entry, "at");
            one.seed = entry.at("seed").get<std::uint64_t>();
            one.level = intOf(entry, "level", 1, kDrillLevels);
            one.number = intOf(entry, "number", 1, 1'000'000);
            one.gearSet = textOf(entry, "gear_set");
            one.truth = textOf(entry, "truth");
            one.driveSeen = textOf(entry, "drive_seen");
            one.coastSeen = textOf(entry, "coast_seen");
            one.correction = textOf(entry, "correction");
            one.placePoints = intOf(entry, "place_points", 0, kMostPoints);
            one.correctionPoints = intOf(entry, "correction_points", 0, kMostPoints);
            sheet.entries.push_back(std::move(one));
        }
        return sheet;
    } catch (const json::exception&) {
        throw InputError(file.string() + ": this is no score sheet of Shimsight.");
    } catch (const InputError& error) {
        throw InputError(file.string() + ": this is no score sheet of Shimsight: " + error.what() + ".");
    }
}

std::string sheetText(const ScoreSheet& sheet) {
    json answers = json::array();
    for (const ScoreEntry& entry : sheet.entries)
        answers.push_back({{"at", entry.at},
                           {"seed", entry.seed},
                           {"level", entry.level},
                           {"number", entry.number},
                           {"gear_set", entry.gearSet},
                           {"truth", entry.truth},
                           {"drive_seen", entry.driveSeen},
                           {"coast_seen", entry.coastSeen},
                           {"correction", entry.correction},
                           {"place_points", entry.placePoints},
                           {"correction_points", entry.correctionPoints}});
    const json document = {{"schema", kSchema}, {"name", sheet.name}, {"answers", answers}};
    return document.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

/// A field for spreadsheets. One that a spreadsheet would take for a formula gets a quote in front.
std::string csvField(std::string text) {
    if (!text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string_view::npos) text.insert(0, "'");
    if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
    std::string quoted = "\"";
    for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
    return quoted + "\"";
}

}  // namespace

std::filesystem::path scoreSheetFile(const std::filesystem::path& folder, std::string_view name) {
    checkName(name);
    return folder / (fileStem(name) + std::string(kEnding));
}

ScoreSheet readScoreSheet(const std::filesystem::path& folder, std::string_view name) {
    const std::filesystem::path file = scoreSheetFile(folder, name);
    std::error_code error;
    if (!std::filesystem::exists(file, error)) return {std::string(name), {}};
    ScoreSheet sheet = parseSheet(file);
    if (sheet.name != name) throw InputError(file.string() + ": this is the score sheet of somebody else.");
    return sheet;
}

void addScore(const std::filesystem::path& folder, std::string_view name, const ScoreEntry& entry) {
    const std::filesystem::path file = scoreSheetFile(folder, name);
    std::error_code error;
    std::filesystem::create_directories(folder, error);
    if (error) throw InputError(folder.string() + ": the folder cannot be made (" + error.message() + ").");
    const FileLock lock(folder / ".scores.lock", kPatienceMs);
    ScoreSheet sheet = readScoreSheet(folder, name);
    sheet.entries.push_back(entry);
    const std::string text = sheetText(sheet);
    writeFileAtomically(file, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

std::vector<ScoreSheet> scoreSheets(const std::filesystem::path& folder) {
    std::error_code error;
    std::vector<ScoreSheet> sheets;
    std::filesystem::directory_iterator files(folder, error);
    if (error) throw InputError(folder.string() + ": the folder cannot be read (" + error.message() + ").");
    for (const auto& entry : files)
        if (entry.path().filename().string().ends_with(kEnding)) sheets.push_back(parseSheet(entry.path()));
    std::sort(sheets.begin(), sheets.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    return sheets;
}

std::string scoresCsv(std::span<const ScoreSheet> sheets) {
    std::string csv =
        "name,at,seed,level,number,gear_set,truth,drive_seen,coast_seen,correction,place_points,correction_points,"
        "points,of\n";
    for (const ScoreSheet& sheet : sheets) {
        for (const ScoreEntry& entry : sheet.entries) {
            for (const std::string& field :
                 {sheet.name, entry.at, std::to_string(entry.seed), std::to_string(entry.level),
                  std::to_string(entry.number), entry.gearSet, entry.truth, entry.driveSeen, entry.coastSeen,
                  entry.correction, std::to_string(entry.placePoints), std::to_string(entry.correctionPoints),
                  std::to_string(entry.placePoints + entry.correctionPoints)})
                csv += csvField(field) + ",";
            csv += std::to_string(kMostPoints) + "\n";
        }
    }
    return csv;
}

}  // namespace shimsight
