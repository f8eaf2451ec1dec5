// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/space.h"

#include <algorithm>
#include <chrono>
#include <set>
#include <utility>

#include "server/guard.h"
#include "shimsight/text.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;

constexpr std::chrono::hours kPause{1};
/// What stays free for records, pages and the rest of the computer; a twentieth of a smaller disk.
constexpr std::int64_t kLeftFree = 1'000'000'000, kLeftFreeShare = 20;

std::string inGb(std::int64_t bytes) {
    constexpr double kGb = 1e9, kFew = 10;
    const double gb = static_cast<double>(bytes) / kGb;
    return formatted(gb < kFew ? "%.2f" : "%.0f", gb);
}

/// Of a file, or of all files below; links are not followed.
std::int64_t bytesOf(const fs::path& path, const fs::path& but) {
    std::error_code error;
    const auto sizeOf = [](const fs::directory_entry& entry) {
        std::error_code ignored;
        if (entry.is_symlink(ignored) || !entry.is_regular_file(ignored)) return std::int64_t{0};
        const auto size = static_cast<std::int64_t>(entry.file_size(ignored));
        return ignored ? std::int64_t{0} : size;
    };
    const fs::directory_entry top(path, error);
    if (top.is_symlink(error) || !top.is_directory(error)) return sizeOf(top);
    std::int64_t bytes = 0;
    for (fs::recursive_directory_iterator at(path, fs::directory_options::skip_permission_denied, error), end;
         !error && at != end; at.increment(error)) {
        if (at->path() == but) at.disable_recursion_pending();
        bytes += sizeOf(*at);
    }
    return bytes;
}

}  // namespace

Space::Space(fs::path jobs, std::int64_t maxBytes, Disk disk)
    : jobs_(std::move(jobs)), maxBytes_(maxBytes), disk_(std::move(disk)), thread_([this] { work(); }) {}

Space::~Space() {
    {
        const std::lock_guard lock(guard_);
        ending_ = true;
        changed_.notify_all();
    }
    thread_.join();
}

void Space::work() {
    std::unique_lock lock(guard_);
    while (!ending_) {
        lock.unlock();
        measure();
        lock.lock();
        changed_.wait_for(lock, kPause, [this] { return ending_; });
    }
}

void Space::set(const std::string& name, std::int64_t bytes) {
    const std::lock_guard lock(guard_);
    std::int64_t& known = folders_[name];
    used_ += bytes - known;
    known = bytes;
}

void Space::measure() {
    std::set<std::string> there;
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(jobs_, error)) {
        const std::string name = entry.path().filename().string();
        there.insert(name);
        set(name, bytesOf(entry.path(), jobs_ / kOwnFolder / "uploads"));
        const std::lock_guard lock(guard_);
        if (ending_) return;
    }
    const std::lock_guard lock(guard_);
    std::erase_if(folders_, [&](const auto& one) {
        if (there.contains(one.first)) return false;
        used_ -= one.second;
        return true;
    });
}

void Space::changed(const fs::path& folder) { set(folder.filename().string(), bytesOf(folder, {})); }

std::int64_t Space::used() const {
    const std::lock_guard lock(guard_);
    return used_;
}

std::optional<std::string> Space::refusal(std::int64_t size, const UploadBytes& uploads) const {
    const std::int64_t taken = used() + uploads.size;
    if (size > maxBytes_ - taken) return say("server.space-used", inGb(taken), inGb(maxBytes_));
    const fs::space_info disk = disk_();
    const auto capacity = static_cast<std::int64_t>(disk.capacity), free = static_cast<std::int64_t>(disk.available);
    const std::int64_t stays = std::min(kLeftFree, capacity / kLeftFreeShare);
    // A disk that does not tell its size is tried.
    if (capacity > 0 && free - uploads.coming - size < stays)
        return say("server.disk-nearly-full", inGb(free), inGb(stays));
    return std::nullopt;
}

}  // namespace shimsight::server
