// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/measure.h"

#include <catch2/catch.hpp>
#include <string>

#include "shimsight/core.h"
#include "support/drawn_photo.h"
#include "support/gear_sets.h"

using namespace shimsight;
using namespace shimsight::test;

namespace {

Photo photoOf(const std::vector<DrawnFlank>& flanks, std::uint64_t seed) {
    Photo photo;
    photo.picture = drawn(flanks, seed);
    photo.fullWidth = kDrawnWidth;
    photo.fullHeight = kDrawnHeight;
    return photo;
}

std::vector<FlankOutline> outlinesOf(const std::vector<DrawnFlank>& flanks, std::optional<Side> side) {
    std::vector<FlankOutline> outlines;
    for (const DrawnFlank& flank : flanks) {
        FlankOutline outline;
        outline.side = side;
        outline.corners = flank.corners;
        // Drawn as a flat patch, so the edges are marked as the straight lines they are.
        const auto middle = [](PixelPoint a, PixelPoint b) { return PixelPoint{0.5 * (a.x + b.x), 0.5 * (a.y + b.y)}; };
        outline.rootEdge = {middle(flank.corners[0], flank.corners[3])};
        outline.tipEdge = {middle(flank.corners[1], flank.corners[2])};
        outlines.push_back(outline);
    }
    return outlines;
}

TrialPhoto trialPhoto(const std::string& file, Side side, double u, double v, std::uint64_t seed) {
    const std::vector<DrawnFlank> flanks = threeTeeth(side, u, v);
    return {file, photoOf(flanks, seed), outlinesOf(flanks, side)};
}

bool mentions(const std::vector<Message>& sentences, const std::string& words) {
    for (const std::string& sentence : texts(sentences))
        if (sentence.find(words) != std::string::npos) return true;
    return false;
}

}  // namespace

TEST_CASE("patterns come out where they were drawn, each side by itself", "[measure]") {
    const Measurement m = measureTrial(
        {trialPhoto("d.jpg", Side::Drive, 0.35, 0.45, 1), trialPhoto("c.jpg", Side::Coast, 0.6, 0.55, 2)}, nullptr);
    REQUIRE(m.drive);
    REQUIRE(m.coast);
    // Drawn at 0.35, 0.36, 0.37 and 0.60, 0.61, 0.62 of the face; flat drawings are none of what the reader knows.
    CHECK(m.drive->pattern.toeHeel == Approx(0.36).margin(0.03));
    CHECK(m.drive->pattern.rootTip == Approx(0.45).margin(0.03));
    CHECK(m.coast->pattern.toeHeel == Approx(0.61).margin(0.03));
    CHECK(m.coast->pattern.rootTip == Approx(0.55).margin(0.03));
    CHECK(m.drive->pattern.length == Approx(0.54).margin(0.06));
    CHECK(m.drive->pattern.teeth == 3);
    CHECK(m.drive->pattern.sigmaToeHeel > 0);
    CHECK(mentions(whatIsMissing(m, nullptr, observationOf(m)), "No gear set"));
    for (const MeasuredPhoto& photo : m.photos) {
        CHECK_FALSE(photo.refused);
        CHECK(photo.flanks.size() == 3);
        for (const MeasuredFlank& flank : photo.flanks) CHECK(flank.contact.marking == Marking::Wiped);
    }
}

TEST_CASE("with a gear set there is advice, repeatable", "[measure]") {
    const std::vector<TrialPhoto> photos{trialPhoto("d.jpg", Side::Drive, 0.35, 0.40, 1),
                                         trialPhoto("c.jpg", Side::Coast, 0.55, 0.40, 2)};
    const GearSetData set = largeCutterMilledData();
    const Measurement m = measureTrial(photos, &set);
    TrialObservation seen = observationOf(m);
    CHECK(seen.fromPhotos);
    CHECK(mentions(whatIsMissing(m, &set, seen), "No backlash"));
    seen.backlashMm = 0.18;
    const std::optional<Advice> advice = adviseTrial(m, set, seen);
    REQUIRE(advice);
    CHECK(advice->backlashNowMm == 0.18);
    CHECK_FALSE(advice->because.empty());
    CHECK_FALSE(advice->cautions.empty());
    CHECK(mentions(m.assumed, "limits"));
    CHECK(mentions(whatIsMissing(m, &set, seen), "shim stack"));
    CHECK_FALSE(mentions(whatIsMissing(m, &set, seen), "No backlash"));
    const Measurement again = measureTrial(photos, &set);
    CHECK(observationOf(again).drive->toeHeel == seen.drive->toeHeel);
    TrialObservation sameAgain = observationOf(again);
    sameAgain.backlashMm = 0.18;
    const std::optional<Advice> adviceAgain = adviseTrial(again, set, sameAgain);
    REQUIRE(adviceAgain);
    CHECK(adviceAgain->pinionDepthChangeMm.best == advice->pinionDepthChangeMm.best);
    CHECK(adviceAgain->chanceAcceptableNext == advice->chanceAcceptableNext);
}

