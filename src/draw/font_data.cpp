#include "draw/font_data.h"

asm(".section .rodata\n"
    ".balign 16\n"
    ".globl shimsightFontRegular\n"
    "shimsightFontRegular:\n"
    ".incbin \"" SHIMSIGHT_FONT
    "\"\n"
    ".globl shimsightFontRegularEnd\n"
    "shimsightFontRegularEnd:\n"
    ".balign 16\n"
    ".globl shimsightFontBold\n"
    "shimsightFontBold:\n"
    ".incbin \"" SHIMSIGHT_FONT_BOLD
    "\"\n"
    ".globl shimsightFontBoldEnd\n"
    "shimsightFontBoldEnd:\n"
    ".text\n");

extern "C" {
extern const unsigned char shimsightFontRegular[], shimsightFontRegularEnd[], shimsightFontBold[],
    shimsightFontBoldEnd[];
}

namespace shimsight::draw {

std::span<const unsigned char> regularFont() { return {shimsightFontRegular, shimsightFontRegularEnd}; }
std::span<const unsigned char> boldFont() { return {shimsightFontBold, shimsightFontBoldEnd}; }

}  // namespace shimsight::draw
