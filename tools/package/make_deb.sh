#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Installs what is needed, builds, and makes the Debian package in build/package.
set -euo pipefail
cd "$(dirname "$0")/../.."
tools/install_packages.sh package
cmake --preset release -DSHIMSIGHT_BUILD_TESTS=OFF
cmake --build --preset release --target shimsight manual --parallel "$(nproc)"
rm -f build/package/shimsight_*.deb
cpack --config build/release/CPackConfig.cmake -G DEB -B build/package
echo "Install it with: sudo apt-get install ./$(ls build/package/shimsight_*.deb)"
