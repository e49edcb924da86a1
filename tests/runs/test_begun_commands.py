"""What is made of runs that begin from a learned state: commands, work lists, sentences, going on after an interruption."""

import dataclasses
import re
from pathlib import Path

import numpy as np
import pytest

import spreadsim
from spreadsim import cli
from spreadsim.analysis.outcomes import MEASURES, by_year, measured
from spreadsim.analysis.scoring import net_present_cost
from spreadsim.analysis.sentences import sentences
from spreadsim.inputs import InputError, read_experiment, write_start
from spreadsim.inputs.start_site import site_as_known
from spreadsim.learning.worlds import Worlds
from spreadsim.planning.briefing import beginning, if_money_stops
from spreadsim.planning.questions import left_of_grant, now_or_spread, skipped_year, unit_to_leave
from tests.planning.asking import written

from . import small
from .starts import AFTER, YEARS, begun, seen, start, whole


def on_disk(folder: Path) -> Path:
    """An experiment of four years that begins two years after the map, as files."""
    path = written(folder)
    plain = read_experiment(path)
    done = plain.strategies[1]
    rows = seen(0, [(60, 0.8, True)], [(2, 2, True)])
    one = spreadsim.Start(
        2, 1, np.array([0]), {}, done, plain.crews, plain.site.identity, **rows, surveyed="2026-10-03", notice="Seen."
    )
    write_start(one, folder / "start.nc")
    text = path.read_text().replace("vine =", 'start = "start.nc"\nvine =', 1)
    path.write_text(text)
    return path


