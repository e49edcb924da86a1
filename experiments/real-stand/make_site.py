"""Make a site of the mapped stand: `python make_site.py` writes hosts.csv and mats.csv from the trees' file.

The trees are real; girth and light are by the rules below, and the vine on them and round them is invented.
"""

import csv
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
SIDE = 281.6  # m
CLIMBED, FRUITING = 25, 8
SEED = 19690924

# Rules, assumed. Oaks and hickory are taken for the upper canopy, maples and the rest for the lower one. Each
# neighbour within 5 m takes a tenth of the light at a tree's top.
UPPER = {"hickory": 0.9, "whiteoak": 0.9, "redoak": 0.9, "blackoak": 0.9, "maple": 0.5, "misc": 0.5}
NEAR, KEPT_BY_NEIGHBOUR = 5.0, 0.9

# Discs of closed mat (x, y, radius in m); those that overlap make one patch. Invented: they began at the
# garden over the west edge.
MATS = (
    (
        (6, 150, 9),
        (14, 158, 8),
        (9, 138, 7),
        (22, 150, 7),
        (27, 162, 6),
        (13, 172, 5.5),
        (31, 153, 4.5),
        (5, 166, 5),
    ),
    ((84, 236, 7), (92, 241, 6), (78, 229, 5), (95, 232, 4.5), (87, 247, 4)),
    ((148, 96, 6), (155, 101, 5), (143, 89, 4), (158, 94, 3.5)),
    ((222, 190, 4), (227, 186, 3), (219, 185, 2.5)),
    ((190, 40, 2.5), (193, 42, 2)),
)


def build() -> dict[str, list[list[str]]]:
    """Rows of hosts.csv and mats.csv, headers included."""
    with (HERE / "lansing-woods-trees.csv").open(newline="", encoding="utf-8") as file:
        trees = list(csv.DictReader(file))
    # One stem is noted 4 cm beyond the plot, and some on its edge: they are put 5 cm within.
    x = np.clip([float(tree["x_m"]) for tree in trees], 0.05, SIDE - 0.05)
    y = np.clip([float(tree["y_m"]) for tree in trees], 0.05, SIDE - 0.05)
    away = np.hypot(x[:, None] - x, y[:, None] - y)
    neighbours = (away <= NEAR).sum(axis=1) - 1
    light = np.round([UPPER[tree["species"]] for tree in trees] * KEPT_BY_NEIGHBOUR**neighbours, 2)

    in_mat = np.zeros(len(trees), dtype=bool)
    for disc in (disc for patch in MATS for disc in patch):
        in_mat |= np.hypot(x - disc[0], y - disc[1]) <= disc[2]
    luck = np.random.default_rng(SEED).random((2, len(trees)))
    climbed = np.argsort(np.where(in_mat, luck[0], 2.0), kind="stable")[:CLIMBED]
    fruiting = climbed[np.argsort(-light[climbed], kind="stable")][:FRUITING]  # those in the best light
    state, years = np.full(len(trees), "bare", dtype="<U8"), np.zeros(len(trees))
    state[climbed], years[climbed] = "climbing", np.round(1 + 8 * luck[1, climbed])
    state[fruiting], years[fruiting] = "fruiting", np.round(11 + 9 * luck[1, fruiting])

    hosts = [["x", "y", "state", "kind", "girth", "top_light", "years_climbing"]]
    for n in range(len(trees)):
        age = f"{years[n]:.0f}" if years[n] else ""
        hosts.append([f"{x[n]:.2f}", f"{y[n]:.2f}", str(state[n]), "tree", "medium", f"{light[n]:.2f}", age])
    discs = [[*map(str, disc), "0.95"] for patch in MATS for disc in patch]
    return {"hosts.csv": hosts, "mats.csv": [["x", "y", "radius", "cover"], *discs]}


def write(folder: Path) -> None:
    """Write both files into a folder."""
    for name, rows in build().items():
        with (folder / name).open("w", newline="", encoding="utf-8") as out:
            csv.writer(out, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    write(HERE)
