#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Pictures and training in one go: pictures are made on all processors but two while the training already runs on those
# that are there.
#   tools/train/run.sh TOOL FOLDER MINUTES COUNT FIRST_SEED SIZES [WEIGHTS_FOLDER [RATE]]
# TOOL: the program make_training_set. SIZES: one word for each GPU, "swift", "swift swift"; results in
# FOLDER/0-swift, FOLDER/1-swift and so on; alike ones draw differently, for blend.py. WEIGHTS_FOLDER: swift.pt and
# so on to begin from, best with a lower RATE than the usual one; without it, training begins from nothing.
set -eu
tool=$1 folder=$2 minutes=$3 count=$4 seed=$5 sizes=$6 weights=${7:-} rate=${8:-2e-3}
here=$(cd "$(dirname "$0")" && pwd)
cores=$(nproc)
mkdir -p "$folder/pictures" "$folder/plain" "$folder/styles"
nice -n 10 "$tool" "$folder/pictures" --seed "$seed" --count "$count" --shard 16 --threads $((cores > 3 ? cores - 2 : 1)) &
makers=$!
# To validate: the hard half of the settings; things that are no gear; styles as in the training, seeds never trained on.
"$tool" "$folder/validation" --seed 9000001 --count 256 --shard 4 --wide 1 --threads "$cores"
(nice -n 5 "$tool" "$folder/plain" --seed 9800001 --count 320 --shard 4 --without-gear 1 --threads 6
 nice -n 5 "$tool" "$folder/styles" --seed 9900001 --count 192 --shard 4 --threads 6) &
card=0
trainers=()
for size in $sizes; do
    begin=()
    if [ -n "$weights" ]; then begin=(--begin-from "$weights/$size.pt"); fi
    python3 "$here/train.py" --data "$folder/pictures" --validation "$folder/validation" --plain "$folder/plain" \
        --out "$folder/$card-$size" --size "$size" --minutes "$minutes" --first 512 --room "$count" --device "cuda:$card" \
        --seed $((card + 1)) --rate "$rate" "${begin[@]}" &
    trainers+=($!)
    card=$((card + 1))
done
wait "${trainers[@]}"
kill "$makers" 2>/dev/null || true
wait
