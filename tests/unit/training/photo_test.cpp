// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cmath>
#include <ctime>

#include "shimsight/lesson.h"
#include "shimsight/measure.h"
#include "shimsight/training.h"

using namespace shimsight;

#ifndef SHIMSIGHT_SANITIZED  // the renderer's own tests look there; this one is about time
TEST_CASE("a drill's photo comes soon and shows the mark") {
    const Exercise exercise = drawExercise(3, 1, 1);
    const std::clock_t begin = std::clock();
    const std::vector<std::uint8_t> jpeg = drillPhoto(exercise, Side::Drive);
    const double seconds = static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
    INFO(seconds << " s of processor");
    // Ten seconds on two idle cores are wanted at most; about six are used, on both together.
    CHECK(seconds < 16);
    CHECK(seconds > 0.5);
    const Photo photo = decodePhoto(jpeg);
    CHECK(photo.picture.width >= 420);
    CHECK(photo.picture.width <= 1080);
    CHECK(jpeg.size() < 200'000);

    // What the program reads on it is what was drawn: an apprentice can, too.
    const Measurement read = measureTrial({{"photo.jpg", photo, {}}}, nullptr);
    REQUIRE(read.drive.has_value());
    CHECK(read.drive->pattern.toeHeel == Approx(exercise.marks.pattern[0]->toeHeel).margin(0.06));
    CHECK(read.drive->pattern.rootTip == Approx(exercise.marks.pattern[0]->rootTip).margin(0.10));
}
#endif
