// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the job commands share: options, words, JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "cli/args.h"
#include "shimsight/job.h"

namespace shimsight::cli {

/// Options that every change of a job has.
struct ChangeOptions {
    std::optional<std::string> by, note, at;
    bool json = false;
};
void addChangeOptions(Args& args, ChangeOptions& into);

/// The stamp of a change; without --by it is who sets the job up.
JobStamp stampOf(const ChangeOptions& options, const JobRecord& job);

/// --option values with their units; UsageError when they cannot be used.
double turningTorque(const std::string& text, const std::string& what);
double boltTorque(const std::string& text, const std::string& what);
double lengthMm(const std::string& text, const std::string& what);
/// "8thou" or "90:8thou", each; positions are at equal steps when none is given.
std::vector<BacklashPoint> backlashPoints(const std::vector<std::string>& readings, const std::string& what);

/// DIR alone of the words.
std::string onlyFolder(const std::vector<std::string>& words);

/// The job with its warnings on the standard error.
JobRecord openedJob(const std::string& folder);

/// Text from a record is shown without control characters.
std::string plain(std::string text);

std::string judgementText(const std::vector<Judgement>& judgements);
std::string nextText(const JobRecord& job, const std::string& folder);
/// The command by which the next step is entered; empty: none.
std::string nextCommand(const JobRecord& job, const std::string& folder);
std::string statusText(const JobRecord& job, const std::string& folder);
std::string statusJson(const JobRecord& job, const std::string& folder, const std::vector<std::string>& warnings);
std::string recordText(const JobRecord& job, const std::string& folder);

/// The judgements of this entry.
std::vector<Judgement> judgementsOf(const JobRecord& job, const std::string& id);

/// The answer to a change: what was written down, how it is judged, what comes next.
void printChange(const JobRecord& job, const std::string& folder, const std::string& id, const std::string& sentence,
                 bool json);

}  // namespace shimsight::cli
