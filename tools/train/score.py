# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Scores of a checkpoint on shards never trained on, by how large the flanks are in the picture.

    python3 tools/train/score.py WEIGHTS SHARD_FOLDER
"""
import sys

import torch

import augment
import data
import export
import network

BINS = [(10, 25), (25, 60), (60, 150), (150, 10 ** 9)]  # visible cells of a flank; a cell is 4 x 4 input pixels


@torch.no_grad()
def main():
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    model = export.load(sys.argv[1]).to(device)
    pictures = data.Pictures(sys.argv[2], 400, device)
    pictures.look()
    flanks = []  # cells, share found, share of right side among them, median |du|, |dv|, bias of u and v, centre error
    plain = false = 0
    for k in range(pictures.count):
        photo, (kind, coords, offset, flank, known, _) = augment.untouched(pictures, torch.tensor([k], device=device))
        planes = model(photo)
        guess = planes[0, :5].argmax(0)
        found = (guess == 1) | (guess == 2)
        if pictures.notes[k, 0] == 0:
            plain += 1
            false += int(found.sum() > 10)
            continue
        code = torch.where(flank[0], pictures.labels[k, 3, 2::4, 2::4].long() * 2 + (kind[0] == 2), torch.full_like(kind[0], -1))
        for one in code.unique():
            mine = code == one
            cells = int(mine.sum())
            if one < 0 or cells < BINS[0][0]:
                continue
            seen = mine & found
            if not seen.any():
                flanks.append([cells, 0.0] + [float("nan")] * 6)
                continue
            off = (planes[0, 5:7] - coords[0])[:, seen]
            aim = ((planes[0, 7:9] - offset[0])[:, seen] * network.CENTRE_UNIT).norm(dim=0)
            flanks.append([cells, float(seen.sum()) / cells, float((guess == kind[0])[seen].float().mean()), float(off[0].abs().median()),
                           float(off[1].abs().median()), abs(float(off[0].median())), abs(float(off[1].median())), float(aim.median())])
    print(f"{pictures.count} pictures, {plain} without gear, of these {false} with more than 10 flank cells")
    print("| cells of the flank | flanks | cells found | wrong side (by majority) | |du| median, 95 % | |dv| median, 95 % | common shift of u, v (median) | centre, px |")
    print("|---|---|---|---|---|---|---|---|")
    if not flanks:
        return
    table = torch.tensor(flanks)
    for low, high in BINS:
        part = table[(table[:, 0] >= low) & (table[:, 0] < high)]
        some = part[part[:, 1] > 0.3]
        if not len(some):
            continue
        q = lambda c, p: float(torch.quantile(some[:, c], p))
        print(f"| {low} to {high if high < 10 ** 9 else '...'} | {len(part)} | {float(part[:, 1].mean()):.3f} | {float((some[:, 2] < 0.5).float().mean()):.4f} | "
              f"{q(3, .5):.4f}, {q(3, .95):.4f} | {q(4, .5):.4f}, {q(4, .95):.4f} | {q(5, .5):.4f}, {q(6, .5):.4f} | {q(7, .5):.1f} |")


if __name__ == "__main__":
    main()
