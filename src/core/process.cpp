// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "process.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <string_view>
#include <system_error>
#include <thread>

extern char** environ;  // NOLINT(readability-redundant-declaration)

namespace shimsight {
namespace {

using Clock = std::chrono::steady_clock;

/// How often is looked whether a program has ended: at once, then more and more seldom.
constexpr std::chrono::milliseconds kFirstLook{1}, kLastLook{50};

[[noreturn]] void fail(int code, const std::string& what) {
    throw std::system_error(code, std::generic_category(), what);
}

/// Both ends of a pipe, closed when they are left; no other program started meanwhile keeps them open.
class Pipe {
public:
    Pipe() {
        if (::pipe2(ends_.data(), O_CLOEXEC) != 0) fail(errno, "pipe");
    }
    ~Pipe() {
        closeReading();
        closeWriting();
    }
    Pipe(const Pipe&) = delete;
    Pipe& operator=(const Pipe&) = delete;
    int reading() const { return ends_[0]; }
    int writing() const { return ends_[1]; }
    void closeReading() { close(ends_[0]); }
    void closeWriting() { close(ends_[1]); }

private:
    static void close(int& end) {
        if (end >= 0) ::close(end);
        end = -1;
    }
    std::array<int, 2> ends_{-1, -1};
};

/// Writing to a program that has ended is an error of this thread, and no signal that ends the whole process.
class NoBrokenPipeSignal {
public:
    NoBrokenPipeSignal() {
        ::sigemptyset(&pipe_);
        ::sigaddset(&pipe_, SIGPIPE);
        sigset_t pending;
        ::sigpending(&pending);
        wasPending_ = ::sigismember(&pending, SIGPIPE) == 1;
        ::pthread_sigmask(SIG_BLOCK, &pipe_, &before_);
    }
    ~NoBrokenPipeSignal() {
        const timespec atOnce{};
        if (!wasPending_) {
            while (::sigtimedwait(&pipe_, nullptr, &atOnce) < 0 && errno == EINTR) {
            }
        }
        ::pthread_sigmask(SIG_SETMASK, &before_, nullptr);
    }
    NoBrokenPipeSignal(const NoBrokenPipeSignal&) = delete;
    NoBrokenPipeSignal& operator=(const NoBrokenPipeSignal&) = delete;

private:
    sigset_t pipe_{}, before_{};
    bool wasPending_ = false;
};

/// A process that was started, and is ended where it does not end by itself.
class Child {
public:
    Child(const std::filesystem::path& program, const std::vector<std::string>& arguments,
          const ProcessOptions& options, const Pipe& in, const Pipe& out)
        : ownGroup_(options.ownGroup) {
        std::vector<std::string> words{program.string()};
        words.insert(words.end(), arguments.begin(), arguments.end());
        std::vector<char*> pointers;
        for (std::string& word : words) pointers.push_back(word.data());
        pointers.push_back(nullptr);
        posix_spawn_file_actions_t actions;
        posix_spawnattr_t attributes;
        ::posix_spawn_file_actions_init(&actions);
        ::posix_spawnattr_init(&attributes);
        if (options.input.empty())
            ::posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
        else
            ::posix_spawn_file_actions_adddup2(&actions, in.reading(), STDIN_FILENO);
        if (options.maxOutputBytes == 0)
            ::posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
        else
            ::posix_spawn_file_actions_adddup2(&actions, out.writing(), STDOUT_FILENO);
        if (!options.errorsShown) ::posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
        if (ownGroup_) {
            ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);
            ::posix_spawnattr_setpgroup(&attributes, 0);
        }
        const int error = ::posix_spawn(&id_, words.front().c_str(), &actions, &attributes, pointers.data(), environ);
        ::posix_spawn_file_actions_destroy(&actions);
        ::posix_spawnattr_destroy(&attributes);
        if (error != 0) {
            id_ = 0;
            fail(error, words.front());
        }
    }
    ~Child() {
        if (id_ == 0) return;
        ::kill(ownGroup_ ? -id_ : id_, SIGKILL);
        int status = 0;
        while (::waitpid(id_, &status, 0) < 0 && errno == EINTR) {
        }
    }
    Child(const Child&) = delete;
    Child& operator=(const Child&) = delete;

