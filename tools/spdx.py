#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Puts the two SPDX lines at the head of every source file, or checks that they stand there.

Usage: spdx.py [--check] [--root DIR]

Source files: all that git knows with the endings below, less LEFT_OUT. What has to stay first in a file ("#!", a doctype) stays
first. Holder and year are those of LICENSE. --check changes nothing, names each file without them, and fails.
"""

import argparse
import pathlib
import re
import subprocess
import sys

# How a comment is written, by the file's ending or its name.
SLASHES, HASH, STARS, MARKUP = "// {}", "# {}", "/* {} */", "<!-- {} -->"
COMMENT = {".cpp": SLASHES, ".h": SLASHES, ".js": SLASHES, ".mjs": SLASHES, ".css": STARS, ".html": MARKUP, ".svg": MARKUP, ".py": HASH,
           ".sh": HASH, ".cmake": HASH, "CMakeLists.txt": HASH, "run": HASH, "bench": HASH, "postinst": HASH, "postrm": HASH,
           "prerm": HASH, ".service": HASH, ".conf": HASH, ".desktop": HASH}
# Written by others, or no program text.
NOT_OURS = r"^(samples|models)/|/three\.js$"
# Styles, scripts and frames that stand in pages which people save and mail: the lines would seem to be about their page.
IN_SAVED_PAGES = r"^src/(lesson|training|review)/page/|^src/report/sheet\.css$"
LEFT_OUT = re.compile(f"{NOT_OURS}|{IN_SAVED_PAGES}")


def sourceFiles(root):
    listed = subprocess.run(["git", "-C", root, "ls-files", "-z"], capture_output=True, text=True, check=True).stdout
    for name in listed.split("\0"):
        path = pathlib.PurePosixPath(name)
        form = COMMENT.get(path.name) or COMMENT.get(path.suffix)
        if name and form and not LEFT_OUT.search(name):
            yield root / name, form


def wantedLines(root):
    licence = (root / "LICENSE").read_text(encoding="utf-8")
    kind = {"MIT License": "MIT"}[licence.split("\n", 1)[0].strip()]
    year, holder = re.search(r"(?m)^Copyright \(c\) (\d+(?:-\d+)?) (.+)$", licence).groups()
    # The tag is put together, so that tools that look for it do not take this line for a licence.
    return [f"SPDX-FileCopyrightText: {year} {holder}", "SPDX-License" + f"-Identifier: {kind}"]


def headOf(text):
    """What has to stay first: "#!", and the doctype of a page or the declaration of an XML file."""
    match = re.match(r"#![^\n]*\n|<!doctype[^>]*>\n?|<\?xml[^>]*>\n?", text, re.IGNORECASE)
    return match.group(0) if match else ""


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--root", type=pathlib.Path, default=pathlib.Path(__file__).resolve().parents[1])
    options = parser.parse_args()
    wanted = wantedLines(options.root)
    files, without = 0, []
    for path, form in sourceFiles(options.root):
        if path.is_symlink() or not path.is_file():
            continue
        files += 1
        text = path.read_bytes().decode("utf-8")
        head = headOf(text)
        lines = "".join(form.format(line) + "\n" for line in wanted)
        if text[len(head):].startswith(lines):
            continue
        without.append(path)
        if not options.check:
            # Lines of another year or holder are replaced.
            rest = text[len(head):]
            mark = re.escape(form).replace(r"\{\}", r"SPDX-[A-Za-z-]+: [^\n]*")
            rest = re.sub(rf"\A(?:{mark}\n)+", "", rest)
            path.write_bytes((head if head.endswith("\n") or not head else head + "\n").encode() + (lines + rest).encode())
    if files == 0:
        sys.exit("no source files were found")
    if options.check:
        for path in without:
            print(f"{path.relative_to(options.root)}: the SPDX lines are missing; run tools/spdx.py", file=sys.stderr)
        print(f"{files} source files, {len(without)} without the SPDX lines")
        return 1 if without else 0
    print(f"{files} source files, {len(without)} changed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
