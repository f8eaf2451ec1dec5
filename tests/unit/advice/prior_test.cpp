// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/prior.h"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "accuracy/advice/simulated_trial.h"

using namespace shimsight;
using namespace shimsight::advice;

TEST_CASE("the prior's depth error is about 0.008 in with tails to 0.025 in") {
    const ToothContact contact(simulated::demonstrationSet(Cut::FaceMilled));
    const Prior prior(contact);
    Random random(1);
    constexpr int kDraws = 20000;
    int withinSigma = 0, beyond = 0;
    for (int i = 0; i < kDraws; ++i) {
        Z z = Z::Zero();
        z[kDepth] = random.normal();
        const double depth = prior.setUp(z).error.depthMm;
        withinSigma += std::abs(depth) < 0.2032;
        beyond += std::abs(depth) > 0.635;
    }
    CHECK(withinSigma / double(kDraws) == Approx(0.683).margin(0.03));  // one standard deviation of a normal
    CHECK(beyond / double(kDraws) > 0.003);
    CHECK(beyond / double(kDraws) < 0.03);
}

TEST_CASE("ring gear position and backlash agree with the gear model") {
    const ToothContact contact(simulated::demonstrationSet(Cut::FaceHobbed));
    const Prior prior(contact);
    Random random(2);
    for (int i = 0; i < 20; ++i) {
        Z z;
        for (int k = 0; k < kUnknowns; ++k) z[k] = random.normal();
        const SetUp setUp = prior.setUp(z);
        CHECK(setUp.nominalBacklashMm + contact.backlashChangeMm(setUp.error) == Approx(setUp.backlashMm).margin(1e-9));
        CHECK(prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error) == Approx(setUp.error.ringMm));
    }
    Z z = Z::Zero();
    z[kBacklash] = prior.zOfBacklash(0.27);
    CHECK(prior.setUp(z).backlashMm == Approx(0.27));
}

TEST_CASE("slopes of the common unknowns against differences") {
    const ToothContact contact(simulated::demonstrationSet(Cut::FaceMilled));
    const Prior prior(contact);
    Random random(3);
    Z z;
    for (int k = 0; k < kUnknowns; ++k) z[k] = random.normal();
    const auto slopes = prior.commonJacobian(z);
    for (int k = 0; k < kFlankFirst; ++k) {
        Z up = z, down = z;
        constexpr double kStep = 1e-4;
        up[k] += kStep;
        down[k] -= kStep;
        const SetUp a = prior.setUp(up), b = prior.setUp(down);
        const auto slope = [&](double high, double low) { return (high - low) / (2 * kStep); };
        CHECK(slopes(0, k) == Approx(slope(a.error.depthMm, b.error.depthMm)).margin(1e-6));
        CHECK(slopes(1, k) == Approx(slope(a.error.ringMm, b.error.ringMm)).margin(1e-6));
        CHECK(slopes(2, k) == Approx(slope(a.error.offsetMm, b.error.offsetMm)).margin(1e-6));
        CHECK(slopes(3, k) == Approx(slope(a.error.shaftAngleRad, b.error.shaftAngleRad)).margin(1e-9));
        CHECK(slopes(4, k) == Approx(slope(std::log(a.filmMm), std::log(b.filmMm))).margin(1e-6));
    }
}

TEST_CASE("the scatter's slopes on a flank against differences") {
    const ToothContact contact(simulated::demonstrationSet(Cut::FaceMilled));
    const Prior prior(contact);
    Random random(4);
    Z z;
    for (int k = 0; k < kUnknowns; ++k) z[k] = random.normal();
    constexpr double kStep = 1e-4;
    for (const Side side : kSides) {
        // More scatter does to the flank what a change of its own z does.
        const auto byScatter = [&](double step) {
            Z moved = z;
            moved[kScatter] += step;
            return prior.setUp(moved).modification[index(side)];
        };
        const auto byFlank = [&](double step) {
            Z moved = z;
            moved.segment<kFlankUnknowns>(firstOf(side)) += step * Prior::scatterJacobian(z, side);
            return prior.setUp(moved).modification[index(side)];
        };
        const auto slope = [](double high, double low) { return (high - low) / (2 * kStep); };
        const Modification up = byScatter(kStep), down = byScatter(-kStep);
        const Modification flankUp = byFlank(kStep), flankDown = byFlank(-kStep);
        CHECK(up.lengthCrownUm == down.lengthCrownUm);
        CHECK(flankUp.lengthCrownUm == flankDown.lengthCrownUm);
        CHECK(up.profileCrownUm == down.profileCrownUm);
        CHECK(flankUp.profileCrownUm == flankDown.profileCrownUm);
        REQUIRE(std::abs(slope(up.biasUm, down.biasUm)) > 1e-3);
        CHECK(slope(flankUp.biasUm, flankDown.biasUm) == Approx(slope(up.biasUm, down.biasUm)).epsilon(1e-5));
        REQUIRE(std::abs(slope(up.lengthShift, down.lengthShift)) > 1e-4);
        CHECK(slope(flankUp.lengthShift, flankDown.lengthShift) ==
              Approx(slope(up.lengthShift, down.lengthShift)).epsilon(1e-5));
        REQUIRE(std::abs(slope(up.profileShift, down.profileShift)) > 1e-4);
        CHECK(slope(flankUp.profileShift, flankDown.profileShift) ==
              Approx(slope(up.profileShift, down.profileShift)).epsilon(1e-5));
    }
}

