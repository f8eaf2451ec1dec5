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
                    logLight(py, px) = std::log(0.3F * r + 0.6F * g + 0.1F * b + kNoiseFloor);
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
    cv::Mat1f energy(deviation.mul(deviation));
    cv::GaussianBlur(energy, energy, cv::Size(), 2.5, 3.5);
    for (int y = 0; y < kRows; ++y)
        for (int x = 0; x < kColumns; ++x) {
            const float e = 0.25F * (energy(2 * y, 2 * x) + energy(2 * y, 2 * x + 1) + energy(2 * y + 1, 2 * x) +
                                     energy(2 * y + 1, 2 * x + 1));
            out.value[3][static_cast<std::size_t>(y * kColumns + x)] =
                0.5F * std::log(e + kTextureFloor * kTextureFloor);
        }

    // Step 3: trust. Highlights are much brighter and paler than what lies around them.
    cv::Mat1f around, paleAround;
    cv::GaussianBlur(cellLight, around, cv::Size(), 8, 12);
    cv::GaussianBlur(paleness, paleAround, cv::Size(), 8, 12);
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
