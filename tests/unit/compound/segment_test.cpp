#include <catch2/catch.hpp>

#include "synthetic_flank.h"

using namespace shimsight;
using namespace shimsight::test;

namespace {

struct Errors {
    double u = 0, v = 0, area = 0;
};

Errors errorsOf(const ContactReading& reading, const FlankMap& truth) {
    const auto want = measurePattern(truth);
    REQUIRE(want.has_value());
    return {reading.pattern.toeHeel - want->toeHeel, reading.pattern.rootTip - want->rootTip,
            reading.pattern.area / want->area};
}

}  // namespace

TEST_CASE("paste of every colour, marked either way, is read near the truth", "[compound]") {
    int read = 0;
    for (const Marking marking : {Marking::Wiped, Marking::Transferred})
        for (const auto& paste : kPastes)
            for (std::uint64_t seed = 1; seed <= 4; ++seed) {
                SyntheticFlank s;
                s.marking = marking;
                s.paste = paste.albedo;
                s.seed = seed;
                s.u = 0.3 + 0.12 * static_cast<double>(seed);
                s.v = 0.36 + 0.07 * static_cast<double>(seed);
                const DrawnFlank drawn = draw(s);
                const auto result = segmentCompound(drawn.flank);
                INFO(paste.name << " " << name(marking) << " seed " << seed);
                // White or grey paste on one flank of steel, a thin print of it above all, shows by its texture and
                // brightness alone: it may be refused, not misread.
                const std::string_view colour = paste.name;
                const bool pale = colour == "grey" || colour == "white";
                const bool faint = marking == Marking::Transferred && pale;
                if (!result && pale) {
                    CHECK((result.refused().why == Refusal::NoCompound || result.refused().why == Refusal::NotRolled));
                    continue;
                }
                REQUIRE(bool(result));
                ++read;
                const Errors e = errorsOf(result.value(), drawn.truth);
                INFO("u " << e.u << " v " << e.v << " area " << e.area << " separation " << result.value().separation
                          << " conf " << result.value().flankConfidence);
                // A print is patchy: where a patch at its end holds no paste, nothing shows how far the contact
                // reached.
                const double most = faint ? 0.09 : pale ? 0.06 : marking == Marking::Transferred ? 0.05 : 0.03;
                CHECK(std::abs(e.u) < most);
                CHECK(std::abs(e.v) < (pale ? 0.09 : 0.05));
                CHECK(e.area > 0.7);
                CHECK(e.area < (pale ? 1.6 : 1.4));
                CHECK(result.value().marking == marking);
            }
    CHECK(read >= 40);
}

TEST_CASE("white and grey paste, wiped, is read from three teeth together", "[compound]") {
    for (const std::size_t paste : {1U, 4U})
        for (std::uint64_t seed = 1; seed <= 4; ++seed) {
            std::vector<DrawnFlank> drawn;
            for (std::uint64_t tooth = 0; tooth < 3; ++tooth) {
                SyntheticFlank s;
                s.paste = kPastes[paste].albedo;
                s.seed = 10 * seed + tooth;
                s.u = 0.3 + 0.12 * static_cast<double>(seed) + 0.008 * static_cast<double>(tooth);
                drawn.push_back(draw(s));
            }
            std::vector<const UnwrappedFlank*> flanks;
            for (const auto& d : drawn) flanks.push_back(&d.flank);
            const auto results = segmentCompound(flanks);
            for (std::size_t k = 0; k < drawn.size(); ++k) {
                INFO(kPastes[paste].name << " seed " << seed << " tooth " << k);
                REQUIRE(bool(results[k]));
                const Errors e = errorsOf(results[k].value(), drawn[k].truth);
                CHECK(std::abs(e.u) < 0.06);
                CHECK(std::abs(e.v) < 0.09);
                CHECK(results[k].value().marking == Marking::Wiped);
            }
        }
}

TEST_CASE("a bare tooth among painted ones is refused for itself", "[compound]") {
    std::vector<DrawnFlank> drawn;
    for (std::uint64_t tooth = 0; tooth < 3; ++tooth) drawn.push_back(draw({.seed = 30 + tooth}));
    SyntheticFlank bare;
    bare.contact = false;
    bare.marking = Marking::Transferred;
    bare.seed = 40;
    drawn.push_back(draw(bare));
    std::vector<const UnwrappedFlank*> flanks;
    for (const auto& d : drawn) flanks.push_back(&d.flank);
    const auto results = segmentCompound(flanks);
    for (std::size_t k = 0; k < 3; ++k) CHECK(bool(results[k]));
    CHECK_FALSE(bool(results[3]));
}

