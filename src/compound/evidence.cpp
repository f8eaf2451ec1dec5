#include "compound/evidence.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace shimsight::compound {
namespace {

/// Weights of the marking's log odds. Paste is the more colourful of the two and the less textured.
constexpr double kBySaturation = 14.0;  ///< for each unit of colour ratio distance
constexpr double kByTexture = 1.6;      ///< for each unit of log texture
constexpr double kByVariation = 2.0;    ///< for each unit of brightness spread
constexpr double kByBorder = -1.5;      ///< a print may run along the border; bare steel inside paint seldom does
constexpr double kBias = 0.4;

/// Steps in colour ratio and in log texture that chance patterns on evenly painted or bare flanks reach at most.
constexpr double kChanceColour = 0.18, kChanceTexture = 0.7;

}  // namespace

MainRegion mainRegion(const std::vector<float>& inside) {
    cv::Mat1b mask(kRows, kColumns);
    for (int i = 0; i < kCells; ++i)
        mask(i / kColumns, i % kColumns) = inside[static_cast<std::size_t>(i)] > 0.5F ? 255 : 0;
    MainRegion out;
    out.cells.assign(kCells, 0);
    const int all = cv::countNonZero(mask);
    if (all == 0) return out;
    cv::Mat1i label;
    cv::Mat stats, centres;
    const int count = cv::connectedComponentsWithStats(mask, label, stats, centres, 4, CV_32S);
    int best = 1;
    for (int k = 2; k < count; ++k)
        if (stats.at<int>(k, cv::CC_STAT_AREA) > stats.at<int>(best, cv::CC_STAT_AREA)) best = k;
    cv::Mat1b region(label == best);
    out.share = stats.at<int>(best, cv::CC_STAT_AREA) / static_cast<double>(all);
    // Holes: what cannot be reached from outside the flank.
    cv::Mat1b padded(kRows + 2, kColumns + 2, static_cast<std::uint8_t>(0));
    region.copyTo(padded(cv::Rect(1, 1, kColumns, kRows)));
    cv::floodFill(padded, cv::Point(0, 0), cv::Scalar(128));
    region = padded(cv::Rect(1, 1, kColumns, kRows)) != 128;
    std::vector<std::vector<cv::Point>> contours;
    cv::findContours(region, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
    std::vector<cv::Point> points, hull;
    for (const auto& c : contours) points.insert(points.end(), c.begin(), c.end());
    if (points.size() > 2) {
        cv::convexHull(points, hull);
        const double hullArea = cv::contourArea(hull);
        out.fill = hullArea > 0 ? std::min(1.0, cv::countNonZero(region) / (hullArea + 1e-9)) : 0;
    }
    for (int i = 0; i < kCells; ++i)
        out.cells[static_cast<std::size_t>(i)] = region(i / kColumns, i % kColumns) ? 1 : 0;
    return out;
}

RegionLook lookAt(const FlankFeatures& features, const std::vector<float>& inside,
                  const std::vector<std::uint8_t>& region) {
    RegionLook out;
    std::array<std::array<double, 4>, 2> sum{};
    std::array<double, 2> weight{};
    double sure = 0, total = 0;
    int area = 0, border = 0, borderInside = 0;
    for (int i = 0; i < kCells; ++i) {
        const auto c = static_cast<std::size_t>(i);
        const std::size_t k = region[c] ? 1 : 0;
        const double w = features.weight[c] * std::abs(2 * inside[c] - 1);
        for (std::size_t f = 0; f < kFeatures; ++f) sum[k][f] += w * features.value[f][c];
        weight[k] += w;
        sure += features.weight[c] * std::abs(2 * inside[c] - 1);
        total += features.weight[c];
        area += region[c];
        const int x = i % kColumns, y = i / kColumns;
        if (x == 0 || y == 0 || x == kColumns - 1 || y == kRows - 1) {
            ++border;
            borderInside += region[c];
        }
    }
    for (std::size_t k = 0; k < 2; ++k)
        for (double& s : sum[k]) s /= std::max(1e-6, weight[k]);
    // Spread of the brightness of either part about its own plane.
    for (std::size_t k = 0; k < 2; ++k) {
        Eigen::Matrix3d normal = 1e-6 * Eigen::Matrix3d::Identity();
        Eigen::Vector3d right = Eigen::Vector3d::Zero();
        double squares = 0, w = 0;
        for (int i = 0; i < kCells; i += 3) {
            const auto c = static_cast<std::size_t>(i);
            if ((region[c] ? 1U : 0U) != k) continue;
            const Eigen::Vector3d basis(1, (i % kColumns) / double(kColumns) - 0.5,
                                        (i / kColumns) / double(kRows) - 0.5);
            normal += features.weight[c] * basis * basis.transpose();
            right += features.weight[c] * features.value[2][c] * basis;
        }
        const Eigen::Vector3d plane = normal.ldlt().solve(right);
        for (int i = 0; i < kCells; i += 3) {
            const auto c = static_cast<std::size_t>(i);
            if ((region[c] ? 1U : 0U) != k) continue;
            const Eigen::Vector3d basis(1, (i % kColumns) / double(kColumns) - 0.5,
                                        (i / kColumns) / double(kRows) - 0.5);
            const double d = features.value[2][c] - plane.dot(basis);
            squares += features.weight[c] * d * d;
            w += features.weight[c];
        }
        (k ? out.variationInside : out.variationOutside) = w > 0 ? std::sqrt(squares / w) : 0;
    }
    out.saturationOutside = std::hypot(sum[0][0], sum[0][1]);
    out.saturationInside = std::hypot(sum[1][0], sum[1][1]);
    out.lightOutside = sum[0][2];
    out.lightInside = sum[1][2];
    out.textureOutside = sum[0][3];
    out.textureInside = sum[1][3];
    out.colourStep = std::hypot(sum[1][0] - sum[0][0], sum[1][1] - sum[0][1]);
    out.area = area / static_cast<double>(kCells);
    out.borderShare = borderInside / static_cast<double>(border);
    out.sureness = total > 0 ? sure / total : 0;
    return out;
}

double patternEvidence(const RegionLook& look) {
    return std::hypot(look.colourStep / kChanceColour, (look.textureInside - look.textureOutside) / kChanceTexture);
}

double wipedLogOdds(const RegionLook& look) {
    return kBias + kBySaturation * (look.saturationOutside - look.saturationInside) +
           kByTexture * (look.textureInside - look.textureOutside) +
           kByVariation * (look.variationInside - look.variationOutside) + kByBorder * look.borderShare;
}

}  // namespace shimsight::compound
