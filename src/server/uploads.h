/// Photos on their way in: pieces in their order, kept on the disk, known by an id that the sender made. Once whole, a
/// photo is kept without location and camera data.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

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
    /// `folder` is made when missing; what lies there longer than a week is taken away.
    Uploads(std::filesystem::path folder, std::int64_t mostBytes);

    /// nullopt: nothing came under this id yet.
    std::optional<UploadState> find(std::string_view id) const;
    /// Adds a piece that begins at `offset` of a photo of `size` bytes. A piece that was there already changes nothing;
    /// one beyond what has come is answered with how far it got. Throws UploadRefused.
    UploadState add(std::string_view id, std::int64_t offset, std::int64_t size, std::string_view piece);
    /// The bytes of a whole photo, cleaned; nullopt: not there or not whole.
    std::optional<std::vector<std::uint8_t>> bytes(std::string_view id) const;
    void remove(std::string_view id);

private:
    std::filesystem::path fileOf(std::string_view id, std::int64_t size) const;
    std::optional<std::pair<std::filesystem::path, UploadState>> look(std::string_view id) const;

    std::filesystem::path folder_;
    std::int64_t mostBytes_;
    /// One upload after another by its id; those of other phones do not wait for its disk.
    std::mutex& guardOf(std::string_view id) const;
    mutable std::array<std::mutex, 16> guards_;
};

}  // namespace shimsight::server
