"""Worlds that are picked and put right by a survey: unbiased, at the places recorded, and as the map of today says."""

import dataclasses
from datetime import date
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

import spreadsim
from spreadsim import InputError, Start, Survey
from spreadsim.inputs.survey import Event as Visit
from spreadsim.inputs.survey import Record
from spreadsim.learning.overlooked import Rates
from spreadsim.learning.picked import picked, repeats
from spreadsim.learning.recorded import filled, typical
from spreadsim.learning.silence import left
from spreadsim.learning.task import Said, task_of
from spreadsim.learning.today import Before, see, today
from spreadsim.learning.worlds import Worlds
from spreadsim.learning.zones import Zones

from .inventing import DAY
from .small import CELL, MAPPED, SIDE, YEARS, experiment, site
from .test_learn import STRATEGY, real_survey

NOTHING_LACKED = {"overlooked_patches": (0.0, 0.0), "overlooked_hosts": (0.0, 0.0)}
SAID = {"strategy": STRATEGY, "since": MAPPED}


class State:
    """Mat, hosts and what is known of them in every world of a start, read off the worlds and the amendments."""

    def __init__(self, start: Start, seasons: int = 4 * YEARS) -> None:
        different, of_world = np.unique(start.numbers, return_inverse=True)
        values = {name: column[np.unique(start.numbers, return_index=True)[1]] for name, column in start.values.items()}
        runs = Worlds(experiment(), start.strategy, seasons, []).others([int(n) for n in different], values)
        self.own = [world for world in runs.each(lambda one: one, 2)]
        shape = (start.worlds, site().mat.size)
        self.cover, self.known = np.zeros(shape), np.zeros(shape, bool)
        self.hosts = np.array([self.own[k].hosts for k in of_world])
        self.hosts_known = np.array([self.own[k].hosts_known for k in of_world])
        for row, k in enumerate(of_world):
            self.cover[row, self.own[k].cells] = self.own[k].cover
            self.known[row, self.own[k].cells] = self.own[k].known
        self.mat_before = self.cover > 0
        self.cover[start.cell_world, start.cell] = start.cell_cover
        self.known[start.cell_world, start.cell] = start.cell_known
        self.hosts[start.host_world, start.host] = start.host_state
        self.hosts_known[start.host_world, start.host] = start.host_known


def learned_from(survey: Survey, worlds: int, **more) -> xr.Dataset:
    return spreadsim.learn(experiment(), survey, **SAID, **more, replicates=worlds)


@cache
def learned() -> xr.Dataset:
    return learned_from(real_survey(), 400, **NOTHING_LACKED)


def started(survey: Survey, found: xr.Dataset, count: int, **more) -> Start:
    return spreadsim.start_of(experiment(), survey, found, replicates=count, **SAID, **more)


def survey_of(*records: Record, hours: float = 2.0, day: date = DAY) -> Survey:
    absent = tuple(Record("line 9", "made", False, (day, day), name) for name in site().unit_names)
    return Survey("made.csv", (Visit("made", hours, None, "", records + absent),))


