// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/guard.h"

#include <catch2/catch.hpp>
#include <set>

#include "shimsight/job.h"

using namespace shimsight;
using namespace shimsight::server;

TEST_CASE("tokens are long, hexadecimal and never the same") {
    std::set<std::string> seen;
    for (int i = 0; i < 100; ++i) {
        const std::string token = randomHex(16);
        CHECK(isId(token));
        seen.insert(token);
    }
    CHECK(seen.size() == 100);
    CHECK_FALSE(isId("0123456789ABCDEF0123456789ABCDEF"));
    CHECK_FALSE(isId("../456789abcdef0123456789abcdef.."));
    CHECK_FALSE(isId(""));
}

TEST_CASE("the clock gives times that the record takes") { CHECK_NOTHROW(checkTime(timeNow(), "now")); }

TEST_CASE("secrets are compared whole") {
    CHECK(sameSecret("abc", "abc"));
    CHECK_FALSE(sameSecret("abcd", "abc"));
    CHECK_FALSE(sameSecret("ab", "abc"));
    CHECK_FALSE(sameSecret("", "abc"));
    CHECK_FALSE(sameSecret("abd", "abc"));
}

TEST_CASE("hosts and origins") {
    for (const char* host : {"localhost", "LOCALHOST:80", "127.0.0.1:8484", "[::1]:8484", "10.1.2.3"})
        CHECK(isOwnHost(host));
    for (const char* host :
         {"", "example.org", "127.0.0.1.example.org", "localhost.example.org", "[::1", "a@localhost"})
        CHECK_FALSE(isOwnHost(host));
    CHECK(isOwnOrigin("", "127.0.0.1:8484"));
    CHECK(isOwnOrigin("http://127.0.0.1:8484", "127.0.0.1:8484"));
    for (const char* origin :
         {"null", "https://127.0.0.1:8484", "http://127.0.0.1", "http://127.0.0.1:84840", "http://x"})
        CHECK_FALSE(isOwnOrigin(origin, "127.0.0.1:8484"));
}

TEST_CASE("folders are left out of sentences") {
    CHECK(withoutFolders("/srv/shop/jobs/van-1/job.json, line 3: it is damaged.", "/srv/shop/jobs") ==
          "job.json, line 3: it is damaged.");
    CHECK(withoutFolders("/srv/shop/jobs: the folder cannot be made.", "/srv/shop/jobs") ==
          "the job folder: the folder cannot be made.");
    CHECK(withoutFolders("a /srv/j/x and \"/srv/j/y/z.png\" too", "/srv/j") == "a x and \"z.png\" too");
    CHECK(withoutFolders("nothing here", "/srv/j") == "nothing here");
}

TEST_CASE("the rate of an address") {
    RateLimit limit(10, 3);
    const auto start = RateLimit::Clock::now();
    CHECK(limit.take("a", start));
    CHECK(limit.take("a", start));
    CHECK(limit.take("a", start));
    CHECK_FALSE(limit.take("a", start));
    CHECK(limit.take("b", start));
    CHECK(limit.take("a", start + std::chrono::milliseconds(110)));
    CHECK_FALSE(limit.take("a", start + std::chrono::milliseconds(120)));
    // Never more than the burst, however long nothing came.
    const auto late = start + std::chrono::hours(1);
    int taken = 0;
    for (int i = 0; i < 10; ++i) taken += limit.take("a", late);
    CHECK(taken == 3);
}
