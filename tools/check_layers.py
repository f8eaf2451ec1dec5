#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Checks that every module includes only what its shimsight_module() line allows.

Usage: check_layers.py [ROOT]

Reads the shimsight_module() calls in src/*/CMakeLists.txt and every #include in include/shimsight and src. There are
three kinds of headers: public ones (include/shimsight/*.h), the program's own (src/*.h: for all modules, but no part of
the public face; they may show JSON) and private ones (src/MODULE/*.h: for that module alone). A public header and one of
the program belong to the module whose HEADERS name it, or whose name they bear (NAME.h, NAME_*.h).

The table of layers in DEVELOPERS.md has a row for each module: those of its DEPS stand above it, and its last column
names the outside libraries that its files include, no more and no fewer.

Prints one line for each fault (an include of a module that is not named in the DEPS itself, of another module's private
header, a cycle, an outside library where it does not belong, a header of no module, a row that is missing, in the wrong
place or names other libraries) and exits with 1 if there was one.
"""

import pathlib
import re
import sys

# Outside libraries: the includes that reveal them, the modules that may use them in src/, and whether a public header
# may. An include that matches nothing here is taken for the standard library or the system.
OUTSIDE = [
    ("OpenCV", re.compile(r"^opencv2?/"), {"photo", "network", "flank", "teeth", "render", "draw"}, False),
    ("nlohmann_json", re.compile(r"^nlohmann/"), {"records", "job", "review", "lesson", "training", "server", "cli"}, False),
    ("OpenSSL", re.compile(r"^openssl/"), {"job", "server"}, False),
    ("libmicrohttpd", re.compile(r"^microhttpd\.h$"), {"server"}, False),
    ("libqrencode", re.compile(r"^qrencode\.h$"), {"server"}, False),
    ("FreeType", re.compile(r"^(ft2build\.h$|freetype/|freetype2/)"), {"draw"}, False),
    ("md4c", re.compile(r"^md4c\.h$"), {"lesson"}, False),
    ("CLI11", re.compile(r"^CLI/"), {"cli"}, False),
    ("Embree", re.compile(r"^embree\d/"), {"render"}, False),
    ("libturbojpeg", re.compile(r"^(turbojpeg\.h|jpeglib\.h)"), {"photo"}, False),
    ("libpng", re.compile(r"^png\.h"), {"photo"}, False),
    ("libwebp", re.compile(r"^webp/"), {"photo"}, False),
    ("libheif", re.compile(r"^libheif/"), {"photo"}, False),
    ("Eigen", re.compile(r"^(Eigen|unsupported/Eigen)/"), None, True),
]

CALL = re.compile(r"shimsight_module\s*\(([^)]*)\)")
INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]', re.MULTILINE)
KEYWORDS = {"HEADERS", "DEPS", "PUBLIC_LIBS", "PRIVATE_LIBS"}
OPTIONS = {"EACH_FILE", "LIGHT"}


def readModules(root):
    """{module: {"DEPS": [...], "HEADERS": [...], ...}} from src/*/CMakeLists.txt, and the faults found there."""
    modules, faults = {}, []
    for path in sorted(root.glob("src/*/CMakeLists.txt")):
        text = re.sub(r"#.*", "", path.read_text(encoding="utf-8"))
        for call in CALL.finditer(text):
            name, *words = call.group(1).split()
            if name != path.parent.name:
                faults.append(f"{path}: shimsight_module({name}) does not bear the name of its folder")
            lists, current = {key: [] for key in KEYWORDS}, None
            for word in words:
                if word in KEYWORDS:
                    current = word
                elif word in OPTIONS:
                    current = None
                elif current is None:
                    faults.append(f"{path}: '{word}' stands before any of {sorted(KEYWORDS)}")
                else:
                    lists[current].append(word)
            modules[name] = lists
    return modules, faults


def reachable(modules, start):
    """All modules below `start`, itself left out unless there is a cycle."""
    seen, stack = set(), list(modules[start]["DEPS"])
    while stack:
        name = stack.pop()
        if name not in seen:
            seen.add(name)
            stack.extend(modules.get(name, {"DEPS": []})["DEPS"])
    return seen


def moduleOfHeader(modules, header):
    """The module that owns the public or program header `header` (its file name), or None."""
    for name, lists in modules.items():
        if header in lists["HEADERS"]:
            return name
    stem = header[: -len(".h")] if header.endswith(".h") else header
    owners = [name for name in modules if stem == name or stem.startswith(name + "_")]
    return max(owners, key=len, default=None)


def checkFile(modules, root, path, module, isPublic):
    faults = []
    text = path.read_text(encoding="utf-8")
    allowed = set(modules[module]["DEPS"]) | {module}
    shown = path.relative_to(root)
    for match in INCLUDE.finditer(text):
        quote, target = match.groups()
        where = f"{shown}:{text.count(chr(10), 0, match.start(2)) + 1}"
        if ".." in target.split("/"):
            faults.append(f"{where}: '{target}' climbs with '..'; write the path from src/ or include/")
            continue
        ofProgram = quote == '"' and "/" not in target and (root / "src" / target).exists()
        if ofProgram and isPublic:
            faults.append(f"{where}: a public header includes '{target}', which is the program's own")
            continue
        if ofProgram or target.startswith("shimsight/"):
            owner = moduleOfHeader(modules, target.split("/")[-1])
            if owner is None:
                faults.append(f"{where}: '{target}' belongs to no module")
            elif owner not in allowed:
                faults.append(f"{where}: {module} includes '{target}' of {owner}, which is not in its DEPS")
            continue
        first = target.split("/")[0]
        if quote == '"' and "/" in target and first in modules:
            if isPublic:
                faults.append(f"{where}: a public header includes the private header '{target}'")
            elif first != module:
                faults.append(f"{where}: {module} includes '{target}', a private header of {first}")
            continue
        for library, pattern, users, inPublic in OUTSIDE:
            if not pattern.match(target):
                continue
            if isPublic and not inPublic:
                faults.append(f"{where}: a public header includes '{target}' ({library})")
            elif users is not None and module not in users:
                faults.append(f"{where}: {module} includes '{target}' ({library}); only {', '.join(sorted(users))} may")
            break
    return faults


def librariesOf(modules, root):
    """{module: the outside libraries that its files and its headers include}."""
    used = {name: set() for name in modules}
    for path in [*root.glob("include/shimsight/*.h"), *root.glob("src/*.h"), *root.glob("src/*/**/*")]:
        parts = path.relative_to(root).parts
        module = parts[1] if parts[0] == "src" and len(parts) > 2 else moduleOfHeader(modules, path.name)
        if path.suffix not in {".h", ".cpp"} or module not in used:
            continue
        for _, target in INCLUDE.findall(path.read_text(encoding="utf-8")):
            used[module].update(library for library, pattern, _, _ in OUTSIDE if pattern.match(target))
    return used


def checkTable(modules, root):
    """Faults of the table of layers in DEVELOPERS.md, whose rows are | `module` | what it does | libraries |."""
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n## Layers\n")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| `(\w+)` \|.*\| *([^|\n]*?) *\|$", text, re.MULTILINE)
    faults, above, used = [], [], librariesOf(modules, root)
    for name, column in rows:
        if name not in modules:
            faults.append(f"DEVELOPERS.md: the table of layers has '{name}', which is no module")
            continue
        for dep in modules[name]["DEPS"]:
            if dep not in above:
                faults.append(f"DEVELOPERS.md: {dep} is in the DEPS of {name}, but does not stand above it in the table of layers")
        told = {word.strip() for word in column.split(",") if word.strip()}
        if told != used[name]:
            faults.append(f"DEVELOPERS.md: {name} includes {', '.join(sorted(used[name])) or 'nothing'} from outside; "
                          f"the table of layers says {', '.join(sorted(told)) or 'nothing'}")
        above.append(name)
    faults.extend(f"DEVELOPERS.md: {name} has no row in the table of layers" for name in sorted(modules) if name not in above)
    return faults


def check(root):
    modules, faults = readModules(root)
    if not modules:
        return [f"{root}: no shimsight_module() found in src/*/CMakeLists.txt"]
    for name, lists in modules.items():
        for dep in lists["DEPS"]:
            if dep not in modules:
                faults.append(f"src/{name}/CMakeLists.txt: DEPS names '{dep}', which is no module")
        if name in reachable(modules, name):
            faults.append(f"src/{name}/CMakeLists.txt: {name} depends on itself through its DEPS")
    for path in sorted(root.glob("include/shimsight/*")):
        owner = moduleOfHeader(modules, path.name)
        if owner is None:
            faults.append(f"{path.relative_to(root)}: belongs to no module; name it in HEADERS of one")
        else:
            faults.extend(checkFile(modules, root, path, owner, True))
    for path in sorted(root.glob("src/*.h")):
        owner = moduleOfHeader(modules, path.name)
        if owner is None:
            faults.append(f"{path.relative_to(root)}: belongs to no module")
        else:
            faults.extend(checkFile(modules, root, path, owner, False))
    for name in modules:
        for path in sorted(root.glob(f"src/{name}/**/*")):
            if path.suffix in {".h", ".cpp"}:
                faults.extend(checkFile(modules, root, path, name, False))
    return faults + checkTable(modules, root)


def main(arguments):
    root = pathlib.Path(arguments[0] if arguments else pathlib.Path(__file__).parent.parent).resolve()
    faults = check(root)
    for fault in faults:
        print(fault, file=sys.stderr)
    print(f"layers: {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
