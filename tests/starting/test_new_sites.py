"""Sites invented from a few numbers have these numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim.errors import InputError
from spreadsim.inputs import read_experiment
from spreadsim.inputs.checks import Check
from spreadsim.inputs.remarks import counted, remarks_on
from spreadsim.starting.files import write_new
from spreadsim.starting.invent import invent
from spreadsim.starting.numbers import BEYOND, PROTECT, SPRAY, read_numbers
from spreadsim.starting.outline import Outline, rectangle
from spreadsim.starting.quantity import area_of, density_of, share_of
from spreadsim.starting.strategies import plans

ACRE = 4046.8564224  # m2, by definition of the international foot


def made_of(seed=1, system="metric", **given):
    numbers = read_numbers(given, system=system)
    return numbers, invent(numbers, rectangle(numbers.area), seed)


@st.composite
def told(draw):
    """Numbers that fit together."""
    area = draw(st.floats(0.05, 40))
    trees = draw(st.floats(1, 300))
    count = round(trees * area)
    climbed = draw(st.integers(0, min(count, 200)))
    return {
        "area": f"{area:.6f} ha",
        "trees": f"{count / area:.9f}/ha",
        "canopy": draw(st.floats(0, 1)),
        "mat": draw(st.floats(0, 0.5)),
        "climbed": climbed,
        "fruiting": draw(st.integers(0, climbed)),
        "protect": draw(st.sampled_from(PROTECT)),
        "beyond": draw(st.sampled_from(BEYOND)),
    }


@settings(max_examples=40, deadline=None)
@given(told(), st.integers(0, 2**32 - 1))
def test_the_site_has_the_numbers_asked(given, seed):
    numbers = read_numbers(given)
    try:
        made = invent(numbers, rectangle(numbers.area), seed)
    except InputError as error:  # a brook in a tiny site leaves less ground than the mat asked for
        assert "--mat" in str(error) and given["protect"] in ("water", "both")
        return
    outline, hosts = made.ground.outline, made.hosts
    assert outline.inside.size * outline.cell**2 == pytest.approx(numbers.area, rel=1e-9)
    assert made.mat.mean() == pytest.approx(numbers.mat, rel=0.01, abs=1e-12)
    assert made.canopy.mean() == pytest.approx(numbers.canopy, rel=0.01, abs=1e-9)
    assert len(hosts["x"]) == numbers.tree_count
    assert (hosts["state"] != "bare").sum() == numbers.climbed
    assert (hosts["state"] == "fruiting").sum() == numbers.fruiting
    assert not made.mat[~made.ground.free].any()
    row = outline.inside.shape[0] - 1 - (hosts["y"] / outline.cell).astype(int).clip(0, outline.inside.shape[0] - 1)
    column = (hosts["x"] / outline.cell).astype(int).clip(0, outline.inside.shape[1] - 1)
    assert made.ground.free[row, column].all()
    assert set(np.unique(made.ground.unit[outline.inside])) == set(range(1, len(made.ground.unit_names) + 1))
    assert len(set(made.ground.unit_names)) == len(made.ground.unit_names)


def test_a_seed_repeats_and_another_differs():
    first, again, other = (made_of(seed=seed)[1] for seed in (5, 5, 6))
    for name in first.hosts:
        assert np.array_equal(first.hosts[name].astype(str), again.hosts[name].astype(str))
    assert np.array_equal(first.mat, again.mat) and np.array_equal(first.canopy, again.canopy)
    assert not np.array_equal(first.mat, other.mat) and first.mat.sum() == other.mat.sum()


def test_climbed_trees_stand_in_and_near_mats_and_fruit_in_better_light():
    made = made_of(area="10 ha", climbed=60, fruiting=20)[1]
    hosts, cell = made.hosts, made.ground.outline.cell
    mats = np.argwhere(made.mat > 0)
    x, y = (mats[:, 1] + 0.5) * cell, (made.mat.shape[0] - mats[:, 0] - 0.5) * cell
    climbed = hosts["state"] != "bare"
    away = np.array([np.hypot(x - a, y - b).min() for a, b in zip(hosts["x"], hosts["y"], strict=True)])
    assert np.quantile(away[climbed], 0.9) < 10 < np.median(away[~climbed])
    light = {state: hosts["top_light"][hosts["state"] == state] for state in ("climbing", "fruiting")}
    assert light["fruiting"].min() >= light["climbing"].max()


@pytest.mark.parametrize("spray", SPRAY)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_what_is_written_can_be_read_and_raises_no_warning(tmp_path, spray, system):
    area = "12 ac" if system == "us" else "5 ha"
    numbers, made = made_of(system=system, area=area, spray=spray, protect="both", beyond="both", mat="6 %")
    title = 'Odd "name" \\ of\na place'
    path = write_new(tmp_path / "site", numbers, made, seed=1, title=title)
    read = read_experiment(path)
    assert remarks_on(read) == []
    assert read.units == system and len(read.strategies) == 1 + len(plans(numbers))
    has = counted(read.site)
    assert has["mat_area"] == pytest.approx(0.06 * numbers.area, rel=0.01)
    assert (has["hosts"], has["climbed"], has["fruiting"]) == (numbers.tree_count, 40, 10)
    assert read.site.area == pytest.approx(numbers.area, rel=1e-6)
    assert dict(read.site.totals)["area"] == pytest.approx(numbers.area, rel=1e-5)
    assert sum(sum(crew.hours) for crew in read.crews) == pytest.approx(160)
    assert len(read.site.sources) == 3 and read.site.boundary_mat.any() and read.site.sensitive.any()
    herbicide = any(read.treatment(task.treatment).herbicide for one in read.strategies for task in one.tasks)
    assert herbicide == (spray != "nobody")
    words = (path.parent / "README.md").read_text()
    assert "invented" in words and "**assumed**" in words and "No rates" in words
    assert list(tmp_path.iterdir()) == [tmp_path / "site"]


def test_nothing_is_overwritten(tmp_path):
    numbers, made = made_of(area="1 ha", climbed=5)
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="nothing is overwritten"):
        write_new(tmp_path, numbers, made, seed=1)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    (tmp_path / "empty").mkdir()
    assert write_new(tmp_path / "empty", numbers, made, seed=1).exists()


def test_everything_that_is_wrong_is_said_at_once():
    with pytest.raises(InputError) as error:
        read_numbers({"area": "forty", "canopy": "140 %", "spray": "me", "climbed": "3.5", "volunteer_hours": "-3"})
    said = str(error.value)
    assert len(error.value.problems) == 5
    assert all(f"--{name}" in said for name in ("area", "canopy", "spray", "climbed", "volunteer-hours"))
    with pytest.raises(InputError) as error:
        read_numbers({"climbed": 10, "fruiting": 20, "trees": "1/ha", "volunteer_hours": 0, "paid_hours": 0})
    assert len(error.value.problems) == 3


@pytest.mark.parametrize(
    ("text", "system", "area"),
    [
        ("40 ac", "metric", 40 * ACRE),
        ("2.5 ha", "us", 25000),
        ("3", "metric", 30000),
        ("3", "us", 3 * ACRE),
        ("1,200 m2", "us", 1200),
    ],
)
def test_areas_as_people_type_them(text, system, area):
    assert area_of(Check(""), "", text, system) == pytest.approx(area)


def test_shares_and_densities_as_people_type_them():
    check = Check("")
    assert [share_of(check, "", text) for text in ("4 %", "0.04", "4", 0.04, "1")] == pytest.approx(
        [0.04, 0.04, 0.04, 0.04, 1]
    )
    per = [density_of(check, "", text, "metric") * 1e4 for text in ("200", "200/ha", "200 trees/ha", "200 per hectare")]
    assert per == pytest.approx([200] * 4) and len(check.problems) == 0
    assert density_of(check, "", "80/ac", "metric") == pytest.approx(80 / ACRE)


def test_an_outline_that_is_no_rectangle_keeps_the_numbers():
    inside = np.hypot(*(np.mgrid[0:60, 0:90] - np.array([30, 45])[:, None, None])) < 28
    numbers = read_numbers({"mat": "10 %", "climbed": 12, "beyond": "both"}, area=float(inside.sum() * 4))
    made = invent(numbers, Outline(2.0, inside, numbers.area), 3)
    assert made.mat.sum() == pytest.approx(0.1 * inside.sum()) and not made.mat[~inside].any()
    assert len(made.hosts["x"]) == numbers.tree_count and not made.canopy[~inside].any()
