# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Every fault that tools/check_words.py promises to find, planted in a small tree and found."""

import pathlib
import sys
import tempfile
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "tools"))
import check_words  # noqa: E402

GOOD = {
    "src/words/english/page.txt": "# Remark --not-read\nmore = More\nplace = {0} of {1}\n",
    "src/words/english/cli.txt": "hint = Name --out DIR.\n",
    "src/lesson/page/frame.html": '<!doctype html>\n<!-- A remark. -->\n<style>.a { color: red }</style>\n<p class="dim small" title="{{page.more}}">{{page.more}} &#8249;</p>\n',
    "src/lesson/page/live.js": '// A remark of four words.\nvar more = say("page.more"), kind = "drive", at = say("page.place", f(1, 2), `${kind}-flank`);\n'
                               'element.setAttribute("class", `a ${kind}`.split(" ")[0]);\nvar cut = text.replace(/"two words"/g, more);\n'
                               'h("p", { class: "quiet small" }, say("page.more"));\nvar query = matchMedia("(prefers-color-scheme: dark)");\n',
    "src/cli/read.cpp": '// A remark.\nargs.text("--out", out, "DIR", "where the pictures go");\ntell(say("cli.hint"));\n'
                        'return "shimsight job add-trial " + folder + " DRIVE.jpg --shim-stack LEN";\n',
    "src/lesson/chart.cpp": "const char c = '\"';\n" '/* A remark of words. */\nhtml += Html("<p class=\\"dim small\\">") + say("page.more") + "</p>";\n'
                            'check(two, "this never happens");\nstd::string_view name(Kind kind) {\n    return "two words";\n}\n'
                            'formatted("%.1f in (%.2f mm)", a, b);\n',
    "include/shimsight/chart.h": "#pragma once\n/// A remark of words.\n",
}


class CheckWords(unittest.TestCase):
    def faults(self, changes):
        with tempfile.TemporaryDirectory() as folder:
            root = pathlib.Path(folder)
            exempt, check_words.EXEMPT = check_words.EXEMPT, {}
            for name, text in {**GOOD, **changes}.items():
                path = root / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
            try:
                return check_words.check(root)[0]
            finally:
                check_words.EXEMPT = exempt

    def assertFound(self, name, text, *words):
        faults = self.faults({name: GOOD.get(name, "") + text})
        self.assertEqual(len(faults), 1, faults)
        for word in (name, *words):
            self.assertIn(word, faults[0])

    def testGoodTreePasses(self):
        self.assertEqual(self.faults({}), [])

    def testSentenceInCpp(self):
        self.assertFound("src/lesson/chart.cpp", 'return "there is no mark";\n', "chart.cpp:9", "there is no mark")

    def testPartsOfSentencesInCpp(self):
        for literal in (" side, ", "off the ", "no mark", "toward ", "Left: "):
            self.assertFound("src/lesson/chart.cpp", f'text += "{literal}" + word;\n', literal.strip())

    def testWordsInMarkupOfCpp(self):
        for literal in ("<b>Try it: ", "<h1>Shimsight lessons</h1>", " set</b>", '<th scope=\\"col\\">claim</th>', '<nav aria-label=\\"Lessons\\">',
                        '\\" hidden><b>Try it', '<img alt=\\"Rendered photo: '):
            self.assertFound("src/lesson/chart.cpp", f'html += "{literal}";\n')

    def testOneWordOfCpp(self):
        self.assertFound("src/lesson/chart.cpp", 'std::string title = "Lessons";\n', "Lessons")
        self.assertFound("src/lesson/chart.cpp", 'html += Html::text("claim");\n', "claim")

    def testLiteralsInALineAreOne(self):
        self.assertFound("src/lesson/chart.cpp", 'text += "never"\n    " again";\n', "never again")

    def testSentenceInPublicHeader(self):
        self.assertFound("include/shimsight/chart.h", 'inline constexpr std::string_view kCaution = "Vehicle on stands.";\n')

    def testSentenceInScriptInCpp(self):
        self.assertFound("src/lesson/chart.cpp", 'auto script = R"js(alert("no such page"))js";\n', "no such page")

    def testScriptsOfEveryModule(self):
        for name in ("src/lesson/page/live.js", "src/training/page/stick.js", "src/server/page/app.js", "src/review/page/review.js"):
            self.assertFound(name, 'why.push("the crown is worn, which makes the marks long");\n', "the crown is worn")

    def testPartsOfSentencesInScripts(self):
        for literal in ('" too deep"', '"; runs off the "', "`Drive at ${place}, coast at ${other}`", "`${side} flank: ${text}`", "`Table ${i + 1}`", '"no mark"'):
            self.assertFound("src/lesson/page/live.js", f"seen += {literal};\n")

    def testOneWordInScripts(self):
        for line in ('context.fillText("toe", x, y);', 'var title = "Trial";', 'var kind = { label: "bias" };', 'h("span", {}, "heel");',
                     'place.textContent = "right";', 'canvas.setAttribute("aria-label", "flank");'):
            self.assertFound("src/lesson/page/live.js", line + "\n")

    def testWordsInMarkupOfScripts(self):
        self.assertFound("src/lesson/page/live.js", "var empty = '<svg class=\"fk\"><text x=\"1\">toe</text></svg>';\n")

    def testSentenceInATemplatesValue(self):
        self.assertFound("src/lesson/page/live.js", 'var text = `${good ? "leave it" : ""}`;\n', "leave it")

    def testWordsInHtml(self):
        for line in ("<h1>Live tooth</h1>", "<option>solid</option>", '<div aria-label="Setting"></div>', '<img alt="Mark">', "<p>Wear {{page.more}}</p>"):
            self.assertFound("src/lesson/page/frame.html", line + "\n", "frame.html:5")

    def testEntryThatIsMissing(self):
        self.assertFound("src/lesson/page/live.js", 'say("page.less");\n', "no entry page.less")
        self.assertFound("src/lesson/page/frame.html", "<p>{{page.less}}</p>\n", "no entry page.less")

    def testWrongNumberOfValues(self):
        self.assertFound("src/lesson/page/live.js", 'say("page.place", `${[a, b].join(", ")}`);\n', "takes 2 values, not 1")

    def testEntryThatIsNotUsed(self):
        faults = self.faults({"src/words/english/page.txt": GOOD["src/words/english/page.txt"] + "less = Less\n"})
        self.assertEqual(faults, ["src/words/english: page.less is used nowhere"])

    def testEntryThatOnlyARemarkUses(self):
        faults = self.faults({"src/words/english/page.txt": GOOD["src/words/english/page.txt"] + "less = Less\n",
                              "src/lesson/page/more.js": '// say("page.less")\n'})
        self.assertEqual(faults, ["src/words/english: page.less is used nowhere"])

    def testOptionOutsideTheCommandLine(self):
        faults = self.faults({"src/words/english/page.txt": "more = More of it: --all\nplace = {0} of {1}\n"})
        self.assertEqual(faults, ["src/words/english/page.txt: names an option of the command line"])

    def testSentenceBesideAnOptionsHelp(self):
        self.assertFound("src/cli/read.cpp", 'tell("A folder is missing.");\n', "A folder is missing")

    def testExemptionThatIsNotNeeded(self):
        exempt, check_words.EXEMPT_FILES = check_words.EXEMPT_FILES, {"src/lesson/page/live.js": "no reason"}
        try:
            self.assertIn("exempt, but", self.faults({})[0])
        finally:
            check_words.EXEMPT_FILES = exempt


if __name__ == "__main__":
    unittest.main()
