// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What commands share: files to write together, gear sets with their warnings.
#pragma once

#include <cstdint>
#include <exception>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "cli/args.h"
#include "shimsight/flank_map.h"
#include "shimsight/measure.h"
#include "shimsight/records.h"
#include "shimsight/settings.h"

namespace shimsight::cli {

/// Files for one folder, collected first and written at the end, so that a failure before that leaves nothing behind.
class FolderOutput {
public:
    explicit FolderOutput(std::filesystem::path folder) : folder_(std::move(folder)) {}
    void add(const std::string& name, std::vector<std::uint8_t> bytes);
    void addMap(const std::string& name, const FlankMap& map);  ///< as an 8-bit grey PNG
    /// Makes the folder when it is missing and writes every file, each whole. Throws InputError; what had been written
    /// until then is taken away again, unless it replaced an older file.
    void write() const;

private:
    struct File {
        std::string name;
        std::vector<std::uint8_t> bytes;
    };
    std::filesystem::path folder_;
    std::vector<File> files_;
};

/// A gear-set file, checked; its warnings go to the standard error.
GearSetFile openGearSet(const std::string& file);

/// ToothContact of the set; the sentence of InputError begins with the file's name.
ToothContact contactOf(const GearSet& gearSet, const std::string& file);

/// --dial: where the dial of --backlash stood.
void addDialOption(Args& args, std::optional<std::string>& into);
/// `sheets`: where the gear-set file has the dial, taken when the word is not given.
DialReading dialOf(const std::optional<std::string>& word, const std::optional<DialReading>& sheets);

/// The length of an option that is an amount, mm; UsageError when it is negative or longer than any such amount.
std::optional<double> amountMm(const std::optional<Length>& length, const std::string& option);

/// What goes on, on one line of the standard error that is rewritten; nothing where that is no terminal. The line is
/// wiped at the end.
class Progress {
public:
    Progress();
    ~Progress();
    Progress(const Progress&) = delete;
    Progress& operator=(const Progress&) = delete;
    void show(const std::string& text);
    void wipe();

private:
    bool onTerminal_;
    bool shown_ = false;
};

/// The shop's settings, read once.
const Settings& settings();
/// In which units printText tells lengths and torques; else as the settings have it. JSON stays as it is.
void showUnits(Units units);
Units shownUnits();
/// A backlash as a dial shows it, to half a thousandth of an inch; play is never shown as none.
std::string dialText(double mm);

/// To the standard output, in the units that are wished. What would move a terminal's cursor or turn the direction of
/// writing is written as JSON writes it, "\\u001b": in plain text it is seen, in JSON it stays what it was.
void printText(const std::string& text);
void printRaw(const std::string& text);  ///< our own text with its colours
/// The standard output takes no more; finishOutput says why.
class OutputLost : public std::exception {};
void flushOutput();  ///< throws OutputLost
/// Whether all that was printed has been taken; says why not otherwise.
bool finishOutput();
/// Writes a file that the user named. Throws InputError, beginning with the name, also for the record of a job and for
/// what is no plain file.
void writeOutput(const std::filesystem::path& path, std::span<const std::uint8_t> bytes);
/// The refusals of writeOutput alone, before long work.
void checkOutput(const std::filesystem::path& path);
void note(const std::string& sentence);  ///< "shimsight: SENTENCE" to the standard error

}  // namespace shimsight::cli
