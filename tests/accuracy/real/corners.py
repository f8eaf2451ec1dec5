# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""How far the corners of found flanks lie from those that a person marked, on real photos.

Usage, from the root of the repository: corners.py BINARY [FOLDER]. For each PHOTO.outline.json of the folder the photo
is read without marks; of each marked flank the nearest found one is taken, read or left out. Corners in percent of the
marked flank's length; exit status 1 when a marked flank has none within a quarter of its length.
"""
import json
import math
import pathlib
import subprocess
import sys

FOUND_WITHIN = 0.25


def distance(a, b):
    return math.hypot(a[0] - b[0], a[1] - b[1])


def middle(corners):
    return [sum(c[k] for c in corners) / 4 for k in (0, 1)]


def found_in(binary, photo):
    run = subprocess.run([binary, "read", str(photo), "--json"], capture_output=True, text=True, check=False)
    told = json.loads(run.stdout)["photos"][0]
    return [flank["outline_px"] for flank in told["flanks"] + told["refused_flanks"]], told["refused"]


def main(binary, folder):
    missed = 0
    for outline in sorted(pathlib.Path(folder).glob("*.outline.json")):
        photo = outline.with_name(outline.name.replace(".outline.json", ".jpg"))
        flanks, refused = found_in(binary, photo)
        print(f"{photo.name}: {len(flanks)} flanks found; {refused['reason'] if refused else 'read'}")
        errors = []
        for marked in (flank["corners_px"] for flank in json.loads(outline.read_text())["flanks"]):
            length = (distance(marked[0], marked[3]) + distance(marked[1], marked[2])) / 2
            near = min(flanks, key=lambda corners: distance(middle(corners), middle(marked)), default=None)
            if near is None or distance(middle(near), middle(marked)) > FOUND_WITHIN * length:
                print("  not found")
                missed += 1
                continue
            off = [100 * distance(a, b) / length for a, b in zip(near, marked)]
            errors += off
            print("  corners off by " + ", ".join(f"{value:.1f}" for value in off) + " % of the length")
        if errors:
            errors.sort()
            print(f"  mean {sum(errors) / len(errors):.1f} %, worst {errors[-1]:.1f} %")
    return 1 if missed else 0


if __name__ == "__main__":
    here = str(pathlib.Path(__file__).resolve().parent)
    sys.exit(main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else here))
