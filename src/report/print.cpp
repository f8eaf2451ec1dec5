// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

#include "process.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/report.h"
#include "shimsight/words.h"

namespace fs = std::filesystem;

namespace shimsight {
namespace {

constexpr auto kPatience = std::chrono::seconds(60);
constexpr std::int64_t kMaxPdfBytes = 100'000'000;

/// A folder of its own that goes with everything in it.
class WorkFolder {
public:
    WorkFolder() {
        std::string name = (fs::temp_directory_path() / "shimsight-print-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr)
            throw InputError(message("report.no-folder-for-printing", name, std::generic_category().message(errno)));
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

/// Without input and output, and with all processes of the browser ended when it takes too long. Throws InputError when
/// it cannot be started.
ProcessResult runQuietly(const fs::path& program, const std::vector<std::string>& arguments) {
    try {
        return runProcess(program, arguments, {.timeLimit = kPatience, .ownGroup = true});
    } catch (const std::system_error& error) {
        throw InputError(message("report.program-not-started", program.string(),
                                 std::generic_category().message(error.code().value())));
    }
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
    std::vector<std::string> words{"--headless",
                                   "--disable-gpu",
                                   "--disable-dev-shm-usage",
                                   "--no-first-run",
                                   "--user-data-dir=" + (work.path() / "profile").string(),
                                   "--no-pdf-header-footer",
                                   "--print-to-pdf=" + printed.string()};
    // Chromium refuses to run as root in its sandbox; the page is our own and may load nothing.
    if (::geteuid() == 0) words.emplace_back("--no-sandbox");
    words.push_back("file://" + page.string());
    const ProcessResult result = runQuietly(chromium, words);
    if (result.end != ProcessEnd::Exited) throw InputError(message("report.printing-too-slow", chromium.string()));
    std::error_code ignored;
    if (result.status != 0 || !fs::exists(printed, ignored))
        throw InputError(message("report.printing-failed", chromium.string()));
    writeFileAtomically(pdf, readFile(printed, kMaxPdfBytes));
}

}  // namespace shimsight
