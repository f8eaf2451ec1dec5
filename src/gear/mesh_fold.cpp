// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#define SHIMSIGHT_FOLD plain
#include "gear/mesh_fold_body.h"

namespace shimsight::gear {

void separation(const FoldedFlank& flank, const FoldedError& error, float* out) {
#if defined(__x86_64__)
    static const bool isWide = __builtin_cpu_supports("avx2");
    if (isWide) return wide::separation(flank, error, out);
#endif
    plain::separation(flank, error, out);
}

}  // namespace shimsight::gear
