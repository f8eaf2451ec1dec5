// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Other programs, run to their end within a time limit. Module `core`.
#pragma once

#include <chrono>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace shimsight {

struct ProcessOptions {
    std::chrono::milliseconds timeLimit{};  ///< from its start to its end
    std::string input{};                    ///< what it finds on its standard input
    /// Of its standard output; with more it is ended. 0: nobody reads it, it goes to /dev/null.
    std::size_t maxOutputBytes = 0;
    bool errorsShown = false;  ///< it writes its errors where this program does; else to /dev/null
    /// In a process group of its own: what it started is ended with it, and the terminal's interrupt does not reach it.
    bool ownGroup = false;
};

enum class ProcessEnd {
    Exited,         ///< by itself
    TimeOver,       ///< it was ended
    TooMuchOutput,  ///< it was ended
};

struct ProcessResult {
    ProcessEnd end = ProcessEnd::Exited;
    /// When it exited by itself: what it returned, or 128 and the number of the signal that it died of.
    int status = 0;
    std::string output;
};

/// Runs `program` (a path; PATH is not searched) with the arguments behind its name and waits for its end: none is left
/// behind when this returns or throws. A program that ends without having read its input is no fault. Throws
/// std::system_error when it cannot be started.
ProcessResult runProcess(const std::filesystem::path& program, const std::vector<std::string>& arguments,
                         const ProcessOptions& options);

}  // namespace shimsight
