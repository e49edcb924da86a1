"""Where to look next: pieces, what is unknown, paired runs, and what comes of them."""

import dataclasses
from functools import cache
from typing import Any

import numpy as np
import pytest
import xarray as xr

import spreadsim
from spreadsim import Experiment, InputError, Site, Start
from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.inputs import site_hash, write_start
from spreadsim.learning.finding import chance_host, chance_mat
from spreadsim.learning.next_look.asked import asked_of
from spreadsim.learning.next_look.ground import OUTSIDE, pieces_of
from spreadsim.learning.next_look.laws import Things, presence_terms, terms_of, things_of, weights_of
from spreadsim.learning.next_look.paired import MEASURED, Change, Pairs, without
from spreadsim.learning.next_look.rows import look_table
from spreadsim.learning.next_look.sure import how_sure
from spreadsim.learning.next_look.words import first_sentence, other_sentences

from . import small

SIZE, WORLDS, AFTER, HORIZON = 40.0, 20, 5, 3
NAMES = [measure.name for measure in MEASURED]


def asked(experiment: Experiment, **changes: Any) -> Any:
    given: dict[str, Any] = {
        "learned": None, "after": AFTER, "strategy": "no action", "done": 1.0, "then": "no action", "horizon": HORIZON,
        "season": "winter", "size": SIZE, "visit": 10.0, "goals": None, "replicates": WORLDS, "seed": None, "workers": 1,
    }  # fmt: skip
    if "start" in changes:
        experiment = dataclasses.replace(experiment, start=changes.pop("start"), years=AFTER + HORIZON)
        given |= {"after": None, "strategy": None}
    return asked_of(experiment, 4.0, **(given | changes))


@cache
def paired() -> tuple[Any, Any, Any, Any]:
    about = asked(small.experiment())
    pieces = pieces_of(about.experiment.site, SIZE)
    pairs = Pairs(about.world, about.seed, about.chosen, pieces, 2)
    unknown = pairs.unknown()
    return about, pieces, unknown, pairs.harms(unknown, lambda done, total: None)


@cache
def found() -> xr.Dataset:
    return spreadsim.look_next(
        small.experiment(),
        4.0,
        strategy="no action",
        after=AFTER,
        horizon=HORIZON,
        size=SIZE,
        replicates=WORLDS,
        workers=2,
    )


def test_pieces_lie_in_one_unit_each_and_take_all_the_ground() -> None:
    rng = np.random.default_rng(1)
    plantable = (rng.random((23, 37)) < 0.9).astype(float)
    unit = np.where(np.arange(37) < 11, 0, np.where(np.arange(37) < 24, 1, 2)) * np.ones((23, 37), int)
    access = rng.uniform(1, 3, (23, 37))
    hosts = {"x": rng.uniform(0, 148, 50), "y": rng.uniform(0, 92, 50)}
    site = Site.from_arrays(
        4.0, plantable=plantable, units=unit, unit_names=["a", "b"], access=access, hosts=hosts, mat=np.zeros((23, 37))
    )
    pieces = pieces_of(site, 30.0)
    inside = pieces.of_cell >= 0
    assert (inside == (plantable.ravel() > 0)).all()
    names = [OUTSIDE, "a", "b"]
    minutes = 0.0
    for k, (name, area) in enumerate(zip(pieces.units, pieces.area, strict=True)):
        here = pieces.of_cell == k
        assert {names[u] for u in unit.ravel()[here]} == {name}
        assert area == pytest.approx(plantable.ravel()[here].sum() * 16)
        assert pieces.access[k] == pytest.approx(access.ravel()[here].mean())
        assert pieces.hosts[k] == np.isin(site.hosts.cell, np.flatnonzero(here)).sum()
        minutes += 60 / pieces.per_hour[k] * pieces.access[k] ** -1
        rows, columns = np.divmod(np.flatnonzero(here), 37)
        assert rows.max() - rows.min() <= 21 and columns.max() - columns.min() <= 21
    assert minutes == pytest.approx(plantable.sum() * 16 / 1e4)
    assert len(set(zip(pieces.units, pieces.names, strict=True))) == len(pieces.names)
    assert min(pieces.area) >= 0.25 * 900 and pieces.names[0] == "A1"


