// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <unistd.h>

#include <cstdio>
#include <iostream>
#include <random>

#include "cli/lesson.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/words.h"

namespace shimsight::cli {

void tell(const std::string& text) {
    printText(text);
    std::fflush(stdout);
}

std::optional<std::string> ask(const std::string& question) {
    tell(question + " > ");
    std::string line;
    constexpr std::size_t kMaxLine = 500;
    if (!std::getline(std::cin, line)) {
        tell("\n");
        return std::nullopt;
    }
    if (line.size() > kMaxLine) line.resize(kMaxLine);
    if (!line.empty() && line.back() == '\r') line.pop_back();
    if (isatty(STDIN_FILENO) == 0) tell(line + "\n");
    return line;
}

std::string marksText(const BenchMarks& marks) {
    const std::array<CharacterFlank, 2> flanks{
        {{say("common.drive-side"), marks.map.data()}, {say("common.coast-side"), &marks.map[1]}}};
    return characterFlanks(flanks);
}

std::string benchCaution() { return "\n" + say("cli.at-a-real-axle", makersSheet()) + "\n"; }

std::uint64_t seedOf(const std::optional<int>& given) {
    if (given) return static_cast<std::uint64_t>(*given);
    constexpr unsigned kSeeds = 1'000'000;
    return std::random_device{}() % kSeeds;
}

}  // namespace shimsight::cli
