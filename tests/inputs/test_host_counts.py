"""Hosts that are known only as a count by unit: placed at random inside it, the same each time, and marked so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spreadsim import cli
from spreadsim.inputs import InputError, Site, read_site
from spreadsim.views.site_map import key_of

NX, NY = 20, 10  # cells of 2 m: unit 1 in the west, unit 2 in the east, a third without ground at the edge
LARGE = 4.9  # standard errors; a chance of 1e-6 of a false alarm


def layers(folder: Path) -> None:
    """Write layers of an invented site: in unit 1 nothing grows in the north, and half of the ground in the south."""
    xr = pytest.importorskip("xarray")
    unit = np.where(np.arange(NX) < 10, 1, np.where(np.arange(NX) < 19, 2, 3)) * np.ones((NY, 1), dtype=int)
    plantable = np.ones((NY, NX))
    plantable[:4, :10] = 0
    plantable[7:, :10] = 0.5
    plantable[:, 19:] = 0
    x, y = (np.arange(NX) + 0.5) * 2, (NY - np.arange(NY) - 0.5) * 2
    both = {"unit": (("y", "x"), unit), "plantable": (("y", "x"), plantable)}
    xr.Dataset(both, coords={"x": x, "y": y}).to_netcdf(folder / "ground.nc", engine="h5netcdf")


def read(folder: Path, counts: str, more: str = "") -> Site:
    (folder / "counts.csv").write_text(counts, encoding="utf-8")
    names = 'unit_names = ["West Side", "east", "rim"]'
    text = f'layers = "ground.nc"\n{names}\nhost_counts = "counts.csv"\n{more}\n'
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return read_site(folder / "site.toml")


def faults(folder: Path, counts: str, more: str = "") -> str:
    with pytest.raises(InputError) as caught:
        read(folder, counts, more)
    return str(caught.value).replace(f"{folder}/", "")


@pytest.fixture
def ground(tmp_path: Path) -> Path:
    layers(tmp_path)
    return tmp_path


def test_they_stand_on_the_ground_of_their_unit_evenly(ground: Path) -> None:
    site = read(ground, "unit,state,count\nwest  side,bare,30000\nEAST,climbing,500\n,fruiting,700\n")
    hosts, units = site.hosts, site.unit.ravel()[site.hosts.cell]
    assert len(hosts) == 31_200 and hosts.placed.all() and np.isnan(hosts.uncertainty).all()
    assert (units[hosts.state == 0] == 1).all() and (units[hosts.state == 1] == 2).all()
    assert set(units[hosts.state == 2]) == {1, 2} and (site.plantable.ravel()[hosts.cell] > 0).all()
    # in unit 1 rows of whole ground hold twice what rows of half the ground hold, and each cell of a row as much
    count = np.bincount(hosts.cell[hosts.state == 0], minlength=NX * NY).reshape(NY, NX)[4:, :10]
    expected = 30_000 * np.repeat([1.0, 1.0, 1.0, 0.5, 0.5, 0.5], 10).reshape(6, 10) / 45
    chi2 = float(((count - expected) ** 2 / expected).sum())
    assert abs(chi2 - 59) < LARGE * np.sqrt(2 * 59)
    within = (hosts.x[hosts.state == 0] % 2) / 2  # and anywhere in a cell
    assert abs(within.mean() - 0.5) < LARGE * np.sqrt(1 / 12 / 30_000)


def test_the_same_each_time_whatever_else_is_counted(ground: Path) -> None:
    first = read(ground, "unit,state,count\neast,climbing,40\n").hosts
    again = read(
        ground, "unit,state,count\nwest side,bare,7\nEast,climbing,25\neast,fruiting,9\neast,climbing,15\n"
    ).hosts
    assert np.array_equal(first.x, again.x[again.state == 1]) and np.array_equal(first.y, again.y[again.state == 1])
    other = read(ground, "unit,state,count\neast,climbing,40\n", "placing_seed = 2").hosts
    assert not np.isin(first.x, other.x).any()
    assert len(set(zip(first.x.tolist(), first.y.tolist(), strict=True))) == 40


def test_behind_those_that_are_mapped(ground: Path) -> None:
    (ground / "own.csv").write_text("x,y,state,height\n21,3,fruiting,12\n")
    site = read(ground, "unit,state,count,kind\neast,bare,3,fence\n", 'hosts = "own.csv"')
    assert site.hosts.placed.tolist() == [False, True, True, True]
    assert site.hosts.kind == ("tree", "fence", "fence", "fence") and site.hosts.height.tolist() == [12, 1.5, 1.5, 1.5]
    assert any(
        "counts.csv: 3 hosts are known only as a count; each was placed at random inside" in r for r in site.remarks
    )
    labels = [str(one.get_label()).replace("\n", " ") for one in key_of(site, bare=True)]
    assert "in grey: placed at random, only their count is known (3)" in labels


def test_check_says_so(ground: Path, capsys: pytest.CaptureFixture[str]) -> None:
    read(ground, "state,count\nbare,12\nclimbing,3\n")
    (ground / "e.toml").write_text(
        'vine = "wintercreeper"\ntitle = "Invented"\n[site]\nfile = "site.toml"\n[[strategies]]\nname = "none"\n'
    )
    assert cli.main(["check", str(ground / "e.toml")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "15 hosts are known only as a count; each was placed at random on the ground" in said
    assert (ground / "results" / "site.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("south,bare,3", 'line 2, unit: found "south", allowed one of "West Side", "east", "rim", or nothing for the'),
        ("rim,bare,3", 'line 2, unit: found "rim", allowed a unit with ground'),
        ("east,bare,2.5", "line 2, count: found 2.5, allowed 0 to 1,000,000, whole"),
        ("east,bare,-2", "line 2, count: found -2.0"),
        ("east,dead,2", 'line 2, state: found "dead"'),
        ("east,bare,", "line 2, count: found nothing"),
        ("east,bare,600000\nwest side,bare,600000", "found 1,200,000 hosts together, allowed at most 1,000,000"),
    ],
)
def test_faults(ground: Path, row: str, said: str) -> None:
    assert said in faults(ground, f"unit,state,count\n{row}\n")


def test_a_site_without_units_has_none_to_name(tmp_path: Path) -> None:
    (tmp_path / "counts.csv").write_text("unit,state,count\neast,bare,3\n")
    (tmp_path / "site.toml").write_text('cell_size = 2\nwidth = 40\nheight = 20\nhost_counts = "counts.csv"\n')
    with pytest.raises(InputError, match='found "east", allowed nothing: the site has no units'):
        read_site(tmp_path / "site.toml")