def test_the_command_line_begins_from_the_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, results = on_disk(tmp_path), tmp_path / "results"
    assert cli.main(["check", str(path)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "To run: years 3 to 4" in told
    assert "They begin from one learned world, 2 years after the map, as the survey of 2026-10-03 saw it" in told
    assert "Seen." in told
    assert cli.main(["compare", str(path), "--replicates", "6", "--out", str(results)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "years 3 to 4" in told
    assert "They begin from a learned state, 2 years after the site was mapped." in told
    assert "years 1 to" not in told
    with spreadsim.open_outcomes(results / "outcomes.nc") as data:
        assert data["year"].values.tolist() == [2, 3, 4]
        assert data["year"].attrs["long_name"].startswith("years since the site was mapped")
        first = data.load()
    again = tmp_path / "again"
    assert cli.main(["compare", str(results / "outcomes.nc"), "--replicates", "6", "--out", str(again)]) == 0
    with spreadsim.open_outcomes(again / "outcomes.nc") as data:
        small.assert_same_bits(first, data.load())
    for command in (["decide"], ["brief"], ["export"], ["draw"]):
        assert cli.main([*command, str(results)]) == 0, command
    names = {file.name for file in (results / "export").iterdir()}
    assert {"ground-strategy-0-year-2.gpkg", "ground-strategy-0-year-4.gpkg"} <= names
    brief = re.sub(r"\s+", " ", (results / "brief.html").read_text())
    assert "years 3 to 4, from the learned state at the end of year 2" in brief
    assert "year 1" not in re.sub(r"<style.*?</style>|<svg.*?</svg>", "", brief)
    capsys.readouterr()
    name = read_experiment(path).strategies[1].name
    assert cli.main(["worklist", str(path), "--strategy", name, "--out", str(tmp_path / "list")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Winter of year 3" in told
    assert "as it was learned to be at the end of year 2" in told
    rows = (tmp_path / "list" / "worklist.csv").read_text().splitlines()
    assert {row.split(",")[0] for row in rows[1:]} == {"3"}
    places = (tmp_path / "list" / "places.csv").read_text()
    assert "seen fruiting" in places
    assert cli.main(["worklist", str(path), "--strategy", name, "--seasons", "9", "--out", str(tmp_path)]) == 2
    assert "seasons: found 9, allowed 1 to 8" in capsys.readouterr().err
    (tmp_path / "start.nc").write_bytes((tmp_path / "start.nc").read_bytes()[:3000])
    assert cli.main(["check", str(path)]) == 2
    told = capsys.readouterr().err
    assert "start.nc: cannot be read as a NetCDF-4 file" in told
    assert "Traceback" not in told


def test_an_interrupted_run_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from spreadsim.runs import on_disk as module

    monkeypatch.setattr(module, "BLOCK_SIZE", 2)
    monkeypatch.setattr(module, "COMMIT_SHARE", 0.0)
    one = start(2, 5, **seen(3, [(40, 0.5, True)], [(4, 2, True)]))
    experiment = begun(one, replicates=9)

    def stop(done: int, of: int) -> None:
        if done >= 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        spreadsim.compare(experiment, folder=tmp_path, progress=stop, workers=1)
    other = dataclasses.replace(experiment, start=start(2, 5, **seen(3, [(40, 0.6, True)], [(4, 2, True)])))
    with pytest.raises(
        InputError, match=r"found finished replicates of another comparison \(start.cell_cover differs\)"
    ):
        spreadsim.compare(other, folder=tmp_path, resume=True)
    counted: list[int] = []
    resumed = spreadsim.compare(
        experiment, folder=tmp_path, resume=True, progress=lambda done, of: counted.append(done)
    )
    assert counted[0] >= 2
    small.assert_same_bits(spreadsim.compare(experiment), resumed.load())
    assert spreadsim.experiment_of(resumed) == experiment


def test_measures_count_from_the_start() -> None:
    data, plain = spreadsim.compare(begun(start(2))), spreadsim.compare(whole())
    last = small.YEARS
    for measure in MEASURES:
        ours = measured(data, measure, last).sel(strategy="mats only")
        values = by_year(plain, measure.outcome).sel(strategy="mats only")
        flow = measure.span != "end"
        span = values.sel(year=list(AFTER[1:] if flow else [last]))
        expected = {"sum": span.sum("year"), "mean": span.mean("year"), "end": span.sel(year=last)}[measure.span]
        assert np.allclose(ours, expected), measure.name
    assert by_year(data, "hours").sel(year=YEARS).isnull().all()
    cost = by_year(data, "cost").sel(year=list(AFTER[1:]))
    worth = sum(cost.sel(year=year) / 1.03 ** (year - YEARS) for year in AFTER[1:])
    assert np.allclose(net_present_cost(data, discount=0.03), worth)
    told = " ".join(sentences(data))
    assert f"years {YEARS + 1} to {last}" in told
    assert "They begin from a learned state, 2 years after the site was mapped." in told


def test_the_first_years_of_a_strategy_are_those_that_are_run() -> None:
    experiment = begun(start(2), replicates=6)
    strategy = experiment.strategies[2]
    data = spreadsim.compare(experiment, replicates=6)
    work = spreadsim.work_list(experiment, "mats only", seasons=6, replicates=6)
    hours = (
        data["hours"]
        .sel(strategy="mats only", year=[YEARS + 1, YEARS + 2])
        .transpose("replicate", "year", "season", "task")
    )
    spent = np.nan_to_num(hours.values).reshape(6, 8, -1)[:, :6, : len(strategy.tasks)]
    assert np.allclose(work.crew_hours.sum(axis=3), spent)
    assert work.done.hours[..., 1, :].sum() > 0  # visits that were due from before
    assert work.season_name(5) == "spring of year 4"
    told = beginning(experiment, strategy, range(6))
    assert told.first == YEARS
    assert {entry.year for entry in told.entries} <= {None, 3, 4, 5}
    stopped = if_money_stops(experiment, range(6), after=3, later=2)
    assert stopped is not None
    assert (stopped.after, stopped.year) == (3, 5)
    assert if_money_stops(experiment, range(6), later=1).after == 5  # type: ignore[union-attr]


def test_questions_begin_from_the_start() -> None:
    experiment = begun(start(2, 4), replicates=4)
    how = {"replicates": 4, "strategy": "mats only"}
    grant = left_of_grant(experiment, lasts=3, year=5, **how).table
    assert grant["year"].values.tolist() == list(AFTER[1:])
    with pytest.raises(InputError, match="lasts: found 2, allowed 3 to 6, the years of the experiment"):
        left_of_grant(experiment, lasts=2, year=5, **how)
    assert skipped_year(experiment, **how).table["year"].values.tolist() == [3, 4]
    spread = now_or_spread(experiment, **how)
    assert spread.table["within"].values.tolist() == [1, 2, 3, 4]
    assert spread.table.attrs["years"] == 4
    with pytest.raises(InputError, match="over: found 5, allowed 1 to 4, as many as the experiment has"):
        now_or_spread(experiment, over=5, **how)
    assert unit_to_leave(experiment, wait=2, **how).table["entry"].values[0] == YEARS + 1


def test_a_site_is_known_as_it_was_seen() -> None:
    far = int(np.flatnonzero(whole().site.plantable.ravel() > 0)[-1])
    one = start(2, 1, **seen(0, [(far, 0.7, True)], [(3, 2, True), (5, 0, False)]))
    site = site_as_known(begun(one))
    assert site.mat.ravel()[far] == 0.7
    assert (site.hosts.state[3], site.hosts.state[5]) == (2, 0)
    assert site.hosts.can_be_gone_to[3]
    rest = np.ones(90, bool)
    rest[[3, 5]] = False
    assert np.array_equal(site.hosts.state[rest], whole().site.hosts.state[rest])
    assert site_as_known(whole()) is whole().site


def test_learning_goes_from_the_map_on() -> None:
    strategy = whole().strategies[2]
    found = []
    for experiment in (whole(), begun(start(2))):
        worlds = Worlds(experiment, strategy, 6, [0, 3])
        found.append([(world.cover.tolist(), world.hosts.tolist()) for world in worlds.each(lambda world: world, 1)])
    assert found[0] == found[1]


def test_a_run_until_sure_begins_from_the_start() -> None:
    told = spreadsim.compare_until(begun(start(2, 3)), 0.5, first=20, most=40)
    assert told.outcomes["year"].values.tolist() == list(AFTER)
    with pytest.raises(InputError, match="year: found 1, allowed 2 to 6"):
        spreadsim.compare_until(begun(start(2, 3)), 0.5, year=1)
