// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/connections.h"

#include <catch2/catch.hpp>
#include <vector>

using namespace shimsight::server;

namespace {

struct Held {
    std::vector<int> ended;
    Connections connections;
    Connections::Clock::time_point now = Connections::Clock::now();
    explicit Held(const ConnectionLimits& limits)
        : connections(limits, [this](int socket) { ended.push_back(socket); }) {}
    Connections::Place add(const std::string& address, int socket) {
        now += std::chrono::milliseconds(1);
        return connections.add(address, socket, now);
    }
};

}  // namespace

TEST_CASE("an address with too many connections gives up its own oldest") {
    ConnectionLimits limits;
    limits.ofAddress = 3;
    Held held(limits);
    for (int i = 0; i < 3; ++i) {
        CHECK(held.connections.admit("10.0.0.1"));
        (void)held.add("10.0.0.1", i);
    }
    CHECK(held.connections.admit("10.0.0.2"));
    (void)held.add("10.0.0.2", 9);
    CHECK(held.ended.empty());
    CHECK(held.connections.admit("10.0.0.1"));
    CHECK(held.ended == std::vector<int>{0});
}

TEST_CASE("connections that are being answered stay") {
    ConnectionLimits limits;
    limits.ofAddress = 2;
    Held held(limits);
    const Connections::Place first = held.add("10.0.0.1", 1), second = held.add("10.0.0.1", 2);
    held.connections.turn(first, Phase::Working, held.now);
    CHECK(held.connections.admit("10.0.0.1"));
    CHECK(held.ended == std::vector<int>{2});
    held.connections.remove(second);
    (void)held.connections.turn(held.add("10.0.0.1", 3), Phase::Taking, held.now);
    CHECK_FALSE(held.connections.admit("10.0.0.1"));
    CHECK(held.connections.answering() == 2);
}

TEST_CASE("when all are too many, the address with most makes room") {
    ConnectionLimits limits;
    limits.all = 5;
    Held held(limits);
    (void)held.add("10.0.0.1", 1);
    for (int i = 0; i < 4; ++i) (void)held.add("10.0.0.66", 10 + i);
    CHECK(held.connections.admit("10.0.0.2"));
    CHECK(held.ended == std::vector<int>{10});
}

TEST_CASE("whoever takes too long is ended, by what it is about") {
    const ConnectionLimits limits;
    Held held(limits);
    const Connections::Place waits = held.add("10.0.0.1", 1), sends = held.add("10.0.0.1", 2),
                             works = held.add("10.0.0.1", 3), takes = held.add("10.0.0.1", 4);
    const auto start = held.now;
    held.connections.turn(waits, Phase::Waiting, start);
    held.connections.turn(sends, Phase::Sending, start);
    held.connections.turn(works, Phase::Working, start);
    held.connections.turn(takes, Phase::Taking, start);
    held.connections.endSlow(start + limits.waiting);
    CHECK(held.ended.empty());
    held.connections.endSlow(start + limits.waiting + std::chrono::seconds(1));
    CHECK(held.ended == std::vector<int>{1});
    held.connections.endSlow(start + limits.sending + std::chrono::seconds(1));
    CHECK(held.ended == std::vector<int>{1, 2});
    held.connections.endSlow(start + std::chrono::hours(1));
    CHECK(held.ended == std::vector<int>{1, 2, 4});
}
