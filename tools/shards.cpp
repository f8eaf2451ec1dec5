// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shards.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "render/tracer.h"
#include "shimsight/blank.h"
#include "shimsight/core.h"
#include "shimsight/flank_surface.h"
#include "shimsight/words.h"

namespace shimsight::tools {
namespace {

struct Shards {
    std::filesystem::path folder;
    std::uint64_t firstSeed = 1;
    int count = 64, inFile = 16;
};

void writeShard(const Shards& shards, int shard, const RecordOf& recordOf) {
    const int first = shard * shards.inFile, last = std::min(first + shards.inFile, shards.count);
    const std::filesystem::path file = shards.folder / formatted("shard-%06d.raw", shard),
                                part = file.string() + ".part";
    {
        std::ofstream out(part, std::ios::binary);
        for (int k = first; k < last; ++k) {
            const std::string bytes = recordOf(shards.firstSeed + static_cast<std::uint64_t>(k));
            out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        }
        if (!out) throw InputError(part.string() + ": cannot be written");
    }
    std::filesystem::rename(part, file);
}

}  // namespace

Options::Options(int argc, char** argv) {
    if (argc < 2 || argc % 2 != 0) return;
    folder_ = argv[1];
    for (int i = 2; i + 1 < argc; i += 2) values_[argv[i]] = argv[i + 1];
}

double Options::number(const std::string& name, double standard) const {
    const auto found = values_.find(name);
    return found == values_.end() ? standard : std::stod(found->second);
}

GearSet drawnGearSet(const std::function<bool(GearSetData&)>& draw, const SetCheck& passes) {
    for (int attempt = 0; attempt < 50; ++attempt) {
        GearSetData data;
        data.name = "drawn";
        if (!draw(data)) continue;
        try {
            GearSet set = completeGearSet(data);
            const Blank blank = designBlank(set);
            passes(RingFlank(set, blank, Side::Drive), RingFlank(set, blank, Side::Coast));
            return set;
        } catch (const InputError&) {
            // No teeth close on these blanks: the next draw.
        }
    }
    throw InputError("no gear set found");
}

std::uint8_t coordByte(float value, float beyond) {
    return static_cast<std::uint8_t>(std::lround(std::clamp((value + beyond) / (1 + 2 * beyond), 0.0f, 1.0f) * 255));
}

int writeShards(const Options& options, const char* program, int seedsInFile,
                const std::function<RecordOf(const Options&)>& prepare) {
    try {
        Shards shards;
        shards.folder = options.folder();
        shards.firstSeed = static_cast<std::uint64_t>(options.number("--seed", 1));
        shards.count = static_cast<int>(options.number("--count", 64));
        shards.inFile = static_cast<int>(options.number("--shard", seedsInFile));
        const int threads = render::threadCount(static_cast<int>(options.number("--threads", 0)));
        const RecordOf recordOf = prepare(options);
        std::filesystem::create_directories(shards.folder);
        render::parallelFor((shards.count + shards.inFile - 1) / shards.inFile, threads,
                            [&](int shard) { writeShard(shards, shard, recordOf); });
    } catch (const std::exception& problem) {
        std::cerr << program << ": " << problem.what() << "\n";
        return 1;
    }
    return 0;
}

}  // namespace shimsight::tools
