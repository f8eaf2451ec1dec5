// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/lesson.h"
#include "shimsight/text.h"
#include "shimsight/training.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kEnding = ".scores.json";
constexpr std::string_view kDamaged = ".scores.damaged-";  ///< and a number, ".json"
constexpr std::string_view kExamSchema = "shimsight/exam/1";
constexpr std::string_view kExamNamesSchema = "shimsight/exam-names/1";
constexpr std::string_view kLock = ".scores.lock";
constexpr std::int64_t kMaxBytes = 20'000'000;  ///< 400 bytes an answer
constexpr std::size_t kMaxName = 60;
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
    return stem + formatted("%08x", number);
}

void checkName(std::string_view name) {
    if (name.empty() || name.size() > kMaxName || name.front() == ' ' || name.back() == ' ' ||
        std::any_of(name.begin(), name.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; }))
        throw InputError(message("training.not-a-name", kMaxName));
}

std::string textOf(const json& object, const char* field) { return object.at(field).get<std::string>(); }

std::string textOrNull(const json& object, const char* field) {
    const auto found = object.find(field);
    return found == object.end() || found->is_null() ? std::string() : found->get<std::string>();
}

int intOf(const json& object, const char* field, int low, int high) {
    const auto value = object.at(field).get<std::int64_t>();
    if (value < low || value > high) throw InputError(message("training.field-out-of-range", field));
    return static_cast<int>(value);
}

ScoreEntry entryOf(const json& object) {
    ScoreEntry entry;
    entry.at = textOf(object, "at");
    entry.job = textOrNull(object, "job");
    entry.trial = textOrNull(object, "trial");
    entry.lesson = textOrNull(object, "lesson");
    const bool drawn = !object.at("level").is_null();
    entry.level = drawn ? intOf(object, "level", 1, kDrillLevels) : 0;
    if (drawn) entry.seed = object.at("seed").get<std::uint64_t>();
    entry.number = intOf(object, "number", 1, 1'000'000);
    entry.gearSet = textOf(object, "gear_set");
    entry.truth = textOf(object, "truth");
    entry.driveSeen = textOf(object, "drive_seen");
    entry.coastSeen = textOf(object, "coast_seen");
    entry.correction = textOf(object, "correction");
    entry.placePoints = intOf(object, "place_points", 0, kMaxPlacePoints);
    entry.correctionPoints = intOf(object, "correction_points", 0, kMaxPoints - kMaxPlacePoints);
    return entry;
}

ScoreSheet parseSheet(const std::filesystem::path& file) {
    std::error_code error;
    if (std::filesystem::file_size(file, error) == 0 && !error)
        throw DamagedSheet(say("training.sheet-empty", file.string()));
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxBytes);
    constexpr std::string_view kForm = "shimsight/score-sheet/";
    std::string schema;
    ScoreSheet sheet;
    try {
        const json document = json::parse(bytes.begin(), bytes.end());
        schema = textOf(document, "schema");
        if (schema == kScoreSheetSchema) {
            sheet.name = textOf(document, "name");
            for (const json& entry : document.at("answers")) sheet.entries.push_back(entryOf(entry));
            return sheet;
        }
    } catch (const json::exception&) {
        throw DamagedSheet(say("training.no-score-sheet", file.string()));
    } catch (const InputError& fault) {
        throw DamagedSheet(say("training.sheet-damaged", file.string(), fault.what()));
    }
    if (schema.starts_with(kForm)) throw InputError(message("training.sheet-newer", file.string(), kScoreSheetSchema));
    throw DamagedSheet(say("training.no-score-sheet", file.string()));
}

std::string sheetText(const ScoreSheet& sheet) {
    const auto orNull = [](const std::string& text) { return text.empty() ? json() : json(text); };
    json answers = json::array();
    for (const ScoreEntry& entry : sheet.entries)
        answers.push_back({{"at", entry.at},
                           {"seed", entry.level == 0 ? json() : json(entry.seed)},
                           {"level", entry.level == 0 ? json() : json(entry.level)},
                           {"number", entry.number},
                           {"job", orNull(entry.job)},
                           {"trial", orNull(entry.trial)},
                           {"gear_set", entry.gearSet},
                           {"truth", entry.truth},
                           {"drive_seen", entry.driveSeen},
                           {"coast_seen", entry.coastSeen},
                           {"correction", entry.correction},
                           {"place_points", entry.placePoints},
                           {"correction_points", entry.correctionPoints},
                           {"lesson", orNull(entry.lesson)}});
    const json document = {{"schema", kScoreSheetSchema}, {"name", sheet.name}, {"answers", answers}};
    return document.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
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
    if (sheet.name != name) throw InputError(message("training.sheet-of-somebody-else", file.string()));
    return sheet;
}

