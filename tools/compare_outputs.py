#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Runs an older and a newer shimsight over the samples and the demo archive and shows where their outputs differ.

Usage: compare_outputs.py OLD NEW [WORK]

Each command runs with both programs in the repository's root; exit status, standard output, standard error and the files
that it writes are compared byte for byte. Prints a line for each command and the differing lines; 1 where any differ.
"""

import difflib
import pathlib
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
SHOWN_LINES = 30


def sampleCommands():
    """Commands over the sample trials, the gear sets, the demo job and the archive; {out} is a fresh folder."""
    commands = []
    for args in sorted(ROOT.glob("samples/*/trial.args")):
        words = args.read_text(encoding="utf-8").split("\n")
        words = [word for word in words if word]
        photos = words[: words.index("--gear-set")] if "--gear-set" in words else words
        commands += [["read", *words], ["read", *words, "--json"], ["read", *photos],
                     ["read", *words, "--annotate", "{out}/pictures", "--maps", "{out}/maps"]]
    for gearSet in sorted(ROOT.glob("models/gear-sets/*.json")):
        name = str(gearSet.relative_to(ROOT))
        commands += [["gear-set", name], ["predict", "--gear-set", name, "--depth", "4thou"],
                     ["predict", "--gear-set", name, "--depth", "4thou", "--json"]]
    commands += [["advise", "--gear-set", "models/gear-sets/lab-van-rear-axle-b.json", "--backlash", "7thou"],
                 ["job", "status", "samples/job-van-17"], ["job", "show", "samples/job-van-17", "--json"],
                 ["build-sheet", "samples/job-van-17", "--html", "{out}/sheet.html"],
                 ["review", "samples/archive", "--no-cache", "--html", "{out}/review.html", "--json", "{out}/review.jsonl",
                  "--csv", "{out}/review.csv"],
                 ["lesson", "--list"], ["lesson", "depth"], ["lesson", "--page", "{out}/lessons"]]
    return commands


def run(program, words, out):
    """(exit status, stdout, stderr, {file: bytes}) of one command; the name of the output folder is taken out."""
    out.mkdir()
    done = subprocess.run([program, *(word.replace("{out}", str(out)) for word in words)], cwd=ROOT,
                          capture_output=True, timeout=600, check=False)
    files = {str(path.relative_to(out)): path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}
    clean = lambda data: data.replace(str(out).encode(), b"OUT").replace(str(program).encode(), b"shimsight")
    return done.returncode, clean(done.stdout), clean(done.stderr), {name: clean(data) for name, data in files.items()}


def difference(name, old, new):
    if b"\0" in old or b"\0" in new:
        return [f"    {name}: {len(old)} and {len(new)} bytes"]
    lines = list(difflib.unified_diff(old.decode("utf-8", "replace").splitlines(),
                                      new.decode("utf-8", "replace").splitlines(), name, name, lineterm="", n=0))
    return ["    " + line[:300] for line in lines[:SHOWN_LINES]]


def compare(words, old, new):
    lines = [] if old[0] == new[0] else [f"    exit status {old[0]} and {new[0]}"]
    for name, a, b in [("standard output", old[1], new[1]), ("standard error", old[2], new[2])]:
        lines += difference(name, a, b) if a != b else []
    for name in sorted(old[3].keys() | new[3].keys()):
        a, b = old[3].get(name), new[3].get(name)
        if a is None or b is None:
            lines.append(f"    {name}: written by {'the newer' if a is None else 'the older'} only")
        elif a != b:
            lines += difference(name, a, b)
    print(("same     " if not lines else "DIFFERS  ") + " ".join(words))
    for line in lines:
        print(line)
    return not lines


def main(arguments):
    if len(arguments) not in (2, 3):
        sys.exit(__doc__)
    programs = [pathlib.Path(name).resolve() for name in arguments[:2]]
    work = pathlib.Path(arguments[2] if len(arguments) == 3 else tempfile.mkdtemp())
    same = True
    for number, words in enumerate(sampleCommands()):
        results = [run(program, words, work / f"{number}-{which}") for which, program in enumerate(programs)]
        same = compare(words, *results) and same
        for which in range(2):
            shutil.rmtree(work / f"{number}-{which}")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
