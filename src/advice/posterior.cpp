// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "advice/posterior.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <span>

#include "shimsight/core.h"

namespace shimsight::advice {

namespace {

using Matrix = Eigen::Matrix<double, kUnknowns, kUnknowns>;

/// Loss of a side that shows a mark where the set-up makes none: as unlikely as most of its features ten scales off.
constexpr double kNoMarkLoss = 80;

/// Depths (in z) that the search for the best fits starts from.
constexpr std::array<double, 7> kStartDepths{0.0, -0.7, 0.7, -1.4, 1.4, -2.2, 2.2};
constexpr int kIterations = 7;
constexpr double kMaxStep = 2.0;     ///< of one iteration, in z
constexpr double kConverged = 0.02;  ///< loss gained by an iteration
constexpr double kSameMode = 0.7;    ///< distance in z under which two fits are one
constexpr double kModeTooPoor = 9;   ///< a fit worse than the best by this loss is left out

/// Steps of the differences: about a third of what the posterior leaves open, wide against the grid's grain.
constexpr std::array<double, 5> kSteps{0.02, 0.03, 0.02, 0.0003, 0.12};  // depth, ring, offset mm; angle rad; ln film
constexpr double kFlankStep = 0.5;                                       // z of a flank's own unknowns

constexpr double kProposalDof = 15;
constexpr double kProposalInflation = 1.15;  ///< of the standard deviations about a best fit
constexpr int kRounds = 3;
constexpr double kEnoughEffective = 0.22;  ///< of one round's samples: no further round

double flankLoss(const Evidence::Flank& flank, const std::optional<Features>& predicted) {
    if (!predicted) return kNoMarkLoss;
    double loss = 0;
    for (int i = 0; i < kFeatures; ++i)
        loss += studentLoss(squared((flank.seen[i] - (*predicted)[i]) / flank.scales[i]));
    return loss;
}

/// Negative log likelihood of the evidence and the predictions it came from.
struct Fit {
    SetUp setUp;
    std::array<std::optional<Features>, 2> predicted;
    double likelihoodLoss = 0;
    double loss = 0;  ///< with the prior
};

Fit evaluate(const ToothContact& contact, const Prior& prior, const PriorState& known, const Evidence& evidence,
             const Z& z) {
    Fit fit;
    fit.setUp = prior.setUp(z);
    if (evidence.backlashMm)
        fit.likelihoodLoss += 0.5 * squared((*evidence.backlashMm - fit.setUp.backlashMm) / evidence.backlashSigmaMm);
    for (const Side side : kSides) {
        const auto& flank = evidence.flank[index(side)];
        if (!flank) continue;
        fit.predicted[index(side)] = predictFeatures(contact, side, fit.setUp);
        fit.likelihoodLoss += flankLoss(*flank, fit.predicted[index(side)]);
    }
    fit.loss = fit.likelihoodLoss + 0.5 * known.squaredDistance(z);
    return fit;
}

/// Slopes of one side's features at `fit`, columns: depth, ring, offset, shaft angle, ln film, the flank's five z.
FlankJacobian jacobianOf(const ToothContact& contact, const Prior& prior, Side side, const Z& z, const Fit& fit) {
    FlankJacobian jacobian = FlankJacobian::Zero();
    const Features& base = *fit.predicted[index(side)];
    const auto column = [&](int at, const SetUp& moved, double step) {
        if (const auto features = predictFeatures(contact, side, moved)) jacobian.col(at) = (*features - base) / step;
    };
    // Steps go toward the middle of the prior, where a mark is most likely to remain.
    const auto inward = [](double value, double step) { return value > 0 ? -step : step; };
    for (int i = 0; i < 5; ++i) {
        SetUp moved = fit.setUp;
        const auto at = static_cast<std::size_t>(i);
        double step = kSteps[at];
        switch (i) {
            case 0:
                step = inward(moved.error.depthMm, step);
                moved.error.depthMm += step;
                break;
            case 1:
                step = inward(moved.error.ringMm, step);
                moved.error.ringMm += step;
                break;
            case 2:
                step = inward(moved.error.offsetMm, step);
                moved.error.offsetMm += step;
                break;
            case 3:
                step = inward(moved.error.shaftAngleRad, step);
                moved.error.shaftAngleRad += step;
                break;
            default:
                moved.filmMm *= std::exp(step);
                break;
        }
        column(i, moved, step);
    }
    for (int i = 0; i < kFlankUnknowns; ++i) {
        Z moved = z;
        const int at = firstOf(side) + i;
        const double step = inward(z[at], kFlankStep);
        moved[at] += step;
        column(5 + i, prior.setUp(moved), step);
    }
    return jacobian;
}

/// Second order model of the loss at a fit: H = J' W J + 1, and its gradient.
struct Normal {
    Matrix hessian = Matrix::Identity();
    Z gradient = Z::Zero();
    std::array<Eigen::Matrix<double, kFeatures, kUnknowns>, 2> jacobian;
    Eigen::Matrix<double, 1, kUnknowns> backlashSlope = Eigen::Matrix<double, 1, kUnknowns>::Zero();
};

Normal normalAt(const ToothContact& contact, const Prior& prior, const PriorState& known, const Evidence& evidence,
                const Z& z, const Fit& fit) {
    Normal normal;
    normal.hessian = known.precision;
    normal.gradient = known.precision * (z - known.mean);
    const auto common = prior.commonJacobian(z);
    for (const Side side : kSides) {
        auto& jacobian = normal.jacobian[index(side)];
        jacobian.setZero();
        const auto& flank = evidence.flank[index(side)];
        if (!flank || !fit.predicted[index(side)]) continue;
        const FlankJacobian raw = jacobianOf(contact, prior, side, z, fit);
        jacobian.leftCols<kFlankFirst>() = raw.leftCols<5>() * common;
        jacobian.col(kScatter) += raw.rightCols<kFlankUnknowns>() * Prior::scatterJacobian(z, side);
        jacobian.middleCols<kFlankUnknowns>(firstOf(side)) = raw.rightCols<kFlankUnknowns>();
        const Features residual = (flank->seen - *fit.predicted[index(side)]).cwiseQuotient(flank->scales);
        Features weight;
        for (int i = 0; i < kFeatures; ++i) weight[i] = studentWeight(squared(residual[i]));
        const Eigen::Matrix<double, kFeatures, kUnknowns> scaled = flank->scales.cwiseInverse().asDiagonal() * jacobian;
        normal.hessian += scaled.transpose() * weight.asDiagonal() * scaled;
        normal.gradient -= scaled.transpose() * weight.cwiseProduct(residual);
    }
    if (evidence.backlashMm) {
        const double slope = fit.setUp.backlashMm * kBacklashSpread / evidence.backlashSigmaMm;
        const double residual = (*evidence.backlashMm - fit.setUp.backlashMm) / evidence.backlashSigmaMm;
        normal.backlashSlope[kBacklash] = slope * evidence.backlashSigmaMm;
        normal.hessian(kBacklash, kBacklash) += slope * slope;
        normal.gradient[kBacklash] -= slope * residual;
    }
    return normal;
}

struct Descent {
    Z z;
    Fit fit;
    Matrix covariance = Matrix::Identity();
};

/// Damped Gauss-Newton with Student-t weights from `start`.
Descent descend(const ToothContact& contact, const Prior& prior, const PriorState& known, const Evidence& evidence,
                const Z& start) {
    Descent mode{start, evaluate(contact, prior, known, evidence, start), Matrix::Identity()};
    bool fresh = false;
    Eigen::LLT<Matrix> factor;
    for (int iteration = 0; iteration < kIterations; ++iteration) {
        const Normal normal = normalAt(contact, prior, known, evidence, mode.z, mode.fit);
        factor.compute(normal.hessian);
        fresh = true;
        Z step = factor.solve(-normal.gradient);
        const double length = step.norm();
        if (length > kMaxStep) step *= kMaxStep / length;
        double gained = 0;
        for (const double share : {1.0, 0.4, 0.1}) {
            const Z moved = mode.z + share * step;
            Fit fit = evaluate(contact, prior, known, evidence, moved);
            if (fit.loss >= mode.fit.loss) continue;
            gained = mode.fit.loss - fit.loss;
            mode.z = moved;
            mode.fit = fit;
            fresh = false;
            break;
        }
        if (gained < kConverged) break;
    }
    if (!fresh) factor.compute(normalAt(contact, prior, known, evidence, mode.z, mode.fit).hessian);
    mode.covariance = factor.solve(Matrix::Identity());
    return mode;
}

/// A Student-t component of the proposal.
struct Component {
    Z mean;
    Matrix root;  ///< lower triangular, of the scale matrix
    double logRootDeterminant = 0;
    double share = 0;  ///< of all samples

