// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/files.h"

#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <fstream>

#include "shimsight/core.h"
#include "support/temp_dir.h"

using namespace shimsight;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

std::size_t entriesIn(const std::filesystem::path& folder) {
    return static_cast<std::size_t>(
        std::distance(std::filesystem::directory_iterator(folder), std::filesystem::directory_iterator()));
}

}  // namespace

TEST_CASE("a file comes back as it was written, and replaces the old one") {
    const test::TempDir dir;
    const auto path = dir / "map.bin";
    std::vector<std::uint8_t> bytes(100'000);
    for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<std::uint8_t>(i * 31);
    writeFileAtomically(path, std::vector<std::uint8_t>{1, 2, 3});
    CHECK(readFile(path, 1000) == std::vector<std::uint8_t>{1, 2, 3});
    writeFileAtomically(path, bytes);
    CHECK(readFile(path, 100'000) == bytes);
    CHECK(entriesIn(dir.path()) == 1);
}

TEST_CASE("what is no readable file is refused by its name") {
    const test::TempDir dir;
    const auto refusal = [](const std::filesystem::path& path, std::int64_t maxBytes = 1000) -> std::string {
        try {
            (void)readFile(path, maxBytes);
        } catch (const InputError& error) {
            return error.what();
        }
        return "read";
    };
    const auto name = [&](const char* file) { return (dir / file).string() + ": "; };

    CHECK_THAT(refusal(dir / "missing"), StartsWith(name("missing")) && Contains("no such file"));
    CHECK_THAT(refusal(dir.path()), StartsWith(dir.path().string()) && Contains("folder"));

    std::ofstream(dir / "empty");
    CHECK_THAT(refusal(dir / "empty"), StartsWith(name("empty")) && Contains("empty"));

    std::ofstream(dir / "long") << std::string(1001, 'x');
    CHECK_THAT(refusal(dir / "long"), StartsWith(name("long")) && Contains("larger"));
    CHECK(refusal(dir / "long", 1001) == "read");

    // Nobody writes to this pipe: a reader that waits would hang here.
    REQUIRE(::mkfifo((dir / "pipe").c_str(), 0600) == 0);
    CHECK_THAT(refusal(dir / "pipe"), StartsWith(name("pipe")) && Contains("not a plain file"));
}

TEST_CASE("a write that fails says so and leaves nothing behind") {
    const test::TempDir dir;
    const std::vector<std::uint8_t> bytes{1, 2, 3};
    std::filesystem::create_directory(dir / "taken");
    CHECK_THROWS_WITH(writeFileAtomically(dir / "taken", bytes), StartsWith((dir / "taken").string() + ": "));
    CHECK_THROWS_AS(writeFileAtomically(dir / "absent/file", bytes), InputError);
    CHECK(entriesIn(dir.path()) == 1);
    CHECK(entriesIn(dir / "taken") == 0);
}

TEST_CASE("a write keeps what was there before") {
    const test::TempDir dir;
    const auto file = dir / "a", former = dir / "b";
    const auto write = [&](std::uint8_t value) {
        writeFileKeepingFormer(file, former, std::vector<std::uint8_t>{value}, 100);
    };
    write(1);
    CHECK_FALSE(std::filesystem::exists(former));
    write(2);
    write(3);
    CHECK(readFile(file, 10) == std::vector<std::uint8_t>{3});
    CHECK(readFile(former, 10) == std::vector<std::uint8_t>{2});
    // As a crash between the two renames leaves it: both names are one file.
    std::filesystem::remove(former);
    std::filesystem::create_hard_link(file, former);
    write(4);
    CHECK(readFile(file, 10) == std::vector<std::uint8_t>{4});
    CHECK(readFile(former, 10) == std::vector<std::uint8_t>{3});
    CHECK(entriesIn(dir.path()) == 2);
}

TEST_CASE("a lock is held by one at a time") {
    const test::TempDir dir;
    {
        const FileLock lock(dir / "lock", 0);
        CHECK_THROWS_AS(FileLock(dir / "lock", 6), InputError);
    }
    CHECK_NOTHROW(FileLock(dir / "lock", 0));
}
