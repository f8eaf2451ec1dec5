// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What is fed to every reader of bytes from outside. A target takes any bytes; a file that is refused (InputError) is
/// its ordinary answer, a broken promise ends the program. The same targets run under libFuzzer (driver.cpp) and over
/// the kept corpus in every test run (replay.cpp).
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <span>
#include <string_view>
#include <vector>

namespace shimsight::fuzz {

using Bytes = std::span<const std::uint8_t>;
using Run = void (*)(Bytes);

struct Target {
    std::string_view name;
    Run run;
};

/// All targets, in the order of their names.
const std::vector<Target>& targets();
/// nullptr: there is none by this name.
const Target* targetByName(std::string_view name);

void photo(Bytes bytes);
void exif(Bytes bytes);
void outline(Bytes bytes);
void gearSet(Bytes bytes);
void history(Bytes bytes);
void costs(Bytes bytes);
void measurement(Bytes bytes);
void job(Bytes bytes);
void length(Bytes bytes);
void lesson(Bytes bytes);
void service(Bytes bytes);
void uploads(Bytes bytes);

/// A promise that the program gives for any input.
inline void promise(bool holds, const char* what) {
    if (holds) return;
    std::fprintf(stderr, "broken promise: %s\n", what);
    std::abort();
}

inline std::string_view textOf(Bytes bytes) { return {reinterpret_cast<const char*>(bytes.data()), bytes.size()}; }

}  // namespace shimsight::fuzz
