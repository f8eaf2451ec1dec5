// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The commands behind `shimsight job`, each taking the words after its name.
#pragma once

#include <string>
#include <vector>

#include "cli/commands.h"

namespace shimsight::cli {

int jobNew(const std::vector<std::string>& words);
int jobAddRunout(const std::vector<std::string>& words);
int jobAddDepth(const std::vector<std::string>& words);
int jobAddPreload(const std::vector<std::string>& words);
int jobAddBacklash(const std::vector<std::string>& words);
int jobAddCarrier(const std::vector<std::string>& words);
int jobAddTrial(const std::vector<std::string>& words);
int jobBefore(const std::vector<std::string>& words);
int jobChecked(const std::vector<std::string>& words);
int jobDone(const std::vector<std::string>& words);
int jobCheck(const std::vector<std::string>& words);
int jobRemark(const std::vector<std::string>& words);
int jobStrike(const std::vector<std::string>& words);
int jobSignOff(const std::vector<std::string>& words);
int jobReopen(const std::vector<std::string>& words);
int jobStatusCommand(const std::vector<std::string>& words);
int jobShow(const std::vector<std::string>& words);
int jobCorrect(const std::vector<std::string>& words);
int jobRestore(const std::vector<std::string>& words);

}  // namespace shimsight::cli
