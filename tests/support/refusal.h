// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The sentence with which something is refused.
#pragma once

#include <string>

#include "shimsight/core.h"

namespace shimsight::test {

/// The sentence of the InputError that `what` throws; "" when it throws none.
template <typename Do>
std::string refusalOf(Do what) {
    try {
        what();
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

}  // namespace shimsight::test
