#include "teeth/network_data.h"

asm(".section .rodata\n"
    ".balign 16\n"
    ".globl shimsightFlankFinder\n"
    "shimsightFlankFinder:\n"
    ".incbin \"" SHIMSIGHT_FLANK_FINDER
    "\"\n"
    ".globl shimsightFlankFinderEnd\n"
    "shimsightFlankFinderEnd:\n"
    ".text\n");

extern "C" {
extern const char shimsightFlankFinder[], shimsightFlankFinderEnd[];
}

namespace shimsight::teeth {

std::span<const char> flankFinderOnnx() { return {shimsightFlankFinder, shimsightFlankFinderEnd}; }

}  // namespace shimsight::teeth
