// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Who may ask, how often, and what a sentence may tell.
#pragma once

#include <chrono>
#include <filesystem>
#include <map>
#include <mutex>
#include <string>
#include <string_view>

#include "shimsight/files.h"

namespace shimsight::server {

/// `bytes` random bytes of the system as hexadecimal digits.
std::string randomHex(std::size_t bytes);

/// Compares without telling by its duration how much of the token was right.
bool sameSecret(std::string_view given, std::string_view wanted);

/// Whether `id` is what senders make as ids: 32 lower-case hexadecimal digits.
bool isId(std::string_view id);

/// Whether the Host header names this computer by an address, as localhost, or by its own name. A foreign name that was
/// made to point here is not one of these.
bool isOwnHost(std::string_view host);

/// Whether a request with this Origin header (empty: none) comes from the page served at `host`, encrypted or not.
bool isOwnOrigin(std::string_view origin, std::string_view host, bool encrypted = false);

/// The sentence without the folders of this computer: what stands in `root` is named by its file alone.
std::string withoutFolders(std::string sentence, const std::filesystem::path& root);

/// What the disk of `folder` takes for now, as files there bear it: that of a network share goes by another clock. This
/// computer's own where the disk takes no file.
std::filesystem::file_time_type timeOfDisk(const std::filesystem::path& folder);

/// Takes away what killed writers, those that read a trial apart among them, left half-written in the folders of the
/// server and of `scores` (empty: none) an hour ago or before; `now` by the disk's clock. At the start nobody else
/// writes in the server's own folder: what lies there half-written goes at once.
enum class At { Start, Work };
void removeHalves(const std::filesystem::path& jobs, const std::filesystem::path& scores,
                  std::filesystem::file_time_type now, At at = At::Work);

/// Throws InputError where a job's `folder`, or something in it, is a link that leads out of `root` or into the
/// server's own folder there: a job that came from elsewhere could show any file of this computer by one.
void checkStaysInside(const std::filesystem::path& root, const std::filesystem::path& folder);

/// The server's own folder in that of the jobs.
inline constexpr const char* kOwnFolder = ".shimsight-server";

/// Who opens the folder of jobs: the server, which keeps the list of jobs, or a process that reads one trial for it.
enum class OpenedBy { Server, Worker };

/// Holds a folder for this process alone, for as long as it lives; the end of the process lets go of it, however it
/// ends.
class SoleUse {
public:
    /// Makes the folder when it is missing. Throws InputError when it cannot be made, another process holds it, or it
    /// could not be told that one of another computer does.
    explicit SoleUse(const std::filesystem::path& folder, const FileCalls& calls = systemFileCalls());
    ~SoleUse();
    /// Throws InputError where somebody deleted or replaced the lock file meanwhile: another server may hold the
    /// folder.
    void checkHeld() const;
    SoleUse(const SoleUse&) = delete;
    SoleUse& operator=(const SoleUse&) = delete;

private:
    std::filesystem::path at_;
    int file_ = -1;
};

/// For each address a bucket of tokens that fills with time.
class RateLimit {
public:
    using Clock = std::chrono::steady_clock;
    RateLimit(double perSecond, double burst) : perSecond_(perSecond), burst_(burst) {}
    /// Takes one for `who`; false: it has none left.
    bool take(const std::string& who, Clock::time_point now);

private:
    struct Bucket {
        double tokens;
        Clock::time_point at;
    };
    double perSecond_, burst_;
    std::mutex guard_;
    std::map<std::string, Bucket> buckets_;
};

}  // namespace shimsight::server
