#include "compound/two_class.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace shimsight::compound {
namespace {

/// Neighbouring cells share texture, so each one carries only this share of independent evidence.
constexpr double kEvidence = 0.35;
constexpr double kMostEvidence = 4.0;  ///< no single cell outvotes its surroundings
/// Students' t instead of a normal law: highlights and scratches are outliers of either class.
constexpr double kTailFreedom = 5.0;
/// Smoothing kernels in working cells (a flank is about 40 by 9 mm): 0.4 mm and 1 mm, and their pull.
constexpr double kNearU = 1.3, kNearV = 2.9, kNearPull = 2.2;
constexpr double kFarU = 3.2, kFarV = 7.0, kFarPull = 1.2;
/// Pull of the other teeth of the side: the pattern repeats, runout moves it a little.
constexpr double kTeethPull = 1.6;
/// Share of the flank that is contact before anything is seen, and how much rarer it is right at the borders.
constexpr double kPriorLogit = -0.5, kBorderLogit = -0.9;
constexpr double kCostOfBorder = 0.6;  ///< log likelihood for each working cell of border
constexpr double kLeastVariance = 4e-4;
constexpr double kTrendRidge = 0.02;

struct Ellipse {
    double u, v, halfU, halfV;
};

std::vector<Ellipse> startEllipses() {
    std::vector<Ellipse> out;
    for (const double u : {0.15, 0.32, 0.5, 0.68, 0.85})
        for (const double v : {0.2, 0.5, 0.8})
            for (const auto& [a, b] : {std::pair{0.16, 0.28}, {0.27, 0.3}, {0.27, 0.45}, {0.4, 0.4}})
                out.push_back({u, v, a, b});
    return out;
}

double inEllipse(const Ellipse& e, double u, double v) {
    const double r = std::hypot((u - e.u) / e.halfU, (v - e.v) / e.halfV);
    return std::clamp(0.5 + 2.5 * (1 - r), 0.03, 0.97);
}

/// Features of one flank on a grid of `columns` x `rows`.
struct Field {
    int columns = 0, rows = 0;
    std::array<std::vector<float>, kFeatures> value;
    std::vector<float> weight;
    std::size_t cells() const { return weight.size(); }
    double u(std::size_t i) const {
        return (static_cast<double>(i % static_cast<std::size_t>(columns)) + 0.5) / columns;
    }
    double v(std::size_t i) const {
        return 1 - (static_cast<double>(i / static_cast<std::size_t>(columns)) + 0.5) / rows;
    }
};

Field shrunk(const FlankFeatures& f, int factor) {
    Field out;
    out.columns = kColumns / factor;
    out.rows = kRows / factor;
    const auto cells = static_cast<std::size_t>(out.columns * out.rows);
    out.weight.assign(cells, 0);
    for (auto& v : out.value) v.assign(cells, 0);
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.columns; ++x) {
            const auto i = static_cast<std::size_t>(y * out.columns + x);
            float weight = 0;
            std::array<float, kFeatures> sum{};
            for (int dy = 0; dy < factor; ++dy)
                for (int dx = 0; dx < factor; ++dx) {
                    const auto c = static_cast<std::size_t>((y * factor + dy) * kColumns + x * factor + dx);
                    const float w = f.weight[c] + 1e-4F;
                    weight += w;
                    for (std::size_t k = 0; k < kFeatures; ++k) sum[k] += w * f.value[k][c];
                }
            for (std::size_t k = 0; k < kFeatures; ++k) out.value[k][i] = sum[k] / weight;
            out.weight[i] = weight / static_cast<float>(factor * factor);
        }
    return out;
}

