// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// `shimsight lesson ...`: the parts that ask and answer. All take the words after the part's name.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/training.h"

namespace shimsight::cli {

int runLessonDrill(const std::vector<std::string>& words);
int runLessonScores(const std::vector<std::string>& words);
int runLessonGame(const std::vector<std::string>& words);

/// Asks on the standard output and reads a line of the standard input; an answer that comes from a file is shown.
/// nullopt: there is no further input.
std::optional<std::string> ask(const std::string& question);

/// Asks until `read` takes the answer; what it throws as InputError is shown.
template <typename Read>
auto askUntil(const std::string& question, Read read) -> std::optional<decltype(read(std::string()))>;

/// Both sides drawn with characters, one line of words below.
std::string marksText(const BenchMarks& marks);

/// The seed that was given, or one from the system.
std::uint64_t seedOf(const std::optional<int>& given);

/// What is said at the end of every drill and game.
std::string benchCaution();

void tell(const std::string& text);  ///< to the standard output, at once

template <typename Read>
auto askUntil(const std::string& question, Read read) -> std::optional<decltype(read(std::string()))> {
    while (const std::optional<std::string> line = ask(question)) {
        try {
            return read(*line);
        } catch (const InputError& error) {
            tell(std::string(error.what()) + "\n");
        }
    }
    return std::nullopt;
}

}  // namespace shimsight::cli
