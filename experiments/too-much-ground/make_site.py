"""Write the invented wood lot of this experiment: eight mats and a stand of trees on 6 ha.

Run it as `python make_site.py` in this folder; it writes mats.csv and hosts.csv, the same every time.
"""

import csv
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
WIDTH, HEIGHT = 300.0, 200.0
TREES = 700
CLIMBED, FRUITING = 24, 6
# centre x, y and radius of each mat, m
MATS = (
    (45, 150, 13),
    (62, 142, 9),
    (120, 60, 11),
    (205, 155, 12),
    (218, 148, 8),
    (255, 45, 9),
    (160, 110, 6),
    (30, 35, 5),
)


def write(name: str, header: str, rows: list[list[object]]) -> None:
    """Write one list with its header."""
    with (HERE / name).open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(header.split(","))
        out.writerows(rows)


def main() -> None:
    """Draw the trees; those nearest to a mat's centre are the climbed ones."""
    draw = np.random.Generator(np.random.PCG64(20261125))
    x, y = draw.uniform(1, WIDTH - 1, TREES).round(1), draw.uniform(1, HEIGHT - 1, TREES).round(1)
    inside = np.min([np.hypot(x - cx, y - cy) / radius for cx, cy, radius in MATS], axis=0)
    nearest = np.argsort(inside, kind="stable")
    states = np.full(TREES, "bare", dtype=object)
    states[nearest[:CLIMBED]] = "climbing"
    states[nearest[:FRUITING]] = "fruiting"
    rows: list[list[object]] = [[a, b, state, "tree"] for a, b, state in zip(x, y, states, strict=True)]
    write("hosts.csv", "x,y,state,kind", rows)
    write("mats.csv", "x,y,radius,cover", [[*mat, 1] for mat in MATS])


if __name__ == "__main__":
    main()
