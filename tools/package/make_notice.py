#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Writes NOTICE: what others wrote, in the program and beside it, each with its licence.

Usage: make_notice.py [--check]

Copyright and licence texts are copied from /usr/share/doc/PACKAGE/copyright of the installed Debian packages and from the
licence files of this repository. --check writes nothing and fails where NOTICE would come out otherwise.
"""

import pathlib
import re
import sys
import textwrap

ROOT = pathlib.Path(__file__).resolve().parents[2]
WIDTH = 100

# Put into the program by the compiler: (name, Debian package, licence, stanza that holds the text).
COMPILED_IN = [
    ("JSON for Modern C++ (nlohmann_json)", "nlohmann-json3-dev", "MIT (Expat)", "Expat"),
    ("CLI11", "libcli11-dev", "BSD-3-Clause", "BSD-3-clause"),
]
# Linked dynamically: (name, Debian package of the library, licence, what the licence asks for besides).
LINKED = [
    ("OpenCV", "libopencv-core406", "Apache-2.0 and BSD-3-Clause", ""),
    ("libjpeg-turbo", "libturbojpeg0", "BSD-3-Clause, IJG and zlib",
     "This software is based in part on the work of the Independent JPEG Group."),
    ("libpng", "libpng16-16", "libpng", ""),
    ("zlib", "zlib1g", "zlib", ""),
    ("libwebp", "libwebp7", "BSD-3-Clause", ""),
    ("libheif", "libheif1", "LGPL-3.0-or-later", ""),
    ("OpenSSL", "libssl3", "Apache-2.0", ""),
    ("GNU libmicrohttpd", "libmicrohttpd12", "LGPL-2.1-or-later", ""),
    ("libqrencode", "libqrencode4", "LGPL-2.1-or-later", ""),
    ("Embree", "libembree3-3", "Apache-2.0", ""),
    ("MD4C", "libmd4c0", "MIT (Expat)", ""),
    ("FreeType", "libfreetype6", "FTL",
     "Portions of this software are copyright The FreeType Project (www.freetype.org). All rights reserved."),
]


def copyrightFile(package):
    return pathlib.Path(f"/usr/share/doc/{package}/copyright").resolve().read_text(encoding="utf-8")


def stanzas(package):
    """The paragraphs of a machine-readable copyright file: a dictionary of fields for each."""
    out = []
    for paragraph in re.split(r"\n\s*\n", copyrightFile(package)):
        fields, name = {}, ""
        for line in paragraph.splitlines():
            field = re.match(r"([A-Z][A-Za-z-]*):[ \t]*(.*)", line)
            if field:
                name = field.group(1)
                fields[name] = field.group(2).rstrip()
            elif name:
                fields[name] += "\n" + re.sub(r"^ ?\.?$", "", line.rstrip()[1:])
        out.append(fields)
    return out


def holders(package):
    """Whose work it is: the Copyright field for all files, or for those of the library where none is for all."""
    parts = [s for s in stanzas(package) if s.get("Copyright", "").strip()]
    of = [s for s in parts if s.get("Files", "").split() == ["*"]] or [s for s in parts if not s.get("Files", "").startswith("debian")]
    if of:
        text = of[0]["Copyright"]
    else:  # not machine-readable: the lines that say so
        text = "\n".join(dict.fromkeys(m.strip() for m in re.findall(r"(?m)^\s*((?:Copyright|\(C\)).*\d{4}.*)$", copyrightFile(package))))
    return [re.sub(r"^Copyright:? ?(?=\(C\)|\d)", "", line.strip(), flags=re.I) for line in text.splitlines() if line.strip()]


def licenceText(package, licence):
    """The text of a licence, from the stanza of its own or from the one for all files."""
    for own in (True, False):
        for stanza in stanzas(package):
            first, _, text = stanza.get("License", "").partition("\n")
            if first.strip() == licence and text.strip() and own == ("Files" not in stanza):
                return textwrap.dedent(text).strip("\n")
    sys.exit(f"{package}: no text of the licence {licence}")


def wrapped(text, indent=""):
    return textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False)


def heading(text, line="-"):
    return [text, line * len(text), ""]


def holderLines(package):
    return [f"  Copyright {line}" if re.match(r"\(?[Cc\d]", line) else f"  {line}" for line in holders(package)]


def notice():
    out = heading("What others wrote, in Shimsight and beside it", "=")
    out += [wrapped("Shimsight itself: LICENSE (MIT). This file is written by tools/package/make_notice.py."), ""]

    out += heading("1. Put into the program")
    out += [wrapped("DejaVu Sans, regular and bold, the letters and signs that pictures show (src/draw/fonts):"), "",
            *holderLines("fonts-dejavu-core"), "", licenceText("fonts-dejavu-core", "bitstream-vera"), ""]
    head = re.match(r"/\*! (.*?)\*/", (ROOT / "src/lesson/page/three.js").read_text(encoding="utf-8"), re.DOTALL)
    out += [wrapped("three.js, in the pages of the lessons (src/lesson/page/three.js):"), "", head.group(1).strip(), ""]
    for name, package, licence, stanza in COMPILED_IN:
        out += [f"{name}, {licence}:", "", *holderLines(package), "", licenceText(package, stanza), ""]
    out += [wrapped("Eigen, MPL-2.0, unchanged:"), "", *holderLines("libeigen3-dev"), "",
            wrapped("This Source Code Form is subject to the terms of the Mozilla Public License, v. 2.0. If a copy of the MPL was "
                    "not distributed with this file, You can obtain one at http://mozilla.org/MPL/2.0/."), "",
            wrapped("The source is Debian's package libeigen3-dev (apt-get source eigen3); the licence's text stands on Debian in "
                    "/usr/share/common-licenses/MPL-2.0."), ""]
    photos = (ROOT / "models/flank-finder/PHOTOS-LICENSE.txt").read_text(encoding="utf-8").strip()
    out += [wrapped("The networks (models/*/README.md): trained by us, licence as Shimsight's own. 434 real photos of a workshop were "
                    "grounds in the training of the flank finder. The photos themselves are neither in the program nor in the "
                    "repository. Their licence:"), "", photos, ""]

    out += heading("2. Linked dynamically")
    out += [wrapped("The program uses these as shared libraries of the system and brings none of them along. Those under the LGPL (libheif, "
                    "libmicrohttpd, libqrencode) can be replaced by changed ones of the same interface, without building Shimsight anew. "
                    "Licence texts: /usr/share/doc/PACKAGE/copyright and /usr/share/common-licenses."), ""]
    for name, package, licence, besides in LINKED:
        out += [f"{name}: {licence}; Debian package {package}", *holderLines(package)]
        if besides:
            out.append(wrapped(besides, "  "))
        out.append("")
    out += [wrapped("These in turn load what their own packages depend on. The C and C++ runtime libraries of GCC and glibc are under the GPL "
                    "with the GCC Runtime Library Exception, and the LGPL."), ""]

    real = (ROOT / "tests/accuracy/real/LICENSE.txt").read_text(encoding="utf-8").strip()
    out += heading("3. In the repository, not in the program")
    out += [wrapped("Two real photos of ring gears (tests/accuracy/real):"), "", real, "",
            wrapped("What tests and tools need besides comes from Debian (tools/install_packages.sh) and from npm by the lock files in "
                    "tools/js, tools/three and tests/browser; none of it is kept here or shipped."), ""]
    return "\n".join(line.rstrip() for line in "\n".join(out).splitlines()) + "\n"


def main():
    path = ROOT / "NOTICE"
    text = notice()
    if "--check" not in sys.argv[1:]:
        path.write_text(text, encoding="utf-8")
    elif path.read_text(encoding="utf-8") != text:
        sys.exit("NOTICE is not what tools/package/make_notice.py writes: run it")


if __name__ == "__main__":
    main()
