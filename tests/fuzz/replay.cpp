// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Runs the targets over files: `replay CORPUS` takes each file of CORPUS/TARGET/, with what becomes of it when it is
// cut short or a byte is changed.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "fuzz/targets.h"

namespace {

namespace fs = std::filesystem;
using shimsight::fuzz::Target;

std::vector<std::uint8_t> bytesOf(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

/// The file itself, cut at eight places, and with eight bytes changed.
int tried(const Target& target, const std::vector<std::uint8_t>& bytes) {
    target.run(bytes);
    int runs = 1;
    for (std::size_t k = 1; k <= 8; ++k) {
        const std::size_t at = bytes.size() * k / 9;
        target.run({bytes.data(), at});
        if (at >= bytes.size()) continue;
        std::vector<std::uint8_t> changed = bytes;
        changed[at] = static_cast<std::uint8_t>(changed[at] + 1 + 40 * k);
        target.run(changed);
        runs += 2;
    }
    return runs;
}

}  // namespace

int main(int count, char** words) {
    if (count != 2) {
        std::fprintf(stderr, "usage: replay CORPUS\n");
        return 2;
    }
    for (const Target& target : shimsight::fuzz::targets()) {
        std::vector<fs::path> files;
        for (const auto& entry : fs::directory_iterator(fs::path(words[1]) / target.name))
            files.push_back(entry.path());
        std::sort(files.begin(), files.end());
        int runs = 0;
        for (const fs::path& file : files) {
            std::printf("%s\n", file.c_str());
            std::fflush(stdout);
            runs += tried(target, bytesOf(file));
        }
        if (files.empty()) {
            std::fprintf(stderr, "%.*s: its corpus is empty\n", static_cast<int>(target.name.size()),
                         target.name.data());
            return 1;
        }
        std::printf("%.*s: %zu files, %d runs\n", static_cast<int>(target.name.size()), target.name.data(),
                    files.size(), runs);
    }
    return 0;
}
