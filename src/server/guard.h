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

/// Takes away what a killed writer left half-written in `folder`. Only while nobody else writes there.
void removePartFiles(const std::filesystem::path& folder);

/// The server's own folder in that of the jobs.
inline constexpr const char* kOwnFolder = ".shimsight-server";

/// Whose a folder is that is opened: the server takes away what a killed run left half-written; a process that reads
/// one trial for it does not, since the server may be writing.
enum class OpenedBy { Server, Worker };

/// Holds a folder for this process alone, for as long as it lives; the end of the process lets go of it, however it
/// ends.
class SoleUse {
public:
    /// Makes the folder when it is missing. Throws InputError when it cannot be made or another process holds it.
    explicit SoleUse(const std::filesystem::path& folder);
    ~SoleUse();
    SoleUse(const SoleUse&) = delete;
    SoleUse& operator=(const SoleUse&) = delete;

private:
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
