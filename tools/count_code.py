#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Counts the code: lines of the product by module, functions that are too long or have too many parameters, structs
filled without the names of their fields, and what stands in two places (check_copies.py).

Usage: count_code.py [ROOT]

Lines are those of src/MODULE and of the module's public headers, comments and empty ones included; the files under page/
(scripts, styles, pages) are counted apart. Functions are those of C++ and JavaScript in src, include, tests and tools, as
universal-ctags finds them: over 80 lines from its first to its last, over six parameters. Lambdas are no functions of
their own here. A list in braces of more than five values of different kinds is taken for the fields of a struct, unless
a container or JSON stands before it. Exits with 1 if one of these numbers is not 0.
"""

import collections
import json
import pathlib
import re
import subprocess
import sys

import check_copies
import check_layers
import check_words

MAX_LINES = 80
MAX_PARAMETERS = 6
MAX_FIELDS = 5
FOLDERS = ("src", "include", "tests", "tools")
# Lists that are no structs, though nothing on their line tells: JSON, cells of a table, bytes, an argument that is a vector.
LISTS = {("src/job/measured.cpp", "f.side ? json"), ("src/review/lines.cpp", "job.hasRecord ?"),
         ("tests/unit/review/review_test.cpp", "0xFF"), ("tests/unit/review/review_test.cpp", "c"),
         ("tests/unit/review/review_test.cpp", "none")}
CONTAINER = re.compile(r"(json|Json|enum( class)? \w+( : [\w:]+)?)( \w+)?$|: *$|\] *=? *$"
                       r"|(array|vector|set|multiset|map|initializer_list)(<[^;={}]*>)?( \w+)?$")
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


def bracedLists(code):
    """(place, [parts]) of each list in braces; a block of statements is none."""
    open_ = []
    for i, letter in enumerate(code):
        if letter in "({[":
            open_.append([letter, i, [], i + 1, False])
        elif letter == "," and open_:
            open_[-1][2].append(code[open_[-1][3]:i].strip())
            open_[-1][3] = i + 1
        elif letter == ";" and open_:
            open_[-1][4] = True
        elif letter in ")}]" and open_:
            _, start, parts, last, isBlock = open_.pop()
            if letter == "}" and not isBlock:
                yield start, [part for part in [*parts, code[last:i].strip()] if part]


def ofOneKind(parts):
    """Whether all values begin alike: they are those of an array then."""
    begins = {re.match(r'&?"|&?[-+]?[\d.]+|&?\w*(?:::|\.|\{|\()?', part).group(0) for part in parts}
    return len(begins) == 1 or all(re.match(r"[-+]?\.?\d", part) for part in parts)


def unnamedFields(root):
    """(file, line, how many) of each struct filled with more than MAX_FIELDS values without their names."""
    for folder in FOLDERS:
        for path in sorted((root / folder).rglob("*")):
            if path.suffix not in (".cpp", ".h"):
                continue
            code = re.sub(r'"(?:[^"\\\n]|\\.)*"', lambda text: '"' + "s" * (len(text.group(0)) - 2) + '"',
                          check_words.codeOfCpp(path.read_text(encoding="utf-8"))[0])
            for at, parts in bracedLists(code):
                before = code[max(0, at - 80):at].rstrip()
                if len(parts) <= MAX_FIELDS or re.match(r'\.[a-z]|\{"', parts[0]) or CONTAINER.search(before) or ofOneKind(parts) \
                        or not re.search(r"(return|[(,]|\w)$", before):
                    continue
                name = str(path.relative_to(root))
                if not any(name == file and parts[0].startswith(start) for file, start in LISTS):
                    yield name, code.count("\n", 0, at) + 1, len(parts)


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
    unnamed = list(unnamedFields(root))
    for name, line, count in unnamed:
        print(f"{name}:{line}: {count} fields without their names")
    print(f"structs filled with over {MAX_FIELDS} fields without names: {len(unnamed)}")
    copies = check_copies.check(root, listing=False)
    sys.exit(bool(faults or unnamed or copies))


if __name__ == "__main__":
    main()
