// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/trial_worker.h"

#include <fcntl.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstddef>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <optional>
#include <system_error>

#include "server/changes.h"
#include "server/json_text.h"
#include "server/looked.h"
#include "server/shelf.h"
#include "server/uploads.h"
#include "shimsight/core.h"
#include "shimsight/server.h"
#include "shimsight/words.h"

extern char** environ;  // NOLINT(readability-redundant-declaration)

namespace shimsight::server {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

/// An answer is some kilobytes.
constexpr std::size_t kMaxAnswerBytes = 10'000'000;
constexpr std::int64_t kMaxTaskBytes = 20'000'000;

/// Both ends of a pipe, closed when they are left; no other program started meanwhile keeps them open.
struct Pipe {
    std::array<int, 2> ends{-1, -1};
    Pipe() {
        if (::pipe2(ends.data(), O_CLOEXEC) != 0)
            throw InputError(say("server.reading-not-started", std::generic_category().message(errno)));
    }
    ~Pipe() {
        close(0);
        close(1);
    }
    Pipe(const Pipe&) = delete;
    Pipe& operator=(const Pipe&) = delete;
    void close(std::size_t end) {
        if (ends[end] >= 0) ::close(ends[end]);
        ends[end] = -1;
    }
};

/// A process that was started and is ended where it does not end by itself.
class Child {
public:
    Child(const fs::path& program, const Pipe& in, const Pipe& out) {
        std::string name = program.string(), command = "read-trial";
        std::array<char*, 3> words{name.data(), command.data(), nullptr};
        posix_spawn_file_actions_t actions;
        ::posix_spawn_file_actions_init(&actions);
        ::posix_spawn_file_actions_adddup2(&actions, in.ends[0], STDIN_FILENO);
        ::posix_spawn_file_actions_adddup2(&actions, out.ends[1], STDOUT_FILENO);
        const int error = ::posix_spawn(&id_, name.c_str(), &actions, nullptr, words.data(), environ);
        ::posix_spawn_file_actions_destroy(&actions);
        if (error != 0) throw InputError(say("server.reading-not-started", std::generic_category().message(error)));
    }
    ~Child() {
        if (id_ == 0) return;
        ::kill(id_, SIGKILL);
        (void)ended();
    }
    Child(const Child&) = delete;
    Child& operator=(const Child&) = delete;

    /// Whether it ended by itself and well; waits for its end.
    bool ended() {
        int status = 0;
        while (::waitpid(id_, &status, 0) < 0 && errno == EINTR) {
        }
        id_ = 0;
        return WIFEXITED(status) && WEXITSTATUS(status) == 0;
    }

private:
    pid_t id_ = 0;
};

/// Moves bytes until `done`, or until the time is over: false.
bool waitFor(int file, short wanted, std::chrono::steady_clock::time_point until) {
    while (true) {
        const auto left =
            std::chrono::duration_cast<std::chrono::milliseconds>(until - std::chrono::steady_clock::now()).count();
        if (left <= 0) return false;
        pollfd one{file, wanted, 0};
        const int ready = ::poll(&one, 1, static_cast<int>(left));
        if (ready > 0) return true;
        if (ready < 0 && errno != EINTR) return true;  // the next call tells what is wrong
    }
}

/// False: the time is over.
bool sendAll(int file, const std::string& text, std::chrono::steady_clock::time_point until) {
    std::size_t sent = 0;
    while (sent < text.size()) {
        if (!waitFor(file, POLLOUT, until)) return false;
        const ssize_t now = ::write(file, text.data() + sent, text.size() - sent);
        if (now < 0 && errno != EINTR && errno != EAGAIN) return true;  // it ended: its answer says why
        if (now > 0) sent += static_cast<std::size_t>(now);
    }
    return true;
}

/// nullopt: the time is over, or it is too much.
std::optional<std::string> receiveAll(int file, std::chrono::steady_clock::time_point until) {
    std::string text;
    std::array<char, 65536> part{};
    while (text.size() <= kMaxAnswerBytes) {
        if (!waitFor(file, POLLIN, until)) return std::nullopt;
        const ssize_t now = ::read(file, part.data(), part.size());
        if (now == 0) return text;
        if (now < 0 && errno != EINTR && errno != EAGAIN) return text;
        if (now > 0) text.append(part.data(), static_cast<std::size_t>(now));
    }
    return std::nullopt;
}

/// From here on: so much memory and time, no network, no other program. What a system does not offer is gone without.
void confine() {
    // Ends with the server: what was accepted is read at the next start.
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
    const rlimit memory{kMaxTrialBytes, kMaxTrialBytes};
    ::setrlimit(RLIMIT_AS, &memory);
#endif
    // Processor time of all threads together.
    const rlimit time{static_cast<rlim_t>(kMaxTrialTime.count()) * 4, static_cast<rlim_t>(kMaxTrialTime.count()) * 4};
    ::setrlimit(RLIMIT_CPU, &time);
    const rlimit none{0, 0};
    ::setrlimit(RLIMIT_CORE, &none);
    ::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    constexpr auto offset = [](std::size_t field) { return static_cast<std::uint32_t>(field); };
    constexpr std::uint32_t kRefuse = SECCOMP_RET_ERRNO | EPERM;
    // Each call in turn: is it one of these, it fails.
    std::array filter{
        sock_filter BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offset(offsetof(seccomp_data, nr))),
        sock_filter BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, __NR_socket, 4, 0),
        sock_filter BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, __NR_execve, 3, 0),
        sock_filter BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, __NR_execveat, 2, 0),
        sock_filter BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, __NR_ptrace, 1, 0),
        sock_filter BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        sock_filter BPF_STMT(BPF_RET | BPF_K, kRefuse),
    };
    const sock_fprog program{static_cast<unsigned short>(filter.size()), filter.data()};
    ::prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program, 0, 0);
}

