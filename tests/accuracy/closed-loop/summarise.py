#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Puts the outputs of several runs of closed_loop_study and closed_loop_ceiling together: summarise.py FILE.csv...

Rows of the same names are added up, shares and means by their counts. Prints the tables of README.md in Markdown.
Standard library only.
"""
import sys

NAMES = {
    "lab-van-rear-axle-a": "van rear axle A, milled",
    "lab-light-truck-rear-axle": "light truck, hobbed",
    "lab-farm-truck-rear-axle": "farm truck, milled, large cutter",
    "lab-farm-truck-spiral-bevel": "farm truck, spiral bevel, milled",
}
PLAYERS = {"advice": "advice", "chart": "chart habit", "knows": "knows the truth"}
FOUND = 90


class Mean:
    """Means of the columns of rows, weighed by their counts."""

    def __init__(self):
        self.count, self.sums = 0, []

    def add(self, count, values):
        self.sums = self.sums or [0.0] * len(values)
        self.count += count
        for i, value in enumerate(values):
            self.sums[i] += count * value

    def __getitem__(self, i):
        return self.sums[i] / max(self.count, 1e-9)


HEADERS = ("set,who", "set,jobs", "set,trial", "chance told", "set,not curable", "false alarm", "planted", "set,sigma",
           "tellable")


def lines_of(files):
    """Each row with the header above it."""
    for name in files:
        header = ""
        for line in open(name, encoding="utf-8"):
            if line.startswith(HEADERS):
                header = line
            elif "," in line and header:
                yield header, line.strip().split(",")


def gather(files):
    tables, answers = {}, {}

    def put(table, key, count, values):
        tables.setdefault(table, {}).setdefault(key, Mean()).add(count, [float(value) for value in values])

    for header, row in lines_of(files):
        if header.startswith("set,who"):
            put("played", (row[0], row[1]), int(row[2]), row[3:])
            put("played", ("all four", row[1]), int(row[2]), row[3:])
        elif header.startswith("set,jobs"):
            put("ends", row[0], int(row[1]), row[2:])
            put("ends", "all four", int(row[1]), row[2:])
        elif header.startswith("set,trial"):
            answers[row[0]] = answers.get(row[0], 0) + int(row[2])
            put("trials", row[1], int(row[2]), row[3:])
        elif header.startswith("chance told"):
            put("chances", min(4, int(5 * float(row[0]))), int(row[2]), row[:2])
        elif header.startswith("set,not curable"):
            put("verdicts", "all four", 1, row[1:])
            put("answers", "all four", answers.pop(row[0]), row[8:10])
        elif header.startswith("false alarm"):
            put("alarms", row[0], 1, row[1:])
        elif header.startswith("planted"):
            put("faults", (row[0], float(row[1]), row[2], row[3], row[4]), int(row[5]), row[6:])
        elif header.startswith("tellable"):
            put("tellable", (row[0], row[1], row[2]), int(row[3]), row[4:])
        elif header.startswith("set,sigma"):
            put("ceiling", (row[1], row[0]), int(row[2]), row[3:])
            put("ceiling", (row[1], "all four"), int(row[2]), row[3:])
    return tables


def table(title, columns, rows):
    print(f"\n{title}\n\n| " + " | ".join(columns) + " |\n|" + "---|" * len(columns))
    for row in rows:
        print("| " + " | ".join(row) + " |")


def main(files):
    t = gather(files)
    print("Printed by summarise.py from " + ", ".join(sorted(name.split("/")[-1] for name in files)) + ".")
    if "played" in t:
        rows = []
        for place in [*NAMES, "all four"]:
            for who, words in PLAYERS.items():
                m = t["played"].get((place, f"{who} (curable)"))
                if m:
                    rows.append([NAMES.get(place, place), words, str(m.count)] + [f"{m[i]:.1f} %" for i in range(1, 4)]
                                + [f"{m[4]:.1f} %", f"{m[5]:.2f}"])
        table("Corrections until the pattern is right, set-ups that some move on the shelf cures",
              ["set", "who", "set-ups", "after 1", "after 2", "after 3", "never", "mean"], rows)
    if "ends" in t:
        table("The same jobs to the end, that is until the advice leaves the pattern alone",
              ["set", "jobs", "ends right", "corrections made in all", "readings again", "hours"],
              [[NAMES.get(k, k), str(m.count), f"{m[0]:.1f} %", f"{m[1]:.2f}", f"{m[2]:.2f}", f"{m[3]:.2f}"]
               for k, m in sorted(t["ends"].items(), key=lambda item: [*NAMES, "all four"].index(item[0]))])
    if "verdicts" in t:
        m = t["verdicts"]["all four"]
        # Each set's and run's share of false alarms counts by its answers.
        share = lambda i: t["answers"]["all four"][i - 7]
        total = [round(m[i] * m.count) for i in range(7)]
        print(f"\nNot curable {total[0]}; left alone right {total[1]}, wrong {total[2]}; no shim will help {total[3]}, "
              f"of these curable {total[4]}; changed though right {total[5]}; readings again {total[6]}. Answers with a "
              f"diagnosis that is not there at the size named {share(7):.2f} %, not at two thirds of it {share(8):.2f} %. "
              f"Processor time of a first trial {m[9]:.1f} ms.")
    if "trials" in t:
        table("Intervals", ["trial", "answers", "interval holds", "mean error, thou", "mean width, thou"],
              [[k, str(m.count), f"{m[0]:.1f} %", f"{m[2]:.2f}", f"{m[3]:.2f}"] for k, m in sorted(t["trials"].items())])
    if "chances" in t:
        table("Chances", ["chance told", "came true", "moves and acceptances"],
              [[f"{m[0]:.2f}", f"{m[1]:.2f}", str(m.count)] for _, m in sorted(t["chances"].items())])
    if "ceiling" in t:
        table("Right after one correction, one reading before it",
              ["noise", "set", "set-ups", "advice", "best of any reader", "best move of who knows", "most room",
               "reference after two"],
              [[f"{100 * float(s):.1f} %", NAMES.get(g, g), str(m.count)] + [f"{m[i]:.1f} %" for i in (1, 2, 3, 4, 7)]
               for (s, g), m in t["ceiling"].items()])
    if "alarms" in t:
        print("\nFalse alarms by kind: "
              + ", ".join(f"{kind} {round(m[0] * m.count)}" for kind, m in sorted(t["alarms"].items())) + ".")
    if "tellable" in t:
        table("What a reader that knows the world's own density finds on one trial, calling 2 % of healthy ones faulty",
              ["planted", "noise", "jobs", "found"],
              [[f"{name} {size if float(size) else ''}".strip(), f"{noise} %", str(m.count), f"{m[0]:.0f} %"]
               for (name, size, noise), m in t["tellable"].items()])
    if "faults" in t:
        table("Planted faults", ["planted", "trials", "noise", "jobs", "named right", "anything named",
                                 "advice went on", "not there", "nor two thirds of it"],
              [[f"{name} {size:g} {unit}" if not name.startswith("none") else name, trials, f"{noise} %", str(m.count)]
               + [f"{m[i]:.1f} %" for i in range(5)] for (name, size, unit, trials, noise), m in t["faults"].items()])
        # Along each fault from its weakest size to its strongest: the first from which on all are found.
        kinds = {}
        for (name, size, unit, trials, noise), m in t["faults"].items():
            if not name.startswith("none"):
                weak = name in ("thin film", "worn load side") or (name == "backlash mistyped" and size < 1)
                kinds.setdefault((name, unit, trials, noise, weak), []).append((size, m[0]))
        rows = []
        for (name, unit, trials, noise, falling), sizes in kinds.items():
            sizes.sort(reverse=not falling)  # strongest first
            least = None
            for size, share in sizes:
                if share < FOUND:
                    break
                least = size
            rows.append([name, trials, f"{noise} %",
                         f"none of those tried ({max(share for _, share in sizes):.0f} % at most)" if least is None
                         else f"{least:g} {unit}".strip() if unit else "found"])
        table(f"Smallest size of those tried from which on {FOUND} % are named", ["planted", "trials", "noise", "from"],
              rows)


if __name__ == "__main__":
    main(sys.argv[1:])
