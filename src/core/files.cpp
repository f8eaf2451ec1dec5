// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/files.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <sys/vfs.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <system_error>
#include <thread>
#include <utility>

#include "shimsight/core.h"

namespace shimsight {
namespace {

/// Tries at a name that no other file has; a clash needs a left-over of a process with the same number.
constexpr int kNameTries = 100;

std::string errorText(int code) { return std::generic_category().message(code); }

[[noreturn]] void cannotRead(const std::filesystem::path& path, int code) {
    if (code == ENOENT) {
        throw InputError(message("core.no-such-file"), path.string());
    }
    throw FileError(message("core.cannot-read", errorText(code)), path.string());
}

[[noreturn]] void cannotWrite(const std::filesystem::path& path, int code) {
    throw FileError(message("core.cannot-write", errorText(code)), path.string());
}

/// An open file; closes it at the end of its life.
class Descriptor {
public:
    Descriptor(int number, const FileCalls& calls) : number_(number), calls_(&calls) {}
    ~Descriptor() { close(); }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    int number() const { return number_; }

    /// The error number of closing, 0 when it went well.
    int close() {
        const int number = std::exchange(number_, -1);
        return number >= 0 && calls_->close(number) != 0 ? errno : 0;
    }

private:
    int number_;
    const FileCalls* calls_;
};

/// Writes everything; the error number, 0 when it went well.
int writeAll(int descriptor, std::span<const std::uint8_t> bytes, const FileCalls& calls) {
    while (!bytes.empty()) {
        const long written = calls.write(descriptor, bytes.data(), bytes.size());
        if (written < 0) {
            if (errno == EINTR) continue;
            return errno;
        }
        // A disk that takes nothing and gives no reason would keep us here for ever.
        if (written == 0) return ENOSPC;
        bytes = bytes.subspan(static_cast<std::size_t>(written));
    }
    return 0;
}

std::filesystem::path folderOf(const std::filesystem::path& path) {
    return path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
}

/// A name beside `path` that no other process uses now.
std::filesystem::path partName(const std::filesystem::path& path) {
    static std::atomic<unsigned> counter{0};
    std::filesystem::path part = path;
    part += "." + std::to_string(::getpid()) + "-" + std::to_string(counter++) + std::string(kPartEnding);
    return part;
}

/// Flushes names in the folder of `path` to the disk; the error number, 0 when it went well.
int flushFolder(const std::filesystem::path& path, const FileCalls& calls) {
    const Descriptor folder(calls.open(folderOf(path).c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC, 0), calls);
    // A folder that may be written but not listed cannot be opened, and some file systems do not flush folders: the
    // content is safe by then, and the name follows with the next flush of the file system.
    if (folder.number() < 0) return errno == EACCES ? 0 : errno;
    if (calls.fsync(folder.number()) == 0 || errno == EINVAL || errno == ENOTSUP) return 0;
    return errno;
}

/// Writes and flushes a part file beside `path`; its name. Throws and leaves nothing behind.
std::filesystem::path writePart(const std::filesystem::path& path, std::span<const std::uint8_t> bytes,
                                const FileCalls& calls) {
    std::filesystem::path part;
    int number = -1;
    int error = EEXIST;
    for (int i = 0; i < kNameTries && error == EEXIST; ++i) {
        part = partName(path);
        number = calls.open(part.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        error = number < 0 ? errno : 0;
    }
    if (number < 0) cannotWrite(path, error);
    Descriptor file(number, calls);
    error = writeAll(file.number(), bytes, calls);
    if (error == 0 && calls.fsync(file.number()) != 0) error = errno;
    if (const int closing = file.close(); error == 0) error = closing;
    if (error != 0) {
        (void)calls.unlink(part.c_str());
        cannotWrite(path, error);
    }
    return part;
}

/// Renames the part into place and flushes the folder.
void putInPlace(const std::filesystem::path& part, const std::filesystem::path& path, const FileCalls& calls) {
    if (calls.rename(part.c_str(), path.c_str()) != 0) {
        const int error = errno;
        (void)calls.unlink(part.c_str());
        cannotWrite(path, error);
    }
    if (const int error = flushFolder(path, calls); error != 0)
        throw UnconfirmedWrite(message("core.not-confirmed", errorText(error)), path.string());
}

}  // namespace

std::vector<std::uint8_t> readFile(const std::filesystem::path& path, std::int64_t maxBytes) {
    // Not blocking: opening a pipe that nobody writes to would wait for ever.
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK), systemFileCalls());
    if (file.number() < 0) cannotRead(path, errno);
    struct stat status {};
    if (::fstat(file.number(), &status) != 0) cannotRead(path, errno);
    if (S_ISDIR(status.st_mode)) throw InputError(message("core.is-folder"), path.string());
    if (!S_ISREG(status.st_mode)) throw InputError(message("core.no-plain-file"), path.string());

