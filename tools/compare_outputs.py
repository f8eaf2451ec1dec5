#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Runs an older and a newer shimsight over the samples and the demo archive and shows where their outputs differ.

Usage: compare_outputs.py OLD NEW [WORK]

Each command runs with both programs in the repository's root; exit status, standard output, standard error and the files
that it writes are compared byte for byte. Prints a line for each command and the differing lines. Exits with 1 where any
differ, and where the older program calls a command wrong use or a fault of its own: that compares nothing.
"""

import difflib
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
SHOWN_LINES = 30


# Answers to the questions of a drill, and moves of a game.
ANSWERS = ["toe flank", "centre", "deeper 4thou", "heel", "toe face", "accept", "centre", "centre", "less 2thou"]
MOVES = ["deeper 4thou", "shallower 0.10mm, less 2thou", "accept"]


class Command:
    def __init__(self, *words, answers=()):
        self.words, self.answers = [str(word) for word in words], "".join(line + "\n" for line in answers)

    def __str__(self):
        return " ".join(self.words)


def readCommands():
    """Measuring the sample trials: with their gear set, as JSON, without it, with pictures and maps."""
    commands = []
    for args in sorted(ROOT.glob("samples/*/trial.args")):
        words = [word for word in args.read_text(encoding="utf-8").split("\n") if word]
        photos = words[: words.index("--gear-set")] if "--gear-set" in words else words
        commands += [Command("read", *words), Command("read", *words, "--json"), Command("read", *photos),
                     Command("read", *words, "--annotate", "{out}/pictures", "--maps", "{out}/maps")]
    return commands


def adviceCommands():
    """Gear sets and the advice on maps that the older program draws: {maps} is their folder."""
    commands = []
    for path in sorted(ROOT.glob("models/gear-sets/*.json")):
        name = str(path.relative_to(ROOT))
        commands += [Command("gear-set", name), Command("gear-set", name, "--units", "mm"),
                     Command("predict", "--gear-set", name, "--depth", "4thou"),
                     Command("predict", "--gear-set", name, "--depth", "4thou", "--json", "--maps", "{out}"),
                     Command("preload", "--gear-set", name, "--reading", "14in-lb"),
                     Command("start-shim", "--gear-set", name, "--old-figure", "2thou", "--new-figure=-1thou", "--old-stack", "31thou")]
        maps = ["--drive-map", f"{{maps}}/{path.stem}/drive.png", "--coast-map", f"{{maps}}/{path.stem}/coast.png"]
        advise = ["advise", "--gear-set", name, *maps, "--backlash", "7thou"]
        commands += [Command(*advise), Command(*advise, "--json", "--shim-stack", "31thou"), Command(*advise, "--units", "in"),
                     Command(*advise, "--used", "--runout", "2thou")]
    commands += [Command("preload", "--gear-set", "models/gear-sets/lab-van-rear-axle-b.json", "--reading", "0.052in:18in-lb", "--json"),
                 Command("start-shim", "--place", "under-bearing-cup", "--old-figure", "0thou", "--new-figure", "3thou", "--old-stack", "0.80mm", "--json")]
    return commands


def jobCommands():
    """The demo jobs and those of the archive: where they stand, their records, sheets and review."""
    commands = []
    for record in sorted(ROOT.glob("samples/**/job.json")):
        job = str(record.parent.relative_to(ROOT))
        commands += [Command("job", "status", job), Command("job", "status", job, "--json"), Command("job", "show", job),
                     Command("job", "show", job, "--json"), Command("report", job, "--html", "{out}/sheet.html")]
    return commands + [Command("review", "samples/archive", "samples/job-van-17", "samples/job-van-21-used", "samples/job-pickup-06-high-pinion",
                               "--no-cache", "--html", "{out}/review.html", "--json", "{out}/review.jsonl", "--csv", "{out}/review.csv")]


def lessonCommands():
    """Lessons, charts, the live tooth, drills and games: on the terminal and as pages."""
    setA, setB = "models/gear-sets/lab-van-rear-axle-a.json", "models/gear-sets/lab-light-truck-rear-axle.json"
    commands = [Command("lesson", "list")]
    for path in sorted(ROOT.glob("src/lesson/text/*.md")):
        commands.append(Command("lesson", "show", path.stem))
    commands += [Command("lesson", "show", "depth", "--units", "mm"), Command("lesson", "show", "depth", "--html", "{out}/depth.html"),
                 Command("lesson", "show", "all", "--html", "{out}/lessons.html")]
    for more in ([], ["--beside", setB], ["--units", "mm"]):
        commands.append(Command("lesson", "chart", "--gear-set", setA, *more, "--svg", "{out}/chart.svg", "--html", "{out}/chart.html"))
    commands += [Command("lesson", "live", "--html", "{out}/live.html"),
                 Command("lesson", "live", "--gear-set", setA, "--gear-set", setB, "--html", "{out}/live.html")]
    for level in (1, 2, 3, 4, 6, 7):
        commands.append(Command("lesson", "drill", "--seed", 7, "--level", level, "--questions", 3, answers=ANSWERS))
    commands += [Command("lesson", "drill", "--seed", 7, "--level", 3, "--questions", 3, "--exam", answers=ANSWERS),
                 Command("lesson", "drill", "--job", "samples/archive", answers=ANSWERS),
                 Command("lesson", "drill", "--seed", 7, "--questions", 3, "--html", "{out}/drill.html"),
                 Command("lesson", "drill", "--job", "samples/archive", "--html", "{out}/jobs.html"),
                 Command("lesson", "game", "--seed", 7, answers=MOVES), Command("lesson", "game", "--seed", 7, "--html", "{out}/game.html")]
    return commands


def allCommands():
    """{out} is a fresh folder."""
    render = Command("render", "--gear-set", "models/gear-sets/lab-van-rear-axle-a.json", "--size", "320x240", "--samples", 2,
                     "--out", "{out}/gear.jpg", "--truth", "{out}/truth.json")
    return readCommands() + adviceCommands() + jobCommands() + lessonCommands() + [render]


def drawMaps(program, folder):
    """The marks of each gear set with its pinion too deep, for advice on them."""
    for path in sorted(ROOT.glob("models/gear-sets/*.json")):
        subprocess.run([program, "predict", "--gear-set", path, "--depth", "5thou", "--maps", folder / path.stem],
                       cwd=ROOT, capture_output=True, timeout=600, check=True)


def run(program, command, out, maps):
    """(exit status, stdout, stderr, {file: bytes}) of one command; the name of the output folder is taken out. What the program
    keeps lies beside, for each of the two by itself."""
    out.mkdir()
    words = [word.replace("{out}", str(out)).replace("{maps}", str(maps)) for word in command.words]
    own = {**os.environ, "XDG_CACHE_HOME": str(maps.parent / f"cache-{out.name[-1]}")}
    done = subprocess.run([program, *words], cwd=ROOT, env=own, input=command.answers.encode(), capture_output=True, timeout=1200, check=False)
    files = {str(path.relative_to(out)): path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}
    clean = lambda data: data.replace(str(out).encode(), b"OUT").replace(str(program).encode(), b"shimsight")
    return done.returncode, clean(done.stdout), clean(done.stderr), {name: clean(data) for name, data in files.items()}


def difference(name, old, new):
    if b"\0" in old or b"\0" in new:
        return [f"    {name}: {len(old)} and {len(new)} bytes"]
    lines = list(difflib.unified_diff(old.decode("utf-8", "replace").splitlines(),
                                      new.decode("utf-8", "replace").splitlines(), name, name, lineterm="", n=0))
    return ["    " + line[:300] for line in lines[:SHOWN_LINES]]


def compare(command, old, new):
    """Whether both gave the same; prints it. Exit statuses 2 and 3 of the older program compare nothing."""
    if old[0] not in (0, 1):
        print(f"NO USE   {command}: the older program exits with {old[0]}: {old[2].decode('utf-8', 'replace')[:300]}")
        return False
    lines = [] if old[0] == new[0] else [f"    exit status {old[0]} and {new[0]}"]
    for name, a, b in [("standard output", old[1], new[1]), ("standard error", old[2], new[2])]:
        lines += difference(name, a, b) if a != b else []
    for name in sorted(old[3].keys() | new[3].keys()):
        a, b = old[3].get(name), new[3].get(name)
        if a is None or b is None:
            lines.append(f"    {name}: written by {'the newer' if a is None else 'the older'} only")
        elif a != b:
            lines += difference(name, a, b)
    print(("same     " if not lines else "DIFFERS  ") + str(command), flush=True)
    for line in lines:
        print(line)
    return not lines


def main(arguments):
    if len(arguments) not in (2, 3):
        sys.exit(__doc__)
    programs = [pathlib.Path(name).resolve() for name in arguments[:2]]
    work = pathlib.Path(arguments[2] if len(arguments) == 3 else tempfile.mkdtemp())
    work.mkdir(parents=True, exist_ok=True)
    drawMaps(programs[0], work / "maps")
    same, commands = 0, allCommands()
    for number, command in enumerate(commands):
        results = [run(program, command, work / f"{number}-{which}", work / "maps") for which, program in enumerate(programs)]
        same += compare(command, *results)
        for which in range(2):
            shutil.rmtree(work / f"{number}-{which}")
    print(f"{same} of {len(commands)} commands the same")
    return 0 if same == len(commands) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
