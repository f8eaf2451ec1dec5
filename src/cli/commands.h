// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The command table: one function per command, each in its own file src/cli/<command>.cpp.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace shimsight::cli {

/// Exit statuses of every command.
inline constexpr int kDone = 0;      ///< done
inline constexpr int kCannot = 1;    ///< an ordinary "cannot", its reason on the standard error (or in the JSON)
inline constexpr int kWrongUse = 2;  ///< wrong use: unknown option, missing value, length without a unit
inline constexpr int kFault = 3;     ///< a fault in the program itself

/// A command takes the words after its name and returns the exit status. It may throw UsageError (args.h) and
/// shimsight::InputError; runProgram turns them into one sentence and a status.
struct Command {
    std::string_view name;
    std::string_view summary;
    int (*run)(const std::vector<std::string>& words);
};

/// Runs a part of the command `of`, whose words begin with its name; wrong use names the help of that part.
int runPart(const char* of, const Command& part, const std::vector<std::string>& words);

int runRead(const std::vector<std::string>& words);
int runAdvise(const std::vector<std::string>& words);
int runStartShim(const std::vector<std::string>& words);
int runPreload(const std::vector<std::string>& words);
int runBuildSheet(const std::vector<std::string>& words);
int runReviewCommand(const std::vector<std::string>& words);
int runPredict(const std::vector<std::string>& words);
int runGearSet(const std::vector<std::string>& words);
int runJob(const std::vector<std::string>& words);
int runLesson(const std::vector<std::string>& words);
int runServe(const std::vector<std::string>& words);
int runRender(const std::vector<std::string>& words);

/// The whole program: picks the command and catches what it throws. `words` without the program's own name.
int runProgram(const std::vector<std::string>& words);

}  // namespace shimsight::cli