/// Per flank and feature: value = offset + slopes (x, y) + contrast * q; removes the slopes and puts zero between the
/// classes.
void level(const Field& field, const std::vector<float>& q, Field& out, Mean& contrast) {
    const std::size_t n = field.cells();
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Matrix<double, 4, kFeatures> right = Eigen::Matrix<double, 4, kFeatures>::Zero();
    double total = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const double w = field.weight[i];
        const Eigen::Vector4d basis(1, field.u(i) - 0.5, field.v(i) - 0.5, q[i]);
        normal += w * basis * basis.transpose();
        for (std::size_t k = 0; k < kFeatures; ++k)
            right.col(static_cast<Eigen::Index>(k)) += w * field.value[k][i] * basis;
        total += w;
    }
    // The ridge keeps a pattern that covers one end from being taken for a light gradient.
    normal(1, 1) += kTrendRidge * total;
    normal(2, 2) += kTrendRidge * total;
    normal(3, 3) += 1e-4 * total;
    const Eigen::Matrix<double, 4, kFeatures> solved = normal.ldlt().solve(right);
    for (std::size_t k = 0; k < kFeatures; ++k) {
        const auto col = static_cast<Eigen::Index>(k);
        const double middle = solved(0, col) + 0.5 * solved(3, col);
        contrast(col) = solved(3, col);
        for (std::size_t i = 0; i < n; ++i)
            out.value[k][i] = static_cast<float>(field.value[k][i] - middle - solved(1, col) * (field.u(i) - 0.5) -
                                                 solved(2, col) * (field.v(i) - 0.5));
    }
}

struct Normal {
    Mean mean = Mean::Zero();
    Spread precision = Spread::Identity();
    double logDet = 0;  ///< of the covariance
    void set(const Mean& m, Spread covariance) {
        covariance.diagonal().array() += kLeastVariance;
        mean = m;
        const Eigen::LDLT<Spread> ldlt(covariance);
        precision = ldlt.solve(Spread::Identity());
        logDet = std::log(std::max(1e-30, covariance.determinant()));
    }
    double mahalanobis(const Mean& x) const {
        const Mean d = x - mean;
        return d.dot(precision * d);
    }
    double logDensity(const Mean& x) const {
        return -0.5 * logDet - 0.5 * (kTailFreedom + kFeatures) * std::log1p(mahalanobis(x) / kTailFreedom);
    }
};

struct State {
    std::vector<std::vector<float>> q;
    Normal inside, outside;
    Mean contrast = Mean::Zero();
    Spread insideSpread, outsideSpread;
    double gain = 0;
};

Mean at(const Field& f, std::size_t i) {
    Mean x;
    for (std::size_t k = 0; k < kFeatures; ++k) x(static_cast<Eigen::Index>(k)) = f.value[k][i];
    return x;
}

