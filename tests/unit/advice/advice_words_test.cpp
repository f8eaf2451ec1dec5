// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/advice_words.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cctype>

#include "advice/shims.h"
#include "shimsight/core.h"

using namespace shimsight;
using namespace shimsight::advice;
using Catch::Matchers::Contains;
using Catch::Matchers::StartsWith;

namespace {

/// A set of which everything is given.
GearSet givenSet(PinionShim place = PinionShim::BehindPinionHead) {
    GearSet set;
    set.offsetMm = 35;
    set.build.pinionShim = place;
    set.build.carrier = CarrierSetting::ThreadedAdjusters;
    set.build.adjusterThreadPitchMm = 1.5;
    set.build.adjusterNotches = 30;
    set.given.pinionShim = set.given.backlashLimits = set.given.carrier = set.given.adjusterPitch = true;
    set.limits.backlashMm = {0.127, 0.2286};
    return set;
}

/// A change by `thou` thousandths of shim, backlash from 0.009 in to 0.007 in.
Advice changeOf(const GearSet& set, int thou, Certainty certainty = Certainty::Sure) {
    Advice advice;
    advice.verdict = Verdict::Change;
    advice.certainty = certainty;
    advice.shim.thicknessChangeMm = thou * kFreeStepMm;
    advice.backlashNowMm = 0.2286;
    advice.backlashTargetMm = 0.1778;
    advice.ringGearMoveMm = 0.1;
    advice.depthErrorMm = {0.151, 0.049, 0.26};
    advice.chanceAcceptableNext = 0.7, advice.chanceAcceptableNow = 0.05;
    fitToShop(set, advice);
    return advice;
}

std::string joined(const std::vector<std::string>& sentences) {
    std::string text;
    for (const std::string& sentence : sentences) text += sentence + "\n";
    return text;
}

std::string lower(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

}  // namespace

TEST_CASE("the best move leads, however sure it is, in three ways") {
    const GearSet set = givenSet();
    const std::string move =
        "take out 0.006 in (0.15 mm) of shim behind the pinion head, then set the backlash to "
        "0.007 in (0.18 mm).";
    CHECK(leadOf(changeOf(set, -6, Certainty::Sure)) == "T" + move.substr(1));
    CHECK(leadOf(changeOf(set, -6, Certainty::Likely)) == "Likely: " + move);
    CHECK(leadOf(changeOf(set, -6, Certainty::NotSure)) == "Not sure, try this first: " + move);
    CHECK(certaintyWords(changeOf(set, -6, Certainty::Sure)) == "Sure");
    CHECK(certaintyWords(changeOf(set, -6, Certainty::Likely)) == "Likely");
    CHECK(certaintyWords(changeOf(set, -6, Certainty::NotSure)) == "Not sure: try this first");
    CHECK(leadInShort(changeOf(set, -6)) ==
          "Take out 0.006 in (0.15 mm) behind the pinion head, backlash 0.007 in (0.18 mm)");
    CHECK_THAT(leadInShort(changeOf(set, 6, Certainty::NotSure)), StartsWith("Not sure, try: add 0.006 in (0.15 mm)"));
}

TEST_CASE("each verdict has its lead, and the move stands in it where there is one") {
    const GearSet set = givenSet();
    Advice advice = changeOf(set, 4);
    for (const Verdict verdict : {Verdict::NoShimWillHelp, Verdict::MeasureAgain}) {
        advice.verdict = verdict;
        CHECK_THAT(leadOf(advice), Contains("add 0.004 in (0.10 mm) of shim behind the pinion head"));
        CHECK_THAT(leadInShort(advice), Contains("add 0.004 in (0.10 mm) behind the pinion head"));
        CHECK_FALSE(headlineOf(advice, set).steps.empty());
    }
    CHECK_THAT(leadOf(advice), StartsWith("Measure again first."));

    Advice still;
    still.backlashNowMm = still.backlashTargetMm = 0.18;
    still.expectedDrive.emplace();
    fitToShop(set, still);
    CHECK(still.changesNothing);
    still.verdict = Verdict::Accept;
    for (const Certainty certainty : {Certainty::Sure, Certainty::Likely, Certainty::NotSure}) {
        still.certainty = certainty;
        CHECK_THAT(leadOf(still), StartsWith("Leave it"));
        CHECK(headlineOf(still, set).steps.empty());
    }
    still.verdict = Verdict::NoShimWillHelp;
    CHECK_THAT(leadOf(still), StartsWith("No shim will put this right: depth and backlash are already as good"));
    CHECK(headlineOf(still, set).steps.empty());
    still.verdict = Verdict::MeasureAgain;
    CHECK(leadOf(still) == "Measure again before you change anything.");
    still.lookFirst = {"Read the coast side too."};
    still.diagnoses.push_back({DiagnosisKind::SidesSwapped, 0.9, "Is drive the convex side?", true, false});
    still.diagnoses.push_back({DiagnosisKind::Runout, 0.9, "It wanders.", false, false});
    CHECK(headlineOf(still, set).lookFirst ==
          std::vector<std::string>{"Is drive the convex side?", "Read the coast side too."});
    still.readAgainFirst = true;
    CHECK(headlineOf(still, set).lookFirst.size() == 2);
    still.verdict = Verdict::Accept;
    CHECK(headlineOf(still, set).lookFirst.size() == 3);
}

TEST_CASE("a stop leads; the move waits behind it, and there is none for jammed gears and wear not known") {
    const GearSet set = givenSet();
    for (const StopKind kind : {StopKind::Jammed, StopKind::Runout, StopKind::UnevenBacklash,
                                StopKind::TightOrLoosePlace, StopKind::WearNotKnown}) {
        Advice advice = changeOf(set, -6);
        advice.verdict = Verdict::MeasureAgain;
        advice.stop = Stop{kind, "The evidence."};
        const Headline headline = headlineOf(advice, set);
        CAPTURE(name(kind), headline.lead, joined(headline.steps));
        const bool bare = kind == StopKind::Jammed || kind == StopKind::WearNotKnown;
        CHECK(headline.lead == stopLead(kind));
        CHECK(headline.lookFirst == std::vector<std::string>{"The evidence."});
        const std::string all = headline.lead + joined(headline.steps) + headline.howSure + leadInShort(advice);
        CHECK((all.find("0.006 in") != std::string::npos) == !bare);
        CHECK((joined(headline.steps).find("once that is put right") != std::string::npos) == !bare);
        CHECK(certaintyWords(advice) == "Stop");
    }
    CHECK_THAT(stopLead(StopKind::Jammed), Contains("Do not force"));
}

TEST_CASE("without a place the pinion's way is told, and the shim of each place") {
    GearSet set = givenSet();
    set.given.pinionShim = false;
    const Advice advice = changeOf(set, -6);
    CHECK_FALSE(advice.shim.placeKnown);
    const Headline headline = headlineOf(advice, set);
    CHECK_THAT(headline.lead, StartsWith("Move the pinion 0.006 in (0.15 mm) away from the ring gear"));
    CHECK(lower(headline.lead).find("shim") == std::string::npos);
    CHECK_THAT(joined(headline.steps),
               Contains("Behind the pinion head or under the inner bearing cup: take out 0.006 in (0.15 mm). Under a "
                        "removable pinion support: add 0.006 in (0.15 mm)."));
    CHECK_THAT(leadInShort(advice), StartsWith("Move the pinion 0.006 in (0.15 mm) away"));
}

TEST_CASE("without limits nothing is called inside them") {
    GearSet set = givenSet();
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps),
               Contains("inside the limits 0.005 in (0.13 mm) to 0.009 in (0.23 mm)"));
    set.given.backlashLimits = false;
    const std::string all = joined(headlineOf(changeOf(set, -6), set).steps);
    CHECK(all.find("inside the limits") == std::string::npos);
    CHECK_THAT(all, Contains("No limits were given for this set") && Contains("is usual"));
}

