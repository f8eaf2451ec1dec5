// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Which faults a single trial tells at all, for any reader of marks with this much noise: see README.md beside this
// file. Run from the root of the repository.
// Usage: closed_loop_tellable JOBS_PER_SET SEED READING_SIGMA [SAMPLES]

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <future>
#include <string>
#include <vector>

#include "advice/posterior.h"
#include "gear_under_study.h"
#include "world_density.h"

using namespace shimsight;
using namespace shimsight::closed_loop;

namespace {

/// Of healthy jobs, the share that the reader may call faulty.
constexpr double kFalseShare = 0.02;

/// What a trial may have been, besides what it is entered as.
struct Rival {
    std::string name;
    double size = 0;
    bool otherCut = false;
};

const std::vector<Rival>& rivals() {
    static const std::vector<Rival> all{
        {"backlash typed", 0.1}, {"backlash typed", 0.25}, {"backlash typed", 0.5}, {"backlash typed", 0.67},
        {"backlash typed", 1.5}, {"backlash typed", 2},    {"backlash typed", 4},   {"backlash typed", 10},
        {"sides swapped", 0.05}, {"sides swapped", 0.15},  {"sides swapped", 0.25}, {"wrong cut", 0, true},
        {"worn load side", 0.5}, {"worn load side", 0.4},  {"worn load side", 0.3}, {"worn load side", 0.2}};
    return all;
}

/// The set-up with the fault in it, where the fault is one of the set-up.
void plant(const Rival& rival, const GearUnderStudy& gear, Random& random, advice::SetUp& setUp) {
    const GearSet& set = gear.contact.gearSet();
    setUp.error.depthMm *= 0.5;
    if (rival.name == "sides swapped")
        setUp.error.depthMm = (random.chance(0.5) ? 1 : -1) * random.uniform(rival.size, rival.size + 0.1);
    if (rival.name == "worn load side") {
        const Modification& new_ = set.modification[index(set.forwardLoadSide)];
        setUp.modification[index(set.forwardLoadSide)].lengthCrownUm = rival.size * new_.lengthCrownUm;
        setUp.modification[index(set.forwardLoadSide)].profileCrownUm = rival.size * new_.profileCrownUm;
    }
    setUp.error.ringMm = gear.prior.ringFor(setUp.backlashMm, setUp.nominalBacklashMm, setUp.error);
}

/// log of the density of the trial under the world's own density, with or without the fault.
double logDensity(const GearUnderStudy& gear, const Rival* rival, TrialObservation seen, int samples, Random& random) {
    advice::Z mean = advice::Z::Zero();
    Eigen::Matrix<double, advice::kUnknowns, advice::kUnknowns> covariance = decltype(covariance)::Identity();
    std::array<bool, advice::kUnknowns> given{};
    double log = 0;
    if (rival != nullptr && rival->name == "sides swapped") std::swap(seen.drive, seen.coast);
    if (rival != nullptr && rival->name == "backlash typed") {
        *seen.backlashMm /= rival->size;
        log -= std::log(rival->size);  // of the density of what was typed
    }
    if (rival != nullptr && rival->name == "worn load side")
        for (int i = 0; i < 2; ++i) {
            const int at = advice::firstOf(gear.contact.gearSet().forwardLoadSide) + i;
            mean[at] = std::log(rival->size) / kCrownSpreadKnown;
            covariance(at, at) = 1e-4;
            given[static_cast<std::size_t>(at)] = true;
        }
    const advice::Posterior posterior =
        advice::samplePosterior({gear.contact, gear.prior, advice::PriorState::normal(mean, covariance),
                                 advice::evidenceOf(seen, gear.contact)},
                                samples, random.bits());
    double sum = 0;
    for (const advice::Particle& particle : posterior.particles)
        sum += particle.weight * std::exp(logWorldOverPrior(gear, particle.z, particle.setUp, given));
    return log + posterior.logEvidence + std::log(std::max(sum, 1e-30));
}

/// log odds of the fault against none, in jobs without it and with it.
struct Odds {
    std::vector<double> healthy, faulty;
};

std::vector<Odds> study(const std::string& file, int jobs, std::uint64_t seed, double sigma, int samples) {
    const GearUnderStudy gear(file);
    const GearUnderStudy other = gear.cutOtherwise();
    std::vector<Odds> odds(rivals().size());
    for (int i = 0; i < jobs; ++i) {
        const Random stream = Random(seed).fork(static_cast<std::uint64_t>(i));
        const auto draw = [&](const Rival* rival, std::uint64_t at) {
            Random random = stream.fork(at);
            const GearUnderStudy& truth = rival != nullptr && rival->otherCut ? other : gear;
            for (;;) {
                advice::SetUp setUp = drawSetUp(truth.contact, truth.prior, random);
                plant(rival != nullptr ? *rival : Rival{}, truth, random, setUp);
                TrialObservation seen = readTrial(truth.contact, setUp, random, sigma);
                if (!seen.drive || !seen.coast) continue;
                if (rival != nullptr && rival->name == "sides swapped") std::swap(seen.drive, seen.coast);
                if (rival != nullptr && rival->name == "backlash typed") *seen.backlashMm *= rival->size;
                return seen;
            }
        };
        Random own = stream.fork(99);
        const TrialObservation healthy = draw(nullptr, 0);
        const double healthyPlain = logDensity(gear, nullptr, healthy, samples, own);
        for (std::size_t r = 0; r < rivals().size(); ++r) {
            const Rival& rival = rivals()[r];
            const GearUnderStudy& by = rival.otherCut ? other : gear;
            odds[r].healthy.push_back(logDensity(by, &rival, healthy, samples, own) - healthyPlain);
            const TrialObservation faulty = draw(&rival, 1 + r);
            odds[r].faulty.push_back(logDensity(by, &rival, faulty, samples, own) -
                                     logDensity(gear, nullptr, faulty, samples, own));
        }
    }
    return odds;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 4) {
        std::fprintf(stderr, "usage: closed_loop_tellable JOBS_PER_SET SEED READING_SIGMA [SAMPLES]\n");
        return 2;
    }
    const int jobs = std::atoi(argv[1]);
    const auto seed = static_cast<std::uint64_t>(std::atoll(argv[2]));
    const double sigma = std::atof(argv[3]);
    const int samples = argc > 4 ? std::atoi(argv[4]) : 2000;
    std::vector<std::future<std::vector<Odds>>> running;
    for (const char* file : kSetFiles)
        running.push_back(std::async(std::launch::async, [=] { return study(file, jobs, seed, sigma, samples); }));
    std::vector<std::vector<Odds>> bySet;
    for (auto& result : running) bySet.push_back(result.get());
    std::printf("tellable,size,noise,jobs,found at 2 %% false");
    for (const char* file : kSetFiles) std::printf(",%s", file);
    std::printf("\n");
    for (std::size_t r = 0; r < rivals().size(); ++r) {
        const auto found = [&](const Odds& odds) {
            std::vector<double> healthy = odds.healthy;
            std::sort(healthy.begin(), healthy.end());
            const auto last = static_cast<double>(healthy.size() - 1);
            const double bound = healthy[static_cast<std::size_t>(std::lround((1 - kFalseShare) * last))];
            return 100.0 *
                   static_cast<double>(std::count_if(odds.faulty.begin(), odds.faulty.end(),
                                                     [&](double value) { return value > bound; })) /
                   static_cast<double>(odds.faulty.size());
        };
        Odds all;
        for (const auto& set : bySet) {
            all.healthy.insert(all.healthy.end(), set[r].healthy.begin(), set[r].healthy.end());
            all.faulty.insert(all.faulty.end(), set[r].faulty.begin(), set[r].faulty.end());
        }
        std::printf("%s,%g,%g,%zu,%.1f", rivals()[r].name.c_str(), rivals()[r].size, 100 * sigma, all.faulty.size(),
                    found(all));
        for (const auto& set : bySet) std::printf(",%.1f", found(set[r]));
        std::printf("\n");
    }
    return 0;
}
