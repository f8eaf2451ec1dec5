#include "compound/two_class.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "compound/evidence.h"

namespace shimsight::compound {
namespace {

/// What a split goes by. Brightness and texture follow shadows and lamps as well as paste, so colour alone is tried
/// too.
enum class Cue { Colour, Light, All };
constexpr std::array kCues{Cue::Colour, Cue::Light, Cue::All};

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
/// Outlines are off by a little, so what lies along the border may be fillet, top land or tooth end: cells nearer to it
/// than this (shares of length and height) count less, down to the share.
constexpr double kDoubtU = 0.06, kDoubtV = 0.10, kDoubtShare = 0.15;
constexpr double kTrendRidge = 0.005;

/// A contact is an ellipse, cut off by the flank's edges, with its corners and notches. Log odds that fall off beyond
/// the best ellipse: per radius, and the most they may say for and against.
constexpr double kShapeSlope = 8.0, kShapeRadius = 1.25, kShapeFor = 0.6, kShapeAgainst = -9.0;

/// Sectors of the border, and the share of it that counts as its weakest part: the step there decides.
constexpr std::size_t kSectors = 10;
constexpr double kWeakShare = 0.4;
/// Half widths of the bands on either side of the border, working cells.
constexpr double kBandU = 3, kBandV = 5;
/// Variance added within the bands: two places a millimetre apart differ by this without any paste.
const Mean kBandExtra(1e-3, 1e-3, 0.01, 0.06);

/// Starts that are tried further for each cue, and how alike (overlap) two starts or two grown regions may be.
constexpr std::size_t kStarts = 5;
constexpr float kLeastHalf = 0.08F;   ///< half width of a start, shares of length and height
constexpr float kLeastStart = 0.03F;  ///< area of a start on the flank, share of it
constexpr double kLikeStart = 0.5, kSameRegion = 0.85;
/// Regions that differ by less than this in log odds, and overlap by more than this.
constexpr double kAsLikely = 1.2, kAsAlike = 0.4;
/// A region outside these shares of the flank is no contact.
constexpr double kLeastArea = 0.035, kMostArea = 0.85;
/// A region of which more than this lies along the flank's border is what borders on the flank.
constexpr double kMostRim = 0.4;
constexpr Interval kMiddleU{0.06, 0.94}, kMiddleV{0.12, 0.94};

/// Variance added to the features by cue: what light does to them beside the paste.
Mean extraVariance(Cue cue) {
    if (cue == Cue::Colour) return {2e-4, 2e-4, 20, 5};
    if (cue == Cue::Light) return {0.1, 0.1, 0.01, 5};
    return {2e-4, 2e-4, 0.1, 0.06};
}

using Point = Eigen::Matrix<float, kFeatures, 1>;

/// Features of one flank on a grid of `columns` x `rows`.
struct Field {
    int columns = 0, rows = 0;
    std::vector<Point> value;
    std::vector<float> weight;
    std::vector<float> u, v;   ///< minus one half
    std::vector<float> prior;  ///< log odds before anything is seen
    std::vector<float> inset;  ///< 1 within the flank, down to kDoubtShare at its border
    std::size_t cells() const { return weight.size(); }
    double scale() const { return columns / static_cast<double>(kColumns); }
};

Field shrunk(const FlankFeatures& f, int factor) {
    Field out;
    out.columns = kColumns / factor;
    out.rows = kRows / factor;
    const auto cells = static_cast<std::size_t>(out.columns * out.rows);
    out.value.resize(cells);
    for (auto* list : {&out.weight, &out.u, &out.v, &out.prior, &out.inset}) list->resize(cells);
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
            const double u = (x + 0.5) / out.columns, v = 1 - (y + 0.5) / out.rows;
            const double inset = std::min({1.0, std::min(u, 1 - u) / kDoubtU, std::min(v, 1 - v) / kDoubtV});
            out.inset[i] = static_cast<float>(kDoubtShare + (1 - kDoubtShare) * inset);
            out.weight[i] = weight / static_cast<float>(factor * factor) * out.inset[i];
            out.u[i] = static_cast<float>(u - 0.5);
            out.v[i] = static_cast<float>(v - 0.5);
            const double edge = std::exp(-std::min(u, 1 - u) / kBorderU) + std::exp(-std::min(v, 1 - v) / kBorderV);
            out.prior[i] = static_cast<float>(kPriorLogit + kBorderLogit * std::min(1.0, edge));
        }
    return out;
}

/// The mean of several flanks: what they share stands out, strokes, scratches and highlights of single ones fade. Each
/// is brought to the mean level first, so that a dark one does not draw where another is not trusted.
Field meanField(const std::vector<Field>& fields) {
    Field out = fields[0];
    if (fields.size() == 1) return out;
    std::vector<Point> level(fields.size());
    Point all = Point::Zero();
    for (std::size_t f = 0; f < fields.size(); ++f) {
        Point sum = Point::Zero();
        float total = 0;
        for (std::size_t i = 0; i < fields[f].cells(); ++i) {
            sum += fields[f].weight[i] * fields[f].value[i];
            total += fields[f].weight[i];
        }
        level[f] = sum / std::max(1e-6F, total);
        all += level[f] / static_cast<float>(fields.size());
    }
    for (std::size_t i = 0; i < out.cells(); ++i) {
        Point sum = Point::Zero();
        float total = 0;
        for (std::size_t f = 0; f < fields.size(); ++f) {
            sum += fields[f].weight[i] * (fields[f].value[i] - level[f]);
            total += fields[f].weight[i];
        }
        out.value[i] = all + sum / std::max(1e-6F, total);
        out.weight[i] = total / static_cast<float>(fields.size());
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
void level(const Field& field, const std::vector<float>& q, std::vector<Point>& out) {
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
    const Mean contrast = solved.row(Terms - 1).transpose();
    Eigen::Matrix<float, kFeatures, Terms> light = solved.transpose().template cast<float>();
    light.col(Terms - 1).setZero();
    light.col(0) += 0.5F * contrast.template cast<float>();
    out.resize(n);
    for (std::size_t i = 0; i < n; ++i) out[i] = field.value[i] - light * lightTerms<Terms>(field.u[i], field.v[i], 0);
}

void level(Cue cue, const Field& field, const std::vector<float>& q, std::vector<Point>& out) {
    if (cue == Cue::Colour)
        level<4>(field, q, out);
    else
        level<8>(field, q, out);
}

/// An ellipse on the flank, cut off by its edges: middle, half widths, and how much the middle line rises per length.
struct Ellipse {
    std::array<float, 5> p{};  ///< u, v (minus one half), half length, half height, tilt
    float radius(float u, float v) const {
        const float du = u - p[0], x = du / p[2], y = (v - p[1] - p[4] * du) / p[3];
        return std::sqrt(x * x + y * y);
    }
};

/// The ellipse as a soft region of the field.
void draw(const Ellipse& e, const Field& field, std::vector<float>& out) {
    out.resize(field.cells());
    const auto n = static_cast<Eigen::Index>(out.size());
    const Eigen::Map<const Eigen::ArrayXf> u(field.u.data(), n), v(field.v.data(), n);
    Eigen::Map<Eigen::ArrayXf> inside(out.data(), n);
    const auto x = (u - e.p[0]) * (1 / e.p[2]);
    const auto y = (v - e.p[4] * u + (e.p[4] * e.p[0] - e.p[1])) * (1 / e.p[3]);
    inside = (4.5F - 4 * (x.square() + y.square()).sqrt()).min(1.0F).max(0.0F);
}

/// What the ellipse says for and against each cell.
std::vector<float> shapeLogits(const Field& field, const Ellipse& e) {
    std::vector<float> out(field.cells());
    for (std::size_t i = 0; i < out.size(); ++i)
        out[i] = std::clamp(
            static_cast<float>(kShapeSlope) * (static_cast<float>(kShapeRadius) - e.radius(field.u[i], field.v[i])),
            static_cast<float>(kShapeAgainst), static_cast<float>(kShapeFor));
    return out;
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
};

struct State {
    std::vector<std::vector<float>> q;
    Law inside, outside;
    bool lawsKnown = false;
    Cue cue = Cue::All;
    Mean extra = Mean::Zero();
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
    std::array<Moments, 2> moments;
    constexpr auto freedom = static_cast<float>(kTailFreedom);
    for (std::size_t f = 0; f < fields.size(); ++f) {
        const Field& field = fields[f];
        const auto& q = state.q[f];
        level(state.cue, field, q, levelled[f]);
        for (std::size_t i = 0; i < field.cells(); ++i) {
            const Point& x = levelled[f][i];
            float in = field.weight[i] * q[i], out = field.weight[i] - in;
            if (state.lawsKnown) {
                in *= (freedom + kFeatures) / (freedom + state.inside.mahalanobis(x));
                out *= (freedom + kFeatures) / (freedom + state.outside.mahalanobis(x));
            }
            moments[0].add(out, x);
            moments[1].add(in, x);
        }
    }
    std::array<Spread, 2> spread{moments[0].spread(), moments[1].spread()};
    // Few cells say little of their spread: lean on the pooled one.
    const Spread pooled = 0.5 * (spread[0] + spread[1]);
    for (auto& s : spread) s = (1 - kPooledShare) * s + kPooledShare * pooled;
    state.outside.set(moments[0].mean(), spread[0], state.extra);
    state.inside.set(moments[1].mean(), spread[1], state.extra);
    state.lawsKnown = true;
}

/// Regions from the laws, by mean field with Gaussian neighbourhoods; `shape` as shapeLogits gives it.
void relabel(const std::vector<Field>& fields, const std::vector<std::vector<Point>>& levelled, State& state, int steps,
             const std::vector<float>& shape) {
    const std::size_t flanks = fields.size();
    const double scale = fields[0].scale();
    std::vector<std::vector<float>> evidence(flanks);
    constexpr auto freedom = static_cast<float>(kTailFreedom);
    constexpr auto most = static_cast<float>(kMostEvidence);
    for (std::size_t f = 0; f < flanks; ++f) {
        const Field& field = fields[f];
        evidence[f].resize(field.cells());
        const float constant = 0.5F * (state.outside.logDet - state.inside.logDet);
        for (std::size_t i = 0; i < field.cells(); ++i) {
            const Point& x = levelled[f][i];
            // Log of the ratio of the two Student densities.
            const float ratio = (freedom + state.outside.mahalanobis(x)) / (freedom + state.inside.mahalanobis(x));
            const float raw =
                static_cast<float>(kEvidence) * (constant + 0.5F * (freedom + kFeatures) * std::log(ratio));
            evidence[f][i] = field.weight[i] * std::clamp(raw, -most, most) + field.prior[i] + shape[i];
        }
    }
    std::vector<cv::Mat1f> signedQ(flanks), far(flanks);
    for (int step = 0; step < steps; ++step) {
        cv::Mat1f all(fields[0].rows, fields[0].columns, 0.0F);
        for (std::size_t f = 0; f < flanks; ++f) {
            signedQ[f].create(fields[f].rows, fields[f].columns);
            float* s = signedQ[f].ptr<float>();
            for (std::size_t i = 0; i < fields[f].cells(); ++i) s[i] = 2 * state.q[f][i] - 1;
            cv::GaussianBlur(signedQ[f], far[f], cv::Size(), kFarU * scale, kFarV * scale, cv::BORDER_REPLICATE);
            if (flanks > 1) all += far[f];
        }
        for (std::size_t f = 0; f < flanks; ++f) {
            cv::Mat1f near;
            cv::GaussianBlur(signedQ[f], near, cv::Size(), kNearU * scale, kNearV * scale, cv::BORDER_REPLICATE);
            // The mean region of the other teeth of the side.
            const float teeth = flanks > 1 ? static_cast<float>(kTeethPull) / static_cast<float>(flanks - 1) : 0.0F;
            const float *n = near.ptr<float>(), *r = far[f].ptr<float>(), *o = all.ptr<float>();
            for (std::size_t i = 0; i < fields[f].cells(); ++i) {
                const float logit = evidence[f][i] + static_cast<float>(kNearPull) * n[i] +
                                    static_cast<float>(kFarPull) * r[i] + teeth * (o[i] - r[i]);
                state.q[f][i] = 1 / (1 + std::exp(-logit));
            }
        }
    }
}

/// The state's regions on a finer grid.
State refined(const State& state, const std::vector<Field>& from, const std::vector<Field>& to) {
    State out = state;
    for (std::size_t f = 0; f < to.size(); ++f) {
        const std::size_t k = std::min(f, state.q.size() - 1);
        const cv::Mat1f small(from[0].rows, from[0].columns, const_cast<float*>(state.q[k].data()));
        cv::Mat1f large;
        cv::resize(small, large, cv::Size(to[f].columns, to[f].rows), 0, 0, cv::INTER_LINEAR);
        if (f < out.q.size())
            out.q[f].assign(large.begin(), large.end());
        else
            out.q.emplace_back(large.begin(), large.end());
    }
    return out;
}

double overlap(const std::vector<float>& a, const std::vector<float>& b) {
    float both = 0, either = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        both += std::min(a[i], b[i]);
        either += std::max(a[i], b[i]);
    }
    return both / std::max(1e-6F, either);
}

/// What a region explains of a flank beside the course of the light. With the light's terms and the region as
/// regressors, the log likelihood gained per cell is -log(1 - r c' A^-1 c) / 2: A is the covariance that the light
/// leaves, c the contrast and r the variance of the region that the light's terms do not explain.
class Explained {
public:
    explicit Explained(const Field& field) : held_(kSums, static_cast<Eigen::Index>(field.cells())) {
        using Basis = Eigen::Matrix<float, kTerms, 1>;
        Eigen::Matrix<float, kTerms, kTerms> normal = Eigen::Matrix<float, kTerms, kTerms>::Zero();
        Eigen::Matrix<float, kTerms, kFeatures> right = Eigen::Matrix<float, kTerms, kFeatures>::Zero();
        Eigen::Matrix4f squares = Eigen::Matrix4f::Zero();
        for (std::size_t i = 0; i < field.cells(); ++i) {
            const Basis basis = lightTerms<8>(field.u[i], field.v[i], 0).head<kTerms>();
            const float w = field.weight[i];
            normal.noalias() += w * basis * basis.transpose();
            right.noalias() += w * basis * field.value[i].transpose();
            squares.noalias() += w * field.value[i] * field.value[i].transpose();
            held_.col(static_cast<Eigen::Index>(i)) << w * basis, w * field.value[i], w;
        }
        total_ = normal(0, 0);
        for (int k = 1; k < kTerms; ++k)
            normal(k, k) += static_cast<float>(kTrendRidge * total_ * (k < 3 ? 1.0 : 0.25));
        inverse_ = normal.cast<double>().inverse();
        light_ = inverse_ * right.cast<double>();
        const Spread left = (squares.cast<double>() - light_.transpose() * right.cast<double>()) / total_;
        for (const Cue cue : kCues) {
            Spread a = left;
            a.diagonal() += extraVariance(cue);
            precision_[static_cast<std::size_t>(cue)] = a.inverse();
        }
    }
    struct Gain {
        std::array<double, kCues.size()> byCue{};
        Mean contrast = Mean::Zero();
    };
    Gain gain(const std::vector<float>& region) const {
        const Eigen::Map<const Eigen::VectorXf> q(region.data(), static_cast<Eigen::Index>(region.size()));
        const Eigen::Matrix<float, kSums, 1> s = held_ * q;
        const float square = held_.row(kSums - 1).dot(q.cwiseProduct(q).transpose());
        const Eigen::Matrix<double, kTerms, 1> b = s.head<kTerms>().cast<double>();
        const double r = (square - b.dot(inverse_ * b)) / total_;
        Gain out;
        if (r < 1e-3) return out;
        out.contrast = (s.segment<kFeatures>(kTerms).cast<double>() - light_.transpose() * b) / (r * total_);
        for (std::size_t k = 0; k < kCues.size(); ++k)
            out.byCue[k] = -0.5 * std::log(std::max(1e-6, 1 - r * out.contrast.dot(precision_[k] * out.contrast)));
        return out;
    }

private:
    static constexpr int kTerms = 7, kSums = kTerms + kFeatures + 1;
    // Cell by cell the weighted light terms, features and weight.
    Eigen::Matrix<float, kSums, Eigen::Dynamic> held_;
    Eigen::Matrix<double, kTerms, kTerms> inverse_;
    Eigen::Matrix<double, kTerms, kFeatures> light_;
    std::array<Spread, kCues.size()> precision_;
    double total_ = 0;
};

/// Share by which two regions differ, the flank's border counted less.
float difference(const Field& field, const std::vector<float>& a, const std::vector<float>& b) {
    float apart = 0, either = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        apart += field.inset[i] * std::abs(a[i] - b[i]);
        either += field.inset[i] * std::max(a[i], b[i]);
    }
    return apart / std::max(1e-6F, either);
}

/// Moves and stretches an ellipse while that raises `score`.
template <typename Score>
void climb(Ellipse& ellipse, const Score& score, double& best) {
    std::array<float, 5> step{0.06F, 0.08F, 0.06F, 0.08F, 0.3F};
    for (int pass = 0; pass < 2; ++pass)
        for (std::size_t parameter = 0; parameter < step.size(); ++parameter) {
            for (const float sign : {1.0F, -1.0F}) {
                Ellipse moved = ellipse;
                moved.p[parameter] += sign * step[parameter];
                if (moved.p[2] < kLeastHalf || moved.p[3] < kLeastHalf) continue;
                const double now = score(moved);
                if (now <= best) continue;
                ellipse = moved;
                best = now;
                break;
            }
            step[parameter] *= 0.6F;
        }
}

/// The ellipse that a region fills best.
Ellipse fitted(Ellipse ellipse, const Field& field, const std::vector<float>& region) {
    std::vector<float> drawn;
    const auto score = [&](const Ellipse& e) {
        draw(e, field, drawn);
        return -difference(field, drawn, region);
    };
    double best = score(ellipse);
    climb(ellipse, score, best);
    return ellipse;
}

struct Start {
    Ellipse ellipse;
    std::vector<float> inside;
    double gain = 0;
};

/// Ellipses all over the flank, drawn once for all: the grid of candidates is always the same.
struct Raster {
    std::vector<Ellipse> ellipse;
    std::vector<std::vector<float>> inside;
};
Raster drawRaster(const Field& field) {
    constexpr std::array<std::array<float, 2>, 5> sizes{
        {{0.14F, 0.26F}, {0.2F, 0.4F}, {0.3F, 0.26F}, {0.28F, 0.42F}, {0.4F, 0.45F}}};
    Raster out;
    std::vector<float> inside;
    for (int iu = 0; iu < 8; ++iu)
        for (int iv = 0; iv < 6; ++iv)
            for (const auto& [halfU, halfV] : sizes)
                for (const float tilt : {-0.7F, 0.0F, 0.7F}) {
                    const Ellipse e{{0.135F * (static_cast<float>(iu) - 3.5F), 0.19F * (static_cast<float>(iv) - 2.5F),
                                     halfU, halfV, tilt}};
                    draw(e, field, inside);
                    float area = 0;
                    for (const float q : inside) area += q / static_cast<float>(inside.size());
                    if (area < kLeastStart) continue;
                    out.ellipse.push_back(e);
                    out.inside.push_back(inside);
                }
    return out;
}

/// The ellipses that explain most, for each cue: the best of a raster, moved and stretched while that helps.
std::array<std::vector<Start>, kCues.size()> bestStarts(const Field& field, const Explained& explained) {
    static const Raster raster = drawRaster(field);
    std::array<std::vector<Start>, kCues.size()> all;
    std::vector<float> inside;
    for (std::size_t i = 0; i < raster.ellipse.size(); ++i) {
        const Explained::Gain gain = explained.gain(raster.inside[i]);
        for (std::size_t k = 0; k < kCues.size(); ++k) all[k].push_back({raster.ellipse[i], {}, gain.byCue[k]});
    }
    std::array<std::vector<Start>, kCues.size()> out;
    for (std::size_t k = 0; k < kCues.size(); ++k) {
        std::sort(all[k].begin(), all[k].end(), [](const Start& a, const Start& b) { return a.gain > b.gain; });
        const auto unlike = [&](const Start& start) {
            return std::none_of(out[k].begin(), out[k].end(),
                                [&](const Start& o) { return overlap(o.inside, start.inside) > kLikeStart; });
        };
        for (Start& start : all[k]) {
            if (out[k].size() == kStarts) break;
            draw(start.ellipse, field, start.inside);
            if (!unlike(start)) continue;
            climb(
                start.ellipse,
                [&](const Ellipse& e) {
                    draw(e, field, inside);
                    return explained.gain(inside).byCue[k];
                },
                start.gain);
            draw(start.ellipse, field, start.inside);
            if (unlike(start)) out[k].push_back(std::move(start));
        }
    }
    return out;
}

/// The bands on both sides of a region's border.
struct Bands {
    std::vector<float> in, out;
};
Bands bandsOf(const Field& field, const std::vector<float>& q) {
    const double scale = field.scale();
    const cv::Mat1f inside(field.rows, field.columns, const_cast<float*>(q.data()));
    cv::Mat1f soft;
    cv::GaussianBlur(inside, soft, cv::Size(), kBandU * scale, kBandV * scale, cv::BORDER_REPLICATE);
    const float* b = soft.ptr<float>();
    Bands out;
    out.in.resize(q.size());
    out.out.resize(q.size());
    for (std::size_t i = 0; i < q.size(); ++i) {
        out.in[i] = q[i] * (1 - b[i]);
        out.out[i] = (1 - q[i]) * b[i];
    }
    return out;
}

/// Step between the bands on both sides of the border.
struct BorderStep {
    bool seen = false;
    double distance = 0;  ///< standard deviations
    double weakest = 0;   ///< the same over the weakest part of the border
    Mean inside = Mean::Zero(), outside = Mean::Zero();
    double byColour = 0, byLight = 0;  ///< the step in colour alone and in brightness alone
    Mean pull = Mean::Zero();  ///< direction in which the parts differ, so that pull.(inside - outside) = distance
};
BorderStep borderStep(const Field& field, const std::vector<float>& q, const Bands& bands) {
    std::array<Moments, 2> moments;
    for (std::size_t i = 0; i < field.cells(); ++i) {
        if (bands.out[i] > 1e-3F) moments[0].add(field.weight[i] * bands.out[i], field.value[i]);
        if (bands.in[i] > 1e-3F) moments[1].add(field.weight[i] * bands.in[i], field.value[i]);
    }
    BorderStep out;
    if (std::min(moments[0].weight, moments[1].weight) < 1e-3F * static_cast<float>(field.cells())) return out;
    out.seen = true;
    out.inside = moments[1].mean();
    out.outside = moments[0].mean();
    const Mean difference = out.inside - out.outside;
    Spread spread = 0.5 * (moments[0].spread() + moments[1].spread());
    spread.diagonal() += kBandExtra;
    out.pull = spread.inverse() * difference;
    out.distance = std::sqrt(difference.dot(out.pull));
    out.pull /= std::max(1e-6, out.distance);

    const Eigen::Vector2d colour = difference.head<2>();
    out.byColour = std::sqrt(colour.dot(spread.topLeftCorner<2, 2>().inverse() * colour));
    out.byLight = std::abs(difference(2)) / std::sqrt(spread(2, 2));

    // The same step in sectors about the region's middle: a part of the contact has no step where it was cut off.
    float u = 0, v = 0, total = 0;
    for (std::size_t i = 0; i < field.cells(); ++i) {
        u += q[i] * field.u[i];
        v += q[i] * field.v[i];
        total += q[i];
    }
    u /= total;
    v /= total;
    const Point along = out.pull.cast<float>();
    std::array<std::array<float, 2>, kSectors> sum{}, weight{};
    for (std::size_t i = 0; i < field.cells(); ++i) {
        const float wIn = field.weight[i] * bands.in[i], wOut = field.weight[i] * bands.out[i];
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

/// One flank's own step at the bands of the side's region, in the side's direction.
double stepAlong(const Field& field, const Bands& bands, const Mean& pull) {
    const Point along = pull.cast<float>();
    float in = 0, out = 0, inWeight = 0, outWeight = 0;
    for (std::size_t i = 0; i < field.cells(); ++i) {
        const float x = along.dot(field.value[i]);
        in += field.weight[i] * bands.in[i] * x;
        inWeight += field.weight[i] * bands.in[i];
        out += field.weight[i] * bands.out[i] * x;
        outWeight += field.weight[i] * bands.out[i];
    }
    return in / std::max(1e-6F, inWeight) - out / std::max(1e-6F, outWeight);
}

double saturationOf(const Mean& m) { return std::hypot(m(0), m(1)); }

/// What speaks for a grown region.
void describe(const std::vector<Field>& fields, const Field& mean, const Ellipse& ellipse, Candidate& c) {
    const Bands bands = bandsOf(mean, c.inside);
    const BorderStep step = borderStep(mean, c.inside, bands);
    c.step = step.distance;
    c.weakest = step.weakest;
    c.stepColour = step.byColour;
    c.stepLight = step.byLight;
    c.outsideSaturation = saturationOf(step.outside);
    c.saturation = saturationOf(step.inside) - c.outsideSaturation;
    c.light = step.inside(2) - step.outside(2);
    c.texture = step.inside(3) - step.outside(3);
    double sum = 0, squares = 0;
    for (const Field& field : fields) {
        const double own = stepAlong(field, bands, step.pull);
        sum += own;
        squares += own * own;
    }
    c.agreement = sum > 0 ? sum * sum / (static_cast<double>(fields.size()) * squares) : 0;
    double area = 0, border = 0, inner = 0, middleU = 0, middleV = 0;
    int count = 0;
    for (int y = 0; y < mean.rows; ++y)
        for (int x = 0; x < mean.columns; ++x) {
            const float q = c.inside[static_cast<std::size_t>(y * mean.columns + x)];
            area += q;
            middleU += q * (x + 0.5) / mean.columns;
            middleV += q * (1 - (y + 0.5) / mean.rows);
            inner += q * mean.inset[static_cast<std::size_t>(y * mean.columns + x)];
            if (x == 0 || y == 0 || x == mean.columns - 1 || y == mean.rows - 1) {
                border += q;
                ++count;
            }
        }
    c.toeHeel = middleU / std::max(1e-6, area);
    c.rootTip = middleV / std::max(1e-6, area);
    c.area = area / static_cast<double>(mean.cells());
    c.border = border / count;
    for (const int row : {0, mean.rows - 1}) {
        double along = 0;
        for (int x = 0; x < mean.columns; ++x)
            along += static_cast<double>(c.inside[static_cast<std::size_t>(row * mean.columns + x)]) / mean.columns;
        c.longEdge = std::max(c.longEdge, along);
    }
    c.rim = 1 - inner / std::max(1e-6, area);
    std::vector<float> drawn;
    draw(ellipse, mean, drawn);
    c.ellipse = 1 - difference(mean, drawn, c.inside);
}

/// Weights of a candidate's log odds of being the contact, by logistic regression over the candidates of 80 sides of
/// rendered photos, their flanks together and each alone, and of as many bare and unrolled teeth (seed 20001), corners
/// exact and with the errors of a finder. Photos left out in eighths: the likeliest candidate is the right one on 90 %
/// of the sides, for single flanks on 83 %.
constexpr double kOddsBias = -9.35, kOddsByStep = 0.95, kStepFloor = 0.1, kOddsByWeakest = 2.69, kMostStep = 4.0,
                 kOddsByEllipse = 5.69, kOddsByBorder = -3.83, kOddsByLarge = -2.55, kLarge = 0.4, kOddsPrinted = -1.65,
                 kOddsByAgreement = 3.78, kOddsSeveral = 0.60, kOddsByColour = 1.64, kColourFloor = 0.05,
                 kOddsByRim = -3.33, kOddsByLongEdge = -4.08, kLongEdge = 0.55;
/// A marking that is known: weight of the colour lost or gained, and the most it counts against and for.
constexpr double kByMarking = 40, kMostByMarking = 8, kMostForMarking = 0.5;
constexpr double kNoCandidate = -20;
/// Where the colour steps by this much at the border (standard deviations), it draws the border, whatever found it.
constexpr double kColourShows = 0.7;

double logOddsOf(const Candidate& c, std::size_t flanks, std::optional<Marking> marking) {
    double out = kOddsBias + kOddsByStep * std::log(c.step + kStepFloor) +
                 kOddsByWeakest * std::min(c.weakest, kMostStep) + kOddsByEllipse * c.ellipse +
                 kOddsByBorder * c.border + kOddsByLarge * std::max(0.0, c.area - kLarge) +
                 kOddsByAgreement * c.agreement + kOddsByColour * std::log(c.shareColour + kColourFloor) +
                 kOddsByRim * c.rim + kOddsByLongEdge * std::max(0.0, c.longEdge - kLongEdge);
    if (flanks > 1) out += kOddsSeveral;
    RegionLook look;
    look.saturationOutside = c.outsideSaturation;
    look.saturationInside = c.outsideSaturation + c.saturation;
    look.textureInside = c.texture;
    look.lightInside = c.light;
    if (wipedLogOdds(look) < 0) out += kOddsPrinted;
    if (marking)
        out += std::clamp((*marking == Marking::Wiped ? -1 : 1) * kByMarking * c.saturation, -kMostByMarking,
                          kMostForMarking);
    return out;
}

std::vector<Candidate> candidatesOn(const std::vector<Field>& fields, const Field& mean,
                                    std::optional<Marking> marking) {
    std::vector<Candidate> out;
    const std::vector<Field> single{mean};
    const Explained explained(mean);
    const auto starts = bestStarts(mean, explained);
    for (const Cue cue : kCues)
        for (const Start& start : starts[static_cast<std::size_t>(cue)]) {
            State state;
            state.cue = cue;
            state.extra = extraVariance(cue);
            state.q.push_back(start.inside);
            std::vector<std::vector<Point>> levelled(1);
            Ellipse ellipse = start.ellipse;
            for (int round = 0; round < 3; ++round) {
                learn(single, state, levelled);
                relabel(single, levelled, state, 3, shapeLogits(mean, ellipse));
                if (round < 2) ellipse = fitted(ellipse, mean, state.q[0]);
            }
            const bool like = std::any_of(out.begin(), out.end(), [&](const Candidate& c) {
                return overlap(c.inside, state.q[0]) > kSameRegion;
            });
            if (like) continue;
            Candidate c;
            c.inside = std::move(state.q[0]);
            c.ellipseAt = ellipse.p;
            c.cue = static_cast<int>(cue);
            const Explained::Gain gain = explained.gain(c.inside);
            c.startGain = start.gain;
            c.gainColour = gain.byCue[0];
            c.gainLight = gain.byCue[1];
            c.gainAll = gain.byCue[2];
            c.contrast = gain.contrast;
            describe(fields, mean, ellipse, c);
            if (c.area < kLeastArea || c.area > kMostArea || c.rim > kMostRim || !kMiddleU.holds(c.toeHeel) ||
                !kMiddleV.holds(c.rootTip))
                continue;
            out.push_back(std::move(c));
        }
    double bestColour = 1e-6, bestAll = 1e-6;
    for (const Candidate& c : out) {
        bestColour = std::max(bestColour, c.gainColour);
        bestAll = std::max(bestAll, c.gainAll);
    }
    for (Candidate& c : out) {
        c.shareColour = c.gainColour / bestColour;
        c.shareAll = c.gainAll / bestAll;
        c.logOdds = logOddsOf(c, fields.size(), marking);
    }
    std::sort(out.begin(), out.end(), [](const Candidate& a, const Candidate& b) { return a.logOdds > b.logOdds; });
    // The core of a contact shows the sharper step; of regions about as likely and about the same, the one that
    // explains most is the whole of it.
    std::size_t whole = 0;
    for (std::size_t k = 1; k < out.size() && out[k].logOdds > out[0].logOdds - kAsLikely; ++k)
        if (overlap(out[0].inside, out[k].inside) > kAsAlike &&
            out[k].gainColour + out[k].gainAll > out[whole].gainColour + out[whole].gainAll)
            whole = k;
    if (whole > 0) {
        out[whole].logOdds = out[0].logOdds;
        std::rotate(out.begin(), out.begin() + static_cast<std::ptrdiff_t>(whole),
                    out.begin() + static_cast<std::ptrdiff_t>(whole) + 1);
    }
    return out;
}

std::vector<Field> fieldsOf(std::span<const FlankFeatures> flanks, int factor) {
    std::vector<Field> out;
    for (const FlankFeatures& f : flanks) out.push_back(shrunk(f, factor));
    return out;
}

/// Steps finer than the coarse grid: the teeth apart, each with its own border.
constexpr int kCoarse = kColumns / kCandidateColumns, kFine = 2;

}  // namespace

std::vector<Candidate> candidateRegions(std::span<const FlankFeatures> flanks, std::optional<Marking> marking) {
    const std::vector<Field> fields = fieldsOf(flanks, kCoarse);
    return candidatesOn(fields, meanField(fields), marking);
}

SplitResult splitFlanks(std::span<const FlankFeatures> flanks, std::span<const int> group,
                        std::optional<Marking> marking) {
    SplitResult out;
    const std::size_t n = flanks.size();
    out.inside.assign(n, std::vector<float>(kCells, 0.0F));
    out.separation.assign(n, 0.0);
    out.logOdds.assign(n, kNoCandidate);
    out.agreement.assign(n, 0.0);
    std::vector<int> groups(group.begin(), group.end());
    std::sort(groups.begin(), groups.end());
    groups.erase(std::unique(groups.begin(), groups.end()), groups.end());
    for (const int g : groups) {
        std::vector<std::size_t> owner;
        std::vector<Field> coarse, fine;
        for (std::size_t f = 0; f < n; ++f)
            if (group[f] == g) {
                owner.push_back(f);
                fine.push_back(shrunk(flanks[f], kFine));
                coarse.push_back(shrunk(flanks[f], kCoarse));
            }
        const Field mean = meanField(coarse);
        const std::vector<Candidate> candidates = candidatesOn(coarse, mean, marking);
        if (candidates.empty()) continue;
        const Candidate& best = candidates[0];

        // Each tooth by itself now, with the laws of all.
        State state;
        state.cue = static_cast<Cue>(best.cue);
        if (state.cue == Cue::Light && best.stepColour > kColourShows) state.cue = Cue::Colour;
        state.extra = extraVariance(state.cue);
        state.q.push_back(best.inside);
        state = refined(state, {mean}, fine);
        std::vector<std::vector<Point>> levelled(fine.size());
        Ellipse ellipse{best.ellipseAt};
        for (int round = 0; round < 3; ++round) {
            learn(fine, state, levelled);
            relabel(fine, levelled, state, 2, shapeLogits(fine[0], ellipse));
            if (round == 2) break;
            // What the teeth share may reach farther than the coarse region did.
            std::vector<float> shared(fine[0].cells(), 0.0F);
            for (const auto& q : state.q)
                for (std::size_t i = 0; i < shared.size(); ++i) shared[i] += q[i] / static_cast<float>(state.q.size());
            ellipse = fitted(ellipse, fine[0], shared);
        }
        const Bands bands = bandsOf(mean, best.inside);
        const BorderStep common = borderStep(mean, best.inside, bands);
        std::vector<double> own;
        double meanStep = 0;
        for (const Field& field : coarse) {
            own.push_back(stepAlong(field, bands, common.pull));
            meanStep += own.back() / static_cast<double>(coarse.size());
        }
        for (std::size_t k = 0; k < owner.size(); ++k) {
            const std::size_t f = owner[k];
            const cv::Mat1f small(fine[k].rows, fine[k].columns, state.q[k].data());
            cv::Mat1f large(kRows, kColumns, out.inside[f].data());
            cv::resize(small, large, large.size(), 0, 0, cv::INTER_LINEAR);
            out.separation[f] = borderStep(fine[k], state.q[k], bandsOf(fine[k], state.q[k])).distance;
            out.logOdds[f] = best.logOdds;
            out.agreement[f] = own[k] / std::max(1e-6, meanStep);
        }
    }
    return out;
}

}  // namespace shimsight::compound
