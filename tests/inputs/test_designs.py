"""Designs: which points they have, what a factor names, and all that is wrong told at once."""

import dataclasses
import math
import sys

import numpy as np
import pytest

from spreadsim import Factor, InputError, grid, latin_hypercube, listed, read_design, sobol
from spreadsim.inputs import bind, find_design
from spreadsim.inputs.places import find_place
from spreadsim.inputs.varied import varied
from tests.runs.small import experiment

TWO = [Factor("mat.front_speed"), Factor("crews.staff.hours_factor", low=0.5, high=2.0)]


def test_a_grid_has_every_combination_and_the_last_factor_is_fastest():
    factors = [
        Factor("crews.staff.pace", values=[0.5, 1.0]),
        Factor("years", low=4, high=8, levels=3),
        Factor("mat.front_speed", low=0.2, high=0.8, scale="log", levels=3),
    ]
    rows = bind(experiment(), grid(factors)).rows
    assert len(rows) == 18
    assert [row[:2] for row in rows[::3]] == [(p, y) for p in (0.5, 1.0) for y in (4, 6, 8)]
    assert [row[2] for row in rows[:3]] == pytest.approx([0.2, 0.4, 0.8])
    assert all(isinstance(row[1], int) for row in rows)


@pytest.mark.parametrize("points", [1, 7, 100])
def test_a_latin_hypercube_has_a_point_in_each_slice_of_each_factor(points: int):
    fractions = latin_hypercube(TWO, points, seed=4).fractions()
    slices = np.sort(np.floor(fractions * points).astype(int), axis=0)
    assert np.array_equal(slices, np.repeat(np.arange(points)[:, None], 2, axis=1))


def test_the_factors_of_a_latin_hypercube_go_their_own_ways():
    """Correlation of 1,000 points within 4.9 standard errors of none: false alarm 1e-6."""
    fractions = latin_hypercube([*TWO, Factor("years", low=1, high=9)], 1000, seed=1).fractions()
    between = np.corrcoef(fractions.T)[np.triu_indices(3, 1)]
    assert np.all(np.abs(between) < 4.9 / math.sqrt(1000))


@pytest.mark.parametrize("make", [latin_hypercube, sobol])
def test_the_seed_alone_decides_the_points(make):
    first = make(TWO, 32, seed=5).fractions()
    assert np.array_equal(first, make(TWO, 32, seed=5).fractions())
    assert not np.array_equal(first, make(TWO, 32, seed=6).fractions())


def test_designs_are_the_same_with_every_version_of_numpy():
    """They hang on the raw words of PCG64 alone, which numpy never changes, not on its draws."""
    found = latin_hypercube(TWO, 3, seed=5).fractions()
    order = np.argsort(np.random.PCG64([5, 1]).random_raw(6).reshape(2, 3), axis=1).T
    within = (np.random.PCG64([5, 2]).random_raw(6).reshape(3, 2) >> np.uint64(11)) / 2**53
    assert np.array_equal(found, (order + within) / 3)


def test_a_sobol_design_has_as_many_points_in_every_box_of_the_same_volume():
    """64 points: one in each of 64 boxes, whichever sides of powers of two they have (in two factors)."""
    fractions = sobol(TWO, 64, seed=9).fractions()
    for wide in range(7):
        boxes = np.floor(fractions * [2**wide, 2 ** (6 - wide)]).astype(int)
        assert len({tuple(box) for box in boxes}) == 64
    assert np.array_equal(sobol(TWO, 32, seed=9).fractions(), fractions[:32])


def test_a_sobol_design_says_what_it_needs(monkeypatch):
    monkeypatch.setitem(sys.modules, "scipy.stats", None)
    with pytest.raises(InputError, match=r"needs the package scipy.*spreadsim\[analysis\]"):
        sobol(TWO, 8).fractions()
    assert latin_hypercube(TWO, 8).fractions().shape == (8, 2)


