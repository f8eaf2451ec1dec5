// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <algorithm>
#include <catch2/catch.hpp>
#include <string>

#include "accuracy/closed-loop/world.h"
#include "advice/learning.h"
#include "shimsight/advice.h"
#include "unit/advice/sets.h"

using namespace shimsight;
using namespace shimsight::test;
using namespace shimsight::simulated;

namespace {

/// A set-up with a crown of its own, `depthMm` off, read with the usual noise.
advice::SetUp setUpOf(const ToothContact& contact, double depthMm, double backlashMm) {
    const advice::Prior prior(contact);
    advice::SetUp setUp = prior.setUp(advice::Z::Zero());
    for (const Side side : kSides) setUp.modification[index(side)].lengthShift += side == Side::Drive ? 0.03 : -0.02;
    setUp.error.depthMm = depthMm;
    setUp.backlashMm = backlashMm;
    setUp.error.ringMm = prior.ringFor(backlashMm, setUp.nominalBacklashMm, setUp.error);
    return setUp;
}

JobTrial read(const ToothContact& contact, const advice::SetUp& setUp, double shimChangeMm, std::uint64_t seed,
              double sigma = 0.02) {
    Random random(seed);
    return {closed_loop::readTrial(contact, setUp, random, sigma), shimChangeMm};
}

const Diagnosis* find(const Advice& advice, DiagnosisKind kind) {
    const auto at = std::find_if(advice.diagnoses.begin(), advice.diagnoses.end(),
                                 [&](const Diagnosis& d) { return d.kind == kind; });
    return at == advice.diagnoses.end() ? nullptr : &*at;
}

bool holds(const Message& sentence, const std::string& part) { return text(sentence).find(part) != std::string::npos; }

}  // namespace

TEST_CASE("a second trial narrows the depth, and the change that was made moves it", "[statistics][many-draws]") {
    const ToothContact& contact = GENERATE(0, 1) == 0 ? milledContact() : hobbedContact();
    const auto width = [](const Advice& advice) { return advice.depthErrorMm.high90 - advice.depthErrorMm.low90; };
    constexpr int kJobs = 6;
    double first = 0, second = 0, alone = 0;
    for (std::uint64_t i = 0; i < kJobs; ++i) {
        const std::vector<JobTrial> two{read(contact, setUpOf(contact, 0.14, 0.20), 0, 100 + 2 * i, 0.04),
                                        read(contact, setUpOf(contact, 0.04, 0.18), -0.10, 101 + 2 * i, 0.04)};
        first += width(advise({&contact}, std::span(two).first(1))) / kJobs;
        const Advice both = advise({&contact}, two);
        second += width(both) / kJobs;
        alone += width(advise({&contact}, two[1].seen)) / kJobs;
        CHECK(both.trials == 2);
        CHECK(both.depthErrorMm.best == Approx(0.04).margin(0.06));
        CHECK(find(both, DiagnosisKind::EntryChange) == nullptr);
        // The change follows from the stacks just as well.
        std::vector<JobTrial> stacks = two;
        stacks[0].seen.shimStackMm = 0.80;
        stacks[1].seen.shimStackMm = 0.70;
        stacks[1].shimChangeMm.reset();
        CHECK(advise({&contact}, stacks).depthErrorMm.best == Approx(both.depthErrorMm.best).margin(1e-6));
    }
    CHECK(second < 0.97 * first);
    CHECK(second < 0.98 * alone);  // what the model is off by itself (kModelDepthMm) stays
}

TEST_CASE("what is known before the next trial is the ensemble moved by the change") {
    const ToothContact& contact = milledContact();
    const advice::Prior prior(contact);
    const JobTrial trial = read(contact, setUpOf(contact, 0.12, 0.20), 0, 3);
    const advice::Posterior posterior = advice::samplePosterior(
        {contact, prior, advice::PriorState{}, advice::evidenceOf(trial.seen, contact)}, 600, 1);
    double mean = 0, offset = 0;
    for (const advice::Particle& p : posterior.particles) {
        mean += p.weight * p.setUp.error.depthMm;
        offset += p.weight * p.z[advice::kOffset];
    }
    const advice::PriorState next = advice::knownNext(posterior, -0.10, 0.008);
    CHECK(advice::Prior::depthOf(next.mean[advice::kDepth]) == Approx(mean - 0.10).margin(0.002));
    CHECK(next.mean[advice::kOffset] == Approx(std::sqrt(1 - 0.02) * offset).margin(1e-9));
    CHECK(next.covariance(advice::kBacklash, advice::kBacklash) == 1);
    CHECK(next.mean[advice::kBacklash] == 0);
    CHECK((next.precision * next.covariance - Eigen::MatrixXd::Identity(advice::kUnknowns, advice::kUnknowns)).norm() <
          1e-8);
}

