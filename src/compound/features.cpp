#include "compound/features.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "shimsight/flank_map.h"

namespace shimsight::compound {
namespace {

/// Floor added before the logarithm (linear light, 1 = white): about the noise of a phone's dark pixels after JPEG, so
/// that colour ratios of black stay near neutral in place of anything.
constexpr float kNoiseFloor = 0.006F;
/// Below this light a cell has little colour left (8-bit value 38); it still counts by its share.
constexpr float kDimLight = 0.02F;
/// A channel at this 8-bit value or more is at the sensor's limit.
constexpr int kBurnt = 250;
/// How far a burnt cell is mistrusted: glare lies on paste and steel alike, but more often on steel.
constexpr float kBurntDistrust = 0.85F;
/// Brighter than its surroundings by this factor and paler: a highlight.
constexpr float kHighlightFactor = 1.9F;
/// Floor of the texture measure: noise of an 8-bit picture at mid brightness.
constexpr float kTextureFloor = 0.008F;

const std::array<float, 256>& linearTable() {
    static const std::array<float, 256> table = [] {
        std::array<float, 256> out{};
        for (std::size_t i = 0; i < out.size(); ++i) {
            const double s = static_cast<double>(i) / 255;
            out[i] = static_cast<float>(s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4));
        }
        return out;
    }();
    return table;
}

/// Logarithm of a brightness from 0 to 1 above the noise floor, in steps too fine to show beside an 8-bit picture's
/// own.
float logLightOf(float light) {
    constexpr std::size_t steps = 8192;
    static const std::array<float, steps + 1> table = [] {
        std::array<float, steps + 1> out{};
        for (std::size_t i = 0; i <= steps; ++i)
            out[i] = std::log(static_cast<float>(i) / static_cast<float>(steps) + kNoiseFloor);
        return out;
    }();
    return table[static_cast<std::size_t>(std::clamp(light, 0.0F, 1.0F) * static_cast<float>(steps))];
}

/// A blur much wider than a cell, worked out on a grid four times coarser.
cv::Mat1f wideBlur(const cv::Mat1f& from, double sigmaX, double sigmaY) {
    constexpr int coarser = 4;
    cv::Mat1f small, out;
    cv::resize(from, small, cv::Size(from.cols / coarser, from.rows / coarser), 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(small, small, cv::Size(), sigmaX / coarser, sigmaY / coarser);
    cv::resize(small, out, from.size(), 0, 0, cv::INTER_LINEAR);
    return out;
}

}  // namespace

FlankFeatures measureFeatures(const UnwrappedFlank& flank) {
    FlankFeatures out;
    for (auto& v : out.value) v.resize(kCells);
    out.weight.resize(kCells);
    const auto& lut = linearTable();

    // Step 1: linear light, log brightness of every map pixel for the texture.
    cv::Mat1f logLight(kMapHeight, kMapWidth);
    std::vector<std::array<float, 3>> colour(kCells);
    cv::Mat1f cellLight(kRows, kColumns), paleness(kRows, kColumns);
    double light = 0, burnt = 0, dark = 0, visible = 0, saturation = 0;
    std::vector<float> burntCell(kCells), visibleCell(kCells);
    for (int y = 0; y < kRows; ++y)
        for (int x = 0; x < kColumns; ++x) {
            std::array<float, 3> sum{};
            float hot = 0, seen = 0;
            for (int dy = 0; dy < 2; ++dy)
                for (int dx = 0; dx < 2; ++dx) {
                    const int px = 2 * x + dx, py = 2 * y + dy;
                    const auto i = static_cast<std::size_t>(py * kMapWidth + px);
                    const std::uint8_t* p = flank.picture.rgb.data() + 3 * i;
                    const float r = lut[p[0]], g = lut[p[1]], b = lut[p[2]];
                    sum[0] += r;
                    sum[1] += g;
                    sum[2] += b;
                    logLight(py, px) = logLightOf(0.3F * r + 0.6F * g + 0.1F * b);
                    // A strong colour may hold two channels at the limit and still be told from white by the third.
                    if (p[0] >= kBurnt && p[1] >= kBurnt && p[2] >= kBurnt) hot += 0.25F;
                    if (flank.visible.empty() || flank.visible[i]) seen += 0.25F;
                }
            const auto c = static_cast<std::size_t>(y * kColumns + x);
            for (float& s : sum) s *= 0.25F;
            colour[c] = sum;
            const float grey = 0.3F * sum[0] + 0.6F * sum[1] + 0.1F * sum[2];
            cellLight(y, x) = grey;
            // Shares, not logarithms: where a strong paste leaves nothing of one channel, a logarithm would follow the
            // light.
            const float total = sum[0] + sum[1] + sum[2] + 3 * kNoiseFloor;
            out.value[0][c] = 2 * (sum[0] - sum[1]) / total;
            out.value[1][c] = 2 * (sum[2] - 0.5F * (sum[0] + sum[1])) / total;
            out.value[2][c] = std::log(grey + kNoiseFloor);
            const float chroma = std::hypot(out.value[0][c], out.value[1][c]);
            paleness(y, x) = -chroma;
            burntCell[c] = hot;
            visibleCell[c] = seen;
            light += grey;
            burnt += hot;
            dark += grey < 0.4F * kDimLight ? 1 : 0;
            visible += seen;
            saturation += chroma;
        }
    out.meanLight = light / kCells;
    out.burntShare = burnt / kCells;
    out.darkShare = dark / kCells;
    out.visibleShare = visible / kCells;
    out.saturation = saturation / kCells;

    // Step 2: texture = local deviation of the log brightness from its smooth course.
    cv::Mat1f smooth, deviation;
    cv::GaussianBlur(logLight, smooth, cv::Size(), 1.6, 1.6);
    deviation = logLight - smooth;
    cv::Mat1f energy;
    cv::resize(deviation.mul(deviation), energy, cv::Size(kColumns, kRows), 0, 0, cv::INTER_AREA);
    cv::GaussianBlur(energy, energy, cv::Size(), 1.25, 1.75);
    for (int y = 0; y < kRows; ++y)
        for (int x = 0; x < kColumns; ++x)
            out.value[3][static_cast<std::size_t>(y * kColumns + x)] =
                0.5F * std::log(energy(y, x) + kTextureFloor * kTextureFloor);

    // Step 3: trust. Highlights are much brighter and paler than what lies around them.
    const cv::Mat1f around = wideBlur(cellLight, 8, 12), paleAround = wideBlur(paleness, 8, 12);
    for (int y = 0; y < kRows; ++y)
        for (int x = 0; x < kColumns; ++x) {
            const auto c = static_cast<std::size_t>(y * kColumns + x);
            const float grey = cellLight(y, x);
            float w = visibleCell[c] * (1 - kBurntDistrust * burntCell[c]);
            w *= grey / (grey + 0.35F * kDimLight);
            const float over = grey / (around(y, x) + kNoiseFloor);
            if (over > kHighlightFactor && paleness(y, x) > paleAround(y, x) + 0.03F)
                w *= std::max(0.15F, 1 - (over - kHighlightFactor));
            out.weight[c] = std::clamp(w, 0.01F, 1.0F) * (visibleCell[c] > 0.5F ? 1.0F : 0.05F);
        }
    return out;
}

}  // namespace shimsight::compound
