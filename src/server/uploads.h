// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Photos on their way in: pieces in their order, kept on the disk, known by an id that the sender made. Once whole, a
/// photo is kept without location and camera data.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "server/guard.h"
#include "server/space.h"

namespace shimsight::server {

struct UploadState {
    std::int64_t received = 0, size = 0;
    bool whole() const { return received == size; }
};

/// Why a piece is not taken; `status` is that of HTTP.
struct UploadRefused {
    int status = 400;
    std::string sentence;
};

class Uploads {
public:
    /// Whether an accepted trial that is not read yet names this upload; such a one is never taken away.
    using IsNeeded = std::function<bool(const std::string& id)>;
    /// `folder` is made when missing.
    Uploads(std::filesystem::path folder, std::int64_t mostBytes, IsNeeded isNeeded);

    /// nullopt: nothing came under this id yet.
    std::optional<UploadState> find(std::string_view id) const;
    /// Adds a piece that begins at `offset` of a photo of `size` bytes. A piece that was there already changes nothing;
    /// one beyond what has come is answered with how far it got. `owner`, the sender's address, has only so many at
    /// once: for a new one its own oldest goes, and when all are too many the oldest of who has most. Throws
    /// UploadRefused.
    UploadState add(std::string_view id, std::int64_t offset, std::int64_t size, std::string_view piece,
                    const std::string& owner);
    /// The bytes of a whole photo, cleaned; nullopt: not there or not whole.
    std::optional<std::vector<std::uint8_t>> bytes(std::string_view id) const;
    /// Keeps what was measured of a whole photo beside it, as long as the photo; a full disk is passed by.
    void keepMeasured(std::string_view id, const std::vector<std::uint8_t>& measured) const;
    std::optional<std::vector<std::uint8_t>> measured(std::string_view id) const;
    void remove(std::string_view id);
    std::int64_t mostBytes() const { return mostBytes_; }  ///< of one
    UploadBytes held() const;                              ///< by all
    /// Takes away parts that nothing came for within a day, and photos that no trial named within a week. `now` by the
    /// disk's clock, here and wherever files are swept.
    void sweep(std::filesystem::file_time_type now);

private:
    struct Kept {
        std::string id, owner;
        std::filesystem::path file;
        std::filesystem::file_time_type at;
        std::int64_t size = 0;      ///< bytes that the whole photo will take
        std::int64_t received = 0;  ///< of its file
    };
    std::vector<Kept> all() const;
    void makeRoom(const std::string& owner, std::int64_t size);
    std::filesystem::path fileOf(std::string_view id, std::int64_t size) const;
    std::filesystem::path measuredFile(std::string_view id) const;
    std::optional<std::pair<std::filesystem::path, UploadState>> look(std::string_view id) const;

    std::filesystem::path folder_;
    std::int64_t mostBytes_;
    /// One upload after another by its id; those of other phones do not wait for its disk.
    std::mutex& guardOf(std::string_view id) const;
    mutable std::array<std::mutex, 16> guards_;
    IsNeeded isNeeded_;
    mutable std::mutex ownersGuard_;
    std::map<std::string, std::string> owners_;  ///< of those that came in this run, by id
};

}  // namespace shimsight::server