def cell_at(x: float, y: float) -> int:
    return (SIDE - 1 - int(y // CELL)) * SIDE + int(x // CELL)


@given(
    st.lists(st.floats(0.0, 10.0), min_size=1, max_size=20).filter(lambda w: sum(w) > 1e-3),
    st.integers(1, 50),
    st.integers(0, 2**32 - 1),
)
def test_a_world_is_picked_as_often_as_it_weighs_to_within_one(weights, count, seed):
    share = np.array(weights) / sum(weights)
    picks = picked(share, count, seed)
    often = np.bincount(picks, minlength=len(share))
    assert len(picks) == count and (np.diff(picks) >= 0).all()
    assert (often >= np.floor(count * share - 1e-9)).all() and (often <= np.ceil(count * share + 1e-9)).all()
    assert (often[share == 0] == 0).all()


def test_picks_are_unbiased():
    """The mean of 4,000 lists against count times weight; off by 4.9 standard errors by chance once in a million."""
    share = np.array([0.07, 0.4, 0.03, 0.5])
    often = np.array([np.bincount(picked(share, 5, seed), minlength=4) for seed in range(4000)])
    error = often.std(axis=0) / np.sqrt(len(often))
    assert (np.abs(often.mean(axis=0) - 5 * share) < 4.9 * error + 1e-12).all()


def test_equal_weights_pick_every_world_once_and_repeats_are_counted():
    assert (picked(np.full(7, 1 / 7), 7, 3) == np.arange(7)).all()
    assert repeats(np.array([4, 4, 5, 4])).tolist() == [0, 1, 0, 2]


@given(st.data())
def test_what_is_left_agrees_with_bayes_rule(data):
    worlds, size = data.draw(st.integers(1, 6)), data.draw(st.integers(1, 3))
    weight = np.array(data.draw(st.lists(st.floats(0.05, 1.0), min_size=worlds, max_size=worlds)))
    weight /= weight.sum()
    there = np.array(data.draw(st.lists(st.booleans(), min_size=worlds * size, max_size=worlds * size)), bool)
    count, error = worlds * size, data.draw(st.sampled_from([0.0, 0.2, 1.0]))
    noted = np.array(data.draw(st.lists(st.floats(0.0, 0.99), min_size=count, max_size=count)))
    among = noted * np.array(data.draw(st.lists(st.floats(0.0, 1.0), min_size=count, max_size=count)))
    world, place = np.divmod(np.flatnonzero(there), size)
    kept = left(place, weight[world], noted[there], among[there], size, error)
    assert ((kept >= 0) & (kept <= 1 + 1e-12)).all() and (kept >= among[there]).all()
    for one in range(size):
        mine = place == one
        entries = list(zip(weight[world[mine]], noted[there][mine], among[there][mine], strict=True))
        missed = sum(w * (1 - p) for w, p, _ in entries)  # there, and nothing is said of it
        wrong = sum(w * error * p for w, p, _ in entries)  # said to be there by a world that is wrong
        without = 1 - sum(w for w, _, _ in entries)
        counted = sum(w * a for w, _, a in entries)
        wanted = counted + (1 - counted) * missed / (missed + wrong + without) if entries else 0.0
        assert float((weight[world[mine]] * kept[mine]).sum()) == pytest.approx(wanted, rel=1e-6)


def bound(chance: np.ndarray, count: int) -> np.ndarray:
    """How far a share of `count` worlds may lie from its chance, all of them at once but once in a million (Bernstein)."""
    least = np.log(2 * len(chance) / 1e-6)
    return np.sqrt(2 * least * chance * (1 - chance) / count) + least / (3 * count)


def by_place() -> Survey:
    """A short look at everything that names one host and one patch: no host is merely counted."""
    named = Record("line 1", "made", True, (DAY, DAY), "east", host="H70", state="climbing")
    return survey_of(named, Record("line 2", "made", True, (DAY, DAY), xy=(94.0, 94.0)), hours=0.5)


@pytest.mark.parametrize("survey", [real_survey, by_place])
def test_the_maps_of_today_and_the_start_agree(survey):
    """With the very picks as weights, the map of today is what the amended worlds are on average."""
    found, count = learned() if survey is real_survey else learned_from(survey(), 400, **NOTHING_LACKED), 4000
    start = started(survey(), found, count, **NOTHING_LACKED)
    state = State(start)
    told = Said(STRATEGY, 1.0, MAPPED, None, False, False, None, (0.0, 0.0), (0.0, 0.0), found.attrs["model_error"])
    task = task_of(experiment(), survey(), told, 20, None)
    weights = np.unique(start.numbers, return_counts=True)[1] / count
    none, seen = Rates(0.0, 0.0), []
    earlier = Before(site().mat.size, len(task.measure.overlooked.kinds.leaf_on))
    for world in state.own:
        seen.append(see(world, task.measure, none))
        earlier.add(world.cells, seen[-1].overlooked)
    maps = today(seen, weights, earlier, task.findings, task.measure.overlooked, len(site().hosts), task.measure.error)
    away = np.ones(site().mat.size, bool)  # from patches of no size, that a start lays out and the map does not
    for x, y in (record.xy for record in survey().records if record.xy):
        middles = (np.arange(SIDE) + 0.5) * CELL
        away &= (np.hypot(middles - x, middles[::-1, None] - y) > 25.0).ravel()
    for layer, chance in (
        ((state.cover > 0)[:, away], maps.now[away]), (state.hosts > 0, maps.climbed), (state.hosts > 1, maps.fruiting)
    ):  # fmt: skip
        assert ((chance > 0.05) & (chance < 0.95)).any()
        assert (np.abs(layer.mean(axis=0) - chance) <= bound(chance, count)).all()
    # of these picks; those of the whole differ by what picks do, less than 1 in 4,000 for each world
    np.testing.assert_allclose(maps.now, found["mat_now"].to_numpy().ravel(), atol=0.01)
    unknown = ((state.cover > 0) & ~state.known).mean(axis=0)[away].sum()
    assert unknown == pytest.approx(float(maps.unknown[away].sum()), rel=0.15)
    if survey is by_place:  # silence counts: fewer hosts than the worlds have
        assert maps.climbed.sum() < 0.9 * sum(
            w * (world.hosts > 0).sum() for w, world in zip(weights, state.own, strict=True)
        )


def test_looking_took_away_what_it_would_have_found():
    nothing = survey_of(hours=30.0)
    found = learned_from(nothing, 200, **NOTHING_LACKED)
    state = State(started(nothing, found, 200, **NOTHING_LACKED))
    away = ~Zones(site()).old
    before, after = state.mat_before[:, away].sum(), (state.cover > 0)[:, away].sum()
    assert before > 100 and after < 0.5 * before
    assert (state.cover > 0)[:, ~away].sum() == state.mat_before[:, ~away].sum()


def test_what_was_recorded_stands_at_its_place_and_is_known():
    outline = Record("line 1", "made", True, (DAY, DAY), xy=(94.0, 94.0), quantity=("40", "m2"))
    points = (
        outline,
        Record("line 2", "made", True, (DAY, DAY), xy=(10.0, 10.0)),
        Record("line 3", "made", True, (DAY, DAY), "west <b>", host="H5", state="fruiting"),
        Record("line 4", "made", False, (DAY, DAY), "west <b>", host="H6", state="bare"),
        Record("line 5", "made", True, (DAY, DAY), "west <b>", host="H100", state="climbing"),
    )
    survey = survey_of(*points)
    found = learned_from(survey, 60, **NOTHING_LACKED)
    start = started(survey, found, 60, **NOTHING_LACKED)
    state = State(start)
    for x, y in ((94.0, 94.0), (10.0, 10.0)):
        assert (state.cover[:, cell_at(x, y)] > 0).all() and state.known[:, cell_at(x, y)].all()
    cells, cover = filled(site(), 94.0, 94.0, 40.0, 1.0)
    assert float(cover.sum()) * CELL**2 == pytest.approx(40.0) and cell_at(94.0, 94.0) == cells[0]
    assert (state.cover[:, cells] > 0).all()
    assert (state.hosts[:, 5] == 2).all() and state.hosts_known[:, 5].all()
    assert (state.hosts[:, 6] == 0).all()
    assert (state.hosts[:, 100] == 1).all() and state.hosts_known[:, 100].all()
    assert start.surveyed == str(DAY) and start.years == YEARS and start.notice == "Invented."


def test_where_old_mats_are_told_cell_by_cell_the_rest_of_them_is_gone():
    """One cell of the map's mats is left, half covered; where only an area is told, they stay as each world has them."""
    x, y = 22.0, 138.0  # within the first mat
    assert site().mat.ravel()[cell_at(x, y)] > 0
    left_over = Record("line 1", "made", True, (DAY, DAY), xy=(x, y), quantity=("8", "m2"))
    survey = survey_of(left_over)
    found = learned_from(survey, 40, **NOTHING_LACKED)
    state = State(started(survey, found, 40, **NOTHING_LACKED))
    old = np.flatnonzero(site().mat.ravel() > 0)
    assert (state.cover[:, cell_at(x, y)] == pytest.approx(0.5)) and state.known[:, cell_at(x, y)].all()
    rest = old[old != cell_at(x, y)]
    assert state.mat_before[:, rest].mean() > 0.3  # what is there by then and nobody knows of may have been missed
    assert (state.cover > 0)[:, rest].mean() < 0.01 and float(found["mat_now"].to_numpy().ravel()[rest].mean()) < 0.01
    whole = survey_of(Record("line 1", "made", True, (DAY, DAY), xy=(x, y), quantity=("300", "m2")))
    found = learned_from(whole, 40, **NOTHING_LACKED)
    state = State(started(whole, found, 40, **NOTHING_LACKED))
    assert ((state.cover > 0)[:, old] == state.mat_before[:, old]).mean() > 0.99


def test_of_hosts_that_were_counted_as_many_stay():
    """Three climbing stems in the east, nobody says on which, after a long look: about so many, where worlds have twice as many."""
    three = Record("line 1", "made", True, (DAY, DAY), "east", state="climbing", count=3)
    survey = survey_of(three, hours=30.0)
    found = learned_from(survey, 200, **NOTHING_LACKED)
    start = started(survey, found, 300, **NOTHING_LACKED)
    state, own = State(start), State(dataclasses.replace(start, host=(), host_world=(), host_state=(), host_known=()))
    units = site().unit.ravel()[site().hosts.cell]
    east, west = ((state.hosts > 0)[:, units == unit].sum(axis=1).mean() for unit in (2, 1))
    assert (own.hosts > 0)[:, units == 2].sum(axis=1).mean() > 8.0
    assert 2.5 < east < 5.0 and west < 0.6 * (own.hosts > 0)[:, units == 1].sum(axis=1).mean()


def test_a_patch_of_no_size_is_as_large_as_such_patches_are():
    """By hand: patches of 2 and 6 m2, found for certain and with a chance of a half: (2 + 6 / 2) / 1.5 m2 of living cover."""
    area = np.full(8, 5.0)
    world = SimpleNamespace(cells=np.arange(5), cover=np.array([1.0, 0.4, 0.4, 0.4, 0.4]))
    patch, chance = np.array([-1, 0, 1, 1, 1]), np.array([0.9, 1.0, 0.5, 0.2, 0.5])
    living, cover = typical(world, patch, chance, area)
    assert living == pytest.approx((2.0 + 0.5 * 6.0) / 1.5) and cover == pytest.approx(0.4)
    assert typical(world, np.full(5, -1), chance, area) == (pytest.approx(np.pi), 1.0)


def test_a_survey_that_says_nothing_amends_nothing():
    survey = Survey("none.csv", ())
    found = learned_from(survey, 40, on=str(DAY), **NOTHING_LACKED)
    start = started(survey, found, 40, on=str(DAY), **NOTHING_LACKED)
    assert start.numbers.tolist() == list(range(40))
    assert not len(start.cell) and not len(start.host)
    assert {"mat.front_speed", "climb.climb_rate"} <= set(start.values)
    assert not any(name.startswith("map.") for name in start.values)


def test_what_the_map_lacked_and_nobody_found_is_put_in_unknown():
    """Nobody looks: all of it. Means of 300 worlds against the rate, within 4.9 Poisson standard errors."""
    survey, count = Survey("none.csv", ()), 300
    lacked = {"overlooked_patches": (3.0, 3.0), "overlooked_hosts": (4.0, 4.0)}
    found = learned_from(survey, count, on=str(DAY), **lacked)
    start = started(survey, found, count, on=str(DAY), **lacked)
    assert not start.cell_known.any() and not start.host_known.any()
    hosts = np.bincount(start.host_world, minlength=count)
    assert abs(hosts.mean() - 4.0) < 4.9 * np.sqrt(4.0 / count) + 0.4  # some hosts are climbed by then all the same
    speed = found["value"].sel(parameter="mat.front_speed").to_numpy()[start.numbers]
    area = np.bincount(start.cell_world, start.cell_cover, minlength=count) * CELL**2
    wanted = 3.0 * np.pi * (1.0 + speed * YEARS) ** 2 * 0.5
    assert area.mean() == pytest.approx(wanted.mean(), rel=0.25)
    assert (site().plantable.ravel()[start.cell] > 0).all()


def test_a_survey_within_a_year_starts_with_the_next():
    day = date(2026, 7, 1)  # ten seasons from the map: the third year is worked on to its end
    patch = Record("line 2", "made", True, (day, day), xy=(94.0, 94.0))
    survey = survey_of(patch, day=day)
    found = learned_from(survey, 40, **NOTHING_LACKED)
    start = started(survey, found, 40, **NOTHING_LACKED)
    assert found.attrs["seasons"] == 10 and start.years == 3
    state = State(start)
    assert (state.cover[:, cell_at(94.0, 94.0)] > 0).all()


def test_worlds_and_amendments_do_not_depend_on_threads():
    one, two = (started(real_survey(), learned(), 50, workers=n, **NOTHING_LACKED) for n in (1, 3))
    assert one == two


def test_a_start_of_another_survey_or_with_unknown_words_is_refused():
    other = survey_of(Record("line 1", "made", True, (DAY, DAY), "east", state="fruiting", count=3))
    with pytest.raises(InputError, match="learned from another survey"):
        started(other, learned(), 20, **NOTHING_LACKED)
    with pytest.raises(InputError, match="found colour, allowed strategy, done"):
        started(real_survey(), learned(), 20, colour=3)
