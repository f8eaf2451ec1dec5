#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Looks for inputs that break a promise: tests/fuzz/run.sh SECONDS [TARGET...]. Builds by the preset "asan" (clang). New
# inputs that reach new code gather in build/fuzz/found/TARGET; what breaks is kept there as crash-*, timeout-* or oom-*.
set -euo pipefail
cd "$(dirname "$0")/../.."
seconds=${1:?usage: tests/fuzz/run.sh SECONDS [TARGET...]}
shift
targets=("$@")
if [ ${#targets[@]} -eq 0 ]; then
    mapfile -t targets < <(ls tests/fuzz/corpus)
fi
launcher=()
if command -v ccache >/dev/null; then
    launcher=(-DCMAKE_CXX_COMPILER_LAUNCHER=ccache)
fi
cmake --preset asan "${launcher[@]}" >/dev/null
cmake --build --preset asan --target fuzz --parallel "$(nproc)"

# At most as many at a time as there are processors; libFuzzer's own files lie in a folder of each.
one() {
    local target=$1 found=build/fuzz/found/$1
    mkdir -p "$found"
    local words=()
    [ -f "tests/fuzz/dictionaries/$target.dict" ] && words=("-dict=tests/fuzz/dictionaries/$target.dict")
    # Short texts are tried three times as often as long ones. Pictures and records need their length: the seeds of job
    # and measurement are 7 kB, and cut to 2 kB they reach a third of the code.
    local length=2048
    case $target in photo | exif | uploads | job | measurement) length=16384 ;; esac
    local status=0
    # Without weighing inputs by how rare their features are, a fifth to a quarter of the time on the larger targets.
    ASAN_OPTIONS=malloc_context_size=4:max_malloc_fill_size=0:quarantine_size_mb=16 SHIMSIGHT_FUZZ=$target LSAN_OPTIONS=suppressions=tests/leaks.txt:print_suppressions=0 \
        build/asan/tests/fuzz/fuzz "${words[@]}" -max_total_time="$seconds" -max_len="$length" -entropic=0 -timeout=20 -rss_limit_mb=2048 \
        -print_final_stats=1 -artifact_prefix="$found/" "$found" "tests/fuzz/corpus/$target" \
        >"build/fuzz/$target.log" 2>&1 || status=$?
    local outcome="nothing found"
    [ $status -eq 0 ] || outcome="FOUND, see build/fuzz/$target.log"
    printf '%-12s %10s runs, %6s edges, %4s MB, %s\n' "$target" \
        "$(sed -n 's/^stat::number_of_executed_units: *//p' "build/fuzz/$target.log")" \
        "$(grep -o 'cov: [0-9]*' "build/fuzz/$target.log" | tail -1 | cut -d' ' -f2)" \
        "$(sed -n 's/^stat::peak_rss_mb: *//p' "build/fuzz/$target.log")" "$outcome"
    return $status
}
export -f one
export seconds
printf '%s\n' "${targets[@]}" | xargs -P "$(nproc)" -I{} bash -c 'one {}'