def test_a_parameter_without_a_range_of_its_own_takes_that_of_its_profile():
    speed = experiment().vine["mat.front_speed"]
    rows = bind(experiment(), latin_hypercube([Factor("mat.front_speed")], 400)).rows
    values = np.array([row[0] for row in rows])
    assert speed.low <= values.min() and values.max() <= speed.high
    assert speed.scale == "log"
    middle = math.sqrt(speed.low * speed.high)  # as many points below the middle of a log scale as above
    assert np.sum(values < middle) == 200


def test_whole_numbers_are_equally_frequent():
    factor = Factor("strategies.mats only.tasks.pull.follow_up.every", low=1, high=4)
    values = [row[0] for row in bind(experiment(), latin_hypercube([factor], 80)).rows]
    assert [values.count(number) for number in (1, 2, 3, 4)] == [20, 20, 20, 20]


def test_points_written_out_are_taken_as_they_are():
    points = [
        {"years": 4, "crews.staff.pace": 0.5},
        {"crews.staff.pace": 1.0, "years": 6},
        {"years": 4, "crews.staff.pace": 1},
    ]
    bound = bind(experiment(), listed(points))
    assert bound.rows == ((4, 0.5), (6, 1.0), (4, 1))
    with pytest.raises(InputError, match=r"points\[1\]"):
        listed([{"years": 4}, {"crews.staff.pace": 1.0}])


def at(path: str, value: object, *, free: bool = False):
    """The small experiment with one value changed."""
    return varied(experiment(), {find_place(experiment(), path): value}, [path] if free else [])


def test_a_swept_parameter_is_held_and_no_other_changes():
    new = at("mat.front_speed", 0.4)
    speed = new.vine["mat.front_speed"]
    assert (speed.value, speed.drawn) == (0.4, False)
    old = experiment().vine
    assert all(new.vine[name] == old[name] for name in old if name != "mat.front_speed")
    assert dataclasses.replace(new, vine=old) == experiment()


def test_a_treatment_becomes_the_experiments_own():
    new = at("pull.mat_kill", 0.8)
    assert new.treatment("pull")["mat_kill"].value == 0.8 and not new.treatment("pull")["mat_kill"].drawn
    assert dataclasses.replace(new, treatments=()) == experiment()


# path, value, how to read it back
PLACES = [
    ("crews.friends.hours", 7, lambda e: e.crews[0].hours == (7, 7, 7, 7)),
    ("crews.friends.hours.spring", 7, lambda e: e.crews[0].hours == (0, 7, 12, 0)),
    ("crews.friends.hours_factor", 0.5, lambda e: e.crews[0].hours == (0, 6, 6, 0)),
    ("crews.*.pace", 1.5, lambda e: [crew.pace for crew in e.crews] == [1.5, 1.5]),
    ("strategies.mats only.tasks.pull.share", 0.25, lambda e: e.strategies[2].tasks[0].share == 0.25),
    ("strategies.mats only.tasks.0.cap", 3, lambda e: e.strategies[2].tasks[0].cap == 3),
    ("strategies.stems first.tasks.scout.cap", None, lambda e: e.strategies[1].tasks[2].cap is None),
    ("strategies.stems first.tasks.scout.cap", "none", lambda e: e.strategies[1].tasks[2].cap is None),
    ("strategies.mats only.tasks.pull.order", "by unit", lambda e: e.strategies[2].tasks[0].order == "by unit"),
    ("strategies.mats only.tasks.pull.treatment", "mow", lambda e: e.strategies[2].tasks[0].treatment == "mow"),
    ("strategies.mats only.tasks.pull.seasons", ["winter"], lambda e: e.strategies[2].tasks[0].seasons == ("winter",)),
    (
        "strategies.*.tasks.pull.follow_up.every",
        6,
        lambda e: {e.strategies[k].tasks[t].follow_up.every for k, t in ((1, 3), (2, 0))} == {6},
    ),
    ("strategies.mats only.reserve_follow_up", True, lambda e: e.strategies[2].reserve_follow_up),
    ("weather.fit_days", 3, lambda e: e.weather.fit_days == (3, 3, 3, 3)),
    ("weather.fit_days.summer", 9, lambda e: e.weather.fit_days == (2, 4, 9, 3)),
    ("years", 9, lambda e: e.years == 9),
    ("fixed_parameters", True, lambda e: e.fixed_parameters),
    ("vine", "english-ivy", lambda e: e.vine.name == "english-ivy"),
]


