#include "marks/network_data.h"

asm(".section .rodata\n"
    ".balign 16\n"
    ".globl shimsightMarkReader\n"
    "shimsightMarkReader:\n"
    ".incbin \"" SHIMSIGHT_MARK_READER
    "\"\n"
    ".globl shimsightMarkReaderEnd\n"
    "shimsightMarkReaderEnd:\n"
    ".text\n");

extern "C" {
extern const char shimsightMarkReader[], shimsightMarkReaderEnd[];
}

namespace shimsight::marks {

std::span<const char> markReaderOnnx() { return {shimsightMarkReader, shimsightMarkReaderEnd}; }

}  // namespace shimsight::marks
