// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The devices that are paired. The pairing code, new in each run and whenever it is renewed, gives a device a key of
/// its own; of the keys only hashes are kept, in a file that nobody else may read, so that a restart ends no pairing.
#pragma once

#include <cstddef>
#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/server.h"

namespace shimsight::server {

class Devices {
public:
    /// `folder`: what the server keeps for itself. Throws InputError when what is kept there cannot be read.
    explicit Devices(const std::filesystem::path& folder);

    /// The pairing code of this run, 32 hexadecimal digits.
    std::string code() const;
    /// Makes another code; the former one pairs nobody any more, and what used it by itself may not come again.
    std::string renewCode();

    /// Whether the token is the code, or the key of a paired device that was not sent away.
    bool knows(std::string_view token);
    bool isCode(std::string_view token) const;
    /// Pairs a device; its key, which is told this once. Beyond kMaxDevices the one not seen for longest goes.
    std::string add(std::string name);
    std::vector<PairedDevice> list();
    /// Sends a device away; false: there is none of this id.
    bool remove(std::string_view id);

private:
    struct Device {
        PairedDevice told;
        std::string keyHash;
    };
    void readAgain();  ///< when another program changed the file
    void write();

    std::filesystem::path file_;
    mutable std::mutex guard_;
    std::string code_;
    std::vector<Device> devices_;
    std::filesystem::file_time_type readAt_{};
};

}  // namespace shimsight::server
