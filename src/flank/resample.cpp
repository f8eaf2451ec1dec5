#include "flank/resample.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "shimsight/flank_map.h"

namespace shimsight::flank {
namespace {

/// Width of the second blur in the sharpness test, and the least contrast of an edge that counts (8-bit steps a pixel):
/// below it sensor noise makes the edges.
constexpr double kReblurSigma = 1.5;
constexpr float kLeastEdge = 5.0F;
/// The share of edge points taken as "the sharpest".
constexpr double kSharpestShare = 0.1;
constexpr std::size_t kLeastEdgePoints = 40;

/// Side of the window in which sharpness is looked at, cells of the crop: enough edges, little work.
constexpr int kBlurWindow = 128;

/// A part of the picture, shrunk by whole-number averaging; value of cell (x, y) covers the square from
/// origin + factor * (x, y) to origin + factor * (x + 1, y + 1).
struct Crop {
    int originX = 0, originY = 0, factor = 1, width = 0, height = 0;
    const std::uint8_t* data =
        nullptr;                ///< the first row: in the picture itself where nothing is shrunk, else in `rgb`
    std::size_t rowLength = 0;  ///< bytes from row to row
    std::vector<std::uint8_t> rgb;
};

Crop crop(const Picture& picture, const std::vector<PixelPoint>& grid, int factor) {
    double left = 1e18, right = -1e18, top = 1e18, bottom = -1e18;
    for (const auto& p : grid) {
        left = std::min(left, p.x);
        right = std::max(right, p.x);
        top = std::min(top, p.y);
        bottom = std::max(bottom, p.y);
    }
    const double margin = 3.0 * factor;
    Crop out;
    out.factor = factor;
    out.originX = static_cast<int>(std::clamp(std::floor(left - margin), 0.0, double(picture.width - 1)));
    out.originY = static_cast<int>(std::clamp(std::floor(top - margin), 0.0, double(picture.height - 1)));
    const int endX = static_cast<int>(std::clamp(std::ceil(right + margin), out.originX + 1.0, double(picture.width)));
    const int endY =
        static_cast<int>(std::clamp(std::ceil(bottom + margin), out.originY + 1.0, double(picture.height)));
    out.width = (endX - out.originX + factor - 1) / factor;
    out.height = (endY - out.originY + factor - 1) / factor;
    if (factor == 1) {
        out.rowLength = static_cast<std::size_t>(picture.width) * 3;
        out.data = picture.rgb.data() + static_cast<std::size_t>(out.originY) * out.rowLength +
                   static_cast<std::size_t>(out.originX) * 3;
        return out;
    }
    out.rowLength = static_cast<std::size_t>(out.width) * 3;
    out.rgb.resize(out.rowLength * static_cast<std::size_t>(out.height));
    out.data = out.rgb.data();
    std::vector<unsigned> sum(static_cast<std::size_t>(out.width) * 3);
    for (int y = 0; y < out.height; ++y) {
        const int y0 = out.originY + y * factor, y1 = std::min(y0 + factor, endY);
        std::fill(sum.begin(), sum.end(), 0U);
        for (int yy = y0; yy < y1; ++yy) {
            const std::uint8_t* row =
                picture.rgb.data() + (static_cast<std::size_t>(yy) * static_cast<std::size_t>(picture.width) +
                                      static_cast<std::size_t>(out.originX)) *
                                         3;
            for (int x = 0; x < out.width; ++x) {
                const int count = std::min(factor, endX - out.originX - x * factor);
                unsigned r = 0, g = 0, b = 0;
                for (int k = 0; k < count; ++k, row += 3) {
                    r += row[0];
                    g += row[1];
                    b += row[2];
                }
                unsigned* cell = sum.data() + static_cast<std::size_t>(x) * 3;
                cell[0] += r;
                cell[1] += g;
                cell[2] += b;
            }
        }
        std::uint8_t* target = out.rgb.data() + static_cast<std::size_t>(y) * static_cast<std::size_t>(out.width) * 3;
        for (int x = 0; x < out.width; ++x) {
            const unsigned n = static_cast<unsigned>((y1 - y0) * std::min(factor, endX - out.originX - x * factor));
            for (int c = 0; c < 3; ++c)
                target[x * 3 + c] = static_cast<std::uint8_t>((sum[static_cast<std::size_t>(x * 3 + c)] + n / 2) / n);
        }
    }
    return out;
}

/// Blur of the sharpest edges, in crop cells: an edge of blur s has its gradient lowered by sqrt(s^2 + s0^2) / s when
/// blurred once more by s0 (Zhuo and Sim, "Defocus map estimation from a single image", Pattern Recognition 44, 2011).
double blurOf(const Crop& whole) {
    // A window about the middle is enough for large flanks.
    const int w = std::min(whole.width, kBlurWindow), h = std::min(whole.height, kBlurWindow);
    const int left = (whole.width - w) / 2, top = (whole.height - h) / 2;
    const auto index = [w](int x, int y) {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(w) + static_cast<std::size_t>(x);
    };
    std::vector<float> grey(static_cast<std::size_t>(w) * static_cast<std::size_t>(h));
    for (int y = 0; y < h; ++y) {
        const std::uint8_t* row =
            whole.data + static_cast<std::size_t>(y + top) * whole.rowLength + static_cast<std::size_t>(left) * 3;
        float* to = grey.data() + index(0, y);
        for (int x = 0; x < w; ++x, row += 3) to[x] = 0.3F * row[0] + 0.6F * row[1] + 0.1F * row[2];
    }
    constexpr int radius = 4;
    std::array<float, 2 * radius + 1> kernel{};
    float total = 0;
    for (int k = -radius; k <= radius; ++k)
        total += kernel[static_cast<std::size_t>(k + radius)] =
            static_cast<float>(std::exp(-0.5 * k * k / (kReblurSigma * kReblurSigma)));
    for (float& k : kernel) k /= total;
    // The picture's outermost cells have no full neighbourhood and are left out.
    std::vector<float> across(grey.size(), 0.0F), soft(grey.size(), 0.0F);
    for (int y = 0; y < h; ++y) {
        const float* from = grey.data() + index(0, y);
        float* to = across.data() + index(0, y);
        for (int x = radius; x + radius < w; ++x) {
            float sum = 0;
            for (int k = -radius; k <= radius; ++k) sum += kernel[static_cast<std::size_t>(k + radius)] * from[x + k];
            to[x] = sum;
        }
    }
    for (int y = radius; y + radius < h; ++y) {
        float* to = soft.data() + index(0, y);
        for (int k = -radius; k <= radius; ++k) {
            const float* from = across.data() + index(0, y + k);
            const float share = kernel[static_cast<std::size_t>(k + radius)];
            for (int x = radius; x + radius < w; ++x) to[x] += share * from[x];
        }
    }
    std::vector<float> ratio;
    const auto step = [w](const float* p) {
        const float dx = p[1] - p[-1], dy = p[w] - p[-w];
        return 0.25F * (dx * dx + dy * dy);
    };
    for (int y = radius + 1; y + radius + 1 < h; ++y)
        for (int x = radius + 1; x + radius + 1 < w; ++x) {
            const float g = step(grey.data() + index(x, y));
            if (g < kLeastEdge * kLeastEdge) continue;
            ratio.push_back(std::sqrt(g / std::max(0.0025F, step(soft.data() + index(x, y)))));
        }
    if (ratio.size() < kLeastEdgePoints) return 0;
    const auto at =
        ratio.begin() + static_cast<std::ptrdiff_t>((1 - kSharpestShare) * static_cast<double>(ratio.size()));
    std::nth_element(ratio.begin(), at, ratio.end());
    const double r = std::max(1.001, static_cast<double>(*at));
    return kReblurSigma / std::sqrt(r * r - 1);
}

}  // namespace

Resampled resample(const Picture& picture, const std::vector<PixelPoint>& grid, double usedWidth, double usedHeight) {
    constexpr int nu = kUnwrapGridU, nv = kUnwrapGridV;
    const auto node = [&](int i, int row) { return grid[static_cast<std::size_t>(row * nu + i)]; };
    // Step 1: how many picture pixels a map pixel covers, along and across.
    double along = 0, across = 0;
    for (int row = 0; row < nv; ++row)
        for (int i = 0; i + 1 < nu; ++i)
            along += std::hypot(node(i + 1, row).x - node(i, row).x, node(i + 1, row).y - node(i, row).y);
    for (int row = 0; row + 1 < nv; ++row)
        for (int i = 0; i < nu; ++i)
            across += std::hypot(node(i, row + 1).x - node(i, row).x, node(i, row + 1).y - node(i, row).y);
    along /= nv * kMapWidth;
    across /= nu * kMapHeight;

    // Step 2: shrink by averaging as far as the finer direction allows, then average several samples along the coarser
    // one.
    const int factor = std::max(1, static_cast<int>(std::floor(std::min(along, across))));
    const Crop source = crop(picture, grid, factor);
    const int samplesX = std::clamp(static_cast<int>(std::lround(along / factor)), 1, 8);
    const int samplesY = std::clamp(static_cast<int>(std::lround(across / factor)), 1, 8);

    Resampled out;
    out.picture.width = kMapWidth;
    out.picture.height = kMapHeight;
    const auto count = static_cast<std::size_t>(kMapWidth) * kMapHeight;
    out.picture.rgb.resize(count * 3);
    out.sharpness.resize(count);
    out.visible.resize(count);

    const float toCell = 1.0F / static_cast<float>(factor);
    const float share = 1.0F / static_cast<float>(samplesX * samplesY);
    const float lastX = static_cast<float>(source.width - 1), lastY = static_cast<float>(source.height - 1);
    const std::size_t rowLength = source.rowLength;
    const int lastCellX = std::max(0, source.width - 2), lastCellY = std::max(0, source.height - 2);
    const std::size_t belowStep = source.height > 1 ? rowLength : 0;
    const int next = source.width > 1 ? 3 : 0;
    const auto whole = static_cast<unsigned>(256 * samplesX * samplesY), half = whole / 2;
    // A map pixel lies inside one grid cell (256 / 32 and 128 / 16 are whole), where the mapping is bilinear.
    constexpr int cellX = kMapWidth / (nu - 1), cellY = kMapHeight / (nv - 1);
    struct Place {
        float x, y;
    };
    const auto inCrop = [&](PixelPoint p) {
        return Place{static_cast<float>(p.x - source.originX) * toCell - 0.5F,
                     static_cast<float>(p.y - source.originY) * toCell - 0.5F};
    };
    const float left = static_cast<float>(-source.originX) * toCell - 0.5F,
                top = static_cast<float>(-source.originY) * toCell - 0.5F;
    const float right = static_cast<float>(usedWidth - source.originX) * toCell - 0.5F,
                bottom = static_cast<float>(usedHeight - source.originY) * toCell - 0.5F;
    for (int gj = 0; gj + 1 < nv; ++gj)
        for (int gi = 0; gi + 1 < nu; ++gi) {
            const Place a = inCrop(node(gi, gj)), b = inCrop(node(gi + 1, gj)), c = inCrop(node(gi, gj + 1)),
                        d = inCrop(node(gi + 1, gj + 1));
            const float area = std::abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)) *
                               static_cast<float>(factor * factor) / (cellX * cellY);
            for (int py = 0; py < cellY; ++py)
                for (int px = 0; px < cellX; ++px) {
                    const auto i = static_cast<std::size_t>(gj * cellY + py) * kMapWidth +
                                   static_cast<std::size_t>(gi * cellX + px);
                    out.sharpness[i] = area;
                    unsigned sum[3] = {0, 0, 0};
                    float middleX = 0, middleY = 0;
                    for (int sy = 0; sy < samplesY; ++sy) {
                        const float across01 =
                            (static_cast<float>(py) + (static_cast<float>(sy) + 0.5F) / static_cast<float>(samplesY)) /
                            cellY;
                        const Place from{a.x + across01 * (c.x - a.x), a.y + across01 * (c.y - a.y)},
                            to{b.x + across01 * (d.x - b.x), b.y + across01 * (d.y - b.y)};
                        for (int sx = 0; sx < samplesX; ++sx) {
                            const float along01 = (static_cast<float>(px) +
                                                   (static_cast<float>(sx) + 0.5F) / static_cast<float>(samplesX)) /
                                                  cellX;
                            const float qx = from.x + along01 * (to.x - from.x),
                                        qy = from.y + along01 * (to.y - from.y);
                            middleX += qx;
                            middleY += qy;
                            const float cx = std::clamp(qx, 0.0F, lastX), cy = std::clamp(qy, 0.0F, lastY);
                            const int x0 = std::min(static_cast<int>(cx), lastCellX),
                                      y0 = std::min(static_cast<int>(cy), lastCellY);
                            const float fx = cx - static_cast<float>(x0), fy = cy - static_cast<float>(y0);
                            const std::uint8_t* p = source.data + static_cast<std::size_t>(y0) * rowLength +
                                                    static_cast<std::size_t>(x0) * 3;
                            const std::uint8_t* below = p + belowStep;
                            // Whole-number weights: 256 to a pixel either way.
                            const int wx = static_cast<int>(256 * fx), wy = static_cast<int>(256 * fy);
                            const int w11 = wx * wy, w10 = (wx << 8) - w11, w01 = (wy << 8) - w11,
                                      w00 = 65536 - w11 - w10 - w01;
                            for (int k = 0; k < 3; ++k)
                                sum[k] += static_cast<unsigned>(w00 * p[k] + w10 * p[k + next] + w01 * below[k] +
                                                                w11 * below[k + next]) >>
                                          8;
                        }
                    }
                    middleX *= share;
                    middleY *= share;
                    out.visible[i] = middleX >= left && middleX <= right && middleY >= top && middleY <= bottom ? 1 : 0;
                    for (std::size_t k = 0; k < 3; ++k)
                        out.picture.rgb[3 * i + k] = static_cast<std::uint8_t>((sum[k] + half) / whole);
                }
        }
    out.blurPx = blurOf(source) * factor;
    return out;
}

}  // namespace shimsight::flank
