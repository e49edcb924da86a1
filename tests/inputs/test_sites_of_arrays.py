"""Sites made of arrays: what is kept, and what is refused."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from spreadsim.inputs import InputError, Site

SHAPE = (4, 5)
RANGES = {
    "mat": (0, 1),
    "canopy": (0, 1),
    "plantable": (0, 1),
    "wetness": (0, 1),
    "access": (0, 1000),
    "units": (0, 32767),
    "sensitive": (0, 1),
}


def problems(*arguments: Any, **named: Any) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        Site.from_arrays(*arguments, **named)
    return caught.value.problems


def test_what_is_not_given_is_harmless() -> None:
    site = Site.from_arrays(2, canopy=np.zeros(SHAPE))
    assert (site.ny, site.nx, site.cell_size) == (4, 5, 2.0)
    assert (site.width, site.height, site.area) == (10.0, 8.0, 80.0)
    assert not site.mat.any() and not site.canopy.any() and (site.plantable == 1).all()
    assert (site.access == 1).all() and not site.wetness.any() and not site.sensitive.any()
    assert not site.unit.any() and site.unit_names == ()
    assert len(site.hosts) == len(site.sources) == 0
    assert (site.background_seed, site.crs, site.origin) == (0.0, None, (0.0, 0.0))


def test_types_are_as_promised(site: Site) -> None:
    for name in ("mat", "canopy", "plantable", "access", "wetness"):
        assert getattr(site, name).dtype == np.float64 and getattr(site, name).shape == (6, 8)
    assert site.unit.dtype == np.int16 and site.sensitive.dtype == bool
    hosts = site.hosts
    assert (hosts.cell.dtype, hosts.state.dtype, hosts.known.dtype) == (np.int64, np.uint8, bool)
    assert hosts.kind == ("tree", "wall", "sapling") and hosts.girth == ("small", "medium", "large")
    assert hosts.state.tolist() == [0, 1, 2] and hosts.known.tolist() == [True, False, True]


def test_arrays_are_copies_that_cannot_be_written() -> None:
    mat = np.zeros(SHAPE)
    site = Site.from_arrays(1, mat=mat, hosts={"x": [1.0], "y": [1.0]})
    mat[0, 0] = 1
    assert site.mat[0, 0] == 0
    arrays = [value for part in (site, site.hosts, site.sources) for value in vars(part).values()]
    arrays = [array for array in arrays if isinstance(array, np.ndarray)]
    assert len(arrays) == 8 + 10 + 3
    for array in arrays:
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0
    with pytest.raises(AttributeError):
        site.ny = 3  # type: ignore[misc]


def test_equal_sites_are_equal(site: Site) -> None:
    again = pickle.loads(pickle.dumps(site))
    assert again == site and hash(again) == hash(site)
    other = Site.from_arrays(2.5, mat=site.mat)
    assert other != site and site != 3


@settings(deadline=None)
@given(
    st.sampled_from(sorted(RANGES)),
    st.tuples(st.integers(0, 3), st.integers(0, 4)),
    st.floats(allow_nan=True, allow_infinity=True),
)
def test_any_value_out_of_bounds_is_found_and_named(name: str, cell: tuple[int, int], value: float) -> None:
    layer = np.ones(SHAPE)
    layer[cell] = value
    low, high = RANGES[name]
    whole = name not in ("units", "sensitive") or value == np.floor(value)
    right = low <= value <= high and whole and not (name == "access" and value == 0)
    if right:
        site = Site.from_arrays(1, **{name: layer})
        kept = getattr(site, "unit" if name == "units" else name)[cell]
        assert kept == value
    else:
        assert problems(1, **{name: layer})[0].startswith(f"Site: {name}[{cell[0]}, {cell[1]}]: found {value!r}")


@settings(deadline=None)
@given(
    hnp.arrays(np.float64, SHAPE, elements=st.floats(0, 1)),
    hnp.arrays(np.float64, SHAPE, elements=st.sampled_from([0.0, 0.4, 1.0])),
)
def test_no_mat_on_barriers(mat: np.ndarray, plantable: np.ndarray) -> None:
    site = Site.from_arrays(1, mat=mat, plantable=plantable)
    assert not site.mat[plantable == 0].any()
    assert np.array_equal(site.mat[plantable > 0], mat[plantable > 0])


@settings(deadline=None)
@given(st.floats(0.1, 100), st.integers(1, 9), st.integers(1, 9), st.floats(0, 1), st.floats(0, 1))
def test_hosts_are_in_the_cell_that_they_stand_in(size: float, ny: int, nx: int, east: float, north: float) -> None:
    x, y = east * nx * size, north * ny * size
    site = Site.from_arrays(size, canopy=np.zeros((ny, nx)), hosts={"x": [x], "y": [y]})
    row, column = divmod(int(site.hosts.cell[0]), nx)
    assert 0 <= row < ny and 0 <= column < nx
    slack = 1e-9 * size * max(nx, ny)
    assert column * size - slack <= x <= (column + 1) * size + slack
    assert (ny - 1 - row) * size - slack <= y <= (ny - row) * size + slack


def test_row_0_is_in_the_north() -> None:
    site = Site.from_arrays(2, canopy=np.zeros((3, 4)), hosts={"x": [0.5, 7.5], "y": [5.5, 0.5]})
    assert site.hosts.cell.tolist() == [0, 11]


def test_hosts_have_usual_values() -> None:
    canopy = np.full((1, 2), 0.6)
    hosts = {"x": [0.5, 1.5, 1.5, 0.2, 0.2, 0.2, 0.2], "y": [0.5] * 7}
    kinds = ["tree", "sapling", "shrub", "stump", "log", "fence", "wall"]
    site = Site.from_arrays(1, canopy=canopy, hosts={**hosts, "kind": kinds, "height": [np.nan] * 6 + [4.0]})
    assert site.hosts.height.tolist() == [18, 6, 2, 0.5, 0.5, 1.5, 4]
    assert site.hosts.top_light == pytest.approx([0.7] * 7)
    plain = Site.from_arrays(1, canopy=canopy, hosts=hosts).hosts
    assert set(plain.kind) == {"tree"} and set(plain.girth) == {"medium"} and plain.known.all()
    assert not plain.state.any() and np.isnan(plain.years_climbing).all()


def test_one_value_stands_for_all_hosts() -> None:
    hosts = Site.from_arrays(1, canopy=np.zeros((2, 2)), hosts={"x": [0.5, 1.5], "y": 0.5, "state": "climbing"}).hosts
    assert hosts.state.tolist() == [1, 1] and hosts.y.tolist() == [0.5, 0.5]


@pytest.mark.parametrize(
    ("hosts", "said"),
    [
        ({"x": [1.0], "y": [9.0]}, "hosts.y[0]: found 9.0, allowed 0 to 4, on the site"),
        ({"x": [-0.1], "y": [1.0]}, "hosts.x[0]: found -0.1, allowed 0 to 5"),
        ({"x": [np.nan], "y": [1.0]}, "hosts.x[0]: found nan"),
        ({"x": [1.0]}, "hosts.y: found nothing"),
        ({"y": [1.0]}, "hosts.x: found nothing"),
        ({"x": [1.0], "y": [1.0, 2.0]}, "hosts.y: found shape (2,), allowed 1 values"),
        ({"x": [1.0], "y": ["a"]}, "hosts.y: found ['a'], allowed numbers"),
        ({"x": [[1.0]], "y": [[1.0]]}, "hosts.x: found shape (1, 1)"),
        ({"x": [1.0], "y": [1.0], "state": ["dead"]}, 'hosts.state[0]: found "dead", allowed one of "bare"'),
        ({"x": [1.0], "y": [1.0], "state": [1]}, "hosts.state[0]: found 1"),
        ({"x": [1.0], "y": [1.0], "kind": ["oak"]}, 'hosts.kind[0]: found "oak"'),
        ({"x": [1.0], "y": [1.0], "girth": ["huge"]}, 'hosts.girth[0]: found "huge"'),
        ({"x": [1.0], "y": [1.0], "top_light": [1.2]}, "hosts.top_light[0]: found 1.2"),
        ({"x": [1.0], "y": [1.0], "height": [-2.0]}, "hosts.height[0]: found -2.0"),
        ({"x": [1.0], "y": [1.0], "height": [np.inf]}, "hosts.height[0]: found inf"),
        (
            {"x": [1.0], "y": [1.0], "years_climbing": [3.0]},
            "hosts.years_climbing[0]: found 3.0, allowed none for a bare",
        ),
        ({"x": [1.0], "y": [1.0], "known": ["maybe"]}, 'hosts.known[0]: found "maybe"'),
        ({"x": [1.0], "y": [1.0], "colour": ["red"]}, "hosts.colour: found this column, allowed one of"),
        (3, "hosts: found 3"),
    ],
)
def test_hosts_that_cannot_be_are_refused(hosts: Any, said: str) -> None:
    assert any(f"Site: {said}" in problem for problem in problems(1, canopy=np.zeros((4, 5)), hosts=hosts))


def test_many_faults_of_one_kind_are_counted() -> None:
    found = problems(1, canopy=np.zeros((4, 5)), hosts={"x": np.full(50, 99.0), "y": np.zeros(50)})
    assert len(found) == 6 and "and 45 more" in found[-1]


def test_everything_is_said_at_once() -> None:
    found = problems(
        -1,
        mat=np.full((2, 2), 2.0),
        canopy=np.zeros((3, 2)),
        hosts={"x": [9.0], "y": [0.0], "state": ["x"]},
        sources={"x": [np.nan], "y": [0.0]},
        background_seed=-3,
        origin=3,
        unit_names=["a", "a"],
        crs="",
        title=None,
    )
    places = [problem.split(": ")[1].split("[")[0] for problem in found]
    for place in (
        "cell_size",
        "mat",
        "canopy",
        "hosts.x",
        "hosts.state",
        "sources.x",
        "background_seed",
        "origin",
    ):
        assert place in places
    assert {"unit_names", "crs", "title"} <= set(places)


@pytest.mark.parametrize(
    ("layer", "said"),
    [
        ("text", 'mat: found "text", allowed an array of numbers'),
        ([["a", "b"]], "mat: found [['a', 'b']]"),
        ([[1, 2], [3]], "mat: found [[1, 2], [3]]"),
        ([0.5, 0.5], "mat: found shape (2,), allowed two dimensions"),
        (np.zeros((0, 3)), "mat: found shape (0, 3)"),
        (np.zeros((1, 2), dtype=complex), "mat: found array"),
        (np.broadcast_to(0.0, (6000, 6000)), "mat: found shape (6000, 6000)"),
    ],
)
def test_layers_that_are_no_arrays_are_refused(layer: Any, said: str) -> None:
    assert problems(1, mat=layer)[0].startswith(f"Site: {said}")


def test_a_site_needs_a_layer() -> None:
    assert problems(1) == ("Site: mat: found nothing, allowed at least one layer (y, x), such as mat or canopy",)


def test_units_have_names() -> None:
    assert Site.from_arrays(1, units=[[0, 2]]).unit_names == ("unit 1", "unit 2")
    assert Site.from_arrays(1, units=[[0, 2]], unit_names=["a", "b", "c"]).unit_names == ("a", "b", "c")
    assert problems(1, units=[[0, 2]], unit_names=["a"])[0].startswith(
        "Site: unit_names: found 1 names, allowed at least 2"
    )


@pytest.mark.parametrize("size", [0, -1, np.nan, np.inf, "2", None, True, 101])
def test_cell_sizes_that_cannot_be(size: Any) -> None:
    assert problems(size, mat=np.zeros((2, 2)))[0].startswith("Site: cell_size: found")


def test_sources_may_lie_outside() -> None:
    sources = Site.from_arrays(1, mat=np.zeros((2, 2)), sources={"x": [-50, 900], "y": [1, -3]}).sources
    assert sources.hosts.tolist() == [1.0, 1.0] and sources.x.tolist() == [-50.0, 900.0]