TEST_CASE("the adjusters are named by the gear, the viewpoint only where it is known") {
    GearSet set = givenSet();
    const std::string steps = joined(headlineOf(changeOf(set, -6), set).steps);
    // 0.1 mm toward the pinion, in steps 0.1016 mm; a notch is 0.05 mm.
    CHECK_THAT(steps, Contains("loosen the adjuster on the tooth side by 2 notches, then tighten the adjuster on the "
                               "back side by 2 notches"));
    CHECK(lower(steps).find("left") == std::string::npos);
    set.given.adjusterPitch = false;
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps), Contains("the pitch of the thread is assumed"));
    set.given.adjusterPitch = true;
    set.build.pinionPosition = PinionPosition::Below;
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps), Contains("the back side is at the left."));
    set.build.pinionPosition = PinionPosition::Above;
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps), Contains("the back side is at the right."));
    // Of a pinion in the middle, above and below mean nothing.
    set.offsetMm = 0;
    CHECK(lower(joined(headlineOf(changeOf(set, -6), set).steps)).find("back side is at") == std::string::npos);
    set.build.adjusterNotches = 0;
    const std::string unknown = joined(headlineOf(changeOf(set, -6), set).steps);
    CHECK_THAT(unknown, Contains("until the dial shows it"));
    CHECK(unknown.find("notch") == std::string::npos);
    set.given.carrier = false;
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps),
               Contains("with threaded adjusters, loosen") && Contains("with side shims, take 0.004 in (0.10 mm)"));
    set.given.carrier = true;
    set.build.carrier = CarrierSetting::CarrierShims;
    CHECK_THAT(
        joined(headlineOf(changeOf(set, -6), set).steps),
        Contains("take 0.004 in (0.10 mm) of carrier shims from the tooth side and put as much on the back side"));
    // Side shims on hand: only moves that a pair of them makes are asked for.
    set.build.sideShimsMm = {2.00, 2.06, 2.12};
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps),
               Contains("so that 0.12 mm (about 0.005 in) less stands on the tooth side") &&
                   Contains("that the side shims on hand make"));
    set.build.sideShimsMm = {2.0, 2.3};
    CHECK_THAT(joined(headlineOf(changeOf(set, -6), set).steps),
               Contains("no pair of side shims on hand makes so small a move"));
}

