"""Experiments: they load, are as their READMEs say, come from their scripts, and say what is invented."""

import csv
import importlib.util
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import xarray as xr
from scipy import ndimage

from spreadsim.inputs import Experiment, Site, read_experiment

FOLDER = Path(__file__).parent.parent / "experiments"
PARK, STAND = FOLDER / "cut-or-clear", FOLDER / "real-stand"
MAX_COVER = 0.95  # of a closed mat, in both


@pytest.fixture(scope="module")
def park() -> Experiment:
    return read_experiment(PARK / "experiment.toml")


@pytest.fixture(scope="module")
def stand() -> Experiment:
    return read_experiment(STAND / "experiment.toml")


def script(folder: Path) -> ModuleType:
    """Load a folder's make_site.py under a name of its own, with what lies beside it within reach."""
    name = f"make_site_of_{folder.name}"
    spec = importlib.util.spec_from_file_location(name, folder / "make_site.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.path.insert(0, str(folder))
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(folder))
    return module


def rows(path: Path) -> list[list[str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))


def readme(folder: Path) -> str:
    """Read a README as one line, so that a number is found wherever its line breaks."""
    return " ".join((folder / "README.md").read_text(encoding="utf-8").split())


def patches(site: Site) -> list[float]:
    """Areas (m2, from the smallest) of connected mat, corners included."""
    label, number = ndimage.label(site.mat > 0, np.ones((3, 3)))
    area = ndimage.sum_labels(site.mat, label, range(1, number + 1)) * site.cell_size**2 / MAX_COVER
    return sorted(float(a) for a in area)


def states(site: Site) -> list[int]:
    """How many hosts are bare, climbing, fruiting."""
    return [int(np.sum(site.hosts.state == state)) for state in range(3)]


def plantable_at_hosts(site: Site) -> np.ndarray:
    return np.asarray(site.plantable.ravel()[site.hosts.cell])


def test_park_strategies(park: Experiment) -> None:
    assert [strategy.name for strategy in park.strategies] == [
        "no action",
        "cut climbing stems first",
        "clear ground mats first",
        "cut and clear together",
        "stop the seed, then outlying patches",
    ]
    assert (park.years, park.replicates, park.vine.name) == (30, 200, "wintercreeper")
    assert (park.currency, park.price_year) == ("USD", 2024)
    assert sum(sum(crew.hours) for crew in park.crews) == 300
    assert all(strategy.name in readme(PARK) for strategy in park.strategies)


@pytest.mark.parametrize("folder", [PARK, STAND])
def test_plain_strategies_differ_in_the_years_alone(folder: Path) -> None:
    """So that what they differ by is due to the order of work and to nothing else."""
    cut, clear, both = read_experiment(folder / "experiment.toml").strategies[1:4]

    def without_years(tasks: tuple[Any, ...]) -> list[dict[str, Any]]:
        return [{key: value for key, value in task.to_dict().items() if key != "years"} for task in tasks]

    assert without_years(cut.tasks) == without_years(clear.tasks) == without_years(both.tasks)
    assert {task.treatment: task.years for task in cut.tasks if task.years} == {"pull": (11, 30)}
    stems = {task.treatment for task in both.tasks} - {"pull", "scout"}
    assert {task.treatment for task in clear.tasks if task.years} == stems
    assert {task.years for task in clear.tasks if task.years} == {(11, 30)}
    assert not any(task.years for task in both.tasks)


def test_park_ground(park: Experiment) -> None:
    site, text = park.site, readme(PARK)
    cell = site.cell_size**2
    assert (site.ny, site.nx, site.cell_size) == (200, 300, 2.0)
    assert site.unit_names == ("street side", "west ravine", "east ravine")
    for number, name in enumerate(site.unit_names, start=1):
        assert f"{name} ({np.sum(site.unit == number) * cell / 1e4:.1f} ha)" in text
    assert f"canopy {site.canopy.mean():.2f} on average" in text
    assert f"east ravine ({site.sensitive.sum() * cell / 1e4:.1f} ha together)" in text
    assert site.access.min() == pytest.approx(1.0) and 2.0 < site.access.max() < 2.7
    assert len(site.sources) == 5 and site.sources.hosts.sum() == pytest.approx(3)
    outside = (site.sources.y > 400) | (site.sources.x > 600)
    assert outside.all() and site.background_seed == 10


def test_park_mats(park: Experiment) -> None:
    site, text = park.site, readme(PARK)
    areas = patches(site)
    sizes = f"{areas[0]:.0f} to {areas[-1]:,.0f} m2"
    assert f"{sum(areas):,.0f} m2 of mat in {len(areas)} patches of {sizes}" in text
    assert f"({site.mat.sum() * 4:,.0f} m2 of living cover" in text
    assert sum(areas) == pytest.approx(9000, rel=0.01) and len(areas) == 12
    assert np.all(site.mat <= site.plantable + 0.01)  # kept in steps of 0.01
    with xr.open_dataset(PARK / "ground.nc", engine="h5netcdf") as ground:  # before any reader of ours
        assert not np.any(ground.mat.values[ground.plantable.values == 0])


