// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Reading and writing whole files, with bounds and with nothing half-written.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <span>
#include <string_view>
#include <vector>

#include "shimsight/core.h"

namespace shimsight {

/// The bytes of the file at `path`. Throws InputError, beginning with the path, when it is missing, is a folder or
/// another thing that is no plain file, is empty, cannot be read, or is larger than `maxBytes`.
std::vector<std::uint8_t> readFile(const std::filesystem::path& path, std::int64_t maxBytes);

/// The system calls by which files are written; each as its namesake in POSIX, with errno. A test puts its own in place
/// of the system's to see what a failing disk leaves behind.
struct FileCalls {
    std::function<int(const char* path, int flags, unsigned mode)> open;
    std::function<long(int file, const void* bytes, std::size_t count)> write;
    std::function<int(int file)> fsync;
    std::function<int(int file)> close;
    std::function<int(const char* from, const char* to)> rename;
    std::function<int(const char* from, const char* to)> link;
    std::function<int(const char* path)> unlink;
    std::function<int(const char* path, unsigned mode)> mkdir;
    std::function<int(int file, int operation)> flock;
    std::function<bool(int file)> locksReachOthers;  ///< see locksReachOthers; no call of POSIX
};
const FileCalls& systemFileCalls();
/// The same, but what is made is for the owner alone from the first byte on.
const FileCalls& ownerFileCalls();

/// How the names of files end that are being written; after a crash one may be left.
inline constexpr std::string_view kPartEnding = ".part";

/// The disk did not give or take a file.
class FileError : public InputError {
public:
    using InputError::InputError;
};

/// The file has its new content, but the disk did not say that it would survive a loss of power.
class UnconfirmedWrite : public FileError {
public:
    using FileError::FileError;
};

/// Writes `bytes` to `path` so that a reader finds the old file or the whole new one, never a part: a file beside it is
/// written, flushed to the disk and renamed, and the folder flushed. Throws InputError, beginning with the path, and
/// leaves nothing behind when that fails; UnconfirmedWrite when only the last flush does.
void writeFileAtomically(const std::filesystem::path& path, std::span<const std::uint8_t> bytes,
                         const FileCalls& calls = systemFileCalls());

/// The same, and what was at `path` before is then at `former` (when there was a file). At any moment of a crash `path`
/// holds the old or the new content and `former` a whole earlier one. One writer at a time (FileLock). `maxBytes`
/// bounds the copy that is made where the file system has no second names for a file.
void writeFileKeepingFormer(const std::filesystem::path& path, const std::filesystem::path& former,
                            std::span<const std::uint8_t> bytes, std::int64_t maxBytes,
                            const FileCalls& calls = systemFileCalls());

/// Whether locks (flock) on the file system of an open file reach all computers that use it. They do on a disk of this
/// computer, which nobody else uses, and on NFS and SMB (flock(2), Linux 5.5 on); not where the mount's options keep
/// them here or the file system has none of its own (sshfs and its like).
bool locksReachOthers(int file);
/// The same of the mount of a device, by the lines of /proc/self/mountinfo.
bool locksReachOthers(std::string_view mountInfo, unsigned major, unsigned minor);

/// Whether an open file is the one that lies at the path: false when it was deleted or replaced there.
bool isFileAt(int file, const std::filesystem::path& path);

/// Holds the lock of the file at `path`, which is made when missing and stays. Processes and threads wait for one
/// another for up to `patienceMs`; then InputError, as where locks would not reach another computer on the same
/// folder. The end of a process lets go of its locks, however it ends; what an ended one left in the file does not
/// matter, nor what any clock says.
class FileLock {
public:
    /// Throws InputError where the file at the path is not the locked one any more, since somebody deleted or replaced
    /// it: another may hold the new one. To be asked before what the lock guards is changed.
    void checkHeld() const;

    FileLock(const std::filesystem::path& path, int patienceMs, const FileCalls& calls = systemFileCalls());
    ~FileLock();
    FileLock(const FileLock&) = delete;
    FileLock& operator=(const FileLock&) = delete;

private:
    std::filesystem::path path_;
    int file_ = -1;
    const FileCalls* calls_;
};

}  // namespace shimsight
