#!/usr/bin/python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What was not written is not reported as written, and nothing is written over what must stay.

Usage: output_test.py --shimsight BINARY
"""
import argparse
import json
import pathlib
import shutil
import signal
import subprocess
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
GEAR_SET = ROOT / "models/gear-sets/lab-van-rear-axle-a.json"
JOB = ROOT / "samples/job-van-17"
binary = ""


def run(*words, **how):
    return subprocess.run([binary, *map(str, words)], capture_output="stdout" not in how, text=True, check=False,
                          timeout=300, **how)


class Output(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.out = pathlib.Path(self.folder.name)

    def tearDown(self):
        self.folder.cleanup()

    def test_full_disk(self):
        for words in (["--help"], ["--version"], ["gear-set", "--help"], ["gear-set", GEAR_SET],
                      ["job", "show", JOB, "--json"], ["review", JOB, "--no-cache", "--json", "-"]):
            with self.subTest(words=words), open("/dev/full", "w", encoding="utf-8") as full:
                done = run(*words, stdout=full, stderr=subprocess.PIPE)
                self.assertEqual(done.returncode, 1)
                self.assertIn("No space left on device", done.stderr)

    def test_closed_pipe(self):
        def closed(restore):
            first = subprocess.Popen([binary, "--help"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                                     restore_signals=restore)
            first.stdout.close()
            said = first.stderr.read()
            first.stderr.close()
            return first.wait(), said
        # As other tools: quietly by the signal, or where that is ignored in a sentence.
        self.assertIn(closed(True), [(-signal.SIGPIPE, ""), (0, "")])
        signal.signal(signal.SIGPIPE, signal.SIG_IGN)
        status, said = closed(False)
        self.assertEqual(status, 1)
        self.assertIn("could not be written", said)

    def test_record_stays(self):
        job = self.out / "job"
        shutil.copytree(JOB, job)
        before = (job / "job.json").read_bytes()
        link = self.out / "link"
        link.symlink_to(job)
        for words in (["report", job, "--html", job / "job.json"], ["report", job, "--html", link / "job.json"],
                      ["review", job, "--no-cache", "--csv", job / "job.previous.json"],
                      ["report", job, "--html", job / "photos/page.html"]):
            with self.subTest(words=words):
                done = run(*words)
                self.assertEqual(done.returncode, 1, done.stderr)
        self.assertEqual((job / "job.json").read_bytes(), before)

    def test_device_stays(self):
        done = run("report", JOB, "--html", "/dev/null")
        self.assertEqual(done.returncode, 1)
        self.assertIn("no plain file", done.stderr)
        self.assertTrue(pathlib.Path("/dev/null").is_char_device())

    def test_zero_byte(self):
        file = self.out / "set.json"
        file.write_bytes(GEAR_SET.read_bytes() + b"\0 and anything")
        done = run("gear-set", file)
        self.assertEqual(done.returncode, 1)
        self.assertIn("zero byte", done.stderr)

    def test_terminal(self):
        document = json.loads(GEAR_SET.read_text(encoding="utf-8"))
        document["name"] = "Van\u001b]0;title\u0007 \u202ecba"
        file = self.out / "set.json"
        file.write_text(json.dumps(document), encoding="utf-8")
        done = run("gear-set", file)
        self.assertEqual(done.returncode, 0, done.stderr)
        for letter in "\u001b\u0007\u202e":
            self.assertNotIn(letter, done.stdout)
        said = run("gear-set", file, "--json")
        if said.returncode == 0:
            self.assertIn(document["name"], said.stdout.encode().decode("unicode_escape"))


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--shimsight", required=True)
    binary = parser.parse_args().shimsight
    unittest.main(argv=["output_test.py"])
