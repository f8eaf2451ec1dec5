#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Installs what is needed, builds Shimsight, and reads the sample photos. No flank is marked: the teeth are found.
#
# Each folder samples/TRIAL/ with a file trial.args is one trial. The file holds the words that follow
# "shimsight read" for it, one a line, with file names as seen from the repository's root.
set -euo pipefail
cd "$(dirname "$0")/.."

tools/install_packages.sh run
cmake --preset release -DSHIMSIGHT_BUILD_TESTS=OFF
cmake --build --preset release --target shimsight --parallel "$(nproc)"

count=0
for file in samples/*/trial.args; do
    [ -e "$file" ] || continue
    mapfile -t words <"$file"
    trial=$(basename "$(dirname "$file")")
    printf '\n== %s ==\n$ shimsight read %s\n' "$trial" "${words[*]}"
    # Status 1 is an ordinary "this photo cannot be measured", which a sample may show too.
    build/release/shimsight read "${words[@]}" || [ $? -eq 1 ]
    count=$((count + 1))
done
if [ "$count" -eq 0 ]; then
    echo "demo: no samples/*/trial.args found" >&2
    exit 1
fi
