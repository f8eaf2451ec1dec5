// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/guard.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cerrno>
#include <system_error>
#include <vector>

#include "server/documents.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight::server {

namespace fs = std::filesystem;

namespace {

/// More addresses than a shop has; beyond them the full buckets are forgotten.
constexpr std::size_t kMaxBuckets = 4096;

std::string lower(std::string_view text) {
    std::string result(text);
    for (char& c : result) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return result;
}

/// Host without its port; "[::1]:80" gives "::1".
std::string hostName(std::string_view host) {
    if (host.starts_with('[')) {
        const std::size_t end = host.find(']');
        return end == std::string_view::npos ? std::string() : std::string(host.substr(1, end - 1));
    }
    return lower(host.substr(0, host.find(':')));
}

}  // namespace

std::string randomHex(std::size_t bytes) {
    std::vector<unsigned char> raw(bytes);
    std::size_t have = 0;
    while (have < bytes) {
        const ssize_t got = getrandom(raw.data() + have, bytes - have, 0);
        if (got <= 0) throw InputError(message("server.no-random-numbers"));
        have += static_cast<std::size_t>(got);
    }
    std::string text;
    for (const unsigned char byte : raw) {
        text += "0123456789abcdef"[byte >> 4];
        text += "0123456789abcdef"[byte & 15];
    }
    return text;
}

bool sameSecret(std::string_view given, std::string_view wanted) {
    unsigned char differs = given.size() == wanted.size() ? 0 : 1;
    for (std::size_t i = 0; i < wanted.size(); ++i)
        differs = static_cast<unsigned char>(differs | ((i < given.size() ? given[i] : '\0') ^ wanted[i]));
    return differs == 0;
}

