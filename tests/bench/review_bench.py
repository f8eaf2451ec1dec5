#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""How fast a review reads and how much memory it takes: python3 tests/bench/review_bench.py build/release/shimsight [COUNT...]

Copies two small jobs of samples/archive (one trial of two photos each, 640 x 480) until there are COUNT photos; every
photo gets other bytes by a comment in the JPEG, so that nothing is known from before. Lines and page are written.
Processor time and memory are the process's own and hold on a busy machine too; the wall clock does not.
"""

import pathlib
import shutil
import sys
import tempfile

from process_cost import process_cost

ROOT = pathlib.Path(__file__).resolve().parents[2]
JOBS = ("02-van-08", "10-farm-truck-03")


def copies(base, photos):
    for number in range(photos // 2):
        job = base / f"job{number:04d}"
        shutil.copytree(ROOT / "samples/archive" / JOBS[number % 2], job)
        for file in (job / "photos").iterdir():
            text, jpeg = f"{number}".encode(), file.read_bytes()
            file.write_bytes(jpeg[:2] + b"\xff\xfe" + (len(text) + 2).to_bytes(2, "big") + text + jpeg[2:])


def measured(program, folder, out, cores):
    return process_cost([program, "review", folder, "--cache", out / "cache", "--jobs", cores, "--json", out / "lines.jsonl", "--html", out / "page.html"], cores)


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    counts = [int(word) for word in sys.argv[2:]] or [10, 100, 1000]
    print("| photos | processors | wall clock | a photo | processor time a photo | peak memory | again, from the cache |\n|---|---|---|---|---|---|---|")
    for count in counts:
        for cores in (1, 2) if count == 100 else (2,):
            with tempfile.TemporaryDirectory(prefix="shimsight-bench-") as folder:
                base = pathlib.Path(folder)
                copies(base / "jobs", count)
                (base / "out").mkdir()
                wall, cpu, memory = measured(program, base / "jobs", base / "out", cores)
                again, _, memoryAgain = measured(program, base / "jobs", base / "out", cores)
                print(f"| {count} | {cores} | {wall:.1f} s | {1000 * wall / count:.0f} ms | {1000 * cpu / count:.0f} ms | {memory:.0f} MB | "
                      f"{again:.1f} s, {memoryAgain:.0f} MB |", flush=True)


if __name__ == "__main__":
    main()
