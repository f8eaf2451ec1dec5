# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Every fault that tools/check_alone.py promises to find, made in a small tree and found."""

import concurrent.futures
import json
import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "tools"))
import check_alone  # noqa: E402

GOOD = {
    "include/shimsight/units.h": "#pragma once\n#include <string>\nstd::string mm();\n",
    "src/units.cpp": '#include "shimsight/units.h"\n#include <string>\nstd::string mm() { return {}; }\n',
    "src/words/words.h": "#pragma once\n#include <vector>\nstd::vector<int> words();\n",
    "src/words/words.cpp": '#include <vector>\n#include "words/words.h"\nstd::vector<int> words() { return {}; }\n',
}


class CheckAlone(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = pathlib.Path(folder.name).resolve()

    def tasks(self, changes=None):
        """What is to be parsed in the good tree with `changes`, by its name."""
        files = {**GOOD, **(changes or {})}
        for name, text in files.items():
            (self.root / name).parent.mkdir(parents=True, exist_ok=True)
            (self.root / name).write_text(text, encoding="utf-8")
        build = self.root / "build"
        build.mkdir(exist_ok=True)
        commands = [
            {"directory": str(build), "file": str(self.root / name),
             "command": f"clang++ -Wall -Wextra -Wconversion -Werror -std=c++20 -I{self.root}/include -I{self.root}/src "
                        f"-MD -MF x.d -o x.o -c {self.root / name}"}
            for name in files if name.endswith(".cpp")]
        (build / "compile_commands.json").write_text(json.dumps(commands), encoding="utf-8")
        return {str(task[0]): task for task in check_alone.tasks(self.root, build)}

    def faults(self, changes=None):
        return {name: said for name, task in self.tasks(changes).items() if (said := check_alone.faultOf(task)[1])}

    def test_the_good_tree_has_none(self):
        self.assertEqual(self.faults(), {})
        self.assertFalse((self.root / "build" / "x.o").exists())

    def test_a_header_that_comes_first_somewhere_is_proven_there(self):
        self.assertEqual(sorted(self.tasks()), ["src/units.cpp", "src/words/words.cpp", "src/words/words.h"])

    def test_a_source_file_that_lives_on_another(self):
        faults = self.faults({"src/units.cpp": "std::string mm() { return {}; }\n"})
        self.assertIn("src/units.cpp", faults)
        self.assertIn("std", faults["src/units.cpp"])

    def test_a_header_that_lives_on_what_stands_before_it(self):
        faults = self.faults({"src/words/words.h": "#pragma once\nstd::vector<int> words();\n"})
        self.assertEqual(list(faults), ["src/words/words.h"])

    def test_a_header_that_nobody_includes(self):
        faults = self.faults({"src/words/more.h": "#pragma once\nstd::vector<int> more();\n"})
        self.assertEqual(list(faults), ["src/words/more.h"])

    def test_a_warning_is_a_fault(self):
        faults = self.faults({"src/units.cpp": "#include \"shimsight/units.h\"\nint low(long high) { return high; }\n"})
        self.assertIn("-Wshorten-64-to-32", faults["src/units.cpp"])

    def test_a_folder_where_files_are_compiled_as_one_is_refused(self):
        with self.assertRaises(SystemExit):
            self.tasks({"src/Unity/unity_0_cxx.cpp": '#include "shimsight/units.h"\n'})

    def parsedOnce(self, changes):
        """The same with a library's header in every second file, which is parsed once; how many files read it back."""
        library = {"lib/Eigen/Core": "#pragma once\nstruct Matrix { int rows; };\n"}
        users = {f"src/user{k}.cpp": '#include <Eigen/Core>\nint rows(Matrix m) { return m.rows; }\n' for k in range(3)}
        tasks = list(self.tasks({**library, **users, **changes}).values())
        tasks = [(path, place, [*words[:1], f"-isystem{self.root}/lib", *words[1:]]) for path, place, words in tasks]
        with concurrent.futures.ThreadPoolExecutor(2) as workers, tempfile.TemporaryDirectory() as folder:
            tasks = check_alone.withLargeParsedOnce(self.root, tasks, pathlib.Path(folder), workers)
            faults = {str(task[0]): said for task in tasks if (said := check_alone.faultOf(task)[1])}
        return faults, sum("-include-pch" in task[2] for task in tasks)

    def test_a_large_header_is_parsed_once_and_lent_to_nobody(self):
        self.assertEqual(self.parsedOnce({}), ({}, 3))
        faults, readBack = self.parsedOnce({
            # Never includes it; and a header that lives on what its first user includes later.
            "src/thief.cpp": "int columns(Matrix m) { return m.rows; }\n",
            "src/words/lent.h": "#pragma once\nint lent(Matrix m);\n",
            "src/words/lent.cpp": '#include "words/lent.h"\n#include <Eigen/Core>\nint lent(Matrix m) { return m.rows; }\n',
        })
        self.assertEqual((sorted(faults), readBack), (["src/thief.cpp", "src/words/lent.cpp"], 3))


if __name__ == "__main__":
    unittest.main()