def test_squares_beyond_z_have_two_letters() -> None:
    pieces = pieces_of(Site.from_arrays(10.0, mat=np.zeros((1, 30))), 10.0)
    assert pieces.names[25:28] == ("Z1", "AA1", "AB1") and pieces.units[0] == ""


def test_what_is_unknown_is_what_the_film_shows() -> None:
    """The same worlds by the public way."""
    about, pieces, unknown, _ = paired()
    start = about.world.start
    experiment = dataclasses.replace(small.experiment(), start=start, years=AFTER + HORIZON)
    reel = spreadsim.film(experiment, strategies=["no action"], replicates=range(WORLDS)).isel(strategy=0, step=0)
    cells = 0
    for w, one in enumerate(unknown):
        world = reel.isel(replicate=w)
        known = world["ground_marks"].values.ravel() & 1 > 0
        assert one.cells.tolist() == np.flatnonzero((world["cover"].values.ravel() > 0) & ~known).tolist()
        climbed = np.isin(world["host_state"].values, (1, 4)) & (world["host_marks"].values & 1 == 0)
        there = climbed & (pieces.of_host >= 0)
        assert one.hosts.tolist() == np.flatnonzero(there).tolist()
        assert one.patch_area.sum() == pytest.approx(len(one.cells) * small.CELL**2)
        cells += len(one.cells)
    assert cells > 50  # else it says little


def test_harm_is_that_of_the_same_worlds_run_without_by_the_public_way() -> None:
    """Each piece's unknown vine is taken away by a start of its own, and all worlds run again by `simulate`."""
    about, _, unknown, harms = paired()
    start, one = about.world.start, small.experiment()

    def outcomes(changed: Start) -> Any:
        runs = spreadsim.simulate(
            one.site, one.vine, one.strategies[0], crews=one.crews, years=AFTER + HORIZON, replicates=WORLDS, seed=one.seed,
            start=changed, maps="none", workers=2,
        )  # fmt: skip
        rows = [
            runs[m.outcome].sel(year=AFTER + HORIZON)
            if m.span == "end"
            else runs[m.outcome].isel(year=slice(1, None)).sum("year")
            for m in MEASURED
        ]
        return np.array([row.values for row in rows]).T

    base = outcomes(start)
    by_place = {(harm.world, harm.piece): harm for harm in harms}
    pieces = sorted({harm.piece for harm in harms})[:6]
    for piece in pieces:
        gone = {
            w: Change(piece, some.cells[some.cell_piece == piece], some.hosts[some.host_piece == piece])
            for w, some in enumerate(unknown)
        }
        apart = base - outcomes(without(start, gone))
        for w in range(WORLDS):
            harm = by_place.get((w, piece))
            expected = np.zeros(len(MEASURED)) if harm is None else harm.mat + harm.hosts
            assert apart[w] == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert sum(abs(harm.mat[0]) for harm in harms) > 0 and len(pieces) > 3


def test_rates_are_those_of_scouting_in_the_model() -> None:
    _, pieces, unknown, harms = paired()
    for winter, boost in ((True, None), (False, 1.0)):
        things = things_of(unknown, harms, pieces, winter)
        for row in range(0, len(things.world), 7):
            one = unknown[things.world[row]]
            hours, k = 0.3, things.piece[row]
            effort = 60 * hours / (pieces.area[k] * pieces.access[k] / 1e4)
            effort *= float(one.scouting["leaf_off_boost"]) if boost is None else boost
            chance = things.seen[row] * -np.expm1(-things.rate[row] * hours)
            shares = one.patch_share[one.patch_piece == k]
            wanted = (
                [chance_host(one.scouting, effort)] if things.is_host[row] else chance_mat(one.scouting, effort, shares)
            )
            assert np.isclose(wanted, chance, rtol=1e-12).any()
    assert things.is_host.any() and not things.is_host.all()


