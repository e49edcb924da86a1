"""Mat across the boundary: which cells it stands at."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim.inputs import Experiment, InputError, Site, embed, load_vine, read_experiment, read_site, unembed

Edit = Callable[[str, str, str], Path]
GROUND = np.zeros((4, 6))


def marked(boundary: Any, **layers: Any) -> list[tuple[int, int]]:
    """Give the cells of a site of 4 rows and 6 columns of 2 m."""
    site = Site.from_arrays(2, canopy=GROUND, boundary_mat=boundary, **layers)
    assert site.boundary_mat.dtype == bool and not site.boundary_mat.flags.writeable
    return [(int(row), int(column)) for row, column in np.argwhere(site.boundary_mat)]


def problems(call: Callable[[], object]) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        call()
    return caught.value.problems


@pytest.mark.parametrize(
    ("boundary", "cells"),
    [
        (None, []),
        ({}, []),
        ({"north": False}, []),
        ({"north": True}, [(0, k) for k in range(6)]),
        ({"west": True}, [(k, 0) for k in range(4)]),
        ({"north": [(0, 4)]}, [(0, 0), (0, 1)]),
        ({"south": [(8, 12)]}, [(3, 4), (3, 5)]),
        ({"west": [(0, 2)]}, [(3, 0)]),  # from the south
        ({"east": [(4, 8)]}, [(0, 5), (1, 5)]),
        ({"north": [(3, 5)]}, [(0, 1), (0, 2)]),  # cells that it touches
        ({"north": [(4, 4.5)]}, [(0, 2)]),
        ({"north": [(0, 2), (10, 12)], "east": [(6, 8)]}, [(0, 0), (0, 5)]),
        ({"north": np.array([[0.0, 2.0]])}, [(0, 0)]),
    ],
)
def test_sides_and_stretches(boundary: Any, cells: list[tuple[int, int]]) -> None:
    assert marked(boundary) == cells


def test_arrays() -> None:
    edge = np.zeros((4, 6), dtype=bool)
    edge[0, 2] = edge[3, 5] = edge[1, 0] = True
    assert marked(edge) == [(0, 2), (1, 0), (3, 5)]
    assert marked(edge.astype(float)) == [(0, 2), (1, 0), (3, 5)]
    assert marked(np.ones((4, 6)) * 0) == []


def test_nothing_comes_in_over_a_barrier() -> None:
    ground = np.ones((4, 6))
    ground[0, :3] = 0
    assert marked({"north": True}, plantable=ground) == [(0, 3), (0, 4), (0, 5)]


def test_a_site_of_one_cell_has_all_sides() -> None:
    site = Site.from_arrays(5, mat=[[0.0]], boundary_mat={"south": [(1, 2)]})
    assert site.boundary_mat.tolist() == [[True]]


INSIDE = np.zeros((4, 6))
INSIDE[1, 2] = 1


@pytest.mark.parametrize(
    ("boundary", "said"),
    [
        (INSIDE, "boundary_mat[1, 2]: found 1.0, allowed 0: only cells at the edge"),
        (INSIDE.T, "boundary_mat: found shape (6, 4), allowed shape (4, 6)"),
        (GROUND + 0.5, "boundary_mat[0, 0]: found 0.5"),
        (GROUND + 2, "boundary_mat[0, 0]: found 2.0, allowed 0 or 1"),
        (GROUND * np.nan, "boundary_mat[0, 0]: found nan, allowed 0 or 1"),
        ("north", 'boundary_mat: found "north", allowed an array'),
        ({"up": True}, 'boundary_mat.up: found True, allowed one of "north"'),
        ({"north": "all"}, 'boundary_mat.north: found "all", allowed True, or a list'),
        ({"north": 1}, "boundary_mat.north: found 1, allowed True"),
        ({"north": [3]}, "boundary_mat.north[0]: found 3, allowed two numbers"),
        ({"north": [(0, 13)]}, "boundary_mat.north[0][1]: found 13, allowed 0 to 12"),
        ({"west": [(0, 9)]}, "boundary_mat.west[0][1]: found 9, allowed 0 to 8"),
        ({"north": [(-1, 3)]}, "boundary_mat.north[0][0]: found -1"),
        ({"north": [(3, 3)]}, "boundary_mat.north[0][1]: found 3, allowed more than 3"),
        ({"north": [(0, 2), (1, np.nan)]}, "boundary_mat.north[1][1]: found nan"),
    ],
)
def test_what_is_refused(boundary: Any, said: str) -> None:
    found = problems(lambda: Site.from_arrays(2, canopy=GROUND, boundary_mat=boundary))
    assert any(f"Site: {said}" in problem for problem in found), found


@settings(deadline=None)
@given(st.sampled_from(["north", "south", "east", "west"]), st.floats(0, 8), st.floats(0, 8))
def test_a_stretch_marks_the_cells_that_it_touches(side: str, one: float, other: float) -> None:
    first, last = min(one, other), max(one, other)
    if last - first < 1e-3:
        return
    cells = marked({side: [(first, last)]})
    along = [column if side in ("north", "south") else 3 - row for row, column in cells]
    across = {row if side in ("north", "south") else column for row, column in cells}
    assert across == {{"north": 0, "south": 3, "west": 0, "east": 5}[side]}
    touched = [k for k in range(6) if first < 2 * k + 2 - 1e-4 and last > 2 * k + 1e-4]
    assert set(touched) <= set(along)
    assert all(first < 2 * k + 2 + 1e-4 and last > 2 * k - 1e-4 for k in along)


def test_a_boundary_comes_back_from_a_dataset() -> None:
    import xarray as xr

    site = Site.from_arrays(2, canopy=GROUND, boundary_mat={"north": [(0, 3)], "east": True})
    experiment = Experiment("t", site, load_vine("wintercreeper"), (), ())
    attrs, variables = embed(experiment)
    dataset = xr.Dataset({name: xr.Variable(*parts) for name, parts in variables.items()}, attrs=attrs)
    assert unembed(dataset) == experiment
    older = dataset.drop_vars("input_boundary_mat").assign_attrs(input_format=1)
    assert not unembed(older).site.boundary_mat.any()


# ---- files: 40 m by 20 m in cells of 2 m

LINE = "background_seed = 10\n"


def test_stretches_of_a_file(folder: Path, edit: Edit) -> None:
    new = LINE + 'boundary_mat = [{side = "north", from = 0, to = 12}, {side = "west", from = 16}, {side = "east"}]\n'
    edit("site.toml", LINE, new)
    site = read_site(folder / "site.toml")
    assert np.flatnonzero(site.boundary_mat[0]).tolist() == [0, 1, 2, 3, 4, 5, 19]
    assert np.flatnonzero(site.boundary_mat[:, 0]).tolist() == [0, 1]
    assert site.boundary_mat[:, 19].all() and site.boundary_mat.sum() == 7 + 1 + 9
    assert (read_experiment(folder / "experiment.toml").site.boundary_mat == site.boundary_mat).all()


def test_feet_are_the_same_stretch(folder: Path) -> None:
    text = 'units = "us"\ncell_size = 6.56167979\nwidth = 131\nheight = 66\n'
    text += 'boundary_mat = [{side = "north", from = 0, to = 39.37}, {side = "east", from = 52.5, to = 66}]\n'
    (folder / "feet.toml").write_text(text)
    site = read_site(folder / "feet.toml")
    assert (site.ny, site.nx) == (10, 20)
    assert np.flatnonzero(site.boundary_mat[0]).tolist() == [0, 1, 2, 3, 4, 5, 19]
    assert np.flatnonzero(site.boundary_mat[:, 19]).tolist() == [0, 1]


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ('[{side = "up"}]', 'site.toml: boundary_mat[0].side: found "up", allowed one of "north"'),
        ("[{from = 3}]", "site.toml: boundary_mat[0].side: found nothing, allowed a text"),
        ('[{side = "north", to = 41}]', "site.toml: boundary_mat[0].to: found 41.0, allowed 0 to 40"),
        ('[{side = "north", from = 3, to = 3}]', "site.toml: boundary_mat[0].to: found 3.0, allowed more than 3"),
        ('[{side = "north", from = "3"}]', 'site.toml: boundary_mat[0].from: found "3", allowed a finite number'),
        ('[{side = "north", until = 3}]', "site.toml: boundary_mat[0].until: found a key that is not known"),
        ('["north"]', 'site.toml: boundary_mat[0]: found "north", allowed a table'),
        ('"north"', 'site.toml: boundary_mat: found "north", allowed a list'),
    ],
)
def test_faults_of_a_file(folder: Path, edit: Edit, new: str, said: str) -> None:
    edit("site.toml", LINE, f"{LINE}boundary_mat = {new}\n")
    found = str(InputError(*problems(lambda: read_site(folder / "site.toml")))).replace(f"{folder}/", "")
    assert said in found
