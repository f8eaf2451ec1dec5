// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "lesson/claims.h"

#include <catch2/catch.hpp>

#include "shimsight/lesson.h"

using namespace shimsight;

TEST_CASE("every claim of every lesson is what the engine simulates") {
    REQUIRE(lessons().size() == 25);
    int claims = 0;
    for (const LessonInfo& lesson : lessons()) {
        const std::vector<ClaimResult> results = checkedClaims(lesson.name);
        // Safety is no matter of simulation.
        if (lesson.name != "safety") CHECK(results.size() >= 2);
        for (const ClaimResult& result : results) {
            INFO(lesson.name << ": " << result.claim << " (" << result.measured << ")");
            CHECK(result.holds);
            ++claims;
        }
    }
    CHECK(claims >= 60);
}

TEST_CASE("claims are told in words") {
    for (const auto& [claim, words] :
         {std::pair{"milled drive deeper 0.005in: flank toe backlash-held",
                    "Milled, drive side, pinion 0.005 in (0.13 mm) deeper: lower on the tooth, toward the toe, the "
                    "backlash stays"},
          {"hobbed: good", "Hobbed, both sides, set right: good"},
          {"milled coast shaft -0.04: height-stays",
           "Milled, coast side, shaft angle 0.04 degrees too small: at its height"},
          {"small-cutter drive deeper 0.005in more 0.003in: flank",
           "Milled with a small cutter, drive side, pinion 0.005 in (0.13 mm) deeper, 0.003 in (0.08 mm) more "
           "backlash: "
           "lower on the tooth"},
          {"shim under-pinion-support thicker: shallower",
           "A thicker shim under the pinion support: the pinion shallower"}})
        CHECK(lesson::checkClaim(claim).words == words);
    // None of their own language, which no apprentice speaks.
    for (const LessonInfo& info : lessons())
        for (const ClaimResult& result : checkedClaims(info.name)) {
            INFO(result.words);
            CHECK(result.words.find_first_of("-_") == std::string::npos);
            CHECK(result.words.find("in:") == std::string::npos);
        }
}

TEST_CASE("a claim that is not so fails") {
    // The hobbed set's rows of a light-truck workshop manual (2008) are wrong for a milled set.
    CHECK_FALSE(lesson::checkClaim("milled drive deeper 0.005in: heel").holds);
    CHECK_FALSE(lesson::checkClaim("milled drive deeper 0.005in: flank heel").holds);
    CHECK_FALSE(lesson::checkClaim("hobbed drive deeper 0.005in: toe").holds);
    CHECK_FALSE(lesson::checkClaim("milled deeper 0.005in: face").holds);
    CHECK_FALSE(lesson::checkClaim("milled drive deeper 0.008in: good").holds);
    CHECK_FALSE(lesson::checkClaim("milled offset 0.012in: shim-helps").holds);
    CHECK_FALSE(lesson::checkClaim("shim under-pinion-support thicker: deeper").holds);
    CHECK_THROWS_AS(lesson::checkClaim("milled drive deeper 0.005in: sideways"), std::logic_error);
    CHECK_THROWS_AS(lesson::checkClaim("deeper 0.005in: toe"), std::logic_error);
}

// Published rows, so that a lesson cannot teach what only our engine says. Sources: face-milled, US Army TM
// 5-3805-260-24 pp. 3-244/3-245 and passenger-car service manuals 1968/1969; face-hobbed, light-truck workshop manual
// 2008, ring gear pattern table.
TEST_CASE("the lessons' sets move as published tables say") {
    for (const char* claim : {"milled drive deeper 0.004in: flank toe", "milled coast deeper 0.004in: flank heel",
                              "milled drive more 0.004in: heel", "milled coast more 0.004in: heel",
                              "hobbed drive deeper 0.004in: flank heel", "hobbed coast deeper 0.004in: flank toe",
                              "hobbed drive more 0.004in: heel", "hobbed coast more 0.004in: toe"}) {
        INFO(claim);
        CHECK(lesson::checkClaim(claim).holds);
    }
}
