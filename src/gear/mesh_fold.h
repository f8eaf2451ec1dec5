// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The inner loop of the fast contact model: all teeth of a mesh folded into one pitch. Compiled for every processor
/// and once more for those with AVX2; both give the same numbers to the last digit.
#pragma once

namespace shimsight::gear {

/// One flank's cells, row after row; `columns` x `rows`, a multiple of 8. Each pointer: as many numbers as cells.
struct FoldedFlank {
    const float *perDepth, *perRing, *perOffset, *perShaft;          ///< gap rates, mm per mm (shaft angle: per rad)
    const float *lever, *inverseLever;                               ///< mm; 1/mm
    const float* phaseAtRest;                                        ///< 0 .. kMeshPhases
    const float *delayDepth, *delayRing, *delayOffset, *delayShaft;  ///< phases per mm (per rad)
    int columns, rows;
};

/// A displacement of the pair, and the ease-off by column and by row.
struct FoldedError {
    float depth, ring, offset, shaft;     ///< mm, mm, mm, rad
    const float *lengthPart, *twistPart;  ///< by column, mm
    const float *profilePart, *height;    ///< by row, mm; -1 .. 1
};

/// Cells of the largest grid.
inline constexpr int kMaxFoldedCells = 2048;
/// Added to phases before they are folded, so that the conversion to whole ones rounds down; cells stay within this of
/// their place.
inline constexpr int kPhasesPerPitch = 24, kManyPhases = 1000 * kPhasesPerPitch;

/// Separation of each cell from the other flank at the moment it is in mesh, mm: as many numbers as cells.
void separation(const FoldedFlank& flank, const FoldedError& error, float* out);

/// For every processor, and for those with AVX2.
namespace plain {
void separation(const FoldedFlank& flank, const FoldedError& error, float* out);
}
namespace wide {
void separation(const FoldedFlank& flank, const FoldedError& error, float* out);
}

}  // namespace shimsight::gear
