// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What one correction can reach at most, for any reader of marks with this much noise: see README.md beside this file.
// Run from the root of the repository.
// Usage: closed_loop_ceiling SETUPS_PER_SET SEED READING_SIGMA [SAMPLES] [GIVEN]
// GIVEN: what the reference is told, letters: f film, n backlash in the design position, o housing, c crowns, b bias, s
// design points.

#include <array>
#include <cstdio>
#include <cstdlib>
#include <future>
#include <string>
#include <vector>

#include "advice/learning.h"
#include "advice/posterior.h"
#include "gear_under_study.h"
#include "world_density.h"

using namespace shimsight;
using namespace shimsight::closed_loop;

namespace {

constexpr int kSituations = 500;
constexpr int kChecks = 40;  ///< draws of how a move lands

/// Which unknowns the reference is told.
using Told = std::array<bool, advice::kUnknowns>;

/// Which unknowns the reference is told: a letter each.
Told givenBy(const std::string& letters) {
    Told given{};
    for (const char letter : letters) {
        if (letter == 'f') given[advice::kFilm] = true;
        // Departures are known in z only where the scatter is.
        if (letter == 'o' || letter == 'b' || letter == 's') given[advice::kScatter] = true;
        if (letter == 'n') given[advice::kNominalBacklash] = true;
        if (letter == 'o') given[advice::kOffset] = given[advice::kShaftAngle] = true;
        for (const Side side : kSides) {
            const auto first = static_cast<std::size_t>(advice::firstOf(side));
            if (letter == 'c') given[first] = given[first + 1] = true;
            if (letter == 'b') given[first + 2] = true;
            if (letter == 's') given[first + 3] = given[first + 4] = true;
        }
    }
    return given;
}

struct Score {
    int n = 0;
    double start = 0, shipped = 0, reference = 0, truthBest = 0, truthRoom = 0, told = 0, effective = 0, two = 0;
};

/// A move: depth change and backlash target.
using Target = std::pair<double, double>;

/// How often the move ends right.
double landed(const GearUnderStudy& gear, const advice::SetUp& setUp, const Target& move, Random random, int draws) {
    double right = 0;
    for (int i = 0; i < draws; ++i) {
        advice::SetUp next = setUp;
        makeChange(gear.prior, move.first, move.second, next, random);
        right += trulyRight(gear, next);
    }
    return right / draws;
}

std::vector<Target> movesAbout(const GearUnderStudy& gear, double depthErrorMm, double reachMm) {
    const GearSet& set = gear.contact.gearSet();
    const Interval& limits = set.limits.backlashMm;
    const double sign = advice::depthPerThickness(set.build.pinionShim);
    std::vector<Target> moves;
    double last = -1e9;
    for (const double thickness : advice::thicknessChanges(advice::ShimStacks(set.build.shimsMm), std::nullopt,
                                                           std::abs(depthErrorMm) + reachMm)) {
        if (std::abs(depthErrorMm + sign * thickness) > reachMm || thickness - last < 0.011) continue;
        last = thickness;
        for (const double share : {0.25, 0.5, 0.75})
            moves.emplace_back(sign * thickness, limits.low + share * (limits.high - limits.low));
    }
    return moves;
}

/// Chance over the situations, and the best move by it.
Target bestOf(const std::vector<Target>& moves, const std::vector<advice::Sample>& situations, double& told) {
    const auto chance = [&](const Target& move, std::size_t first, std::size_t last) {
        double right = 0;
        for (std::size_t i = first; i < last; ++i)
            right += advice::endsRight(situations[i], move.first, move.second, kReadDialSigmaMm, Costs{});
        return right / static_cast<double>(last - first);
    };
    std::vector<std::pair<double, Target>> ranked;
    for (const Target& move : moves) ranked.emplace_back(chance(move, 0, 80), move);
    std::sort(ranked.begin(), ranked.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
    ranked.resize(std::min<std::size_t>(ranked.size(), 8));
    told = -1;
    Target best{};
    for (const auto& [rough, move] : ranked) {
        const double value = chance(move, 80, situations.size());
        if (value <= told) continue;
        told = value;
        best = move;
    }
    return best;
}

/// Whether the reference's first move ends right, or how often its second does after one more reading. What it learned
/// from the first is handed on as a normal distribution, so it is a good reader, not the best possible one.
struct FirstMove {
    const advice::Posterior& learned;  ///< from the first reading
    Target move;
};
double afterTwo(const GearUnderStudy& gear, advice::SetUp setUp, const FirstMove& first, double sigma, int samples,
                Random random) {
    const auto& [depthChangeMm, backlashMm] = first.move;
    makeChange(gear.prior, depthChangeMm, backlashMm, setUp, random);
    if (trulyRight(gear, setUp)) return 1;
    const TrialObservation seen = readTrial(gear.contact, setUp, random, sigma);
    if (!seen.drive && !seen.coast) return 0;
    const std::vector<advice::Model> models{{&gear.contact, gear.prior}};
    const std::vector<advice::Posterior> posteriors{advice::samplePosterior(
        {gear.contact, gear.prior, advice::knownNext(first.learned, depthChangeMm, kShimSigmaMm),
         advice::evidenceOf(seen, gear.contact)},
        samples, random.bits())};
    double depth = 0, told = 0;
    for (const advice::Particle& particle : posteriors[0].particles)
        depth += particle.weight * particle.setUp.error.depthMm;
    const auto situations = advice::drawSamples(models, posteriors, {1.0}, kSituations, random);
    const Target second = bestOf(movesAbout(gear, depth, 0.25), situations, told);
    return landed(gear, setUp, second, random.fork(9), kChecks);
}

Score study(const std::string& file, int setUps, std::uint64_t seed, double sigma, int samples, const Told& given) {
    const GearUnderStudy gear(file);
    const GearSet& set = gear.contact.gearSet();
    const std::vector<advice::Model> models{{&gear.contact, gear.prior}};
    Score score;
    for (int i = 0; i < setUps; ++i) {
        Random random = Random(seed).fork(static_cast<std::uint64_t>(i));
        const advice::SetUp setUp = drawVisible(gear, random);
        if (!trulyRight(gear, setUp) && !bestMove(gear, setUp)) continue;
        ++score.n;
        const bool right = trulyRight(gear, setUp);
        score.start += right;
        const std::vector<JobTrial> history{{readTrial(gear.contact, setUp, random, sigma), 0.0}};
        AdviceOptions options;
        options.seed = seed + static_cast<std::uint64_t>(i);
        const Advice advice = advise({&gear.contact}, history, options);
        const double sign = advice::depthPerThickness(set.build.pinionShim);
        const Target shipped{sign * advice.shim.thicknessChangeMm, advice.backlashTargetMm};
        const auto moves = movesAbout(gear, setUp.error.depthMm, 0.22);
        // The player who knows: the most room, and the likeliest move.
        const auto room = bestMove(gear, setUp);
        double best = 0;
        for (const Target& move : moves) {
            if (landed(gear, setUp, move, random.fork(7), 4) == 0) continue;
            best = std::max(best, landed(gear, setUp, move, random.fork(8), kChecks));
        }
        score.truthBest += right ? 1 : best;
        score.truthRoom += right ? 1 : room ? landed(gear, setUp, *room, random.fork(9), kChecks) : 0;
        score.shipped += right                               ? 1
                         : advice.verdict == Verdict::Change ? landed(gear, setUp, shipped, random.fork(9), kChecks)
                                                             : 0;
        // The reference: a large ensemble under the world's own density, all moves tried.
        Random own(seed + 17 + static_cast<std::uint64_t>(i));
        advice::Z mean = advice::Z::Zero();
        Eigen::Matrix<double, advice::kUnknowns, advice::kUnknowns> covariance = decltype(covariance)::Identity();
        const advice::Z truth = zOf(gear, setUp);
        for (int k = 0; k < advice::kUnknowns; ++k)
            if (given[static_cast<std::size_t>(k)]) {
                mean[k] = truth[k];
                covariance(k, k) = 1e-4;
            }
        std::vector<advice::Posterior> posteriors{
            advice::samplePosterior({gear.contact, gear.prior, advice::PriorState::normal(mean, covariance),
                                     advice::evidenceOf(history.front().seen, gear.contact)},
                                    samples, own.bits())};
        double sum = 0, squares = 0, depth = 0;
        for (advice::Particle& particle : posteriors[0].particles) {
            particle.weight *= std::exp(logWorldOverPrior(gear, particle.z, particle.setUp, given));
            sum += particle.weight;
        }
        for (advice::Particle& particle : posteriors[0].particles) {
            particle.weight /= sum;
            squares += particle.weight * particle.weight;
            depth += particle.weight * particle.setUp.error.depthMm;
        }
        score.effective += 1 / squares;
        const auto situations = advice::drawSamples(models, posteriors, {1.0}, kSituations, own);
        double told = 0;
        const Target reference = bestOf(movesAbout(gear, depth, 0.25), situations, told);
        score.reference += right ? 1 : landed(gear, setUp, reference, random.fork(9), kChecks);
        score.told += told;
        posteriors[0].effectiveSize = 1 / squares;
        score.two += right ? 1 : afterTwo(gear, setUp, {posteriors[0], reference}, sigma, samples, random.fork(10));
    }
    return score;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 4) {
        std::fprintf(stderr, "usage: closed_loop_ceiling SETUPS_PER_SET SEED READING_SIGMA [SAMPLES]\n");
        return 2;
    }
    const int setUps = std::atoi(argv[1]);
    const auto seed = static_cast<std::uint64_t>(std::atoll(argv[2]));
    const double sigma = std::atof(argv[3]);
    const int samples = argc > 4 ? std::atoi(argv[4]) : 8000;
    const Told given = givenBy(argc > 5 ? argv[5] : "");
    std::vector<std::future<Score>> running;
    for (const char* file : kSetFiles)
        running.push_back(
            std::async(std::launch::async, [=] { return study(file, setUps, seed, sigma, samples, given); }));
    std::printf(
        "set,sigma,curable,right at once %%,advice %%,reference %%,truth best move %%,truth most room %%,reference "
        "told %%,effective,reference after two %%\n");
    for (std::size_t i = 0; i < kSetFiles.size(); ++i) {
        const Score s = running[i].get();
        std::printf("%s,%.3f,%d,%.1f,%.1f,%.1f,%.1f,%.1f,%.1f,%.0f,%.1f\n", kSetFiles[i], sigma, s.n,
                    100 * s.start / s.n, 100 * s.shipped / s.n, 100 * s.reference / s.n, 100 * s.truthBest / s.n,
                    100 * s.truthRoom / s.n, 100 * s.told / s.n, s.effective / s.n, 100 * s.two / s.n);
    }
    return 0;
}
