#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Makes the jobs of samples/: three whole ones (pinion support, used gears, high pinion) and an archive of smaller ones.

Usage: make_demo.py --shimsight PROGRAM --work FOLDER [--only NAME] [--out samples]

Photos are drawn by `shimsight render` with fixed seeds, so the true set-up is known; the records are made by `shimsight
job` as a person would make them. The truth runs on from trial to trial: a shim that is added moves the pinion by its
thickness, and the backlash is what was set. Where a step says "follow", the advice that the record holds is carried out.
Drawn photos are kept in the work folder and drawn again only when their arguments change.

The story of each job, with the truth of each trial, is written to truth.json beside the jobs.
"""

import argparse
import datetime
import hashlib
import json
import pathlib
import shutil
import struct
import subprocess
import sys

import compact_json

ROOT = pathlib.Path(__file__).resolve().parents[1]
ZONE = "+01:00"


def exifJpeg(jpeg, when):
    """The JPEG with an EXIF block that tells the time, as a camera writes it (CIPA DC-008)."""
    text = when.strftime("%Y:%m:%d %H:%M:%S").encode() + b"\0"
    # Header, IFD0 with one pointer to the Exif IFD, that IFD with DateTimeOriginal.
    ifd0 = struct.pack("<H", 1) + struct.pack("<HHII", 0x8769, 4, 1, 26) + struct.pack("<I", 0)
    exif = struct.pack("<H", 1) + struct.pack("<HHII", 0x9003, 2, len(text), 44) + struct.pack("<I", 0)
    block = b"Exif\0\0" + b"II*\0" + struct.pack("<I", 8) + ifd0 + exif + text
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block + jpeg[2:]


def thou(mm):
    """As a dial is read: to half a thousandth of an inch."""
    return f"{round(mm / 0.0254 * 2) / 2:g}thou"


class Maker:
    def __init__(self, program, work, out):
        self.program, self.work, self.out = program, work, out
        self.rates = {}

    def run(self, *words):
        done = subprocess.run([self.program, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            sys.exit(f"{' '.join(map(str, words))}\n{done.stdout}{done.stderr}")
        return done.stdout

    def setFile(self, gearSet, worn=1.0):
        """The file of a gear set; `worn`: what is left of the crown of its teeth, by which photos are drawn and which no job knows."""
        file = ROOT / "models/gear-sets" / gearSet
        if worn == 1.0:
            return file
        data = json.loads(file.read_text())
        for side in data["modification"].values():
            side["length_crown_um"] *= worn
        made = self.work / f"worn-{worn}-{gearSet}"
        made.write_text(json.dumps(data))
        return made

    def perDepth(self, gearSet):
        if gearSet not in self.rates:
            file = ROOT / "models/gear-sets" / gearSet
            limits = json.loads(file.read_text())["limits"]["backlash_mm"]
            rate = json.loads(self.run("predict", "--gear-set", file, "--json"))["rates"]["backlash_per_depth"]
            self.rates[gearSet] = (rate, sum(limits) / 2)
        return self.rates[gearSet]

    def photo(self, gearSet, depth, backlash, side, seed, options, when, worn=1.0):
        """A drawn photo of this truth, with the time in it; the name of the file. `backlash` None: that of the design."""
        rate, middle = self.perDepth(gearSet)
        backlash = middle if backlash is None else backlash
        # In the design position the backlash is in the middle of the limits. Depth takes some; the rest is the ring
        # gear's place.
        change = backlash - middle + rate * depth
        words = ["render", "--gear-set", self.setFile(gearSet, worn), f"--depth={depth:.4f}mm",
                 f"--backlash-change={change:.4f}mm", "--side", side, "--seed", str(seed), *options]
        key = hashlib.sha256("\0".join(w.name if isinstance(w, pathlib.Path) else w for w in words).encode()).hexdigest()
        drawn = self.work / f"{key[:20]}.jpg"
        if not drawn.exists():
            self.run(*words, "--out", drawn)
        target = self.work / "camera" / f"{key[:20]}-{when:%H%M%S}.jpg"
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(exifJpeg(drawn.read_bytes(), when))
        return target

    def enter(self, folder, story, words, at):
        """One entry; ["tick", LIST]: all lines of a check list that are open, joints with their torque."""
        if words[0] != "tick":
            self.run("job", words[0], folder, *words[1:], *at(6))
            return
        for item in json.loads((folder / "job.json").read_text())["checks"]:
            if item["list"] == words[1] and item["state"] == "open":
                torque = story["torques"].get(item["key"])
                tightened = ["--torque", torque[0], "--wanted", torque[1], "--from", story["sheet"]] if torque else []
                self.run("job", "check", folder, item["key"], *tightened, *at(4))

    def make(self, story):
        folder = self.out / story["folder"]
        if folder.exists():
            shutil.rmtree(folder)
        folder.parent.mkdir(parents=True, exist_ok=True)
        by = story["by"]
        now = datetime.datetime.fromisoformat(story["begun"])

        def at(minutes=0):
            nonlocal now
            now += datetime.timedelta(minutes=minutes)
            return ["--by", by, "--at", now.isoformat(timespec="seconds") + ZONE]

        gearSet = story["set"]
        self.run("job", "new", folder, "--gear-set", ROOT / "models/gear-sets" / gearSet, "--axle", story["axle"],
                 "--customer", story["customer"], *at(), *story.get("new", []))
        worn, truths = story.get("worn", 1.0), []
        if "was" in story:
            wasDepth, wasBacklash = story["was"]
            stamp = at(12)
            named = []
            for place, side in enumerate(("drive", "coast")):
                file = self.photo(gearSet, wasDepth, wasBacklash, side, story["seed"] + place, story["render"], now - datetime.timedelta(minutes=3 - place), worn)
                named.append(self.work / story["folder"] / f"before-{side}.jpg")
                named[-1].parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(file, named[-1])
            self.run("job", "before", folder, *named, "--backlash", thou(wasBacklash), *stamp)
            truths.append({"before": True, "pinion_depth_mm": wasDepth, "backlash_mm": wasBacklash, "gear_set": gearSet})
        for words in story.get("before", []):
            self.enter(folder, story, words, at)
        build = json.loads((ROOT / "models/gear-sets" / gearSet).read_text())["build"]
        sign = -1 if build["pinion_shim"] == "under-pinion-support" else 1
        depth, backlash, stack = story["depth"], story["backlash"], story["stack"]
        trial, change, last = 0, None, []
        for step in story["steps"]:
            if step[0] == "trial":
                trial += 1
                options = step[1] if len(step) > 1 else {}
                at(34)
                photos = []
                for place, side in enumerate(options.get("sides", ["drive", "coast"])):
                    if side == "same":
                        photos.append(last[place])
                        continue
                    when = now - datetime.timedelta(minutes=4 - 2 * place)
                    drawnSet = options.get("drawn_set", gearSet)
                    seed = options.get("seed", story["seed"] + 10 * trial) + (0 if side == "drive" else 1) + 5 * place
                    file = self.photo(drawnSet, depth, backlash if drawnSet == gearSet else None, side, seed, story["render"] + options.get("render", []), when, worn)
                    name = options["names"][place] if "names" in options else f"trial{trial}-{side}.jpg"
                    # The record keeps the name that the camera gave.
                    named = self.work / story["folder"] / name
                    named.parent.mkdir(parents=True, exist_ok=True)
                    photos.append(shutil.copy(file, named))
                last = photos
                words = ["--shim-stack", f"{stack:.4f}mm", "--backlash", options.get("typed_backlash", thou(backlash))]
                if change is not None:
                    words += [f"--shim-change={change:.4f}mm"]
                for key in ("changed", "why"):
                    if key in options:
                        words += ["--" + key, options[key]]
                self.run("job", "add-trial", folder, *photos, *words, *at())
                truths.append({"trial": trial, "pinion_depth_mm": round(depth, 4), "backlash_mm": round(backlash, 4),
                               "shim_stack_mm": round(stack, 4), "gear_set": options.get("drawn_set", gearSet)})
                change = None
                continue
            if step[0] == "enter":
                for words in step[1]:
                    self.enter(folder, story, words, at)
                continue
            advised = json.loads((folder / "job.json").read_text())["trials"][-1]["reading"]["advice"]
            if step[0] == "follow":
                if advised["verdict"] != "change":
                    sys.exit(f"{story['folder']}: trial {trial} asks for no change but for \"{advised['verdict']}\"")
                change, target = advised["shim"]["thickness_change_mm"], advised["backlash_target_mm"]
                note = step[1] if len(step) > 1 else "As advised."
            else:
                change, target, note = step[1:]
            depth += sign * change
            stack += change
            backlash = target if target is not None else backlash
            words = ["--shims-kept"] if abs(change) < 1e-9 else [f"--shim-change={change:.4f}mm", "--shim-stack", f"{stack:.4f}mm"]
            self.run("job", "done", folder, *words, "--backlash", thou(backlash), "--note", note, *at(41))
            if step[0] == "follow" and len(step) > 2:
                backlash = step[2]  # as it is found afterwards
        if "signed_by" in story:
            # Without a note: nothing may be open.
            self.run("job", "sign-off", folder, "--by", story["signed_by"], *at(12)[2:])
        for left in ("job.lock", "job.previous.json"):
            (folder / left).unlink(missing_ok=True)
        compact_json.main([folder / "job.json"])
        return {"folder": story["folder"], "story": story["story"], "trials": truths}


# The order of the work: the pinion for good when the pattern is right, then its preload, then all torques, and the
# pattern once more before the cover goes on.
FINAL_TRIAL = ("trial", {"changed": "Rolled once more with all tight."})

JOB = {
    "folder": "job-van-17", "set": "lab-van-rear-axle-a.json", "axle": "Delivery van 17, rear axle",
    "customer": "College van pool, order 0417", "by": "Mira, second year", "begun": "2026-03-09T08:10:00", "seed": 4100,
    "new": ["--spacer", "solid-spacer"], "render": ["--size", "800x600", "--samples", "16", "--variety", "0.6", "--colour", "yellow"],
    "story": "The shims of the old gear set leave the pinion 0.30 mm too shallow. The apprentice goes by the chart on the wall and "
             "adds a shim where the advice is to take some out. Then the advice is followed, but the backlash opens up when the "
             "bearing caps are tightened. The third trial puts that right, the fourth is left alone, the fifth is rolled with all tight.",
    "depth": -0.30, "backlash": 0.2794, "stack": 1.524,
    "sheet": "workshop sheet of the lab, van rear axle A",
    "torques": {"ring-gear-bolts": ("108Nm", "105Nm:115Nm"), "pinion-support-bolts": ("52Nm", "50Nm:55Nm"), "pinion-nut": ("240Nm", "230Nm:260Nm"),
                "bearing-caps": ("95Nm", "92Nm:98Nm"), "adjuster-locks": ("22Nm", "20Nm:25Nm"), "cover": ("34Nm", "32Nm:38Nm"),
                "shaft-bolts": ("76Nm", "72Nm:80Nm")},
    "before": [["tick", "parts"],
               ["add-preload", "24in-lb", "--stack", "0.66mm", "--note", "First try, too tight."],
               ["add-preload", "15in-lb", "--stack", "0.71mm"], ["add-runout", "1.2thou"],
               ["add-carrier", "--left-notches", "1", "--right-notches", "2"]],
    "steps": [
        ("trial", {"changed": "First try with the shims of the old gear set."}),
        ("do", 0.127, 0.254, "Went by the chart on the wall: mark at the heel means add a shim."),
        ("trial", {"changed": "One shim added.", "why": "Read the chart on the wall, not the advice."}),
        ("follow", "Talked it over with the workshop lead: back to the advice.", 0.2794),
        ("trial", {"changed": "Shims taken out as advised.", "why": "Backlash opened up when the bearing caps were tightened."}),
        ("follow", "As advised, adjusters locked before the caps were tightened."),
        ("trial", {"changed": "Backlash set again with the caps tight."}),
        ("enter", [["tick", "pinion"], ["add-preload", "16in-lb", "--stack", "0.71mm", "--with-seal", "--note", "Read again with the pinion in for good."],
                   ["tick", "torque"], ["add-carrier", "--left-notches", "1", "--right-notches", "2"],
                   ["add-backlash", *(f"{x}thou" for x in (8, 8.5, 8, 7.5))]]),
        FINAL_TRIAL,
        ("enter", [["tick", "final-assembly"]]),
    ],
    "signed_by": "Workshop lead",
}

USED = {
    "folder": "job-van-21-used", "set": "lab-van-rear-axle-b.json", "axle": "Delivery van 21, rear axle", "customer": "College van pool, order 0433",
    "by": "Jon, third year", "begun": "2026-04-14T08:20:00", "seed": 7100, "new": ["--build", "used-gears"],
    "render": ["--size", "560x420", "--samples", "12", "--variety", "0.6", "--colour", "yellow"],
    "story": "The gears have run for years; only the pinion bearings are new. Before they came apart they ran 0.02 mm shallow of new with 0.25 mm of backlash, and a third of their crown is "
             "worn off. The same shim goes back, but the new bearing is 0.15 mm taller: the pinion sits deeper than it did. The advice is to go back to what was, not to what new gears have. "
             "After the change marks and backlash are what they were, and it says to leave it.",
    "worn": 0.7, "was": (-0.02, 0.254), "depth": 0.13, "backlash": 0.2032, "stack": 0.9144,
    "sheet": "workshop sheet of the lab, van rear axle B",
    "torques": {"ring-gear-bolts": ("92Nm", "88Nm:98Nm"), "pinion-nut": ("265Nm", "210Nm:400Nm"), "bearing-caps": ("78Nm", "75Nm:82Nm"),
                "cover": ("30Nm", "28Nm:34Nm"), "shaft-bolts": ("76Nm", "72Nm:80Nm")},
    "before": [["tick", "parts"], ["add-preload", "28in-lb", "--for-trial", "--note", "With the old sleeve."], ["add-runout", "1.5thou"],
               ["add-carrier", "--left-shims", "2.286mm", "--right-shims", "2.3368mm", "--spread", "0.2mm"]],
    "steps": [
        ("trial", {"changed": "New pinion bearings, the old shim put back."}),
        ("follow", "As advised: back to the marks and the backlash from before."),
        ("enter", [["add-preload", "27in-lb", "--for-trial", "--note", "Again with the old sleeve."],
                   ["add-carrier", "--left-shims", "2.3368mm", "--right-shims", "2.286mm", "--spread", "0.2mm"]]),
        ("trial", {"changed": "Shim taken out as advised."}),
        ("enter", [["tick", "pinion"], ["add-preload", "30in-lb", "--with-seal"], ["tick", "torque"],
                   ["add-backlash", *(f"{x}thou" for x in (10, 10.5, 10, 10))]]),
        FINAL_TRIAL,
        ("enter", [["tick", "final-assembly"]]),
    ],
    "signed_by": "Workshop lead",
}

HIGH = {
    "folder": "job-pickup-06-high-pinion", "set": "lab-pickup-front-axle.json", "axle": "Farm pickup 06, front axle", "customer": "College farm, order 0447",
    "by": "Ines, second year", "begun": "2026-05-11T08:15:00", "seed": 8200,
    "render": ["--size", "560x420", "--samples", "12", "--variety", "0.6", "--colour", "yellow"],
    "story": "A high-pinion axle: its set is cut the other way round, left-hand, and goes forward on the convex flank, which is called drive here as in any axle. The shims by the marks on the "
             "pinions leave the pinion 0.125 mm too deep; one change puts it right.",
    "depth": 0.125, "backlash": 0.1905, "stack": 0.9652,
    "sheet": "workshop sheet of the lab, pickup front axle",
    "torques": {"ring-gear-bolts": ("88Nm", "85Nm:95Nm"), "pinion-nut": ("270Nm", "220Nm:400Nm"), "bearing-caps": ("80Nm", "75Nm:85Nm"),
                "cover": ("32Nm", "28Nm:36Nm"), "shaft-bolts": ("95Nm", "90Nm:100Nm")},
    "before": [["tick", "parts"], ["add-depth", "--old-figure", "2thou", "--new-figure=-1thou", "--shim-stack", "0.889mm"],
               ["add-preload", "23in-lb", "--for-trial", "--note", "With set-up bearings."], ["add-runout", "1thou"],
               ["add-carrier", "--left-shims", "2.286mm", "--right-shims", "2.286mm"]],
    "steps": [
        ("trial", {"changed": "First try with the shims by the marks on the pinions."}),
        ("follow",),
        ("enter", [["add-preload", "22in-lb", "--for-trial", "--note", "With set-up bearings."]]),
        ("trial", {"changed": "Shims changed as advised."}),
        ("enter", [["tick", "pinion"], ["add-preload", "25in-lb", "--with-seal"], ["tick", "torque"],
                   ["add-backlash", *(f"{x}thou" for x in (7, 7.5, 7, 6.5))]]),
        FINAL_TRIAL,
        ("enter", [["tick", "final-assembly"]]),
    ],
    "signed_by": "Workshop lead",
}

SMALL = ["--size", "640x480", "--samples", "12", "--variety", "0.7"]
MORNING = "2026-02-{:02d}T08:30:00"


def archived(number, folder, gearSet, axle, by, story, depth, backlash, stack, steps, **more):
    return {"folder": f"archive/{number:02d}-{folder}", "set": gearSet, "axle": axle, "customer": "Drivetrain course, spring",
            "by": by, "begun": MORNING.format(number + 1), "seed": 5000 + 100 * number, "render": SMALL, "story": story,
            "depth": depth, "backlash": backlash, "stack": stack, "steps": steps, **more}


VAN_A, VAN_B, TRUCK = "lab-van-rear-axle-a.json", "lab-van-rear-axle-b.json", "lab-light-truck-rear-axle.json"
ARCHIVE = [
    archived(1, "van-03", VAN_A, "Delivery van 03, rear axle", "Group A", "Too shallow, put right in one step.", -0.15, 0.2286, 1.27,
             [("trial",), ("follow",), ("trial",)]),
    archived(2, "van-08", VAN_B, "Delivery van 08, rear axle", "Group B", "Right at the first try.", 0.0, 0.1778, 0.9144, [("trial",)]),
    archived(3, "van-11", VAN_B, "Delivery van 11, rear axle", "Group C", "Too deep, put right in one step. On the first drive photo the painted teeth are small and half hidden.", 0.15, 0.2032, 1.0668,
             [("trial",), ("follow",), ("trial",)]),
    archived(4, "truck-02", TRUCK, "Light truck 02, rear axle", "Group D", "Face-hobbed set, too deep, put right in one step.", 0.13, 0.1016,
             1.36, [("trial",), ("follow",), ("trial",)]),
    archived(5, "van-04-front", "lab-van-front-axle.json", "Delivery van 04, front axle", "Group A", "A front axle that goes forward on the coast side: too deep, put right in one step.",
             0.13, 0.1778, 0.9652, [("trial",), ("follow",), ("trial",)]),
    archived(6, "farm-truck-01", "lab-farm-truck-rear-axle.json", "Farm truck 01, rear axle", "Group E", "Too shallow by a lot, put right in one step.",
             -0.25, 0.1651, 1.27, [("trial",), ("follow",), ("trial",)]),
    archived(7, "van-05", VAN_A, "Delivery van 05, rear axle", "Group F", "The record names the wrong gear set: the photos show a face-hobbed one.",
             -0.20, 0.2032, 1.27, [("trial", {"drawn_set": TRUCK})]),
    archived(8, "van-12", VAN_B, "Delivery van 12, rear axle", "Group B", "The photo named coast shows the drive side again.", -0.10, 0.1778, 0.9144,
             [("trial", {"sides": ["drive", "drive"], "names": ["trial1-drive.jpg", "trial1-coast.jpg"]})]),
    archived(9, "van-09", VAN_A, "Delivery van 09, rear axle", "Group C", "A shim was added where the advice was to take some out; not finished.",
             -0.10, 0.2032, 1.143, [("trial",), ("do", 0.127, 0.2032, "Thicker shim to bring the pinion in."), ("trial",)]),
    archived(10, "farm-truck-03", "lab-farm-truck-spiral-bevel.json", "Farm truck 03, rear axle", "Group E", "Spiral bevel set without offset, nearly right.",
             0.02, 0.1651, 0.8, [("trial",)]),
    archived(11, "van-06", VAN_A, "Delivery van 06, rear axle", "Group F", "The backlash was typed with a digit wrong: 18 for 8 thousandths.", 0.0, 0.2032,
             1.27, [("trial", {"typed_backlash": "18thou"})]),
    archived(12, "van-07", VAN_B, "Delivery van 07, rear axle", "Group D", "The second trial holds the drive photo of the first one again.", 0.12, 0.1778,
             1.0668, [("trial",), ("follow",), ("trial", {"sides": ["same", "coast"]})], seed=6340),
    archived(13, "van-10", VAN_B, "Delivery van 10, rear axle", "Group A", "Only the drive side was photographed.",
             0.08, 0.1778, 1.0668, [("trial", {"sides": ["drive"]})]),
]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--shimsight", required=True)
    parser.add_argument("--work", required=True, type=pathlib.Path)
    parser.add_argument("--out", default=ROOT / "samples", type=pathlib.Path)
    parser.add_argument("--only", default="", help="stories whose folder holds this")
    options = parser.parse_args()
    options.work.mkdir(parents=True, exist_ok=True)
    maker = Maker(str(pathlib.Path(options.shimsight).resolve()), options.work.resolve(), options.out.resolve())
    for stories in ([JOB], [USED], [HIGH], ARCHIVE):
        file = "archive/truth.json" if stories is ARCHIVE else f"{stories[0]['folder']}/truth.json"
        truths = []
        for story in stories:
            if options.only in story["folder"]:
                truths.append(maker.make(story))
                print(story["folder"], flush=True)
        if truths and not (options.only and stories is ARCHIVE):
            told = {"schema": "shimsight/demo-truth/1", "how_known": "rendered", "jobs": truths}
            (maker.out / file).write_text(compact_json.compact(json.dumps(told)))


if __name__ == "__main__":
    main()
