#include "compound/two_class.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "compound/evidence.h"

namespace shimsight::compound {
namespace {

/// What a split goes by. Brightness and texture follow shadows and lamps as well as paste, so colour alone is tried
/// too.
enum class Cue { Colour, All };

/// Neighbouring cells share texture, so each one carries only this share of independent evidence.
constexpr double kEvidence = 0.6;
constexpr double kMostEvidence = 5.0;  ///< no single cell outvotes its surroundings
/// Students' t instead of a normal law: highlights and scratches are outliers of either class.
constexpr double kTailFreedom = 5.0;
constexpr double kPooledShare = 0.03;
/// Smoothing kernels in working cells (a flank is about 40 by 9 mm): 0.4 mm and 1 mm, and their pull.
constexpr double kNearU = 1.3, kNearV = 2.9, kNearPull = 1.8;
constexpr double kFarU = 3.2, kFarV = 7.0, kFarPull = 0.6;
/// Pull of the other teeth of the side: the pattern repeats, runout moves it a little.
constexpr double kTeethPull = 1.6;
/// Log odds of contact before anything is seen, and how much rarer it is right at the borders (shares of length and
/// height).
constexpr double kPriorLogit = -0.15, kBorderLogit = -0.9, kBorderU = 0.02, kBorderV = 0.04;
constexpr double kCostOfBorder = 0.6;  ///< log likelihood for each working cell of border
constexpr double kTrendRidge = 0.005;

/// Weights of a candidate's form against its step at the border (in standard deviations, at most kMostStep).
constexpr double kByFill = 3.0, kByBorder = 2.0, kMostStep = 6.0, kByWeakest = 1.0, kByWhole = 0.7, kByGain = 2.0;
/// Sectors of the border, and the share of it that counts as its weakest part: the step there decides.
constexpr std::size_t kSectors = 10;
constexpr double kWeakShare = 0.4;
/// A marking that is known: weight of the colour lost or gained, and the most it counts.
constexpr double kByMarking = 20, kMostByMarking = 3;
/// Half widths of the bands on either side of the border, working cells.
constexpr double kBandU = 3, kBandV = 5;
/// Variance added within the bands: two places a millimetre apart differ by this without any paste.
const Mean kBandExtra(2e-3, 2e-3, 0.03, 0.06);

/// Starts that are tried further, and how alike (overlap) two starts or two grown regions may be.
constexpr std::size_t kStarts = 5;
constexpr double kLikeStart = 0.55, kSameRegion = 0.9;
/// A region under this share of the flank is no contact.
constexpr double kLeastArea = 0.02, kTooSmall = 100;

/// Variance added to the features by cue: what light does to them beside the paste.
Mean extraVariance(Cue cue) {
    if (cue == Cue::Colour) return {2e-4, 2e-4, 20, 5};
    return {2e-4, 2e-4, 0.1, 0.06};
}

struct Ellipse {
    double u, v, halfU, halfV;
};

std::vector<Ellipse> startEllipses() {
    std::vector<Ellipse> out;
    for (const double u : {0.15, 0.32, 0.5, 0.68, 0.85})
        for (const double v : {0.2, 0.5, 0.8})
            for (const auto& [a, b] : {std::pair{0.16, 0.28}, {0.27, 0.3}, {0.36, 0.42}}) out.push_back({u, v, a, b});
    return out;
}

double inEllipse(const Ellipse& e, double u, double v) {
    const double r = std::hypot((u - e.u) / e.halfU, (v - e.v) / e.halfV);
    return std::clamp(0.5 + 2.5 * (1 - r), 0.03, 0.97);
}

using Point = Eigen::Matrix<float, kFeatures, 1>;

/// Features of one flank on a grid of `columns` x `rows`.
struct Field {
    int columns = 0, rows = 0;
    std::vector<Point> value;
    std::vector<float> weight;
    std::vector<float> u, v;   ///< minus one half
    std::vector<float> prior;  ///< log odds before anything is seen
    std::size_t cells() const { return weight.size(); }
};

Field shrunk(const FlankFeatures& f, int factor) {
    Field out;
    out.columns = kColumns / factor;
    out.rows = kRows / factor;
    const auto cells = static_cast<std::size_t>(out.columns * out.rows);
    out.value.resize(cells);
    for (auto* list : {&out.weight, &out.u, &out.v, &out.prior}) list->resize(cells);
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.columns; ++x) {
            const auto i = static_cast<std::size_t>(y * out.columns + x);
            float weight = 0;
            Point sum = Point::Zero();
            for (int dy = 0; dy < factor; ++dy)
                for (int dx = 0; dx < factor; ++dx) {
                    const auto c = static_cast<std::size_t>((y * factor + dy) * kColumns + x * factor + dx);
                    const float w = f.weight[c] + 1e-4F;
                    weight += w;
                    for (std::size_t k = 0; k < kFeatures; ++k) sum(static_cast<Eigen::Index>(k)) += w * f.value[k][c];
                }
            out.value[i] = sum / weight;
            out.weight[i] = weight / static_cast<float>(factor * factor);
            const double u = (x + 0.5) / out.columns, v = 1 - (y + 0.5) / out.rows;
            out.u[i] = static_cast<float>(u - 0.5);
            out.v[i] = static_cast<float>(v - 0.5);
            const double edge = std::exp(-std::min(u, 1 - u) / kBorderU) + std::exp(-std::min(v, 1 - v) / kBorderV);
            out.prior[i] = static_cast<float>(kPriorLogit + kBorderLogit * std::min(1.0, edge));
        }
    return out;
}

/// Course of the light over a flank: planes for the colours; for brightness and texture, which hang on how the curved
/// flank mirrors its surroundings, a fuller polynomial. The last term is the region itself, so that a pattern is not
/// taken for light.
template <int Terms>
Eigen::Matrix<float, Terms, 1> lightTerms(float u, float v, float q) {
    Eigen::Matrix<float, Terms, 1> out;
    if constexpr (Terms == 4)
        out << 1, u, v, q;
    else
        out << 1, u, v, u * u, u * v, v * v, u * u * u, q;
    return out;
}

/// Per flank and feature: value = offset + course of the light + contrast * q; removes the light and puts zero between
/// the classes.
template <int Terms>
void level(const Field& field, const std::vector<float>& q, std::vector<Point>& out, Mean& contrast) {
    const std::size_t n = field.cells();
    Eigen::Matrix<float, Terms, Terms> normalF = Eigen::Matrix<float, Terms, Terms>::Zero();
    Eigen::Matrix<float, Terms, kFeatures> rightF = Eigen::Matrix<float, Terms, kFeatures>::Zero();
    for (std::size_t i = 0; i < n; ++i) {
        const Eigen::Matrix<float, Terms, 1> basis = lightTerms<Terms>(field.u[i], field.v[i], q[i]);
        const Eigen::Matrix<float, Terms, 1> weighted = field.weight[i] * basis;
        normalF.noalias() += weighted * basis.transpose();
        rightF.noalias() += weighted * field.value[i].transpose();
    }
    Eigen::Matrix<double, Terms, Terms> normal = normalF.template cast<double>();
    const double total = normal(0, 0);
    // The ridge keeps a pattern that covers one end from being taken for a light gradient.
    for (int k = 1; k + 1 < Terms; ++k) normal(k, k) += kTrendRidge * total * (k < 3 ? 1.0 : 0.25);
    normal(Terms - 1, Terms - 1) += 1e-4 * total;
    const Eigen::Matrix<double, Terms, kFeatures> solved = normal.ldlt().solve(rightF.template cast<double>());
    contrast = solved.row(Terms - 1).transpose();
    Eigen::Matrix<float, kFeatures, Terms> light = solved.transpose().template cast<float>();
    light.col(Terms - 1).setZero();
    light.col(0) += 0.5F * contrast.template cast<float>();
    out.resize(n);
    for (std::size_t i = 0; i < n; ++i) out[i] = field.value[i] - light * lightTerms<Terms>(field.u[i], field.v[i], 0);
}

void level(Cue cue, const Field& field, const std::vector<float>& q, std::vector<Point>& out, Mean& contrast) {
    if (cue == Cue::Colour)
        level<4>(field, q, out, contrast);
    else
        level<8>(field, q, out, contrast);
}

struct Law {
    Point mean = Point::Zero();
    Eigen::Matrix4f precision = Eigen::Matrix4f::Identity();
    float logDet = 0;  ///< of the covariance
    void set(const Mean& m, Spread covariance, const Mean& extra) {
        covariance.diagonal() += extra;
        mean = m.cast<float>();
        precision = covariance.inverse().cast<float>();
        logDet = static_cast<float>(std::log(std::max(1e-30, covariance.determinant())));
    }
    float mahalanobis(const Point& x) const {
        const Point d = x - mean;
        return d.dot(precision * d);
    }
    float logDensity(float squared) const {
        constexpr auto freedom = static_cast<float>(kTailFreedom);
        return -0.5F * logDet - 0.5F * (freedom + kFeatures) * std::log(1 + squared / freedom);
    }
};

struct State {
    std::vector<std::vector<float>> q;
    Law inside, outside;
    Mean contrast = Mean::Zero();
    Spread insideSpread = Spread::Identity(), outsideSpread = Spread::Identity();
    bool lawsKnown = false;
    Cue cue = Cue::All;
    Mean extra = Mean::Zero();
    double gain = 0;
};

struct Moments {
    Eigen::Vector4f sum = Eigen::Vector4f::Zero();
    Eigen::Matrix4f squares = Eigen::Matrix4f::Zero();
    float weight = 0;
    void add(float w, const Point& x) {
        const Point weighted = w * x;
        sum += weighted;
        squares.noalias() += weighted * x.transpose();
        weight += w;
    }
    Mean mean() const { return (sum / std::max(1e-9F, weight)).cast<double>(); }
    Spread spread() const {
        const Mean m = mean();
        return (squares / std::max(1e-9F, weight)).cast<double>() - m * m.transpose();
    }
};

/// Laws of the two classes from the regions; `levelled` comes back with the light's slopes out.
void learn(const std::vector<Field>& fields, State& state, std::vector<std::vector<Point>>& levelled) {
    Mean contrast = Mean::Zero();
    double contrastWeight = 0;
    std::array<Moments, 2> moments;
    constexpr auto freedom = static_cast<float>(kTailFreedom);
    for (std::size_t f = 0; f < fields.size(); ++f) {
        const Field& field = fields[f];
        const auto& q = state.q[f];
        Mean own;
        level(state.cue, field, q, levelled[f], own);
        double w = 0;
        for (std::size_t i = 0; i < field.cells(); ++i) {
            const Point& x = levelled[f][i];
            float in = field.weight[i] * q[i], out = field.weight[i] - in;
            w += in;
            if (state.lawsKnown) {
                in *= (freedom + kFeatures) / (freedom + state.inside.mahalanobis(x));
                out *= (freedom + kFeatures) / (freedom + state.outside.mahalanobis(x));
            }
            moments[0].add(out, x);
            moments[1].add(in, x);
        }
        contrast += w * own;
        contrastWeight += w;
    }
    state.contrast = contrast / std::max(1e-9, contrastWeight);
    std::array<Spread, 2> spread{moments[0].spread(), moments[1].spread()};
    // Few cells say little of their spread: lean on the pooled one.
    const Spread pooled = 0.5 * (spread[0] + spread[1]);
    for (auto& s : spread) s = (1 - kPooledShare) * s + kPooledShare * pooled;
    state.outside.set(moments[0].mean(), spread[0], state.extra);
    state.inside.set(moments[1].mean(), spread[1], state.extra);
    state.outsideSpread = spread[0];
    state.insideSpread = spread[1];
    state.lawsKnown = true;
}

/// Regions from the laws, by mean field with Gaussian neighbourhoods.
void relabel(const std::vector<Field>& fields, std::span<const int> group,
             const std::vector<std::vector<Point>>& levelled, State& state, int steps, double scale,
             float priorShare = 1) {
    const std::size_t flanks = fields.size();
    std::vector<std::vector<float>> evidence(flanks);
    for (std::size_t f = 0; f < flanks; ++f) {
        const Field& field = fields[f];
        evidence[f].resize(field.cells());
        for (std::size_t i = 0; i < field.cells(); ++i) {
            const Point& x = levelled[f][i];
            const float raw = static_cast<float>(kEvidence) * (state.inside.logDensity(state.inside.mahalanobis(x)) -
                                                               state.outside.logDensity(state.outside.mahalanobis(x)));
            evidence[f][i] = field.weight[i] * std::clamp(raw, -static_cast<float>(kMostEvidence),
                                                          static_cast<float>(kMostEvidence)) +
                             priorShare * field.prior[i];
        }
    }
    std::vector<cv::Mat1f> signedQ(flanks), far(flanks);
    for (int step = 0; step < steps; ++step) {
        for (std::size_t f = 0; f < flanks; ++f) {
            signedQ[f].create(fields[f].rows, fields[f].columns);
            float* s = signedQ[f].ptr<float>();
            for (std::size_t i = 0; i < fields[f].cells(); ++i) s[i] = 2 * state.q[f][i] - 1;
            cv::GaussianBlur(signedQ[f], far[f], cv::Size(), kFarU * scale, kFarV * scale, cv::BORDER_REPLICATE);
        }
        for (std::size_t f = 0; f < flanks; ++f) {
            cv::Mat1f near;
            cv::GaussianBlur(signedQ[f], near, cv::Size(), kNearU * scale, kNearV * scale, cv::BORDER_REPLICATE);
            // The mean region of the other teeth of the side.
            cv::Mat1f others(fields[f].rows, fields[f].columns, 0.0F);
            int count = 0;
            for (std::size_t g = 0; g < flanks; ++g)
                if (g != f && group[g] == group[f]) {
                    others += far[g];
                    ++count;
                }
            const float teeth = count > 0 ? static_cast<float>(kTeethPull) / static_cast<float>(count) : 0;
            const float *n = near.ptr<float>(), *r = far[f].ptr<float>(), *o = others.ptr<float>();
            for (std::size_t i = 0; i < fields[f].cells(); ++i) {
                const float logit = evidence[f][i] + static_cast<float>(kNearPull) * n[i] +
                                    static_cast<float>(kFarPull) * r[i] + teeth * o[i];
                state.q[f][i] = 1 / (1 + std::exp(-logit));
            }
        }
    }
}

/// How much better two classes explain the flanks than one, per cell, less the cost of the border.
double gainOf(const std::vector<Field>& fields, const State& state, const std::vector<std::vector<Point>>& levelled,
              double scale) {
    Moments all;
    for (std::size_t f = 0; f < fields.size(); ++f)
        for (std::size_t i = 0; i < fields[f].cells(); ++i) all.add(fields[f].weight[i], levelled[f][i]);
    Law single;
    single.set(all.mean(), all.spread(), state.extra);
    double gain = 0, border = 0;
    for (std::size_t f = 0; f < fields.size(); ++f) {
        const auto columns = static_cast<std::size_t>(fields[f].columns);
        const auto& q = state.q[f];
        for (std::size_t i = 0; i < fields[f].cells(); ++i) {
            const Point& x = levelled[f][i];
            gain += fields[f].weight[i] * (q[i] * state.inside.logDensity(state.inside.mahalanobis(x)) +
                                           (1 - q[i]) * state.outside.logDensity(state.outside.mahalanobis(x)) -
                                           single.logDensity(single.mahalanobis(x)));
            if (i % columns != 0) border += std::abs(q[i] - q[i - 1]);
            if (i >= columns) border += std::abs(q[i] - q[i - columns]);
        }
    }
    // A border crosses fewer cells of a coarser grid, as the flank holds fewer of them.
    return (gain * kEvidence - kCostOfBorder * border * scale) / static_cast<double>(all.weight);
}

void iterate(const std::vector<Field>& fields, std::span<const int> group, State& state, int rounds, int steps,
             double scale) {
    std::vector<std::vector<Point>> levelled(fields.size());
    for (int round = 0; round < rounds; ++round) {
        learn(fields, state, levelled);
        relabel(fields, group, levelled, state, steps, scale);
    }
    state.gain = gainOf(fields, state, levelled, scale);
}

std::vector<Field> fieldsOf(std::span<const FlankFeatures> flanks, int factor) {
    std::vector<Field> out;
    for (const auto& f : flanks) out.push_back(shrunk(f, factor));
    return out;
}

/// The regions of a coarser grid on a finer one.
State refined(const State& coarse, const std::vector<Field>& from, const std::vector<Field>& to) {
    State out = coarse;
    for (std::size_t f = 0; f < from.size(); ++f) {
        const cv::Mat1f small(from[f].rows, from[f].columns, out.q[f].data());
        cv::Mat1f large;
        cv::resize(small, large, cv::Size(to[f].columns, to[f].rows), 0, 0, cv::INTER_LINEAR);
        out.q[f].assign(large.begin(), large.end());
    }
    return out;
}

}  // namespace

