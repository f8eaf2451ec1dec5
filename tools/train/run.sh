#!/usr/bin/env bash
# Pictures and training in one go: pictures are made on all processors but two while the training already runs on those
# that are there. Two GPUs: the second trains the quick network on the same pictures.
#   tools/train/run.sh TOOL FOLDER MINUTES COUNT FIRST_SEED [WEIGHTS_FOLDER [RATE]]
# TOOL: the program make_training_set. Results: FOLDER/middle (and FOLDER/quick). WEIGHTS_FOLDER: middle.pt and quick.pt
# to begin from (from_onnx.py makes them), best with a lower RATE than the usual one; without it, training begins from nothing.
set -eu
tool=$1 folder=$2 minutes=$3 count=$4 seed=$5 weights=${6:-} rate=${7:-2e-3}
here=$(cd "$(dirname "$0")" && pwd)
cores=$(nproc)
mkdir -p "$folder/pictures" "$folder/plain" "$folder/styles"
nice -n 10 "$tool" "$folder/pictures" --seed "$seed" --count "$count" --shard 16 --threads $((cores > 3 ? cores - 2 : 1)) &
makers=$!
# To validate: the hard half of the settings; things that are no gear; styles as in the training, seeds never trained on.
"$tool" "$folder/validation" --seed 9000001 --count 256 --shard 4 --wide 1 --threads "$cores"
(nice -n 5 "$tool" "$folder/plain" --seed 9800001 --count 320 --shard 4 --without-gear 1 --threads 6
 nice -n 5 "$tool" "$folder/styles" --seed 9900001 --count 192 --shard 4 --threads 6) &
train() {
    local begin=()
    if [ -n "$weights" ]; then begin=(--begin-from "$weights/$1.pt"); fi
    python3 "$here/train.py" --data "$folder/pictures" --validation "$folder/validation" --plain "$folder/plain" \
        --out "$folder/$1" --size "$1" --minutes "$minutes" --first 512 --room "$count" --device "$2" --rate "$rate" "${begin[@]}"
}
second=
if [ "$(nvidia-smi -L | wc -l)" -gt 1 ]; then
    train quick cuda:1 &
    second=$!
fi
train middle cuda:0
if [ -n "$second" ]; then wait "$second"; fi
kill "$makers" 2>/dev/null || true
wait
