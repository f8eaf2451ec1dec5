#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Checks that what people read stands in the table of words, and nowhere else.

Usage: check_words.py [ROOT] [--list]

Fails where
- a say("id", ...) or message("id", ...) in src names no entry of src/words/english, or gives it another number of values;
- an entry is used nowhere;
- a module that is done (all but NOT_YET) holds a sentence in a string literal;
- the name of a command line's option stands in a sentence outside src/cli.
With --list each sentence that stands outside the table is printed. Prints the counts.
"""

import pathlib
import re
import sys

# Modules whose sentences still stand in their code, with the reason.
NOT_YET = {}

LITERAL = re.compile(r'(?:\b(?:u8|L|R)?)"((?:[^"\\\n]|\\.)*)"')
COMMENT = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL)
CALL = re.compile(r'\b(?:say|message)\(\s*"([a-z][a-z0-9.-]*\.[a-z0-9-]+)"\s*([,)])')
ANY_ID = re.compile(r'"([a-z][a-z0-9_-]*\.[a-z0-9-]+)"')
# Not read by people: broken invariants of the program itself, and assembler.
INTERNAL = re.compile(r"\b(check|logic_error|static_assert|asm)\s*\(|#\s*(include|define|error|pragma)")
# An option; what a person types as a whole command at the shop's computer is none.
OPTION = re.compile(r"(?<![\w-])(?<!shimsight serve )--[a-z][a-z-]+")
# The words of an enumeration in records: they are no language, and stay as they are.
ENUM_NAMES = re.compile(r"\bstd::string_view name\([^)]*\) \{\n.*?\n\}", re.DOTALL)
HELP = re.compile(r"\b(?:args\.\w+|Args args|Command|add\w*Options?|addDialOption)\s*[({]|std::string \w*[hH]elpText\([^)]*\) \{|constexpr const char\* k\w*Footer =")
# A command line to type: commands, options and what stands for their values.
COMMAND = re.compile(r"shimsight [a-z-]+( [a-z-]+)?|--[a-z-]+|\b[A-Z]+(\.jpg)?\b|\b\d+\w*")
UNIT = re.compile(r"\b(?:ft|lb|in|mm|Nm|MB)\b")
MARKUP = re.compile(r"<[a-z/!]|@media|JSON\.parse|; charset=|-src '|=\\\"|[{};]\s*$|^\s*[.#a-z-]+\s*\{|class=|\bfk-|px|var\(")


def readTable(root):
    """{id: number of places} of all files, and the faults found in them."""
    entries, faults = {}, []
    for path in sorted((root / "src/words/english").glob("*.txt")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            line = line.strip()
            if not line or line.startswith("#"):
                continue
            key, found, text = line.partition(" =")
            if not found:
                faults.append(f"{path.name}:{number}: not of the form key = text")
                continue
            if f"{path.stem}.{key.strip()}" in entries:
                faults.append(f"{path.name}:{number}: {key.strip()} stands twice")
            entries[f"{path.stem}.{key.strip()}"] = len(set(re.findall(r"\{(\d)\}", text)))
    return entries, faults


def valuesGiven(text, start):
    """How many arguments follow in the call whose first argument ends at text[start], a comma or the closing bracket."""
    depth, count, inString, i = 0, 0, "", start
    while i < len(text):
        c = text[i]
        if inString:
            if c == "\\":
                i += 1
            elif c == inString:
                inString = ""
        elif c in "\"`":
            inString = c
        elif c == "'" and i + 2 < len(text) and (text[i + 2] == "'" or text[i + 1] == "\\"):
            i = text.index("'", i + 2)
        elif c in "([{":
            depth += 1
        elif c in ")]}":
            if depth == 0:
                return count
            depth -= 1
        elif c == "," and depth == 0 and not re.match(r",\s*\)", text[i:i + 200]):  # a comma at the end brings no value
            count += 1
        i += 1
    return count


def withoutComments(text):
    """The text with comments blanked, string literals kept; lines stay where they are."""
    out, i = [], 0
    token = re.compile(r'"(?:[^"\\\n]|\\.)*"|//[^\n]*|/\*.*?\*/', re.DOTALL)
    for match in token.finditer(text):
        out.append(text[i:match.start()])
        piece = match.group(0)
        out.append(piece if piece.startswith('"') else re.sub(r"[^\n]", " ", piece))
        i = match.end()
    return "".join(out) + text[i:]


def withoutHelp(text):
    """The text without the declarations of options: their help stands beside them."""
    out, at = [], 0
    for match in HELP.finditer(text):
        if match.start() < at:
            continue
        depth, inString, i = 1, False, match.end()
        if match.group(0).startswith("constexpr"):
            depth, i = 0, text.index(";\n", i)
        while depth > 0 and i < len(text):
            if text[i] == '"' and text[i - 1] != "\\":
                inString = not inString
            elif not inString:
                depth += {"(": 1, "{": 1, ")": -1, "}": -1}.get(text[i], 0)
            i += 1
        out += [text[at:match.end()], re.sub(r"[^\n]", " ", text[match.end():i])]
        at = i
    return "".join(out) + text[at:]


def sentencesOf(text):
    """(line, literal) of every literal that reads like a sentence; neighbouring literals count as one."""
    joined = re.compile(r'"(?:[^"\\\n]|\\.)*"(?:\s*"(?:[^"\\\n]|\\.)*")*')
    text = ENUM_NAMES.sub(lambda found: re.sub(r"[^\n]", " ", found.group(0)), text)
    for match in joined.finditer(text):
        lineStart = text.rfind("\n", 0, match.start()) + 1
        statement = text[max(text.rfind(";", 0, match.start()), lineStart - 400, 0):match.start()]
        if INTERNAL.search(text[lineStart:match.start()]) or re.search(r"\b(check|logic_error|static_assert|asm)\s*\([^;]*$", statement):
            continue
        literal = "".join(re.findall(r'"((?:[^"\\\n]|\\.)*)"', match.group(0)))
        words = re.findall(r"[A-Za-z]{2,}", UNIT.sub(" ", COMMAND.sub(" ", re.sub(r"\\.|%[-+.0-9l]*[a-z]", " ", literal))))
        if len(words) >= 3 and " " in literal.strip() and not MARKUP.search(literal):
            yield text.count("\n", 0, match.start()) + 1, literal


def pageSentencesOf(text):
    """The same of the page's scripts: what stands in quotes or backquotes, less values, classes, paths and selectors."""
    noWords = re.compile(r"(?:\bclass\w*\s*[:=][^,;]*|querySelector\w*\(|classList\.\w+\(|new Set\(|\bd:\s*|split\(|\.closest\()$")
    for match in re.finditer(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`', text):
        literal = re.sub(r"\$\{[^{}]*\}", " ", match.group(1) or match.group(2) or "")
        words = re.findall(r"[A-Za-z]{2,}", literal)
        before = text[text.rfind("\n", 0, match.start()) + 1:match.start()]
        if not before.strip():  # the formatter may put a long text on a line of its own
            before = text[:match.start()].rstrip().rsplit("\n", 1)[-1]
        if len(words) >= 3 and " " in literal.strip() and not noWords.search(before) and not re.search(r"[<>#=]|/api/|\$\{|; \w+-", literal):
            yield text.count("\n", 0, match.start()) + 1, literal


def check(root, listing=False):
    entries, faults = readTable(root)
    used, outside = set(), {}
    for path in sorted((root / "src").rglob("*")):
        if path.suffix not in {".cpp", ".h", ".js"} or path.name == "three.js":
            continue
        # A header in src/ itself bears the name of its module: records_json.h.
        module = path.relative_to(root / "src").parts[0].split("_")[0]
        text = withoutComments(path.read_text(encoding="utf-8"))
        shown = path.relative_to(root)
        used.update(match for match in ANY_ID.findall(text) if match in entries)
        for call in CALL.finditer(text):
            where = f"{shown}:{text.count(chr(10), 0, call.start()) + 1}"
            if call.group(1) not in entries:
                faults.append(f"{where}: no entry {call.group(1)} in the table of words")
            elif (given := valuesGiven(text, call.start(2)) if call.group(2) == "," else 0) != entries[call.group(1)]:
                faults.append(f"{where}: {call.group(1)} takes {entries[call.group(1)]} values, not {given}")
        if path.suffix == ".js" and module == "server":
            outside.setdefault("page", []).extend((f"{shown}:{line}", literal) for line, literal in pageSentencesOf(text))
        if path.suffix == ".js" or module == "words":
            continue
        for line, literal in sentencesOf(withoutHelp(text) if module == "cli" else text):
            outside.setdefault(module, []).append((f"{shown}:{line}", literal))
            if module not in NOT_YET and OPTION.search(literal):
                faults.append(f"{shown}:{line}: names an option of the command line: {literal[:70]}")
            if module not in NOT_YET:
                faults.append(f"{shown}:{line}: a sentence outside the table of words: {literal[:70]}")
    faults.extend(f"{where}: a sentence outside the table of words: {literal[:70]}" for where, literal in outside.get("page", []))
    for path in sorted((root / "src/words/english").glob("*.txt")):
        if OPTION.search(re.sub(r"(?m)^\s*#.*$", "", path.read_text(encoding="utf-8"))) and path.stem != "cli":
            faults.append(f"{path.relative_to(root)}: names an option of the command line")
    faults.extend(f"src/words/english: {name} is used nowhere" for name in sorted(entries) if name not in used)
    counts = {module: len(found) for module, found in sorted(outside.items())}
    if listing:
        for found in outside.values():
            for where, literal in found:
                print(f"{where}: {literal}")
    return faults, entries, counts


def main(arguments):
    listing = "--list" in arguments
    rest = [argument for argument in arguments if argument != "--list"]
    root = pathlib.Path(rest[0] if rest else pathlib.Path(__file__).parent.parent).resolve()
    faults, entries, counts = check(root, listing)
    for fault in faults:
        print(fault, file=sys.stderr)
    print(f"words: {len(entries)} entries, sentences outside by module {counts}, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
