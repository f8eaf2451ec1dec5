#include "server/documents.h"

#include <array>
#include <chrono>

#include "server/guard.h"
#include "shimsight/core.h"
#include "shimsight/files.h"
#include "shimsight/report.h"
#include "shimsight/review.h"
#include "shimsight/version.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;

constexpr std::int64_t kMaxPageBytes = 60'000'000;  ///< a hundred trials with their pictures have 12 MB

std::string reviewPage(const fs::path& folder, const fs::path& own) {
    const ReviewPlan plan = planReview({folder});
    // The page is written as a file by those who make it; its name is this program's alone.
    const fs::path file = own / ("review-" + randomHex(8) + ".html");
    std::vector<fs::path> written;
    const auto takeAway = [&] {
        std::error_code ignored;
        for (const fs::path& one : written) fs::remove(one, ignored);
    };
    try {
        ReviewPages pages(file);
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

std::vector<std::string> documentKinds() { return {"review", "sheet"}; }

std::string makeDocumentHtml(const fs::path& folder, const fs::path& own, const std::string& kind) {
    if (kind == "review") return reviewPage(folder, own);
    check(kind == "sheet", "a document of no known kind was asked for");
    return buildSheetHtml(openJob(folder).record, reviewJob(folder, own / "review"),
                          {shortTime(), folder.filename().string(), SHIMSIGHT_VERSION});
}

}  // namespace shimsight::server
