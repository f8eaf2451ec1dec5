// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// JavaScript modules as one script, for a page of one file: a page from a disk may not fetch modules.
#pragma once

#include <functional>
#include <string>
#include <string_view>

namespace shimsight::training {

/// The module `entry` and all that it imports, each as a function that gives its exports, in the order in which they
/// need each other. `file` gives a module's text by its name ("dom.js"). Understood are imports and exports at the
/// beginning of a line: import {a, b as c} / import * as a, export const / let / function / async function / class.
/// Modules that import each other in a circle, and what is not understood, are a bug of the pages.
std::string bundled(std::string_view entry, const std::function<std::string(const std::string&)>& file);

}  // namespace shimsight::training
