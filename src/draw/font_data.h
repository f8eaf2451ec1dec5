/// The font files, as bytes in the program (DejaVu fonts, free licence).
#pragma once

#include <span>

namespace shimsight::draw {

std::span<const unsigned char> regularFont();
std::span<const unsigned char> boldFont();

}  // namespace shimsight::draw
