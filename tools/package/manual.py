#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Writes the manual pages and the completion of bash and zsh from what the program says with --help.

Usage: manual.py PROGRAM OUTDIR

OUTDIR/man1/shimsight.1, shimsight-COMMAND.1, shimsight-COMMAND-PART.1
OUTDIR/bash/shimsight and OUTDIR/zsh/_shimsight

The date of the pages is that of SOURCE_DATE_EPOCH, else of the program's file. Fails when a help text is not understood.
"""

import dataclasses
import datetime
import os
import pathlib
import re
import subprocess
import sys

PROGRAM = "shimsight"
SECTION_OF_COMMANDS = re.compile(r"(Commands|Parts)$")
# An option that stands for files or folders, by the word for its value.
FILES = re.compile(r"FILE|PHOTO|PNG|JOB|FOLDER")
FOLDERS = re.compile(r"DIR|FOLDER|JOB$")


@dataclasses.dataclass
class Option:
    names: list  # "-h", "--help"; of a positional its word alone
    value: str  # "LEN", "drive|coast", "" for a flag
    help: str

    def choices(self):
        """The words that the value can be; none where it is free."""
        named = re.search(r"[Gg]iven once for each of: ([a-z, -]+)\.", self.help)
        if named:
            return named.group(1).split(", ")
        return self.value.split("|") if re.fullmatch(r"[a-z0-9-]+(\|[a-z0-9-]+)+", self.value) else []

    def repeats(self):
        return "more than once" in self.help


@dataclasses.dataclass
class Page:
    path: list  # ["job", "new"]; [] for the program
    summary: str
    description: list = dataclasses.field(default_factory=list)  # paragraphs
    usage: str = ""
    words: list = dataclasses.field(default_factory=list)  # positionals
    options: list = dataclasses.field(default_factory=list)
    commands: list = dataclasses.field(default_factory=list)  # (name, summary)
    rest: list = dataclasses.field(default_factory=list)  # paragraphs after the options; an example is a list of lines

    def name(self):
        return "-".join([PROGRAM, *self.path])


def helpOf(program, path):
    done = subprocess.run([program, *path, "--help"], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=True)
    return done.stdout


def tableRows(lines):
    """Rows of name and text, in two columns; a name too long for its column stands alone on its line."""
    rows = []
    for line in lines:
        if re.match(r" {2}\S", line):
            name, _, text = line.strip().partition("  ")
            if not text and not line.startswith("  -"):  # the column is as wide as the longest name
                name, _, text = name.partition(" ")
            # A name that fills its column is followed by one space: what follows its value is text.
            tight = re.match(r"((?:-\w,)?--[a-z-]+ \S+) (\S.*)", name)
            if tight and not text:
                name, text = tight.groups()
            rows.append([name.strip(), text.strip()])
        elif line.strip() and rows:
            rows[-1][1] = (rows[-1][1] + " " + line.strip()).strip()
        elif line.strip():
            sys.exit(f"manual: not understood: {line}")
    return rows


def parsed(text, path, summary):
    page = Page(path, summary)
    blocks = [block.split("\n") for block in re.split(r"\n\n+", text.strip("\n"))]
    for block in blocks:
        if len(block) > 1 and any(line.startswith("Usage: ") for line in block):  # description and usage in one
            at = next(k for k, line in enumerate(block) if line.startswith("Usage: "))
            page.description.append(" ".join(block[:at]))
            page.usage = block[at][len("Usage: "):]
        elif block[0].startswith("Usage: "):
            page.usage = block[0][len("Usage: "):]
        elif SECTION_OF_COMMANDS.match(block[0]):
            page.commands = [tuple(row) for row in tableRows(block[1:])]
        elif block[0] in ("Positionals:", "Options:"):
            for name, told in tableRows(block[1:]):
                names, _, value = name.partition(" ")
                option = Option(names.split(","), value, told)
                (page.words if block[0] == "Positionals:" else page.options).append(option)
        elif not page.usage:
            page.description.append(" ".join(line.strip() for line in block))
        elif any(line.startswith("  $ ") for line in block):
            page.rest += [block[0], block[1:]]
        else:
            page.rest.append(" ".join(line.strip() for line in block))
    if not page.usage or not (page.options or page.commands):
        sys.exit(f"manual: the help of {page.name()} was not understood")
    return page


def allPages(program):
    top = parsed(helpOf(program, []), [], "read the contact pattern of a ring and pinion")
    pages = [top]
    for name, summary in top.commands:
        page = parsed(helpOf(program, [name]), [name], summary)
        pages.append(page)
        pages += [parsed(helpOf(program, [name, part]), [name, part], told) for part, told in page.commands]
    # What stands in the program's own help alone: its options and the exit statuses.
    flags = []
    for flag, told in re.findall(r"(--[a-z]+) shows ([^;.]+)", " ".join(p for p in top.rest if isinstance(p, str))):
        if flag != "--help":
            flags.append(Option([flag], "", f"show {told} and stop"))
    top.options = [Option(["-h", "--help"], "", "show the commands and stop"), *flags]
    return pages


# --- manual pages

def roff(text):
    text = text.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq").replace("^", "\\(ha").replace("~", "\\(ti")
    return "\\&" + text if text.startswith(".") else text


def bold(text):
    return f"\\fB{roff(text)}\\fR"


def optionTag(option):
    tag = ", ".join(bold(name) for name in option.names)
    if option.value:
        tag += " " + (roff(option.value) if option.value == "..." else f"\\fI{roff(option.value)}\\fR")
    return tag


def synopsis(page):
    words = page.usage.split(" ")
    out = bold(" ".join([PROGRAM, *page.path]))
    rest = words[1 + len(page.path):]
    return out + "".join(" " + (f"\\fI{roff(word)}\\fR" if word.isupper() else roff(word)) for word in rest)


def exitStatuses(top):
    text = next(p for p in top.rest if isinstance(p, str) and p.startswith("Exit status: "))
    return [part.strip(" .").split(" ", 1) for part in text[len("Exit status: "):].split(";")]


def manualPage(page, top, pages, date, version):
    upper = page.name().upper()
    out = [f'.TH {roff(upper)} 1 {date} "{PROGRAM} {version}" "User commands"', ".SH NAME", f"{roff(page.name())} \\- {roff(page.summary)}",
           ".SH SYNOPSIS", synopsis(page), ".SH DESCRIPTION"]
    statuses = exitStatuses(top)
    rest = [p for p in page.rest if not (isinstance(p, str) and (p.startswith("Exit status: ") or "--help shows the options" in p))]
    paragraphs = page.description + rest
    for number, paragraph in enumerate(paragraphs):
        if number > 0:
            out.append(".PP")
        if isinstance(paragraph, list):
            out[-1:] = [".PP", ".nf", ".RS 4", *[roff(line.strip()) for line in paragraph], ".RE", ".fi"]
        else:
            out.append(roff(paragraph))
    if page.commands:
        out.append(".SH COMMANDS")
        for name, told in page.commands:
            out += [".TP", bold(name), roff(told)]
    out.append(".SH OPTIONS")
    for option in page.words + page.options:
        out += [".TP", optionTag(option), roff(option.help)]
    if not page.words and not page.options:
        out += [".TP", f"{bold('-h')}, {bold('--help')}", "show the commands and stop"]
    out.append(".SH EXIT STATUS")
    for number, told in statuses:
        out += [".TP", bold(number), roff(told)]
    parent = page.path[:-1]
    near = [p for p in pages if p is not page and ((p.path[:-1] == page.path and p.path) or p.path == parent)]
    out.append(".SH SEE ALSO")
    out += [f".BR {roff(p.name())} (1){',' if k + 1 < len(near) else ''}" for k, p in enumerate(near)]
    return "\n".join(out) + "\n"


# --- completion

def valueKind(value):
    """How a shell completes a free value: files, folders or not at all."""
    if FOLDERS.search(value):
        return "folders"
    return "files" if FILES.search(value) else "nothing"


def longNames(page):
    return [name for option in page.options for name in option.names if name.startswith("--")] or ["--help"]


def bashCompletion(pages, lessons):
    groups = [" ".join(page.path) for page in pages if page.commands and page.path]
    words, values = [], []
    for page in pages:
        path = " ".join(page.path)
        offered = [name for name, _ in page.commands] + longNames(page)
        words.append(f'        "{path}") words="{" ".join(offered)}" ;;')
        for option in page.options:
            if not option.value:
                continue
            choices, names = option.choices(), "|".join(f'"{path} {name}"' for name in option.names if name.startswith("--"))
            if choices:
                values.append(f'        {names}) mapfile -t COMPREPLY < <(compgen -W "{" ".join(choices)}" -- "$cur") && return ;;')
            else:
                act = {"files": "compopt -o filenames; mapfile -t COMPREPLY < <(compgen -f -- \"$cur\")",
                       "folders": "compopt -o filenames; mapfile -t COMPREPLY < <(compgen -d -- \"$cur\")", "nothing": "COMPREPLY=()"}
                values.append(f"        {names}) {act[valueKind(option.value)]}; return ;;")
    names = "\n".join(words)
    return f"""# Completion of {PROGRAM} for bash. Written by tools/package/manual.py from its --help.