/// One round: class laws from the regions, then regions from the laws with smoothing.
void iterate(const std::vector<Field>& fields, std::span<const int> group, State& state, int rounds, int meanFieldSteps,
             double scale) {
    const std::size_t flanks = fields.size();
    std::vector<Field> levelled = fields;
    for (int round = 0; round < rounds; ++round) {
        // Step 1: laws.
        Mean contrast = Mean::Zero();
        double contrastWeight = 0;
        for (std::size_t f = 0; f < flanks; ++f) {
            Mean own;
            level(fields[f], state.q[f], levelled[f], own);
            double w = 0;
            for (std::size_t i = 0; i < fields[f].cells(); ++i) w += fields[f].weight[i] * state.q[f][i];
            contrast += w * own;
            contrastWeight += w;
        }
        state.contrast = contrast / std::max(1e-9, contrastWeight);
        std::array<Mean, 2> mean{Mean::Zero(), Mean::Zero()};
        std::array<Spread, 2> spread{Spread::Zero(), Spread::Zero()};
        std::array<double, 2> weight{0, 0};
        for (std::size_t f = 0; f < flanks; ++f)
            for (std::size_t i = 0; i < fields[f].cells(); ++i) {
                const Mean x = at(levelled[f], i);
                for (std::size_t c = 0; c < 2; ++c) {
                    double w = fields[f].weight[i] * (c == 0 ? 1 - state.q[f][i] : state.q[f][i]);
                    if (round > 0)
                        w *= (kTailFreedom + kFeatures) /
                             (kTailFreedom + (c == 0 ? state.outside : state.inside).mahalanobis(x));
                    mean[c] += w * x;
                    spread[c] += w * x * x.transpose();
                    weight[c] += w;
                }
            }
        for (std::size_t c = 0; c < 2; ++c) {
            mean[c] /= std::max(1e-9, weight[c]);
            spread[c] = spread[c] / std::max(1e-9, weight[c]) - mean[c] * mean[c].transpose();
        }
        // Few cells say little of their spread: lean on the pooled one.
        const Spread pooled = 0.5 * (spread[0] + spread[1]);
        for (std::size_t c = 0; c < 2; ++c) spread[c] = 0.8 * spread[c] + 0.2 * pooled;
        state.outside.set(mean[0], spread[0]);
        state.inside.set(mean[1], spread[1]);
        state.outsideSpread = spread[0];
        state.insideSpread = spread[1];

        // Step 2: regions, by mean field with Gaussian neighbourhoods.
        std::vector<cv::Mat1f> evidence(flanks);
        for (std::size_t f = 0; f < flanks; ++f) {
            evidence[f] = cv::Mat1f(fields[f].rows, fields[f].columns);
            float* out = evidence[f].ptr<float>();
            for (std::size_t i = 0; i < fields[f].cells(); ++i) {
                const Mean x = at(levelled[f], i);
                const double raw = kEvidence * (state.inside.logDensity(x) - state.outside.logDensity(x));
                const double u = fields[f].u(i), v = fields[f].v(i);
                const double edge = std::exp(-std::min(u, 1 - u) / 0.02) + std::exp(-std::min(v, 1 - v) / 0.04);
                out[i] = static_cast<float>(fields[f].weight[i] * std::clamp(raw, -kMostEvidence, kMostEvidence) +
                                            kPriorLogit * 0.3 + kBorderLogit * std::min(1.0, edge));
            }
        }
        for (int step = 0; step < meanFieldSteps; ++step) {
            // The mean region of each group, for the pull between its teeth.
            std::vector<cv::Mat1f> signedQ(flanks);
            for (std::size_t f = 0; f < flanks; ++f) {
                signedQ[f] = cv::Mat1f(fields[f].rows, fields[f].columns);
                float* s = signedQ[f].ptr<float>();
                for (std::size_t i = 0; i < fields[f].cells(); ++i) s[i] = 2 * state.q[f][i] - 1;
            }
            for (std::size_t f = 0; f < flanks; ++f) {
                cv::Mat1f near, far;
                cv::GaussianBlur(signedQ[f], near, cv::Size(), kNearU * scale, kNearV * scale);
                cv::GaussianBlur(signedQ[f], far, cv::Size(), kFarU * scale, kFarV * scale);
                cv::Mat1f others(fields[f].rows, fields[f].columns, 0.0F);
                int count = 0;
                for (std::size_t g = 0; g < flanks; ++g)
                    if (g != f && group[g] == group[f]) {
                        others += signedQ[g];
                        ++count;
                    }
                if (count > 0) {
                    others /= count;
                    cv::GaussianBlur(others, others, cv::Size(), kFarU * scale, kFarV * scale);
                }
                const float *n = near.ptr<float>(), *r = far.ptr<float>(), *o = others.ptr<float>(),
                            *e = evidence[f].ptr<float>();
                for (std::size_t i = 0; i < fields[f].cells(); ++i) {
                    const double logit = e[i] + kNearPull * n[i] + kFarPull * r[i] + kTeethPull * o[i];
                    state.q[f][i] = static_cast<float>(1 / (1 + std::exp(-logit)));
                }
            }
        }
    }
    // How much better two classes explain the flanks than one.
    double gain = 0, total = 0, border = 0;
    Mean mean = Mean::Zero();
    Spread second = Spread::Zero();
    for (std::size_t f = 0; f < flanks; ++f)
        for (std::size_t i = 0; i < fields[f].cells(); ++i) {
            const Mean x = at(levelled[f], i);
            const double w = fields[f].weight[i];
            mean += w * x;
            second += w * x * x.transpose();
            total += w;
        }
    mean /= total;
    Normal single;
    single.set(mean, second / total - mean * mean.transpose());
    for (std::size_t f = 0; f < flanks; ++f) {
        const auto columns = static_cast<std::size_t>(fields[f].columns);
        for (std::size_t i = 0; i < fields[f].cells(); ++i) {
            const Mean x = at(levelled[f], i);
            const double q = state.q[f][i];
            gain += fields[f].weight[i] *
                    (q * state.inside.logDensity(x) + (1 - q) * state.outside.logDensity(x) - single.logDensity(x));
            if (i % columns != 0) border += std::abs(q - state.q[f][i - 1]);
            if (i >= columns) border += std::abs(q - state.q[f][i - columns]);
        }
    }
    state.gain = (gain * kEvidence - kCostOfBorder * border) / total;
}

}  // namespace

