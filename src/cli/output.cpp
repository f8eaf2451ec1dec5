// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/output.h"

#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstdio>
#include <system_error>
#include <utility>

#include "cli/report.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/photo.h"
#include "shimsight/units.h"
#include "shimsight/words.h"

namespace shimsight::cli {

namespace fs = std::filesystem;

namespace {

/// A worn heavy axle has 1 mm of backlash; the thickest shim stacks are a few millimetres.
constexpr double kMaxAmountMm = 20;

}  // namespace

void FolderOutput::add(const std::string& name, std::vector<std::uint8_t> bytes) {
    files_.push_back({name, std::move(bytes)});
}

void FolderOutput::addMap(const std::string& name, const FlankMap& map) {
    add(name, encodePngGrey(kMapWidth, kMapHeight, map.contact));
}

void FolderOutput::write() const {
    if (files_.empty()) return;
    std::error_code error;
    const bool existed = fs::exists(folder_, error);
    if (existed && !fs::is_directory(folder_, error)) throw InputError(message("cli.no-folder", folder_.string()));
    fs::create_directories(folder_, error);
    if (error) throw InputError(message("cli.folder-not-made", folder_.string(), error.message()));
    std::vector<fs::path> written;
    try {
        for (const File& file : files_) {
            const fs::path path = folder_ / file.name;
            const bool replaces = fs::exists(path, error);
            writeOutput(path, file.bytes);
            if (!replaces) written.push_back(path);
        }
    } catch (const InputError&) {
        for (const fs::path& path : written) fs::remove(path, error);
        if (!existed) fs::remove(folder_, error);
        throw;
    }
}

GearSetFile openGearSet(const std::string& file) {
    GearSetFile gearSet = readGearSetFile(file);
    for (const std::string& warning : gearSet.warnings) note(warning);
    return gearSet;
}

ToothContact contactOf(const GearSet& gearSet, const std::string& file) {
    try {
        return ToothContact(gearSet);
    } catch (const InputError& error) {
        throw InputError(error.sentence(), file);
    }
}

void addDialOption(Args& args, std::optional<std::string>& into) {
    args.choice("--dial", into, {"square-to-tooth", "square-at-heel", "outer-circumference"},
                "where the dial of --backlash stood: square to the tooth at mid-face, square to the tooth at the "
                "heel, which reads more, or along the circle at the heel, which reads most (else where the gear-set "
                "file has it, or mid-face)");
}

DialReading dialOf(const std::optional<std::string>& word, const std::optional<DialReading>& sheets) {
    for (const DialReading dial :
         {DialReading::SquareToTooth, DialReading::SquareAtHeel, DialReading::OuterCircumference})
        if (word && *word == name(dial)) return dial;
    return sheets.value_or(DialReading::SquareToTooth);
}

std::optional<double> amountMm(const std::optional<Length>& length, const std::string& option) {
    if (!length) return std::nullopt;
    if (length->mm() < 0) throw UsageError(say("cli.amount-negative", option, formatLength(*length)));
    if (length->mm() > kMaxAmountMm)
        throw UsageError(
            say("cli.amount-too-large", option, formatLength(*length), formatLength(Length::fromMm(kMaxAmountMm))));
    return length->mm();
}

Progress::Progress() : onTerminal_(isatty(STDERR_FILENO) == 1) {}

Progress::~Progress() { wipe(); }

void Progress::show(const std::string& text) {
    if (!onTerminal_) return;
    // A line longer than a narrow terminal would wrap and could not be rewritten.
    constexpr std::size_t kMaxShown = 78;
    std::fprintf(stderr, "\r\033[K%s", text.substr(0, kMaxShown).c_str());
    std::fflush(stderr);
    shown_ = true;
}

void Progress::wipe() {
    if (!shown_) return;
    std::fputs("\r\033[K", stderr);
    std::fflush(stderr);
    shown_ = false;
}

namespace {

std::optional<Units> wishedUnits;  ///< by the option; else the settings'
int outputError = 0;               ///< errno of the first write that failed

/// Whether a terminal would act on this letter instead of showing it: control characters other than tab and new line,
/// and those that turn the direction of writing (Unicode 15, Bidi_Control).
bool actsOnTerminal(unsigned letter) {
    return (letter < 0x20 && letter != '\n' && letter != '\t') || (letter >= 0x7F && letter < 0xA0) ||
           letter == 0x61C || letter == 0x200E || letter == 0x200F || (letter >= 0x202A && letter <= 0x202E) ||
           (letter >= 0x2066 && letter <= 0x2069);
}

/// The letter of UTF-8 at `at` and its bytes; a broken one counts as one byte that is shown.
std::pair<unsigned, std::size_t> letterAt(const std::string& text, std::size_t at) {
    const auto byte = [&](std::size_t i) {
        return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0U;
    };
    const unsigned first = byte(0);
    const std::size_t length = first < 0x80 ? 1 : first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : first >= 0xC0 ? 2 : 1;
    unsigned letter = length == 1 ? first : first & (0x7FU >> length);
    for (std::size_t i = 1; i < length; ++i) {
        if ((byte(i) & 0xC0U) != 0x80U) return {0xFFFD, 1};
        letter = (letter << 6U) | (byte(i) & 0x3FU);
    }
    return {first >= 0x80 && length == 1 ? 0xFFFD : letter, length};
}

}  // namespace

void printRaw(const std::string& text) {
    if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() && outputError == 0) outputError = errno;
}

