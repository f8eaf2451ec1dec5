// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <ctime>
#include <filesystem>

#include "cli/args.h"
#include "cli/commands.h"
#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/files.h"
#include "shimsight/report.h"
#include "shimsight/version.h"
#include "shimsight/words.h"

namespace shimsight::cli {
namespace {

/// The time of the wall clock, as the sheet shows it.
std::string localTimeText() {
    const std::time_t now = std::time(nullptr);
    std::tm local{};
    if (localtime_r(&now, &local) == nullptr) return {};
    return formatted("%04d-%02d-%02d %02d:%02d:%02d", local.tm_year + 1900, local.tm_mon + 1, local.tm_mday,
                     local.tm_hour, local.tm_min, local.tm_sec);
}

}  // namespace

int runBuildSheet(const std::vector<std::string>& words) {
    std::vector<std::string> jobs;
    std::optional<std::string> htmlName, pdfName, cacheName;
    Args args("report", "Writes the build sheet of a job: what the shop hands to its customer.");
    args.words("JOB", jobs, 1, "the job's folder");
    args.text("--html", htmlName, "FILE", "write one HTML file; it prints on A4 and US Letter");
    args.text("--pdf", pdfName, "FILE", "write a PDF; needs Chromium on this machine");
    args.text("--cache", cacheName, "DIR", "keep what was read here (else in shimsight/review of the user's cache)");
    args.footer("The sheet holds what the job record holds; fill it in with shimsight job.");
    if (!args.parse(words)) return kDone;
    if (jobs.size() > 1) throw UsageError(say("cli.one-job-only"));
    if (!htmlName && !pdfName) throw UsageError(say("cli.sheet-without-target"));
    std::filesystem::path chromium;
    for (const auto& name : {htmlName, pdfName})
        if (name) checkOutput(*name);
    if (pdfName) {
        chromium = findChromium();
        if (chromium.empty()) throw InputError(message("cli.sheet-without-chromium"));
    }
    std::filesystem::path folder = std::filesystem::path(jobs.front()).lexically_normal();
    if (!folder.has_filename() && folder.has_parent_path()) folder = folder.parent_path();
    const OpenedJob opened = openJob(folder);
    for (const std::string& warning : opened.warnings) note(warning);
    Progress progress;
    progress.show(say("cli.reading-photos-of-job"));
    const ReviewedJob reviewed =
        reviewJob(folder, cacheName ? std::filesystem::path(*cacheName) : defaultReviewCache());
    const std::string html =
        buildSheetHtml(opened.record, reviewed,
                       {localTimeText(), folder.filename().string(), SHIMSIGHT_VERSION, shownUnits(), settings().shop});
    if (htmlName) writeOutput(*htmlName, {reinterpret_cast<const std::uint8_t*>(html.data()), html.size()});
    if (pdfName) {
        progress.show(say("cli.printing"));
        writePdf(html, *pdfName, chromium);
    }
    progress.wipe();
    for (const auto& name : {htmlName, pdfName})
        if (name) printText(say("cli.wrote", *name) + "\n");
    return kDone;
}

}  // namespace shimsight::cli
