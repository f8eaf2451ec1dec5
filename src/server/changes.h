/// Changes of jobs as they come in: a JSON body in, an entry in the record out, by the functions of job.h.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "server/requests.h"
#include "server/shelf.h"
#include "server/uploads.h"

namespace shimsight::server {

/// Kinds of changes that are done at once: "preload", "backlash", "runout", "carrier", "checked", "work", "check",
/// "own-check", "strike-out", "sign-off", "reopen", "remark".
bool isEntryKind(std::string_view kind);

/// Does it and gives the answer as JSON; with `again` it may have been done before the program ended, and is then not
/// doubled. Throws InputError.
std::string changeEntry(const std::filesystem::path& folder, const Request& request, bool again);

/// A new job from {gear_set | new_gear_set, axle, customer, by, build, bearings, spacer, shims_mm, backlash_mm}.
std::string makeJob(const Shelf& shelf, const Request& request);

/// Kind of the change that brings what gears were before they came apart; it goes the way of a trial.
inline constexpr std::string_view kBeforeKind = "before";

/// Checks a trial, or what was before, before it is accepted: fields, and that its photos are there whole.
void checkTrial(const std::filesystem::path& folder, const Request& request, const Uploads& uploads);
/// Reads and records it. With "replaces" the photos of that trial are read again, and it is struck out.
std::string readTrial(const std::filesystem::path& folder, const Request& request, Uploads& uploads,
                      const Shelf& shelf);

}  // namespace shimsight::server