    const auto refuseLength = [&](std::int64_t length) {
        if (length > maxBytes) {
            throw InputError(message("core.too-large", maxBytes / 1'000'000), path.string());
        }
    };
    refuseLength(status.st_size);
    // One byte more than the size tells the end of the file from a file that grows.
    std::vector<std::uint8_t> bytes(static_cast<std::size_t>(status.st_size) + 1);
    std::size_t length = 0;
    while (true) {
        const ssize_t got = ::read(file.number(), bytes.data() + length, bytes.size() - length);
        if (got < 0) {
            if (errno == EINTR) continue;
            cannotRead(path, errno);
        }
        if (got == 0) break;
        length += static_cast<std::size_t>(got);
        refuseLength(static_cast<std::int64_t>(length));
        if (length == bytes.size()) bytes.resize(bytes.size() * 2);
    }
    bytes.resize(length);
    if (bytes.empty()) throw InputError(message("core.empty-file"), path.string());
    return bytes;
}

const FileCalls& systemFileCalls() {
    static const FileCalls calls{
        .open = [](const char* path, int flags,
                   unsigned mode) { return ::open(path, flags, static_cast<mode_t>(mode)); },
        .write = [](int file, const void* bytes,
                    std::size_t count) { return static_cast<long>(::write(file, bytes, count)); },
        .fsync = [](int file) { return ::fsync(file); },
        .close = [](int file) { return ::close(file); },
        .rename = [](const char* from, const char* to) { return ::rename(from, to); },
        .link = [](const char* from, const char* to) { return ::link(from, to); },
        .unlink = [](const char* path) { return ::unlink(path); },
        .mkdir = [](const char* path, unsigned mode) { return ::mkdir(path, static_cast<mode_t>(mode)); },
        .flock = [](int file, int operation) { return ::flock(file, operation); },
        .locksReachOthers = [](int file) { return locksReachOthers(file); }};
    return calls;
}

bool locksReachOthers(int file) {
    // Only these can be used by others and are asked about further: statfs(2), linux/magic.h.
    constexpr std::array<std::uint32_t, 7> kShared{0x6969,       // NFS
                                                   0x517B,       // SMB, the old one
                                                   0xFF534D42,   // CIFS
                                                   0xFE534D42,   // SMB 2 and 3
                                                   0x65735546,   // FUSE: sshfs and many others
                                                   0x73757245,   // Coda
                                                   0x0BD00BD0};  // Lustre
    struct statfs kind {};
    struct stat status {};
    if (::fstatfs(file, &kind) != 0 || ::fstat(file, &status) != 0) return true;
    if (std::find(kShared.begin(), kShared.end(), static_cast<std::uint32_t>(kind.f_type)) == kShared.end())
        return true;
    std::ifstream lines("/proc/self/mountinfo");
    const std::string mounts{std::istreambuf_iterator<char>(lines), {}};
    return locksReachOthers(mounts, ::major(status.st_dev), ::minor(status.st_dev));
}

bool locksReachOthers(std::string_view mountInfo, unsigned major, unsigned minor) {
    // "36 35 98:0 /root /point rw,noatime shared:1 - nfs4 server:/share rw,vers=4.2,local_lock=none" (proc(5)).
    const std::string device = std::to_string(major) + ":" + std::to_string(minor);
    std::istringstream lines{std::string(mountInfo)};
    for (std::string line; std::getline(lines, line);) {
        std::istringstream words(line);
        std::string id, parent, of, word, type, source, options;
        words >> id >> parent >> of;
        if (of != device) continue;
        while (words >> word && word != "-") {
        }
        words >> type >> source >> options;
        options = "," + options + ",";
        const auto has = [&](const char* option) {
            return options.find("," + std::string(option) + ",") != std::string::npos;
        };
        if (type.starts_with("nfs")) return !has("nolock") && !has("local_lock=flock") && !has("local_lock=all");
        if (type == "cifs" || type.starts_with("smb")) return !has("nobrl") && !has("nolock");
        if (type == "lustre") return !has("localflock") && !has("noflock");
        constexpr std::array<std::string_view, 7> kWithout{
            "fuse.sshfs", "fuse.rclone", "fuse.davfs", "fuse.s3fs", "fuse.gvfsd-fuse", "fuse.curlftpfs", "coda"};
        return std::find(kWithout.begin(), kWithout.end(), type) == kWithout.end();
    }
    return true;
}

