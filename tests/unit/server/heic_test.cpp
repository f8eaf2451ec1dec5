// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// HEIC costs a decode wherever it is cleaned: that is for the workers, of which there are few, never for an upload.
#include "bench.h"
#include "shimsight/job.h"
#include "unit/photo/fixtures.h"

using namespace shimsight;

TEST_CASE("an HEIC upload is kept as it came, and decoded by a reader alone") {
    if (!test::hasHevcEncoder()) {
        WARN("no HEVC encoder here: not tested");
        return;
    }
    test::ServerBench bench;
    const std::string job = bench.newJob();
    const test::Bytes heic = test::makeHeic(test::strips(96, 64));
    const std::string text(heic.begin(), heic.end());
    REQUIRE(bench.put(test::idOf(7), 0, static_cast<std::int64_t>(text.size()), text).status == 200);
    int kept = 0;
    for (const auto& entry : std::filesystem::directory_iterator(bench.options.jobs / ".shimsight-server/uploads"))
        kept += readFile(entry.path(), 1'000'000) == heic;
    CHECK(kept == 1);
    const nlohmann::json body = {{"photos", {{{"upload", test::idOf(7)}, {"side", "drive"}}}}};
    REQUIRE(bench.post("/api/jobs/" + job + "/trials", body, 8).status == 202);
    CHECK(bench.finished(8).at("state") == "done");
    const JobRecord record = openJob(bench.options.jobs / job).record;
    REQUIRE(record.trials.size() == 1);
    CHECK(record.trials[0].photos.at(0).reencoded);
    CHECK(record.trials[0].photos.at(0).file.ends_with(".jpg"));
}