namespace {

/// Under the lock.
std::optional<std::string> setAside(const std::filesystem::path& folder, std::string_view name) {
    try {
        readScoreSheet(folder, name);
        return std::nullopt;
    } catch (const DamagedSheet& damage) {
        const std::filesystem::path file = scoreSheetFile(folder, name);
        const std::string stem = file.filename().string().substr(0, file.filename().string().size() - kEnding.size());
        std::error_code error;
        std::filesystem::path kept;
        for (int number = 1; kept.empty() || std::filesystem::exists(kept, error); ++number)
            kept = folder / (stem + std::string(kDamaged) + std::to_string(number) + ".json");
        std::filesystem::rename(file, kept, error);
        if (error) throw;
        return say("training.sheet-set-aside", damage.what(), kept.filename().string());
    }
}

void makeFolder(const std::filesystem::path& folder) {
    std::error_code error;
    std::filesystem::create_directories(folder, error);
    if (error) throw InputError(message("training.folder-not-made", folder.string(), error.message()));
}

/// The files of the folder, in their order.
std::vector<std::filesystem::path> filesOf(const std::filesystem::path& folder) {
    std::error_code error;
    std::vector<std::filesystem::path> paths;
    std::filesystem::directory_iterator files(folder, error);
    if (error) throw InputError(message("training.folder-not-read", folder.string(), error.message()));
    for (const auto& entry : files) paths.push_back(entry.path());
    std::sort(paths.begin(), paths.end());
    return paths;
}

}  // namespace

std::optional<std::string> setAsideDamagedSheet(const std::filesystem::path& folder, std::string_view name) {
    std::error_code error;
    if (!std::filesystem::exists(scoreSheetFile(folder, name), error)) return std::nullopt;
    try {
        readScoreSheet(folder, name);
        return std::nullopt;
    } catch (const DamagedSheet&) {
        const FileLock lock(folder / kLock, kPatienceMs);
        return setAside(folder, name);
    }
}

std::optional<std::string> addScore(const std::filesystem::path& folder, std::string_view name,
                                    const ScoreEntry& entry) {
    const std::filesystem::path file = scoreSheetFile(folder, name);
    makeFolder(folder);
    const FileLock lock(folder / kLock, kPatienceMs);
    std::optional<std::string> damage = setAside(folder, name);
    ScoreSheet sheet = readScoreSheet(folder, name);
    sheet.entries.push_back(entry);
    const std::string text = sheetText(sheet);
    writeFileAtomically(file, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
    return damage;
}

std::vector<std::string> examNames(std::string_view text, const std::string& file) {
    constexpr std::string_view kByteOrder = "\xEF\xBB\xBF";  // that some editors put before a text in UTF-8
    if (text.substr(0, kByteOrder.size()) == kByteOrder) text.remove_prefix(kByteOrder.size());
    std::vector<std::string> names;
    for (int number = 1; !text.empty(); ++number) {
        const std::size_t end = std::min(text.find('\n'), text.size());
        std::string name(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
        while (!name.empty() && std::string_view(" \t\r").find(name.back()) != std::string_view::npos) name.pop_back();
        name.erase(0, std::min(name.find_first_not_of(" \t"), name.size()));
        if (name.empty()) continue;
        try {
            checkName(name);
            if (std::find(names.begin(), names.end(), name) != names.end())
                throw InputError(message("training.exam-list-twice", name));
        } catch (const InputError& error) {
            throw InputError(message("training.exam-list-line", file, number, error.what()));
        }
        names.push_back(std::move(name));
    }
    if (names.empty()) throw InputError(message("training.exam-list-empty", file));
    return names;
}

std::uint64_t examSeed(const std::filesystem::path& folder, std::uint64_t number, std::uint64_t randomBits) {
    // Beyond every number of practice, and whole in every reader of JSON: 52 bits, the highest one set above them.
    constexpr std::uint64_t kFirst = 1ULL << 52;
    static_assert(kFirst > kMaxPracticeSeed);
    const std::filesystem::path file = folder / ("exam-" + std::to_string(number) + ".json");
    makeFolder(folder);
    const FileLock lock(folder / kLock, kPatienceMs);
    std::error_code error;
    if (!std::filesystem::exists(file, error)) {
        const std::uint64_t seed = kFirst | (randomBits & (kFirst - 1));
        const std::string text =
            json{{"schema", kExamSchema}, {"number", number}, {"seed", seed}}.dump(2, ' ', false) + "\n";
        writeFileAtomically(file, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()}, ownerFileCalls());
        return seed;
    }
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxBytes);
    const json document = json::parse(bytes.begin(), bytes.end(), nullptr, false);
    try {
        const auto seed = document.at("seed").get<std::uint64_t>();
        if (document.at("schema") == kExamSchema && seed >= kFirst) return seed;
    } catch (const json::exception&) {
        // Told as every other file that is none.
    }
    throw InputError(message("training.no-exam-file", file.string()));
}

