# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Every fault that tools/check_layers.py promises to find, made in a small tree and found; and those that
tools/count_code.py counts beside functions."""

import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "tools"))
import check_copies  # noqa: E402
import check_layers  # noqa: E402
import count_code  # noqa: E402

GOOD = {
    "src/core/CMakeLists.txt": "shimsight_module(core HEADERS units.h)\n",
    "src/gear/CMakeLists.txt": "shimsight_module(gear\n  DEPS core\n  PUBLIC_LIBS Eigen3::Eigen)\n",
    "src/photo/CMakeLists.txt": "shimsight_module(photo DEPS core PRIVATE_LIBS opencv_core)\n",
    "src/flank/CMakeLists.txt": "shimsight_module(flank DEPS core photo gear)\n",
    "include/shimsight/units.h": "#pragma once\n",
    "include/shimsight/gear.h": '#pragma once\n#include <Eigen/Core>\n#include "shimsight/units.h"\n',
    "include/shimsight/photo.h": '#pragma once\n#include <vector>\n',
    "src/gear/blank.cpp": '#include "gear/blank.h"\n#include "shimsight/gear.h"\n',
    "src/gear/blank.h": "#pragma once\n",
    "src/photo/decode.cpp": '#include <png.h>\n#include <opencv2/core.hpp>\n',
    "src/flank/rectify.cpp": '#include "shimsight/units.h"\n#include "shimsight/gear.h"\n',
    "DEVELOPERS.md": "# Map\n\n## Layers\n\n| module | what it does | from outside |\n|---|---|---|\n| `core` | lengths | |\n| `gear` | gear sets | Eigen |\n"
                     "| `photo` | decoding | libpng, OpenCV |\n| `flank` | rectified | |\n\n## Build\n\n| `lint` | no module | |\n",
}


class CheckLayers(unittest.TestCase):
    def faults(self, changes):
        with tempfile.TemporaryDirectory() as folder:
            root = pathlib.Path(folder)
            for name, text in {**GOOD, **changes}.items():
                path = root / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
            return check_layers.check(root)

    def assertOneFault(self, changes, *words):
        # A library where it does not belong is missing in the table of layers too.
        faults = [fault for fault in self.faults(changes) if not fault.startswith("DEVELOPERS.md")]
        self.assertEqual(len(faults), 1, faults)
        for word in words:
            self.assertIn(word, faults[0])

    def testGoodTreePasses(self):
        self.assertEqual(self.faults({}), [])

    def testUpwardInclude(self):
        self.assertOneFault({"src/gear/up.cpp": '// \n#include "shimsight/photo.h"\n'}, "src/gear/up.cpp:2", "not in its DEPS")

    def testUpwardPrivateInclude(self):
        self.assertOneFault({"src/gear/up.cpp": '#include "photo/decode.h"\n'}, "private header of photo")

    def testDepOfADep(self):
        photo = {"src/flank/CMakeLists.txt": "shimsight_module(flank DEPS photo gear)\n", "src/flank/rectify.cpp": ""}
        self.assertEqual(self.faults(photo), [])
        self.assertOneFault({**photo, "src/flank/rectify.cpp": '#include "shimsight/units.h"\n'}, "flank", "of core", "not in its DEPS")

    def testPrivateHeaderOfADep(self):
        self.assertOneFault({"src/flank/fit.cpp": '#include "gear/blank.h"\n'}, "private header of gear")

    def testHeaderOfTheProgram(self):
        records = {"src/records/CMakeLists.txt": "shimsight_module(records DEPS gear)\n",
                   "src/records_json.h": '#include <nlohmann/json.hpp>\n#include "shimsight/gear.h"\n',
                   "src/job/CMakeLists.txt": "shimsight_module(job DEPS records)\n"}
        table = GOOD["DEVELOPERS.md"].replace("\n\n## Build", "\n| `records` | files | nlohmann_json |\n| `job` | the record | |\n\n## Build")
        self.assertEqual(self.faults({**records, "DEVELOPERS.md": table, "src/job/read.cpp": '#include "records_json.h"\n'}), [])
        self.assertOneFault({**records, "src/flank/read.cpp": '#include "records_json.h"\n'}, "of records", "not in its DEPS")
        self.assertOneFault({**records, "include/shimsight/job.h": '#include "records_json.h"\n'}, "the program's own")
        self.assertOneFault({**records, "src/sump.h": "#pragma once\n"}, "belongs to no module")
        self.assertOneFault({**records, "src/records_json.h": "#include <png.h>\n"}, "libpng")

    def testUpwardIncludeInPublicHeader(self):
        self.assertOneFault({"include/shimsight/gear.h": "#include <shimsight/photo.h>\n"}, "not in its DEPS")

    def testCycle(self):
        faults = self.faults({"src/core/CMakeLists.txt": "shimsight_module(core HEADERS units.h DEPS flank)\n"})
        self.assertTrue(any("depends on itself" in fault for fault in faults), faults)

    def testUnknownDep(self):
        self.assertOneFault({"src/core/CMakeLists.txt": "shimsight_module(core HEADERS units.h DEPS sump)\n"}, "sump")

    def testOpenCvInGear(self):
        self.assertOneFault({"src/gear/cv.cpp": "#include <opencv2/core.hpp>\n"}, "OpenCV")

    def testOpenCvInPublicHeader(self):
        self.assertOneFault({"include/shimsight/photo.h": "#include <opencv2/core.hpp>\n"}, "public header")

    def testJsonOutsideRecords(self):
        self.assertOneFault({"src/flank/json.cpp": "#include <nlohmann/json.hpp>\n"}, "nlohmann_json")

    def testJsonInPublicHeaderOfRecords(self):
        records = {"src/records/CMakeLists.txt": "shimsight_module(records DEPS gear)\n"}
        header = "include/shimsight/records.h"
        for shown in ("json_fwd.hpp", "json.hpp"):
            self.assertOneFault({**records, header: f"#include <nlohmann/{shown}>\n"}, "public header")

    def testFreeTypeOutsideDraw(self):
        self.assertOneFault({"src/flank/font.cpp": "#include <ft2build.h>\n"}, "FreeType", "draw")

    def testCommandLineLibraryOutsideCli(self):
        self.assertOneFault({"src/flank/args.h": "#include <CLI/CLI.hpp>\n"}, "CLI11")

    def testHeaderOfNoModule(self):
        self.assertOneFault({"include/shimsight/sump.h": "#pragma once\n"}, "belongs to no module")

    def testClimbingInclude(self):
        self.assertOneFault({"src/flank/up.cpp": '#include "../gear/blank.h"\n'}, "climbs")

    def assertTableFault(self, former, now, *words):
        self.assertIn(former, GOOD["DEVELOPERS.md"])
        faults = self.faults({"DEVELOPERS.md": GOOD["DEVELOPERS.md"].replace(former, now)})
        self.assertEqual(len(faults), 1, faults)
        for word in ("DEVELOPERS.md", *words):
            self.assertIn(word, faults[0])

    def testTableWithoutAModule(self):
        self.assertTableFault("| `flank` | rectified | |\n", "", "flank has no row")

    def testTableWithAModuleThatIsNone(self):
        self.assertTableFault("| `flank` |", "| `sump` | oil | |\n| `flank` |", "sump")

    def testTableInAnotherOrder(self):
        row = "| `core` | lengths | |\n"
        faults = self.faults({"DEVELOPERS.md": GOOD["DEVELOPERS.md"].replace(row, "").replace("| `flank`", row + "| `flank`")})
        self.assertEqual(len(faults), 2, faults)  # of gear and photo, which are built on core
        self.assertIn("does not stand above", faults[0])

    def testTableWithoutALibrary(self):
        self.assertTableFault("| gear sets | Eigen |", "| gear sets | |", "gear includes Eigen")

    def testTableWithALibraryThatIsNotUsed(self):
        self.assertTableFault("| lengths | |", "| lengths | FreeType |", "core includes nothing")

    def testEmptyTreeIsAFault(self):
        with tempfile.TemporaryDirectory() as folder:
            self.assertEqual(len(check_layers.check(pathlib.Path(folder))), 1)


class CountCode(unittest.TestCase):
    def counted(self, text, count):
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "src/gear/blank.cpp"
            path.parent.mkdir(parents=True)
            path.write_text(text, encoding="utf-8")
            return count(pathlib.Path(folder))

    def testStructWithoutNames(self):
        for text in ('Sample sample() {\n    return {"F.1", d, 1.0, 2.0, x, y};\n}\n', "flanks.push_back({outline, &one, nullptr, true, 0.5, 7});\n",
                     'ScoreEntry entry{"a, b", 7, one, 1, two, three};\n'):
            self.assertEqual([fault[2] for fault in self.counted(text, lambda root: list(count_code.unnamedFields(root)))], [6], text)

    def testListsThatAreNoStructs(self):
        for text in ("std::array<double, 6> knots{a, 2, c, 4, e, 6};\n", "return {.a = 1, .b = two, .c = 3, .d = four, .e = 5, .f = six};\n",
                     "for (const double x : {1.0, a, 2.0, b, 3.0, c}) use(x);\n", 'return {{"a", 1}, {"b", two}, {"c", 3}, {"d", four}, {"e", 5}, {"f", 6}};\n',
                     "return {a, b, c, d, e};\n", "auto f() { one(); return two(a, b, c, d, e, 6); }\n"):
            self.assertEqual(self.counted(text, lambda root: list(count_code.unnamedFields(root))), [], text)

    def testCopies(self):
        rows = [("a sigma", r"\bkSigma\s*=", {"src/gear/blank.cpp": 1})]
        faultsOf = lambda root: [fault for _, _, some in check_copies.faults(root, rows) for fault in some]  # noqa: E731
        self.assertEqual(self.counted("constexpr double kSigma = 1;\n", faultsOf), [])
        self.assertEqual(len(self.counted("constexpr double kSigma = 1, kSigma = 2;\n", faultsOf)), 1)
        self.assertEqual(len(self.counted("\n", faultsOf)), 1)


if __name__ == "__main__":
    unittest.main()