_shimsight() {{
    local cur=${{COMP_WORDS[COMP_CWORD]}} prev=${{COMP_WORDS[COMP_CWORD - 1]}} path="" words=""
    COMPREPLY=()
    if ((COMP_CWORD > 1)); then
        path=${{COMP_WORDS[1]}}
        case "$path" in
        {"|".join(groups)}) if ((COMP_CWORD > 2)); then path+=" ${{COMP_WORDS[2]}}"; fi ;;
        esac
    fi
    case "$path $prev" in
{chr(10).join(values)}
    esac
    case "$path" in
{names}
    esac
    if [[ $path = "lesson show" && $cur != -* ]]; then words="{" ".join(lessons)}"; fi
    if [[ $cur = -* || -z $path || $path = "lesson show" || ($COMP_CWORD -eq 2 && " {" ".join(groups)} " = *" $path "*) ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur")
    else
        compopt -o filenames
        mapfile -t COMPREPLY < <(compgen -f -- "$cur")
    fi
}}
complete -F _shimsight {PROGRAM}
"""


def zshText(text):
    return re.sub(r"([\[\]:\\])", r"\\\1", text).replace("'", "'\\''")


def zshSpecs(page, lessons):
    specs = []
    for option in page.options:
        told = zshText(option.help)
        for name in option.names:
            spec = f"'{'*' if option.repeats() else ''}{name}[{told}]"
            if option.value:
                choices = option.choices()
                act = f"({' '.join(choices)})" if choices else {"files": "_files", "folders": "_files -/", "nothing": " "}[valueKind(option.value)]
                spec += f":{zshText(option.value.replace('|', ' or ') if not choices else 'one of')}:{act}"
            specs.append(spec + "'")
    if page.words:
        act = f"({' '.join(lessons)})" if page.path == ["lesson", "show"] else "_files"
        specs.append(f"'*:{zshText(page.words[0].names[0])}:{act}'")
    return " \\\n        ".join(specs)


def zshCompletion(pages, lessons):
    out = [f"#compdef {PROGRAM}", f"# Completion of {PROGRAM} for zsh. Written by tools/package/manual.py from its --help.", ""]
    for page in reversed(pages):
        function = "_".join(["_" + PROGRAM, *[word.replace("-", "_") for word in page.path]])
        out.append(f"{function}() {{")
        if page.commands:
            flags = zshSpecs(dataclasses.replace(page, words=[]), lessons)
            commands = " ".join(f"'{name}:{zshText(told)}'" for name, told in page.commands)
            out += ["    local curcontext=$curcontext state line", f"    local -a commands=({commands})",
                    f"    _arguments -C {flags + ' ' if flags else ''}'1:command:->command' '*::argument:->argument'",
                    "    case $state in", "    command) _describe command commands ;;", "    argument)", "        case $words[1] in"]
            out += [f"        {name}) {function}_{name.replace('-', '_')} ;;" for name, _ in page.commands]
            out += ["        esac", "        ;;", "    esac"]
        else:
            out.append(f"    _arguments {zshSpecs(page, lessons)}")
        out += ["}", ""]
    return "\n".join(out + [f'_{PROGRAM} "$@"', ""])


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    program, out = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2])
    seconds = float(os.environ.get("SOURCE_DATE_EPOCH") or os.stat(program).st_mtime)
    date = datetime.datetime.fromtimestamp(seconds, datetime.timezone.utc).date().isoformat()
    version = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout.split()[1]
    listed = subprocess.run([program, "lesson", "list"], capture_output=True, text=True, check=True).stdout
    lessons = re.findall(r"(?m)^([a-z][a-z-]*) +[A-Z]", listed)
    pages = allPages(program)
    for folder in ("man1", "bash", "zsh"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    for old in (out / "man1").glob("*.1"):
        old.unlink()
    for page in pages:
        (out / "man1" / f"{page.name()}.1").write_text(manualPage(page, pages[0], pages, date, version), encoding="utf-8")
    (out / "bash" / PROGRAM).write_text(bashCompletion(pages, lessons), encoding="utf-8")
    (out / "zsh" / f"_{PROGRAM}").write_text(zshCompletion(pages, lessons), encoding="utf-8")
    print(f"manual: {len(pages)} pages, {sum(len(page.options) for page in pages)} options")


if __name__ == "__main__":
    main()