@pytest.mark.parametrize(("path", "value", "right"), PLACES, ids=[f"{path}={value}" for path, value, _ in PLACES])
def test_a_path_changes_what_it_names(path, value, right):
    assert not right(experiment())
    assert right(at(path, value))


WRONG = [
    ("mat.speed", 1.0, 'factor "mat.speed": found no such thing'),
    ("pull.nonsense", 1.0, 'factor "pull.nonsense": found "nonsense", allowed one of "mat_kill"'),
    ("mat.front_speed", 99.0, 'factor "mat.front_speed": value: found 99.0, allowed 0.15 to 1.5'),
    ("strategies.nobody.tasks.pull.share", 1.0, 'found "nobody", allowed one of "no action", "stems first"'),
    ("strategies.mats only.tasks.mow.share", 1.0, 'found "mow", allowed one of "pull"'),
    ("strategies.mats only.tasks.pull.shares", 1.0, 'found "shares", allowed one of "treatment"'),
    ("strategies.mats only.tasks.pull.share", 2.0, "share: found 2.0, allowed 0 to 1"),
    ("strategies.mats only.tasks.pull.order", "fruiting first", 'found "fruiting first", allowed one of "largest first"'),
    ("strategies.spray.tasks.foliar-spray.follow_up.every", 2, "found a task without follow_up"),
    ("crews.nobody.hours", 1.0, 'found "nobody", allowed one of "friends", "staff"'),
    ("crews.staff.hours_factor", -1.0, "hours_factor: found -1.0, allowed a number, at least 0"),
    ("crews.staff.name", "x", 'found "name"'),
    ("seed", 3, "all points have the same worlds"),
    ("replicates", 3, "all points have the same worlds"),
    ("years", 2, "strategies[1].tasks[0].years[0]: found 3, allowed 1 to 2"),
    ("seed.microsite_share", 1.0, "it is solved from other parameters"),
    ("weather.rain", 1.0, 'found "rain"'),
]  # fmt: skip


def test_everything_that_is_wrong_is_told_at_once():
    names = list(dict.fromkeys(path for path, _, _ in WRONG))
    factors = [Factor(name, values=[value for path, value, _ in WRONG if path == name]) for name in names]
    with pytest.raises(InputError) as caught:
        bind(experiment(), grid(factors))
    for path, _, told in WRONG:
        # of one factor the first wrong value is told
        if [one for one, _, _ in WRONG].count(path) == 1:
            assert any(f'factor "{path}"' in line and told in line for line in caught.value.problems), path


@pytest.mark.parametrize(("path", "value", "told"), WRONG, ids=[path for path, _, _ in WRONG])
def test_each_is_told_alone(path, value, told):
    with pytest.raises(InputError) as caught:
        bind(experiment(), grid([Factor(path, values=[value])]))
    assert f'factor "{path}"' in str(caught.value) and told in str(caught.value)


def test_values_beyond_the_range_are_taken_when_asked_for():
    bound = bind(experiment(), grid([Factor("mat.front_speed", values=[9.0], beyond_range=True)]))
    assert bound.experiment_at(0).vine["mat.front_speed"].value == 9.0
    with pytest.raises(InputError, match=r"above 0|more than 0"):
        bind(experiment(), grid([Factor("mat.front_speed", values=[-1.0], beyond_range=True)]))


