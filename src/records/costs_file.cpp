// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "records_json.h"
#include "shimsight/files.h"
#include "shimsight/records.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kCostsSchema = "shimsight/costs/1";
/// Hours of one piece of work: no more than a month of shifts; a correction takes a moment at least.
constexpr double kMaxHours = 200, kMinTrialHours = 0.01;

}  // namespace

Costs parseCostsFile(std::string_view text, std::string_view fileName) {
    const std::string name(fileName);
    std::vector<std::string> warnings;
    const json document = parseJsonObject(text, name);
    ObjectReader reader(document, name, "", warnings);
    reader.expectSchema(kCostsSchema);
    reader.text("name");
    Costs costs;
    costs.trialHours = reader.number("trial_hours", {kMinTrialHours, kMaxHours}).value_or(costs.trialHours);
    const auto take = [&](const char* key, double& hours) {
        hours = reader.number(key, {0, kMaxHours}).value_or(hours);
    };
    take("pinion_shim_hours", costs.pinionShimHours);
    take("ring_gear_hours", costs.ringGearHours);
    take("comeback_hours", costs.comebackHours);
    take("read_again_hours", costs.readAgainHours);
    take("confirm_hours", costs.confirmHours);
    reader.finish();
    // Hours in a misspelled field would be lost without a word.
    if (!warnings.empty()) throw InputError(message("records.correct-name", warnings.front()));
    return costs;
}

Costs readCostsFile(const std::filesystem::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxRecordBytes);
    return parseCostsFile(std::string(bytes.begin(), bytes.end()), file.string());
}

}  // namespace shimsight