TEST_CASE("a change logged the wrong way round is asked about, whatever the build", "[many-draws]") {
    const PinionShim place = GENERATE(PinionShim::BehindPinionHead, PinionShim::UnderPinionSupport);
    GearSet set = limitedSet(Cut::FaceMilled);
    set.build.pinionShim = place;
    const ToothContact contact(set);
    const double sign = place == PinionShim::BehindPinionHead ? 1 : -1;
    // Logged as 0.10 mm away from the ring gear, made 0.10 mm toward it.
    const std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.05, 0.18), 0, 4),
                                        read(contact, setUpOf(contact, 0.15, 0.18), -sign * 0.10, 5)};
    const Advice advice = advise({&contact}, history);
    const Diagnosis* entry = find(advice, DiagnosisKind::EntryChange);
    REQUIRE(entry != nullptr);
    CHECK(advice.verdict == Verdict::MeasureAgain);
    CHECK(entry->question);
    CHECK(entry->chance > 0.9);
    CHECK(holds(entry->evidence, "the wrong way round?"));
    CHECK(holds(entry->evidence, sign > 0 ? "means deeper" : "means shallower"));
    CHECK(holds(entry->evidence, "trial 2"));
    CHECK(advice.depthErrorMm.best == Approx(0.15).margin(0.03));  // the marks rule, not the log
    // The same entered right raises no question.
    std::vector<JobTrial> right = history;
    right[1].shimChangeMm = sign * 0.10;
    const Advice clean = advise({&contact}, right);
    CHECK(find(clean, DiagnosisKind::EntryChange) == nullptr);
    CHECK(clean.verdict == Verdict::Change);
}

TEST_CASE("a backlash typed ten times too large is asked about") {
    const ToothContact& contact = hobbedContact();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.05, 0.18), 0, 6)};
    history[0].seen.backlashMm = 1.8;
    const Advice advice = advise({&contact}, history);
    const Diagnosis* entry = find(advice, DiagnosisKind::EntryBacklash);
    REQUIRE(entry != nullptr);
    CHECK(advice.verdict == Verdict::MeasureAgain);
    CHECK(holds(entry->evidence, "0.071 in (1.80 mm)"));
}

TEST_CASE("a backlash far outside its limits after a correction is asked about once") {
    const ToothContact& contact = milledContact();
    const double middle = contact.gearSet().limits.backlashMm.middle();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.12, 0.20), 0, 41),
                                  read(contact, setUpOf(contact, 0.04, middle), -0.08, 42)};
    CHECK(find(advise({&contact}, history), DiagnosisKind::EntryBacklash) == nullptr);
    *history[1].seen.backlashMm *= 2;
    const Advice doubled = advise({&contact}, history);
    REQUIRE(find(doubled, DiagnosisKind::EntryBacklash) != nullptr);
    CHECK(find(doubled, DiagnosisKind::EntryBacklash)->chance > 0.5);
    CHECK(doubled.verdict == Verdict::MeasureAgain);
    // What is left of the last backlash when only the pinion moved is no typing error.
    const double left = *history[0].seen.backlashMm + contact.backlashRates().perDepth * 0.08;
    history[1] = read(contact, setUpOf(contact, 0.04, left), -0.08, 42);
    CHECK(find(advise({&contact}, history), DiagnosisKind::EntryBacklash) == nullptr);
}

