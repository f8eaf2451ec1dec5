// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "measure/photo_fault.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "shimsight/statistics.h"

namespace shimsight::measure {
namespace {

/// The photo is looked at in cells, so that its size and its noise do not matter.
constexpr int kCellsAlong = 640;
/// 95 of 100 cells are darker than this of 255: hardly anything can be made out on a phone's screen.
constexpr double kDark = 40;
/// A cell this bright is blown out; with so much of the photo gone, more than a white wall behind the gear is lost.
constexpr double kBlown = 250, kMaxBlown = 0.4;
/// The steepest edges (1 cell of 500) rise by this share of the photo's contrast from cell to cell: 0.3 and more in
/// sharp rendered photos, 0.06 blurred by a hundredth of the long side.
constexpr double kSoft = 0.08;
/// Below, the photo shows one even surface: nothing to be sharp.
constexpr double kEven = 20;

}  // namespace

std::optional<Refused> photoFault(const Picture& picture) {
    // Step 1: mean brightness of cells.
    const int step = std::max(1, std::max(picture.width, picture.height) / kCellsAlong);
    const int columns = picture.width / step, rows = picture.height / step;
    if (columns < 2 || rows < 2) return std::nullopt;
    std::vector<double> cells;
    for (int j = 0; j < rows; ++j)
        for (int i = 0; i < columns; ++i) {
            int sum = 0;  // of brightness, thousandths
            for (int y = j * step; y < (j + 1) * step; ++y)
                for (int x = i * step; x < (i + 1) * step; ++x) {
                    const auto* p =
                        &picture.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture.width) +
                                          static_cast<std::size_t>(x))];
                    sum += 299 * p[0] + 587 * p[1] + 114 * p[2];
                }
            cells.push_back(sum / (1000.0 * step * step));
        }
    // Step 2: light.
    const double high = quantile(cells, 0.95), low = quantile(cells, 0.05);
    if (high < kDark) return Refused{Refusal::TooDark, message("measure.too-dark"), message("measure.lamp-to-side")};
    const auto blown = std::count_if(cells.begin(), cells.end(), [](double cell) { return cell > kBlown; });
    if (static_cast<double>(blown) > kMaxBlown * static_cast<double>(cells.size()))
        return Refused{Refusal::Glare, message("measure.blown-out"), message("measure.flash-off")};
    // Step 3: edges.
    if (high - low < kEven) return std::nullopt;
    std::vector<double> rises;
    for (int j = 0; j + 1 < rows; ++j)
        for (int i = 0; i + 1 < columns; ++i) {
            const auto at = [&](int a, int b) { return cells[static_cast<std::size_t>(b * columns + a)]; };
            rises.push_back(std::max(std::abs(at(i + 1, j) - at(i, j)), std::abs(at(i, j + 1) - at(i, j))));
        }
    if (quantile(rises, 0.998) < kSoft * (high - low))
        return Refused{Refusal::OutOfFocus, message("measure.out-of-focus"), message("measure.wipe-lens")};
    return std::nullopt;
}

}  // namespace shimsight::measure
