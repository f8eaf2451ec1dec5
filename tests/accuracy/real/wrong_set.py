# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Plays each sample trial with every gear set of models/gear-sets and tells what `shimsight read` makes of it.

Usage, from the root of the repository: wrong_set.py BINARY. Exit status 1 when the right set is called a misfit.
"""
import json
import pathlib
import subprocess
import sys


def words_of(folder):
    words = (folder / "trial.args").read_text().split("\n")
    return [word for word in words if word]


def played(binary, words, gear_set):
    args = list(words)
    args[args.index("--gear-set") + 1] = str(gear_set)
    run = subprocess.run([binary, "read", *args, "--json"], capture_output=True, text=True, check=False)
    if not run.stdout:
        return "not read"
    reading = json.loads(run.stdout)
    misfit, advice = reading["set_misfit"], reading["advice"]
    if misfit:
        return f"{misfit['what']} ({misfit['seen']:g}, the set {misfit['given']:g})"
    if advice is None:
        return "no advice"
    return f"{advice['verdict']}, {advice['certainty']}, {advice['pinion_depth_change_mm']['best']:+.2f} mm"


def main(binary):
    sets = sorted(pathlib.Path("models/gear-sets").glob("*.json"))
    wrong = 0
    print("| trial | gear set | |\n|---|---|---|")
    for args in sorted(pathlib.Path("samples").glob("*/trial.args")):
        words = words_of(args.parent)
        right = pathlib.Path(words[words.index("--gear-set") + 1]).name
        for gear_set in sets:
            answer = played(binary, words, gear_set)
            own = gear_set.name == right
            wrong += own and "(" in answer
            print(f"| {args.parent.name} | {gear_set.stem}{' (its own)' if own else ''} | {answer} |")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
