// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Options of one command: declared, parsed and explained in one place. The only file that sees the option library is
/// args.cpp.
#pragma once

#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "shimsight/core.h"

namespace shimsight::cli {

/// Wrong use of the command line. what() is one plain sentence.
class UsageError : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};
/// The same of a part of a command, "lesson drill".
class PartUsageError : public UsageError {
public:
    PartUsageError(const std::string& sentence, std::string partName)
        : UsageError(sentence), part(std::move(partName)) {}
    std::string part;
};

/// A set-up error that can be predicted and drawn, mm; 0 without one. Throws UsageError beyond 2 mm either way: the
/// model of the contact holds for small errors, and nobody is farther off with gears that can be turned.
double errorMm(const std::optional<Length>& length, const char* option);

/// Usage:
///     std::string gearSet; std::optional<Length> depth; bool json = false;
///     Args args("predict", "The pattern that a set-up error makes.");
///     args.requiredFile("--gear-set", gearSet, "the gear-set file");
///     args.length("--depth", depth, "pinion deeper by this much");
///     args.flag("--json", json, "write JSON");
///     if (!args.parse(words)) return kDone;   // --help was asked for and printed
/// The variables must outlive parse(). Every function throws UsageError from parse() when the value cannot be used.
class Args {
public:
    Args(std::string_view command, std::string_view description);
    ~Args();
    Args(const Args&) = delete;
    Args& operator=(const Args&) = delete;

    void flag(const std::string& name, bool& into, const std::string& help);
    /// "--depth 0.004in", "--depth=-0.10mm": see parseLength.
    void length(const std::string& name, std::optional<Length>& into, const std::string& help);
    /// A finite number in [low, high]; `unit` is shown in the help.
    void number(const std::string& name, std::optional<double>& into, const std::string& unit, double low, double high,
                const std::string& help);
    void integer(const std::string& name, std::optional<int>& into, int low, int high, const std::string& help);
    void choice(const std::string& name, std::optional<std::string>& into, const std::vector<std::string>& choices,
                const std::string& help);
    void text(const std::string& name, std::optional<std::string>& into, const std::string& valueName,
              const std::string& help);
    void requiredText(const std::string& name, std::string& into, const std::string& valueName,
                      const std::string& help);
    /// May be given more than once, one value each time.
    void texts(const std::string& name, std::vector<std::string>& into, const std::string& valueName,
               const std::string& help);
    /// "--tls CERT KEY": two values that belong together; empty: not given.
    void noneOrTwoTexts(const std::string& name, std::optional<std::vector<std::string>>& into,
                        const std::string& valueNames, const std::string& help);
    /// The words that belong to no option, at least `least` of them.
    void words(const std::string& valueName, std::vector<std::string>& into, std::size_t least,
               const std::string& help);
    /// An option's name of former versions, understood and not shown.
    void formerly(const std::string& was, const std::string& is);
    /// Further lines at the end of the help text.
    void footer(const std::string& text);

    /// Every command takes --units; see showUnits in output.h.
    /// False when --help was given; the help is then printed. Throws UsageError.
    bool parse(const std::vector<std::string>& words);

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace shimsight::cli
