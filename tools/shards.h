// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Raw shards for tools/train: the options, the files and the threads of the programs that make them.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <string>

#include "shimsight/gear_set.h"
#include "shimsight/render.h"

namespace shimsight::tools {

/// "FOLDER --name value ...": all values are numbers.
class Options {
public:
    Options(int argc, char** argv);
    bool usable() const { return !folder_.empty(); }
    const std::string& folder() const { return folder_; }
    double number(const std::string& name, double standard) const;

private:
    std::string folder_;
    std::map<std::string, std::string> values_;
};

/// Whether surfaces of this set reach everywhere; throws InputError where they do not.
using SetCheck = std::function<void(const RingFlank& drive, const RingFlank& coast)>;
/// Tries draws until one gives a gear set whose flanks pass the check. `draw` gives false for one not to be tried.
GearSet drawnGearSet(const std::function<bool(GearSetData&)>& draw, const SetCheck& passes);

/// A byte for u or v, which reach a little over both ends of 0..1: (value + beyond) / (1 + 2 beyond) x 255.
std::uint8_t coordByte(float value, float beyond);

/// Records of one seed, byte after byte.
using RecordOf = std::function<std::string(std::uint64_t seed)>;

/// Writes FOLDER/shard-000000.raw and so on: the records of `count` seeds from --seed on, --shard of them in a file,
/// one file at a time on each of --threads threads. Each file is written whole or not at all. Gives the program's
/// status; faults are told on the standard error stream after `program`.
int writeShards(const Options& options, const char* program, int seedsInFile,
                const std::function<RecordOf(const Options&)>& prepare);

}  // namespace shimsight::tools
