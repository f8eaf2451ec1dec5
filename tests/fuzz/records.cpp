// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Every JSON file that is read. What was read and written reads the same again.
#include "shimsight/records.h"

#include "fuzz/targets.h"
#include "shimsight/core.h"
#include "shimsight/job.h"

namespace shimsight::fuzz {
namespace {

constexpr std::string_view kName = "file.json";

/// Reads, writes, and reads that again: the second writing is the first.
template <typename Parse, typename Write>
void roundTrip(Bytes bytes, Parse&& parse, Write&& write) {
    std::string once;
    try {
        once = write(parse(textOf(bytes)));
    } catch (const InputError&) {
        return;
    }
    std::string twice;
    try {
        twice = write(parse(once));
    } catch (const InputError& error) {
        std::fprintf(stderr, "%s\n", error.what());
        promise(false, "what was written can be read");
    }
    promise(once == twice, "what was written is what was read");
}

}  // namespace

void outline(Bytes bytes) {
    roundTrip(
        bytes, [](std::string_view text) { return parseOutlineFile(text, kName); },
        [](const std::vector<PhotoOutline>& flanks) { return writeOutline(flanks); });
}

void gearSet(Bytes bytes) {
    roundTrip(
        bytes, [](std::string_view text) { return parseGearSet(text, kName); },
        [](const GearSetData& data) { return writeGearSet(data); });
    try {
        (void)completeGearSet(parseGearSet(textOf(bytes), kName));
    } catch (const InputError&) {
    }
}

void history(Bytes bytes) {
    roundTrip(
        bytes, [](std::string_view text) { return parseHistoryFile(text, kName); },
        [](const HistoryFile& file) { return writeHistory(file); });
}

void costs(Bytes bytes) {
    try {
        const Costs read = parseCostsFile(textOf(bytes), kName);
        promise(read.comebackHours >= 0, "hours are not negative");
    } catch (const InputError&) {
    }
}

void measurement(Bytes bytes) {
    roundTrip(
        bytes, [](std::string_view text) { return parseMeasurement(text, kName); },
        [](const MeasurementRecord& record) { return writeMeasurement(record); });
}

void job(Bytes bytes) {
    roundTrip(
        bytes, [](std::string_view text) { return parseJob(text, kName); },
        [](const JobRecord& record) { return writeJob(record); });
    try {
        const JobRecord record = parseJob(textOf(bytes), kName);
        (void)jobStatus(record);
    } catch (const InputError&) {
    }
}

void length(Bytes bytes) {
    try {
        const Length read = parseLength(textOf(bytes), "length");
        promise(std::isfinite(read.mm()), "a length is a number");
        promise(!formatLength(read).empty(), "a length can be told");
    } catch (const InputError&) {
    }
    try {
        promise(std::isfinite(parseBoltTorqueNm(textOf(bytes), "torque")), "a torque is a number");
    } catch (const InputError&) {
    }
}

}  // namespace shimsight::fuzz
