// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Files that the build puts into the program (tools/cmake/embed.cmake). Module `embedded`.
#pragma once

#include <span>
#include <stdexcept>
#include <string>
#include <string_view>

namespace shimsight {

struct EmbeddedFile {
    std::string_view name;   ///< without folders: "flank-finder.onnx"
    std::string_view bytes;  ///< live as long as the program; begin at a multiple of 16
};

/// The bytes of the file of this name in a module's table. A name that is not there is a bug: std::logic_error.
inline std::string_view embeddedFile(std::span<const EmbeddedFile> files, std::string_view name) {
    for (const EmbeddedFile& file : files)
        if (file.name == name) return file.bytes;
    throw std::logic_error("no file \"" + std::string(name) + "\" was put into the program");
}

}  // namespace shimsight
