// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Changes of jobs as they come in: a JSON body in, an entry in the record out, by the functions of job.h.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

#include "server/job_repository.h"
#include "server/requests.h"
#include "server/uploads.h"

namespace shimsight::server {

/// A photo kept in a job is never larger.
inline constexpr std::int64_t kMaxPhotoBytes = 200'000'000;

/// Kinds of changes that are done at once: "depth", "preload", "backlash", "runout", "carrier", "checked", "work",
/// "check", "own-check", "strike-out", "restore", "sign-off", "reopen", "remark".
bool isEntryKind(std::string_view kind);

/// Throws InputError unless the body is a JSON object in valid UTF-8.
void checkIsObject(const std::string& body);

/// Does it and gives the answer as JSON; what the request did before the program ended is not doubled. Throws
/// InputError.
std::string changeEntry(const std::filesystem::path& folder, const Request& request);

/// A new job from {gear_set | new_gear_set, axle, customer, by, build, bearings, spacer, shims_mm, backlash_mm}.
std::string makeJob(const JobRepository& repository, const Request& request);

/// One of the shop's own gear sets: {new_gear_set} makes one, {gear_set, new_gear_set} changes it, {gear_set, deleted}
/// deletes it or brings it back.
std::string changeGearSet(const JobRepository& repository, const Request& request);

/// Corrects gear set, axle or customer, see correctAndReadAgain. checkCorrection refuses beforehand.
void checkCorrection(const std::filesystem::path& folder, const Request& request, const JobRepository& repository);
std::string correct(const std::filesystem::path& folder, const Request& request, const JobRepository& repository);

/// Checks a trial, or what was before, before it is accepted: fields, that its photos are there whole, and that the job
/// has room for it beside those of the requests `waiting`, which were accepted and may be read meanwhile.
void checkTrial(const std::filesystem::path& folder, const Request& request, const Uploads& uploads,
                const std::vector<std::string>& waiting);
/// The ids of the uploads that a trial names; none where the body cannot be read.
std::vector<std::string> uploadsNamedBy(const Request& request);
/// Reads and records it. With "replaces" the photos of that trial
/// are read again, and it is struck out.
std::string readTrial(const std::filesystem::path& folder, const Request& request, Uploads& uploads,
                      const JobRepository& repository);

}  // namespace shimsight::server
