// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <cstdlib>

#include "records_json.h"
#include "shimsight/files.h"
#include "shimsight/records.h"
#include "shimsight/settings.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kSettingsSchema = "shimsight/settings/1";
constexpr std::array kUnitWords{std::pair<std::string_view, Units>{"in", Units::Inch},
                                std::pair<std::string_view, Units>{"mm", Units::Metric},
                                std::pair<std::string_view, Units>{"both", Units::Both}};

}  // namespace

Settings parseSettings(std::string_view text, std::string_view fileName) {
    const std::string name(fileName);
    std::vector<std::string> warnings;
    const json document = parseJsonObject(text, name);
    ObjectReader reader(document, name, "", warnings);
    reader.expectSchema(kSettingsSchema);
    Settings settings;
    settings.units = reader.choice("units", kUnitWords).value_or(settings.units);
    settings.by = reader.text("by").value_or("");
    settings.shop = reader.text("shop").value_or("");
    reader.finish();
    if (!warnings.empty()) throw InputError(message("records.correct-name", warnings.front()));
    return settings;
}

std::filesystem::path settingsPlace() {
    const auto folder = [](const char* variable) -> std::filesystem::path {
        const char* value = std::getenv(variable);  // NOLINT(concurrency-mt-unsafe)
        return value != nullptr && *value == '/' ? std::filesystem::path(value) : std::filesystem::path();
    };
    if (const auto config = folder("XDG_CONFIG_HOME"); !config.empty()) return config / "shimsight" / "settings.json";
    if (const auto home = folder("HOME"); !home.empty()) return home / ".config" / "shimsight" / "settings.json";
    return {};
}

Settings readSettings() {
    const std::filesystem::path place = settingsPlace();
    std::error_code error;
    if (place.empty() || !std::filesystem::exists(place, error)) return {};
    const std::vector<std::uint8_t> bytes = readFile(place, kMaxRecordBytes);
    return parseSettings({reinterpret_cast<const char*>(bytes.data()), bytes.size()}, place.string());
}

}  // namespace shimsight