namespace {

/// What speaks for a region being the contact: a step at its border that light does not make (light is the same on both
/// sides of a border), a full form, and borders of the flank left alone.
struct Form {
    double step = 0, fill = 0, border = 0, area = 0;
    double colourLost = 0;  ///< saturation of the rest less that of the region, at the border
    double score() const { return step + kByFill * fill - kByBorder * border; }
};

/// Step between the bands on both sides of the border of one flank's region.
struct BorderStep {
    double distance = 0;    ///< standard deviations
    double weakest = 0;     ///< the same over the weakest part of the border
    double colourLost = 0;  ///< saturation outside less inside
};
BorderStep borderStep(const Field& field, const std::vector<float>& q, double scale) {
    const cv::Mat1f inside(field.rows, field.columns, const_cast<float*>(q.data()));
    cv::Mat1f soft;
    cv::GaussianBlur(inside, soft, cv::Size(), kBandU * scale, kBandV * scale, cv::BORDER_REPLICATE);
    std::array<Moments, 2> moments;
    const float* b = soft.ptr<float>();
    for (std::size_t i = 0; i < field.cells(); ++i) {
        moments[0].add(field.weight[i] * (1 - q[i]) * b[i], field.value[i]);
        moments[1].add(field.weight[i] * q[i] * (1 - b[i]), field.value[i]);
    }
    if (std::min(moments[0].weight, moments[1].weight) < 1e-3F * static_cast<float>(field.cells())) return {};
    const Mean difference = moments[1].mean() - moments[0].mean();
    Spread spread = 0.5 * (moments[0].spread() + moments[1].spread());
    spread.diagonal() += kBandExtra;
    const Mean in = moments[1].mean(), rest = moments[0].mean();
    const Mean pull = spread.inverse() * difference;
    BorderStep out;
    out.distance = std::sqrt(difference.dot(pull));
    out.colourLost = std::hypot(rest(0), rest(1)) - std::hypot(in(0), in(1));

    // The same step in sectors about the region's middle: a part of the contact has no step where it was cut off.
    float u = 0, v = 0, total = 0;
    for (std::size_t i = 0; i < field.cells(); ++i) {
        u += q[i] * field.u[i];
        v += q[i] * field.v[i];
        total += q[i];
    }
    u /= total;
    v /= total;
    const Point along = (pull / std::max(1e-6, out.distance)).cast<float>();
    std::array<std::array<float, 2>, kSectors> sum{}, weight{};
    for (std::size_t i = 0; i < field.cells(); ++i) {
        const float wIn = field.weight[i] * q[i] * (1 - b[i]), wOut = field.weight[i] * (1 - q[i]) * b[i];
        if (wIn + wOut < 0.01F) continue;
        const float angle = std::atan2(2 * (field.v[i] - v), 4 * (field.u[i] - u));
        const auto sector = std::min<std::size_t>(
            kSectors - 1, static_cast<std::size_t>((angle / (2 * static_cast<float>(kPi)) + 0.5F) * kSectors));
        const float x = along.dot(field.value[i]);
        sum[sector][0] += wOut * x;
        sum[sector][1] += wIn * x;
        weight[sector][0] += wOut;
        weight[sector][1] += wIn;
    }
    std::vector<std::pair<double, double>> steps;  // step, weight
    double all = 0;
    for (std::size_t k = 0; k < kSectors; ++k) {
        const double w = std::min(weight[k][0], weight[k][1]);
        if (w < 0.02 * std::min(moments[0].weight, moments[1].weight)) continue;
        steps.emplace_back(sum[k][1] / weight[k][1] - sum[k][0] / weight[k][0], w);
        all += w;
    }
    std::sort(steps.begin(), steps.end());
    double got = 0;
    for (const auto& [step, w] : steps) {
        const double part = std::min(w, std::max(0.0, kWeakShare * all - got));
        out.weakest += part * step;
        got += part;
    }
    if (got > 0) out.weakest /= got;
    return out;
}

/// `enough`: a score that must be beaten; where the step alone shows that it cannot be, the rest is not worked out.
Form formOf(const std::vector<Field>& fields, std::span<const int> group, const State& state, double scale,
            double enough) {
    Form out;
    const double share = 1.0 / static_cast<double>(fields.size());
    for (std::size_t f = 0; f < fields.size(); ++f) {
        const BorderStep step = borderStep(fields[f], state.q[f], scale);
        out.step += share * std::min(kMostStep, kByWeakest * step.weakest + kByWhole * step.distance);
        out.colourLost += share * step.colourLost;
    }
    if (out.step + kByFill < enough) return out;
    // The form is that of the mean region of each group: single flanks have their ragged places.
    std::vector<int> seen;
    for (const int g : group)
        if (std::find(seen.begin(), seen.end(), g) == seen.end()) seen.push_back(g);
    for (const int g : seen) {
        cv::Mat1f sum(fields[0].rows, fields[0].columns, 0.0F), large;
        int count = 0;
        for (std::size_t f = 0; f < fields.size(); ++f)
            if (group[f] == g) {
                sum += cv::Mat1f(fields[f].rows, fields[f].columns, const_cast<float*>(state.q[f].data()));
                ++count;
            }
        sum /= count;
        cv::resize(sum, large, cv::Size(kColumns, kRows), 0, 0, cv::INTER_LINEAR);
        const MainRegion region = mainRegion({large.begin(), large.end()});
        int border = 0, held = 0, area = 0;
        for (int i = 0; i < kCells; ++i) {
            const int x = i % kColumns, y = i / kColumns;
            const bool in = region.cells[static_cast<std::size_t>(i)] != 0;
            area += in;
            if (x == 0 || y == 0 || x == kColumns - 1 || y == kRows - 1) {
                ++border;
                held += in;
            }
        }
        const double weight = count * share;
        out.fill += weight * region.fill;
        out.border += weight * held / border;
        out.area += weight * area / kCells;
    }
    return out;
}

/// The same split seen the other way round: the rest is the region.
State turnedOver(const State& state) {
    State out = state;
    for (auto& q : out.q)
        for (float& value : q) value = 1 - value;
    std::swap(out.inside, out.outside);
    std::swap(out.insideSpread, out.outsideSpread);
    return out;
}

State startAt(const Ellipse& e, const std::vector<Field>& fields, Cue cue) {
    State state;
    state.cue = cue;
    state.extra = extraVariance(cue);
    for (const Field& field : fields) {
        std::vector<float> q(field.cells());
        for (std::size_t i = 0; i < q.size(); ++i)
            q[i] = static_cast<float>(inEllipse(e, field.u[i] + 0.5, field.v[i] + 0.5));
        state.q.push_back(std::move(q));
    }
    return state;
}

double overlap(const std::vector<float>& a, const std::vector<float>& b) {
    double both = 0, either = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        both += std::min(a[i], b[i]);
        either += std::max(a[i], b[i]);
    }
    return both / either;
}

}  // namespace