    double logDensity(const Z& z) const {
        const Z white = root.triangularView<Eigen::Lower>().solve(z - mean);
        return -logRootDeterminant - 0.5 * (kProposalDof + kUnknowns) * std::log1p(white.squaredNorm() / kProposalDof);
    }
};

Component component(const Z& mean, const Matrix& covariance, double inflation) {
    Component result;
    result.mean = mean;
    const Eigen::LLT<Matrix> factor(covariance);
    check(factor.info() == Eigen::Success, "the covariance of a fit must be positive definite");
    result.root = inflation * Matrix(factor.matrixL());
    for (int i = 0; i < kUnknowns; ++i) result.logRootDeterminant += std::log(result.root(i, i));
    return result;
}

/// Of a positive number. std::lgamma writes its sign to a place that all reading threads share.
double logGamma(double x) {
    int sign = 0;
    return ::lgamma_r(x, &sign);
}

/// log of the constant of a Student-t density in kUnknowns dimensions over that of the normal prior.
double logProposalConstant() {
    return logGamma(0.5 * (kProposalDof + kUnknowns)) - logGamma(0.5 * kProposalDof) -
           0.5 * kUnknowns * std::log(kProposalDof * kPi);
}

double logSum(std::span<const double> logs) {
    const double top = *std::max_element(logs.begin(), logs.end());
    double sum = 0;
    for (const double value : logs) sum += std::exp(value - top);
    return top + std::log(sum);
}

double misfitOf(const PriorState& known, const Evidence& evidence, const Descent& mode) {
    double sum = known.squaredDistance(mode.z);
    if (evidence.backlashMm)
        sum += squared((*evidence.backlashMm - mode.fit.setUp.backlashMm) / evidence.backlashSigmaMm);
    for (const Side side : kSides) {
        const auto& flank = evidence.flank[index(side)];
        if (!flank) continue;
        if (!mode.fit.predicted[index(side)]) return std::numeric_limits<double>::infinity();
        const Features residual = (flank->seen - *mode.fit.predicted[index(side)]).cwiseQuotient(flank->scales);
        sum += residual.squaredNorm();
    }
    return sum;
}

/// log of the evidence by Laplace's approximation.
double laplace(const PriorState& known, const Descent& mode) {
    const Eigen::LLT<Matrix> factor(mode.covariance);
    double logRoot = 0;
    for (int i = 0; i < kUnknowns; ++i) logRoot += std::log(factor.matrixLLT()(i, i));
    return -mode.fit.loss + logRoot - known.logRootDeterminant;
}

}  // namespace

int Evidence::count() const {
    int n = backlashMm ? 1 : 0;
    for (const auto& side : flank)
        if (side) n += kFeatures;
    return n;
}

Evidence evidenceOf(const TrialObservation& trial, const ToothContact& contact) {
    Evidence evidence;
    const auto take = [&](Side side, const std::optional<Pattern>& pattern) {
        if (pattern)
            evidence.flank[index(side)] =
                Evidence::Flank{featuresOf(*pattern), noiseScales(*pattern, trial.extentNoise, trial.patternNoise)};
    };
    take(Side::Drive, trial.drive);
    take(Side::Coast, trial.coast);
    if (trial.backlashMm) {
        const double factor = contact.toSquareReading(trial.dial);
        evidence.backlashMm = *trial.backlashMm * factor;
        evidence.backlashSigmaMm = std::max(trial.backlashSigmaMm * factor, 0.002);
    }
    return evidence;
}

PriorState PriorState::normal(const Z& mean, const Matrix& covariance) {
    PriorState known;
    known.mean = mean;
    known.covariance = covariance;
    const Eigen::LLT<Matrix> factor(covariance);
    check(factor.info() == Eigen::Success, "what is known must have a positive definite covariance");
    known.precision = factor.solve(Matrix::Identity());
    for (int i = 0; i < kUnknowns; ++i) known.logRootDeterminant += std::log(factor.matrixLLT()(i, i));
    return known;
}

std::optional<Pattern> predictPattern(const ToothContact& contact, Side side, const SetUp& setUp) {
    const std::array<float, 512> grid =
        contact.predictCoarse(side, setUp.error, setUp.modification[index(side)], setUp.filmMm);
    return measurePattern(grid, 32, 16);
}

std::optional<Features> predictFeatures(const ToothContact& contact, Side side, const SetUp& setUp) {
    const auto pattern = predictPattern(contact, side, setUp);
    if (!pattern) return std::nullopt;
    return featuresOf(*pattern);
}

std::vector<Mode> findModes(const ToothContact& contact, const Prior& prior, const PriorState& known,
                            const Evidence& evidence, int kept) {
    struct Start {
        Z z;
        double loss;
    };
    std::vector<Start> starts;
    for (const double depth : kStartDepths) {
        // Along what is known of the other unknowns at that depth.
        Z z = known.mean + depth / std::sqrt(known.covariance(kDepth, kDepth)) * known.covariance.col(kDepth);
        if (evidence.backlashMm) z[kBacklash] = prior.zOfBacklash(*evidence.backlashMm);
        starts.push_back({z, evaluate(contact, prior, known, evidence, z).loss});
    }
    std::stable_sort(starts.begin(), starts.end(), [](const Start& a, const Start& b) { return a.loss < b.loss; });
    std::vector<Mode> modes;
    for (std::size_t i = 0; i < static_cast<std::size_t>(kept); ++i) {
        const Descent found = descend(contact, prior, known, evidence, starts[i].z);
        modes.push_back(
            {found.z, found.fit.loss, misfitOf(known, evidence, found), laplace(known, found), found.covariance});
    }
    std::stable_sort(modes.begin(), modes.end(), [](const Mode& a, const Mode& b) { return a.loss < b.loss; });
    std::vector<Mode> distinct;
    for (const Mode& mode : modes) {
        const bool found = std::any_of(distinct.begin(), distinct.end(),
                                       [&](const Mode& other) { return (other.z - mode.z).norm() < kSameMode; });
        if (!found && mode.loss < modes.front().loss + kModeTooPoor) distinct.push_back(mode);
    }
    return distinct;
}

namespace {

/// A draw with its log density under likelihood and prior, without constants.
struct Draw {
    Z z;
    SetUp setUp;
    double logTarget = 0;
};

/// Importance sampling from a mixture of Student-t components that grows while the effective size is low.
class Sampler {
public:
    Sampler(const PosteriorInput& input, const std::vector<Mode>& modes, int samples, std::uint64_t seed)
        : input_(input), modes_(modes), samples_(samples), random_(seed) {
        posterior_.mode = modes.front().z;
        posterior_.modeCovariance = modes.front().covariance;
        posterior_.misfit = modes.front().misfit;
        posterior_.logLaplace = modes.front().logLaplace;
        // First proposal: one component for each mode, shares by its mass.
        std::vector<double> mass;
        for (const Mode& mode : modes) {
            components_.push_back(component(mode.z, mode.covariance, kProposalInflation));
            mass.push_back(std::exp(modes.front().loss - mode.loss + components_.back().logRootDeterminant -
                                    components_.front().logRootDeterminant));
        }
        const double all = std::accumulate(mass.begin(), mass.end(), 0.0);
        for (const double part : mass)
            wanted_.push_back(std::max(1.0, std::round(samples * std::max(part / all, 0.1))));
    }

