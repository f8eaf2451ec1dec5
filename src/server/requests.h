// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What was accepted, by the id that its sender made: written to the disk before it is answered.
#pragma once

#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace shimsight::server {

/// One change. `answer` is empty while it is not done.
struct Request {
    std::string id, kind, job, at;
    std::string body;      ///< JSON as it came; let go when it is done
    std::string answer;    ///< JSON; empty: not done yet
    std::string bodyHash;  ///< SHA-256 of the body as it came
};
Request newRequest(std::string id, std::string kind, std::string job, std::string at, std::string body);

/// Kinds of changes that make a job, a shop's own gear set, an answer of the drill.
inline constexpr std::string_view kJobKind = "job", kGearSetKind = "gear-set", kDrillKind = "drill";
/// Kind of a trial with its photos.
inline constexpr std::string_view kTrialKind = "trial";
/// Kind of the change that brings what gears were before they came apart; it goes the way of a trial.
inline constexpr std::string_view kBeforeKind = "before";
/// Kind of the change that corrects a job; its photos may be read again.
inline constexpr std::string_view kCorrectKind = "correct";
/// Changes whose photos are read in their turn.
bool isRead(std::string_view kind);

class Requests {
public:
    /// Throws InputError when `folder` cannot be made.
    explicit Requests(std::filesystem::path folder);

    std::optional<Request> find(std::string_view id) const;
    void write(const Request& request);
    /// Writes the answer down; the body is not needed any more.
    void finish(Request request, std::string answer);
    void forget(std::string_view id);
    /// Forgets what was done more than a month ago. Accepted trials stay until they are read, however long that takes.
    void sweep(std::filesystem::file_time_type now);
    /// Those without an answer that are read in their turn, oldest first.
    std::vector<Request> open() const;

private:
    std::filesystem::path fileOf(std::string_view id) const;
    std::filesystem::path folder_;
};

}  // namespace shimsight::server