def things(rows: list[tuple[int, int, bool, float, float, float]], worlds: int, pieces: int) -> Things:
    """Make things of rows (world, piece, is host, rate, seen, infested area)."""
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    harm = np.zeros((len(rows), len(MEASURED)))
    harm[:, NAMES.index("infested_area")] = columns[5]
    return Things(columns[0], columns[1], columns[2].astype(bool), columns[3], columns[4], harm, worlds, pieces)


AREA = np.eye(len(MEASURED))[NAMES.index("infested_area")]


def test_luck_that_makes_vine_a_gain_comes_out_over_the_worlds() -> None:
    some = things([(0, 0, False, 1.0, 0.9, 6.0), (1, 0, False, 2.0, 1.0, -2.0), (1, 1, True, 1.0, 1.0, -1.0)], 2, 2)
    terms = terms_of(some, AREA)
    assert terms.value == pytest.approx([0.9 * (6 - 2) / 2, 0.0, 0.0])
    presence = presence_terms(some)
    assert sorted(presence.value.tolist()) == [0.45, 0.5, 0.5]


def test_sureness_counts_worlds_that_are_one_once() -> None:
    """Piece 0 leads in one world of two; where that one stands four times, sets without it are as frequent."""
    rows = [(w, 0, False, 1.0, 1.0, 10.0) for w in range(4)] + [(w, 1, False, 1.0, 1.0, 1.0) for w in range(5)]
    some = things(rows, 5, 2)
    one_world = how_sure(some, AREA, np.array([1.0, 1.0]), 1.0, 2, np.array([3, 3, 3, 3, 8]), 1)
    five = how_sure(some, AREA, np.array([1.0, 1.0]), 1.0, 2, np.arange(5), 1)
    # both draws hit the fifth: 1/4; with five of their own: 1/5^5. 2,000 resamples, 4.9 standard errors
    assert abs(one_world.first[1] - 0.25) < 4.9 * np.sqrt(0.25 * 0.75 / 2000)
    assert five.first[1] < 0.01 and five.first.sum() == pytest.approx(1.0)


def test_goals_weigh_what_is_measured_here() -> None:
    weighed = weights_of(Goals(weights={"infested_area": 2.0, "native_cover": 3.0, "net_present_cost": 1.0}))
    assert [names for names, _ in weighed] == [{"infested_area": 2.0, "native_cover": 3.0}]
    assert weighed[0][1][NAMES.index("native_cover")] == -3.0  # more of it is better
    assert [list(names) for names, _ in weights_of(DEFAULT)] == [["seeds_exported"], ["infested_area"]]


def test_hours_and_sums_of_the_answer() -> None:
    one = found()
    hours = one["hours"].values
    assert hours.sum() == pytest.approx(4.0) and np.allclose(hours * 6, np.round(hours * 6))
    assert (one["avoided"].values <= one["harm"].values + 1e-9).all()
    seeds = one["avoided"].sel(measure="seeds_exported").values
    assert one.attrs["weighed"] == ["seeds_exported"] and seeds.sum() == pytest.approx(one.attrs["score_avoided"])
    assert one.attrs["score_by_presence"] <= one.attrs["score_avoided"] + 1e-9 <= one.attrs["score_at_best"] + 2e-9
    assert one.attrs["score_avoided"] <= one.attrs["score_can_be_avoided"] < one.attrs["score"]
    curve = one["curve_avoided"].values
    assert np.interp(4.0, one["curve_hours"].values, curve) == pytest.approx(one.attrs["score_at_best"], rel=0.02)
    assert (np.diff(curve) >= 0).all() and (np.diff(one["curve_gain_of_more"].values) < 0).all()
    order = np.argsort(one["rank"].where(one["rank"] > 0, 999).values, kind="stable")[: int((hours > 0).sum())]
    assert (np.diff(one["rate"].values[order]) <= 0).all()
    text = [first_sentence(one), *other_sentences(one)]
    assert text[0].startswith("Look first in ") and "no second survey" in " ".join(text)
    _, rows = look_table(one, "metric")
    assert len(rows) == (hours > 0).sum()