    Posterior result() {
        for (int round = 0; round < kRounds; ++round) {
            draw();
            weigh();
            if (posterior_.effectiveSize >= kEnoughEffective * samples_) break;
            if (round + 1 < kRounds) addComponent();
        }
        return std::move(posterior_);
    }

private:
    /// The draws of the components that are new.
    void draw() {
        for (std::size_t k = firstNew_; k < components_.size(); ++k) {
            for (int i = 0; i < static_cast<int>(wanted_[k]); ++i) {
                Z white;
                double chiSquare = 0;
                for (int d = 0; d < kUnknowns; ++d) white[d] = random_.normal();
                for (int d = 0; d < static_cast<int>(kProposalDof); ++d) chiSquare += squared(random_.normal());
                const Z z = components_[k].mean + components_[k].root.triangularView<Eigen::Lower>() * white *
                                                      std::sqrt(kProposalDof / chiSquare);
                Fit fit = evaluate(input_.contact, input_.prior, input_.known, input_.evidence, z);
                draws_.push_back({z, fit.setUp, -fit.loss});
            }
        }
        firstNew_ = components_.size();
    }

    /// Log weights under the mixture of all components drawn from so far (balance heuristic).
    std::vector<double> logWeights() {
        const double total = static_cast<double>(draws_.size());
        for (std::size_t k = 0; k < components_.size(); ++k) components_[k].share = wanted_[k] / total;
        std::vector<double> out(draws_.size()), parts(components_.size());
        for (std::size_t i = 0; i < draws_.size(); ++i) {
            for (std::size_t k = 0; k < components_.size(); ++k)
                parts[k] = std::log(components_[k].share) + components_[k].logDensity(draws_[i].z);
            out[i] = draws_[i].logTarget - logSum(parts);
        }
        return out;
    }

