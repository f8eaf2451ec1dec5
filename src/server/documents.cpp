// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/documents.h"

#include <array>
#include <chrono>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/html.h"
#include "shimsight/report.h"
#include "shimsight/review.h"
#include "shimsight/version.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kMaxPageBytes = 60'000'000;  ///< a hundred trials with their pictures have 12 MB

std::string reviewPage(const fs::path& folder, const fs::path& own, Units units) {
    const ReviewPlan plan = planReview({folder});
    // The page is written as a file by those who make it; its name is this program's alone.
    const fs::path file = own / (std::string(kReviewPage) + randomHex(8) + ".html");
    std::vector<fs::path> written;
    const auto takeAway = [&] {
        std::error_code ignored;
        for (const fs::path& one : written) fs::remove(one, ignored);
    };
    try {
        ReviewPages pages(file, units);
        ReviewOptions options;
        options.cache = own / "review";
        const ReviewSummary summary = runReview(plan, options, [&](const ReviewedJob& job) { pages.add(job); });
        written = pages.finish(summary);
        const std::vector<std::uint8_t> bytes = readFile(written.front(), kMaxPageBytes);
        takeAway();
        return {bytes.begin(), bytes.end()};
    } catch (...) {
        takeAway();
        throw;
    }
}

std::string shortTime() {
    constexpr std::size_t kDay = 10, kClock = 11, kMinutes = 5;
    const std::string now = timeNow();
    return now.substr(0, kDay) + " " + now.substr(kClock, kMinutes);
}

}  // namespace

namespace {

/// A sheet is mostly printed: the button for it is on the page, and not on the paper.
std::string withPrintButton(std::string page) {
    Html button =
        "<style>.print-it{position:fixed;right:1rem;bottom:1rem;min-height:3rem;padding:0 1.2rem;font:600 1rem "
        "sans-serif;border:2px solid currentColor;border-radius:.6rem;background:#fff;color:#0b4f7d}@media "
        "print{.print-it{display:none}}</style><button class=\"print-it\" type=\"button\" "
        "onclick=\"window.print()\">";
    button += say("server.print-it");
    button += "</button>";
    const std::size_t end = page.rfind("</body>");
    page.insert(end == std::string::npos ? page.size() : end, button.str());
    return page;
}

std::string sheetPage(const fs::path& folder, const fs::path& own, const Settings& settings) {
    return buildSheetHtml(openJob(folder).record, reviewJob(folder, own / "review"),
                          {shortTime(), folder.filename().string(), SHIMSIGHT_VERSION, settings.units, settings.shop});
}

std::string sheetPdf(const fs::path& folder, const fs::path& own, const Settings& settings) {
    const fs::path file = own / ("sheet-" + randomHex(8) + ".pdf");
    writePdf(sheetPage(folder, own, settings), file, findChromium());
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxPageBytes);
    std::error_code ignored;
    fs::remove(file, ignored);
    return {bytes.begin(), bytes.end()};
}

}  // namespace

std::vector<std::string> documentKinds() {
    std::vector<std::string> kinds{"review", "sheet"};
    if (!findChromium().empty()) kinds.emplace_back("sheet-pdf");
    return kinds;
}

MadeDocument makeDocumentOf(const fs::path& folder, const fs::path& own, const std::string& kind,
                            const Settings& settings) {
    if (kind == "review") return {std::string(kPageType), reviewPage(folder, own, settings.units)};
    if (kind == "sheet-pdf") return {std::string(kPdfType), sheetPdf(folder, own, settings)};
    check(kind == "sheet", "a document of no known kind was asked for");
    return {std::string(kPageType), withPrintButton(sheetPage(folder, own, settings))};
}

}  // namespace shimsight::server