namespace {

std::filesystem::path namesFile(const std::filesystem::path& folder, std::uint64_t number) {
    return folder / ("exam-" + std::to_string(number) + ".names.json");
}

/// Device by name; under the lock.
std::map<std::string, std::string, std::less<>> takenNames(const std::filesystem::path& file) {
    std::error_code error;
    if (!std::filesystem::exists(file, error)) return {};
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxBytes);
    const json document = json::parse(bytes.begin(), bytes.end(), nullptr, false);
    try {
        if (document.at("schema") == kExamNamesSchema)
            return document.at("names").get<std::map<std::string, std::string, std::less<>>>();
    } catch (const json::exception&) {
        // Told as every other file that is none.
    }
    throw InputError(message("training.no-exam-names-file", file.string()));
}

void writeTakenNames(const std::filesystem::path& file, const std::map<std::string, std::string, std::less<>>& names) {
    const std::string text = json{{"schema", kExamNamesSchema}, {"names", names}}.dump(2, ' ', false) + "\n";
    writeFileAtomically(file, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()}, ownerFileCalls());
}

}  // namespace

bool takeExamName(const std::filesystem::path& folder, std::uint64_t number, std::string_view name,
                  std::string_view device) {
    makeFolder(folder);
    const FileLock lock(folder / kLock, kPatienceMs);
    const std::filesystem::path file = namesFile(folder, number);
    auto names = takenNames(file);
    if (const auto taken = names.find(name); taken != names.end()) return taken->second == device;
    names.emplace(name, device);
    writeTakenNames(file, names);
    return true;
}

bool freeExamName(const std::filesystem::path& folder, std::uint64_t number, std::string_view name) {
    const std::filesystem::path file = namesFile(folder, number);
    std::error_code error;
    if (!std::filesystem::exists(file, error)) return false;
    const FileLock lock(folder / kLock, kPatienceMs);
    auto names = takenNames(file);
    const auto taken = names.find(name);
    if (taken == names.end()) return false;
    names.erase(taken);
    writeTakenNames(file, names);
    return true;
}

std::vector<ScoreSheet> scoreSheets(const std::filesystem::path& folder) {
    std::vector<ScoreSheet> sheets;
    for (const std::filesystem::path& file : filesOf(folder)) {
        if (!file.filename().string().ends_with(kEnding)) continue;
        try {
            sheets.push_back(parseSheet(file));
        } catch (const InputError&) {
            continue;  // scoreSheetFaults tells of it
        }
    }
    std::sort(sheets.begin(), sheets.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    return sheets;
}

std::vector<std::string> scoreSheetFaults(const std::filesystem::path& folder) {
    std::vector<std::string> faults;
    for (const std::filesystem::path& file : filesOf(folder)) {
        const std::string name = file.filename().string();
        if (name.find(kDamaged) != std::string::npos)
            faults.push_back(say("training.sheet-was-set-aside", file.string()));
        if (!name.ends_with(kEnding)) continue;
        try {
            parseSheet(file);
        } catch (const InputError& fault) {
            faults.emplace_back(fault.what());
        }
    }
    return faults;
}

std::string scoresCsv(std::span<const ScoreSheet> sheets) {
    std::string csv =
        "name,at,seed,level,number,job,trial,gear_set,truth,drive_seen,coast_seen,correction,place_points,correction_"
        "points,"
        "points,of\n";
    for (const ScoreSheet& sheet : sheets) {
        for (const ScoreEntry& entry : sheet.entries) {
            for (const std::string& field :
                 {sheet.name, entry.at, entry.level == 0 ? "" : std::to_string(entry.seed),
                  entry.level == 0 ? "" : std::to_string(entry.level), std::to_string(entry.number), entry.job,
                  entry.trial, entry.gearSet, entry.truth, entry.driveSeen, entry.coastSeen, entry.correction,
                  std::to_string(entry.placePoints), std::to_string(entry.correctionPoints),
                  std::to_string(entry.placePoints + entry.correctionPoints)})
                csv += csvField(field) + ",";
            csv += std::to_string(kMaxPoints) + "\n";
        }
    }
    return csv;
}

}  // namespace shimsight
