// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "job_fixture.h"
#include "shimsight/photo.h"
#include "support/temp_dir.h"

using namespace shimsight;
using namespace shimsight::test;
using Catch::Matchers::Contains;

namespace {

/// A flank map with a mark of this middle and half of the flank's size.
FlankMap drawn(double toeHeel, double rootTip) {
    FlankMap map;
    map.contact.assign(static_cast<std::size_t>(kMapWidth) * kMapHeight, 0);
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double u = ((x + 0.5) / kMapWidth - toeHeel) / 0.27, v = (1 - (y + 0.5) / kMapHeight - rootTip) / 0.3;
            if (u * u + v * v < 1)
                map.contact[static_cast<std::size_t>(y) * kMapWidth + static_cast<std::size_t>(x)] = 255;
        }
    return map;
}

NewTrial drawnTrial(int minute, double toeHeel, double rootTip) {
    NewTrial trial;
    trial.entry.stamp = stampAt(minute);
    trial.entry.backlashMm = 0.2032;
    trial.entry.shimStackMm = 0.762;
    trial.drawnDrive = drawn(toeHeel, rootTip);
    trial.drawnCoast = drawn(toeHeel, rootTip);
    return trial;
}

}  // namespace

TEST_CASE("a trial drawn by hand is kept with its maps, and its advice learns from the trials before") {
    const TempDir dir;
    (void)createJob(dir / "j", labJob());
    const RecordedTrial first = recordTrial(dir / "j", drawnTrial(10, 0.45, 0.72));
    CHECK(first.id == "t1");
    CHECK(first.entry().origin == PatternOrigin::Drawn);
    REQUIRE(first.entry().measurement->advice);
    CHECK(first.entry().measurement->advice->trials == 1);
    const RecordedTrial second = recordTrial(dir / "j", drawnTrial(20, 0.45, 0.62));
    REQUIRE(second.entry().measurement->advice);
    CHECK(second.entry().measurement->advice->trials == 2);
    // The maps come back as they were drawn.
    const GreyPicture map = decodePngGrey(readFile(dir / "j" / *second.entry().drawnDrive, 1'000'000));
    CHECK(map.values == drawn(0.45, 0.62).contact);
    // The same advice as from the history outside the job.
    const Advice again = adviseJob(second.job.gearSet.data, historyOf(second.job), adviceOptionsOf(second.job));
    CHECK(again.shim.thicknessChangeMm == Approx(second.entry().measurement->advice->shim.thicknessChangeMm));
}

TEST_CASE("a trial whose photos cannot be read is kept with its refusals") {
    const TempDir dir;
    JobRecord ready = labJob();
    (void)addRunout(ready, {stampAt(1), RunoutPlace::RingGear, 0.05});
    (void)addPreload(ready, {stampAt(2), 1.7, {}, false});
    (void)createJob(dir / "j", ready);
    Picture grey{640, 480, std::vector<std::uint8_t>(std::size_t{3} * 640 * 480, 120)};
    NewTrial trial;
    trial.entry.stamp = stampAt(10);
    trial.photos.push_back({"wall.jpg", encodeJpeg(grey, 90), {}});
    trial.photos.push_back({"again.jpg", encodeJpeg(grey, 90), {}});
    const RecordedTrial kept = recordTrial(dir / "j", std::move(trial));
    CHECK(kept.entry().origin == PatternOrigin::None);
    CHECK_FALSE(kept.entry().hasPattern());
    REQUIRE(kept.entry().measurement->photos.size() == 1);
    CHECK(kept.entry().measurement->photos[0].refused);
    REQUIRE(kept.samePhotos.size() == 1);
    CHECK_THAT(kept.samePhotos[0], Contains("again.jpg: this is the same photo as wall.jpg"));
    CHECK_THAT(text(jobStatus(kept.job).next), Contains("Take the photos of trial t1 again"));
    CHECK(openJob(dir / "j").record.trials.size() == 1);

    NewTrial other;
    other.entry.stamp = stampAt(20);
    other.photos.push_back({"wall.jpg", encodeJpeg(grey, 90), {}});
    const RecordedTrial second = recordTrial(dir / "j", std::move(other));
    REQUIRE(second.samePhotos.size() == 1);
    CHECK_THAT(second.samePhotos[0], Contains("is in trial t1 already"));

    NewTrial text;
    text.entry.stamp = stampAt(30);
    text.photos.push_back({"notes.txt", {'h', 'e', 'l', 'l', 'o'}, {}});
    CHECK_THROWS_WITH(recordTrial(dir / "j", std::move(text)), Catch::StartsWith("notes.txt: "));
    CHECK_THROWS_AS(recordTrial(dir / "j", NewTrial{}), InputError);
    CHECK(openJob(dir / "j").record.trials.size() == 2);
}

