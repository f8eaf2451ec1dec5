// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A trial read in a process of its own: what a photo does to the measuring (memory, time, a crash) costs that process
/// alone, and the queue goes on.
#pragma once

#include <chrono>
#include <filesystem>
#include <string>
#include <vector>

#include "server/job_repository.h"
#include "server/requests.h"
#include "server/uploads.h"

namespace shimsight::server {

/// What a trial may take, all its photos and the advice together. The largest photos that are taken need about a tenth
/// (tests/attack/README.md).
inline constexpr std::chrono::seconds kMaxTrialTime{300};
inline constexpr std::size_t kMaxTrialBytes = 4'000'000'000;

/// A trial to be read, a job to be corrected or a photo to be looked at: the folder of the jobs, and the request in it.
struct TrialTask {
    std::filesystem::path jobs;
    std::vector<std::filesystem::path> gearSets;
    Request request;
};

/// Does it by the functions of changes.h and looked.h.
std::string doTask(const TrialTask& task, Uploads& uploads, const JobRepository& repository);

/// Reads and records the trial by `program`, which runs workOnTrial, and gives the answer as readTrial does. Throws
/// InputError with what the measuring said, or that it took too long or came to no end.
std::string readTrialApart(const std::filesystem::path& program, const TrialTask& task);

}  // namespace shimsight::server