def test_park_hosts(park: Experiment) -> None:
    site, text = park.site, readme(PARK)
    kinds = Counter(site.hosts.kind)
    assert f"{len(site.hosts):,} hosts" in text
    for kind in ("tree", "sapling", "shrub", "log", "stump"):
        assert f"{kinds[kind]:,} {kind}s" in text
    assert f"{kinds['fence']} runs of fence" in text
    _, climbing, fruiting = states(site)
    assert (climbing, fruiting) == (60, 20)
    unknown = ~site.hosts.known
    assert unknown.sum() == 7 and np.sum(unknown & (site.hosts.state == 2)) == 2
    assert np.all(site.hosts.state[unknown] > 0)
    assert plantable_at_hosts(site).min() >= 0.5
    assert np.all(site.hosts.top_light[site.hosts.state == 2] >= 0.5)
    assert np.all(np.isfinite(site.hosts.years_climbing) == (site.hosts.state > 0))


@pytest.mark.parametrize("folder", [PARK, STAND])
def test_climbed_hosts_stand_in_or_by_mats(folder: Path) -> None:
    site = read_experiment(folder / "experiment.toml").site
    climbed = site.hosts.state > 0
    away = ndimage.distance_transform_edt(site.mat == 0) * site.cell_size
    assert away.ravel()[site.hosts.cell[climbed]].max() <= 2.5 + site.cell_size


def test_stand_trees_are_those_that_were_mapped(stand: Experiment) -> None:
    header, *trees = rows(STAND / "lansing-woods-trees.csv")
    assert header == ["x_m", "y_m", "species"] and len(trees) == len(stand.site.hosts) == 2251
    assert Counter(tree[2] for tree in trees) == {
        "hickory": 703, "maple": 514, "whiteoak": 448, "redoak": 346, "blackoak": 135, "misc": 105,
    }  # fmt: skip
    away = np.hypot(
        stand.site.hosts.x - [float(tree[0]) for tree in trees],
        stand.site.hosts.y - [float(tree[1]) for tree in trees],
    )
    assert away.max() <= 0.1 and np.sum(away > 1e-6) < 20  # moved in from the edge of the plot
    assert set(stand.site.hosts.kind) == {"tree"} and set(stand.site.hosts.girth) == {"medium"}


def test_stand_vine_and_ground(stand: Experiment) -> None:
    site, text = stand.site, readme(STAND)
    assert (site.ny, site.nx, site.cell_size) == (128, 128, 2.2)
    assert stand.vine.name == "english-ivy"
    assert states(site) == [2226, 17, 8] and "25 trees in the mats are climbed; the 8 of them" in text
    areas = patches(site)
    assert len(areas) == 5 and sum(areas) == pytest.approx(1771, rel=0.01) and "1,771 m2 in all" in text
    assert sum(sum(crew.hours) for crew in stand.crews) == 80 and "80 crew hours a year" in text
    assert f"{site.canopy.mean():.2f} on average" in text and len(site.sources) == 1
    upper = np.array([tree[2] not in ("maple", "misc") for tree in rows(STAND / "lansing-woods-trees.csv")[1:]])
    assert site.hosts.top_light[upper].max() == 0.9 and site.hosts.top_light[~upper].max() == 0.5


def test_park_script_makes_the_data_checked_in(tmp_path: Path) -> None:
    make = script(PARK)
    made = make.build()
    make.write(made, tmp_path)
    for name in ("hosts.csv", "sources.csv", "site.toml"):
        assert (tmp_path / name).read_text(encoding="utf-8") == (PARK / name).read_text(encoding="utf-8")
    with (
        xr.open_dataset(tmp_path / "ground.nc", engine="h5netcdf", mask_and_scale=False) as new,
        xr.open_dataset(PARK / "ground.nc", engine="h5netcdf", mask_and_scale=False) as old,
    ):
        assert set(new.variables) == set(old.variables) and new.sizes == old.sizes
        for name in map(str, old.data_vars):  # the last digit of an exponential may differ from one machine to another
            apart = np.abs(new[name].values.astype(int) - old[name].values.astype(int))
            assert apart.max() <= 1 and np.mean(apart > 0) < 0.001, name
        assert np.array_equal(new.x, old.x) and np.array_equal(new.y, old.y)


def test_stand_script_makes_the_data_checked_in() -> None:
    for name, made in script(STAND).build().items():
        assert made == rows(STAND / name)


@pytest.mark.parametrize("folder", [PARK, STAND])
def test_invented_data_say_so(folder: Path) -> None:
    experiment = read_experiment(folder / "experiment.toml")
    for text in (experiment.title + experiment.notice, experiment.site.notice, readme(folder)):
        assert "invented" in text.lower()


def test_copied_data_keep_source_and_licence() -> None:
    outside = Path(__file__).parent / "outside" / "data"
    lines = (outside / "heather-map.txt").read_text(encoding="ascii").split()
    assert len(lines) == 200 and {len(line) for line in lines} == {100}
    assert np.mean([[character == "1" for character in line] for line in lines]) == pytest.approx(0.50055)
    for folder, author in ((outside, "Diggle"), (STAND, "Gerrard")):
        assert author in readme(folder) and "General Public License, version 2 or later" in readme(folder)
    note = (STAND / "LICENCE-NOTE.md").read_text(encoding="utf-8")
    assert "hosts.csv" in note and "General Public License" in note
    assert "Version 2, June 1991" in (STAND / "GPL-2.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("folder", [PARK, STAND])
def test_data_are_small(folder: Path) -> None:
    # built pages are no data, and have a limit of their own (tests/views/test_class_page.py)
    sizes = [path.stat().st_size for path in folder.glob("*.*") if path.is_file() and path.suffix != ".html"]
    assert sum(sizes) < 400_000 and max(sizes) < 300_000


def test_an_experiment_survives_a_round_trip(park: Experiment) -> None:
    assert Experiment.from_dict(park.to_dict(), park.site) == replace(park, path=None)
