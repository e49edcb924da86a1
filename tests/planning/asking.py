"""A small invented site, with answers that are known, for the questions of stewards."""

import dataclasses
from pathlib import Path

import numpy as np
import xarray as xr

import spreadsim
from spreadsim import Crew, Experiment, Site, Strategy, Task

NEED = 4.0  # hours that clear the one cell with mat: 1 h a m2 of a 2 m cell


def experiment(*, vine: bool = True, years: int = 3, crews=None, tasks=None, site=None, **changes) -> Experiment:
    """One cell of mat in the western of two units, and a treatment that clears it for sure with `NEED` hours."""
    mat = np.zeros((6, 6))
    mat[2, 1] = 0.95 if vine else 0.0
    units = np.where(np.arange(6) < 3, 1, 2) * np.ones((6, 6), int)
    site = site or Site.from_arrays(2.0, mat=mat, units=units, unit_names=["west", "east"], title="Six by six")
    parameters = {"mat_kill": 1.0, "kill_variation": 0.0, "hours_per_area": 1.0, "hours_floor": 1.0, "reroots": 0.0}
    pull = spreadsim.load_treatment("pull").replace(parameters, check_ranges=False)
    scout = spreadsim.load_treatment("scout").replace({"misidentified": 0.0}, check_ranges=False)
    crews = crews or (Crew("staff", {"winter": 5.0}, ("pull",), price=10.0),)
    strategies = (Strategy("pull", tasks=tasks or [Task("pull")]),)
    values = {"treatments": (pull, scout), "fixed_parameters": True, "notice": "Invented.", "seed": 3} | changes
    return Experiment("Asked", site, spreadsim.load_vine("wintercreeper"), crews, strategies, years=years, **values)


def written(folder: Path) -> Path:
    """Write a site of two units with hosts, two crews and one strategy as files; give the experiment's."""
    mat, unit = np.zeros((8, 8)), np.ones((8, 8), int)
    mat[1:4, 1:4], unit[:, 4:] = 0.9, 2
    layers = {"mat": (("y", "x"), mat), "unit": (("y", "x"), unit)}
    xr.Dataset(layers).to_netcdf(folder / "ground.nc", engine="h5netcdf")
    (folder / "hosts.csv").write_text("x,y,state,top_light\n4,12,fruiting,1\n5,11,climbing,1\n11,5,bare,1\n")
    path = folder / "experiment.toml"
    path.write_text(
        """
title = "Asked"
notice = "Invented: this wood does not exist."
years = 4
vine = "wintercreeper"
[site]
cell_size = 2.0
layers = "ground.nc"
unit_names = ["west", "east"]
hosts = "hosts.csv"
[[crews]]
name = "staff"
hours = { winter = 4, autumn = 4 }
may = ["cut", "pull"]
price = 30
[[crews]]
name = "friends"
hours = { winter = 4, autumn = 4 }
may = ["cut", "pull"]
volunteers = true
paid = false
[[strategies]]
name = "both"
[[strategies.tasks]]
treatment = "cut"
follow_up = { every = 4, clean = 2 }
[[strategies.tasks]]
treatment = "pull"
follow_up = { every = 4, clean = 2 }
"""
    )
    return path


def same(
    first: xr.Dataset, second: xr.Dataset, names=("infested_area", "fruiting_hosts", "hours", "seeds_exported")
) -> bool:
    """Whether outcomes are the same bits."""
    return all(first[name].to_numpy().tobytes() == second[name].to_numpy().tobytes() for name in names)


def with_crews(given: Experiment, *crews: Crew) -> Experiment:
    """Give the experiment with other crews."""
    return dataclasses.replace(given, crews=crews)
