// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the folder of jobs takes of the disk, and whether another photo may come.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

namespace shimsight::server {

/// Bytes of uploads, from begun to whole.
struct UploadBytes {
    std::int64_t size = 0;    ///< of all, once they are whole
    std::int64_t coming = 0;  ///< of it what has not come yet
};

class Space {
public:
    using Disk = std::function<std::filesystem::space_info()>;
    /// `jobs` may take `maxBytes` bytes. It is measured by a thread, now and every hour, and a job after each change.
    /// `disk`: how full the disk is.
    Space(std::filesystem::path jobs, std::int64_t maxBytes, Disk disk);
    ~Space();
    Space(const Space&) = delete;
    Space& operator=(const Space&) = delete;

    /// A plain sentence why a photo of `size` bytes cannot come beside the `uploads` that are there; nullopt: it can.
    std::optional<std::string> refusal(std::int64_t size, const UploadBytes& uploads) const;
    /// After a change of this folder of a job.
    void changed(const std::filesystem::path& folder);
    /// Bytes of all that lies in the folder of jobs but for uploads.
    std::int64_t used() const;
    void measure();

private:
    void set(const std::string& name, std::int64_t bytes);
    void work();

    std::filesystem::path jobs_;
    std::int64_t maxBytes_;
    Disk disk_;
    mutable std::mutex guard_;
    std::condition_variable changed_;
    bool ending_ = false;
    std::int64_t used_ = 0;
    std::map<std::string, std::int64_t> folders_;  ///< bytes, by the name of what lies in the folder of jobs
    std::thread thread_;                           ///< last: it uses all of the above
};

}  // namespace shimsight::server