TEST_CASE("sides exchanged in every trial are found by all of them together") {
    const ToothContact& contact = milledContact();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.30, 0.20), 0, 43),
                                  read(contact, setUpOf(contact, 0.16, 0.18), -0.14, 44)};
    CHECK(find(advise({&contact}, history), DiagnosisKind::SidesSwapped) == nullptr);
    for (JobTrial& trial : history) std::swap(trial.seen.drive, trial.seen.coast);
    const Advice swapped = advise({&contact}, history);
    REQUIRE(find(swapped, DiagnosisKind::SidesSwapped) != nullptr);
    CHECK(swapped.verdict != Verdict::Accept);
    CHECK(swapped.depthErrorMm.best == Approx(0.16).margin(0.08));
}

TEST_CASE("teeth worn on the side that carries the load are named") {
    const ToothContact& contact = milledContact();
    advice::SetUp worn = setUpOf(contact, 0.08, 0.20);
    Modification& load = worn.modification[index(contact.gearSet().forwardLoadSide)];
    load.lengthCrownUm *= 0.35;
    load.profileCrownUm *= 0.35;
    advice::SetUp next = worn;
    next.error.depthMm = 0.02;
    next.backlashMm = 0.18;
    next.error.ringMm = advice::Prior(contact).ringFor(0.18, next.nominalBacklashMm, next.error);
    const std::vector<JobTrial> history{read(contact, worn, 0, 45), read(contact, next, -0.06, 46)};
    const Advice advice = advise({&contact}, history);
    REQUIRE(find(advice, DiagnosisKind::UsedGears) != nullptr);
    CHECK(holds(find(advice, DiagnosisKind::UsedGears)->evidence, "worn-in"));
}

TEST_CASE("another reading is asked for only while it may change what is done, and not for ever") {
    const ToothContact& contact = milledContact();
    const JobTrial open = read(contact, setUpOf(contact, 0.10, 0.20), 0, 47, 0.08);
    AdviceOptions options;
    CHECK(advise({&contact}, std::vector{open}, options).readAgainFirst);
    options.costs.readAgainHours = 5;
    CHECK_FALSE(advise({&contact}, std::vector{open}, options).readAgainFirst);
    options.costs.readAgainHours = 0;
    CHECK_FALSE(advise({&contact}, std::vector<JobTrial>(8, open), options).readAgainFirst);
    // Far off and read well: nothing that a second reading says changes the first correction much.
    const JobTrial clear = read(contact, setUpOf(contact, 0.30, 0.20), 0, 48, 0.005);
    options.costs.readAgainHours = 0.5;
    CHECK_FALSE(advise({&contact}, std::vector{clear}, options).readAgainFirst);
}

TEST_CASE("a wave of the backlash round the ring gear is runout; even readings with wandering marks are not") {
    const ToothContact& contact = milledContact();
    JobTrial trial = read(contact, setUpOf(contact, 0.05, 0.18), 0, 7);
    const double limit = contact.gearSet().limits.backlashVariationMm;
    for (int i = 0; i < 8; ++i) trial.seen.backlashRoundMm.push_back(0.18 + limit * std::cos(i * kPi / 4 - 1));
    const Advice advice = advise({&contact}, std::vector{trial});
    const Diagnosis* runout = find(advice, DiagnosisKind::Runout);
    REQUIRE(runout != nullptr);
    CHECK(runout->chance > 0.95);
    CHECK(holds(runout->evidence, "once per turn"));
    CHECK(holds(runout->evidence, "0.004 in (0.10 mm)"));

    trial.seen.backlashRoundMm.assign(8, 0.18);
    trial.seen.drive->teeth = 8;
    trial.seen.drive->toothSpread = 0.2;
    const Advice even = advise({&contact}, std::vector{trial});
    CHECK(find(even, DiagnosisKind::Runout) == nullptr);
    CHECK(find(even, DiagnosisKind::MarksScattered) != nullptr);
}

TEST_CASE("the once-per-turn wave is fitted exactly, and needs four readings") {
    std::vector<double> readings;
    for (int i = 0; i < 6; ++i) readings.push_back(0.2 + 0.03 * std::cos(i * kPi / 3) - 0.04 * std::sin(i * kPi / 3));
    const auto wave = backlashWave(readings, 0.012);
    REQUIRE(wave);
    CHECK(wave->meanMm == Approx(0.2));
    CHECK(wave->amplitudeMm == Approx(0.05));
    CHECK(wave->restMm == Approx(0).margin(1e-12));
    CHECK(wave->amplitudeSigmaMm == Approx(0.012 * std::sqrt(2.0 / 6)));
    CHECK(wave->tightestMm == Approx(*std::min_element(readings.begin(), readings.end())));
    CHECK_FALSE(backlashWave({0.1, 0.2, 0.3}, 0.012));
}