const FileCalls& ownerFileCalls() {
    static const FileCalls calls = [] {
        constexpr unsigned kOwnerOnly = 0600;
        FileCalls own = systemFileCalls();
        own.open = [](const char* path, int flags, unsigned /*mode*/) { return ::open(path, flags, kOwnerOnly); };
        return own;
    }();
    return calls;
}

void writeFileAtomically(const std::filesystem::path& path, std::span<const std::uint8_t> bytes,
                         const FileCalls& calls) {
    putInPlace(writePart(path, bytes, calls), path, calls);
}

void writeFileKeepingFormer(const std::filesystem::path& path, const std::filesystem::path& former,
                            std::span<const std::uint8_t> bytes, std::int64_t maxBytes, const FileCalls& calls) {
    const std::filesystem::path part = writePart(path, bytes, calls);
    const auto giveUp = [&](int error) {
        (void)calls.unlink(part.c_str());
        cannotWrite(former, error);
    };
    // The former version gets a second name, which needs no room on the disk; the new one then takes the first name.
    const std::filesystem::path second = partName(former);
    if (calls.link(path.c_str(), second.c_str()) == 0) {
        if (calls.rename(second.c_str(), former.c_str()) != 0) {
            const int error = errno;
            (void)calls.unlink(second.c_str());
            giveUp(error);
        }
        // When a crash came between the two renames of an earlier write, both names are the same file already, and
        // rename leaves such a pair as it is.
        (void)calls.unlink(second.c_str());
    } else if (const int error = errno; error != ENOENT) {
        // No second names on this file system (or not for us): a copy.
        if (error != EPERM && error != ENOTSUP && error != EACCES && error != EMLINK && error != ENOSYS &&
            error != EXDEV)
            giveUp(error);
        try {
            writeFileAtomically(former, readFile(path, maxBytes), calls);
        } catch (const InputError&) {
            (void)calls.unlink(part.c_str());
            throw;
        }
    }
    putInPlace(part, path, calls);
}

bool isFileAt(int file, const std::filesystem::path& path) {
    struct stat ours {
    }, there{};
    return ::fstat(file, &ours) == 0 && ::stat(path.c_str(), &there) == 0 && ours.st_dev == there.st_dev &&
           ours.st_ino == there.st_ino;
}

FileLock::FileLock(const std::filesystem::path& path, int patienceMs, const FileCalls& calls)
    : path_(path), calls_(&calls) {
    constexpr int kPauseMs = 2;
    const auto give = [&] { (void)calls.close(std::exchange(file_, -1)); };
    for (int waited = 0;; waited += kPauseMs) {
        if (file_ < 0) {
            file_ = calls.open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
            if (file_ < 0) cannotWrite(path, errno);
            if (!calls.locksReachOthers(file_)) {
                give();
                throw InputError(message("core.locks-stay-here"), path.string());
            }
        }
        const int error = calls.flock(file_, LOCK_EX | LOCK_NB) == 0 ? 0 : errno;
        if (error == EINTR) continue;
        if (error == 0 && isFileAt(file_, path)) return;
        if (error != 0 && error != EWOULDBLOCK) {
            give();
            cannotWrite(path, error);
        }
        if (waited >= patienceMs && error != 0) {
            give();
            throw InputError(message("core.locked"), path.string());
        }
        // Deleted or replaced while this one waited: the new one counts.
        if (error == 0) give();
        std::this_thread::sleep_for(std::chrono::milliseconds(kPauseMs));
    }
}

void FileLock::checkHeld() const {
    if (!isFileAt(file_, path_)) throw InputError(message("core.lock-lost"), path_.string());
}

FileLock::~FileLock() {
    if (file_ >= 0) (void)calls_->close(file_);  // closing lets go of the lock
}

}  // namespace shimsight
