#include "advice/prior.h"

#include <catch2/catch.hpp>

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
    const auto slopes = prior.commonSlopes(z);
    for (int k = 0; k < 6; ++k) {
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
    z[firstOf(Side::Drive) + 4] = 1;
    z[firstOf(Side::Coast)] = 1;
    const SetUp wide = Prior(assumed).setUp(z), narrow = Prior(known).setUp(z);
    CHECK(wide.modification[0].profileShift > 1.5 * narrow.modification[0].profileShift);
    CHECK(wide.modification[1].lengthCrownUm > narrow.modification[1].lengthCrownUm);
}
