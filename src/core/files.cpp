#include "shimsight/files.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <string>
#include <system_error>
#include <utility>

#include "shimsight/core.h"

namespace shimsight {
namespace {

/// Tries at a name that no other file has; a clash needs a left-over of a process with the same number.
constexpr int kNameTries = 100;

std::string errorText(int code) { return std::generic_category().message(code); }

[[noreturn]] void cannotRead(const std::filesystem::path& path, int code) {
    if (code == ENOENT) {
        throw InputError(path.string() + ": there is no such file; check the name and the folder.");
    }
    throw InputError(path.string() + ": the file cannot be read (" + errorText(code) + ").");
}

[[noreturn]] void cannotWrite(const std::filesystem::path& path, int code) {
    throw InputError(path.string() + ": the file cannot be written (" + errorText(code) + ").");
}

/// An open file; closes it at the end of its life.
class Descriptor {
public:
    explicit Descriptor(int number) : number_(number) {}
    ~Descriptor() { close(); }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    int number() const { return number_; }

    /// The error number of closing, 0 when it went well.
    int close() {
        const int number = std::exchange(number_, -1);
        return number >= 0 && ::close(number) != 0 ? errno : 0;
    }

private:
    int number_;
};

/// Writes everything; the error number, 0 when it went well.
int writeAll(int descriptor, std::span<const std::uint8_t> bytes) {
    while (!bytes.empty()) {
        const ssize_t written = ::write(descriptor, bytes.data(), bytes.size());
        if (written < 0) {
            if (errno == EINTR) continue;
            return errno;
        }
        bytes = bytes.subspan(static_cast<std::size_t>(written));
    }
    return 0;
}

}  // namespace

std::vector<std::uint8_t> readFile(const std::filesystem::path& path, std::int64_t maxBytes) {
    // Not blocking: opening a pipe that nobody writes to would wait for ever.
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
    if (file.number() < 0) cannotRead(path, errno);
    struct stat status {};
    if (::fstat(file.number(), &status) != 0) cannotRead(path, errno);
    if (S_ISDIR(status.st_mode)) throw InputError(path.string() + ": this is a folder; name a file in it.");
    if (!S_ISREG(status.st_mode)) throw InputError(path.string() + ": this is not a plain file.");

    const auto refuseLength = [&](std::int64_t length) {
        if (length > maxBytes) {
            throw InputError(path.string() + ": the file is larger than " + std::to_string(maxBytes / 1'000'000) +
                             " MB, the most that is read.");
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
    if (bytes.empty()) throw InputError(path.string() + ": the file is empty.");
    return bytes;
}

void writeFileAtomically(const std::filesystem::path& path, std::span<const std::uint8_t> bytes) {
    static std::atomic<unsigned> counter{0};
    std::filesystem::path partial;
    int number = -1;
    int error = EEXIST;
    for (int i = 0; i < kNameTries; ++i) {
        partial = path;
        partial += "." + std::to_string(::getpid()) + "-" + std::to_string(counter++) + ".part";
        number = ::open(partial.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        error = number < 0 ? errno : 0;
        if (error != EEXIST) break;
    }
    if (number < 0) cannotWrite(path, error);

    Descriptor file(number);
    error = writeAll(file.number(), bytes);
    if (error == 0 && ::fsync(file.number()) != 0) error = errno;
    if (const int closing = file.close(); error == 0) error = closing;
    if (error == 0 && ::rename(partial.c_str(), path.c_str()) != 0) error = errno;
    if (error != 0) {
        ::unlink(partial.c_str());
        cannotWrite(path, error);
    }
    // The rename itself reaches the disk with the folder. Some file systems refuse this; the content is safe by then.
    const std::filesystem::path folder = path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
    const Descriptor folderFile(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (folderFile.number() >= 0) (void)::fsync(folderFile.number());
}

}  // namespace shimsight
