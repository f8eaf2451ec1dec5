// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "teeth/looks.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "shimsight/outline_geometry.h"

namespace shimsight::teeth {
namespace {

/// A flank whose cells agree with its own warp this little is not one.
constexpr double kMinKept = 0.6;
constexpr double kWorstResidual = 0.20;
/// Outlines by points along the edges.
constexpr int kEdgePoints = 9;
/// Where flanks show on fewer cells than this (median), the part of the photo with the teeth is looked at again,
/// enlarged, if that makes it at least this much larger. The network's errors halve from 25 to 100 cells (its card).
constexpr double kEnoughCells = 38, kMinZoom = 1.4;
constexpr double kCropMargin = 0.08;
/// Looks after the first one.
constexpr int kCloserLooks = 2;
/// Hints of a gear (cells that are more likely one than ground) that lie this near to one another belong together,
/// cells; a heap of fewer is left alone.
constexpr int kHintReach = 4, kMinHints = 6;
/// Where the first look is sure of fewer cells than this, gears may be too small in the photo to be seen in it: the
/// part where most goes on is looked at, enlarged by this much. (Flanks a twenty-fifth of the width long are 20 pixels
/// in the first look, 50 in that.)
constexpr std::size_t kCertainCells = 20;
constexpr double kBlindZoom = 2.5, kAsideCosts = 0.4;
constexpr int kMaxChange = 160;
/// Of two looks, flanks whose middles lie nearer than this share of their length are the same.
constexpr double kSameFlank = 0.25;
/// Flanks shorter than this in the decoded picture are read at the photo's full size, picture pixels (the mark reader
/// rectifies a flank on 166 pixels).
constexpr double kLongEnough = 120;

/// The grid of the flank by its warp; empty where the warp does not reach.
Grid gridBy(const FlankWarp& warp, const Region& region) {
    // Few nodes and straight lines between: the warp is of second degree, a sixteenth of the flank departs by nothing.
    constexpr int kStep = 2;
    Grid grid(static_cast<std::size_t>(kFlankGridU) * kFlankGridV);
    const auto node = [&](int i, int row) -> PixelPoint& {
        return grid[static_cast<std::size_t>(row * kFlankGridU + i)];
    };
    for (int row = 0; row < kFlankGridV; row += kStep)
        for (int i = 0; i < kFlankGridU; i += kStep) {
            const auto p = warp.at(i / double(kFlankGridU - 1), 1 - row / double(kFlankGridV - 1));
            if (!p) return {};
            node(i, row) = region.toPhoto(p->x, p->y);
        }
    const auto between = [](PixelPoint a, PixelPoint b) { return PixelPoint{0.5 * (a.x + b.x), 0.5 * (a.y + b.y)}; };
    for (int row = 0; row < kFlankGridV; row += kStep)
        for (int i = 1; i < kFlankGridU; i += kStep) node(i, row) = between(node(i - 1, row), node(i + 1, row));
    for (int row = 1; row < kFlankGridV; row += kStep)
        for (int i = 0; i < kFlankGridU; ++i) node(i, row) = between(node(i, row - 1), node(i, row + 1));
    return grid;
}

double polygonArea(const FlankOutline& outline) {
    std::vector<PixelPoint> path{outline.corners[0]};
    path.push_back(outline.corners[1]);
    path.insert(path.end(), outline.tipEdge.begin(), outline.tipEdge.end());
    path.push_back(outline.corners[2]);
    path.push_back(outline.corners[3]);
    path.insert(path.end(), outline.rootEdge.rbegin(), outline.rootEdge.rend());
    double sum = 0;
    for (std::size_t k = 0; k < path.size(); ++k) {
        const PixelPoint a = path[k], b = path[(k + 1) % path.size()];
        sum += a.x * b.y - b.x * a.y;
    }
    return 0.5 * std::abs(sum);
}

/// Share of the flank's area whose cells were seen.
double seenShareOf(const Candidate& candidate) {
    std::size_t inside = 0;
    for (const FlankCell& cell : candidate.patch.cells) {
        const Eigen::Vector2d uv = candidate.warp.uvAt(cell.x, cell.y);
        inside += uv.x() > -0.03 && uv.x() < 1.03 && uv.y() > -0.06 && uv.y() < 1.06;
    }
    const double cellArea = kCellArea / (candidate.region.scale * candidate.region.scale);
    return std::min(1.0, static_cast<double>(inside) * cellArea / std::max(1.0, polygonArea(candidate.outline)));
}

PixelPoint middleOf(const Candidate& candidate) {
    PixelPoint middle;
    for (const PixelPoint& p : candidate.outline.corners) middle.x += p.x / 4, middle.y += p.y / 4;
    return middle;
}

/// Whether half of the values or more are `least` or more; none: no.
bool halfReach(const std::vector<double>& values, double least) {
    const auto reach = std::count_if(values.begin(), values.end(), [&](double value) { return value >= least; });
    return reach > 0 && 2 * reach >= static_cast<std::ptrdiff_t>(values.size());
}

bool largeEnough(const std::vector<Candidate>& candidates) {
    std::vector<double> cells;
    for (const Candidate& candidate : candidates) cells.push_back(static_cast<double>(candidate.patch.cells.size()));
    return halfReach(cells, kEnoughCells);
}

/// The heaps of hints, the largest first, as rectangles in cells.
struct Heap {
    int left = kCellColumns, right = 0, top = kCellRows, bottom = 0, cells = 0;
};

std::vector<Heap> heapsOf(const Seen& seen) {
    std::vector<int> open(static_cast<std::size_t>(kCellColumns) * kCellRows, 0);
    for (const int cell : seen.hints) open[static_cast<std::size_t>(cell)] = 1;
    std::vector<Heap> heaps;
    for (const int first : seen.hints) {
        if (!open[static_cast<std::size_t>(first)]) continue;
        Heap heap;
        std::vector<int> front{first};
        open[static_cast<std::size_t>(first)] = 0;
        while (!front.empty()) {
            const int cell = front.back(), x = cell % kCellColumns, y = cell / kCellColumns;
            front.pop_back();
            ++heap.cells;
            heap.left = std::min(heap.left, x), heap.right = std::max(heap.right, x + 1);
            heap.top = std::min(heap.top, y), heap.bottom = std::max(heap.bottom, y + 1);
            for (int j = std::max(0, y - kHintReach); j <= std::min(kCellRows - 1, y + kHintReach); ++j)
                for (int i = std::max(0, x - kHintReach); i <= std::min(kCellColumns - 1, x + kHintReach); ++i)
                    if (int& next = open[static_cast<std::size_t>(j * kCellColumns + i)]; next)
                        next = 0, front.push_back(j * kCellColumns + i);
        }
        if (heap.cells >= kMinHints) heaps.push_back(heap);
    }
    std::stable_sort(heaps.begin(), heaps.end(), [](const Heap& a, const Heap& b) { return a.cells > b.cells; });
    return heaps;
}

/// The part of the photo that holds a rectangle of cells, and `margin` (photo pixels) around it.
Region regionOfCells(const Heap& cells, const Region& seenIn, double margin) {
    const PixelPoint a = seenIn.toPhoto(cells.left * kCellSide, cells.top * kCellSide),
                     b = seenIn.toPhoto(cells.right * kCellSide, cells.bottom * kCellSide);
    return regionOf(std::min(a.x, b.x) - margin, std::min(a.y, b.y) - margin, std::abs(a.x - b.x) + 2 * margin,
                    std::abs(a.y - b.y) + 2 * margin);
}

/// The part of the photo around a heap.
Region regionAround(const Heap& heap, const Region& seenIn) {
    const int longSide = std::max(heap.right - heap.left, heap.bottom - heap.top);
    return regionOfCells(heap, seenIn, (kCropMargin * longSide + 1) * kCellSide / seenIn.scale);
}

/// How much brightness changes from pixel to pixel in each cell of the input: teeth are nothing but edges. Hard edges
/// count for no more than kMaxChange.
std::vector<double> changesOf(const Picture& input) {
    const auto grey = [&](int x, int y) {
        const std::uint8_t* p = &input.rgb[static_cast<std::size_t>(3 * (y * kInputWidth + x))];
        return p[0] + 2 * p[1] + p[2];
    };
    std::vector<double> changes(static_cast<std::size_t>(kCellColumns) * kCellRows, 0);
    for (int y = 0; y + 1 < kInputHeight; ++y)
        for (int x = 0; x + 1 < kInputWidth; ++x) {
            const int here = grey(x, y), change = std::abs(grey(x + 1, y) - here) + std::abs(grey(x, y + 1) - here);
            changes[static_cast<std::size_t>(y / kCellSide * kCellColumns + x / kCellSide)] +=
                std::min(change, kMaxChange);
        }
    return changes;
}

/// The part of the photo where most goes on, its width over kBlindZoom wide; toward the middle when in doubt.
Region busiestPart(const Seen& seen) {
    const std::vector<double> changes = changesOf(seen.input);
    constexpr int kAcross = static_cast<int>(kCellColumns / kBlindZoom),
                  kDown = static_cast<int>(kCellRows / kBlindZoom);
    // Sums over the rectangles from the first cell.
    std::vector<double> sums(static_cast<std::size_t>(kCellColumns + 1) * (kCellRows + 1), 0);
    const auto sum = [&](int x, int y) -> double& {
        return sums[static_cast<std::size_t>(y * (kCellColumns + 1) + x)];
    };
    for (int y = 0; y < kCellRows; ++y)
        for (int x = 0; x < kCellColumns; ++x)
            sum(x + 1, y + 1) =
                sum(x, y + 1) + sum(x + 1, y) - sum(x, y) + changes[static_cast<std::size_t>(y * kCellColumns + x)];
    Heap best;
    double most = -1;
    for (int y = 0; y + kDown <= kCellRows; ++y)
        for (int x = 0; x + kAcross <= kCellColumns; ++x) {
            const double aside =
                std::hypot((x + 0.5 * kAcross) / kCellColumns - 0.5, (y + 0.5 * kDown) / kCellRows - 0.5);
            const double inside = (1 - kAsideCosts * aside) *
                                  (sum(x + kAcross, y + kDown) - sum(x, y + kDown) - sum(x + kAcross, y) + sum(x, y));
            if (inside > most) most = inside, best = {x, x + kAcross, y, y + kDown, 0};
        }
    return regionOfCells(best, seen.region, 0);
}

/// Where to look closer: where the flanks are that were seen or hinted at; after a first look that is sure of nothing,
/// where most goes on.
std::optional<Region> nextPart(const Seen& seen, bool first, std::size_t flanks) {
    if (first && flanks < 2 && seen.cells.size() < kCertainCells) return busiestPart(seen);
    const std::vector<Heap> heaps = heapsOf(seen);
    if (heaps.empty()) return std::nullopt;
    return regionAround(heaps.front(), seen.region);
}

bool holds(const Region& region, PixelPoint p) {
    const PixelPoint q = region.toInput(p);
    return q.x > 0 && q.y > 0 && q.x < kInputWidth && q.y < kInputHeight;
}

/// Adds what a closer look at `region` saw. Where it saw as many flanks as were known there, it alone is believed.
void merge(std::vector<Candidate>& candidates, std::vector<Candidate> closer, const Region& region) {
    const auto known = std::count_if(candidates.begin(), candidates.end(),
                                     [&](const Candidate& one) { return holds(region, middleOf(one)); });
    const bool believed = static_cast<std::ptrdiff_t>(closer.size()) >= known;
    std::erase_if(candidates, [&](const Candidate& before) {
        const PixelPoint p = middleOf(before);
        return (believed && holds(region, p)) || std::any_of(closer.begin(), closer.end(), [&](const Candidate& one) {
                   const PixelPoint q = middleOf(one);
                   return std::hypot(p.x - q.x, p.y - q.y) < kSameFlank * flank::outlineLength(one.outline);
               });
    });
    std::move(closer.begin(), closer.end(), std::back_inserter(candidates));
}

}  // namespace

FlankOutline outlineOf(const Grid& grid, Side side) {
    const auto at = [&](int i, int row) { return grid[static_cast<std::size_t>(row * kFlankGridU + i)]; };
    constexpr int kRight = kFlankGridU - 1, kBottom = kFlankGridV - 1;
    FlankOutline outline;
    outline.side = side;
    outline.corners = {at(0, kBottom), at(0, 0), at(kRight, 0), at(kRight, kBottom)};
    for (int k = 1; k + 1 < kEdgePoints; ++k) {
        const int i = k * kRight / (kEdgePoints - 1);
        outline.rootEdge.push_back(at(i, kBottom));
        outline.tipEdge.push_back(at(i, 0));
    }
    return outline;
}

namespace {

std::vector<Candidate> candidatesIn(const Seen& seen) {
    std::vector<Candidate> out;
    for (Patch& patch : partIntoFlanks(seen.cells)) {
        const auto warp = FlankWarp::fit(patch.cells);
        if (!warp || warp->keptShare() < kMinKept || warp->residual() > kWorstResidual) continue;
        Grid grid = gridBy(*warp, seen.region);
        if (grid.empty()) continue;
        FlankOutline outline = outlineOf(grid, Side::Drive);
        Candidate candidate{std::move(patch), *warp, seen.region, std::move(grid), std::move(outline)};
        candidate.seenShare = seenShareOf(candidate);
        out.push_back(std::move(candidate));
    }
    return out;
}

}  // namespace

Looked lookTwice(const Photo& photo) {
    Looked looked;
    std::vector<Seen> looks{look(photo, regionOf(0, 0, photo.fullWidth, photo.fullHeight))};
    looked.candidates = candidatesIn(looks.front());
    const Photo* source = &photo;
    for (int closer = 0; closer < kCloserLooks && !largeEnough(looked.candidates); ++closer) {
        const std::optional<Region> part = nextPart(looks.back(), closer == 0, looked.candidates.size());
        if (!part || part->scale < kMinZoom * looks.back().region.scale) break;
        const Region region = *part;
        // The whole photo is decoded again only for flanks that are seen.
        if (region.scale > photo.scale && !looked.larger && looked.candidates.size() > 1) {
            looked.larger = atFullSize(photo);
            if (looked.larger) source = looked.larger.get();
        }
        looks.push_back(look(*source, region));
        merge(looked.candidates, candidatesIn(looks.back()), region);
        if (looked.candidates.empty()) break;
    }
    std::vector<double> lengths;
    for (const Candidate& candidate : looked.candidates)
        lengths.push_back(flank::outlineLength(candidate.outline) * photo.scale);
    if (!looked.larger && !lengths.empty() && !halfReach(lengths, kLongEnough)) looked.larger = atFullSize(photo);
    return looked;
}

}  // namespace shimsight::teeth
