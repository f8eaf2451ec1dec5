// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/files.h"

#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <fstream>
#include <memory>
#include <thread>

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

TEST_CASE("a lock whose file somebody deleted is not held, and whoever waits for it gets the new one") {
    const test::TempDir dir;
    auto first = std::make_unique<FileLock>(dir / "lock", 0);
    CHECK_NOTHROW(first->checkHeld());
    std::thread waiting([&] {
        const FileLock third(dir / "lock", 20'000);
        third.checkHeld();
    });
    SECTION("deleted") { std::filesystem::remove(dir / "lock"); }
    SECTION("replaced, as programs do that copy folders from computer to computer") {
        std::ofstream(dir / "other");
        std::filesystem::rename(dir / "other", dir / "lock");
    }
    CHECK_THROWS_WITH(first->checkHeld(), StartsWith((dir / "lock").string() + ": somebody deleted or replaced"));
    CHECK_NOTHROW(FileLock(dir / "lock", 20'000));
    first.reset();
    waiting.join();
}

TEST_CASE("what an ended process left in a lock file holds nobody up, whatever its time says") {
    const test::TempDir dir;
    for (const auto age : {std::chrono::minutes(-7), std::chrono::minutes(7)}) {
        std::ofstream(dir / "lock") << "another-computer 4711";
        std::filesystem::last_write_time(dir / "lock", std::filesystem::file_time_type::clock::now() - age);
        CHECK_NOTHROW(FileLock(dir / "lock", 0));
    }
    // Killed while it holds the lock.
    int told[2];
    REQUIRE(::pipe(told) == 0);
    const pid_t child = ::fork();
    if (child == 0) {
        const FileLock lock(dir / "lock", 0);
        (void)!::write(told[1], "x", 1);
        while (true) ::pause();
    }
    char byte = 0;
    REQUIRE(::read(told[0], &byte, 1) == 1);
    CHECK_THROWS_AS(FileLock(dir / "lock", 6), InputError);
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    CHECK_NOTHROW(FileLock(dir / "lock", 0));
    ::close(told[0]);
    ::close(told[1]);
}

TEST_CASE("shares whose locks stay on one computer are known by their mount") {
    const auto reach = [](const std::string& end) {
        return locksReachOthers("22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw\n36 22 0:51 / /mnt rw - " + end,
                                0, 51);
    };
    // As Linux writes them: nfs(5), mount.cifs(8), sshfs(1).
    CHECK(reach("nfs4 nas:/shop rw,vers=4.2,rsize=1048576,local_lock=none,addr=192.0.2.7"));
    CHECK(reach("nfs nas:/shop rw,vers=3,proto=tcp,local_lock=none"));
    CHECK_FALSE(reach("nfs nas:/shop rw,vers=3,nolock,local_lock=all"));
    CHECK_FALSE(reach("nfs nas:/shop rw,vers=3,local_lock=flock"));
    CHECK(reach("nfs nas:/shop rw,vers=3,local_lock=posix"));
    CHECK(reach("cifs //nas/shop rw,vers=3.1.1,cache=strict"));
    CHECK_FALSE(reach("cifs //nas/shop rw,vers=3.1.1,nobrl"));
    CHECK_FALSE(reach("fuse.sshfs shop@nas:/shop rw,user_id=0,group_id=0"));
    CHECK_FALSE(reach("fuse.rclone nas: rw"));
    // Disks of this computer, and what is not in the list.
    CHECK(reach("fuseblk /dev/sdb1 rw,user_id=0"));
    CHECK(reach("ext4 /dev/sdb1 rw"));
    CHECK(locksReachOthers("36 22 0:51 / /mnt rw - nfs nas:/shop rw,nolock", 0, 52));
    CHECK(locksReachOthers("", 0, 51));
}

TEST_CASE("a lock that another computer would not see is refused with the reason") {
    const test::TempDir dir;
    FileCalls calls = systemFileCalls();
    CHECK_NOTHROW(FileLock(dir / "lock", 0, calls));
    calls.locksReachOthers = [](int) { return false; };
    CHECK_THROWS_WITH(FileLock(dir / "lock", 0, calls), Contains("a share whose locks do not reach"));
}
