#include "compound/evidence.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace shimsight::compound {
namespace {

/// Weights of the marking's log odds, by logistic regressions over 716 flanks of 165 rendered photos (seeds below
/// 1000). Where there is colour, paste is the more colourful part: 99.8 % of single flanks right. White and grey paste
/// is the brighter and smoother part: 99 % right.
constexpr double kColourful = 0.3;  ///< saturation of either part
struct MarkingWeights {
    double bias, saturation, texture, light;
};
constexpr MarkingWeights kColourfulPaste{1.17, 13.9, 1.24, -2.08}, kPalePaste{-0.4, 20.0, 2.8, -9.0};

/// Reach of the bands along the border in which the two parts are compared, working cells.
constexpr double kNearBorderU = 4, kNearBorderV = 7;
/// Working cells (128 to the length, 64 to the height).
constexpr int kPad = 20, kCloseCells = 9, kOpenCells = 9;

}  // namespace

MainRegion mainRegion(const std::vector<float>& inside) {
    cv::Mat1b mask(kRows, kColumns);
    for (int i = 0; i < kCells; ++i)
        mask(i / kColumns, i % kColumns) = inside[static_cast<std::size_t>(i)] > 0.5F ? 255 : 0;
    MainRegion out;
    out.cells.assign(kCells, 0);
    const int all = cv::countNonZero(mask);
    if (all == 0) return out;
    // Close the notches that remnants and streaks cut, then drop what hangs on by a thread (unpainted strips at the
    // ends).
    const auto element = [](int cells) { return cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(cells, cells)); };
    cv::Mat1b padded(kRows + 2 * kPad, kColumns + 2 * kPad, static_cast<std::uint8_t>(0)), shaped;
    cv::copyMakeBorder(mask, padded, kPad, kPad, kPad, kPad, cv::BORDER_REPLICATE);
    cv::morphologyEx(padded, shaped, cv::MORPH_CLOSE, element(kCloseCells));
    shaped = shaped(cv::Rect(kPad, kPad, kColumns, kRows)).clone();
    cv::copyMakeBorder(shaped, padded, kPad, kPad, kPad, kPad, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::morphologyEx(padded, shaped, cv::MORPH_OPEN, element(kOpenCells));
    shaped = shaped(cv::Rect(kPad, kPad, kColumns, kRows));
    if (cv::countNonZero(shaped) > 0) mask = shaped.clone();
    cv::Mat1i label;
    cv::Mat stats, centres;
    const int count = cv::connectedComponentsWithStats(mask, label, stats, centres, 4, CV_32S);
    int best = 1;
    for (int k = 2; k < count; ++k)
        if (stats.at<int>(k, cv::CC_STAT_AREA) > stats.at<int>(best, cv::CC_STAT_AREA)) best = k;
    cv::Mat1b region(label == best);
    out.share = stats.at<int>(best, cv::CC_STAT_AREA) / static_cast<double>(cv::countNonZero(mask));
    std::vector<std::vector<cv::Point>> contours;
    cv::findContours(region.clone(), contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
    std::vector<cv::Point> points, hull;
    for (const auto& c : contours) points.insert(points.end(), c.begin(), c.end());
    if (points.size() > 2) {
        cv::convexHull(points, hull);
        const double hullArea = cv::contourArea(hull);
        out.fill = hullArea > 0 ? std::min(1.0, cv::countNonZero(region) / (hullArea + 1e-9)) : 0;
    }
    // Holes: what cannot be reached from outside the flank.
    cv::Mat1b framed(kRows + 2, kColumns + 2, static_cast<std::uint8_t>(0));
    region.copyTo(framed(cv::Rect(1, 1, kColumns, kRows)));
    cv::floodFill(framed, cv::Point(0, 0), cv::Scalar(128));
    region = framed(cv::Rect(1, 1, kColumns, kRows)) != 128;
    for (int i = 0; i < kCells; ++i)
        out.cells[static_cast<std::size_t>(i)] = region(i / kColumns, i % kColumns) ? 1 : 0;
    return out;
}

RegionLook lookAt(const FlankFeatures& features, const std::vector<float>& inside, const MainRegion& main) {
    RegionLook out;
    out.fill = main.fill;
    out.mainPart = main.share;
    const auto& region = main.cells;
    // Both sides of the border see the same light, so cells count by how close to it they lie.
    cv::Mat1f mask(kRows, kColumns), soft;
    for (int i = 0; i < kCells; ++i) mask(i / kColumns, i % kColumns) = region[static_cast<std::size_t>(i)];
    cv::GaussianBlur(mask, soft, cv::Size(), kNearBorderU, kNearBorderV, cv::BORDER_REPLICATE);
    std::array<std::array<double, kFeatures>, 2> sum{}, squares{};
    std::array<double, 2> weight{};
    double sure = 0, total = 0;
    int area = 0, border = 0, borderInside = 0;
    for (int i = 0; i < kCells; ++i) {
        const auto c = static_cast<std::size_t>(i);
        const int x = i % kColumns, y = i / kColumns;
        const std::size_t k = region[c] ? 1 : 0;
        const double w = features.weight[c] * (k == 1 ? 1 - soft(y, x) : soft(y, x));
        for (std::size_t f = 0; f < kFeatures; ++f) {
            sum[k][f] += w * features.value[f][c];
            squares[k][f] += w * features.value[f][c] * features.value[f][c];
        }
        weight[k] += w;
        sure += features.weight[c] * std::abs(2 * inside[c] - 1);
        total += features.weight[c];
        area += region[c];
        if (x == 0 || y == 0 || x == kColumns - 1 || y == kRows - 1) {
            ++border;
            borderInside += region[c];
        }
    }
    for (std::size_t k = 0; k < 2; ++k)
        for (std::size_t f = 0; f < kFeatures; ++f) {
            sum[k][f] /= std::max(1e-6, weight[k]);
            squares[k][f] = std::max(0.0, squares[k][f] / std::max(1e-6, weight[k]) - sum[k][f] * sum[k][f]);
        }
    out.colourSpread = std::sqrt(0.5 * (squares[0][0] + squares[1][0] + squares[0][1] + squares[1][1]));
    out.textureSpread = std::sqrt(0.5 * (squares[0][3] + squares[1][3]));
    out.lightSpread = std::sqrt(0.5 * (squares[0][2] + squares[1][2]));
    // Spread of the brightness of either part about its own plane.
    for (std::size_t k = 0; k < 2; ++k) {
        Eigen::Matrix3d normal = 1e-6 * Eigen::Matrix3d::Identity();
        Eigen::Vector3d right = Eigen::Vector3d::Zero();
        double departure = 0, w = 0;
        for (int i = 0; i < kCells; i += 3) {
            const auto c = static_cast<std::size_t>(i);
            if ((region[c] ? 1U : 0U) != k) continue;
            const int row = i / kColumns;
            const Eigen::Vector3d basis(1, (i % kColumns) / double(kColumns) - 0.5, row / double(kRows) - 0.5);
            normal += features.weight[c] * basis * basis.transpose();
            right += features.weight[c] * features.value[2][c] * basis;
        }
        const Eigen::Vector3d plane = normal.ldlt().solve(right);
        for (int i = 0; i < kCells; i += 3) {
            const auto c = static_cast<std::size_t>(i);
            if ((region[c] ? 1U : 0U) != k) continue;
            const int row = i / kColumns;
            const Eigen::Vector3d basis(1, (i % kColumns) / double(kColumns) - 0.5, row / double(kRows) - 0.5);
            const double d = features.value[2][c] - plane.dot(basis);
            departure += features.weight[c] * d * d;
            w += features.weight[c];
        }
        (k ? out.variationInside : out.variationOutside) = w > 0 ? std::sqrt(departure / w) : 0;
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

double wipedLogOdds(const RegionLook& look) {
    const bool colourful = std::max(look.saturationInside, look.saturationOutside) > kColourful;
    const MarkingWeights& weights = colourful ? kColourfulPaste : kPalePaste;
    return weights.bias + weights.saturation * (look.saturationOutside - look.saturationInside) +
           weights.texture * (look.textureInside - look.textureOutside) +
           weights.light * (look.lightInside - look.lightOutside);
}

}  // namespace shimsight::compound
