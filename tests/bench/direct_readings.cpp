// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "direct_readings.h"

#include <chrono>

#include "shimsight/files.h"
#include "shimsight/job.h"

namespace shimsight::bench {

std::vector<std::string> samplePhotos(const std::filesystem::path& root) {
    std::vector<std::string> photos;
    for (const char* name : {"drive.jpg", "coast.jpg"}) {
        const std::vector<std::uint8_t> bytes = readFile(root / "samples/van-b-good" / name, 10'000'000);
        photos.emplace_back(bytes.begin(), bytes.end());
    }
    return photos;
}

double directReadings(const std::filesystem::path& root, int count, const std::filesystem::path& folder) {
    const std::string at = "2026-03-02T14:05:00+01:00";
    const std::vector<std::string> photos = samplePhotos(root);
    createJob(folder, newJob(jobGearSet(root / "models/gear-sets/lab-van-rear-axle-b.json"), "direct", "", "", at));
    const auto start = std::chrono::steady_clock::now();
    for (int i = 0; i < count; ++i) {
        NewTrial trial;
        trial.entry.stamp.at = at;
        trial.entry.backlashMm = 0.1778;
        for (const std::string& photo : photos) trial.photos.push_back({"photo", {photo.begin(), photo.end()}, {}});
        (void)recordTrial(folder, std::move(trial));
    }
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

}  // namespace shimsight::bench
