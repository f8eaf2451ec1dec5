// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "process.h"

#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cerrno>
#include <chrono>
#include <fstream>
#include <string>
#include <system_error>
#include <thread>

#include "support/temp_dir.h"

using namespace shimsight;
using namespace std::chrono_literals;

namespace {

/// For programs that end by themselves.
constexpr auto kLong = 60s;

ProcessResult shell(const std::string& script, const ProcessOptions& options) {
    return runProcess("/bin/sh", {"-c", script}, options);
}

bool noChildLeft() { return ::waitpid(-1, nullptr, WNOHANG) < 0 && errno == ECHILD; }

/// Gone, or ended and only not yet asked for by its parent.
bool hasEnded(pid_t process) {
    std::ifstream file("/proc/" + std::to_string(process) + "/stat");
    std::string number, name, state;
    return !(file >> number >> name >> state) || state == "Z";
}

}  // namespace

TEST_CASE("a program gets its input, and its output and status come back", "[process]") {
    const ProcessResult result =
        shell("cat; echo not this >&2; exit 3", {.timeLimit = kLong, .input = "two\nlines\n", .maxOutputBytes = 100});
    CHECK(result.end == ProcessEnd::Exited);
    CHECK(result.status == 3);
    CHECK(result.output == "two\nlines\n");
    CHECK(noChildLeft());
}

TEST_CASE("more passes through a program than a pipe holds", "[process]") {
    std::string much;
    while (much.size() < 2'000'000) much += std::to_string(much.size()) + "\n";
    const ProcessResult result =
        runProcess("/bin/cat", {}, {.timeLimit = kLong, .input = much, .maxOutputBytes = much.size()});
    CHECK(result.status == 0);
    CHECK(result.output == much);
}

TEST_CASE("a program need not read its input", "[process]") {
    struct sigaction before {};
    REQUIRE(::sigaction(SIGPIPE, nullptr, &before) == 0);
    REQUIRE(before.sa_handler == SIG_DFL);  // else a signal would not end this test
    const std::string much(1'000'000, 'x');
    const ProcessResult result = shell("echo done", {.timeLimit = kLong, .input = much, .maxOutputBytes = 100});
    CHECK(result.status == 0);
    CHECK(result.output == "done\n");
    // It closed its input and lives on.
    CHECK(shell("exec <&-; sleep 0.2; exit 4", {.timeLimit = kLong, .input = much}).status == 4);
}

TEST_CASE("without input and output a program finds nothing and is not heard", "[process]") {
    const ProcessResult result = shell("[ -z \"$(cat)\" ] && echo unheard && exit 5", {.timeLimit = kLong});
    CHECK(result.status == 5);
    CHECK(result.output.empty());
}

TEST_CASE("the arguments arrive as they are, and PATH is not searched", "[process]") {
    const ProcessResult result = runProcess("/bin/sh", {"-c", "printf '<%s>' \"$0\" \"$@\"", "a b", "", "*"},
                                            {.timeLimit = kLong, .maxOutputBytes = 100});
    CHECK(result.output == "<a b><><*>");
    try {
        runProcess("sh", {}, {.timeLimit = kLong});
        FAIL("there is no such file in this folder");
    } catch (const std::system_error& error) {
        CHECK(error.code() == std::errc::no_such_file_or_directory);
    }
    CHECK(noChildLeft());
}

TEST_CASE("a program that dies of a signal says so in its status", "[process]") {
    CHECK(shell("kill -9 $$", {.timeLimit = kLong}).status == 128 + SIGKILL);
}

TEST_CASE("a program that takes too long is ended", "[process]") {
    // Silent, talking, not reading, and with its output closed: the time is over in each way to wait.
    const auto options =
        GENERATE(ProcessOptions{.timeLimit = 300ms}, ProcessOptions{.timeLimit = 300ms, .maxOutputBytes = 100},
                 ProcessOptions{.timeLimit = 300ms, .input = std::string(1'000'000, 'x')});
    const char* script = GENERATE("exec sleep 60", "echo first; exec sleep 60", "exec >&-; exec sleep 60");
    INFO(script);
    const auto start = std::chrono::steady_clock::now();
    const ProcessResult result = shell(script, options);
    CHECK(result.end == ProcessEnd::TimeOver);
    CHECK(std::chrono::steady_clock::now() - start < 30s);
    CHECK(std::chrono::steady_clock::now() - start >= 300ms);
    CHECK(noChildLeft());
}

TEST_CASE("what it started ends with it where it has a group of its own", "[process]") {
    const test::TempDir dir;
    const std::string note = (dir / "process").string();
    const ProcessResult result = shell("sleep 60 & echo $! > " + note + "; wait", {.timeLimit = 1s, .ownGroup = true});
    CHECK(result.end == ProcessEnd::TimeOver);
    pid_t grandchild = 0;
    REQUIRE(std::ifstream(note) >> grandchild);
    for (int i = 0; i < 500 && !hasEnded(grandchild); ++i) std::this_thread::sleep_for(10ms);
    CHECK(hasEnded(grandchild));
}

TEST_CASE("a program that says too much is ended", "[process]") {
    const ProcessResult result = shell("exec yes", {.timeLimit = kLong, .maxOutputBytes = 10'000});
    CHECK(result.end == ProcessEnd::TooMuchOutput);
    CHECK(result.output.substr(0, 4) == "y\ny\n");
    CHECK(result.output.size() < 1'000'000);
    CHECK(noChildLeft());
}