SplitResult splitFlanks(std::span<const FlankFeatures> flanks, std::span<const int> group) {
    // Step 1: coarse, many starts. The start ellipse is the same on all teeth of a group; groups take the same one at
    // first.
    constexpr int kCoarse = 4;
    std::vector<Field> coarse, full;
    for (const auto& f : flanks) {
        coarse.push_back(shrunk(f, kCoarse));
        full.push_back(shrunk(f, 1));
    }
    struct Start {
        State state;
    };
    std::vector<State> states;
    for (const Ellipse& e : startEllipses()) {
        State state;
        for (const Field& field : coarse) {
            std::vector<float> q(field.cells());
            for (std::size_t i = 0; i < q.size(); ++i) q[i] = static_cast<float>(inEllipse(e, field.u(i), field.v(i)));
            state.q.push_back(std::move(q));
        }
        iterate(coarse, group, state, 1, 0, 1.0 / kCoarse);
        states.push_back(std::move(state));
    }
    constexpr std::size_t kKept = 8;
    std::partial_sort(states.begin(), states.begin() + kKept, states.end(),
                      [](const State& a, const State& b) { return a.gain > b.gain; });
    states.resize(kKept);
    for (State& state : states) iterate(coarse, group, state, 5, 4, 1.0 / kCoarse);
    State best =
        *std::max_element(states.begin(), states.end(), [](const State& a, const State& b) { return a.gain < b.gain; });

    // Step 2: fine, from the best.
    State fine;
    for (std::size_t f = 0; f < flanks.size(); ++f) {
        cv::Mat1f small(kRows / kCoarse, kColumns / kCoarse, best.q[f].data()), large;
        cv::resize(small, large, cv::Size(kColumns, kRows), 0, 0, cv::INTER_LINEAR);
        fine.q.emplace_back(large.begin(), large.end());
    }
    iterate(full, group, fine, 4, 4, 1.0);

    SplitResult out;
    out.inside = fine.q;
    out.contrast = fine.contrast;
    out.insideSpread = fine.insideSpread;
    out.outsideSpread = fine.outsideSpread;
    out.gain = fine.gain;
    Spread pooled = 0.5 * (fine.insideSpread + fine.outsideSpread);
    pooled.diagonal().array() += kLeastVariance;
    const Spread precision = pooled.inverse();
    for (std::size_t f = 0; f < flanks.size(); ++f) {
        Field levelled = full[f];
        Mean own;
        level(full[f], fine.q[f], levelled, own);
        out.separation.push_back(std::sqrt(std::max(0.0, own.dot(precision * own))));
    }
    return out;
}

}  // namespace shimsight::compound