TEST_CASE("flanks that show no pattern are refused with the reason", "[compound]") {
    const auto refusal = [](const SyntheticFlank& s) {
        const auto result = segmentCompound(draw(s).flank);
        REQUIRE_FALSE(bool(result));
        CHECK(result.refused().reason.size() > 20);
        CHECK(result.refused().whatToDo.size() > 20);
        return result.refused().why;
    };
    for (std::uint64_t seed = 1; seed <= 3; ++seed) {
        SyntheticFlank s;
        s.seed = seed;
        s.glossSpots = 0;
        s.contact = false;
        CHECK(refusal(s) == Refusal::NotRolled);
        s.marking = Marking::Transferred;
        CHECK(refusal(s) == Refusal::NoCompound);
        s = {};
        s.seed = seed;
        s.light = 0.01;
        CHECK(refusal(s) == Refusal::TooDark);
        s.paste = kPastes[1].albedo;
        s.light = 8;
        CHECK(refusal(s) == Refusal::Glare);
        DrawnFlank soft = draw({.seed = seed});
        soft.flank.blurPx = 0.05 * soft.flank.lengthPx;
        const auto result = segmentCompound(soft.flank);
        REQUIRE_FALSE(bool(result));
        CHECK(result.refused().why == Refusal::OutOfFocus);
    }
}

TEST_CASE("confidence is low under gloss and in the dark", "[compound]") {
    SyntheticFlank s;
    s.glossSpots = 6;
    s.seed = 5;
    const DrawnFlank drawn = draw(s);
    const auto result = segmentCompound(drawn.flank);
    REQUIRE(bool(result));
    double burnt = 0, clear = 0;
    int burntCount = 0, clearCount = 0;
    for (std::size_t i = 0; i < result.value().confidence.size(); ++i) {
        const auto* p = &drawn.flank.picture.rgb[3 * i];
        const bool hot = p[0] >= 253 && p[1] >= 253 && p[2] >= 253;
        (hot ? burnt : clear) += result.value().confidence[i];
        ++(hot ? burntCount : clearCount);
    }
    REQUIRE(burntCount > 50);
    CHECK(burnt / burntCount < 0.3);
    CHECK(clear / clearCount > 0.5);
}

TEST_CASE("a mirrored flank gives the mirrored reading", "[compound]") {
    SyntheticFlank s;
    s.u = 0.38;
    s.seed = 9;
    DrawnFlank drawn = draw(s);
    const auto straight = segmentCompound(drawn.flank);
    for (int y = 0; y < kMapHeight; ++y)
        for (int x = 0; x < kMapWidth / 2; ++x)
            for (int c = 0; c < 3; ++c)
                std::swap(
                    drawn.flank.picture.rgb[static_cast<std::size_t>(3 * (y * kMapWidth + x) + c)],
                    drawn.flank.picture.rgb[static_cast<std::size_t>(3 * (y * kMapWidth + kMapWidth - 1 - x) + c)]);
    const auto mirrored = segmentCompound(drawn.flank);
    REQUIRE(bool(straight));
    REQUIRE(bool(mirrored));
    CHECK(mirrored.value().pattern.toeHeel == Approx(1 - straight.value().pattern.toeHeel).margin(0.005));
    CHECK(mirrored.value().pattern.rootTip == Approx(straight.value().pattern.rootTip).margin(0.01));
}

TEST_CASE("several flanks together keep their order and their own answers", "[compound]") {
    std::vector<DrawnFlank> drawn;
    for (std::uint64_t seed = 1; seed <= 3; ++seed) {
        SyntheticFlank s;
        s.seed = seed;
        s.u = 0.4 + 0.01 * static_cast<double>(seed);
        drawn.push_back(draw(s));
    }
    SyntheticFlank dark;
    dark.light = 0.01;
    drawn.insert(drawn.begin() + 1, draw(dark));
    std::vector<const UnwrappedFlank*> flanks;
    for (const auto& d : drawn) flanks.push_back(&d.flank);
    const auto results = segmentCompound(flanks);
    REQUIRE(results.size() == 4);
    REQUIRE_FALSE(bool(results[1]));
    CHECK(results[1].refused().why == Refusal::TooDark);
    for (const std::size_t k : {0U, 2U, 3U}) {
        REQUIRE(bool(results[k]));
        const Errors e = errorsOf(results[k].value(), drawn[k].truth);
        CHECK(std::abs(e.u) < 0.02);
        CHECK(std::abs(e.v) < 0.04);
    }
}

TEST_CASE("the marking can be forced", "[compound]") {
    const DrawnFlank drawn = draw({});
    const auto right = segmentCompound(drawn.flank, {.marking = Marking::Wiped});
    REQUIRE(bool(right));
    CHECK(right.value().marking == Marking::Wiped);
    CHECK(right.value().markingCertainty == 1);
    // Told to look for a print, it must not take the clear middle of a painted flank for one.
    const auto wrong = segmentCompound(drawn.flank, {.marking = Marking::Transferred});
    if (wrong) CHECK(wrong.value().pattern.area > 2 * right.value().pattern.area);
}