TEST_CASE("housing, film and used gears are named") {
    const ToothContact& contact = milledContact();
    advice::SetUp bent = setUpOf(contact, 0.02, 0.18);
    bent.error.offsetMm = 0.25;
    bent.error.ringMm = advice::Prior(contact).ringFor(0.18, bent.nominalBacklashMm, bent.error);
    const Advice housing = advise({&contact}, std::vector{read(contact, bent, 0, 8)});
    CHECK((find(housing, DiagnosisKind::HousingOffset) || find(housing, DiagnosisKind::ShaftAngle)));

    advice::SetUp thick = setUpOf(contact, 0.02, 0.18);
    thick.filmMm = 3 * kFilmMm;
    const Advice film = advise({&contact}, std::vector{read(contact, thick, 0, 9)});
    REQUIRE(find(film, DiagnosisKind::FilmThick) != nullptr);
    CHECK(holds(find(film, DiagnosisKind::FilmThick)->evidence, "thinner"));

    AdviceOptions used;
    used.usedGears = true;
    const std::vector<JobTrial> plain{read(contact, setUpOf(contact, 0.10, 0.18), 0, 10)};
    REQUIRE(find(advise({&contact}, plain, used), DiagnosisKind::UsedGears) != nullptr);
    CHECK(holds(find(advise({&contact}, plain, used), DiagnosisKind::UsedGears)->evidence, "old wear"));
    CHECK(advise({&contact}, plain).diagnoses.empty());
}

TEST_CASE("used gears whose marks lie as they lay before are left at the first look; moved ones are set back") {
    const ToothContact& contact = GENERATE(0, 1) == 0 ? milledContact() : hobbedContact();
    constexpr int kJobs = 8;
    constexpr double kWasMm = 0.06, kBacklashMm = 0.28, kPhotoSigma = 0.012;
    int left = 0, leftWhereMoved = 0, wayBack = 0;
    for (std::uint64_t i = 0; i < kJobs; ++i) {
        AdviceOptions options;
        options.usedGears = true;
        options.before = read(contact, setUpOf(contact, kWasMm, kBacklashMm), 0, 300 + i, kPhotoSigma).seen;
        const auto adviceAt = [&](double depthMm) {
            return advise({&contact},
                          std::vector{read(contact, setUpOf(contact, depthMm, kBacklashMm), 0, 400 + i, kPhotoSigma)},
                          options);
        };
        left += adviceAt(kWasMm).verdict == Verdict::Accept;
        const Advice moved = adviceAt(kWasMm + 0.12);
        leftWhereMoved += moved.verdict == Verdict::Accept;
        wayBack += moved.verdict == Verdict::Change && moved.shim.depthChangeMm < -0.05;
    }
    INFO(left << " left, " << leftWhereMoved << " left where moved, " << wayBack << " set back, of " << kJobs);
    CHECK(left >= kJobs - 1);
    CHECK(leftWhereMoved == 0);
    CHECK(wayBack >= kJobs - 1);
}

TEST_CASE("a set named with the wrong cut shows by how its marks move") {
    GearSetData data;
    data.name = "hobbed, entered as milled";
    data.pinionTeeth = 11, data.ringTeeth = 43, data.ringGearDiameterMm = 222, data.offsetMm = 36;
    data.faceWidthMm = 34, data.pinionSpiralDeg = 47, data.cut = Cut::FaceMilled, data.cutterRadiusMm = 127;
    const ToothContact& truth = hobbedContact();
    const std::vector<JobTrial> history{read(truth, setUpOf(truth, 0.16, 0.20), 0, 11),
                                        read(truth, setUpOf(truth, 0.04, 0.18), -0.12, 12),
                                        read(truth, setUpOf(truth, -0.02, 0.18), -0.06, 13)};
    const Advice wrong = adviseJob(data, history);
    REQUIRE(find(wrong, DiagnosisKind::WrongGearData) != nullptr);
    CHECK(holds(find(wrong, DiagnosisKind::WrongGearData)->evidence, "face-hobbed"));
}

