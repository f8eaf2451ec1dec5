// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The weighted ensemble of set-ups behind one trial, for one gear set.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

#include "advice/features.h"
#include "advice/prior.h"

namespace shimsight::advice {

/// A trial as the likelihood sees it.
struct Evidence {
    struct Flank {
        Features seen, scales;
    };
    std::array<std::optional<Flank>, 2> flank;  ///< by index(side)
    std::optional<double> backlashMm;           ///< dial square to the tooth
    double backlashSigmaMm = 0;
    int count() const;  ///< how many numbers were observed
};

Evidence evidenceOf(const TrialObservation& trial, const ToothContact& contact);

/// Features of the pattern that `setUp` makes on one side; nullopt: no mark.
std::optional<Features> predictFeatures(const ToothContact& contact, Side side, const SetUp& setUp);
std::optional<Pattern> predictPattern(const ToothContact& contact, Side side, const SetUp& setUp);

/// What is known of z before a trial: a normal distribution, the standard one before the first trial of a gear set.
struct PriorState {
    Z mean = Z::Zero();
    Eigen::Matrix<double, kUnknowns, kUnknowns> covariance = Eigen::Matrix<double, kUnknowns, kUnknowns>::Identity();
    Eigen::Matrix<double, kUnknowns, kUnknowns> precision = Eigen::Matrix<double, kUnknowns, kUnknowns>::Identity();
    double logRootDeterminant = 0;  ///< of the covariance's root

    static PriorState normal(const Z& mean, const Eigen::Matrix<double, kUnknowns, kUnknowns>& covariance);
    double squaredDistance(const Z& z) const { return (z - mean).dot(precision * (z - mean)); }
};

struct Particle {
    Z z;
    SetUp setUp;
    double weight = 0;  ///< the weights of an ensemble sum to 1
};

/// Slopes of the features of one side: columns depth, ring, offset, shaft angle, ln film, then the five of the flank's
/// z.
using FlankJacobian = Eigen::Matrix<double, kFeatures, 5 + kFlankUnknowns>;

struct Posterior {
    std::vector<Particle> particles;
    double logEvidence = 0;  ///< log probability density of the evidence under this gear set
    double logLaplace = 0;   ///< the same by Laplace's approximation, see BestFit
    double effectiveSize = 0;
    /// Squared residuals plus squared distance from what was known, at the best fit: near chi-square with `count`
    /// degrees of freedom.
    double misfit = 0;
    Z mode;  ///< the best fit
    Eigen::Matrix<double, kUnknowns, kUnknowns> modeCovariance;
};

/// A best fit with the shape of the posterior about it.
struct Mode {
    Z z;
    double loss = 0;                    ///< negative log of likelihood and prior
    double misfit = 0, logLaplace = 0;  ///< see Posterior
    Eigen::Matrix<double, kUnknowns, kUnknowns> covariance = Eigen::Matrix<double, kUnknowns, kUnknowns>::Identity();
};

/// The distinct best fits, best first: Gauss-Newton from the `starts` best of several depths.
inline constexpr int kStarts = 3, kStartsOfMany = 2;  ///< for one or two gear models, and for more
std::vector<Mode> findModes(const ToothContact& contact, const Prior& prior, const PriorState& known,
                            const Evidence& evidence, int starts = kStarts);

/// What a posterior is drawn from.
struct PosteriorInput {
    const ToothContact& contact;
    const Prior& prior;
    const PriorState& known;
    const Evidence& evidence;
};
/// Gauss-Newton from several depths to the modes, then importance sampling from Student-t mixtures about them, further
/// rounds only while the effective size is low. `samples` per round.
Posterior samplePosterior(const PosteriorInput& input, int samples, std::uint64_t seed);
/// The same with the modes found before.
Posterior samplePosterior(const PosteriorInput& input, const std::vector<Mode>& modes, int samples, std::uint64_t seed);

/// The best fit alone; cheap, for weighing what else a trial may have been.
struct BestFit {
    double misfit = 0;       ///< see Posterior
    double logEvidence = 0;  ///< Laplace's approximation, without the constants that all fits share
    Z z;
};
BestFit bestFit(const ToothContact& contact, const Prior& prior, const PriorState& known, const Evidence& evidence);

/// Median and 90 % interval of values with weights of any positive sum.
Estimate estimateOf(std::vector<std::pair<double, double>> valuesAndWeights);

/// Share of a standard normal distribution below `value`.
inline double normalShare(double value) { return 0.5 * std::erfc(-value / std::sqrt(2.0)); }

/// Spread of the mark's centre from tooth to tooth that is more than measuring: runout.
inline constexpr double kWanderingSpread = 0.12;

/// Normal quantiles of the misfit as a chi-square: beyond the first it is looked into, beyond the second nothing fits,
/// one in a thousand (the features are not independent).
inline constexpr double kOddMisfit = -1.6, kImpossibleMisfit = 5.0;

/// Chi-square value that a share `tail` of draws exceeds (Wilson and Hilferty's approximation; value from memory).
double chiSquareBeyond(int degrees, double normalQuantile);

/// How far each feature of each side pulled the estimate of the depth error from the prior, mm, linearised at `z`.
std::array<Features, 2> depthPulls(const ToothContact& contact, const Prior& prior, const PriorState& known,
                                   const Evidence& evidence, const Z& z);

}  // namespace shimsight::advice
