#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""A job of each kind of axle, played by the command line from its start to the sign-off, as the program itself says what comes next.

Usage: axles_test.py --shimsight PROGRAM [--keep DIR] [--only AXLE] [--photos]

The axle's true depth error is known here alone; each trial is rolled by `predict` from it and drawn as flank maps, or, with --photos, rendered as
photos (some seconds of processor each). After every entry the next step is
asked for and done, so that a step that cannot be finished, or one that this axle has not, is seen: the job must end signed off without a reason. The order
of the steps is the order of the work (common practice, no source). --keep leaves the folders and sheets there, to be looked at.
"""

import argparse
import json
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
SETS = ROOT / "models/gear-sets"
MAX_ENTRIES = 80
# Where the set's file gives none.
USUAL_NM = {"ring-gear-bolts": 100, "pinion-support-bolts": 50, "pinion-nut": 240, "bearing-caps": 95, "adjuster-locks": 20, "cover": 30, "shaft-bolts": 80}

# name: gear set, true depth error mm, words that the first answer must hold, words that no step may hold
AXLES = {
    "adjusters-and-sleeve": ("lab-pickup-rear-axle", 0.13, [], ["side shim", "pinion support", "solid spacer"]),
    "carrier-shims-and-spacer": ("lab-delivery-truck-rear-axle", -0.13, ["beside the solid spacer too", "no pair of side shims on hand makes so small a move"], ["notches", "sleeve", "pinion support"]),
    "pinion-support": ("lab-van-rear-axle-a", 0.15, ["under the pinion support"], ["sleeve"]),
    "spiral-bevel": ("lab-farm-truck-spiral-bevel", 0.15, ["spiral bevel set without offset"], ["sleeve", "pinion support"]),
    "front-axle": ("lab-van-front-axle", 0.13, ["goes forward on the coast side"], ["notches", "pinion support"]),
    "high-pinion": ("lab-pickup-front-axle", 0.13, ["high-pinion axle", "going forward the drive side carries the load"], ["notches", "pinion support"]),
}


class Play:
    def __init__(self, program, folder, name, photos):
        self.program, self.folder, self.name, self.photos = program, folder, name, photos
        set_name, self.depth, self.wants, self.never = AXLES[name]
        self.set_file = SETS / f"{set_name}.json"
        self.set = json.loads(self.set_file.read_text())
        self.build, self.limits = self.set["build"], self.set["limits"]
        self.middle = sum(self.limits["backlash_mm"]) / 2
        self.backlash = self.middle
        self.stack = 0.9
        self.sleeve = self.build.get("preload_spacer") == "crush-sleeve"
        self.minute = 0
        self.steps = []
        self.said = []
        self.answers = []

    def run(self, *words):
        done = subprocess.run([self.program, *map(str, words)], cwd=self.folder, capture_output=True, text=True, timeout=300, check=False)
        if done.returncode != 0:
            raise AssertionError(f"{self.name}: {' '.join(map(str, words))}: status {done.returncode}: {done.stderr}")
        return done.stdout

    def job(self, command, *words):
        self.minute += 1
        at = f"2026-03-02T{8 + self.minute // 60:02d}:{self.minute % 60:02d}:00+01:00"
        said = json.loads(self.run("job", command, self.name, *words, "--at", at, "--json"))
        for judged in said["judgements"]:
            # The first marks are wrong by intent; whatever is set by a limit is set right.
            assert judged["result"] != "fail" or judged["what"].endswith("pattern"), f"{self.name}: {judged['sentence']}"
        return said

    def status(self):
        return json.loads(self.run("job", "status", self.name, "--json"))

    def torque(self, field, fallback):
        low, high = self.limits.get(field, {}).get("new", fallback)
        return f"{(low + high) / 2:.3f}Nm"

    def marks(self):
        """The marks of the true setting, as words for add-trial and as those for the command that gives the answer in words."""
        where = pathlib.Path(self.folder) / f"{self.name}-trial-{self.minute}"
        depth, change = f"--depth={self.depth:.4f}mm", self.backlash - self.middle
        if not self.photos:
            self.run("predict", "--gear-set", self.set_file, depth, "--constant-backlash", f"--backlash-change={change:.4f}mm", "--maps", where)
            maps = ["--drive-map", where / "drive.png", "--coast-map", where / "coast.png"]
            return maps, ["advise", *maps]
        # In the design position the backlash is in the middle of the limits; what depth takes of it the ring gear's place gives back.
        rate = json.loads(self.run("predict", "--gear-set", self.set_file, "--json"))["rates"]["backlash_per_depth"]
        photos = []
        for number, side in enumerate(("drive", "coast")):
            photos.append(f"{where}-{side}.jpg")
            # Nothing that chance draws by itself: the same photo in each run.
            seed = 1 + sum(self.name.encode()) + 10 * self.minute + number
            self.run("render", "--gear-set", self.set_file, depth, f"--backlash-change={change + rate * self.depth:.4f}mm", "--side", side, "--scene", "stand", "--variety", 0.6, "--size", "800x600", "--samples", 12, "--seed", seed, "--out", photos[-1])
        return photos, ["read", *photos]

    def roll(self):
        marks, command = self.marks()
        backlash = ["--backlash", f"{self.backlash:.4f}mm"]
        said = self.job("add-trial", *marks, "--shim-stack", f"{self.stack:.4f}mm", *backlash)
        advice = said["entry"]["reading"]["advice"]
        if not self.answers:
            # In words, as a mechanic gets it.
            self.answers.append(self.run(*command, "--gear-set", self.set_file, *backlash))
        if advice["verdict"] != "change":
            return
        shim, target = advice["shim"]["thickness_change_mm"], advice["backlash_target_mm"]
        self.job("done", f"--shim-change={shim:.4f}mm", "--backlash", f"{target:.4f}mm")
        self.stack += shim
        self.depth += -shim if self.build["pinion_shim"] == "under-pinion-support" else shim
        self.backlash = target

    def tick(self, lists):
        record = json.loads(self.run("job", "show", self.name, "--json"))
        item = next(item for item in record["checks"] if item["list"] == lists and item["state"] == "open")
        words = [item["key"]]
        if item["key"] in USUAL_NM:
            words += ["--torque", f"{item['wanted_nm'][0] + 1 if item['wanted_nm'] else USUAL_NM[item['key']]}Nm"]
        self.job("check", *words)

    def do(self, key):
        if key == "parts":
            self.tick("parts")
        elif key == "start-depth":
            if "pinion_depth_mm" in self.build:
                self.job("add-depth", "--measured-depth", f"{self.build['pinion_depth_mm'] - self.depth:.3f}mm", "--shim-stack", f"{self.stack}mm")
            else:
                self.job("add-depth", "--old-figure", "2thou", "--new-figure=-1thou", "--shim-stack", f"{self.stack}mm")
        elif key == "trial-preload":
            self.job("add-preload", self.torque("pinion_preload_nm", [1.5, 2.5]), *(["--for-trial"] if self.sleeve else ["--stack", "1.3mm"]))
        elif key == "preload":
            # The seal is in by now, whichever figure the sheet has.
            sealed = "pinion_preload_with_seal_nm" in self.limits
            self.job("add-preload", self.torque("pinion_preload_with_seal_nm" if sealed else "pinion_preload_nm", [1.5, 2.5]), "--with-seal")
        elif key == "runout":
            self.job("add-runout", f"{self.limits['ring_runout_mm'] / 2}mm")
        elif key == "carrier":
            adjusters = self.build["carrier"] == "threaded-adjusters"
            self.job("add-carrier", *(["--left-notches", 2, "--right-notches", 2] if adjusters else ["--left-shims", "2.286mm", "--right-shims", "2.286mm", "--spread", "0.2mm"]))
        elif key == "backlash":
            self.job("add-backlash", *[f"{self.backlash + k * 0.005:.4f}mm" for k in (0, 1, 0, -1)])
        elif key in ("pattern", "final-pattern"):
            self.roll()
        elif key == "pinion":
            self.tick("pinion")
        elif key == "torques":
            self.tick("torque")
        elif key == "final-assembly":
            self.tick("final-assembly")
        else:
            raise AssertionError(f"{self.name}: no way to do {key}")

    def play(self):
        self.run("job", "new", self.name, "--gear-set", self.set_file, "--axle", f"{self.set['name']}, shop exercise", "--customer", "College motor pool", "--by", "Mira", "--at", "2026-03-02T08:00:00+01:00")
        for _ in range(MAX_ENTRIES):
            status = self.status()
            key = next(step["key"] for step in status["steps"] if step["state"] == "next")
            if not self.steps or self.steps[-1] != key:
                self.steps.append(key)
            self.said.append(status["next"] + " " + status["next_command"])
            if key == "sign-off":
                break
            self.do(key)
        assert status["attention"] == [], f"{self.name}: {status['attention']}"
        # No --note: nothing may be open.
        self.run("job", "sign-off", self.name, "--by", "Mira", "--at", "2026-03-02T18:00:00+01:00")
        self.check()

    def check(self):
        opening = ["parts", "start-depth", "trial-preload", "runout", "carrier", "backlash", "pattern"]
        assert self.steps[: len(opening)] == opening, f"{self.name}: {self.steps}"
        # Sleeve or spacer: seal and nut go in for good when the pattern is right, the preload is read with them in, and
        # the pattern is rolled once more when all is tight, before the cover goes on.
        assert "pinion" in self.steps, f"{self.name}: {self.steps}"
        rest = self.steps[self.steps.index("pinion"):]
        if self.photos:
            # Of photos, one more reading of the same setting may be asked for before it is left.
            rest = [step for step in rest if step != "pattern"]
        wanted = ["pinion", "preload", "torques", "final-pattern", "final-assembly", "sign-off"]
        assert rest == wanted, f"{self.name}: {self.steps}"
        self.check_lists()
        assert any("TORQUE --with-seal" in said for said in self.said), f"{self.name}: the seal is in when the preload is read for good"
        # A change of shims is followed by the preload again, where the shims touch it.
        between = self.steps[len(opening) - 1 : self.steps.index("pinion")]
        if self.build["pinion_shim"] == "under-pinion-support":
            assert "trial-preload" not in between, f"{self.name}: {self.steps}"
        else:
            assert "trial-preload" in between, f"{self.name}: {self.steps}"
        answer = re.sub(r"\s+", " ", self.answers[0])
        for words in self.wants:
            assert words in answer, f"{self.name}: the answer does not say: {words}\n{answer}"
        for words in self.never:
            assert not any(words in said for said in self.said), f"{self.name}: asks for what it has not: {words}: {[s for s in self.said if words in s]}"
        for line, text in ((1, "sheet.html"), (2, "sheet-mm.html")):
            self.run("report", self.name, "--html", f"{self.name}-{text}", "--cache", f"{self.name}-cache", *(["--units", "mm"] if line == 2 else []))
        sheet = (pathlib.Path(self.folder) / f"{self.name}-sheet.html").read_text()
        for words in ("hance", "over 99", "under 1", "in nine jobs of ten"):
            assert words not in sheet, f"{self.name}: the customer's sheet says {words}"
        assert "Signed off" in sheet and "Final pattern" in sheet and "good and was left as it is" in sheet
        metric = (pathlib.Path(self.folder) / f"{self.name}-sheet-mm.html").read_text()
        assert "\u00a0in\u00a0(" not in metric and not re.search(r"lb\u00a0\(\d", metric) and "\u00a0mm" in metric, f"{self.name}: inches on the metric sheet"


    def check_lists(self):
        """What was ticked before the last trial and what after it, by the record's own times."""
        record = json.loads(self.run("job", "show", self.name, "--json"))
        rolled = record["trials"][-1]["at"]
        before = {item["key"] for item in record["checks"] if item["at"] < rolled}
        after = {item["key"] for item in record["checks"] if item["at"] > rolled}
        adjusters = self.build["carrier"] == "threaded-adjusters"
        early = ["oil-seals", "new-nut", "pinion-nut", "bearing-caps", "ring-gear-bolts"] + ["new-sleeve"] * self.sleeve + ["adjuster-locks"] * adjusters
        assert before >= set(early), f"{self.name}: before the last trial: {sorted(before)}"
        late = {"cover", "shaft-bolts", "paste-cleaned", "o-ring", "shaft-retainers", "brakes", "oil-filled", "break-in"}
        assert after >= late, f"{self.name}: after the last trial: {sorted(after)}"
        assert record["preload"][-1]["at"] <= rolled
        # Dry before the first trial; thread locker and torque in one line, when the pinion is in for good.
        at = {item["key"]: item["at"] for item in record["checks"]}
        locked = [item["key"] for item in record["checks"] if "thread locker where" in item["text"]]
        assert locked == ["ring-gear-bolts"], f"{self.name}: {locked}"
        assert at["ring-gear-on"] < record["trials"][0]["at"] and at["pinion-nut"] < at["ring-gear-bolts"] < at["bearing-caps"], f"{self.name}: {at}"
        marks = next(item["text"] for item in record["checks"] if item["key"] == "witness-marks")
        assert ("adjusters" in marks) == adjusters, f"{self.name}: {marks}"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shimsight", required=True)
    parser.add_argument("--keep", help="a folder that the jobs and sheets are left in")
    parser.add_argument("--only", choices=AXLES, help="one axle")
    parser.add_argument("--photos", action="store_true", help="rendered photos in place of drawn maps")
    options = parser.parse_args()
    failed = 0
    with tempfile.TemporaryDirectory(prefix="shimsight-axles-") as folder:
        place = options.keep or folder
        pathlib.Path(place).mkdir(parents=True, exist_ok=True)
        for name in [options.only] if options.only else AXLES:
            play = Play(str(pathlib.Path(options.shimsight).resolve()), place, name, options.photos)
            try:
                play.play()
                print(f"ok      {name}: {len(play.said) - 1} entries: {' > '.join(play.steps)}")
            except AssertionError as fault:
                failed += 1
                print(f"FAILED  {fault}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