TEST_CASE("what gears were before is kept with its maps, and the advice of the last trial takes it in") {
    const TempDir dir;
    JobRecord used = labJob();
    used.build = BuildKind::UsedGears;
    (void)createJob(dir / "j", used);
    CHECK_THROWS_WITH(recordBefore(dir / "j", NewTrial{}), Contains("give photos of the marks"));
    const RecordedTrial trial = recordTrial(dir / "j", drawnTrial(10, 0.45, 0.62));
    REQUIRE(trial.entry().measurement->advice);

    NewTrial marks = drawnTrial(20, 0.55, 0.45);
    marks.entry.backlashMm.reset();
    const RecordedTrial first = recordBefore(dir / "j", std::move(marks));
    CHECK(first.id == "u1");
    CHECK(first.advisedAgain);
    CHECK(first.entry().origin == PatternOrigin::Drawn);
    CHECK_FALSE(first.entry().measurement->advice);
    NewTrial backlash;  // a reading without a photo
    backlash.entry.stamp = stampAt(30);
    backlash.entry.backlashMm = 0.3;
    const RecordedTrial second = recordBefore(dir / "j", std::move(backlash));
    CHECK(second.id == "u2");
    CHECK_FALSE(second.entry().measurement);
    const std::optional<TrialObservation> before = beforeOf(second.job);
    REQUIRE(before);
    CHECK(before->backlashMm == 0.3);
    CHECK(before->drive->toeHeel == Approx(0.55).margin(0.01));
    CHECK(before->extentNoise == 1);  // drawn, and the backlash alone says nothing of that
    const JobRecord kept = openJob(dir / "j").record;
    CHECK(kept.before.size() == 2);
    CHECK(kept.trials.size() == 1);
    CHECK(kept.remarks.size() == 2);

    JobRecord fresh = labJob();
    (void)createJob(dir / "new", fresh);
    NewTrial none;
    none.entry.stamp = stampAt(1);
    none.entry.backlashMm = 0.3;
    CHECK_THROWS_WITH(recordBefore(dir / "new", std::move(none)), Contains("this job sets up new gears"));
}

TEST_CASE("another gear set reads the photos of a job again and works every advice out anew") {
    const TempDir dir;
    JobGearSet wrong = labGearSet();
    wrong.document.replace(wrong.document.find("under-pinion-support"), 20, "under-bearing-cup");
    wrong.data = parseGearSet(wrong.document, "wrong");
    (void)createJob(dir / "j", newJob(wrong, "Van 12", "", "Mira", atMinute(0)));
    (void)recordTrial(dir / "j", drawnTrial(10, 0.45, 0.72));
    NewTrial photographed;
    photographed.entry.stamp = stampAt(20);
    photographed.entry.backlashMm = 0.2032;
    const std::string photo = std::string(SHIMSIGHT_SOURCE_DIR) + "/samples/van-a-too-shallow/drive.jpg";
    photographed.photos.push_back({"drive side", readFile(photo, 10'000'000), {}});
    const RecordedTrial before = recordTrial(dir / "j", std::move(photographed));
    REQUIRE(before.entry().measurement->advice);
    const double wrongWay = before.entry().measurement->advice->shim.thicknessChangeMm;
    REQUIRE(wrongWay > 0);  // deeper under the cup is thicker
    const JobCorrection right{
        .gearSet = labGearSet(), .axle = {}, .customer = {}, .at = atMinute(30), .by = "Kim", .request = "request-c"};
    const CorrectedJob corrected = correctAndReadAgain(dir / "j", right);
    REQUIRE(corrected.again.size() == 1);
    CHECK(corrected.again[0].id == "t2");
    REQUIRE(corrected.job.trials[1].measurement->advice);
    CHECK(corrected.job.trials[1].measurement->advice->shim.thicknessChangeMm < 0);  // under the support it is thinner
    CHECK(corrected.job.trials[1].photos[0].sha256 == before.entry().photos[0].sha256);
    CHECK(corrected.job.trials[0].measurement->advice->shim.where == PinionShim::UnderPinionSupport);
    // The same request again changes nothing.
    CHECK(correctAndReadAgain(dir / "j", right).job.revision == corrected.job.revision);
}
