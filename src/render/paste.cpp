// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/paste.h"

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace shimsight::render {
namespace {

/// Slope of the distance field is trusted this far from the border, mm.
constexpr float kFarMm = 30;

/// Distance from the border of the contact, mm, positive outside; a map without contact (or without a border) is far.
cv::Mat1f signedDistance(const cv::Mat1f& contact, float cellMm) {
    cv::Mat1b inside(contact.size()), outside(contact.size());
    cv::compare(contact, 0.5, inside, cv::CMP_GE);
    cv::compare(contact, 0.5, outside, cv::CMP_LT);
    cv::Mat1f fromContact, fromClear;
    const auto transform = [&](const cv::Mat1b& mask, cv::Mat1f& into) {
        if (cv::countNonZero(mask) == static_cast<int>(mask.total())) {
            into = cv::Mat1f(mask.size(), kFarMm / cellMm);
        } else {
            cv::distanceTransform(mask, into, cv::DIST_L2, cv::DIST_MASK_PRECISE);
        }
    };
    transform(outside, fromContact);
    transform(inside, fromClear);
    cv::Mat1f distance;
    cv::subtract(fromContact, fromClear, distance);
    distance *= cellMm;
    cv::GaussianBlur(distance, distance, cv::Size(0, 0), 1.2);
    return distance;
}

float ridge(Vec p) { return 1 - std::abs(noise(p)) * 2.2f; }

}  // namespace

const std::vector<PasteColour>& pasteColours() {
    // Linear colours of pigmented greases as they look in shop light; `common practice, no source`.
    static const std::vector<PasteColour> colours{
        {"yellow", {0.72f, 0.46f, 0.03f}, 11},     {"white", {0.74f, 0.73f, 0.68f}, 16},
        {"red-brown", {0.27f, 0.055f, 0.025f}, 8}, {"blue", {0.015f, 0.045f, 0.24f}, 4},
        {"grey", {0.34f, 0.35f, 0.36f}, 14},       {"orange", {0.66f, 0.19f, 0.02f}, 10},
        {"green", {0.05f, 0.26f, 0.10f}, 9},
    };
    return colours;
}

PasteStyle drawPasteStyle(Random& random, PasteMarking marking, const std::string& colourName, double variety) {
    PasteStyle style;
    const auto& colours = pasteColours();
    // Yellow and white are the usual ones on gear teeth, blue on transferred prints.
    const std::array<double, 7> wiped{0.40, 0.2, 0.14, 0.08, 0.06, 0.08, 0.04},
        printed{0.26, 0.14, 0.16, 0.28, 0.04, 0.08, 0.04};
    const auto& weights = marking == PasteMarking::Wiped ? wiped : printed;
    double pick = random.uniform();
    std::size_t chosen = 0;
    while (chosen + 1 < colours.size() && pick > weights[chosen]) pick -= weights[chosen++];
    if (!colourName.empty()) {
        for (std::size_t i = 0; i < colours.size(); ++i) {
            if (colours[i].name == colourName) chosen = i;
        }
    }
    style.colour = colours[chosen];
    const auto spread = [&](double centre, double factor) {
        return static_cast<float>(centre * std::exp(random.normal() * std::log(factor) * std::min(variety, 1.5)));
    };
    for (float* c : {&style.colour.albedo.x, &style.colour.albedo.y, &style.colour.albedo.z}) {
        *c = std::min(*c * spread(1, 1.07), 0.8f);
    }
    style.colour.hidingUm *= spread(1, 1.3);
    style.coatUm = spread(26, 1.5);
    style.strokeMm = spread(0.75, 1.4);
    style.strokeAngle = static_cast<float>(random.normal(0, 0.25 + 0.2 * variety));
    if (random.chance(0.2 * variety)) style.strokeAngle += 1.4f;  // some brush from root to tip
    style.strokeDepth = std::min(spread(0.55, 1.4), 1.0f);
    style.featherMm = std::min(spread(0.3, 1.6), 0.9f);
    style.borderNoiseMm = spread(0.16, 1.5);
    // Pressed by the teeth the film is thin enough to see the metal through it, whatever the compound hides at full
    // coat.
    constexpr float kMaxHidden = 0.35f;
    style.remnantUm = std::min(spread(1.3, 1.9), kMaxHidden * style.colour.hidingUm);
    style.rim = spread(1.0, 1.6);
    style.patchiness = std::min(spread(0.25, 1.6), 0.8f);
    style.filmUm = style.colour.hidingUm * spread(0.55, 1.8);
    style.smear = std::min(spread(0.14, 1.8), 0.6f);
    style.margin = std::min(spread(0.012, 2.2), 0.06f);
    style.gloss = static_cast<float>(random.uniform(0.25, 0.95));
    return style;
}

namespace {

/// The contact of a map on a grid of a layer. Rows run with v; the map's from the tip down.
cv::Mat1f contactOnGrid(const FlankMap& contact, int columns, int rows) {
    cv::Mat1f field(rows, columns, 0.0f);
    for (int y = 0; y < rows; ++y) {
        const float v = PasteLayer::kPasteLowV +
                        (1 - PasteLayer::kPasteLowV) * static_cast<float>(y) / static_cast<float>(rows - 1);
        if (v < 0) continue;  // below the working flank nothing touches
        const float my = std::clamp((1 - v) * kMapHeight - 0.5f, 0.0f, kMapHeight - 1.001f);
        const int y0 = static_cast<int>(my);
        for (int x = 0; x < columns; ++x) {
            const float u = static_cast<float>(x) / static_cast<float>(columns - 1);
            const float mx = std::clamp(u * kMapWidth - 0.5f, 0.0f, kMapWidth - 1.001f);
            const int x0 = static_cast<int>(mx);
            const float fx = mx - static_cast<float>(x0), fy = my - static_cast<float>(y0);
            const auto c = [&](int i, int j) { return static_cast<float>(contact.at(x0 + i, y0 + j)) / 255.0f; };
            field(y, x) = mix(mix(c(0, 0), c(1, 0), fx), mix(c(0, 1), c(1, 1), fx), fy);
        }
    }
    return field;
}

/// Cosine and sine of a direction on the flank.
struct Turn {
    float cosine = 1, sine = 0;
    explicit Turn(float angle) : cosine(std::cos(angle)), sine(std::sin(angle)) {}
    float along(float x, float y) const { return cosine * x + sine * y; }
    float across(float x, float y) const { return -sine * x + cosine * y; }
};

/// What one tooth has of its own: its place in the noise, how the brush went over it, how hard it was rolled.
class OwnFlank {
public:
    OwnFlank(const PasteStyle& style, PasteMarking marking, std::uint64_t seed)
        : style_(style),
          marking_(marking),
          noise_{shift(seed, 1), shift(seed, 2), shift(seed, 3)},
          toeMargin_(style.margin * (0.3f + 1.6f * unitFloat(splitMix(seed + 11)))),
          heelMargin_(style.margin * (0.3f + 1.6f * unitFloat(splitMix(seed + 12)))),
          lowEdge_(style.dryRoot > 0 ? style.dryRoot * (0.6f + 0.8f * unitFloat(splitMix(seed + 13)))
                                     : PasteLayer::kPasteLowV * (0.1f + 0.9f * unitFloat(splitMix(seed + 13)))),
          strokeAngle_(style.strokeAngle + 0.25f * (unitFloat(splitMix(seed + 14)) - 0.5f)),
          coatUm_(style.coatUm * (0.75f + 0.5f * unitFloat(splitMix(seed + 15)))),
          slideAngle_(1.2f + 0.5f * (unitFloat(splitMix(seed + 16)) - 0.5f)),  // sliding runs mostly up the profile
          load_(0.7f + 0.6f * unitFloat(splitMix(seed + 17))),
          stroke_(strokeAngle_),
          slide_(slideAngle_) {}

    float coatUm() const { return coatUm_; }
    float strokeAngle() const { return strokeAngle_; }
    float slideAngle() const { return slideAngle_; }

    /// As painted: bristle tracks, broad strokes, lumps where the brush was set down.
    struct Painted {
        float thicknessUm = 0, cover = 0;
        float tracks = 0, broad = 0;
    };
    Painted painted(const PasteSpot& at) const {
        const float along = stroke_.along(at.px, at.py), across = stroke_.across(at.px, at.py);
        const float bristle = 1 / style_.strokeMm;
        Painted out;
        const float wave = 0.35f * noise({along * 0.12f, across * 0.4f, noise_.y + 9});
        out.tracks = noise(noise_ + Vec{along * 0.07f * bristle, (across + wave) * 1.1f * bristle, 0}) +
                     0.45f * noise(noise_ + Vec{along * 0.12f * bristle, (across + wave) * 2.4f * bristle, 7});
        out.broad = noise(noise_ + Vec{along * 0.06f, across * 0.3f, 21});
        const float lump = noise(noise_ + Vec{at.px * 0.35f, at.py * 0.35f, 40});
        const float ragged = 0.03f * noise(noise_ + Vec{at.px * 0.5f, at.py * 0.8f, 3}) + 0.02f * out.tracks;
        out.cover = smoothstep(0, 0.02f, at.u - toeMargin_ + ragged) *
                    smoothstep(0, 0.02f, 1 - at.u - heelMargin_ + ragged) *
                    smoothstep(0, 0.08f, at.v - lowEdge_ + 3 * ragged);
        out.thicknessUm = coatUm_ * std::exp(style_.strokeDepth * (1.6f * out.tracks + 1.5f * out.broad) + 1.0f * lump);
        out.thicknessUm *= out.cover;
        return out;
    }

    /// After rolling. `distanceMm` to the border of the contact, negative inside; tells the spot how it lies to it.
    float rolled(const Painted& paint, float distanceMm, PasteSpot& at) const {
        Noises n;
        n.streak = noise(noise_ + Vec{slide_.along(at.px, at.py) * 0.22f, slide_.across(at.px, at.py) * 1.7f, 55});
        n.fine = noise(noise_ + Vec{at.px * 2.1f, at.py * 2.1f, 60});
        const float d =
            distanceMm + style_.borderNoiseMm * (0.9f * noise(noise_ + Vec{at.px * 0.6f, at.py * 0.8f, 70}) +
                                                 0.8f * n.streak + 0.5f * n.fine);
        // The print thins toward its border.
        const float feather = style_.featherMm * (marking_ == PasteMarking::Transferred ? 1.8f : 1.0f);
        at.inside = 1 - smoothstep(-feather, feather, d);
        at.distanceMm = d;
        n.patch = fractalNoise(noise_ + Vec{at.px * 0.45f, at.py * 0.6f, 80}, 3);
        return marking_ == PasteMarking::Wiped ? wiped(paint, n, at) : printed(paint, n, at);
    }

private:
    struct Noises {
        float streak = 0, fine = 0, patch = 0;
    };

    static float shift(std::uint64_t seed, std::uint64_t k) { return 64 * unitFloat(splitMix(seed + k * 7919)); }

    /// Pressed thin, dragged into streaks; more is left close to the border and in patches.
    float wiped(const Painted& paint, const Noises& n, const PasteSpot& at) const {
        const float d = at.distanceMm, depthIn = std::max(0.0f, -d);
        float left = style_.remnantUm * load_ * std::max(0.15f, 1 + 1.3f * n.streak + 0.7f * n.fine);
        left += style_.remnantUm * (1.8f * std::exp(-depthIn / 0.9f) + 3.0f * std::exp(-depthIn / 0.3f));
        left += 0.22f * coatUm_ * smoothstep(0.42f, 0.8f, n.streak + 0.35f * n.fine);  // lines that the dragging left
        const float spot = smoothstep(0.62f - 0.45f * style_.patchiness, 0.85f, n.patch + 0.3f * n.streak);
        left += 0.30f * coatUm_ * spot;
        const float squeezed = style_.rim * coatUm_ * std::exp(-(d - 0.5f) * (d - 0.5f) / 0.12f) *
                               clamp01(0.55f + 1.1f * noise(noise_ + Vec{at.px * 0.5f, at.py * 0.5f, 90}));
        return mix(paint.thicknessUm + squeezed * paint.cover,
                   std::min(left, 0.6f * coatUm_) * std::min(1.0f, 0.3f + paint.cover), at.inside);
    }

    /// Parting of the teeth draws the paste into fingers; load and supply differ over the contact.
    float printed(const Painted& paint, const Noises& n, const PasteSpot& at) const {
        const float depthIn = std::max(0.0f, -at.distanceMm), beyond = std::max(0.0f, at.distanceMm);
        const float fingers = ridge(noise_ + Vec{at.px * 1.5f, at.py * 1.9f, 100}) * 0.5f +
                              ridge(noise_ + Vec{at.px * 3.1f, at.py * 3.4f, 105}) * 0.35f;
        float print = style_.filmUm * load_ *
                      std::exp(1.1f * (fingers - 0.45f) + 2.6f * style_.patchiness * n.patch + 0.8f * paint.broad);
        print *= 0.8f + 0.7f * std::exp(-(depthIn - 0.5f) * (depthIn - 0.5f) / 0.3f);
        const float starved = smoothstep(0.75f - 0.4f * style_.patchiness, 0.95f, -n.patch + 0.35f * n.streak);
        print *= 1 - 0.75f * starved;
        const float faint =
            style_.smear * style_.filmUm * std::exp(-beyond / 1.6f) * std::max(0.0f, 0.3f + 1.5f * n.streak) +
            0.05f * style_.smear * style_.filmUm * std::max(0.0f, paint.broad + 0.3f * paint.tracks);
        return mix(faint, print, at.inside);
    }

    const PasteStyle& style_;
    PasteMarking marking_;
    Vec noise_;
    float toeMargin_, heelMargin_, lowEdge_, strokeAngle_, coatUm_, slideAngle_, load_;
    Turn stroke_, slide_;
};

}  // namespace

PasteLayer::PasteLayer(const FlankMap& contact, ToothState state, PasteMarking marking, const PasteStyle& style,
                       const Grid& grid, std::uint64_t seed)
    : isRolled_(state == ToothState::Rolled), columns_(grid.columns) {
    const auto lengthF = static_cast<float>(grid.lengthMm), heightF = static_cast<float>(grid.heightMm);
    const float span = 1 - kPasteLowV;
    cellMm_ = lengthF / static_cast<float>(columns_ - 1);
    rows_ = std::max(16, static_cast<int>(std::lround(span * heightF / cellMm_)) + 1);
    thickness_.resize(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_));
    const cv::Mat1f distance =
        isRolled_ ? signedDistance(contactOnGrid(contact, columns_, rows_), cellMm_) : cv::Mat1f();

    const OwnFlank own(style, marking, seed);
    const FlankMess mess(style.mess,
                         {.coatUm = own.coatUm(),
                          .hidingUm = style.colour.hidingUm,
                          .slide = own.slideAngle(),
                          .stroke = own.strokeAngle(),
                          .lengthMm = lengthF,
                          .heightMm = heightF},
                         seed);
    for (int y = 0; y < rows_; ++y) {
        const float v = kPasteLowV + span * static_cast<float>(y) / static_cast<float>(rows_ - 1);
        for (int x = 0; x < columns_; ++x) {
            const float u = static_cast<float>(x) / static_cast<float>(columns_ - 1);
            PasteSpot at{.u = u, .v = v, .px = u * lengthF, .py = v * heightF, .distanceMm = kFarMm};
            const OwnFlank::Painted paint = own.painted(at);
            float thickness = 0;
            if (state == ToothState::NotRolled) thickness = paint.thicknessUm;
            if (isRolled_) thickness = own.rolled(paint, distance(y, x), at);
            if (style.mess.isOn()) {
                at.thicknessUm = thickness;
                thickness = state == ToothState::NotRolled ? mess.freshThickness(at) : mess.thickness(at);
            }
            thickness_[static_cast<std::size_t>(y * columns_ + x)] = std::max(0.0f, thickness);
        }
    }
}

float PasteLayer::value(int x, int y) const {
    x = std::clamp(x, 0, columns_ - 1);
    y = std::clamp(y, 0, rows_ - 1);
    return thickness_[static_cast<std::size_t>(y * columns_ + x)];
}

PasteLayer::Sample PasteLayer::at(float u, float v) const {
    const float fx = u * static_cast<float>(columns_ - 1);
    const float fy = (v - kPasteLowV) / (1 - kPasteLowV) * static_cast<float>(rows_ - 1);
    const int x = static_cast<int>(std::floor(fx)), y = static_cast<int>(std::floor(fy));
    const float tx = fx - static_cast<float>(x), ty = fy - static_cast<float>(y);
    const float a = value(x, y), b = value(x + 1, y), c = value(x, y + 1), d = value(x + 1, y + 1);
    Sample sample;
    sample.thicknessUm = mix(mix(a, b, tx), mix(c, d, tx), ty);
    const float perMm = 1e-3f / cellMm_;  // micrometres per cell to millimetres per millimetre
    sample.slopeU = mix(b - a, d - c, ty) * perMm;
    sample.slopeV = mix(c - a, d - b, tx) * perMm;
    return sample;
}

}  // namespace shimsight::render
