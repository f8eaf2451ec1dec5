#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Tables from the CSV files of line_study: summarise.py [--stretch X] FILE.csv... (standard library only).

--stretch X widens the recorded intervals about their middle, to see what wider ones would hold.
"""
import csv
import sys


def quantile(values, share):
    values = sorted(values)
    return values[int(share * (len(values) - 1) + 0.5)] if values else float("nan")


def side_rows(rows, side):
    for row in rows:
        if row[side + "_read"] == "1":
            yield row


def errors(rows, side, axis):
    return [100 * abs(float(r[f"{side}_{axis}"]) - float(r[f"{side}_true_{axis}"])) for r in side_rows(rows, side)]


def main(files):
    stretch = 1.0
    if files[0] == "--stretch":
        stretch = float(files[1])
        files = files[2:]
    rows = [row for name in files for row in csv.DictReader(open(name, newline=""))]
    for row in rows:
        low, high = float(row["low90_thou"]), float(row["high90_thou"])
        row["low90_thou"] = 0.5 * (low + high) - 0.5 * stretch * (high - low)
        row["high90_thou"] = 0.5 * (low + high) + 0.5 * stretch * (high - low)
    asked = sum(int(r[s + "_asked"]) for r in rows for s in ("drive", "coast"))
    read = sum(int(r[s + "_read"]) for r in rows for s in ("drive", "coast"))
    print(f"trials {len(rows)}; sides shown in a photo with rolled flanks well in view {asked}, of them read {read} "
          f"({100 * read / asked:.1f} %)\n")
    print("| side | n | centre, % of length: median | 95 % within | centre, % of height: median | 95 % within |")
    print("|---|---|---|---|---|---|")
    for side in ("drive", "coast"):
        u, v = errors(rows, side, "u"), errors(rows, side, "v")
        print(f"| {side} | {len(u)} | {quantile(u, .5):.2f} | {quantile(u, .95):.2f} | {quantile(v, .5):.2f} | "
              f"{quantile(v, .95):.2f} |")
    for what in ("wiped", "transferred", "bench", "stand", "axle", "white", "grey", "yellow", "red-brown", "blue", "green", "orange"):
        sides = [(r, s) for r in rows for s in ("drive", "coast")
                 if r[s + "_asked"] == "1" and (what in r[s + "_what"].split()[0].split("/") or r[s + "_what"].split()[1] == what)]
        got = [(r, s) for r, s in sides if r[s + "_read"] == "1"]
        u = [100 * abs(float(r[s + "_u"]) - float(r[s + "_true_u"])) for r, s in got]
        v = [100 * abs(float(r[s + "_v"]) - float(r[s + "_true_v"])) for r, s in got]
        print(f"| {what}: read {len(got)} of {len(sides)} | {len(u)} | {quantile(u, .5):.2f} | {quantile(u, .95):.2f} | "
              f"{quantile(v, .5):.2f} | {quantile(v, .95):.2f} |")
    pull = {axis: [abs(float(r[f"{s}_{axis}"]) - float(r[f"{s}_true_{axis}"])) / float(r[f"{s}_sigma_{axis}"])
                   for s in ("drive", "coast") for r in side_rows(rows, s)] for axis in "uv"}
    print(f"\ncentre error over its stated standard error: 68 % within {quantile(pull['u'], .68):.2f} (length), "
          f"{quantile(pull['v'], .68):.2f} (height); 95 % within {quantile(pull['u'], .95):.2f}, {quantile(pull['v'], .95):.2f}\n")
    print("| trials | n | depth error, thousandths: median | 95 % within | 90 % interval holds | direction right beyond 3 "
          "| told to measure again | acceptable after one correction |")
    print("|---|---|---|---|---|---|---|---|")
    advised = [r for r in rows if r["advised"] == "1"]
    both = [r for r in advised if r["drive_read"] == "1" and r["coast_read"] == "1"]
    for name, chosen in (("both sides read", both), ("both, not told to measure again", [r for r in both if r["verdict"] != "measure-again"]),
                         ("one side read", [r for r in advised if r not in both])):
        error = [abs(float(r["best_thou"]) - float(r["true_depth_thou"])) for r in chosen]
        held = sum(float(r["low90_thou"]) <= float(r["true_depth_thou"]) <= float(r["high90_thou"]) for r in chosen)
        beyond = [r for r in chosen if abs(float(r["true_depth_thou"])) > 3]
        right = sum((float(r["best_thou"]) > 0) == (float(r["true_depth_thou"]) > 0) for r in beyond)
        again = sum(r["verdict"] == "measure-again" for r in chosen)
        good = sum(int(r["acceptable_after"]) for r in chosen)
        n = max(1, len(chosen))
        print(f"| {name} | {len(chosen)} | {quantile(error, .5):.2f} | {quantile(error, .95):.2f} | {100 * held / n:.1f} % | "
              f"{right} of {len(beyond)} | {again} | {100 * good / n:.1f} % |")
    print("\nchance told -> came true (both sides read, a change or acceptance advised):")
    for k in range(5):
        bin_rows = [r for r in both if r["verdict"] in ("change", "accept") and k / 5 <= float(r["chance_next"]) < (k + 1) / 5 + (k == 4)]
        if bin_rows:
            told = sum(float(r["chance_next"]) for r in bin_rows) / len(bin_rows)
            true = sum(int(r["acceptable_after"]) for r in bin_rows) / len(bin_rows)
            print(f"  {told:.2f} -> {true:.2f} ({len(bin_rows)})")


if __name__ == "__main__":
    main(sys.argv[1:])
