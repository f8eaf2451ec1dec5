// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/uploads.h"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/photo_clean.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;

constexpr std::chrono::hours kPartsKept{24}, kPhotosKept{24 * 7};
/// Photos on their way or waiting for their trial; ten phones with two each, many times over. Of one address: fifty
/// phones behind one router.
constexpr std::size_t kMaxUploads = 240, kMaxOfOne = 120;
/// What all of them may take on the disk.
constexpr std::int64_t kMaxBytesOfAll = 4'000'000'000;
/// Bytes from which a photo's format can be told.
constexpr std::int64_t kSignatureBytes = 100;
/// What a whole photo's file ends in once location and camera data are gone from it.
constexpr std::string_view kCleaned = ".clean";
/// What was measured of an upload: its id and this. Maps of sixty flanks have less than 1 MB.
constexpr std::string_view kMeasured = ".measured";
constexpr std::int64_t kMaxMeasuredBytes = 30'000'000;

/// Puts the photo without location and camera data in its place. One that cannot be told apart stays as it is: reading
/// it refuses it. HEIC stays too, since it can be cleaned only by decoding it, which is for the workers, a few at a
/// time: the record keeps its picture alone.
void clean(const fs::path& file, std::int64_t mostBytes) {
    try {
        const std::vector<std::uint8_t> bytes = readFile(file, mostBytes);
        if (photoFormatOf(bytes) == PhotoFormat::Heic) return;
        writeFileAtomically(file.string() + std::string(kCleaned), cleanPhoto(bytes).bytes);
        std::error_code error;
        fs::remove(file, error);
    } catch (const InputError&) {
        return;
    }
}

void appendTo(const fs::path& file, std::string_view piece, std::int64_t at, bool last) {
    const int out = ::open(file.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    if (out < 0) throw InputError(message("server.photo-not-taken-by-disk"));
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
    if (!kept) throw InputError(message("server.disk-full"));
}

}  // namespace

Uploads::Uploads(fs::path folder, std::int64_t mostBytes, IsNeeded isNeeded)
    : folder_(std::move(folder)), mostBytes_(mostBytes), isNeeded_(std::move(isNeeded)) {
    std::error_code error;
    fs::create_directories(folder_, error);
    if (error) throw InputError(message("server.folder-not-made", folder_.string(), error.message()));
}

std::vector<Uploads::Kept> Uploads::all() const {
    constexpr std::size_t kIdDigits = 32;
    std::vector<Kept> found;
    std::error_code error;
    const std::lock_guard lock(ownersGuard_);
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        const std::string name = entry.path().filename().string();
        Kept one;
        one.file = entry.path();
        one.id = name.substr(0, kIdDigits);
        if (!isId(one.id) || name.size() < kIdDigits + 2 || name.ends_with(kMeasured)) continue;
        (void)std::from_chars(name.data() + kIdDigits + 1, name.data() + name.size(), one.size);
        std::error_code ignored;
        one.at = entry.last_write_time(ignored);
        if (const auto bytes = entry.file_size(ignored); !ignored) one.received = static_cast<std::int64_t>(bytes);
        const auto owner = owners_.find(one.id);
        if (owner != owners_.end()) one.owner = owner->second;
        found.push_back(std::move(one));
    }
    std::sort(found.begin(), found.end(), [](const Kept& a, const Kept& b) { return a.at < b.at; });
    return found;
}

void Uploads::sweep(fs::file_time_type now) {
    for (const Kept& one : all()) {
        const std::optional<UploadState> state = find(one.id);
        if (!state || isNeeded_(one.id)) continue;
        if (now - one.at > (state->whole() ? kPhotosKept : kPartsKept)) remove(one.id);
    }
    // A look that came to its end after its photo was gone.
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        const std::string name = entry.path().filename().string();
        const std::string id = name.substr(0, name.size() - std::min(name.size(), kMeasured.size()));
        if (name.ends_with(kMeasured) && isId(id) && !find(id)) remove(id);
    }
}

