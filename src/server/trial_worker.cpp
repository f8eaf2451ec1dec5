// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/trial_worker.h"

#include <linux/filter.h>
#include <linux/seccomp.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstddef>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <optional>
#include <system_error>

#include "process.h"
#include "server/changes.h"
#include "server/job_repository.h"
#include "server/json_text.h"
#include "server/looked.h"
#include "server/uploads.h"
#include "shimsight/core.h"
#include "shimsight/server.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

/// An answer is some kilobytes.
constexpr std::size_t kMaxAnswerBytes = 10'000'000;
constexpr std::int64_t kMaxTaskBytes = 20'000'000;

/// From here on: so much memory and time, no network, no other program. What a system does not offer is gone without.
void confine() {
    // Ends with the server: what was accepted is read at the next start.
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
#ifndef SHIMSIGHT_SANITIZED  // they set aside more addresses than that
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

ProcessResult runWorker(const fs::path& program, const std::string& task) {
    try {
        return runProcess(
            program, {"read-trial"},
            {.timeLimit = kMaxTrialTime, .input = task, .maxOutputBytes = kMaxAnswerBytes, .errorsShown = true});
    } catch (const std::system_error& error) {
        throw InputError(message("server.reading-not-started", std::generic_category().message(error.code().value())));
    }
}

}  // namespace

std::string doTask(const TrialTask& task, Uploads& uploads, const JobRepository& repository) {
    const std::optional<fs::path> folder = repository.find(task.request.job);
    if (!folder) throw InputError(message("server.no-such-job"));
    if (task.request.kind == kLookKind) return look(*folder, task.request, uploads);
    if (task.request.kind == kCorrectKind) return correct(*folder, task.request, repository);
    return readTrial(*folder, task.request, uploads, repository);
}

std::string readTrialApart(const fs::path& program, const TrialTask& task) {
    const ProcessResult result = runWorker(program, taskText(task));
    if (result.end != ProcessEnd::Exited) throw InputError(message("server.reading-too-long", kMaxTrialTime.count()));
    const json told = json::parse(result.output, nullptr, false);
    if (result.status != 0 || !told.is_object()) throw InputError(message("server.reading-broke-off"));
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
        const JobRepository repository(task.jobs, task.gearSets, own, OpenedBy::Worker);
        answer = {{"answer", json::parse(doTask(task, uploads, repository))}};
    } catch (const InputError& error) {
        answer = {{"error", error.what()}};
    } catch (const std::bad_alloc&) {
        answer = {{"error", say("server.not-enough-memory")}};
    }
    const std::string told = jsonText(answer);
    return std::fwrite(told.data(), 1, told.size(), stdout) == told.size() && std::fflush(stdout) == 0 ? 0 : 1;
}

}  // namespace shimsight