bool isId(std::string_view id) {
    constexpr std::size_t kDigits = 32;
    return id.size() == kDigits && id.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

bool isOwnHost(std::string_view host) {
    const std::string name = hostName(host);
    if (name == "localhost") return true;
    in6_addr address{};
    if (inet_pton(AF_INET, name.c_str(), &address) == 1 || inet_pton(AF_INET6, name.c_str(), &address) == 1)
        return true;
    std::array<char, 256> own{};
    if (name.empty() || gethostname(own.data(), own.size() - 1) != 0) return false;
    const std::string mine = lower(own.data());
    return name == mine || name == mine + ".local";
}

bool isOwnOrigin(std::string_view origin, std::string_view host, bool encrypted) {
    return origin.empty() || lower(origin) == (encrypted ? "https://" : "http://") + lower(host);
}

std::string withoutFolders(std::string sentence, const fs::path& root) {
    const std::string folder = root.string();
    if (folder.size() < 2) return sentence;
    for (std::size_t at = sentence.find(folder); at != std::string::npos; at = sentence.find(folder, at)) {
        const std::size_t end = std::min(sentence.find_first_of(" :,;\"", at + folder.size()), sentence.size());
        const std::size_t slash = sentence.rfind('/', end == 0 ? 0 : end - 1);
        // The folder itself has no name that would help.
        if (slash == std::string::npos || slash < at + folder.size())
            sentence.replace(at, end - at, say("server.the-job-folder"));
        else
            sentence.erase(at, slash + 1 - at);
    }
    return sentence;
}

fs::file_time_type timeOfDisk(const fs::path& folder) {
    const fs::path clock = folder / "clock";
    const int file = ::open(clock.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    const bool touched = file >= 0 && ::futimens(file, nullptr) == 0;
    if (file >= 0) ::close(file);
    std::error_code error;
    const fs::file_time_type time = fs::last_write_time(clock, error);
    return touched && !error ? time : fs::file_time_type::clock::now();
}

void removeHalves(const fs::path& jobs, const fs::path& scores, fs::file_time_type now, At at) {
    // A file is written in well under a second.
    const fs::file_time_type then = now - std::chrono::hours(1);
    const auto remove = [&](const fs::path& folder, auto isHalf, bool all) {
        std::error_code error;
        for (const auto& entry : fs::directory_iterator(folder, error)) {
            std::error_code ignored;
            if (entry.is_regular_file(ignored) && isHalf(entry.path().filename().string()) &&
                (all || entry.last_write_time(ignored) < then))
                fs::remove(entry.path(), ignored);
        }
    };
    const auto isPart = [](const std::string& name) { return name.ends_with(kPartEnding); };
    const fs::path own = jobs / kOwnFolder;
    const bool all = at == At::Start;
    for (const char* folder : {"", "uploads", "requests", "maps", "links"}) remove(own / folder, isPart, all);
    std::error_code error;
    for (const auto& entry : fs::directory_iterator(own / "review", error)) remove(entry.path(), isPart, all);
    remove(
        own, [](const std::string& name) { return name.starts_with(kReviewPage); }, all);
    // Here others write too.
    remove(jobs / "gear-sets", isPart, false);
    if (!scores.empty()) remove(scores, isPart, false);
}

void checkStaysInside(const fs::path& root, const fs::path& folder) {
    std::error_code error;
    const auto check = [&](const fs::directory_entry& entry) {
        std::error_code ignored;
        if (!entry.is_symlink(ignored)) return;
        // What points nowhere now may point anywhere later.
        const fs::path end = fs::canonical(entry.path(), ignored);
        const fs::path inside = ignored ? fs::path() : end.lexically_relative(fs::canonical(root, ignored));
        if (inside.empty() || *inside.begin() == ".." || *inside.begin() == "." || *inside.begin() == kOwnFolder)
            throw InputError(message("server.link-leads-out", entry.path().lexically_relative(root).string()));
    };
    check(fs::directory_entry(folder, error));
    for (const fs::path& place : {folder, folder / kJobPhotoFolder})
        for (const auto& entry : fs::directory_iterator(place, error)) check(entry);
}

SoleUse::SoleUse(const fs::path& folder, const FileCalls& calls) {
    std::error_code error;
    fs::create_directories(folder, error);
    if (error) throw InputError(message("server.folder-not-made", folder.string(), error.message()));
    at_ = folder / "server.lock";
    file_ = ::open(at_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (file_ < 0) {
        // A disk that is only read takes no lock file; there the folder itself is locked.
        at_ = folder;
        file_ = ::open(at_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    }
    if (file_ < 0)
        throw InputError(message("server.folder-not-used", folder.string(), std::generic_category().message(errno)));
    const std::string jobs = folder.parent_path().string();
    if (!calls.locksReachOthers(file_)) {
        ::close(file_);
        throw InputError(message("core.locks-stay-here"), jobs);
    }
    if (calls.flock(file_, LOCK_EX | LOCK_NB) == 0) return;
    const int problem = errno;
    ::close(file_);
    if (problem == EWOULDBLOCK) throw InputError(message("server.another-server", jobs));
    throw InputError(message("server.folder-not-kept", jobs, std::generic_category().message(problem)));
}

SoleUse::~SoleUse() { ::close(file_); }

void SoleUse::checkHeld() const {
    if (!isFileAt(file_, at_))
        throw InputError(message("server.folder-lost", at_.parent_path().parent_path().string()));
}

bool RateLimit::take(const std::string& who, Clock::time_point now) {
    const std::lock_guard lock(guard_);
    if (buckets_.size() >= kMaxBuckets)
        std::erase_if(buckets_, [&](const auto& one) {
            return one.second.tokens + perSecond_ * std::chrono::duration<double>(now - one.second.at).count() >=
                   burst_;
        });
    if (buckets_.size() >= kMaxBuckets && !buckets_.contains(who)) return false;
    Bucket& bucket = buckets_.try_emplace(who, Bucket{burst_, now}).first->second;
    bucket.tokens =
        std::min(burst_, bucket.tokens + perSecond_ * std::chrono::duration<double>(now - bucket.at).count());
    bucket.at = now;
    if (bucket.tokens < 1) return false;
    bucket.tokens -= 1;
    return true;
}

}  // namespace shimsight::server
