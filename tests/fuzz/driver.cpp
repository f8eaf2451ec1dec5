// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Under libFuzzer: the target is named by the variable SHIMSIGHT_FUZZ.
#include "fuzz/targets.h"

namespace {

const shimsight::fuzz::Target* chosen = nullptr;

}  // namespace

extern "C" int LLVMFuzzerInitialize(int*, char***) {
    const char* name = std::getenv("SHIMSIGHT_FUZZ");
    chosen = name != nullptr ? shimsight::fuzz::targetByName(name) : nullptr;
    if (chosen != nullptr) return 0;
    std::fprintf(stderr, "SHIMSIGHT_FUZZ names one of:");
    for (const auto& target : shimsight::fuzz::targets())
        std::fprintf(stderr, " %.*s", static_cast<int>(target.name.size()), target.name.data());
    std::fprintf(stderr, "\n");
    std::exit(2);
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    chosen->run({data, size});
    return 0;
}
