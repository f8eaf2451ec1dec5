// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Compiled once for each kind of processor; SHIMSIGHT_FOLD names the namespace. Nothing of the standard library may be
// called here: the linker keeps one copy of its functions, and that must run on every processor.
#include "gear/mesh_fold.h"

#ifdef __AVX2__
#include <immintrin.h>
#endif

namespace shimsight::gear::SHIMSIGHT_FOLD {
namespace {

constexpr int kPhases = kPhasesPerPitch;
constexpr float kEmpty = 3.40282347e+38F;  // the largest number: no cell comes into mesh in this phase

float smaller(float a, float b) { return b < a ? b : a; }

/// A phase in which no cell comes into mesh (less than one tooth pair in contact) takes its neighbours' value.
void fillEmpty(float* phases) {
    for (int k = 0; k < kPhases; ++k) {
        if (phases[k] < kEmpty) continue;
        for (int step = 1; step < kPhases; ++step) {
            const float after = phases[(k + step) % kPhases], before = phases[(k + kPhases - step) % kPhases];
            const float value = smaller(after, before);
            if (value < kEmpty) {
                phases[k] = value;
                break;
            }
        }
    }
}

/// A value for each moment of a pitch: linear between the phases' nodes.
struct Line {
    float node[kPhases], slope[kPhases];

    /// `smallest`: of each phase; it stands for the middle of the phase, so nodes lie between two.
    explicit Line(float* smallest) {
        fillEmpty(smallest);
        for (int k = 0; k < kPhases; ++k) node[k] = 0.5F * (smallest[k] + smallest[(k + kPhases - 1) % kPhases]);
        for (int k = 0; k < kPhases; ++k) slope[k] = node[(k + 1) % kPhases] - node[k];
    }
};

#ifdef __AVX2__
/// One of 24 numbers for each of eight indices, from registers.
struct Looked {
    __m256 low, middle, high;
    explicit Looked(const float* of)
        : low(_mm256_loadu_ps(of)), middle(_mm256_loadu_ps(of + 8)), high(_mm256_loadu_ps(of + 16)) {
        static_assert(kPhases == 24);
    }
    __m256 at(__m256i k) const {
        const __m256 a = _mm256_permutevar8x32_ps(low, k), b = _mm256_permutevar8x32_ps(middle, k),
                     c = _mm256_permutevar8x32_ps(high, k);
        const __m256 beyond = _mm256_castsi256_ps(_mm256_cmpgt_epi32(k, _mm256_set1_epi32(7))),
                     farBeyond = _mm256_castsi256_ps(_mm256_cmpgt_epi32(k, _mm256_set1_epi32(15)));
        return _mm256_blendv_ps(_mm256_blendv_ps(a, b, beyond), c, farBeyond);
    }
};
#endif

/// When each cell comes into mesh: whole phases of the pitch and the share beyond.
struct Moments {
    const int* phase;
    const float* share;
    int cells;
};

/// out = in - line at each cell's moment, [times `lever`].
void lower(const Line& line, const Moments& at, const float* in, const float* lever, float* out) {
#ifdef __AVX2__
    const Looked node(line.node), slope(line.slope);
    for (int c = 0; c < at.cells; c += 8) {
        const __m256i k = _mm256_loadu_si256(reinterpret_cast<const __m256i*>(at.phase + c));
        const __m256 sunk = _mm256_add_ps(node.at(k), _mm256_mul_ps(_mm256_loadu_ps(at.share + c), slope.at(k)));
        __m256 value = _mm256_sub_ps(_mm256_loadu_ps(in + c), sunk);
        if (lever != nullptr) value = _mm256_mul_ps(value, _mm256_loadu_ps(lever + c));
        _mm256_storeu_ps(out + c, value);
    }
#else
    for (int c = 0; c < at.cells; ++c) {
        const int k = at.phase[c];
        const float value = in[c] - (line.node[k] + at.share[c] * line.slope[k]);
        out[c] = lever != nullptr ? value * lever[c] : value;
    }
#endif
}

/// The least of the cells of each phase. Cells of one phase stand near one another, and each would wait for the one
/// before it: so four tables take turns.
void leastOfPhases(const float* values, const Moments& at, float* smallest) {
    float others[3][kPhases];
    for (int k = 0; k < kPhases; ++k) smallest[k] = others[0][k] = others[1][k] = others[2][k] = kEmpty;
    const auto take = [&](float* table, int c) { table[at.phase[c]] = smaller(table[at.phase[c]], values[c]); };
    for (int c = 0; c < at.cells; c += 4) {
        take(smallest, c);
        take(others[0], c + 1);
        take(others[1], c + 2);
        take(others[2], c + 3);
    }
    for (int k = 0; k < kPhases; ++k)
        smallest[k] = smaller(smaller(smallest[k], others[0][k]), smaller(others[1][k], others[2][k]));
}

/// How far each cell must turn to touch, and when: the whole phases of it and the share beyond.
void turnOf(const FoldedFlank& flank, const FoldedError& error, float* __restrict rotation, float* __restrict share,
            int* __restrict phase) {
    for (int j = 0; j < flank.rows; ++j) {
        const float profilePart = error.profilePart[j], height = error.height[j];
        for (int i = 0; i < flank.columns; ++i) {
            const int c = j * flank.columns + i;
            const float gap = error.lengthPart[i] + profilePart + error.twistPart[i] * height +
                              error.depth * flank.perDepth[c] + error.ring * flank.perRing[c] +
                              error.offset * flank.perOffset[c] + error.shaft * flank.perShaft[c];
            rotation[c] = gap * flank.inverseLever[c];
            share[c] = flank.phaseAtRest[c] + error.depth * flank.delayDepth[c] + error.ring * flank.delayRing[c] +
                       error.offset * flank.delayOffset[c] + error.shaft * flank.delayShaft[c];
        }
    }
    // Folded into one pitch without a branch and without a division, for the vector unit.
    const int cells = flank.columns * flank.rows;
    for (int c = 0; c < cells; ++c) {
        const float turned = share[c] + static_cast<float>(kManyPhases);
        const int whole = static_cast<int>(turned);
        share[c] = turned - static_cast<float>(whole);
        // whole % kPhases: exact up to 131,071, where the share of 2^20 is rounded up by 8 / 24.
        constexpr int kShift = 20, kShare = (1 << kShift) / kPhases + 1;
        static_assert(kShare * kPhases - (1 << kShift) == 8 && 2LL * kManyPhases * kShare <= 0x7FFFFFFF);
        phase[c] = whole - kPhases * ((whole * kShare) >> kShift);
    }
}

}  // namespace

void separation(const FoldedFlank& flank, const FoldedError& error, float* out) {
    alignas(32) float rotation[kMaxFoldedCells], share[kMaxFoldedCells];
    alignas(32) int phase[kMaxFoldedCells];
    turnOf(flank, error, rotation, share, phase);
    const Moments moments{phase, share, flank.columns * flank.rows};
    // Smallest rotation over one pitch, all teeth folded into it: once by phase, then again with the slope taken out,
    // so that the width of a phase leaves no first-order error.
    float smallest[kPhases];
    leastOfPhases(rotation, moments, smallest);
    lower(Line(smallest), moments, rotation, nullptr, out);
    leastOfPhases(out, moments, smallest);
    lower(Line(smallest), moments, out, flank.lever, out);
}

}  // namespace shimsight::gear::SHIMSIGHT_FOLD

#undef SHIMSIGHT_FOLD
