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
    constexpr float kMostHidden = 0.35f;
    style.remnantUm = std::min(spread(1.3, 1.9), kMostHidden * style.colour.hidingUm);
    style.rim = spread(1.0, 1.6);
    style.patchiness = std::min(spread(0.25, 1.6), 0.8f);
    style.filmUm = style.colour.hidingUm * spread(0.55, 1.8);
    style.smear = std::min(spread(0.14, 1.8), 0.6f);
    style.margin = std::min(spread(0.012, 2.2), 0.06f);
    style.gloss = static_cast<float>(random.uniform(0.25, 0.95));
    return style;
}

PasteLayer::PasteLayer(const FlankMap& contact, ToothState state, PasteMarking marking, const PasteStyle& style,
                       double lengthMm, double heightMm, int columns, std::uint64_t seed)
    : isRolled_(state == ToothState::Rolled), columns_(columns) {
    const auto lengthF = static_cast<float>(lengthMm), heightF = static_cast<float>(heightMm);
    const float span = 1 - kPasteLowV;
    cellMm_ = lengthF / static_cast<float>(columns - 1);
    rows_ = std::max(16, static_cast<int>(std::lround(span * heightF / cellMm_)) + 1);
    thickness_.resize(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_));

    // The contact on this grid. Rows run with v; the map's from the tip down.
    cv::Mat1f field(rows_, columns_, 0.0f);
    for (int y = 0; y < rows_; ++y) {
        const float v = kPasteLowV + span * static_cast<float>(y) / static_cast<float>(rows_ - 1);
        if (v < 0) continue;  // below the working flank nothing touches
        const float my = std::clamp((1 - v) * kMapHeight - 0.5f, 0.0f, kMapHeight - 1.001f);
        const int y0 = static_cast<int>(my);
        for (int x = 0; x < columns_; ++x) {
            const float u = static_cast<float>(x) / static_cast<float>(columns_ - 1);
            const float mx = std::clamp(u * kMapWidth - 0.5f, 0.0f, kMapWidth - 1.001f);
            const int x0 = static_cast<int>(mx);
            const float fx = mx - static_cast<float>(x0), fy = my - static_cast<float>(y0);
            const auto c = [&](int i, int j) { return static_cast<float>(contact.at(x0 + i, y0 + j)) / 255.0f; };
            field(y, x) = mix(mix(c(0, 0), c(1, 0), fx), mix(c(0, 1), c(1, 1), fx), fy);
        }
    }
    const cv::Mat1f distance = state == ToothState::Rolled ? signedDistance(field, cellMm_) : cv::Mat1f();

    // Every tooth has its own place in the noise.
    const auto shift = [&](int k) { return 64 * unitFloat(hash64(seed + static_cast<std::uint64_t>(k) * 7919)); };
    const Vec own{shift(1), shift(2), shift(3)};
    const float margins[2] = {style.margin * (0.3f + 1.6f * unitFloat(hash64(seed + 11))),
                              style.margin * (0.3f + 1.6f * unitFloat(hash64(seed + 12)))};
    const float lowEdge = kPasteLowV * (0.1f + 0.9f * unitFloat(hash64(seed + 13)));
    const float tilt = style.strokeAngle + 0.25f * (unitFloat(hash64(seed + 14)) - 0.5f);
    const float c = std::cos(tilt), s = std::sin(tilt);
    const float coat = style.coatUm * (0.75f + 0.5f * unitFloat(hash64(seed + 15)));
    const float slide = 1.2f + 0.5f * (unitFloat(hash64(seed + 16)) - 0.5f);  // sliding runs mostly up the profile
    const float cs = std::cos(slide), ss = std::sin(slide);
    const float load = 0.7f + 0.6f * unitFloat(hash64(seed + 17));
    const float bristle = 1 / style.strokeMm;
    const bool isMessy = style.mess.isOn();
    const FlankMess mess(style.mess,
                         {.coatUm = coat,
                          .hidingUm = style.colour.hidingUm,
                          .slide = slide,
                          .stroke = tilt,
                          .lengthMm = lengthF,
                          .heightMm = heightF},
                         seed);

    for (int y = 0; y < rows_; ++y) {
        const float v = kPasteLowV + span * static_cast<float>(y) / static_cast<float>(rows_ - 1);
        for (int x = 0; x < columns_; ++x) {
            const float u = static_cast<float>(x) / static_cast<float>(columns_ - 1);
            const float px = u * lengthF, py = v * heightF;
            const float along = c * px + s * py, across = -s * px + c * py;
            const float slideAlong = cs * px + ss * py, slideAcross = -ss * px + cs * py;

            // As painted: bristle tracks, broad strokes, lumps where the brush was set down.
            const float wave = 0.35f * noise({along * 0.12f, across * 0.4f, own.y + 9});
            const float tracks = noise(own + Vec{along * 0.07f * bristle, (across + wave) * 1.1f * bristle, 0}) +
                                 0.45f * noise(own + Vec{along * 0.12f * bristle, (across + wave) * 2.4f * bristle, 7});
            const float broad = noise(own + Vec{along * 0.06f, across * 0.3f, 21});
            const float lump = noise(own + Vec{px * 0.35f, py * 0.35f, 40});
            float painted = coat * std::exp(style.strokeDepth * (1.6f * tracks + 1.5f * broad) + 1.0f * lump);
            const float ragged = 0.03f * noise(own + Vec{px * 0.5f, py * 0.8f, 3}) + 0.02f * tracks;
            const float cover = smoothstep(0, 0.02f, u - margins[0] + ragged) *
                                smoothstep(0, 0.02f, 1 - u - margins[1] + ragged) *
                                smoothstep(0, 0.08f, v - lowEdge + 3 * ragged);
            painted *= cover;

            float thickness = 0;
            PasteSpot place{.u = u, .v = v, .px = px, .py = py, .distanceMm = kFarMm};
            if (state == ToothState::NotRolled) {
                thickness = painted;
            } else if (state == ToothState::Rolled) {
                const float streak = noise(own + Vec{slideAlong * 0.22f, slideAcross * 1.7f, 55});
                const float fine = noise(own + Vec{px * 2.1f, py * 2.1f, 60});
                const float d = distance(y, x) +
                                style.borderNoiseMm *
                                    (0.9f * noise(own + Vec{px * 0.6f, py * 0.8f, 70}) + 0.8f * streak + 0.5f * fine);
                const float feather =
                    style.featherMm *
                    (marking == PasteMarking::Transferred ? 1.8f : 1.0f);  // the print thins toward its border
                const float in = 1 - smoothstep(-feather, feather, d);
                place.inside = in;
                place.distanceMm = d;
                const float depthIn = std::max(0.0f, -d);
                const float patch = fractalNoise(own + Vec{px * 0.45f, py * 0.6f, 80}, 3);
                if (marking == PasteMarking::Wiped) {
                    // Pressed thin, dragged into streaks; more is left close to the border and in patches.
                    float left = style.remnantUm * load * std::max(0.15f, 1 + 1.3f * streak + 0.7f * fine);
                    left += style.remnantUm * (1.8f * std::exp(-depthIn / 0.9f) + 3.0f * std::exp(-depthIn / 0.3f));
                    left +=
                        0.22f * coat * smoothstep(0.42f, 0.8f, streak + 0.35f * fine);  // lines that the dragging left
                    const float spot = smoothstep(0.62f - 0.45f * style.patchiness, 0.85f, patch + 0.3f * streak);
                    left += 0.30f * coat * spot;
                    const float squeezed = style.rim * coat * std::exp(-(d - 0.5f) * (d - 0.5f) / 0.12f) *
                                           clamp01(0.55f + 1.1f * noise(own + Vec{px * 0.5f, py * 0.5f, 90}));
                    thickness =
                        mix(painted + squeezed * cover, std::min(left, 0.6f * coat) * std::min(1.0f, 0.3f + cover), in);
                } else {
                    const float fingers = ridge(own + Vec{px * 1.5f, py * 1.9f, 100}) * 0.5f +
                                          ridge(own + Vec{px * 3.1f, py * 3.4f, 105}) * 0.35f;
                    // Parting of the teeth draws the paste into fingers; load and supply differ over the contact.
                    float print = style.filmUm * load *
                                  std::exp(1.1f * (fingers - 0.45f) + 2.6f * style.patchiness * patch + 0.8f * broad);
                    print *= 0.8f + 0.7f * std::exp(-(depthIn - 0.5f) * (depthIn - 0.5f) / 0.3f);
                    const float starved = smoothstep(0.75f - 0.4f * style.patchiness, 0.95f, -patch + 0.35f * streak);
                    print *= 1 - 0.75f * starved;
                    const float beyond = std::max(0.0f, d);
                    const float faint =
                        style.smear * style.filmUm * std::exp(-beyond / 1.6f) * std::max(0.0f, 0.3f + 1.5f * streak) +
                        0.05f * style.smear * style.filmUm * std::max(0.0f, broad + 0.3f * tracks);
                    thickness = mix(faint, print, in);
                }
            }
            if (isMessy) {
                place.thicknessUm = thickness;
                thickness = state == ToothState::NotRolled ? mess.freshThickness(place) : mess.thickness(place);
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