TEST_CASE("work counts: a dear pinion shim is left in where the ring gear alone has a good chance") {
    const ToothContact& contact = milledContact();
    const std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.03, 0.29), 0, 14)};
    AdviceOptions dear;
    dear.costs.pinionShimHours = 8;
    const Advice advice = advise({&contact}, history, dear);
    REQUIRE(advice.verdict == Verdict::Change);
    CHECK(advice.shim.thicknessChangeMm == 0);
    CHECK(advice.ringGearMoveMm > 0.05);
    CHECK(advice.expectedHours > dear.costs.trialHours);
}

TEST_CASE("the expected pattern comes with the spread of its numbers") {
    const ToothContact& contact = hobbedContact();
    const std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.12, 0.18), 0, 15)};
    const Advice advice = advise({&contact}, history);
    REQUIRE(advice.expectedDrive);
    REQUIRE(advice.spreadDrive);
    REQUIRE(advice.spreadCoast);
    for (const PatternSpread& spread : {*advice.spreadDrive, *advice.spreadCoast})
        for (const double value : {spread.toeHeel, spread.rootTip, spread.length, spread.height}) {
            CHECK(value > 0);
            CHECK(value < 0.3);
        }
    CHECK(advice.spreadDrive->toeHeel == advice.expectedDrive->sigmaToeHeel);
}

TEST_CASE("a memo kept between the trials of a job changes nothing but the time", "[many-draws]") {
    const ToothContact& contact = milledContact();
    const ToothContact& other = hobbedContact();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.14, 0.20), 0, 60),
                                  read(contact, setUpOf(contact, 0.04, 0.18), -0.10, 61),
                                  read(contact, setUpOf(contact, 0.01, 0.18), -0.03, 62)};
    // An entry that is doubted, and what comes after it.
    *history[1].seen.backlashMm *= 4;
    AdviceOptions options;
    options.otherCut = [&other] { return &other; };
    advice::FilterMemo memo;
    for (std::size_t n = 1; n <= history.size(); ++n) {
        const auto some = std::span(history).first(n);
        const Advice kept = advice::adviseWith({&contact}, some, options, &memo);
        const Advice fresh = advise({&contact}, some, options);
        CHECK(kept.depthErrorMm.best == fresh.depthErrorMm.best);
        CHECK(kept.because == fresh.because);
        CHECK((find(fresh, DiagnosisKind::EntryBacklash) != nullptr) == (n >= 2));
    }
}

TEST_CASE("a reading typed at half after a correction is asked about, also where the ring gear may have stayed") {
    const ToothContact& contact = milledContact();
    const double middle = contact.gearSet().limits.backlashMm.middle();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.12, 0.20), 0, 63),
                                  read(contact, setUpOf(contact, 0.04, middle), -0.08, 64)};
    *history[1].seen.backlashMm *= 0.5;
    REQUIRE(find(advise({&contact}, history), DiagnosisKind::EntryBacklash) != nullptr);
    // The same reading twice, with nothing changed, is no typing error.
    history.push_back(history[1]);
    history[2].shimChangeMm = 0;
    CHECK(find(advise({&contact}, history), DiagnosisKind::EntryBacklash) == nullptr);
}

TEST_CASE("a doubted backlash that is read again is doubted no more", "[many-draws]") {
    const ToothContact& contact = milledContact();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.10, 0.20), 0, 67)};
    *history[0].seen.backlashMm = 0.8;
    const Advice doubted = advise({&contact}, history);
    REQUIRE(find(doubted, DiagnosisKind::EntryBacklash) != nullptr);
    CHECK(doubted.verdict == Verdict::MeasureAgain);
    history.push_back(read(contact, setUpOf(contact, 0.10, 0.20), 0, 68));
    *history[1].seen.backlashMm = 0.805;
    const Advice again = advise({&contact}, history);
    CHECK(find(again, DiagnosisKind::EntryBacklash) == nullptr);
    // Read right the second time, the first stays doubted.
    *history[1].seen.backlashMm = 0.20;
    const Advice corrected = advise({&contact}, history);
    CHECK(find(corrected, DiagnosisKind::EntryBacklash) != nullptr);
}