def test_threads_change_nothing_and_more_hours_never_avoid_less() -> None:
    again = spreadsim.look_next(
        small.experiment(),
        4.0,
        strategy="no action",
        after=AFTER,
        horizon=HORIZON,
        size=SIZE,
        replicates=WORLDS,
        workers=1,
    )
    assert again.identical(found())


def clean(**columns: Any) -> Start:
    """A start after which nothing is unknown but what is put in: the small site's map, nobody works."""
    one = small.experiment()
    hosts = np.arange(len(one.site.hosts))
    cells = np.arange(one.site.ny * one.site.nx)
    open_ = cells[one.site.plantable.ravel() > 0]
    given: dict[str, Any] = {}
    worlds = 20
    for kind, places, empty in (
        ("cell", open_, ("cell_cover", "cell_known")),
        ("host", hosts, ("host_state", "host_known")),
    ):
        given[f"{kind}_world"] = np.repeat(np.arange(worlds), len(places))
        given[kind] = np.tile(places, worlds)
        for name in empty:
            row = np.zeros(len(places), bool if name.endswith("known") else float if name == "cell_cover" else int)
            for place, value in columns.get(name, {}).items():
                row[np.flatnonzero(places == place)] = value
            given[name] = np.tile(row, worlds)
    return Start(
        years=1, seed=one.seed, numbers=np.arange(worlds), values={}, strategy=one.strategies[0], crews=one.crews,
        site=site_hash(one.site), surveyed="2024-12-01", **given,
    )  # fmt: skip


def from_start(start: Start, **changes: Any) -> xr.Dataset:
    one = dataclasses.replace(small.experiment(), start=start)
    given: dict[str, Any] = {"horizon": HORIZON, "size": SIZE, "replicates": WORLDS, "workers": 1}
    return spreadsim.look_next(one, 1.0, **(given | changes))


def test_where_the_only_unknown_vine_is_is_where_to_look() -> None:
    """A fruiting host in the north-east against mat of a square metre or so in the south-west."""
    site = small.site()
    host = int(np.argmax(site.hosts.x + site.hosts.y))
    cell = 37 * site.nx + 2
    one = from_start(clean(host_state={host: 2}, cell_cover={cell: 0.1}))
    first = one.isel(piece=int(np.argmin(one["rank"].where(one["rank"] > 0, 99).values)))
    assert (first["piece"], first["unit"], float(first["chance"])) == ("D1", "east", 1.0)
    assert one["chance"].values.tolist().count(1.0) == 2 and one["chance"].values.sum() == 2.0
    by_area = from_start(clean(host_state={host: 2}, cell_cover={cell: 0.1}), goals=Goals(order=("infested_area",)))
    assert float(by_area["harm"].sel(measure="infested_area", piece="A4").sum()) > 0
    assert by_area["harm"].sel(measure="seeds_exported").values == pytest.approx(
        one["harm"].sel(measure="seeds_exported").values
    )
    assert "survey of 2024-12-01" in " ".join(other_sentences(one))


def test_nothing_unknown_is_said_plainly() -> None:
    one = from_start(clean())
    assert one["hours"].values.sum() == 0 and one["rank"].values.max() == 0
    assert first_sentence(one).startswith("Nothing to say on where to look: in none of 20 worlds")
    assert "no proof" in first_sentence(one)
    assert look_table(one, "metric")[1] == [] and "under 15 %" in " ".join(other_sentences(one))


