// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <cmath>

#include "shimsight/contact.h"
#include "shimsight/core.h"

using namespace shimsight;

namespace {

/// A reading whose map is a box of contact about (u, v) and whose numbers carry the given errors.
FlankContact readingAt(double u, double v, double sigmaU = 0.015, double sigmaV = 0.03, double halfU = 0.2) {
    FlankContact out;
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x)
            if (std::abs((x + 0.5) / kMapWidth - u) < halfU && std::abs(1 - (y + 0.5) / kMapHeight - v) < 0.25)
                out.map.at(x, y) = 255;
    out.pattern = measurePattern(out.map).value();
    out.pattern.toeHeel = u;
    out.pattern.rootTip = v;
    out.pattern.sigmaToeHeel = sigmaU;
    out.pattern.sigmaRootTip = sigmaV;
    out.flankConfidence = 0.8;
    return out;
}

}  // namespace

TEST_CASE("one tooth alone is its own consensus", "[contact]") {
    const auto c = consensusOverTeeth({readingAt(0.4, 0.55)});
    CHECK(c.pattern.teeth == 1);
    CHECK(c.pattern.toeHeel == Approx(0.4).margin(0.002));  // a cell is 0.004 wide
    CHECK(c.pattern.toothSpread == 0);
    CHECK(c.pattern.sigmaToeHeel == Approx(0.015).epsilon(0.05));
}

TEST_CASE("a tooth that saw something else is left out and told why", "[contact]") {
    const auto c =
        consensusOverTeeth({readingAt(0.40, 0.5), readingAt(0.41, 0.52), readingAt(0.39, 0.49), readingAt(0.75, 0.5)});
    REQUIRE(c.used.size() == 4);
    CHECK(c.used[0]);
    CHECK(c.used[1]);
    CHECK(c.used[2]);
    CHECK_FALSE(c.used[3]);
    CHECK(text(c.whyNot[3]).size() > 20);
    CHECK(c.whyNot[0].empty());
    CHECK(c.pattern.teeth == 3);
    CHECK(c.pattern.toeHeel == Approx(0.40).margin(0.005));
}

TEST_CASE("the surest tooth is not left out by two that are in doubt", "[contact]") {
    const auto c = consensusOverTeeth(
        {readingAt(0.40, 0.5, 0.01, 0.01), readingAt(0.62, 0.5, 0.06, 0.06), readingAt(0.64, 0.5, 0.06, 0.06)});
    CHECK(c.used[0]);
    CHECK(c.pattern.toeHeel == Approx(0.40).margin(0.01));
}

TEST_CASE("what one tooth alone has or lacks does not move the centre", "[contact]") {
    FlankContact smeared = readingAt(0.40, 0.5), cut = readingAt(0.40, 0.5);
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth; ++x) {
            const double v = 1 - (y + 0.5) / kMapHeight;
            if (v > 0.95) smeared.map.at(x, y) = 255;
            if (v < 0.3) cut.map.at(x, y) = 0;
        }
    for (FlankContact* one : {&smeared, &cut}) one->pattern.rootTip = measurePattern(one->map).value().rootTip;
    REQUIRE(smeared.pattern.rootTip > 0.58);
    REQUIRE(cut.pattern.rootTip > 0.51);
    const auto clean = consensusOverTeeth({readingAt(0.40, 0.5), readingAt(0.40, 0.5), readingAt(0.40, 0.5)});
    const auto c = consensusOverTeeth({smeared, cut, readingAt(0.40, 0.5)});
    CHECK(c.used == std::vector<bool>{true, true, true});
    CHECK(c.pattern.rootTip == Approx(clean.pattern.rootTip).margin(0.001));
    CHECK((c.map.contact == clean.map.contact));
}

