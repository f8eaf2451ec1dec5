#!/usr/bin/env bash
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
# Both networks at once on a machine with two GPUs, going on from the networks in use: pictures are made all the while, the
# trainings take in what is there. The finder is trained in two steps on the first GPU and in one on the second; the mark
# reader in two steps on the second.
#   tools/train/run_both.sh PROGRAMS FOLDER FIRST_MINUTES SECOND_MINUTES FINDER_SEED MARKS_SEED BEGIN PHOTOS
# PROGRAMS: a folder with make_training_set and make_mark_set. BEGIN: a folder with finder.pt and marks.pt. PHOTOS: real
# photos without a gear. Results: FOLDER/finder-1, finder-2, finder-long, marks-1, marks-2.
set -eu
programs=$1 folder=$2 first=$3 second=$4 finder_seed=$5 marks_seed=$6 begin=$7 photos=$8
here=$(cd "$(dirname "$0")" && pwd)
cores=$(nproc)
drawing=$((cores > 8 ? cores - 5 : 2))
for_marks=$((drawing * 3 / 10 + 1))
mkdir -p "$folder"/{pictures,validation,plain,shop,flanks,flanks-validation}

nice -n 5 "$programs/make_training_set" "$folder/shop" --seed 9700001 --count 64 --shard 2 --shop 1 --without-gear 0 --threads $((drawing - for_marks)) &
nice -n 5 "$programs/make_mark_set" "$folder/flanks-validation" --seed 42000001 --count 48 --shard 2 --plain 1 --threads "$for_marks" &
wait
nice -n 10 "$programs/make_training_set" "$folder/pictures" --seed "$finder_seed" --count 40000 --shard 8 --shop 0.55 --threads $((drawing - for_marks)) &
makers=($!)
nice -n 10 "$programs/make_mark_set" "$folder/flanks" --seed "$marks_seed" --count 20000 --shard 4 --shop 0.6 --threads "$for_marks" &
makers+=($!)
(nice -n 8 "$programs/make_training_set" "$folder/validation" --seed 9000001 --count 96 --shard 4 --wide 1 --threads 2
 nice -n 8 "$programs/make_training_set" "$folder/plain" --seed 9800001 --count 96 --shard 4 --without-gear 1 --threads 2) &

finder() {  # out, weights, minutes, device, rate, seed
    python3 "$here/train.py" --data "$folder/pictures" --validation "$folder/shop" --plain "$folder/plain" --shop "$folder/validation" \
        --photos "$photos" --out "$folder/$1" --size swift --minutes "$3" --first 256 --room 20000 --device "$4" --rate "$5" --seed "$6" \
        --begin-from "$2" --every 120 > "$folder/$1.txt" 2>&1
}
marks() {  # out, weights, minutes, rate, seed
    CUDA_VISIBLE_DEVICES=1 python3 "$here/marks.py" --data "$folder/flanks" --validation "$folder/flanks-validation" --out "$folder/$1" \
        --minutes "$3" --first 300 --batch 128 --room 60000 --rate "$4" --seed "$5" --resume "$2" --every 120 > "$folder/$1.txt" 2>&1
}
(finder finder-1 "$begin/finder.pt" "$first" cuda:0 1.2e-3 1 && finder finder-2 "$folder/finder-1/weights.pt" "$second" cuda:0 7e-4 2) &
trainers=($!)
finder finder-long "$begin/finder.pt" "$(python3 -c "print($first + $second)")" cuda:1 1.2e-3 3 &
trainers+=($!)
(marks marks-1 "$begin/marks.pt" "$first" 1.5e-3 1 && marks marks-2 "$folder/marks-1/weights.pt" "$second" 1e-3 2) &
trainers+=($!)
wait "${trainers[@]}" || true
kill "${makers[@]}" 2>/dev/null || true
find "$folder/pictures" -mindepth 1 | wc -l
find "$folder/flanks" -mindepth 1 | wc -l