std::string taskText(const TrialTask& task) {
    json gearSets = json::array();
    for (const fs::path& folder : task.gearSets) gearSets.push_back(folder.string());
    return jsonText({{"jobs", task.jobs.string()},
                     {"gear_sets", gearSets},
                     {"id", task.request.id},
                     {"kind", task.request.kind},
                     {"job", task.request.job},
                     {"at", task.request.at},
                     {"body", task.request.body}});
}

TrialTask taskOf(const std::string& text) {
    const json sent = json::parse(text);
    Request request;
    request.id = sent.at("id").get<std::string>();
    request.kind = sent.at("kind").get<std::string>();
    request.job = sent.at("job").get<std::string>();
    request.at = sent.at("at").get<std::string>();
    request.body = sent.at("body").get<std::string>();
    TrialTask task;
    task.jobs = sent.at("jobs").get<std::string>();
    for (const json& folder : sent.at("gear_sets")) task.gearSets.emplace_back(folder.get<std::string>());
    task.request = std::move(request);
    return task;
}

/// From {upload, side}.
std::string look(const fs::path& folder, const Request& request, const Uploads& uploads) {
    const json body = json::parse(request.body);
    const std::string side = body.value("side", std::string());
    const std::optional<Side> wanted = side == name(Side::Drive)   ? std::optional(Side::Drive)
                                       : side == name(Side::Coast) ? std::optional(Side::Coast)
                                                                   : std::nullopt;
    return lookAt(uploads, body.at("upload").get<std::string>(), openJob(folder).record.gearSet, wanted);
}

}  // namespace

std::string doTask(const TrialTask& task, Uploads& uploads, const Shelf& shelf) {
    const std::optional<fs::path> folder = shelf.find(task.request.job);
    if (!folder) throw InputError(say("server.no-such-job"));
    if (task.request.kind == kLookKind) return look(*folder, task.request, uploads);
    if (task.request.kind == kCorrectKind) return correct(*folder, task.request, shelf);
    return readTrial(*folder, task.request, uploads, shelf);
}

std::string readTrialApart(const fs::path& program, const TrialTask& task) {
    Pipe in, out;
    Child child(program, in, out);
    in.close(0);
    out.close(1);
    const auto until = std::chrono::steady_clock::now() + kMaxTrialTime;
    const std::string text = taskText(task);
    ::fcntl(in.ends[1], F_SETFL, O_NONBLOCK);
    std::optional<std::string> answer;
    if (sendAll(in.ends[1], text, until)) {
        in.close(1);
        answer = receiveAll(out.ends[0], until);
    }
    if (!answer) throw InputError(say("server.reading-too-long", kMaxTrialTime.count()));
    const bool well = child.ended();
    const json told = json::parse(*answer, nullptr, false);
    if (!well || !told.is_object()) throw InputError(say("server.reading-broke-off"));
    if (told.contains("error")) throw InputError(told.at("error").get<std::string>());
    return jsonText(told.at("answer"));
}

}  // namespace shimsight::server

namespace shimsight {

int workOnTrial() {
    using namespace server;
    std::string text;
    std::array<char, 65536> part{};
    while (static_cast<std::int64_t>(text.size()) <= kMaxTaskBytes) {
        const ssize_t now = ::read(STDIN_FILENO, part.data(), part.size());
        if (now <= 0) break;
        text.append(part.data(), static_cast<std::size_t>(now));
    }
    json answer;
    try {
        const TrialTask task = taskOf(text);
        confine();
        const fs::path own = task.jobs / kOwnFolder;
        Uploads uploads(own / "uploads", kMaxPhotoBytes, [](const std::string&) { return true; });
        const Shelf shelf(task.jobs, task.gearSets, own, OpenedBy::Worker);
        answer = {{"answer", json::parse(doTask(task, uploads, shelf))}};
    } catch (const InputError& error) {
        answer = {{"error", error.what()}};
    } catch (const std::bad_alloc&) {
        answer = {{"error", say("server.not-enough-memory")}};
    }
    const std::string told = jsonText(answer);
    return std::fwrite(told.data(), 1, told.size(), stdout) == told.size() && std::fflush(stdout) == 0 ? 0 : 1;
}

}  // namespace shimsight
