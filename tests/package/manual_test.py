#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""The manual pages and the completion say what --help says, and are without a fault; NOTICE names all that is in
the program, and it calls nobody.

Usage: manual_test.py --shimsight PROGRAM
"""

import argparse
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
SECTIONS = ["NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "EXIT STATUS", "SEE ALSO"]


def output(*command, **more):
    return subprocess.run([str(word) for word in command], capture_output=True, text=True, timeout=120, check=True, **more).stdout


def helpTexts(program):
    """{page name: --help} of the program, its commands and theirs; told from the tables alone, without manual.py."""
    def subcommands(text):
        table = re.search(r"\n(?:Commands|Parts)\n((?:  \S.*\n)+)", text)
        return [line.split()[0] for line in table.group(1).splitlines()] if table else []

    texts = {"shimsight": output(program, "--help")}
    for command in subcommands(texts["shimsight"]):
        text = texts[f"shimsight-{command}"] = output(program, command, "--help")
        for part in subcommands(text):
            texts[f"shimsight-{command}-{part}"] = output(program, command, part, "--help")
    return texts


def optionsOf(helpText):
    return set(re.findall(r"(?m)^  (?:-\w,)?(--[a-z][a-z-]*)", helpText))


def faultsOfPages(folder, texts):
    faults = []
    pages = {path.stem: path for path in folder.glob("*.1")}
    if set(pages) != set(texts):
        faults.append(f"pages without a command or commands without a page: {sorted(set(pages) ^ set(texts))}")
    for name in sorted(set(pages) & set(texts)):
        source = pages[name].read_text(encoding="utf-8")
        sections = [s for s in re.findall(r"(?m)^\.SH (.*)", source) if s != "COMMANDS"]
        if sections != SECTIONS:
            faults.append(f"{name}: sections {sections}")
        tagged = set(re.findall(r"--[a-z][a-z-]*", "\n".join(re.findall(r"(?m)^\.TP\n(.*)", source)).replace("\\-", "-")))
        wanted = optionsOf(texts[name]) or {"--help"}
        if name != "shimsight" and tagged != wanted:
            faults.append(f"{name}: options {sorted(tagged ^ wanted)} stand in one of page and help alone")
        # No word of the help is lost: all of them stand in the page, in their order where they follow one another.
        plain = re.sub(r"\\f[BIR]|\\&", "", source).replace("\\-", "-").replace("\\(aq", "'").replace("\\e", "\\")
        words = set(re.findall(r"[A-Za-z0-9]{4,}", plain))
        lost = [w for w in re.findall(r"[A-Za-z0-9]{4,}", texts[name]) if w not in words and w not in ("Usage", "Positionals", "Options", "Commands", "Parts", "Exit")]
        lost = [w for w in lost if w not in ("status", "shows")] if name == "shimsight" else lost
        if lost and not all(w in "shimsight COMMAND PART --help shows the options of a command part" for w in lost):
            faults.append(f"{name}: of the help, these words are lost: {lost[:8]}")
    return faults


def faultsByLint(folder):
    faults, linters = [], []
    for linter, command in (("mandoc", ["mandoc", "-Tlint", "-W", "warning"]), ("groff", ["groff", "-man", "-Tutf8", "-ww", "-K", "utf8"])):
        if not shutil.which(linter):
            continue
        linters.append(linter)
        for path in sorted(folder.glob("*.1")):
            done = subprocess.run([*command, path], capture_output=True, text=True, timeout=60, check=False)
            said = done.stdout + done.stderr if linter == "mandoc" else done.stderr
            if done.returncode != 0 or said.strip():
                faults.append(f"{path.name}: {linter}: {said.strip()[:200]}")
    print("pages judged by " + (" and ".join(linters) or "nobody: neither mandoc nor groff is installed"))
    return faults


# Typed so far, what must be offered, what must not.
COMPLETED = [
    (["shimsight", ""], ["read", "gear-set", "job"], ["add-trial"]),
    (["shimsight", "re"], ["read", "review", "report", "render"], ["job"]),
    (["shimsight", "read", "--s"], ["--side", "--shim-stack"], ["--backlash"]),
    (["shimsight", "read", "--side", ""], ["drive", "coast"], ["--side"]),
    (["shimsight", "read", "--checked", "mis"], ["mismatched-or-worn"], ["sides"]),
    (["shimsight", "job", ""], ["new", "add-trial", "restore"], ["read"]),
    (["shimsight", "job", "add-trial", "--dial", "s"], ["square-to-tooth"], ["outer-circumference"]),
    (["shimsight", "lesson", "show", "ba"], ["backlash"], ["tooth"]),
    (["shimsight", "read", "--gear-set", "models/gear-sets/lab-unk"], ["models/gear-sets/lab-unknown-rear-axle.json"], []),
    (["shimsight", "serve", "--jobs", "mod"], ["models"], ["README.md"]),
    (["shimsight", "read", "--backlash", ""], [], ["read", "models"]),
]


def faultsOfBash(file, texts):
    script = "compopt() { :; }; . " + str(file) + '; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _shimsight; printf "%s\\n" "${COMPREPLY[@]}"'

    def offered(words):
        return output("bash", "-c", script, "bash", *words, cwd=ROOT).split("\n")[:-1]

    faults = []
    for words, wanted, unwanted in COMPLETED:
        have = offered(words)
        if [w for w in wanted if w not in have] or [w for w in unwanted if w in have]:
            faults.append(f"bash: {' '.join(words)}<TAB> offers {have}")
    for name, text in texts.items():
        path = next(words for words in waysToSplit(name) if words in KNOWN_PATHS)
        missing = optionsOf(text) - set(offered([*path, "--"]))
        if missing:
            faults.append(f"bash: {' '.join(path)} --<TAB> leaves out {sorted(missing)}")
    return faults


KNOWN_PATHS = []


def waysToSplit(name):
    parts = name.split("-")
    for one in range(1, len(parts) + 1):
        for two in range(one, len(parts) + 1):
            yield [p for p in ("-".join(parts[:one]), "-".join(parts[one:two]), "-".join(parts[two:])) if p]


def faultsOfZsh(file):
    if not shutil.which("zsh"):
        print("zsh is not installed: its completion was not tried")
        return []
    done = subprocess.run(["zsh", "-n", file], capture_output=True, text=True, timeout=60, check=False)
    if done.returncode != 0:
        return [f"zsh: {done.stderr[:300]}"]
    # A shell in a terminal of its own, asked as a person would; each answer is waited for.
    asked = [("shimsight re", "write the build sheet of a job"), ("shimsight job add-", "add backlash readings round the ring gear"),
             ("shimsight read --side ", "coast*drive")]
    script = f"""