const Settings& settings() {
    static const Settings read = readSettings();
    return read;
}

std::string dialText(double mm) {
    constexpr double kHalfThou = 0.5;
    const double thou = kHalfThou * std::round(Length::fromMm(mm).thou() / kHalfThou);
    return formatLength(Length::fromThou(mm > 0 ? std::max(thou, kHalfThou) : thou));
}

void showUnits(Units units) { wishedUnits = units; }

Units shownUnits() { return wishedUnits ? *wishedUnits : settings().units; }

void printText(const std::string& words) {
    const bool isJson = words.starts_with('{') || words.starts_with('[');
    const std::string text = isJson ? words : inUnits(words, shownUnits());
    std::string shown;
    shown.reserve(text.size());
    for (std::size_t at = 0; at < text.size();) {
        const auto [letter, length] = letterAt(text, at);
        if (actsOnTerminal(letter))
            shown += formatted("\\u%04x", letter);
        else
            shown.append(text, at, length);
        at += length;
    }
    printRaw(shown);
}

void flushOutput() {
    if (std::fflush(stdout) != 0 && outputError == 0) outputError = errno;
    if (outputError != 0) throw OutputLost();
}

bool finishOutput() {
    if (std::fflush(stdout) != 0 && outputError == 0) outputError = errno;
    if (std::ferror(stdout) != 0 && outputError == 0) outputError = EIO;
    if (outputError == 0) return true;
    note(say("cli.output-lost", std::generic_category().message(outputError)));
    return false;
}

void checkOutput(const fs::path& path) {
    std::error_code ignored;
    const fs::file_status there = fs::status(path, ignored);
    if (fs::exists(there) && !fs::is_regular_file(there)) throw InputError(message("cli.no-plain-file", path.string()));
    const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
    const std::string name = path.filename().string();
    const bool ofRecord = name == kJobFile || name == kPreviousJobFile || name == "job.lock";
    if (isJobFolder(folder) && ofRecord) throw InputError(message("cli.record-of-a-job", path.string()));
    if (fs::canonical(folder, ignored).filename() == kJobPhotoFolder &&
        isJobFolder(fs::canonical(folder, ignored).parent_path()))
        throw InputError(message("cli.photos-of-a-job", path.string()));
}

void writeOutput(const fs::path& path, std::span<const std::uint8_t> bytes) {
    checkOutput(path);
    writeFileAtomically(path, bytes);
}

void note(const std::string& sentence) {
    std::string told = sentence;
    try {
        told = inUnits(sentence, shownUnits());
    } catch (const InputError&) {
        // The shop's settings cannot be read, which this may be about.
    }
    std::fprintf(stderr, "shimsight: %s\n", told.c_str());
}

}  // namespace shimsight::cli
