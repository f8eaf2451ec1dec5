#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Takes the white space out of JSON files that people need not read: records and truths among the samples.

Usage: compact_json.py FILE...

Numbers stay as they are written; each file becomes one line.
"""

import pathlib
import re
import sys

TEXT_OR_SPACE = re.compile(r'"(?:[^"\\]|\\.)*"|\s+')


def compact(text):
    return TEXT_OR_SPACE.sub(lambda found: found.group() if found.group().startswith('"') else "", text) + "\n"


def main(files):
    for file in map(pathlib.Path, files):
        file.write_text(compact(file.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
