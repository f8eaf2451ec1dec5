// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Who is connected, in what state and since when, so that no address and no slow sender takes what others need.
#pragma once

#include <chrono>
#include <cstddef>
#include <functional>
#include <list>
#include <mutex>
#include <string>

namespace shimsight::server {

/// What a connection is about.
enum class Phase {
    Waiting,  ///< for a whole header, also between two requests
    Sending,  ///< the client sends a body
    Working,  ///< the answer is being made
    Taking    ///< the client takes the answer
};

struct ConnectionLimits {
    /// Ten phones open six each at most; a browser as many from one address as it has pages.
    std::size_t all = 480, ofAddress = 96;
    std::chrono::seconds waiting{15}, sending{60}, taking{120};
};

/// The connections of a server. Safe from several threads at once. A connection is ended by `end`, which is given what
/// was given to add(), and is forgotten by remove(), which the server calls when it is closed.
class Connections {
public:
    using Clock = std::chrono::steady_clock;
    struct One {
        std::string address;
        int socket = -1;
        Phase phase = Phase::Waiting;
        Clock::time_point since;
        bool ended = false;
    };
    using Place = std::list<One>::iterator;

    Connections(const ConnectionLimits& limits, std::function<void(int socket)> end)
        : limits_(limits), end_(std::move(end)) {}

    /// Whether one more of this address may come. When it has too many, its own oldest that waits for a request is
    /// ended for it; when all are too many, the oldest of the address that has most.
    bool admit(const std::string& address);
    Place add(const std::string& address, int socket, Clock::time_point now);
    void remove(Place place);
    void turn(Place place, Phase phase, Clock::time_point now);
    /// Ends those that take too long.
    void endSlow(Clock::time_point now);
    /// How many have an answer to come.
    std::size_t answering() const;

private:
    bool endOldestOf(const std::string& address);
    std::string addressWithMost() const;

    ConnectionLimits limits_;
    std::function<void(int)> end_;
    mutable std::mutex guard_;
    std::list<One> all_;  ///< in the order in which they came
};

}  // namespace shimsight::server
