// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/files.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <chrono>
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
        throw InputError(say("core.no-such-file", path.string()));
    }
    throw InputError(say("core.cannot-read", path.string(), errorText(code)));
}

[[noreturn]] void cannotWrite(const std::filesystem::path& path, int code) {
    throw InputError(say("core.cannot-write", path.string(), errorText(code)));
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
        throw UnconfirmedWrite(say("core.not-confirmed", path.string(), errorText(error)));
}

}  // namespace

std::vector<std::uint8_t> readFile(const std::filesystem::path& path, std::int64_t maxBytes) {
    // Not blocking: opening a pipe that nobody writes to would wait for ever.
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK), systemFileCalls());
    if (file.number() < 0) cannotRead(path, errno);
    struct stat status {};
    if (::fstat(file.number(), &status) != 0) cannotRead(path, errno);
    if (S_ISDIR(status.st_mode)) throw InputError(say("core.is-folder", path.string()));
    if (!S_ISREG(status.st_mode)) throw InputError(say("core.no-plain-file", path.string()));

    const auto refuseLength = [&](std::int64_t length) {
        if (length > maxBytes) {
            throw InputError(say("core.too-large", path.string(), maxBytes / 1'000'000));
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
    if (bytes.empty()) throw InputError(say("core.empty-file", path.string()));
    return bytes;
}

const FileCalls& systemFileCalls() {
    static const FileCalls calls{
        [](const char* path, int flags, unsigned mode) { return ::open(path, flags, static_cast<mode_t>(mode)); },
        [](int file, const void* bytes, std::size_t count) { return static_cast<long>(::write(file, bytes, count)); },
        [](int file) { return ::fsync(file); },
        [](int file) { return ::close(file); },
        [](const char* from, const char* to) { return ::rename(from, to); },
        [](const char* from, const char* to) { return ::link(from, to); },
        [](const char* path) { return ::unlink(path); },
        [](const char* path, unsigned mode) { return ::mkdir(path, static_cast<mode_t>(mode)); },
        [](int file, int operation) { return ::flock(file, operation); }};
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

FileLock::FileLock(const std::filesystem::path& path, int patienceMs, const FileCalls& calls) : calls_(&calls) {
    file_ = calls.open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (file_ < 0) cannotWrite(path, errno);
    constexpr int kPauseMs = 2;
    for (int waited = 0;; waited += kPauseMs) {
        if (calls.flock(file_, LOCK_EX | LOCK_NB) == 0) return;
        const int error = errno;
        if (error == EINTR) continue;
        if (error != EWOULDBLOCK || waited >= patienceMs) {
            (void)calls.close(std::exchange(file_, -1));
            if (error != EWOULDBLOCK) cannotWrite(path, error);
            throw InputError(say("core.locked", path.string()));
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(kPauseMs));
    }
}

FileLock::~FileLock() {
    if (file_ >= 0) (void)calls_->close(file_);  // closing lets go of the lock
}

}  // namespace shimsight
