// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What commands share that take the photos of a trial, its outlines or flank maps drawn by hand.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cli/args.h"
#include "shimsight/flank_map.h"
#include "shimsight/measure.h"

namespace shimsight::cli {

/// The outlined flanks of each photo, from outline files. `side`: that of flanks whose side a file does not say.
std::vector<std::vector<FlankOutline>> outlinesOf(const std::vector<std::string>& photos,
                                                  const std::vector<std::string>& outlineFiles,
                                                  std::optional<Side> side);

/// The name of a file without its folders.
std::string baseName(const std::string& file);

/// What was read on a photo and what was not, one sentence or a few.
std::string photoLine(const MeasuredPhoto& photo);

/// A flank map that a person drew. Throws InputError when it is none.
FlankMap readFlankMap(const std::string& file);

/// The pattern on such a map. Throws InputError when there is none.
Pattern patternOfMap(const std::string& file);

/// What was looked into and the ring gear's runout, which an advice is worked out with.
struct KnownInput {
    std::vector<std::string> checked;
    std::optional<Length> runout;
    bool any() const { return !checked.empty() || runout; }
};
void addKnownOptions(Args& args, KnownInput& into);
/// Throws UsageError when a word or a length cannot be used. What is in `options` already stays.
void takeKnown(const KnownInput& input, AdviceOptions& options);

/// Adds what a look at `kind` closes, each once.
void close(std::vector<DiagnosisKind>& checked, DiagnosisKind kind);

}  // namespace shimsight::cli
