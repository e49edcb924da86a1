"""An invented wood of two units with stems and mats, a strategy with follow-up, two crews; and lines of work in it."""

import csv
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np

from spreadsim import Crew, Experiment, FollowUp, Site, Strategy, Task, load_vine
from spreadsim.log import Added, add_to_log

CELL, SIDE, HOSTS = 2.0, 60, 80
MAPPED, TODAY = date(2024, 11, 20), date(2027, 2, 1)  # years of the model begin with December 2024
EAST = "=1+1"  # a spreadsheet would reckon it out
HEAD = "date,unit,host,task,treatment,crew,hours,people,done,found,something else,notes,corrects"


def site_of(title: str = "A wood of two units", hosts: int = HOSTS, seed: int = 8) -> Site:
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, SIDE * CELL, 200), rng.uniform(0, SIDE * CELL, 200)
    x[:40], y[:40] = rng.uniform(8, 40, 40), rng.uniform(80, 112, 40)
    mat = np.zeros((SIDE, SIDE))
    mat[4:24, 4:20] = 0.9
    mat[36:52, 36:56] = 0.8
    inside = mat[SIDE - 1 - (y // CELL).astype(int), (x // CELL).astype(int)] > 0
    state = np.where(inside, "climbing", "bare")
    table = {"x": x[:hosts], "y": y[:hosts], "state": state[:hosts], "top_light": np.ones(hosts)}
    units = np.where(np.arange(SIDE) < 28, 1, np.where(np.arange(SIDE) < 58, 2, 0)) * np.ones(mat.shape, int)
    return Site.from_arrays(
        CELL, mat=mat, units=units, unit_names=["west", EAST], hosts=table, origin=(1000.0, 2000.0), title=title
    )


def experiment_of(site: Site, path: Path | None = None) -> Experiment:
    tasks = (
        Task("scout", name="@look", share=0.2),
        Task("cut", name="stems", order="fruiting first", share=0.3, follow_up=FollowUp(2, 2, "cut-and-treat")),
        Task("pull", order="outlying patches first", new_ground=30.0, haul_out=True, follow_up=FollowUp(2, 2)),
        Task("foliar-spray", name="spray mats", instead="pull", crews=["staff"]),
    )
    crews = (
        Crew("friends", {"winter": 20, "spring": 12}, ["cut", "pull", "scout"], volunteers=True, pace=0.7),
        Crew("staff", 8.0, price=30.0, turnout_spread=0.3),
    )
    other = Strategy("mats only", tasks=[Task("pull", order="largest first")], reserve_follow_up=False)
    return Experiment(
        "The log of a wood", site, load_vine("wintercreeper"), crews,
        (Strategy("no action"), Strategy("stems first", tasks=tasks), other),
        years=3, replicates=20, seed=4, notice="Invented.", path=path,
    )  # fmt: skip


@cache
def experiment() -> Experiment:
    return experiment_of(site_of())


def take(folder: Path, text: str, *, name: str = "noted.csv", head: str = HEAD, **more) -> Added:
    """Take lines into the log in a folder."""
    path = folder / name
    path.write_text(f"{head}\n{text}\n")
    given = {"folder": folder / "log", "since": MAPPED, "today": TODAY} | more
    return add_to_log(given.pop("experiment", experiment()), path, **given)


def write(path: Path, rows: list[dict[str, object]], separator: str = ",") -> Path:
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), delimiter=separator)
        writer.writeheader()
        writer.writerows(rows)
    return path
