#!/usr/bin/env python3
"""Puts the outputs of several runs of closed_loop_study jobs together: summarise.py FILE.csv... (standard library only).

Rows of the same names are added up: shares and means by their counts, counts as they are. Prints CSV in the same form.
"""
import sys

# Columns that are names, the column of the count, and whether the other columns are counts to be added.
SECTIONS = {
    "set,who": (2, 2, False),
    "set,trial": (2, 2, False),
    "chance told": (0, 2, False),
    "set,not curable": (1, None, True),
    "false alarm": (1, None, True),
}


def main(files):
    order, header, rows = [], {}, {}
    for name in files:
        for block in open(name, encoding="utf-8").read().strip().split("\n\n"):
            lines = block.split("\n")
            key = next(k for k in SECTIONS if lines[0].startswith(k))
            names, count, added = SECTIONS[key]
            header[key] = lines[0]
            if key not in order:
                order.append(key)
            for line in lines[1:]:
                cells = line.split(",")
                # Chances are told apart by their tenth.
                label = ",".join(cells[:names]) if names else str(min(9, int(float(cells[0]) * 10)))
                values = [float(cell) for cell in cells[names:]]
                weight = float(cells[count]) if count is not None else 1
                at = None if count is None else count - names
                row = rows.setdefault((key, label), [0.0] * (len(values) + 1))
                for i, value in enumerate(values):
                    row[i] += value if added or i == at else value * weight
                row[-1] += weight
    for key in order:
        names, count, added = SECTIONS[key]
        print(header[key])
        for (section, label), row in sorted(rows.items()) if key == "chance told" else rows.items():
            if section != key:
                continue
            cells = [label] if names else []
            columns = header[key].split(",")[names:]
            for i, value in enumerate(row[:-1]):
                if added and not columns[i].startswith(("answers with", "ms")) or (count is not None and i == count - names):
                    cells.append(f"{value:.0f}")
                else:
                    cells.append(f"{value / row[-1]:.2f}")
            print(",".join(cells))
        print()


if __name__ == "__main__":
    main(sys.argv[1:])
