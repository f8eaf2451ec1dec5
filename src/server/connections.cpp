// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/connections.h"

#include <algorithm>
#include <map>

namespace shimsight::server {

bool Connections::endOldestOf(const std::string& address) {
    One* oldest = nullptr;
    for (One& one : all_) {
        if (one.ended || one.address != address || (one.phase != Phase::Waiting && one.phase != Phase::Sending))
            continue;
        if (oldest == nullptr || one.since < oldest->since) oldest = &one;
    }
    if (oldest == nullptr) return false;
    oldest->ended = true;
    end_(oldest->socket);
    return true;
}

std::string Connections::addressWithMost() const {
    std::map<std::string, std::size_t> counts;
    for (const One& one : all_)
        if (!one.ended) ++counts[one.address];
    const auto most = std::max_element(counts.begin(), counts.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    return most == counts.end() ? std::string() : most->first;
}

bool Connections::admit(const std::string& address) {
    const std::lock_guard lock(guard_);
    std::size_t all = 0, own = 0;
    for (const One& one : all_) {
        all += !one.ended;
        own += !one.ended && one.address == address;
    }
    if (own >= limits_.ofAddress) return endOldestOf(address);
    return all < limits_.all || endOldestOf(addressWithMost());
}

Connections::Place Connections::add(const std::string& address, int socket, Clock::time_point now) {
    const std::lock_guard lock(guard_);
    return all_.insert(all_.end(), {address, socket, Phase::Waiting, now, false});
}

void Connections::remove(Place place) {
    const std::lock_guard lock(guard_);
    all_.erase(place);
}

void Connections::turn(Place place, Phase phase, Clock::time_point now) {
    const std::lock_guard lock(guard_);
    place->phase = phase;
    place->since = now;
}

void Connections::endSlow(Clock::time_point now) {
    const std::lock_guard lock(guard_);
    for (One& one : all_) {
        if (one.ended || one.phase == Phase::Working) continue;
        const auto limit = one.phase == Phase::Waiting   ? limits_.waiting
                           : one.phase == Phase::Sending ? limits_.sending
                                                         : limits_.taking;
        if (now - one.since <= limit) continue;
        one.ended = true;
        end_(one.socket);
    }
}

std::size_t Connections::answering() const {
    const std::lock_guard lock(guard_);
    return static_cast<std::size_t>(std::count_if(all_.begin(), all_.end(), [](const One& one) {
        return !one.ended && (one.phase == Phase::Working || one.phase == Phase::Taking);
    }));
}

}  // namespace shimsight::server