TEST_CASE("the nearest move that side shims make") {
    // Differences of single shims and of pairs, worked out by hand: 0.05, 0.10 and 0.15 of these three sizes.
    const std::vector<double> sizes{2.00, 2.05, 2.15};
    CHECK(nearestSideMove(sizes, 0.06) == Approx(0.05));
    CHECK(nearestSideMove(sizes, 0.09) == Approx(0.10));
    CHECK(nearestSideMove(sizes, 0.14) == Approx(0.15));
    CHECK(nearestSideMove(sizes, 0.02) == 0);
    CHECK(nearestSideMove({2.00}, 0.10) == 0);
}

TEST_CASE("the preload step says what follows, what to ask, and that each trial is rolled with the preload set") {
    struct Row {
        PinionShim place;
        std::optional<PreloadSpacer> spacer;
        std::optional<SpacerSeat> seat;
        const char* says;
    };
    const Row row = GENERATE(
        Row{PinionShim::UnderBearingCup,
            PreloadSpacer::SolidSpacer,
            {},
            "take out 0.006 in (0.15 mm) beside the solid"},
        Row{PinionShim::UnderBearingCup, {}, {}, "With a solid spacer, take out 0.006 in (0.15 mm)"},
        Row{PinionShim::UnderBearingCup, PreloadSpacer::CrushSleeve, {}, "then one new sleeve"},
        Row{PinionShim::BehindPinionHead, PreloadSpacer::SolidSpacer, SpacerSeat::OnPinionShoulder,
            "take out 0.006 in (0.15 mm) beside the solid"},
        Row{PinionShim::BehindPinionHead, PreloadSpacer::SolidSpacer, SpacerSeat::OnBearing, "its shims stay"},
        Row{PinionShim::BehindPinionHead, PreloadSpacer::SolidSpacer, {}, "where does the solid spacer stand?"},
        Row{PinionShim::BehindPinionHead, {}, {}, "what sets it?"},
        Row{PinionShim::UnderPinionSupport, {}, {}, "move with the support"});
    GearSet set = givenSet(row.place);
    set.build.preloadSpacer = row.spacer;
    set.build.spacerSeat = row.seat;
    const std::string steps = joined(headlineOf(changeOf(set, -6), set).steps);
    CHECK_THAT(steps, Contains(row.says));
    CHECK_THAT(steps, Contains("Roll each trial with the preload set."));
}

TEST_CASE("errors that marks tell of come in whole thousandths") {
    CHECK(depthErrorWords({0.151, 0, 0}) == "0.006 in (0.15 mm) too deep");
    CHECK(depthErrorWords({-0.011, 0, 0}) == "none found");
    CHECK(depthIntervalWords({0, -0.049, 0.026}) == "0.002 in (0.05 mm) too shallow to 0.001 in (0.03 mm) too deep");
    CHECK(depthIntervalWords({0, 0.05, 0.1}) == "0.002 in (0.05 mm) to 0.004 in (0.10 mm) too deep");
    CHECK(depthIntervalWords({0, -0.1, -0.05}) == "0.002 in (0.05 mm) to 0.004 in (0.10 mm) too shallow");
    CHECK(chanceWords(0.003) == "under 1 %");
    CHECK(chanceWords(0.999) == "over 99 %");
    CHECK(chanceWords(0.7) == "70 %");
}

TEST_CASE("the second choice is told only where it saves work") {
    const GearSet set = givenSet();
    Advice advice = changeOf(set, -6);
    CHECK_FALSE(runnerUpSavesWork(advice));
    advice.runnerUp = RunnerUp{-0.127, 0.18, 0.69, 2};
    CHECK_FALSE(runnerUpSavesWork(advice));
    advice.runnerUp->thicknessChangeMm = 0;
    CHECK(runnerUpSavesWork(advice));
    Advice ring = changeOf(set, 0);
    ring.runnerUp = advice.runnerUp;
    CHECK_FALSE(runnerUpSavesWork(ring));
}

TEST_CASE("certainty by a chance alone") {
    CHECK(certaintyOf(0.9) == Certainty::Sure);
    CHECK(certaintyOf(0.6) == Certainty::Likely);
    CHECK(certaintyOf(0.2) == Certainty::NotSure);
}

TEST_CASE("a good mark that lies a little toward the toe is not called toe") {
    Pattern mark;
    for (const auto& [toeHeel, words] :
         {std::pair{0.20, "toe"}, {0.31, "toe side"}, {0.41, "toe side"}, {0.50, "centre"}, {0.60, "heel"}}) {
        mark.toeHeel = toeHeel;
        CHECK(placeAlong(mark) == words);
    }
}
