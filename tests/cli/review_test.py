#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""shimsight review and report from outside: interruption, splitting, bad photos, valid lines and pages.

Usage: review_test.py --shimsight PROGRAM

Works on a few photos of samples/archive. Copies get other bytes by a comment in the JPEG, so that no result is known
from before.
"""

import argparse
import base64
import hashlib
import html.parser
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parents[2]
ARCHIVE = ROOT / "samples/archive"
SCHEMA = json.loads((ROOT / "models/schemas/review-1.schema.json").read_text())
PROGRAM = ""
PHOTOS = 6
PATIENCE_S = 240


def otherBytes(jpeg, number):
    """The same photo in another file: a comment after the start of the JPEG."""
    text = f"copy {number}".encode()
    return jpeg[:2] + b"\xff\xfe" + (len(text) + 2).to_bytes(2, "big") + text + jpeg[2:]


def withoutTime(jpeg):
    """The photo without its camera notes (segment APP1), so that names alone tell its place."""
    at = jpeg.find(b"\xff\xe1")
    return jpeg if at < 0 else jpeg[:at] + jpeg[at + 2 + int.from_bytes(jpeg[at + 2:at + 4], "big"):]


def run(*words, status=0, **more):
    done = subprocess.run([PROGRAM, *map(str, words)], capture_output=True, text=True, timeout=PATIENCE_S, check=False, **more)
    if done.returncode != status:
        raise AssertionError(f"status {done.returncode}, wanted {status}\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done


def kept(cache):
    return {path: path.stat().st_mtime_ns for path in cache.rglob("*.cbor")} if cache.exists() else {}


class Page(html.parser.HTMLParser):
    """Every place from which a page could ask for something outside."""

    def __init__(self):
        super().__init__()
        self.asks, self.ids, self.links, self.images = [], [], [], 0

    def handle_starttag(self, tag, attrs):
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            if name == "href" and tag == "a":
                self.links.append(value)
            elif name in ("src", "href", "action", "data", "poster", "srcset", "background", "xlink:href"):
                self.images += tag == "img"
                if not value.startswith("data:image/jpeg;base64,"):
                    self.asks.append((tag, name, value[:60]))


class ReviewTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.temp = tempfile.TemporaryDirectory(prefix="shimsight-review-")
        cls.base = pathlib.Path(cls.temp.name)
        cls.folder = cls.base / "photos"
        sources = sorted(ARCHIVE.glob("*/photos/*.jpg"))
        assert len(sources) >= 2, "samples/archive is missing"
        for number in range(PHOTOS):
            # Two to a folder: units to share out.
            target = cls.folder / f"set{number // 2}" / f"photo{number}.jpg"
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(otherBytes(sources[number % 2].read_bytes(), number))
        cls.gearSet = ROOT / "models/gear-sets/lab-van-rear-axle-a.json"
        cls.cache = cls.base / "cache"
        cls.whole = cls.review("whole", cls.cache)

    @classmethod
    def tearDownClass(cls):
        cls.temp.cleanup()

    @classmethod
    def words(cls, cache, *more):
        return ["review", "--gear-set", cls.gearSet, "--cache", cache, *more]

    @classmethod
    def review(cls, name, cache, *more, folders=None):
        """The lines of a review in a file of this name."""
        lines = cls.base / f"{name}.jsonl"
        run(*cls.words(cache, "--json", lines, *more), *(folders or ["photos"]), cwd=cls.base)
        return lines.read_text()

    def test_lines_are_valid_and_something_was_read(self):
        lines = self.whole.splitlines()
        self.assertGreaterEqual(len(lines), PHOTOS // 2)
        for line in lines:
            jsonschema.Draft7Validator(SCHEMA).validate(json.loads(line))
        read = [d for d in map(json.loads, lines) if d["kind"] == "trial" and (d["pattern"]["drive"] or d["pattern"]["coast"])]
        self.assertTrue(read)
        self.assertEqual(sum(len(d["photos"]) for d in map(json.loads, lines) if d["kind"] == "trial"), PHOTOS)

    def test_a_killed_review_goes_on_where_it_stopped(self):
        lines = self.base / "killed.jsonl"
        # On a busy machine it may be done before this test gets its turn; then it is tried again.
        for attempt in range(8):
            cache = self.base / f"killed{attempt}"
            process = subprocess.Popen([PROGRAM, *map(str, self.words(cache, "--json", lines, "--jobs", "1")), "photos"], cwd=self.base,
                                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            deadline = time.monotonic() + PATIENCE_S
            while len(kept(cache)) < 2 and process.poll() is None and time.monotonic() < deadline:
                time.sleep(0.002)
            process.send_signal(signal.SIGKILL)
            if process.wait() == -signal.SIGKILL:
                break
            lines.unlink()
        self.assertEqual(process.returncode, -signal.SIGKILL, "it was always done before it could be killed")
        self.assertFalse(lines.exists(), "half a result under its final name")
        before = kept(cache)
        self.assertGreaterEqual(len(before), 2)
        self.assertLess(len(before), PHOTOS)
        again = run(*self.words(cache, "--json", lines), "photos", cwd=self.base)
        self.assertTrue(lines.read_text() == self.whole, "other lines than those of a review at one go")
        after = kept(cache)
        self.assertEqual({path: after[path] for path in before}, before, "a kept result was made anew")
        self.assertEqual(int(re.search(r"\((\d+) known from before\)", again.stdout)[1]), len(before))
        self.assertEqual([p.name for p in self.base.glob("killed.jsonl*")], ["killed.jsonl"])

    def test_a_second_review_reads_nothing_anew_whatever_files_are_called(self):
        before = kept(self.cache)
        for file in sorted(self.folder.rglob("*.jpg")):
            moved = self.base / "moved" / file.parent.name / file.name
            moved.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(file, moved)
        done = run(*self.words(self.cache), "moved", cwd=self.base)
        self.assertIn(f"({PHOTOS} known from before)", done.stdout)
        self.assertEqual(kept(self.cache), before)

    def test_parts_and_folders_give_the_same_lines_as_one_review(self):
        whole = sorted(self.whole.splitlines())
        words = f'"{PROGRAM}" review --gear-set "{self.gearSet}" --cache "{self.cache}" --json'
        # GNU parallel shares the parts out, as DEVELOPERS.md has it.
        subprocess.run(["parallel", "--will-cite", "-j", "2", words + " part-{}.jsonl --part {}/3 photos", ":::", "1", "2", "3"],
                       cwd=self.base, timeout=PATIENCE_S, check=True, stdout=subprocess.DEVNULL)
        parts = [line for file in self.base.glob("part-*.jsonl") for line in file.read_text().splitlines()]
        self.assertEqual(sorted(parts), whole)
        # A Slurm array gives each task its number in the environment and runs the line in a shell.
        for task in range(1, 5):
            subprocess.run(["sh", "-c", words + " task-$SLURM_ARRAY_TASK_ID.jsonl --part $SLURM_ARRAY_TASK_ID/4 photos"],
                           env={**os.environ, "SLURM_ARRAY_TASK_ID": str(task)}, cwd=self.base, timeout=PATIENCE_S, check=True,
                           stdout=subprocess.DEVNULL)
        tasks = [line for file in self.base.glob("task-*.jsonl") for line in file.read_text().splitlines()]
        self.assertEqual(sorted(tasks), whole)
        folders = [line for number in range(PHOTOS // 2)
                   for line in self.review(f"folder{number}", self.cache, folders=[f"photos/set{number}"]).splitlines()]
        self.assertEqual(sorted(folders), whole)

    def trialsOf(self, name, photos):
        """The trials that a review makes of a folder of these photos, each with other bytes and in this order."""
        folder = self.base / name
        folder.mkdir()
        for number, photo in enumerate(photos):
            (folder / f"{number}.jpg").write_bytes(otherBytes(withoutTime((ROOT / "samples" / photo).read_bytes()), f"{name} {number}"))
        lines = map(json.loads, self.review(f"{name}-lines", self.cache, folders=[name]).splitlines())
        return [line for line in lines if line["kind"] == "trial"]

    def test_a_side_in_two_photos_is_no_surer_for_it_and_each_is_read_once(self):
        before = len(kept(self.cache))
        once, = self.trialsOf("once", ["van-a-too-shallow/drive.jpg"])
        twice, = self.trialsOf("twice", ["van-a-too-shallow/drive.jpg"] * 2)
        self.assertEqual(len(kept(self.cache)) - before, 3)
        one, two = once["pattern"]["drive"], twice["pattern"]["drive"]
        self.assertEqual(two["teeth"], one["teeth"])
        for axis in ("toe_heel", "root_tip"):
            self.assertAlmostEqual(two["centre"][axis], one["centre"][axis], places=9)
            self.assertAlmostEqual(two["sigma"][axis], one["sigma"][axis], places=9)

    def test_photos_of_another_compound_stay_apart_and_it_is_said(self):
        yellow, blue = "van-a-too-shallow/drive.jpg", "archive/12-van-07/photos/5b92ce277fe2156a.jpg"
        first, second = self.trialsOf("compounds", [yellow, blue])
        self.assertEqual([len(first["photos"]), len(second["photos"])], [1, 1])
        self.assertFalse([f for f in first["to_know"] if f["kind"] == "apart"])
        told, = [f["text"] for f in second["to_know"] if f["kind"] == "apart"]
        self.assertIn("another marking compound", told)
        both, = self.trialsOf("one-compound", [yellow, "van-a-too-shallow/coast.jpg"])
        self.assertEqual(len(both["photos"]), 2)

    def test_bad_photos_stop_nothing_and_are_named(self):
        mixed = self.base / "mixed"
        mixed.mkdir()
        good = self.folder / "set0/photo0.jpg"
        shutil.copy(good, mixed / "a-good.jpg")
        (mixed / "b-half.jpg").write_bytes(good.read_bytes()[:9000])
        (mixed / "c-empty.jpg").write_bytes(b"")
        (mixed / "d-text.jpeg").write_text("no photo")
        (mixed / "e<&>\x1b[31m.jpg").write_bytes(good.read_bytes()[:500])
        os.mkfifo(mixed / "f-pipe.jpg")
        page = self.base / "mixed.html"
        done = run(*self.words(self.cache, "--html", page), "mixed", cwd=self.base)
        for name in ("b-half.jpg", "c-empty.jpg", "d-text.jpeg", "e<&>", "f-pipe.jpg"):
            self.assertIn(name, done.stdout)
        self.assertNotIn("\x1b", done.stdout)
        self.assertFalse("\x1b" in page.read_text())
        self.assertTrue("e&lt;&amp;&gt;" in page.read_text())

    def checkPage(self, file, images):
        text = file.read_text()
        page = Page()
        page.feed(text)
        self.assertEqual(page.asks, [])
        self.assertGreaterEqual(page.images, images)
        self.assertEqual(len(page.ids), len(set(page.ids)), "an id twice")
        for link in page.links:
            self.assertTrue(link.startswith("#") and link[1:] in page.ids, link)
        self.assertIsNone(re.search(r"url\(|@import|//[a-z0-9.-]+\.[a-z]{2,}/", re.sub(r"base64,[A-Za-z0-9+/=]+", "", text)))
        self.assertTrue("default-src 'none'" in text)
        # Only its own style and script may work, known by their hashes: none in attributes, none that text brings.
        for tag in ("style", "script") if "sha256-" in text else ():
            (own,) = re.findall(f"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
            allowed = base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()
            self.assertTrue(f"{tag}-src 'sha256-{allowed}'" in text)
        self.assertIsNone(re.search(r"<[^>]* (style|on[a-z]+)=", re.sub(r"<script>.*?</script>", "", text, flags=re.DOTALL)))
        tidy = shutil.which("tidy")
        self.assertIsNotNone(tidy, "tidy is not installed (tools/install_packages.sh test)")
        done = subprocess.run([tidy, "-q", "-e", "-utf8", "--drop-empty-elements", "no", file], capture_output=True, text=True, check=False)
        # Its list of HTML 5 elements and attributes is a little older than these.
        faults = [line for line in done.stderr.splitlines()
                  if not re.search(r'proprietary attribute "(loading|aria-[a-z]+|inputmode)"|trimming empty', line)]
        self.assertEqual(faults, [])

    def test_the_pages_are_valid_and_ask_for_nothing(self):
        jobs = [folder for folder in sorted(ARCHIVE.iterdir()) if (folder / "job.json").exists()]
        page = self.base / "review.html"
        run(*self.words(self.cache, "--html", page, "--csv", self.base / "review.csv"), jobs[0], jobs[-1])
        self.checkPage(page, 4)
        self.assertTrue("script-src 'sha256-" in page.read_text() and "unsafe-inline" not in page.read_text())
        self.assertGreaterEqual(len((self.base / "review.csv").read_text().splitlines()), 3)
        sheet = self.base / "sheet.html"
        run("report", jobs[0], "--html", sheet, "--cache", self.cache)
        self.checkPage(sheet, 1)
        text = sheet.read_text()
        for word in ("Build sheet", "Readings", "Torques", "Final assembly", "Please note", "Sign-off", "\u00a0mm)"):
            self.assertTrue(word in text, word)

    def test_without_a_browser_a_pdf_is_refused_in_words(self):
        job = next(folder for folder in sorted(ARCHIVE.iterdir()) if (folder / "job.json").exists())
        done = run("report", job, "--pdf", self.base / "no.pdf", "--cache", self.cache, status=1, env={**os.environ, "PATH": "/nonexistent"})
        self.assertIn("not installed", done.stderr)
        self.assertFalse((self.base / "no.pdf").exists())

    @unittest.skipUnless(shutil.which("chromium"), "no Chromium here")
    def test_a_pdf_is_printed(self):
        job = next(folder for folder in sorted(ARCHIVE.iterdir()) if (folder / "job.json").exists())
        target = self.base / "sheet.pdf"
        run("report", job, "--pdf", target, "--cache", self.cache)
        self.assertTrue(target.read_bytes().startswith(b"%PDF-"))
        self.assertGreater(target.stat().st_size, 20_000)

    def test_wrong_use_is_told(self):
        for words in ([], ["missing"], ["photos", "--part", "4/3"], ["photos", "--part", "0/3"], ["photos", "--no-cache", "--cache", "x"]):
            done = subprocess.run([PROGRAM, "review", *words], cwd=self.base, capture_output=True, text=True, timeout=60, check=False)
            self.assertIn(done.returncode, (1, 2), words)
            self.assertTrue(done.stderr.startswith("shimsight: "))
        empty = self.base / "empty"
        empty.mkdir()
        self.assertIn("nothing to review", run("review", "empty", status=1, cwd=self.base).stderr)


class UsedGears(unittest.TestCase):
    """samples/job-van-21-used: its photos read anew lead back to what the gears were, not to what new ones have."""

    def advice(self, job):
        done = run("review", job, "--no-cache", "--json", "-")
        return [line["advice"] for line in map(json.loads, done.stdout.splitlines()) if line["kind"] == "trial"]

    def test_back_to_what_was(self):
        job = ROOT / "samples/job-van-21-used"
        was, first, second, *later = json.loads((job / "truth.json").read_text())["jobs"][0]["trials"]
        record = json.loads((job / "job.json").read_text())
        step = 0.0508  # of the set's shims
        asked, then, *rest = self.advice(job)
        self.assertEqual(asked["verdict"], "change")
        needed = was["pinion_depth_mm"] - first["pinion_depth_mm"]
        self.assertLess(abs(asked["shim"]["thickness_change_mm"] - needed), step + 0.001)
        self.assertAlmostEqual(asked["backlash_target_mm"], was["backlash_mm"], delta=0.013)
        # The marks from before are what is left alone, at the first look, and the job ends with nothing open.
        for left in (then, *rest):
            self.assertEqual(left["verdict"], "accept")
            self.assertEqual(left["shim"]["thickness_change_mm"], 0)
        for trial in later:
            self.assertEqual(trial["pinion_depth_mm"], second["pinion_depth_mm"])
        self.assertEqual(record["sign_offs"][-1]["open"], [])
        # What was done is what the record's own advice asked for.
        kept = record["trials"][0]["reading"]["advice"]
        self.assertAlmostEqual(record["work"][0]["shim_change_mm"], kept["shim"]["thickness_change_mm"], delta=0.001)
        self.assertAlmostEqual(second["pinion_depth_mm"], was["pinion_depth_mm"], delta=step)
        # The same photos of new gears: the backlash goes inside the limits of new ones.
        with tempfile.TemporaryDirectory() as folder:
            new = pathlib.Path(folder) / "new"
            shutil.copytree(job, new)
            record["build"] = "new-gears"
            (new / "job.json").write_text(json.dumps(record))
            self.assertLess(self.advice(new)[0]["backlash_target_mm"], 0.23)


class SpecialAxles(unittest.TestCase):
    """Axles of which a rule of thumb is wrong: what is special stands in the answer, on the sheet, and is no hindrance."""

    AXLES = {"archive/05-van-04-front": ("goes forward on the coast side", "the coast side, the concave flank"),
             "archive/10-farm-truck-03": ("spiral bevel set without offset", "the drive side, the convex flank"),
             "job-pickup-06-high-pinion": ("going forward the drive side carries the load", "the drive side, the convex flank")}

    def test_what_is_special_is_told(self):
        folders = [ROOT / "samples" / name for name in self.AXLES]
        done = run("review", *folders, "--no-cache", "--json", "-")
        trials = [line for line in map(json.loads, done.stdout.splitlines()) if line["kind"] == "trial"]
        with tempfile.TemporaryDirectory() as place:
            for folder, (told, flank) in zip(folders, self.AXLES.values(), strict=True):
                with self.subTest(folder.name):
                    own = [line for line in trials if line["job"] == str(folder)]
                    self.assertTrue(own)
                    for line in own:
                        self.assertIn(told, " ".join(line["advice"]["because"]))
                        for other, _ in self.AXLES.values():
                            if other != told:
                                self.assertNotIn(other, " ".join(line["advice"]["because"]))
                    sheet = pathlib.Path(place) / f"{folder.name}.html"
                    run("report", folder, "--html", sheet, "--cache", pathlib.Path(place) / "cache")
                    self.assertIn(flank, sheet.read_text())

    def test_the_correction_leads_to_a_pattern_that_is_left(self):
        for name in ("archive/05-van-04-front", "job-pickup-06-high-pinion"):
            with self.subTest(name):
                folder = ROOT / "samples" / name
                file = folder / "truth.json" if (folder / "truth.json").exists() else folder.parent / "truth.json"
                truth = next(job for job in json.loads(file.read_text())["jobs"] if job["folder"] == name)["trials"]
                record = json.loads((folder / "job.json").read_text())
                self.assertEqual(record["trials"][-1]["reading"]["advice"]["verdict"], "accept")
                # Drive is the convex flank, and both were read, whichever carries the axle forward.
                for trial in record["trials"]:
                    self.assertTrue(trial["reading"]["pattern"]["drive"] and trial["reading"]["pattern"]["coast"])
                self.assertGreater(abs(truth[0]["pinion_depth_mm"]), 0.09)
                self.assertLess(abs(truth[-1]["pinion_depth_mm"]), 0.04)
        self.assertEqual(record["sign_offs"][-1]["open"], [])


class Arriving(unittest.TestCase):
    """--list, --since and --watch: a shop's share in which photos arrive."""

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp())
        self.addCleanup(shutil.rmtree, self.folder)
        self.cache = self.folder / "cache"

    def job(self, name, days_old=0):
        """A job of the archive in a folder of its own, last written so many days ago."""
        where = self.folder / "shop" / name
        shutil.copytree(ARCHIVE / name, where)
        then = time.time() - 86400 * days_old
        for file in where.rglob("*"):
            os.utime(file, (then, then))
        return where

    def trials(self, done):
        return [line["job"] for line in map(json.loads, done.stdout.splitlines()) if line["kind"] == "trial"]

    def test_list(self):
        one, other = self.job("02-van-08"), self.job("10-farm-truck-03")
        names = self.folder / "names"
        names.write_text(f"{one}\n\n{other}\n")
        done = run("review", "--list", names, "--cache", self.cache, "--json", "-")
        self.assertEqual(self.trials(done), [str(one), str(other)])
        done = run("review", "--list", "-", "--cache", self.cache, "--json", "-", input=f"{other}\n")
        self.assertEqual(self.trials(done), [str(other)])
        self.assertIn("no such file", run("review", "--list", self.folder / "nothing", status=1).stderr)
        self.assertIn("name a folder", run("review", status=2).stderr)

    def test_since(self):
        self.job("02-van-08", days_old=9)
        new = self.job("10-farm-truck-03")
        day = time.strftime("%Y-%m-%d", time.localtime(time.time() - 3 * 86400))
        done = run("review", self.folder / "shop", "--since", day, "--cache", self.cache, "--json", "-")
        self.assertEqual(self.trials(done), [str(new)])
        day = time.strftime("%Y-%m-%d", time.localtime(time.time() + 3 * 86400))
        self.assertIn("since", run("review", self.folder / "shop", "--since", day, "--json", "-").stderr)
        self.assertIn("no date", run("review", self.folder / "shop", "--since", "yesterday", status=2).stderr)

    def test_watch(self):
        self.job("02-van-08")
        process = subprocess.Popen([PROGRAM, "review", str(self.folder / "shop"), "--watch", "--every", "1", "--cache",
                                    str(self.cache), "--json", "-"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                                   text=True)
        self.addCleanup(process.wait)
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.kill)
        self.assertTrue(json.loads(process.stdout.readline())["job"].endswith("02-van-08"))
        self.job("10-farm-truck-03")
        self.assertTrue(json.loads(process.stdout.readline())["job"].endswith("10-farm-truck-03"))
        # What did not change is not told again; what changed is.
        os.utime(self.folder / "shop/02-van-08/job.json")
        self.assertTrue(json.loads(process.stdout.readline())["job"].endswith("02-van-08"))
        self.assertIn("exclude each other", run("review", self.folder, "--watch", "--html", "x.html", status=2).stderr)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--shimsight", required=True)
    options, rest = parser.parse_known_args()
    PROGRAM = str(pathlib.Path(options.shimsight).resolve())
    unittest.main(argv=[sys.argv[0], *rest])