def test_where_nothing_asked_for_changes_presence_decides() -> None:
    one = from_start(
        clean(cell_cover={37 * small.site().nx + 2: 0.1}), goals=Goals(order=("fruiting_hosts",)), horizon=1
    )
    assert one.attrs["weighed"] == [] and one["hours"].values.sum() > 0
    assert "chance that anything is there decides" in first_sentence(one)
    assert all(isinstance(text, str) for text in other_sentences(one))


def test_all_that_is_wrong_is_told_at_once(tmp_path: Any) -> None:
    with pytest.raises(InputError) as error:
        spreadsim.look_next(
            small.experiment(), -3.0, strategy="none such", after=0, done=-1.0, then="nor this", horizon=0,
            season="mud", size=1.0, visit=0.0, replicates=3,
        )  # fmt: skip
    text = str(error.value)
    for place in ("hours", "strategy", "after", "done", "then", "horizon", "season", "size", "visit", "replicates"):
        assert f"{place}: found" in text, text
    for hours, told in ((1e6, "10000"), (0.05, "at least one visit of 10 minutes"), (float("nan"), "more than 0")):
        with pytest.raises(InputError, match=told):
            spreadsim.look_next(small.experiment(), hours, strategy="a little")
    with pytest.raises(InputError, match=r"learned: found no folder .*, allowed a folder that spreadsim learn wrote"):
        spreadsim.look_next(small.experiment(), 1.0, learned=tmp_path / "none")
    with pytest.raises(InputError, match=r"learned: found no start.nc"):
        spreadsim.look_next(small.experiment(), 1.0, learned=tmp_path)


def test_a_learned_folder_of_another_site_is_refused_and_its_own_is_read(tmp_path: Any) -> None:
    start = clean(host_state={5: 2})
    write_start(start, tmp_path / "start.nc")
    looked = np.zeros((small.SIDE, small.SIDE), "i1")
    looked[:, :19] = 1
    xr.Dataset({"looked": (("y", "x"), looked)}).to_netcdf(tmp_path / "learned.nc", engine="h5netcdf")
    one = spreadsim.look_next(small.experiment(), 1.0, learned=tmp_path, size=SIZE, horizon=1, workers=1)
    units = one["unit"].values
    assert (one["looked"].values[units == "east"] == 0).all()
    assert (one["looked"].values[units != "east"] == 1).all()
    assert one["chance"].values.max() == 1.0 and one.attrs["worlds"] == 20
    with pytest.raises(InputError, match=r"after: found 2, allowed nothing beside a learned state"):
        spreadsim.look_next(small.experiment(), 1.0, learned=tmp_path, after=2)
    site = small.site()
    other = Site.from_arrays(4.0, mat=np.zeros((site.ny, site.nx)), units=site.unit, unit_names=site.unit_names)
    with pytest.raises(InputError, match=r"start\.nc.*another site"):
        spreadsim.look_next(dataclasses.replace(small.experiment(), site=other), 1.0, learned=tmp_path)


def test_a_site_without_units_and_hosts_in_one_row() -> None:
    """The least that a site can have; vine that comes over the boundary is what is unknown."""
    from spreadsim.views.look_map import look_alt, look_map

    site = Site.from_arrays(20.0, mat=np.full((1, 6), 0.1), background_seed=2e5)
    one = Experiment("A row", site, small.experiment().vine, (), small.experiment().strategies[:1], years=3)
    found = spreadsim.look_next(one, 2.0, after=4, replicates=20, size=20.0)
    assert found["unit"].values.tolist() == [""] * 6 and found["hosts"].values.sum() == 0
    assert first_sentence(found) and list(other_sentences(found)) and look_alt(found)
    assert len(look_map(found, site).axes) == 3  # the map, the chart, the scale of colours
