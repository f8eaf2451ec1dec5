#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Flanks and training of the mark reader in one go: flanks are made while the training already runs on those that are there.
#   tools/train/run_marks.sh TOOL FOLDER MINUTES COUNT FIRST_SEED [WEIGHTS]
# TOOL: the program make_mark_set. COUNT: the most pictures to make. Results: FOLDER/out. WEIGHTS: a weights.pt to go on from.
set -eu
tool=$1 folder=$2 minutes=$3 count=$4 seed=$5
here=$(cd "$(dirname "$0")" && pwd)
cores=$(nproc)
mkdir -p "$folder/train" "$folder/validation"
nice -n 10 "$tool" "$folder/train" --seed "$seed" --count "$count" --shard 8 --threads $((cores > 3 ? cores - 3 : 1)) &
makers=$!
nice -n 5 "$tool" "$folder/validation" --seed 42000001 --count 96 --shard 4 --threads 6 --plain 1 &
more=()
if [ $# -gt 5 ]; then more=(--resume "$6"); fi
python3 "$here/marks.py" --data "$folder/train" --validation "$folder/validation" --out "$folder/out" --minutes "$minutes" \
    --first 500 --batch 128 "${more[@]}"
kill "$makers" 2>/dev/null || true
wait
