#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Tries tools/spdx.py on a repository of a few files."""

import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
TAG = "SPDX-License" + "-Identifier: MIT"
FILES = {"a.cpp": "int a;\n", "b.sh": "#!/bin/sh\nexit 0\n", "c.html": "<!doctype html>\n<p>c</p>\n", "d.css": "p{}\n", "CMakeLists.txt": "project(x)\n",
         "empty.h": "", "notes.md": "no source\n", "samples/drawn.svg": "<svg/>\n", "src/lesson/page/three.js": "var x;\n"}
OURS = ["a.cpp", "b.sh", "c.html", "d.css", "CMakeLists.txt", "empty.h"]


def main():
    with tempfile.TemporaryDirectory(prefix="shimsight-spdx-") as folder:
        root = pathlib.Path(folder)
        for name, text in FILES.items():
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            (root / name).write_text(text, encoding="utf-8")
        licence = (ROOT / "LICENSE").read_text(encoding="utf-8")
        (root / "LICENSE").write_text(licence, encoding="utf-8")
        for command in (["init", "-q"], ["add", "-A"]):
            subprocess.run(["git", "-C", folder, *command], check=True)

        def run(*words):
            return subprocess.run([sys.executable, ROOT / "tools/spdx.py", "--root", folder, *words], capture_output=True, text=True, check=False)

        def texts():
            return {name: (root / name).read_text(encoding="utf-8") for name in FILES}

        first = run("--check")
        assert first.returncode == 1 and texts() == FILES, "--check changed a file, or found nothing to say"
        assert all(f"{name}: " in first.stderr for name in OURS) and "three.js" not in first.stderr, first.stderr
        assert run().returncode == 0
        once = texts()
        for name, text in FILES.items():
            assert (once[name].count(TAG) == 1) == (name in OURS), f"{name}:\n{once[name]}"
            body = text.split("\n", 1)[1] if text.startswith(("#!", "<!doctype")) else text
            assert once[name].endswith(body), f"{name} lost something"
        assert once["b.sh"].startswith("#!/bin/sh\n# SPDX-") and once["c.html"].startswith("<!doctype html>\n<!-- SPDX-")
        assert run("--check").returncode == 0 and run().returncode == 0 and texts() == once, "a second run changes something"
        (root / "LICENSE").write_text(licence.replace("(c) 2026", "(c) 2026-2027"), encoding="utf-8")
        assert run("--check").returncode == 1
        assert run().returncode == 0 and run("--check").returncode == 0
        assert all(texts()[name].count(TAG) == 1 and "2026-2027" in texts()[name] for name in OURS), "old lines stay"
    print("spdx: all passed")


if __name__ == "__main__":
    main()