zmodload zsh/zpty
zpty z zsh -f -i
zpty -w z 'PROMPT=""; autoload -U compinit; fpath=({file.parent} $fpath); compinit -u -D; LISTMAX=10000; echo REA""DY'
zpty -r -m z out '*READY*'
ask() {{ zpty -w -n z "$1"$'\t\t'; zpty -r -m z out "*$2*" && echo "offered: $1"; zpty -w -n z $'\C-u'; }}
"""
    script += "".join(f"ask '{typed}' '{wanted}'\n" for typed, wanted in asked) + "zpty -d z\n"
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(file.parent), "TERM": "xterm", "LC_ALL": "C.UTF-8", "COLUMNS": "200"}
    try:
        said = output("zsh", "-f", "-c", script, env=environment)
    except subprocess.TimeoutExpired as late:
        said = (late.stdout or b"").decode("utf-8", "replace")
    return [f"zsh: {typed}<TAB> does not offer: {wanted}" for typed, wanted in asked if f"offered: {typed}" not in said]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--shimsight", required=True, type=pathlib.Path)
    program = parser.parse_args().shimsight.resolve()
    texts = helpTexts(program)
    if len(texts) < 30:
        sys.exit(f"FAILED: only {len(texts)} help texts were found")
    for name in texts:
        command = name.removeprefix("shimsight").lstrip("-")
        group = next((g for g in ("job", "lesson") if command.startswith(g + "-")), None)
        KNOWN_PATHS.append(["shimsight", *([group, command[len(group) + 1:]] if group else [command] if command else [])])
    with tempfile.TemporaryDirectory(prefix="shimsight-manual-") as folder:
        out = pathlib.Path(folder)
        output(sys.executable, ROOT / "tools/package/manual.py", program, out)
        faults = faultsOfPages(out / "man1", texts) + faultsByLint(out / "man1")
        faults += faultsOfBash(out / "bash/shimsight", texts) + faultsOfZsh(out / "zsh/_shimsight")
    faults += noticeFaults(program) + connectionFaults(program)
    for fault in faults:
        print("FAILED", fault)
    options = sum(len(optionsOf(text)) for text in texts.values())
    print(f"{len(texts)} pages, {options} options, {len(COMPLETED)} completions, {len(faults)} faults")
    return 1 if faults else 0


# Of the libraries that the program is linked to, the name in NOTICE; those of the compiler need none.
LIBRARIES = {"crypto": "OpenSSL", "opencv_dnn": "OpenCV", "opencv_imgproc": "OpenCV", "opencv_core": "OpenCV", "freetype": "FreeType",
             "turbojpeg": "libjpeg-turbo", "png16": "libpng", "z": "zlib", "webp": "libwebp", "webpdemux": "libwebp", "webpmux": "libwebp",
             "heif": "libheif", "embree3": "Embree", "md4c": "MD4C", "microhttpd": "GNU libmicrohttpd", "qrencode": "libqrencode"}
COMPILED_IN = ["DejaVu Sans", "three.js", "nlohmann_json", "CLI11", "Eigen", "The networks"]
OF_THE_COMPILER = {"stdc++", "m", "gcc_s", "c", "asan", "ubsan", "ld-linux-x86-64"}


def noticeFaults(program):
    """Every library that the program is linked to and every part that is built in stands in what --licences shows."""
    told = output(program, "--licences")
    linked = set(re.findall(r"NEEDED +(?:lib)?(\S+?)\.so", output("objdump", "-p", program)))
    faults = [f"NOTICE: {name} is missing" for name in COMPILED_IN if name not in told]
    for name in sorted(linked - OF_THE_COMPILER):
        if name not in LIBRARIES:
            faults.append(f"lib{name} is linked, and tests/package/manual_test.py does not know it: add it there and to make_notice.py")
        elif not re.search(rf"(?m)^{re.escape(LIBRARIES[name])}: .*Debian package", told):
            faults.append(f"NOTICE: {LIBRARIES[name]} is missing")
    if "MIT License" not in told or not told.endswith((ROOT / "NOTICE").read_text(encoding="utf-8")):
        faults.append("--licences does not show LICENSE and NOTICE whole")
    return faults


def connectionFaults(program):
    """docs/privacy.md: the program opens no connection to anybody and asks for no address."""
    used = set(re.findall(r"\*UND\*.* (\w+)", output("objdump", "-T", program)))
    if not {"bind", "listen"} <= used:
        return [f"the functions that the program uses were not found: {len(used)}"]
    return [f"docs/privacy.md: the program uses {name}" for name in
            sorted(used & {"connect", "getaddrinfo", "gethostbyname", "sendto", "sendmsg", "res_query", "popen", "system"})]


if __name__ == "__main__":
    sys.exit(main())