TEST_CASE("a first backlash far from its limits is pointed at, since one trial cannot tell half or twice") {
    const ToothContact& contact = milledContact();
    const Interval& limits = contact.gearSet().limits.backlashMm;
    const auto pointedAt = [&](double backlashMm) {
        const Advice advice = advise({&contact}, std::vector{read(contact, setUpOf(contact, 0.10, backlashMm), 0, 66)});
        return std::any_of(advice.because.begin(), advice.because.end(),
                           [](const Message& sentence) { return holds(sentence, "typed right"); });
    };
    CHECK(pointedAt(0.4 * limits.low));
    CHECK(pointedAt(1.8 * limits.high));
    CHECK_FALSE(pointedAt(limits.middle()));
}

TEST_CASE("what the photos say of the cut counts against the file, and no more than they deserve") {
    CHECK_FALSE(chanceFaceMilledTogether({}));
    CHECK(*chanceFaceMilledTogether(std::vector{0.8, 0.2}) == Approx(0.5));
    CHECK(*chanceFaceMilledTogether(std::vector{0.8}) == Approx(0.8));
    CHECK(*chanceFaceMilledTogether(std::vector{1.0, 0.99, 0.9}) == Approx(0.961).margin(0.002));
    CHECK(*chanceFaceMilledTogether(std::vector{0.0}) == Approx(0.039).margin(0.002));

    // A hobbed set entered as milled, one trial: the photos make the difference.
    GearSet wrong = demonstrationSet(Cut::FaceMilled);
    const ToothContact named(wrong);
    const ToothContact& truth = hobbedContact();
    AdviceOptions options;
    options.otherCut = [&truth] { return &truth; };
    JobTrial trial = read(truth, setUpOf(truth, 0.10, 0.20), 0, 65, 0.04);
    const auto chanceOf = [&](std::optional<double> milled) {
        trial.seen.chanceFaceMilled = milled;
        const Advice advice = advise({&named}, std::vector{trial}, options);
        const Diagnosis* found = find(advice, DiagnosisKind::WrongGearData);
        return found == nullptr ? 0.0 : found->chance;
    };
    CHECK(chanceOf(0.04) > chanceOf(std::nullopt) + 0.1);
    CHECK(chanceOf(0.96) < 0.15);
    trial.seen.chanceFaceMilled = 1.0;
    CHECK_THROWS(advise({&named}, std::vector{trial}, options));
}

TEST_CASE("the same history of ten trials gives the same advice", "[many-draws]") {
    const ToothContact& contact = milledContact();
    std::vector<JobTrial> history;
    for (std::uint64_t i = 0; i < 10; ++i)
        history.push_back(read(contact, setUpOf(contact, i % 2 == 0 ? 0.10 : 0.02, 0.18),
                               i == 0 ? 0 : (i % 2 == 0 ? 0.08 : -0.08), 20 + i));
    const Advice advice = advise({&contact}, history);
    CHECK(advice.trials == 10);
    CHECK(advice.depthErrorMm.best == Approx(0.02).margin(0.03));
    CHECK(advise({&contact}, history).depthErrorMm.best == advice.depthErrorMm.best);
    CHECK(advise({&contact}, history).because == advice.because);
}

TEST_CASE("histories that cannot be") {
    const ToothContact& contact = milledContact();
    std::vector<JobTrial> history{read(contact, setUpOf(contact, 0.1, 0.18), 0, 40)};
    history.push_back(history[0]);
    history[1].shimChangeMm = 25.4;
    CHECK_THROWS_AS(advise({&contact}, history), InputError);
    history[1].shimChangeMm = std::nan("");
    CHECK_THROWS_AS(advise({&contact}, history), InputError);
    history[1].shimChangeMm = 0;
    history[1].seen.backlashRoundMm = {0.1, -0.2};
    CHECK_THROWS_AS(advise({&contact}, history), InputError);
    // A last trial without a mark asks for one; an earlier one is passed over.
    history[1].seen = {};
    CHECK(advise({&contact}, history).verdict == Verdict::MeasureAgain);
    std::swap(history[0], history[1]);
    history[1].shimChangeMm = -0.05;
    CHECK(advise({&contact}, history).trials == 1);
}
