// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/commands.h"

int main(int argc, char** argv) { return shimsight::cli::runProgram({argv + (argc > 0 ? 1 : 0), argv + argc}); }