    void weigh() {
        const std::vector<double> logs = logWeights();
        const double total = static_cast<double>(draws_.size()), logTotal = logSum(logs);
        // The densities lacked their constants: the prior's (2 pi)^(-n/2) and the Student-t's.
        posterior_.logEvidence = logTotal - std::log(total) - 0.5 * kUnknowns * std::log(2 * kPi) -
                                 input_.known.logRootDeterminant - logProposalConstant();
        // Truncate the weights: no draw may count for more than 1/sqrt(n) of all.
        const double cap = logTotal - 0.5 * std::log(total);
        posterior_.particles.clear();
        double sum = 0;
        for (std::size_t i = 0; i < draws_.size(); ++i) {
            const double weight = std::exp(std::min(logs[i], cap) - logTotal);
            sum += weight;
            posterior_.particles.push_back({draws_[i].z, draws_[i].setUp, weight});
        }
        double squares = 0;
        for (Particle& particle : posterior_.particles) {
            particle.weight /= sum;
            squares += squared(particle.weight);
        }
        posterior_.effectiveSize = 1 / squares;
    }

    /// Another component where the weights are, its shape between theirs and the first fit's.
    void addComponent() {
        Z mean = Z::Zero();
        for (const Particle& particle : posterior_.particles) mean += particle.weight * particle.z;
        Matrix covariance = Matrix::Zero();
        for (const Particle& particle : posterior_.particles)
            covariance += particle.weight * (particle.z - mean) * (particle.z - mean).transpose();
        const double trust = posterior_.effectiveSize / (posterior_.effectiveSize + 2 * kUnknowns);
        components_.push_back(component(mean, trust * covariance + (1 - trust) * modes_.front().covariance, 1.1));
        wanted_.push_back(samples_);
    }

