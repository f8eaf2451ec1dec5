#!/usr/bin/python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What was not written is not reported as written, and nothing is written over what must stay.

Usage: output_test.py --shimsight BINARY
"""
import argparse
import json
import os
import pathlib
import pty
import select
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

    def test_odd_torque_is_asked_about(self):
        """On a terminal an odd torque is asked for once more; the same answer again is taken."""
        ours, its = pty.openpty()
        target = self.out / "set.json"
        running = subprocess.Popen([binary, "gear-set", "--new", target], stdin=its, stdout=its, stderr=its, close_fds=True)
        os.close(its)
        told = ""
        answers = {"teeth, pinion": ["11/43"], "ring gear diameter": ["222mm"], "offset of the pinion": ["36mm"],
                   "torque of the pinion nut": ["22Nm", "22Nm"]}
        asked = dict.fromkeys(answers, 0)
        for _ in range(200):
            if not select.select([ours], [], [], 60)[0]:
                break
            try:
                told += os.read(ours, 4096).decode()
            except OSError:  # the terminal is closed: it has ended
                break
            line = told.rsplit("\n", 1)[-1]
            if not line.endswith(": "):
                continue
            key = next((one for one in answers if one in line.lower()), None)
            answer = ""
            if key:
                answer = answers[key][min(asked[key], len(answers[key]) - 1)]
                asked[key] += 1
            told += "\n"
            os.write(ours, (answer + "\n").encode())
        self.assertEqual(running.wait(timeout=60), 0, told)
        os.close(ours)
        self.assertEqual(asked["torque of the pinion nut"], 2, told)
        self.assertIn("16.2 ft-lb (22.0 Nm) is low for a pinion nut", told)
        self.assertEqual(json.loads(target.read_text(encoding="utf-8"))["limits"]["torques_nm"]["pinion_nut"], [22, 22])

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
        self.assertIn("not a plain file", done.stderr)
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