def test_what_is_wrong_together_is_told_for_the_point():
    factors = [
        Factor("strategies.mats only.tasks.pull.treatment", values=["pull", "cut"]),
        Factor("strategies.mats only.tasks.pull.order", values=["outlying patches first", "largest first"]),
    ]
    with pytest.raises(InputError, match=r"design point 3.*largest first"):
        bind(experiment(), grid(factors))


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"values": []}, "at least one value"),
        ({"values": "winter"}, "a list of values"),
        ({"values": [1, 1]}, "each only once"),
        ({"low": 1.0}, "both low and high"),
        ({"low": 2.0, "high": 1.0}, "less than high"),
        ({"low": 0.0, "high": 1.0, "scale": "log"}, "above 0 on the log scale"),
        ({"scale": "cubic"}, '"linear", "log"'),
        ({"values": [1], "low": 0.0, "high": 1.0}, "nothing, since the values are given"),
        ({"levels": 0}, "levels: found 0"),
    ],
)
def test_factors_that_cannot_be_are_refused(options, told):
    with pytest.raises(InputError) as caught:
        Factor("mat.front_speed", **options)
    assert told in str(caught.value)


def test_designs_that_cannot_be_are_refused():
    for make, told in (
        (lambda: grid([Factor("mat.front_speed")]), "levels of its range"),
        (lambda: grid([]), "1 to"),
        (lambda: latin_hypercube(TWO, 0), "points: found 0"),
        (lambda: latin_hypercube([*TWO, TWO[0]], 5), "each only once"),
        (lambda: sobol(TWO, 48), "power of two"),
        (lambda: latin_hypercube([Factor("years", low=1, high=5, levels=3)], 5), "for a grid"),
        (
            lambda: bind(experiment(), latin_hypercube([Factor("crews.staff.pace")], 4)),
            "neither values nor low and high",
        ),
        (lambda: bind(experiment(), latin_hypercube([Factor("years", low=1.2, high=1.8)], 4)), "whole number in it"),
    ):
        with pytest.raises(InputError) as caught:
            make()
        assert told in str(caught.value)


TABLE = """
title = "any"
[sweep]
kind = "latin hypercube"
points = 8
seed = 3
[sweep.factors]
"mat.front_speed" = {}
"crews.staff.hours_factor" = { low = 0.5, high = 2.0, scale = "log" }
"strategies.mats only.tasks.pull.order" = ["by unit", "largest first"]
"""


def test_a_design_is_read_from_a_file(tmp_path):
    path = tmp_path / "experiment.toml"
    path.write_text(TABLE)
    factors = [
        Factor("mat.front_speed"),
        Factor("crews.staff.hours_factor", low=0.5, high=2.0, scale="log"),
        Factor("strategies.mats only.tasks.pull.order", values=["by unit", "largest first"]),
    ]
    assert read_design(path) == find_design(path) == latin_hypercube(factors, 8, 3)
    path.write_text('[sweep]\nkind = "listed"\npoints = [{ years = 3 }, { years = 4 }]\n')
    assert read_design(path) == listed([{"years": 3}, {"years": 4}])
    path.write_text("title = 'none'")
    assert find_design(path) is None
    with pytest.raises(InputError, match=r"sweep: found nothing, allowed a table \[sweep\]"):
        read_design(path)


def test_all_that_is_wrong_with_a_file_is_told(tmp_path):
    path = tmp_path / "sweep.toml"
    path.write_text(
        '[sweep]\nkind = "spiral"\npoint = 3\n[sweep.factors]\n"mat.front_speed" = { lo = 1.0 }\nyears = []\n"crews.staff.pace" = 3\n'
    )
    with pytest.raises(InputError) as caught:
        read_design(path)
    text = str(caught.value)
    for told in (
        'sweep.kind: found "spiral"',
        "sweep.point",
        '"mat.front_speed".lo',
        '"years".values',
        '"crews.staff.pace"',
    ):
        assert told in text
    assert text.count(str(path)) == len(caught.value.problems)
