// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/devices.h"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <utility>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::size_t kMaxDevices = 200, kMaxNameBytes = 80;
constexpr std::int64_t kMaxFileBytes = 200'000;
/// When a device was seen last is written down no more often than this.
constexpr std::int64_t kSeenStepSeconds = 3600;

std::string tidyName(std::string name) {
    if (name.size() > kMaxNameBytes) name.resize(kMaxNameBytes);
    for (char& c : name)
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
    return name;
}

}  // namespace

Devices::Devices(const fs::path& folder) : file_(folder / "devices.json"), code_(randomHex(16)) { readAgain(); }

std::string Devices::code() const {
    const std::lock_guard lock(guard_);
    return code_;
}

std::string Devices::renewCode() {
    const std::lock_guard lock(guard_);
    return code_ = randomHex(16);
}

void Devices::readAgain() {
    std::error_code error;
    const fs::file_time_type changed = fs::last_write_time(file_, error);
    if (error) {
        devices_.clear();
        readAt_ = {};
        return;
    }
    if (changed == readAt_) return;
    const std::vector<std::uint8_t> bytes = readFile(file_, kMaxFileBytes);
    const json document = json::parse(bytes.begin(), bytes.end(), nullptr, false);
    std::vector<Device> read;
    try {
        for (const json& one : document.at("devices"))
            read.push_back({.told = {.id = one.at("id"),
                                     .name = one.at("name"),
                                     .pairedAt = one.at("paired_at"),
                                     .seenAt = one.at("seen_at")},
                            .keyHash = one.at("key_sha256")});
    } catch (const json::exception&) {
        throw InputError(message("server.devices-unreadable", file_.string()));
    }
    devices_ = std::move(read);
    readAt_ = changed;
}

void Devices::write() {
    json list = json::array();
    for (const Device& one : devices_)
        list.push_back({{"id", one.told.id},
                        {"name", one.told.name},
                        {"paired_at", one.told.pairedAt},
                        {"seen_at", one.told.seenAt},
                        {"key_sha256", one.keyHash}});
    const std::string text =
        json{{"schema", "shimsight/devices/1"}, {"devices", list}}.dump(1, ' ', false, json::error_handler_t::replace);
    writeFileAtomically(file_, std::vector<std::uint8_t>(text.begin(), text.end()), ownerFileCalls());
    std::error_code ignored;
    readAt_ = fs::last_write_time(file_, ignored);
}

bool Devices::isCode(std::string_view token) const {
    const std::lock_guard lock(guard_);
    return sameSecret(token, code_);
}

bool Devices::knows(std::string_view token) {
    const std::lock_guard lock(guard_);
    if (sameSecret(token, code_)) return true;
    if (!isId(token)) return false;
    readAgain();
    const std::string hash = sha256Of(token);
    const auto found = std::find_if(devices_.begin(), devices_.end(),
                                    [&](const Device& one) { return sameSecret(one.keyHash, hash); });
    if (found == devices_.end()) return false;
    const std::string now = timeNow();
    if (secondsOf(now) - secondsOf(found->told.seenAt) > kSeenStepSeconds) {
        found->told.seenAt = now;
        try {
            write();
        } catch (const InputError&) {
            return true;  // a full disk ends no pairing
        }
    }
    return true;
}

std::string Devices::add(std::string name) {
    const std::lock_guard lock(guard_);
    readAgain();
    if (devices_.size() >= kMaxDevices)
        devices_.erase(std::min_element(devices_.begin(), devices_.end(), [](const Device& a, const Device& b) {
            return secondsOf(a.told.seenAt) < secondsOf(b.told.seenAt);
        }));
    std::string key = randomHex(16);
    const std::string now = timeNow();
    devices_.push_back({.told = {.id = randomHex(4), .name = tidyName(std::move(name)), .pairedAt = now, .seenAt = now},
                        .keyHash = sha256Of(key)});
    write();
    return key;
}

std::vector<PairedDevice> Devices::list() {
    const std::lock_guard lock(guard_);
    readAgain();
    std::vector<PairedDevice> told;
    for (const Device& one : devices_) told.push_back(one.told);
    return told;
}

bool Devices::remove(std::string_view id) {
    const std::lock_guard lock(guard_);
    readAgain();
    if (std::erase_if(devices_, [&](const Device& one) { return one.told.id == id; }) == 0) return false;
    write();
    return true;
}

}  // namespace shimsight::server

namespace shimsight {

namespace {
constexpr const char* kDevicesFolder = ".shimsight-server";
}  // namespace

std::vector<PairedDevice> pairedDevices(const std::filesystem::path& jobs) {
    return server::Devices(jobs / kDevicesFolder).list();
}

bool sendAway(const std::filesystem::path& jobs, std::string_view device) {
    return server::Devices(jobs / kDevicesFolder).remove(device);
}

}  // namespace shimsight
