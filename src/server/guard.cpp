// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/guard.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/random.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cerrno>
#include <system_error>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/words.h"

namespace shimsight::server {
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
        if (got <= 0) throw InputError(say("server.no-random-numbers"));
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

std::string withoutFolders(std::string sentence, const std::filesystem::path& root) {
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

void removePartFiles(const std::filesystem::path& folder) {
    std::error_code error;
    for (const auto& entry : std::filesystem::directory_iterator(folder, error)) {
        std::error_code ignored;
        if (entry.path().filename().string().ends_with(kPartEnding)) std::filesystem::remove(entry.path(), ignored);
    }
}

SoleUse::SoleUse(const std::filesystem::path& folder) {
    std::error_code error;
    std::filesystem::create_directories(folder, error);
    if (error) throw InputError(say("server.folder-not-made", folder.string(), error.message()));
    file_ = ::open((folder / "server.lock").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    // A disk that is only read takes no lock file; there the folder itself is locked.
    if (file_ < 0) file_ = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (file_ < 0)
        throw InputError(say("server.folder-not-used", folder.string(), std::generic_category().message(errno)));
    if (::flock(file_, LOCK_EX | LOCK_NB) == 0) return;
    const int problem = errno;
    ::close(file_);
    const std::string jobs = folder.parent_path().string();
    if (problem == EWOULDBLOCK) throw InputError(say("server.another-server", jobs));
    throw InputError(say("server.folder-not-kept", jobs, std::generic_category().message(problem)));
}

SoleUse::~SoleUse() { ::close(file_); }

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
