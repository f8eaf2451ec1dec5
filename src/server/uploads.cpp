#include "server/uploads.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <charconv>
#include <chrono>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/photo_clean.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;

constexpr std::chrono::hours kPartsKept{24 * 7};
/// Photos on their way or waiting for their trial; ten phones with two each, many times over.
constexpr std::size_t kMostUploads = 200;
/// Bytes from which a photo's format can be told.
constexpr std::int64_t kSignatureBytes = 100;
/// What a whole photo's file ends in once location and camera data are gone from it.
constexpr std::string_view kCleaned = ".clean";

/// Puts the photo without location and camera data in its place. One that cannot be told apart stays as it is: reading
/// it refuses it.
void clean(const fs::path& file, std::int64_t mostBytes) {
    try {
        writeFileAtomically(file.string() + std::string(kCleaned), cleanPhoto(readFile(file, mostBytes)).bytes);
        std::error_code error;
        fs::remove(file, error);
    } catch (const InputError&) {
        return;
    }
}

void appendTo(const fs::path& file, std::string_view piece, std::int64_t at, bool last) {
    const int out = ::open(file.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    if (out < 0) throw InputError("The photo cannot be kept: the disk does not take it.");
    std::size_t written = 0;
    while (written < piece.size()) {
        const ssize_t count = ::pwrite(out, piece.data() + written, piece.size() - written,
                                       static_cast<off_t>(at) + static_cast<off_t>(written));
        if (count <= 0) break;
        written += static_cast<std::size_t>(count);
    }
    // A photo that came in whole stays, also when the power goes; of a part the sender has the rest anyhow.
    const bool kept = written == piece.size() && (!last || ::fdatasync(out) == 0);
    if (!kept && ::ftruncate(out, static_cast<off_t>(at)) != 0) written = 0;
    ::close(out);
    if (!kept) throw InputError("The photo cannot be kept: the disk is full or broken.");
}

}  // namespace

Uploads::Uploads(fs::path folder, std::int64_t mostBytes) : folder_(std::move(folder)), mostBytes_(mostBytes) {
    std::error_code error;
    fs::create_directories(folder_, error);
    if (error) throw InputError(folder_.string() + ": the folder cannot be made (" + error.message() + ").");
    const auto now = fs::file_time_type::clock::now();
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        std::error_code ignored;
        if (entry.is_regular_file(ignored) && now - entry.last_write_time(ignored) > kPartsKept)
            fs::remove(entry.path(), ignored);
    }
}

/// The size stands in the name, so that a piece needs one file alone: "0123456789abcdef0123456789abcdef-182044".
fs::path Uploads::fileOf(std::string_view id, std::int64_t size) const {
    check(isId(id), "an upload by an id that is none");
    return folder_ / (std::string(id) + "-" + std::to_string(size));
}

std::optional<std::pair<fs::path, UploadState>> Uploads::look(std::string_view id) const {
    check(isId(id), "an upload by an id that is none");
    std::error_code error;
    std::optional<std::pair<fs::path, UploadState>> part;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        const std::string name = entry.path().filename().string();
        if (!name.starts_with(id) || name.size() <= id.size() + 1) continue;
        UploadState state;
        const auto [end, problem] = std::from_chars(name.data() + id.size() + 1, name.data() + name.size(), state.size);
        if (problem != std::errc()) continue;
        const std::string_view rest(end, static_cast<std::size_t>(name.data() + name.size() - end));
        if (rest == kCleaned) {
            state.received = state.size;
            return std::pair(entry.path(), state);
        }
        if (!rest.empty()) continue;
        std::error_code ignored;
        state.received = static_cast<std::int64_t>(fs::file_size(entry.path(), ignored));
        if (ignored || state.received > state.size) continue;
        part = std::pair(entry.path(), state);
    }
    return part;
}

std::mutex& Uploads::guardOf(std::string_view id) const {
    check(isId(id), "an upload by an id that is none");
    return guards_[static_cast<unsigned char>(id.back()) % guards_.size()];
}

std::optional<UploadState> Uploads::find(std::string_view id) const {
    const std::lock_guard lock(guardOf(id));
    const auto found = look(id);
    return found ? std::optional(found->second) : std::nullopt;
}

UploadState Uploads::add(std::string_view id, std::int64_t offset, std::int64_t size, std::string_view piece) {
    const auto length = static_cast<std::int64_t>(piece.size());
    if (size < 1 || offset < 0 || length < 1 || offset > size - length)
        throw UploadRefused{400, "The piece of the photo does not fit the size that was said."};
    if (size > mostBytes_)
        throw UploadRefused{413, "The photo has " + std::to_string(size / 1'000'000) + " MB; at most " +
                                     std::to_string(mostBytes_ / 1'000'000) + " MB are taken. Send a smaller one."};
    const std::lock_guard lock(guardOf(id));
    auto found = look(id);
    if (!found) {
        std::error_code error;
        std::size_t count = 0;
        for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) count += entry.exists(error);
        if (count >= kMostUploads)
            throw UploadRefused{503, "Too many photos wait for their trial. Finish or drop some first."};
        found = std::pair(fileOf(id, size), UploadState{0, size});
    }
    auto& [file, state] = *found;
    if (state.size != size) throw UploadRefused{409, "Another photo is already on its way under this id."};
    if (offset > state.received) return state;
    // What has come already is not written again.
    const std::int64_t known = state.received - offset;
    if (known >= length) return state;
    if (state.received == 0) {
        const std::string_view head = piece.substr(0, kSignatureBytes);
        const std::vector<std::uint8_t> bytes(head.begin(), head.end());
        if (!photoFormatOf(bytes))
            throw UploadRefused{415, "This is no photo that can be read: send JPEG, PNG, WebP or HEIC."};
    }
    appendTo(file, piece.substr(static_cast<std::size_t>(known)), state.received, offset + length == size);
    state.received = offset + length;
    if (state.whole()) clean(file, mostBytes_);
    return state;
}

std::optional<std::vector<std::uint8_t>> Uploads::bytes(std::string_view id) const {
    const std::lock_guard lock(guardOf(id));
    const auto found = look(id);
    if (!found || !found->second.whole()) return std::nullopt;
    return readFile(found->first, mostBytes_);
}

void Uploads::remove(std::string_view id) {
    const std::lock_guard lock(guardOf(id));
    std::error_code error;
    // Twice where the program ended between the two files of a whole photo.
    for (auto found = look(id); found && fs::remove(found->first, error);) found = look(id);
}

}  // namespace shimsight::server
