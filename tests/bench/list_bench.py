#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What it costs a review to list very many photos: python3 tests/bench/list_bench.py build/release/shimsight [COUNT...]

COUNT files of four kilobytes, the beginning of a sample photo with a camera's time put in, a hundred to a folder, four to a
trial. `--part 1/COUNT` reads one of them and lists all. Processor time and memory are the process's own; the files are
in the system's memory, so a disk's own time is not in it.
"""

import pathlib
import sys
import tempfile

from process_cost import process_cost

ROOT = pathlib.Path(__file__).resolve().parents[2]
BYTES, FOLDER, TRIAL = 4096, 100, 4


def note(at):
    """An APP1 segment with Exif, DateTimeOriginal alone (Exif 2.3: tags 0x8769 and 0x9003)."""
    text = at.encode() + b"\0"
    sub = b"\0\1" + b"\x90\x03\0\2" + len(text).to_bytes(4, "big") + (44).to_bytes(4, "big") + bytes(4)
    tiff = b"MM\0\x2a" + (8).to_bytes(4, "big") + b"\0\1" + b"\x87\x69\0\4" + (1).to_bytes(4, "big") + (26).to_bytes(4, "big") + bytes(4)
    body = b"Exif\0\0" + tiff + sub + text
    return b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body


def photos(base, count):
    start = (ROOT / "samples/van-b-good/drive.jpg").read_bytes()
    for number in range(count):
        folder = base / f"folder{number // FOLDER:05d}"
        folder.mkdir(parents=True, exist_ok=True)
        minutes = number % FOLDER // TRIAL * 30 + number % TRIAL
        at = f"2026:03:{1 + number // FOLDER % 28:02d} {6 + minutes // 60:02d}:{minutes % 60:02d}:00"
        (folder / f"photo{number % FOLDER:03d}.jpg").write_bytes((start[:2] + note(at) + start[2:])[:BYTES])


def listed(program, base, count):
    with tempfile.TemporaryDirectory(prefix="shimsight-bench-") as out:
        return process_cost([program, "review", base, "--part", f"1/{max(count, 1)}", "--no-cache", "--json", out + "/lines.jsonl"])


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    print("| files | wall clock | processor time | a file | peak memory |\n|---|---|---|---|---|")
    for count in [int(word) for word in sys.argv[2:]] or [1, 1000, 10_000, 100_000]:
        with tempfile.TemporaryDirectory(prefix="shimsight-bench-") as folder:
            photos(pathlib.Path(folder), count)
            wall, cpu, memory = listed(program, pathlib.Path(folder), count)
            print(f"| {count} | {wall:.1f} s | {cpu:.2f} s | {1e6 * cpu / count:.0f} us | {memory:.0f} MB |", flush=True)


if __name__ == "__main__":
    main()