TEST_CASE("twice the scatter: shifts, bias and housing depart twice as far, depth, backlash, crowns and film do not") {
    const ToothContact contact(simulated::demonstrationSet(Cut::FaceMilled));
    const Prior prior(contact);
    const SetUp centre = prior.setUp(Z::Zero());
    Z z = Z::Constant(0.7);
    z[kScatter] = 0;
    const SetUp usual = prior.setUp(z);
    z[kScatter] = std::log(2.0) / kScatterSpread;
    const SetUp wide = prior.setUp(z);
    CHECK(wide.error.offsetMm == Approx(2 * usual.error.offsetMm));
    CHECK(wide.error.shaftAngleRad == Approx(2 * usual.error.shaftAngleRad));
    CHECK(wide.error.depthMm == usual.error.depthMm);
    CHECK(wide.backlashMm == usual.backlashMm);
    CHECK(wide.nominalBacklashMm == usual.nominalBacklashMm);
    CHECK(wide.filmMm == usual.filmMm);
    for (std::size_t side = 0; side < 2; ++side) {
        const Modification &from = centre.modification[side], &once = usual.modification[side],
                           &twice = wide.modification[side];
        CHECK(twice.biasUm - from.biasUm == Approx(2 * (once.biasUm - from.biasUm)));
        CHECK(twice.lengthShift - from.lengthShift == Approx(2 * (once.lengthShift - from.lengthShift)));
        CHECK(twice.profileShift - from.profileShift == Approx(2 * (once.profileShift - from.profileShift)));
        CHECK(twice.lengthCrownUm == once.lengthCrownUm);
        CHECK(twice.profileCrownUm == once.profileCrownUm);
    }
}

TEST_CASE("a file with a bias alone leaves the crowns as open as one without a word on them") {
    GearSetData data;
    data.pinionTeeth = 11;
    data.ringTeeth = 43;
    data.ringGearDiameterMm = 222;
    data.offsetMm = 36;
    data.cut = Cut::FaceMilled;
    const auto crownStep = [&] {
        const ToothContact contact(completeGearSet(data));
        Z z = Z::Zero();
        z[firstOf(Side::Drive)] = 1;
        return Prior(contact).setUp(z).modification[0].lengthCrownUm /
               Prior(contact).setUp(Z::Zero()).modification[0].lengthCrownUm;
    };
    const double withoutAWord = crownStep();
    data.modification[0].biasUm = data.modification[1].biasUm = 0;
    CHECK(crownStep() == Approx(withoutAWord));
}

TEST_CASE("crowning that is only assumed leaves more open") {
    GearSetData data;
    data.pinionTeeth = 11;
    data.ringTeeth = 43;
    data.ringGearDiameterMm = 222;
    data.offsetMm = 36;
    data.cut = Cut::FaceMilled;
    const ToothContact assumed(completeGearSet(data));
    const Modification usual = assumed.gearSet().modification[0];
    data.modification[0] = data.modification[1] = {usual.lengthCrownUm, usual.profileCrownUm, usual.biasUm,
                                                   usual.lengthShift, usual.profileShift};
    const ToothContact known(completeGearSet(data));
    Z z = Z::Zero();
    z[firstOf(Side::Drive)] = z[firstOf(Side::Drive) + 1] = 1;
    const auto steps = [&](const ToothContact& contact) {
        const Modification middle = Prior(contact).setUp(Z::Zero()).modification[0];
        const Modification moved = Prior(contact).setUp(z).modification[0];
        return std::array{moved.lengthCrownUm / middle.lengthCrownUm, moved.profileCrownUm / middle.profileCrownUm};
    };
    const auto wide = steps(assumed), narrow = steps(known);
    CHECK(wide[0] > 1.1 * narrow[0]);
    CHECK(wide[1] > 1.1 * narrow[1]);

    // Nine sets in ten: from the longest and highest usual mark to the shortest and lowest.
    Z least = Z::Zero(), most = Z::Zero();
    least[firstOf(Side::Coast)] = least[firstOf(Side::Coast) + 1] = -1.645;
    most[firstOf(Side::Coast)] = most[firstOf(Side::Coast) + 1] = 1.645;
    const Modification flat = Prior(assumed).setUp(least).modification[1];
    const Modification round = Prior(assumed).setUp(most).modification[1];
    const auto shareMarked = [](double crownUm) { return std::sqrt(1000 * kFilmMm / crownUm); };
    CHECK(shareMarked(flat.lengthCrownUm) == Approx(kContactLengthHigh));
    CHECK(shareMarked(round.lengthCrownUm) == Approx(kContactLengthLow));
    CHECK(shareMarked(flat.profileCrownUm) == Approx(kContactHeightHigh));
    CHECK(shareMarked(round.profileCrownUm) == Approx(kContactHeightLow));
}
