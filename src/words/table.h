// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The table's files, as text: "key = sentence" a line, "#" before a remark. A sentence in quotes keeps the spaces at
/// its ends. Places for values are {0}, {1}, ...
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace shimsight::words {

struct Entry {
    std::string id;  ///< "advice.take-out": file and key
    std::string text;
    std::size_t places = 0;  ///< how many values it takes
};

/// The entries of one file. Throws std::logic_error that names the line where it is not of this form, where a key
/// stands twice, or where a place is left out ({0} and {2} without {1}).
std::vector<Entry> readTable(std::string_view topic, std::string_view file);

/// `text` with its places filled.
std::string filled(std::string_view text, const std::vector<std::string>& values);

}  // namespace shimsight::words