SplitResult splitFlanks(std::span<const FlankFeatures> flanks, std::span<const int> group,
                        std::optional<Marking> marking) {
    const std::vector<Field> tiny = fieldsOf(flanks, 8), coarse = fieldsOf(flanks, 4), middle = fieldsOf(flanks, 2),
                             full = fieldsOf(flanks, 1);
    std::vector<std::vector<Point>> levelled(flanks.size());
    State best;
    double bestScore = 0;
    for (const Cue cue : {Cue::Colour, Cue::All}) {
        // Step 1: on a very coarse grid, which ellipses part the flanks best? All teeth of all groups take the same one
        // at first.
        std::vector<State> starts;
        for (const Ellipse& e : startEllipses()) {
            State state = startAt(e, tiny, cue);
            learn(tiny, state, levelled);
            state.gain = gainOf(tiny, state, levelled, 1.0 / 8);
            starts.push_back(std::move(state));
        }
        std::sort(starts.begin(), starts.end(), [](const State& a, const State& b) { return a.gain > b.gain; });
        std::vector<State> kept;
        for (State& start : starts) {
            if (kept.size() == kStarts) break;
            const bool like = std::any_of(kept.begin(), kept.end(),
                                          [&](const State& k) { return overlap(k.q[0], start.q[0]) > kLikeStart; });
            if (!like) kept.push_back(std::move(start));
        }
        // Step 2: they grow to regions of any form; of each, either part could be the contact.
        std::vector<State> grown;
        for (const State& start : kept) {
            State state = refined(start, tiny, coarse);
            state.lawsKnown = false;
            iterate(coarse, group, state, 3, 3, 1.0 / 4);
            const bool like = std::any_of(grown.begin(), grown.end(), [&](const State& k) {
                for (std::size_t f = 0; f < flanks.size(); ++f)
                    if (overlap(k.q[f], state.q[f]) < kSameRegion) return false;
                return true;
            });
            if (!like) grown.push_back(std::move(state));
        }
        for (State& state : grown) {
            learn(coarse, state, levelled);
            State neutral = state;
            relabel(coarse, group, levelled, neutral, 2, 1.0 / 4, 0);
            for (const bool over : {false, true}) {
                State candidate = over ? turnedOver(neutral) : state;
                const Form form = formOf(coarse, group, candidate, 1.0 / 4,
                                         best.q.empty() || marking ? -1e9 : bestScore - kByGain * state.gain);
                double score = form.score() + kByGain * state.gain;
                if (marking)
                    score += std::clamp((*marking == Marking::Wiped ? 1 : -1) * kByMarking * form.colourLost,
                                        -kMostByMarking, kMostByMarking);
                if (form.area < kLeastArea) score -= kTooSmall;
                if (!best.q.empty() && score <= bestScore) continue;
                bestScore = score;
                best = std::move(candidate);
            }
        }
    }

    // Step 3: finer and finer.
    State fine = refined(best, coarse, middle);
    iterate(middle, group, fine, 4, 3, 1.0 / 2);
    fine = refined(fine, middle, full);
    iterate(full, group, fine, 1, 3, 1.0);

    SplitResult out;
    out.inside = fine.q;
    out.contrast = fine.contrast;
    out.insideSpread = fine.insideSpread;
    out.outsideSpread = fine.outsideSpread;
    out.gain = fine.gain;
    for (std::size_t f = 0; f < flanks.size(); ++f)
        out.separation.push_back(borderStep(full[f], fine.q[f], 1.0).distance);
    return out;
}

}  // namespace shimsight::compound