    const PosteriorInput& input_;
    const std::vector<Mode>& modes_;
    int samples_;
    Random random_;
    Posterior posterior_;
    std::vector<Component> components_;
    std::vector<double> wanted_;  ///< draws of each component, over all rounds
    std::vector<Draw> draws_;
    std::size_t firstNew_ = 0;
};

}  // namespace

Posterior samplePosterior(const PosteriorInput& input, int samples, std::uint64_t seed) {
    return samplePosterior(input, findModes(input.contact, input.prior, input.known, input.evidence), samples, seed);
}

Posterior samplePosterior(const PosteriorInput& input, const std::vector<Mode>& modes, int samples,
                          std::uint64_t seed) {
    return Sampler(input, modes, samples, seed).result();
}

BestFit bestFit(const ToothContact& contact, const Prior& prior, const PriorState& known, const Evidence& evidence) {
    const Mode mode = findModes(contact, prior, known, evidence).front();
    return {mode.misfit, mode.logLaplace, mode.z};
}

double chiSquareBeyond(int degrees, double normalQuantile) {
    const double n = degrees;
    const double root = 1 - 2 / (9 * n) + normalQuantile * std::sqrt(2 / (9 * n));
    return n * root * root * root;
}

std::array<Features, 2> depthPulls(const ToothContact& contact, const Prior& prior, const PriorState& known,
                                   const Evidence& evidence, const Z& z) {
    const Fit fit = evaluate(contact, prior, known, evidence, z);
    const Normal normal = normalAt(contact, prior, known, evidence, z, fit);
    const Z row = Eigen::LLT<Matrix>(normal.hessian).solve(Z::Unit(kDepth));
    const double mmPerZ = prior.commonJacobian(z)(0, kDepth);
    std::array<Features, 2> pulls{Features::Zero(), Features::Zero()};
    for (const Side side : kSides) {
        const auto& flank = evidence.flank[index(side)];
        const auto& predicted = fit.predicted[index(side)];
        if (!flank || !predicted) continue;
        const auto& jacobian = normal.jacobian[index(side)];
        // Linearised: what was seen less what the middle of what was known would show.
        const Features innovation = flank->seen - *predicted + jacobian * (z - known.mean);
        for (int i = 0; i < kFeatures; ++i) {
            const double scale = flank->scales[i];
            const double weight = studentWeight(squared((flank->seen[i] - (*predicted)[i]) / scale));
            pulls[index(side)][i] =
                mmPerZ * row.dot(jacobian.row(i).transpose()) * weight / squared(scale) * innovation[i];
        }
    }
    return pulls;
}

Estimate estimateOf(std::vector<std::pair<double, double>> valuesAndWeights) {
    std::sort(valuesAndWeights.begin(), valuesAndWeights.end());
    double all = 0;
    for (const auto& [value, weight] : valuesAndWeights) all += weight;
    const auto quantile = [&](double share) {
        double below = 0;
        for (const auto& [value, weight] : valuesAndWeights) {
            below += weight;
            if (below >= share * all) return value;
        }
        return valuesAndWeights.back().first;
    };
    return {quantile(0.5), quantile(0.05), quantile(0.95)};
}

}  // namespace shimsight::advice
