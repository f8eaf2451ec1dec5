// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Compiled for AVX2, see CMakeLists.txt beside it.
#define SHIMSIGHT_FOLD wide
#include "gear/mesh_fold_body.h"