UploadBytes Uploads::held() const {
    UploadBytes bytes;
    for (const Kept& one : all()) {
        bytes.size += one.size;
        // A cleaned photo is whole, whatever it lost.
        const bool whole = one.file.extension() == kCleaned;
        bytes.coming += whole ? 0 : std::max<std::int64_t>(0, one.size - one.received);
    }
    return bytes;
}

/// Before an upload is begun: the owner's own oldest go first, then the oldest of whoever has most.
void Uploads::makeRoom(const std::string& owner, std::int64_t size) {
    std::vector<Kept> kept = all();
    std::erase_if(kept, [&](const Kept& one) { return isNeeded_(one.id); });
    std::map<std::string, std::size_t> counts;
    std::int64_t bytes = size;
    for (const Kept& one : kept) ++counts[one.owner], bytes += one.size;
    const auto dropOldestOf = [&](const std::string& whose) {
        const auto oldest = std::find_if(kept.begin(), kept.end(), [&](const Kept& one) { return one.owner == whose; });
        bytes -= oldest->size;
        --counts[whose];
        remove(oldest->id);
        kept.erase(oldest);
    };
    while (counts[owner] >= kMaxOfOne) dropOldestOf(owner);
    while (!kept.empty() && (kept.size() >= kMaxUploads || bytes > kMaxBytesOfAll)) {
        const auto most = std::max_element(counts.begin(), counts.end(),
                                           [](const auto& a, const auto& b) { return a.second < b.second; });
        dropOldestOf(std::string(most->first));
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

UploadState Uploads::add(std::string_view id, std::int64_t offset, std::int64_t size, std::string_view piece,
                         const std::string& owner) {
    const auto length = static_cast<std::int64_t>(piece.size());
    if (size < 1 || offset < 0 || length < 1 || offset > size - length)
        throw UploadRefused{400, say("server.piece-does-not-fit")};
    if (size > mostBytes_)
        throw UploadRefused{413, say("server.photo-too-large", size / 1'000'000, mostBytes_ / 1'000'000)};
    if (!find(id)) {
        makeRoom(owner, size);
        const std::lock_guard lock(ownersGuard_);
        owners_[std::string(id)] = owner;
    }
    const std::lock_guard lock(guardOf(id));
    auto found = look(id);
    if (!found) found = std::pair(fileOf(id, size), UploadState{0, size});
    auto& [file, state] = *found;
    if (state.size != size) throw UploadRefused{409, say("server.upload-id-taken")};
    if (offset > state.received) return state;
    // What has come already is not written again.
    const std::int64_t known = state.received - offset;
    if (known >= length) return state;
    if (state.received == 0) {
        const std::string_view head = piece.substr(0, kSignatureBytes);
        const std::vector<std::uint8_t> bytes(head.begin(), head.end());
        if (!photoFormatOf(bytes)) throw UploadRefused{415, say("server.no-photo")};
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

fs::path Uploads::measuredFile(std::string_view id) const {
    check(isId(id), "an upload by an id that is none");
    return folder_ / (std::string(id) + std::string(kMeasured));
}

void Uploads::keepMeasured(std::string_view id, const std::vector<std::uint8_t>& measured) const {
    try {
        writeFileAtomically(measuredFile(id), measured);
    } catch (const InputError&) {
        return;  // it is measured again
    }
}

std::optional<std::vector<std::uint8_t>> Uploads::measured(std::string_view id) const {
    const fs::path file = measuredFile(id);
    if (std::error_code error; !fs::exists(file, error)) return std::nullopt;
    try {
        return readFile(file, kMaxMeasuredBytes);
    } catch (const InputError&) {
        return std::nullopt;
    }
}

void Uploads::remove(std::string_view id) {
    const std::lock_guard lock(guardOf(id));
    std::error_code error;
    fs::remove(measuredFile(id), error);
    // Twice where the program ended between the two files of a whole photo.
    for (auto found = look(id); found && fs::remove(found->first, error);) found = look(id);
    const std::lock_guard owners(ownersGuard_);
    owners_.erase(std::string(id));
}

}  // namespace shimsight::server
