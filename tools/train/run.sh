#!/usr/bin/env bash
# Pictures and training in one go: pictures are made on all processors but two while the training already runs on those
# that are there. Two GPUs: the second trains the small network on the same pictures.
#   tools/train/run.sh TOOL FOLDER MINUTES COUNT
# TOOL: the program make_training_set. Results: FOLDER/middle (and FOLDER/small).
set -eu
tool=$1 folder=$2 minutes=$3 count=$4
here=$(cd "$(dirname "$0")" && pwd)
cores=$(nproc)
mkdir -p "$folder/pictures"
"$tool" "$folder/validation" --seed 9000001 --count 256 --shard 4 --wide 1 --threads "$cores"
nice -n 10 "$tool" "$folder/pictures" --seed 1 --count "$count" --shard 16 --threads $((cores > 3 ? cores - 2 : 1)) &
train() {
    python3 "$here/train.py" --data "$folder/pictures" --validation "$folder/validation" --out "$folder/$1" --size "$1" \
        --minutes "$minutes" --first 512 --device "$2"
}
if [ "$(nvidia-smi -L | wc -l)" -gt 1 ]; then train small cuda:1 & fi
train middle cuda:0
wait
