#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Checks that what once stood in several places has one home.

Usage: check_copies.py [ROOT]

Each row: what it is, how a copy would be written, and where it may stand, in what number. A script of a page cannot
include C++: where it needs the same, the row names it with its own number. Prints a line for each row; exits with 1
where a row is found elsewhere, or not in the number given.
"""

import pathlib
import re
import sys

# What, the text of a copy (regular expression), {file: how often}.
ROWS = [
    ("a side as records have it", r'== Side::Drive \? "drive"', {"src/gear/names.cpp": 1}),
    ("a shim place in words", r'"common\.under-bearing-cup"', {"src/gear/names.cpp": 1, "src/server/page/limits.js": 1}),
    ("how teeth are cut in words", r'"common\.face-(?:milled|hobbed)"', {"src/gear/names.cpp": 2}),
    ("the smallest move", r"\bkNoMoveMm\s*=", {"include/shimsight/advice_words.h": 1}),
    ("the smallest play", r"\bkNoPlayMm\s*=", {"include/shimsight/advice.h": 1}),
    ("the sigma of a dial", r"\bkDialSigma\w*\s*=", {"include/shimsight/advice.h": 1}),
    ("the words of sides and dials in records", r"\bk(?:Side|Dial)Words\s*[={]", {"src/records_json.h": 2}),
    ("an enumeration's words in records", r"> wordsOf\(const std::array<T, N>&", {"src/records_json.h": 1}),
    ("readings round the ring gear out of JSON", r"^std::vector<BacklashPoint> [\w:]*At\(", {"src/job/entry_reader.cpp": 1, "src/job_json.h": 1}),
    ("a percentage in words", r'%%|"\s*%"|common\.percent"',
     # With it the three places that keep a number and its unit on one line.
     {"src/words/words.cpp": 2, "src/review/lines.cpp": 2, "src/cli/report.cpp": 1, "src/server/page/units.js": 1, "src/lesson/page/flank.js": 1}),
    ("printf into a string", r"\bvsnprintf\(nullptr", {"src/words/words.cpp": 1}),
    ("the time now as records have it", r"^std::string timeNow\(\)", {"src/job/record.cpp": 1, "include/shimsight/job.h": 1}),
    ("a quantile of values", r"^double quantile\(std::vector", {"src/core/statistics.cpp": 1, "include/shimsight/statistics.h": 1}),
    ("base64", r"ABCDEFGHIJKLMNOPQRSTUVWXYZabc|EVP_EncodeBlock", {"src/core/text.cpp": 1}),
    ("a field of CSV", r"^std::string csvField\(|/\[\",", {"src/core/text.cpp": 1, "include/shimsight/text.h": 1, "src/training/page/stick_lookup.js": 1}),
    ("a modification as JSON", r"json toJson\(const Modification&", {"src/records/json_writer.cpp": 1, "src/records_json.h": 1}),
    ("the share of an edge that a mark runs off", r"\b(?:kRunsOffShare\s*=|runsOffShare:)", {"src/pattern/pattern.cpp": 1, "src/lesson/page/contact.js": 1}),
    ("the camera's parameters as they are fitted", r"^(?:struct|class) CameraFamily\b", {"include/shimsight/flank_camera.h": 1}),
    ("the mix of the random numbers", r"(?i)0xBF58476D1CE4E5B9", {"include/shimsight/core.h": 1}),
    ("a picture made smaller", r"^Picture shrunkTo\(", {"src/draw/canvas.cpp": 1, "include/shimsight/draw.h": 1}),
    ("how low a tooth is at its toe in drawings", r"\bkToeHeight\s*=|milledToe:", {"src/draw/contour.h": 1, "src/lesson/page/flank.js": 1}),
    ("a file put into the program", r"\.incbin", {"tools/cmake/embed.cmake": 1}),
    ("an amount in both units", r"formatLength\(Length::fromMm\(std::abs\(", {"src/core/core.cpp": 1}),
    ("the file of a training set", r"^int writeShards\(", {"tools/shards.cpp": 1, "tools/shards.h": 1}),
]
KINDS = {".cpp", ".h", ".js", ".cmake"}


def files(root):
    for folder in ("src", "include", "tools"):
        for path in sorted((root / folder).rglob("*")):
            if path.suffix in KINDS and "node_modules" not in path.parts and path.name != "three.js":
                yield str(path.relative_to(root)), path.read_text(encoding="utf-8")


def faults(root, rows=None):
    """For each row: (what, places found, faults)."""
    texts = list(files(root))
    for what, pattern, homes in rows or ROWS:
        found = {name: count for name, text in texts if (count := len(re.findall(pattern, text, re.MULTILINE)))}
        yield what, found, [f"{what}: {found.get(name, 0)} in {name}, not {homes.get(name, 0)}"
                            for name in sorted({*found, *homes}) if found.get(name, 0) != homes.get(name, 0)]


def check(root, listing=True):
    """Prints the rows and their faults; how many have any."""
    wrong = 0
    for what, found, some in faults(root):
        if listing:
            print(f"{what}: {', '.join(sorted(found))}")
        for fault in some:
            print(fault, file=sys.stderr)
        wrong += bool(some)
    print(f"copies: {len(ROWS)} things, {wrong} with a copy elsewhere")
    return wrong


def main():
    root = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).resolve().parents[1]).resolve()
    sys.exit(bool(check(root)))


if __name__ == "__main__":
    main()