    /// What it ended with; nullopt: it runs still at `end`.
    std::optional<int> endedBy(Clock::time_point end) {
        for (auto pause = kFirstLook;; pause = std::min(2 * pause, kLastLook)) {
            int status = 0;
            const pid_t done = ::waitpid(id_, &status, WNOHANG);
            if (done == id_) {
                id_ = 0;
                return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
            }
            if (done < 0 && errno != EINTR) {
                // Somebody else took its status.
                id_ = 0;
                return 128;
            }
            if (Clock::now() > end) return std::nullopt;
            std::this_thread::sleep_for(pause);
        }
    }

private:
    pid_t id_ = 0;
    bool ownGroup_;
};

/// What is still to be sent to a program and what came of it.
struct Exchange {
    Pipe& in;
    Pipe& out;
    std::string_view unsent;
    std::string received;

    bool over() const { return in.writing() < 0 && out.reading() < 0; }

    void send() {
        const NoBrokenPipeSignal quiet;
        const ssize_t sent = ::write(in.writing(), unsent.data(), unsent.size());
        if (sent > 0) unsent.remove_prefix(static_cast<std::size_t>(sent));
        // Where it has closed its input or ended, its answer says why.
        if (unsent.empty() || (sent < 0 && errno != EINTR && errno != EAGAIN)) in.closeWriting();
    }

    void receive() {
        std::array<char, 65536> part{};
        const ssize_t now = ::read(out.reading(), part.data(), part.size());
        if (now > 0) received.append(part.data(), static_cast<std::size_t>(now));
        if (now == 0 || (now < 0 && errno != EINTR && errno != EAGAIN)) out.closeReading();
    }

    /// Whether something could be sent or received before `end`.
    bool step(Clock::time_point end) {
        const auto left = std::chrono::ceil<std::chrono::milliseconds>(end - Clock::now()).count();
        if (left <= 0) return false;
        // A number below 0 is passed over.
        std::array<pollfd, 2> ends{pollfd{in.writing(), POLLOUT, 0}, pollfd{out.reading(), POLLIN, 0}};
        const int ready = ::poll(ends.data(), ends.size(), static_cast<int>(left));
        if (ready < 0 && errno != EINTR) fail(errno, "poll");
        if (ready <= 0) return true;  // the time is looked at again
        if (ends[0].revents != 0) send();
        if (ends[1].revents != 0) receive();
        return true;
    }
};

}  // namespace

ProcessResult runProcess(const std::filesystem::path& program, const std::vector<std::string>& arguments,
                         const ProcessOptions& options) {
    const Clock::time_point end = Clock::now() + options.timeLimit;
    Pipe in, out;
    Child child(program, arguments, options, in, out);
    in.closeReading();
    out.closeWriting();
    if (options.input.empty()) in.closeWriting();
    if (options.maxOutputBytes == 0) out.closeReading();
    if (in.writing() >= 0) ::fcntl(in.writing(), F_SETFL, O_NONBLOCK);
    Exchange exchange{in, out, options.input, {}};
    while (!exchange.over()) {
        if (!exchange.step(end)) return {ProcessEnd::TimeOver, 0, std::move(exchange.received)};
        if (exchange.received.size() > options.maxOutputBytes)
            return {ProcessEnd::TooMuchOutput, 0, std::move(exchange.received)};
    }
    const std::optional<int> status = child.endedBy(end);
    if (!status) return {ProcessEnd::TimeOver, 0, std::move(exchange.received)};
    return {ProcessEnd::Exited, *status, std::move(exchange.received)};
}

}  // namespace shimsight