TEST_CASE("teeth that agree on no contact give the mean of their centres", "[contact]") {
    const auto c = consensusOverTeeth({readingAt(0.1, 0.5, 0.05, 0.05, 0.05), readingAt(0.5, 0.5, 0.05, 0.05, 0.05),
                                       readingAt(0.9, 0.5, 0.05, 0.05, 0.05)});
    CHECK(c.pattern.toeHeel == Approx(0.5).margin(0.002));
    CHECK(c.pattern.toothSpread > 0.3);
}

TEST_CASE("standard errors cover the scatter they claim", "[contact]") {
    // Readings with an error common to the photo and one of each tooth, in the shares that the module assumes of its
    // sigma (four fifths of the variance common). The claimed error must match the real one within a fifth.
    Random random(11);
    for (const int teeth : {1, 2, 4, 6}) {
        double squares = 0, claimed = 0;
        constexpr int kRuns = 300;
        for (int run = 0; run < kRuns; ++run) {
            const double common = random.normal(0, 0.015 * std::sqrt(0.8));
            std::vector<FlankContact> readings;
            for (int k = 0; k < teeth; ++k)
                readings.push_back(readingAt(0.45 + common + random.normal(0, 0.015 * std::sqrt(0.2)), 0.5));
            const auto c = consensusOverTeeth(readings);
            squares += (c.pattern.toeHeel - 0.45) * (c.pattern.toeHeel - 0.45);
            claimed += c.pattern.sigmaToeHeel * c.pattern.sigmaToeHeel;
        }
        INFO("teeth " << teeth);
        CHECK(std::sqrt(claimed / squares) > 0.85);
        CHECK(std::sqrt(claimed / squares) < 1.2);
    }
}

TEST_CASE("a pattern that wanders from tooth to tooth has a large error and spread", "[contact]") {
    const auto calm = consensusOverTeeth({readingAt(0.40, 0.5), readingAt(0.41, 0.5), readingAt(0.40, 0.5)});
    const auto wandering = consensusOverTeeth({readingAt(0.35, 0.5), readingAt(0.40, 0.5), readingAt(0.45, 0.5)});
    CHECK(wandering.pattern.toothSpread == Approx(0.05).epsilon(0.05));
    CHECK(wandering.pattern.sigmaToeHeel > 1.2 * calm.pattern.sigmaToeHeel);
}

TEST_CASE("a tooth seen in two photos counts once", "[contact]") {
    const std::vector<FlankContact> once{readingAt(0.40, 0.50), readingAt(0.42, 0.52), readingAt(0.44, 0.48)};
    std::vector<FlankContact> twice = once;
    twice.insert(twice.end(), once.begin(), once.end());
    const auto single = consensusOverTeeth(once);
    const auto told = consensusOverTeeth(twice, {0, 1, 2, 0, 1, 2});
    CHECK(told.pattern.teeth == 3);
    CHECK(told.pattern.toeHeel == Approx(single.pattern.toeHeel));
    CHECK(told.pattern.rootTip == Approx(single.pattern.rootTip));
    CHECK(told.pattern.sigmaToeHeel == Approx(single.pattern.sigmaToeHeel));
    CHECK(told.pattern.sigmaRootTip == Approx(single.pattern.sigmaRootTip));
    CHECK(told.pattern.toothSpread == Approx(single.pattern.toothSpread));

    // Not told, six teeth would be surer than three are.
    const auto untold = consensusOverTeeth(twice);
    CHECK(untold.pattern.teeth == 6);
    CHECK(untold.pattern.sigmaToeHeel < single.pattern.sigmaToeHeel);

    // Of two readings of one tooth the surer one weighs more, and the tooth no more than beside other teeth.
    const auto mixed = consensusOverTeeth({readingAt(0.40, 0.5, 0.01), readingAt(0.50, 0.5, 0.05)}, {7, 7});
    CHECK(mixed.pattern.teeth == 1);
    CHECK(mixed.pattern.toeHeel < 0.415);
    CHECK(mixed.pattern.toothSpread == 0);
}