TEST_CASE("low marks on both sides ask for a shallower pinion, high ones for a deeper one", "[measure]") {
    // Deeper moves the mark toward the root on both sides, in every geometry (service manuals; sources named in the
    // contact tests). So the move is the other way.
    const GearSetData set = largeCutterMilledData();
    const auto errorFor = [&](double v) {
        const Measurement m = measureTrial(
            {trialPhoto("d.jpg", Side::Drive, 0.45, v, 3), trialPhoto("c.jpg", Side::Coast, 0.45, v, 4)}, &set);
        TrialObservation seen = observationOf(m);
        seen.backlashMm = 0.18;
        const std::optional<Advice> advice = adviseTrial(m, set, seen);
        REQUIRE(advice);
        return advice->depthErrorMm.best;
    };
    CHECK(errorFor(0.33) > 0.01);
    CHECK(errorFor(0.67) < -0.01);
}

TEST_CASE("each photo is refused by itself", "[measure]") {
    std::vector<TrialPhoto> photos;
    photos.push_back({"broken.jpg", Refused{Refusal::UnreadablePhoto, "Cut short.", "Take it again."}, {}});
    photos.push_back({"no-gear.jpg", photoOf({}, 1), {}});  // nothing but the ground
    const std::vector<DrawnFlank> flanks = threeTeeth(Side::Drive, 0.4, 0.5);
    photos.push_back({"no-side.jpg", photoOf(flanks, 1), outlinesOf(flanks, std::nullopt)});
    photos.push_back(trialPhoto("good.jpg", Side::Drive, 0.4, 0.5, 1));
    const Measurement m = measureTrial(photos, nullptr);
    REQUIRE(m.photos.size() == 4);
    CHECK(m.photos[0].refused->why == Refusal::UnreadablePhoto);
    CHECK(m.photos[1].refused->why == Refusal::NoToothFound);
    CHECK(text(m.photos[1].refused->whatToDo).find("by hand") != std::string::npos);
    CHECK(m.photos[2].refused->why == Refusal::SideUnknown);
    CHECK(m.photos[2].refusedFlanks.size() == 3);
    CHECK_FALSE(m.photos[3].refused);
    CHECK(m.photos[3].file == "good.jpg");
    REQUIRE(m.drive);
    CHECK(m.drive->pattern.teeth == 3);
    CHECK_FALSE(m.coast);
    CHECK(mentions(whatIsMissing(m, nullptr, observationOf(m)), "coast side"));
}

TEST_CASE("one flank that cannot be read does not cost the others", "[measure]") {
    TrialPhoto photo = trialPhoto("d.jpg", Side::Drive, 0.4, 0.5, 1);
    for (PixelPoint& corner : photo.outlines[1].corners) corner.x += 3000;
    const Measurement m = measureTrial({photo}, nullptr);
    CHECK_FALSE(m.photos[0].refused);
    CHECK(m.photos[0].flanks.size() == 2);
    REQUIRE(m.photos[0].refusedFlanks.size() == 1);
    CHECK(m.photos[0].refusedFlanks[0].refused.why == Refusal::FlankOutsidePicture);
    CHECK(m.drive->pattern.teeth == 2);
}

TEST_CASE("nothing read, nothing advised", "[measure]") {
    const GearSetData set = milledData();
    TrialPhoto photo = trialPhoto("d.jpg", Side::Drive, 0.4, 0.5, 1);
    Picture& picture = photo.photo.value().picture;
    picture.rgb.assign(picture.rgb.size(), 120);
    const Measurement m = measureTrial({photo}, &set);
    CHECK_FALSE(m.anythingRead());
    CHECK_FALSE(adviseTrial(m, set, observationOf(m)));
    CHECK(m.photos[0].refused);
    CHECK(text(m.photos[0].refused->reason).find("none of its 3 outlined flanks") != std::string::npos);
}

TEST_CASE("a photo file that cannot be opened is a refusal that names what is wrong", "[measure]") {
    const Outcome<Photo> photo = openTrialPhoto("no/such.jpg");
    REQUIRE_FALSE(photo);
    CHECK(photo.refused().why == Refusal::UnreadablePhoto);
    CHECK(text(photo.refused().reason).find("no such file") != std::string::npos);
}

TEST_CASE("the record holds what was measured", "[measure]") {
    TrialPhoto photo = trialPhoto("d.jpg", Side::Drive, 0.4, 0.5, 1);
    for (PixelPoint& corner : photo.outlines[2].corners) corner.y += 3000;
    const Measurement m = measureTrial({photo}, nullptr);
    const MeasurementRecord reading = recordOf(m);
    REQUIRE(reading.photos.size() == 1);
    CHECK(reading.photos[0].file == "d.jpg");
    REQUIRE(reading.photos[0].flanks.size() == 2);
    CHECK(reading.photos[0].flanks[0].outline[0].x == photo.outlines[0].corners[0].x);
    CHECK(reading.photos[0].flanks[0].marking == Marking::Wiped);
    REQUIRE(reading.photos[0].refusedFlanks.size() == 1);
    CHECK(reading.photos[0].refusedFlanks[0].refused.why == Refusal::FlankOutsidePicture);
    REQUIRE(reading.drive);
    CHECK(reading.drive->toeHeel == m.drive->pattern.toeHeel);
    CHECK_FALSE(reading.coast);
}
