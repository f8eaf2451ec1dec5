#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Builds Shimsight and runs every test: as shipped, then with the address and undefined-behaviour sanitizers.
set -euo pipefail
cd "$(dirname "$0")/.."

tools/install_packages.sh test
.ci/run layers
.ci/run build
.ci/run test
.ci/run asan
