// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <string>
#include <system_error>
#include <thread>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/report.h"
#include "shimsight/words.h"

extern char** environ;  // NOLINT(readability-redundant-declaration)

namespace fs = std::filesystem;

namespace shimsight {
namespace {

constexpr auto kPatience = std::chrono::seconds(60);
constexpr auto kLookEvery = std::chrono::milliseconds(50);
constexpr std::int64_t kMaxPdfBytes = 100'000'000;

/// A folder of its own that goes with everything in it.
class WorkFolder {
public:
    WorkFolder() {
        std::string name = (fs::temp_directory_path() / "shimsight-print-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr)
            throw InputError(say("report.no-folder-for-printing", name, std::generic_category().message(errno)));
        path_ = name;
    }
    ~WorkFolder() {
        std::error_code ignored;
        fs::remove_all(path_, ignored);
    }
    WorkFolder(const WorkFolder&) = delete;
    WorkFolder& operator=(const WorkFolder&) = delete;
    const fs::path& path() const { return path_; }

private:
    fs::path path_;
};

/// Runs the program in a process group of its own, without input and output. Its exit status; nullopt: not done in
/// time, and ended. Throws InputError when it cannot be started.
std::optional<int> runQuietly(const std::vector<std::string>& words) {
    std::vector<char*> arguments;
    for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    ::posix_spawn_file_actions_init(&actions);
    ::posix_spawnattr_init(&attributes);
    for (const int file : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
        ::posix_spawn_file_actions_addopen(&actions, file, "/dev/null", file == STDIN_FILENO ? O_RDONLY : O_WRONLY, 0);
    ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);
    ::posix_spawnattr_setpgroup(&attributes, 0);
    pid_t child = 0;
    const int error = ::posix_spawn(&child, words.front().c_str(), &actions, &attributes, arguments.data(), environ);
    ::posix_spawn_file_actions_destroy(&actions);
    ::posix_spawnattr_destroy(&attributes);
    if (error != 0)
        throw InputError(say("report.program-not-started", words.front(), std::generic_category().message(error)));
    const auto end = std::chrono::steady_clock::now() + kPatience;
    int status = 0;
    while (true) {
        const pid_t done = ::waitpid(child, &status, WNOHANG);
        if (done == child) return WIFEXITED(status) ? WEXITSTATUS(status) : 128;
        if (done < 0 && errno != EINTR) return 128;
        if (std::chrono::steady_clock::now() > end) break;
        std::this_thread::sleep_for(kLookEvery);
    }
    ::kill(-child, SIGKILL);
    ::waitpid(child, &status, 0);
    return std::nullopt;
}

}  // namespace

fs::path findChromium() {
    const char* path = std::getenv("PATH");  // NOLINT(concurrency-mt-unsafe)
    if (path == nullptr) return {};
    const std::string folders = path;
    for (const char* name : {"chromium", "chromium-browser"}) {
        for (std::size_t start = 0; start <= folders.size();) {
            const std::size_t end = std::min(folders.find(':', start), folders.size());
            fs::path program = fs::path(folders.substr(start, end - start)) / name;
            std::error_code ignored;
            if (end > start && fs::is_regular_file(program, ignored) && ::access(program.c_str(), X_OK) == 0)
                return program;
            start = end + 1;
        }
    }
    return {};
}

void writePdf(const std::string& html, const fs::path& pdf, const fs::path& chromium) {
    const WorkFolder work;
    const fs::path page = work.path() / "sheet.html", printed = work.path() / "sheet.pdf";
    writeFileAtomically(page, {reinterpret_cast<const std::uint8_t*>(html.data()), html.size()});
    std::vector<std::string> words{chromium.string(),        "--headless",
                                   "--disable-gpu",          "--disable-dev-shm-usage",
                                   "--no-first-run",         "--user-data-dir=" + (work.path() / "profile").string(),
                                   "--no-pdf-header-footer", "--print-to-pdf=" + printed.string()};
    // Chromium refuses to run as root in its sandbox; the page is our own and may load nothing.
    if (::geteuid() == 0) words.emplace_back("--no-sandbox");
    words.push_back("file://" + page.string());
    const std::optional<int> status = runQuietly(words);
    if (!status) throw InputError(say("report.printing-too-slow", chromium.string()));
    std::error_code ignored;
    if (*status != 0 || !fs::exists(printed, ignored))
        throw InputError(say("report.printing-failed", chromium.string()));
    writeFileAtomically(pdf, readFile(printed, kMaxPdfBytes));
}

}  // namespace shimsight
