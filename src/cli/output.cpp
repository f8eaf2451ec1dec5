#include "cli/output.h"

#include <unistd.h>

#include <cstdio>
#include <system_error>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"

namespace shimsight::cli {

namespace fs = std::filesystem;

namespace {

/// A worn heavy axle has 1 mm of backlash; the thickest shim stacks are a few millimetres.
constexpr double kLargestAmountMm = 20;

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
    if (existed && !fs::is_directory(folder_, error))
        throw InputError(folder_.string() + ": this is a file; name a folder to write into.");
    fs::create_directories(folder_, error);
    if (error) throw InputError(folder_.string() + ": the folder cannot be made (" + error.message() + ").");
    std::vector<fs::path> written;
    try {
        for (const File& file : files_) {
            const fs::path path = folder_ / file.name;
            const bool replaces = fs::exists(path, error);
            writeFileAtomically(path, file.bytes);
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
        throw InputError(file + ": " + error.what());
    }
}

void addDialOption(Args& args, std::optional<std::string>& into) {
    args.choice(
        "--dial", into, {"square-to-tooth", "outer-circumference"},
        "where the dial of --backlash stood: square to the tooth at mid-face (else taken), or along the circle at the "
        "heel");
}

DialReading dialOf(const std::optional<std::string>& word) {
    return word && *word == "outer-circumference" ? DialReading::OuterCircumference : DialReading::SquareToTooth;
}

std::optional<double> amountMm(const std::optional<Length>& length, const std::string& option) {
    if (!length) return std::nullopt;
    if (length->mm() < 0)
        throw UsageError(option + ": " + formatLength(*length) + " is negative; it must be 0 or more.");
    if (length->mm() > kLargestAmountMm)
        throw UsageError(option + ": " + formatLength(*length) + " is more than any axle has, at most " +
                         formatLength(Length::fromMm(kLargestAmountMm)) + ".");
    return length->mm();
}

Progress::Progress() : onTerminal_(isatty(STDERR_FILENO) == 1) {}

Progress::~Progress() { wipe(); }

void Progress::show(const std::string& text) {
    if (!onTerminal_) return;
    // A line longer than a narrow terminal would wrap and could not be rewritten.
    constexpr std::size_t kLongest = 78;
    std::fprintf(stderr, "\r\033[K%s", text.substr(0, kLongest).c_str());
    std::fflush(stderr);
    shown_ = true;
}

void Progress::wipe() {
    if (!shown_) return;
    std::fputs("\r\033[K", stderr);
    std::fflush(stderr);
    shown_ = false;
}

void printText(const std::string& text) { std::fwrite(text.data(), 1, text.size(), stdout); }

void note(const std::string& sentence) { std::fprintf(stderr, "shimsight: %s\n", sentence.c_str()); }

}  // namespace shimsight::cli
