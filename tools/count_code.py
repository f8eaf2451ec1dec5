#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Counts the code: lines of the product by module, functions that are too long, functions with too many parameters.

Usage: count_code.py [ROOT]

Lines are those of src/MODULE and of the module's public headers, comments and empty ones included; the files under page/
(scripts, styles, pages) are counted apart. Functions are those of C++ and JavaScript in src, include, tests and tools, as
universal-ctags finds them: over 80 lines from its first to its last, over six parameters. Lambdas are no functions of
their own here. Exits with 1 if a function is too long or has too many parameters.
"""

import collections
import json
import pathlib
import subprocess
import sys

import check_layers

MAX_LINES = 80
MAX_PARAMETERS = 6
FOLDERS = ("src", "include", "tests", "tools")
# The signature is the library's: every parameter of its callback.
CALLBACKS = {"onRequest": "libmicrohttpd"}


def lines(path):
    return path.read_bytes().count(b"\n")


def linesByModule(root):
    """{module: [C++ in src, public headers, pages]}."""
    modules, _ = check_layers.readModules(root)
    counted = collections.defaultdict(lambda: [0, 0, 0])
    for path in (root / "src").rglob("*"):
        parts = path.relative_to(root / "src").parts
        module = parts[0] if len(parts) > 1 else check_layers.moduleOfHeader(modules, path.name) or "main"
        if path.suffix in (".cpp", ".h"):
            counted[module][0] += lines(path)
        elif path.suffix in (".js", ".css", ".html"):
            counted[module][2] += lines(path)
    for path in (root / "include/shimsight").glob("*.h"):
        counted[check_layers.moduleOfHeader(modules, path.name) or "none"][1] += lines(path)
    return counted


def parameters(signature):
    """How many parameters the signature "(...)" has."""
    depth, count, seen = 0, 0, False
    for letter in signature[1:-1]:
        depth += letter in "([{<"
        depth -= letter in ")]}>"
        seen = seen or not letter.isspace()
        count += letter == "," and depth == 0
    return count + 1 if seen and signature != "(void)" else 0


def endOfScript(text, start):
    """The last line of the function of a script that begins at line `start`: ctags tells none, prettier's form does."""
    first = text[start - 1]
    if first.rstrip().endswith(("}", "};", "},")):
        return start
    indent = first[: len(first) - len(first.lstrip())]
    return next((k for k in range(start + 1, len(text) + 1) if text[k - 1].startswith(indent + "}")), start)


def functions(root):
    """(file, line, name, lines, parameters) of each function."""
    files = [str(path) for folder in FOLDERS for kind in ("cpp", "h", "js", "mjs") for path in (root / folder).rglob(f"*.{kind}")
             if "node_modules" not in path.parts and path.name != "three.js"]
    out = subprocess.run(
        ["ctags", "-f", "-", "--output-format=json", "--fields=+neSK", "--languages=C++,JavaScript", "--langmap=C++:.cpp.h",
         "--c++-kinds=fp", "-L", "-"], input="\n".join(files), capture_output=True, text=True, check=True).stdout
    texts = {}
    for line in out.splitlines():
        tag = json.loads(line)
        path, start = tag["path"], tag["line"]
        if tag.get("kind") not in ("function", "prototype", "method", "generator", "getter", "setter"):
            continue
        end = tag.get("end", start)
        if path.endswith(("js", "mjs")):
            if path not in texts:
                texts[path] = pathlib.Path(path).read_text(encoding="utf-8").splitlines()
            end = endOfScript(texts[path], start)
        yield path, start, tag["name"], end - start + 1, parameters(tag.get("signature", "()"))


def main():
    root = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).resolve().parents[1]).resolve()
    print(f"{'module':<12}{'C++':>8}{'public':>8}{'pages':>8}")
    totals = [0, 0, 0]
    for module, counts in sorted(linesByModule(root).items()):
        print(f"{module:<12}" + "".join(f"{count:>8}" for count in counts))
        totals = [a + b for a, b in zip(totals, counts)]
    print(f"{'all':<12}" + "".join(f"{count:>8}" for count in totals))
    found = list(functions(root))
    faults = [(*f[:3], f"{f[3]} lines") for f in found if f[3] > MAX_LINES]
    faults += [(*f[:3], f"{f[4]} parameters") for f in found if f[4] > MAX_PARAMETERS and f[2] not in CALLBACKS]
    for path, line, name, what in faults:
        print(f"{pathlib.Path(path).relative_to(root)}:{line}: {name} has {what}")
    print(f"functions: {len(found)}, over {MAX_LINES} lines or {MAX_PARAMETERS} parameters: {len(faults)}")
    sys.exit(bool(faults))


if __name__ == "__main__":
    main()
