#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Checks that what people read stands in the table of words, and nowhere else.

Usage: check_words.py [ROOT] [--list]

Fails where
- a say("id", ...) or message("id", ...) in src or include names no entry of src/words/english, or gives it another
  number of values;
- an entry is used nowhere;
- a string literal of C++ or JavaScript, or a page in HTML, holds words for people: two words, a word with a space before
  or after it (a part of a sentence), a word between two tags or in a label of markup, a single word that begins with a
  capital or that stands where a script or markup takes text;
- the name of a command line's option stands in a sentence outside src/cli.
With --list each such text is printed. Prints the counts.

What it takes for no sentence, and why: EXEMPT below. What it cannot see: a single word in small letters that goes into a
text by way of a variable (it may as well be a key), and what is no C++, JavaScript or HTML: the lessons' Markdown is text
by nature, openapi.json is read by developers, the manifest of the page holds the program's name.
"""

import pathlib
import re
import sys

# Texts for people outside the table, with the reason: a whole file, or literals of one.
EXEMPT_FILES = {
    "src/server/page/index.html": "shown until the script that has the words has come, and when it does not come",
    "src/render/scene.cpp": "notes on a drawn picture in the training set's records, for developers",
    "src/training/bundle.cpp": "writes JavaScript",
}
EXEMPT = {
    "src/lesson/chart.cpp": ({"head middle", "small middle", "good middle", "say good"}, "classes of the style sheet"),
    "src/report/sheet.cpp": ({"keep sign"}, "classes of the style sheet"),
    "src/server/page/view_trial.js": ({"act first"}, "classes of the style sheet"),
    "src/server/page/training_server.js": ({"thead, tbody"}, "elements of a table"),
    "src/lesson/page_data.cpp": ({"const TABLE = ", "export "}, "JavaScript"),
    "src/lesson/lessons.cpp": ({"lessonFigures.start(document, JSON.parse(document.getElementById('lesson-data').textContent));\\n"}, "JavaScript"),
    "src/lesson/parts.cpp": ({"\\nexport ", "var ", "return { "}, "JavaScript"),
    "include/shimsight/units.h": ({"about "}, "the form of a pair of lengths, as \"in\" and \"mm\": inUnits takes it apart"),
    "src/lesson/page/lengths.js": ({"about ${}"}, "the same form on the pages"),
    "src/training/stick_page.cpp": ({"// Put in below.\\n"}, "JavaScript"),
    "src/review/read_photos.cpp": ({"drive only\\n", "coast only\\n"}, "part of a key of the cache"),
    "src/photo/clean.cpp": ({"XMP "}, "a mark of a file format"),
}
NAMES_AN_OPTION = "names an option of the command line"
# Names, the same in every language.
NAMES = {"Shimsight", "Adobe", "Exif", "Convolution", "Origin", "Host"}

CALL = re.compile(r'\b(?:say|message)\(\s*"([a-z][a-z0-9.-]*\.[a-z0-9-]+)"\s*([,)])')
ANY_ID = re.compile(r'"([a-z][a-z0-9_-]*\.[a-z0-9-]+)"|\{\{([a-z][a-z0-9.-]*)\}\}')
# Not read by people: broken invariants of the program itself, and assembler.
INTERNAL = re.compile(r"\b(check|logic_error|static_assert|asm)\s*\(|#\s*(include|define|error|pragma)")
INSIDE_INTERNAL = re.compile(r"\b(check|logic_error|static_assert|asm)\s*\([^;]*$")
# An option. What a person types as a whole command at the shop's computer is none: the bench page says how to start the
# server so that it listens to phones, and keeps score sheets.
OPTION = re.compile(r"(?<![\w-])(?<!shimsight serve )--[a-z][a-z-]+")
# The words of an enumeration in records: they are no language, and stay as they are.
ENUM_NAMES = re.compile(r"\bstd::string_view name\([^)]*\) \{\n.*?\n\}", re.DOTALL)
# The help of an option stands beside the option: the parser, the manual pages and the completion take it from there, and
# a command line is of one language as the names of its options are.
HELP = re.compile(r"\b(?:args\.\w+|Args args|Command|add\w*Options?|addDialOption)\s*[({]|std::string \w*[hH]elpText\([^)]*\) \{|constexpr const char\* k\w*Footer =")
# A command line to type: commands, options and what stands for their values.
COMMAND = re.compile(r"shimsight:? ?([a-z-]+( [a-z-]+)?)?|--[a-z-]+|\b[A-Z]+(\.jpg)?\b|\b\d+\w*")
UNIT = re.compile(r"\b(?:ft|lb|in|mm|Nm|MB|min|px)\b")
LABELS = re.compile(r'\b(?:aria-label|aria-description|title|alt|placeholder)="([^"]*)')
WORD = r"[A-Za-z]{2,}"
PART = re.compile(rf"{WORD}[,;:.]? | {WORD}")
CAPITAL = re.compile(r"[A-Z][a-z]{2,}[:.]?")
# Where a script or markup takes text: what stands there is read, a single small word too.
TEXT_HERE = re.compile(
    r'(?:\b(?:textContent|innerText|label|title|placeholder|alt)|"aria-label")\s*[:=]\s*$'
    r'|\bfillText\($|\bcanvas\.text\([^;"]*$|\bword\([^;"]*, $|createTextNode\($|\bHtml::text\($|\bescapedHtml\($|\bh\("[\w.-]+", \{[^{}]*\}, $|"aria-label",\s*$')
# Literals of scripts that are no text: classes, selectors, fonts, paths, media queries.
NO_TEXT = re.compile(
    r"(?:\bclass\w*\s*[:=][^,;]*|querySelector\w*\(|classList\.\w+\(|new Set\(|\bd:\s*|\.closest\(|matchMedia\??\.?\("
    r"|\.font = |[sS]tart[sS]With\(|\bapi\.\w+\(\s*)$")


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


def blanked(piece):
    return re.sub(r"[^\n]", " ", piece)


CPP_TOKEN = re.compile(
    r'(?P<raw>\bR"(?P<mark>\w*)\(.*?\)(?P=mark)")|(?P<string>"(?:[^"\\\n]|\\.)*")|(?P<comment>//[^\n]*|/\*.*?\*/)'
    r"|(?P<char>(?<![0-9A-Fa-f])'(?:[^'\\\n]|\\.)+')", re.DOTALL)


def codeOfCpp(text):
    """(the text with comments, characters and raw strings blanked, [(place, raw string)])."""
    raws = []

    def kept(found):
        if found.group("raw"):
            raws.append((found.start(), found.group("raw")))
        return found.group(0) if found.group("string") else blanked(found.group(0))

    return CPP_TOKEN.sub(kept, text), raws


class Script:
    """JavaScript: .literals [(place, text)], places of values in a template as \\0; .code without comments."""

    def __init__(self, text):
        self.text, self.literals, self.templates, self.depth = text, [], [], 0
        code, before, i = list(text), "", 0
        while i < len(text):
            c = text[i]
            comment = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL).match(text, i) if c == "/" else None
            if c.isspace():
                i += 1
                continue
            if comment:
                code[i:comment.end()] = blanked(comment.group(0))
                i = comment.end()
                continue
            if c == "/" and (before in "(,=:[!&|?{};" or re.search(r"\breturn\s*$", text[max(0, i - 12):i])):
                i = re.compile(r"/(?:[^/\\\[\n]|\\.|\[(?:[^\]\\\n]|\\.)*\])+/").match(text, i).end()
            elif c in "\"'":
                end = re.compile(rf"{c}((?:[^{c}\\\n]|\\.)*){c}").match(text, i)
                self.literals.append((i, end.group(1)))
                i = end.end()
            elif c == "`":
                self.templates.append([i, []])
                i = self.template(i + 1)
            elif c == "}" and self.templates and self.templates[-1][-1] == self.depth:
                self.templates[-1].pop()
                self.depth -= 1
                i = self.template(i + 1)
            else:
                self.depth += {"{": 1, "}": -1}.get(c, 0)
                i += 1
            before = c
        self.code = "".join(code)

    def template(self, at):
        """Goes on in a template: to its end, or to its next value."""
        end = re.compile(r"((?:[^`\\$]|\\.|\$(?!\{))*)(`|\$\{)", re.DOTALL).match(self.text, at)
        self.templates[-1][1].append(end.group(1))
        if end.group(2) == "`":
            start, pieces = self.templates.pop()
            self.literals.append((start, "\0".join(pieces)))
        else:
            self.depth += 1
            self.templates[-1].append(self.depth)
        return end.end()


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
        out += [text[at:match.end()], blanked(text[match.end():i])]
        at = i
    return "".join(out) + text[at:]


def withoutCss(text):
    former = None
    while former != text:
        former, text = text, re.sub(r"[^{}<>;\n]*\{[^{}]*\}", "", text)
    return text


def readable(literal, inCode=False):
    """What people may read of a literal: [texts in running words], [texts that markup shows]."""
    text = re.sub(r"\\x[0-9A-Fa-f]{2}|\\u[0-9A-Fa-f]{4}|\\0|%%", "", literal)
    text = re.sub(r"\\[nrt]", "\n", text).replace('\\"', '"').replace("\\", "")
    text = re.sub(r"%[-+.0-9]*[lz]*[a-z]", "0", text)
    text = re.sub(r"<(style|script)\b[^>]*>.*?(</\1>|$)", "", text, flags=re.DOTALL)
    if re.search(r"[\w-]+-src '|^[a-z]+/[a-z]+; charset=|^[a-z]+; [a-z]+=", text):  # headers of HTTP
        return [], []
    marked = [match for match in LABELS.findall(text)]
    text = withoutCss(text) if re.search(r"[{};]", text) else text
    if re.search(r"<[a-zA-Z/!]|>", text):
        inner = re.sub(r"<[^<>]*(>|$)", "\n", re.sub(r"^[^<>]*>", "\n", text))
        marked += inner.split("\n")
        return [], marked
    text = re.sub(r'"?\s?[\w:-]+="[^"]*"?|"?\s[\w:-]+="', "", text) if '="' in text else text
    return [text], marked


def isText(literal, before):
    """Whether a literal after the code `before` holds words for people."""
    running, marked = readable(literal)
    for text in marked:
        if re.search(WORD, UNIT.sub("", text.replace("\0", " "))) and text.strip() not in NAMES:
            return True
    for text in running:
        if PART.search(UNIT.sub("", text)) or (CAPITAL.fullmatch(text) and text not in NAMES):
            return True
        if TEXT_HERE.search(before) and re.fullmatch(rf"{WORD}(?:-{WORD})*[:.]?", text) and text not in NAMES:
            return True
    return False


def lineBefore(text, at):
    """The code before a literal on its line, or on the one before where the formatter put it on a line of its own."""
    before = text[text.rfind("\n", 0, at) + 1:at]
    return before if before.strip() else text[:at].rstrip().rsplit("\n", 1)[-1]


def sentencesOfCpp(code, raws, isCli):
    """(place, literal) of every literal that people read; neighbouring literals count as one."""
    joined = re.compile(r'"(?:[^"\\\n]|\\.)*"(?:\s*"(?:[^"\\\n]|\\.)*")*')
    code = ENUM_NAMES.sub(lambda found: blanked(found.group(0)), withoutHelp(code) if isCli else code)
    for match in joined.finditer(code):
        lineStart = code.rfind("\n", 0, match.start()) + 1
        statement = code[max(code.rfind(";", 0, match.start()), lineStart - 400, 0):match.start()]
        if INTERNAL.search(code[lineStart:match.start()]) or INSIDE_INTERNAL.search(statement):
            continue
        literal = "".join(re.findall(r'"((?:[^"\\\n]|\\.)*)"', match.group(0)))
        if isText(COMMAND.sub("", literal) if isCli else literal, code[lineStart:match.start()].lstrip()):
            yield match.start(), literal
    for at, raw in raws:
        kind = re.match(r'R"(\w*)\(', raw).group(1)
        inner = raw[raw.index("(") + 1:raw.rindex(")")]
        if kind == "js":
            yield from ((at, literal) for _, literal in sentencesOfScript(Script(inner)) if not literal.startswith("no words for "))
        elif isText(inner, ""):
            yield at, inner[:80]


def sentencesOfScript(script):
    for at, literal in script.literals:
        before = lineBefore(script.code, at)
        if not NO_TEXT.search(before) and isText(literal, before):
            yield at, literal.replace("\0", "${}")


def sentencesOfHtml(text):
    clean = re.sub(r"<!--.*?-->|<(script|style)\b.*?</\1>|\{\{.*?\}\}", lambda found: blanked(found.group(0)), text, flags=re.DOTALL)
    places = [(match.start(1), match.group(1)) for match in re.finditer(r">([^<>]*)(?=<|$)", clean)]
    places += [(match.start(1), match.group(1)) for match in LABELS.finditer(clean)]
    for at, piece in places:
        if re.search(WORD, re.sub(r"&\w+;", "", piece)) and piece.strip() not in NAMES:
            yield at, piece.strip()


def check(root, listing=False):
    entries, faults = readTable(root)
    used, outside, counts, exemptSeen = set(), [], {}, set()
    paths = [path for folder in ("src", "include") for path in sorted((root / folder).rglob("*"))]
    for path in paths:
        if path.suffix not in {".cpp", ".h", ".js", ".html"} or path.name == "three.js":
            continue
        shown = str(path.relative_to(root))
        # A header in src/ itself bears the name of its module: records_json.h.
        module = "include" if shown.startswith("include") else path.relative_to(root / "src").parts[0].split("_")[0]
        text = path.read_text(encoding="utf-8")
        if path.suffix == ".js":
            script = Script(text)
            code, sentences = script.code, sentencesOfScript(script)
        elif path.suffix == ".html":
            code, sentences = text, sentencesOfHtml(text)
        else:
            code, raws = codeOfCpp(text)
            sentences = sentencesOfCpp(code, raws, module == "cli")
        used.update(one for match in ANY_ID.findall(code) for one in match if one in entries)
        for call in CALL.finditer(code):
            where = f"{shown}:{code.count(chr(10), 0, call.start()) + 1}"
            if call.group(1) not in entries:
                faults.append(f"{where}: no entry {call.group(1)} in the table of words")
            elif (given := valuesGiven(code, call.start(2)) if call.group(2) == "," else 0) != entries[call.group(1)]:
                faults.append(f"{where}: {call.group(1)} takes {entries[call.group(1)]} values, not {given}")
        for place in re.findall(r"\{\{(.*?)\}\}", code) if path.suffix == ".html" else []:
            if place not in entries:
                faults.append(f"{shown}: no entry {place} in the table of words")
        if module == "words":
            continue
        exempt = EXEMPT.get(shown, (set(), ""))[0]
        for at, literal in sentences:
            if shown in EXEMPT_FILES or literal in exempt:
                exemptSeen.add((shown, literal if literal in exempt else ""))
                continue
            where = f"{shown}:{code.count(chr(10), 0, at) + 1}"
            outside.append((where, literal))
            counts[module] = counts.get(module, 0) + 1
            faults.append(f"{where}: a sentence outside the table of words: {literal[:70]}")
            if OPTION.search(literal) and module != "cli":
                faults.append(f"{where}: {NAMES_AN_OPTION}: {literal[:70]}")
    exemptAll = {(shown, "") for shown in EXEMPT_FILES} | {(shown, one) for shown, (some, _) in EXEMPT.items() for one in some}
    faults.extend(f"{shown}: exempt, but no such text is in it: {literal}"
                  for shown, literal in sorted(exemptAll - exemptSeen) if (root / shown).exists())
    for path in sorted((root / "src/words/english").glob("*.txt")):
        if OPTION.search(re.sub(r"(?m)^\s*#.*$", "", path.read_text(encoding="utf-8"))) and path.stem != "cli":
            faults.append(f"{path.relative_to(root)}: {NAMES_AN_OPTION}")
    faults.extend(f"src/words/english: {name} is used nowhere" for name in sorted(entries) if name not in used)
    if listing:
        for where, literal in outside:
            print(f"{where}: {literal}")
    return faults, entries, counts


def main(arguments):
    listing = "--list" in arguments
    rest = [argument for argument in arguments if argument != "--list"]
    root = pathlib.Path(rest[0] if rest else pathlib.Path(__file__).parent.parent).resolve()
    faults, entries, counts = check(root, listing)
    for fault in faults:
        print(fault, file=sys.stderr)
    options = sum(NAMES_AN_OPTION in fault for fault in faults)
    print(f"words: {len(entries)} entries, sentences outside {sum(counts.values())} {counts or ''}".rstrip()
          + f", option names outside cli {options}, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
