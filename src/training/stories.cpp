// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "training/stories.h"

#include <algorithm>
#include <array>
#include <numeric>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/lesson.h"
#include "shimsight/words.h"

namespace shimsight::training {
namespace {

/// A story: ids of its entries, and what was done to a right setting.
struct Plan {
    const char* complaint = nullptr;
    std::array<const char*, 4> checks{};
    std::size_t right = 0;
    const char* why = nullptr;
    const char* lesson = nullptr;
    Cut cut = Cut::FaceMilled;
    BenchMove move{};
    double offsetMm = 0, crown = 1, film = 1;
};

constexpr double kThou = 0.0254;

const std::vector<Plan>& plans() {
    static const std::vector<Plan> all{
        {.complaint = "training.story-howl-after-bearings",
         .checks = {"training.check-depth", "training.check-backlash", "training.check-housing",
                    "training.check-leave"},
         .right = 0,
         .why = "training.why-both-low",
         .lesson = "depth",
         .move = {8 * kThou, 0}},
        {.complaint = "training.story-clunk",
         .checks = {"training.check-depth", "training.check-backlash", "training.check-paint", "training.check-runout"},
         .right = 1,
         .why = "training.why-dial-first",
         .lesson = "backlash",
         .move = {0, 6 * kThou}},
        {.complaint = "training.story-comes-and-goes",
         .checks = {"training.check-depth", "training.check-backlash", "training.check-runout", "training.check-leave"},
         .right = 2,
         .why = "training.why-wanders",
         .lesson = "runout",
         .move = {0, -3 * kThou}},
        {.complaint = "training.story-kerb",
         .checks = {"training.check-depth", "training.check-backlash", "training.check-runout",
                    "training.check-housing"},
         .right = 3,
         .why = "training.why-opposite-ends",
         .lesson = "no-shim",
         .offsetMm = 14 * kThou},
        {.complaint = "training.story-used-and-quiet",
         .checks = {"training.check-depth", "training.check-old-marks", "training.check-replace",
                    "training.check-backlash"},
         .right = 1,
         .why = "training.why-old-marks",
         .lesson = "used",
         .crown = 0.45},
        {.complaint = "training.story-got-worse",
         .checks = {"training.check-more-shim", "training.check-shim-place", "training.check-housing",
                    "training.check-backlash"},
         .right = 1,
         .why = "training.why-shim-place",
         .lesson = "shims",
         .move = {8 * kThou, 0}},
        {.complaint = "training.story-smeared",
         .checks = {"training.check-depth", "training.check-replace", "training.check-paint",
                    "training.check-backlash"},
         .right = 2,
         .why = "training.why-thick-paint",
         .lesson = "compound",
         .film = 2.2},
        {.complaint = "training.story-loose-pinion",
         .checks = {"training.check-depth", "training.check-backlash", "training.check-preload",
                    "training.check-leave"},
         .right = 2,
         .why = "training.why-preload-first",
         .lesson = "sleeve",
         .move = {-3 * kThou, 2 * kThou}},
        {.complaint = "training.story-hum-all-the-time",
         .checks = {"training.check-depth", "training.check-leave", "training.check-housing",
                    "training.check-backlash"},
         .right = 1,
         .why = "training.why-not-the-gears",
         .lesson = "noise"},
        {.complaint = "training.story-hobbed-chart",
         .checks = {"training.check-deeper-by-chart", "training.check-depth", "training.check-housing",
                    "training.check-leave"},
         .right = 1,
         .why = "training.why-height-not-chart",
         .lesson = "cuts",
         .cut = Cut::FaceHobbed,
         .move = {6 * kThou, 0}}};
    return all;
}

}  // namespace

Exercise drawStory(std::uint64_t seed, int number) {
    const std::vector<Plan>& all = plans();
    std::vector<std::size_t> order(all.size());
    std::iota(order.begin(), order.end(), 0U);
    Random random(seed);
    for (std::size_t k = order.size(); k > 1; --k)
        std::swap(order[k - 1], order[static_cast<std::size_t>(random.integer(0, static_cast<int>(k) - 1))]);
    const Plan& plan = all[order[static_cast<std::size_t>(number - 1) % order.size()]];

    Exercise exercise;
    exercise.seed = seed;
    exercise.level = kDrillLevels;
    exercise.number = number;
    const ToothContact& contact = lessonSet(plan.cut);
    exercise.contact = &contact;
    Bench bench = rightBench(contact);
    bench.filmMm *= plan.film;
    for (Modification& m : bench.modification) {
        m.lengthCrownUm *= plan.crown;
        m.profileCrownUm *= plan.crown;
    }
    if (plan.offsetMm != 0) {
        SetupError offset;
        offset.offsetMm = plan.offsetMm;
        bench.error = offset;
        bench.error.ringMm = contact.backlashChangeMm(offset) / contact.backlashRates().perRingMove;
    }
    exercise.bench = moved(contact, bench, plan.move);
    exercise.marks = marksOf(contact, exercise.bench);
    exercise.backlashMm = backlashMm(contact, exercise.bench);
    exercise.remedy = Remedy::NoShim;
    Story story{say(plan.complaint), {}, plan.right, say(plan.why), plan.lesson};
    for (const char* check : plan.checks) story.checks.push_back(say(check));
    exercise.story = std::move(story);
    return exercise;
}

}  // namespace shimsight::training
