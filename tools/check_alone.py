#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Checks that every source file and every header compiles by itself, without warnings.

Usage: check_alone.py BUILD [PATH ...]

Where a build compiles all files of a module as one, a file may live on the includes of another. BUILD is a folder that
CMake has configured with one compile command for each file (preset "clang"); nothing needs to be built in it but the
headers that the build writes (target shimsight_written). Each file is parsed with the warnings of its own command, and no
code is made of it, which takes a third of the time. Headers have no command: one that a source file includes before
anything else is proven by that file; the others are parsed with the command of a source file that includes them, or else
of one nearby. With PATHs only the files and headers that begin with one of them (relative to the root).

Large headers of libraries are parsed once for all files that include the same ones and compiled alike, and read back from
there (LARGE). A file gets those alone that it includes itself, directly or through headers of our own; where it proves a
header, those of that header.

Prints what the compiler says of each file that fails, and exits with 1 if there was one.
"""

import concurrent.futures
import json
import os
import pathlib
import re
import shlex
import subprocess
import sys
import tempfile

# Of a compile command: left out with the word behind it, and left out alone.
WITH_VALUE = {"-o", "-MF", "-MT", "-MQ"}
ALONE = {"-c", "-MD", "-MMD"}
FOLDERS = ("include", "src", "tests", "tools")
INCLUDE = re.compile(r'^\s*#\s*include\s*(["<])([^">]+)[">]', re.MULTILINE)

# Headers from outside that are worth parsing once, by how their names begin.
LARGE = ("Eigen/", "catch2/", "nlohmann/", "opencv2/", "CLI/")
# A group of files that is smaller parses them by itself.
MIN_GROUP = 3


def parseCommand(entry):
    """The words of the compile command in `entry` that parse alone, without the file itself."""
    words = entry.get("arguments") or shlex.split(entry["command"])
    kept, skip = [], False
    for word in words:
        if skip:
            skip = False
        elif word in WITH_VALUE:
            skip = True
        elif word not in ALONE and word != entry["file"]:
            kept.append(word)
    return [*kept, "-fsyntax-only"]


def headersIn(root):
    """All headers of our own, relative to `root`."""
    for folder in FOLDERS:
        for path in sorted((root / folder).rglob("*.h")):
            if "node_modules" not in path.parts:
                yield path.relative_to(root)


def includes(root, source):
    """(name, header) of all that `source` includes, in their order: headers of our own relative to `root`, None for others."""
    for quote, name in INCLUDE.findall(source.read_text(encoding="utf-8")):
        places = [folder / name for folder in (source.parent, *(root / folder for folder in FOLDERS))]
        found = [place for place in places if quote == '"' and place.is_file()]
        yield name, found[0].resolve().relative_to(root) if found else None


def largeHeaders(root, path, known):
    """The LARGE headers that `path`, relative to `root`, brings with it; `known`: what was found before."""
    if path not in known:
        known[path] = frozenset()  # for headers that include each other
        found = set()
        for name, own in includes(root, root / path):
            if own is not None:
                found |= largeHeaders(root, own, known)
            elif name.startswith(LARGE):
                found.add(name)
        known[path] = frozenset(found)
    return known[path]


def largeHeadersOf(root, path, known):
    """Those that may stand before `path`: a source file that proves a header must not lend it more than its own."""
    _, first = next(includes(root, root / path), (None, None)) if path.suffix != ".h" else (None, None)
    return largeHeaders(root, first or path, known)


def withLargeParsedOnce(root, todo, folder, workers):
    """`todo` with the large headers of each task read back from `folder`, where they are written for each group."""
    known, groups = {}, {}
    for task in todo:
        headers = largeHeadersOf(root, task[0], known)
        # What a language option is must be the same; folders and the macros of one target need not.
        alike = tuple(word for word in task[2][:-1] if word.startswith(("-f", "-std", "-O", "-m")))
        groups.setdefault((headers, alike), []).append(task)

    def written(place, headers, task):
        source, precompiled = folder / f"{place}.h", folder / f"{place}.pch"
        source.write_text("".join(f"#include <{name}>\n" for name in sorted(headers)), encoding="utf-8")
        words = [word for word in task[2] if not word.startswith(("-DSHIMSIGHT", "-fsyntax-only"))]
        words = words[: words.index("-include")] if "-include" in words else words[:-1]
        done = subprocess.run(
            [*words, "-x", "c++-header", str(source), "-o", str(precompiled)], cwd=task[1], capture_output=True, check=False
        )
        return precompiled if done.returncode == 0 else None

    large = [(headers, members) for (headers, _), members in groups.items() if headers and len(members) >= MIN_GROUP]
    files = list(workers.map(lambda one: written(one[0], one[1][0], one[1][1][0]), enumerate(large)))
    changed = {}
    for (_, members), file in zip(large, files, strict=True):
        for path, place, words in members if file else []:
            changed[path] = (path, place, [words[0], "-include-pch", str(file), *words[1:]])
    return [changed.get(task[0], task) for task in todo]


def sharedFolders(header, source):
    return len(os.path.commonprefix([header.parts, source.parts]))


def tasks(root, build):
    """[(path relative to the root, folder, words)] for all that is to be parsed."""
    commands = {}
    for entry in json.loads((build / "compile_commands.json").read_text(encoding="utf-8")):
        path = pathlib.Path(entry["file"])
        if path.is_relative_to(root) and not path.is_relative_to(build):
            commands.setdefault(path.relative_to(root), entry)
    if not commands or any("Unity" in path.parts for path in commands):
        sys.exit(f"{build}: no compile command for each file")
    for path, entry in commands.items():
        yield path, entry["directory"], [*parseCommand(entry), entry["file"]]
    proven, users = set(), {}
    for path, entry in commands.items():
        for place, (_, header) in enumerate(includes(root, root / path)):
            if place == 0:
                proven.add(header)
            users.setdefault(header, entry)
    for header in headersIn(root):
        if header not in proven:
            near = max(commands, key=lambda path: sharedFolders(header, path))
            entry = users.get(header, commands[near])
            words = [*parseCommand(entry), "-include", str(root / header), "-x", "c++", "/dev/null"]
            yield header, entry["directory"], words


def faultOf(task):
    """(path, what the compiler says), the latter empty when all is well."""
    path, folder, words = task
    run = subprocess.run(words, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
    return path, run.stdout if run.returncode else ""


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    root = pathlib.Path(__file__).resolve().parents[1]
    todo = list(tasks(root, pathlib.Path(sys.argv[1]).resolve()))
    if sys.argv[2:]:
        todo = [task for task in todo if str(task[0]).startswith(tuple(sys.argv[2:]))]
    headers = sum(task[0].suffix == ".h" for task in todo)
    faults = 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as workers, tempfile.TemporaryDirectory() as folder:
        todo = withLargeParsedOnce(root, todo, pathlib.Path(folder), workers)
        for path, said in workers.map(faultOf, todo):
            if said:
                faults += 1
                print(f"{path}: does not compile by itself\n{said}", flush=True)
    print(f"alone: {len(todo) - headers} source files and {headers} headers, {faults} faults")
    sys.exit(faults != 0)


if __name__ == "__main__":
    main()
