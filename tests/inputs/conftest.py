"""Parts that many tests of the inputs need."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from spreadsim.inputs import (
    Crew,
    Event,
    Experiment,
    FollowUp,
    Fund,
    Site,
    Strategy,
    Task,
    Weather,
    load_treatment,
    load_vine,
)

EXPERIMENT = """
title = "An invented wood"
notice = "Invented."
years = 10
replicates = 20
seed = 7
vine = "wintercreeper"
price_year = 2024

[parameters]
"mat.front_speed" = 0.4
"cut.stem_kill" = 0.97

[site]
file = "site.toml"

[weather]
fit_days = { winter = 3, autumn = 6 }

[[crews]]
name = "volunteers"
volunteers = true
hours = { winter = 60, spring = 40.5 }
pace = 0.7

[[crews]]
name = "staff"
hours = 40
may = ["cut", "pull", "foliar-spray", "spot-spray", "scout"]
price = 35

[[strategies]]
name = "stems first"
why = "Seed comes from stems."

[[strategies.tasks]]
treatment = "cut"
targets = "fruiting"
share = 0.5
follow_up = { every = 4, clean = 2 }

[[strategies.tasks]]
treatment = "pull"
units = ["north"]
years = [3]
new_ground = "0.5 acre"
haul_out = true
"""

SITE = """
title = "An invented wood"
notice = "Invented."
cell_size = 2
width = 40
height = 20
hosts = "hosts.csv"
mats = "mats.csv"
sources = "sources.csv"
canopy = 0.5
unit_names = ["north"]
background_seed = 10
"""

HOSTS = """x,y,state,kind,top_light,years_climbing,known
1,1,bare,tree,,,
3.5,19,fruiting,tree,0.8,12,yes
39.9,0,climbing,fence,,,no
"""
MATS = "x,y,radius,cover\n10,10,3,0.9\n"
CALM = {"wind_days": [0.5] * 12, "snow_days": [0] * 12, "year_sd": 0.75}
SOURCES = "x,y,hosts\n-20,5,2\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder with an experiment and the files that it names."""
    for name, text in (
        ("experiment.toml", EXPERIMENT),
        ("site.toml", SITE),
        ("hosts.csv", HOSTS),
        ("mats.csv", MATS),
        ("sources.csv", SOURCES),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def edit(folder: Path) -> Callable[[str, str, str], Path]:
    """Change a file of `folder`: replace a text that must be there once."""

    def change(name: str, old: str, new: str) -> Path:
        path = folder / name
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), encoding="utf-8")
        return folder / "experiment.toml"

    return change


@pytest.fixture
def site() -> Site:
    """Give a small site with something of everything."""
    rng = np.random.default_rng(5)
    ground = np.ones((6, 8))
    ground[2, 3:6] = 0
    return Site.from_arrays(
        2.5,
        mat=rng.random((6, 8)) * (ground > 0),
        canopy=rng.random((6, 8)),
        plantable=ground,
        hosts={
            "x": [0.0, 7.3, 20.0],
            "y": [0.0, 4.1, 15.0],
            "state": ["bare", "climbing", "fruiting"],
            "kind": ["tree", "wall", "sapling"],
            "girth": ["small", "medium", "large"],
            "top_light": [0.1, np.nan, 1.0],
            "years_climbing": [np.nan, np.nan, 9.5],
            "known": [True, False, True],
        },
        units=np.repeat([[0, 1, 1, 2, 2, 2, 1, 0]], 6, axis=0),
        access=1 + rng.random((6, 8)),
        wetness=rng.random((6, 8)),
        sensitive=rng.random((6, 8)) > 0.5,
        sources={"x": [-30.0], "y": [3.0], "hosts": [2.5]},
        crs="EPSG:26910",
        unit_names=["slope", "creek"],
        title="A wood",
        notice="Invented: ünïcode too.",
        origin=(500000.0, 5400000.5),
        background_seed=12.5,
        boundary_mat={"west": True, "south": [(5, 10)]},
    )


@pytest.fixture
def experiment(site: Site) -> Experiment:
    """Give an experiment with something of everything."""
    own = load_treatment("cut").replace({"stem_kill": 0.96})
    return Experiment(
        "Round trip",
        site,
        load_vine("english-ivy").replace({"mat.front_speed": 0.7}),
        (
            Crew("staff", {"winter": 10.1}, ["cut", "pull"], price=35.0, minimum_charge=250.5, lead_seasons=2),
            Crew("all", 3, people=4, session_hours=3, setup_hours=0.7, leader="staff", years=(1, None)),
        ),
        (
            Strategy(
                "cut, then pull",
                tasks=(
                    Task(
                        "cut",
                        targets="fruiting",
                        share=0.3,
                        follow_up=FollowUp(3, 1, "cut"),
                        crews=("staff",),
                    ),
                    Task("pull", name="creek", units=("creek",), years=(2, None), cap=12.5, new_ground=100.0),
                ),
                reserve_follow_up=False,
                why="A reason.",
            ),
        ),
        treatments=(own,),
        years=12,
        seed=99,
        price_year=2024,
        weather=Weather(
            monthly={"temperature": range(12), **dict.fromkeys(("temperature_sd", "rain_days"), range(1, 13)), **CALM},
            min_temperature=5.5,
            closed_days=["11-15/11-30"],
        ),
        funds=(Fund("grant", 1000.25, years=(2, 3), crews=["staff"]),),
        events=(Event("storm", per_year=0.1, radius=30), Event("gap", year=2, x=1.5, y=2, radius=7.25)),
    )
