# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What `shimsight read` says of a folder of photos that show no pattern.

Usage: negatives.py BINARY FOLDER [OUT.csv]. Exit status 1 when any photo gives a reading.
"""
import collections
import csv
import json
import os
import pathlib
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

KINDS = {".jpg", ".jpeg", ".png", ".webp", ".heic"}


def told(binary, photo):
    run = subprocess.run([binary, "read", str(photo), "--json"], capture_output=True, text=True, check=False)
    if not run.stdout:
        return photo.name, 0, 0, 0, run.stderr.strip()
    reading = json.loads(run.stdout)
    said = reading["photos"][0]
    reason = said["refused"]["reason"] if said["refused"] else ""
    read = any(reading["pattern"][side] for side in ("drive", "coast"))
    return photo.name, int(read), len(said["flanks"]), len(said["refused_flanks"]), reason


def main(binary, folder, out=None):
    photos = sorted(path for path in pathlib.Path(folder).iterdir() if path.suffix.lower() in KINDS)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        rows = list(pool.map(lambda photo: told(binary, photo), photos))
    if out:
        with open(out, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(("photo", "reading", "flanks_read", "flanks_left_out", "refused"))
            writer.writerows(rows)
    readings = sum(row[1] for row in rows)
    print(f"photos {len(rows)}, readings {readings}, photos with a flank found {sum(row[2] + row[3] > 0 for row in rows)}")
    for reason, count in collections.Counter(re.sub(r"\d+", "N", row[4]) for row in rows).most_common():
        print(f"{count:6d}  {reason or '(none)'}")
    for row in rows:
        if row[1] or row[2] or row[3]:
            print("  ", *row)
    return 1 if readings else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
