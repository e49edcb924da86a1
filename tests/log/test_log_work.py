"""The work of a log in the simulation: hours never more than logged, and nearly as many where there is work to do."""

import csv
import dataclasses
from collections import defaultdict
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

import spreadsim
from spreadsim import Experiment, InputError, Survey, done_work, read_log
from spreadsim.inputs.survey import Event as Visit
from spreadsim.inputs.survey import Record
from spreadsim.log import Log, as_worked

from .wood import EAST, MAPPED, experiment, take

LINES = """2024-12-10,west,,stems,,friends,6,4,yes,,,,
2024-12-12,'=1+1,,pull,,friends,9,4,yes,,,,
2025-01-20,,2,stems,,staff,2,1,yes,,,,
2025-03-04,west,,pull,,friends,8,4,part,,,,
2025-03-05,'=1+1,,pull,,staff,5,1,yes,,,,
2025-07-20,west,,pull,,staff,4,1,yes,,,,
2025-09-14,'=1+1,,,foliar-spray,staff,1,1,yes,,,,
2025-12-20,west,,stems,,staff,3,1,yes,,,,
2026-01-11,'=1+1,,pull,,friends,7,4,yes,,,,
2026-04-02,west,,pull,,staff,3,1,yes,,,,"""
WORLDS = 12


@cache
def log() -> Log:
    with TemporaryDirectory() as folder:
        take(Path(folder), LINES)
        return read_log(experiment(), Path(folder) / "log")


def simulated(worked: Experiment):
    """Hours by (world, year, season, task) of the work in place of a strategy."""
    done = spreadsim.simulate(
        worked.site, worked.vine, worked.strategies[1], crews=worked.crews, years=3, replicates=WORLDS, seed=4,
        weather=worked.weather, maps="none", treatments=worked.treatments,
    )  # fmt: skip
    return np.nan_to_num(done["hours"].transpose("replicate", "year", "season", "task").to_numpy())


def logged_by_hand() -> dict[tuple[str, str, int], float]:
    """Hours by work, unit and season, read from the text."""
    sums: dict[tuple[str, str, int], float] = defaultdict(float)
    unit_2 = ["", "west", EAST][int(experiment().site.unit.ravel()[experiment().site.hosts.cell[2]])]
    for day, unit, host, task, treatment, _, hours, *_ in csv.reader(LINES.splitlines()):
        year, month = int(day[:4]), int(day[5:7])
        season = (12 * (year - 2024) + month - 12) // 3
        sums[task or treatment, unit_2 if host else unit.removeprefix("'"), season] += float(hours)
    return sums


def test_hours_simulated_are_those_logged():
    worked, remarks = as_worked(experiment(), log())
    assert not remarks
    hours = simulated(worked)
    label = {"foliar-spray": "spray mats"}
    logged = defaultdict(float)
    for (task, unit, season), value in logged_by_hand().items():
        logged[f"{label.get(task, task)}, {unit}", season] += value
    left, shares = dict(logged), []
    for k, task in enumerate(worked.strategies[1].tasks):
        for season in range(12):
            spent = hours[:, season // 4 + 1, season % 4, k]
            allowed = logged.get((task.label, season), 0.0)
            assert (spent <= allowed + 1e-9).all(), (task.label, season)
            if allowed and task.treatment in ("pull", "foliar-spray"):
                assert spent.mean() > 0.75 * allowed, (task.label, season)
                shares.append((spent.mean(), allowed))
            left.pop((task.label, season), None)
    assert not left, "all that was logged has its task"
    spent, allowed = (sum(values) for values in zip(*shares, strict=True))
    assert spent > 0.9 * allowed, "what is left is less than a cell takes, each time"
    first = next(k for k, task in enumerate(worked.strategies[1].tasks) if task.label == "stems, west")
    assert hours[:, 1, 0, first].mean() > 0.85 * logged["stems, west", 0]


def test_places_stay_open_for_later_visits():
    """Work of the second winter is follow-up at first, as the strategy's task wants it."""
    worked, _ = as_worked(experiment(), log())
    done = spreadsim.simulate(
        worked.site, worked.vine, worked.strategies[1], crews=worked.crews, years=2, replicates=WORLDS, seed=4,
        weather=worked.weather, maps="none",
    )  # fmt: skip
    k = [task.label for task in worked.strategies[1].tasks].index(f"pull, {EAST}")
    again = np.nan_to_num(done["follow_up_hours"].sel(year=2, season="winter").isel(task=k))
    assert (again > 0).all() and again.mean() > 1


def test_tasks_keep_what_the_strategy_says_and_lose_what_held_it_back():
    strategy, crews, remarks = done_work(experiment(), log())
    assert not remarks
    by_label = {task.label: task for task in strategy.tasks}
    assert list(by_label) == ["stems, west", f"pull, {EAST}", "pull, west", f"spray mats, {EAST}"], "as in the strategy"
    pull = by_label["pull, west"]
    assert (pull.order, pull.haul_out, pull.follow_up.every) == ("outlying patches first", True, 2)
    assert (pull.new_ground, pull.share, pull.units) == (None, 1.0, ("west",))
    assert pull.years == (1, 2) and pull.seasons == ("spring", "summer")
    spray = by_label[f"spray mats, {EAST}"]
    assert spray.treatment == "foliar-spray" and spray.instead == "pull"
    assert sum(sum(crew.hours) for crew in crews) == sum(logged_by_hand().values())
    assert all(crew.turnout == 1 and crew.turnout_spread == 0 and crew.years[0] == crew.years[1] for crew in crews)
    friends = [crew for crew in crews if crew.volunteers]
    assert friends and all(crew.pace == 0.7 for crew in friends)


def test_the_work_list_says_which_strategy_it_was_of(tmp_path):
    head = "session,season,year,crew,unit,task,place,planned_hours,strategy,date,done,hours,people"
    take(tmp_path, "1,spring,1,staff,west,pull,G1,5,mats only,2025-04-01,yes,5,1", head=head)
    strategy, _, _ = done_work(experiment(), read_log(experiment(), tmp_path / "log"))
    assert strategy.tasks[0].order == "largest first" and strategy.tasks[0].follow_up is None
    assert strategy.reserve_follow_up is False


def test_a_log_too_varied_for_the_model_shares_crews_and_hours_stay_those_logged(tmp_path):
    rows = []
    for year in (2025, 2026):
        for month in (1, 4, 7, 10):
            for unit in ("west", "'" + EAST, "outside the units"):
                for work in ("stems,", "pull,", "@look,", "spray mats,", ",mow"):
                    for crew in ("friends", "staff"):
                        rows.append(f"{year}-{month:02d}-05,{unit},,{work},{crew},1,30,yes,,,,")
    take(tmp_path, "\n".join(rows))
    worked, remarks = as_worked(experiment(), read_log(experiment(), tmp_path / "log"))
    assert len(worked.crews) <= 32 and any("units are worked as the model shares them out" in text for text in remarks)
    assert "hours outside the units are worked anywhere on the site" in remarks
    assert any("when it is not done by its profile" in text for text in remarks)
    kept = sum(sum(crew.hours) for crew in worked.crews)
    lost = sum(float(text.split(" h ")[0]) for text in remarks if text.endswith("not simulated"))
    assert kept + lost == len(rows)
    by_season = simulated(worked).sum(axis=3)
    for season in range(8):
        hours = sum(crew.hours[season % 4] for crew in worked.crews if crew.years[0] == season // 4 + 1)
        assert (by_season[:, season // 4 + 1, season % 4] <= hours + 1e-9).all()


def test_what_can_not_be_simulated_is_said(tmp_path):
    take(
        tmp_path,
        "2024-11-25,west,,pull,,staff,2,1,yes,,,,\n2025-01-05,west,,pull,,staff,,1,yes,,,,\n"
        "2025-01-06,west,,stems,tarp,staff,3,1,yes,,,,",
    )
    work = done_work(experiment(), read_log(experiment(), tmp_path / "log"))
    assert "2 h worked before the first winter of the map: not simulated" in work.remarks
    assert "1 place in lines that say no hours: not simulated" in work.remarks
    assert [(task.label, task.treatment) for task in work.strategy.tasks] in ([("tarp, west", "tarp")], [])
    nothing = done_work(experiment(), Log())
    assert nothing.strategy.tasks == () and nothing.crews == ()


def test_names_that_the_experiment_lost_are_named():
    whole = experiment()
    fewer = dataclasses.replace(whole, crews=whole.crews[1:], strategies=whole.strategies[2:])
    with pytest.raises(InputError) as caught:
        done_work(fewer, log())
    assert 'line 2026-1:1, crew: found "friends", allowed one of "staff"' in str(caught.value)
    assert 'line 2026-1:1, task: found "stems", allowed one of "pull"' in str(caught.value)


DAY = date(2026, 12, 10)


def survey() -> Survey:
    nothing = tuple(Record("line 1", "made", False, (DAY, DAY), name) for name in experiment().site.unit_names)
    return Survey("made.csv", (Visit("made", 2.0, None, "", nothing),))


def test_learning_goes_through_the_work_of_the_log(tmp_path):
    take(tmp_path, LINES + "\n2026-12-05,west,,stems,,staff,3,1,yes,,,,")
    found = spreadsim.learn(experiment(), survey(), log=tmp_path / "log", replicates=20)
    assert found.attrs["strategy"] == "the work that was logged" and found.attrs["hours_done"] == 1
    assert found.attrs["mapped"] == MAPPED.isoformat() and found.attrs["seasons"] == 8
    assert "3 h of the season of the survey or later" in found.attrs["remarks"]
    idle = spreadsim.learn(experiment(), survey(), strategy="no action", since=MAPPED, replicates=20)
    assert float(found["mat_before"].sum()) < 0.98 * float(idle["mat_before"].sum()), "the work was done"
    nothing = spreadsim.learn(experiment(), survey(), log=Log(), since=MAPPED, replicates=20)
    np.testing.assert_array_equal(nothing["mat_before"], idle["mat_before"])


def test_hours_that_find_no_work_are_said(tmp_path):
    """Ten times the hours that the stems of the unit can take."""
    take(tmp_path, "2025-01-05,west,,stems,,staff,400,40,yes,,,,")
    found = spreadsim.learn(experiment(), survey(), log=tmp_path / "log", replicates=20)
    told = found.attrs["remarks"]
    assert "of the 400 h that were logged; for the rest nothing known is left" in told
    worked, _ = as_worked(experiment(), read_log(experiment(), tmp_path / "log"))
    done = spreadsim.simulate(
        worked.site, worked.vine, worked.strategies[1], crews=worked.crews, years=2, replicates=20, seed=4,
        weather=worked.weather, maps="none",
    )  # fmt: skip
    spent = float(done["hours"].sel(year=1).sum(["season", "task"]).mean())
    assert f"find work for {spent:,.0f} of" in told and spent < 200
    (tmp_path / "fits").mkdir()
    take(tmp_path / "fits", "2025-01-05,west,,pull,,staff,60,10,yes,,,,")
    found = spreadsim.learn(experiment(), survey(), log=tmp_path / "fits" / "log", replicates=20)
    assert "find work for" not in found.attrs["remarks"]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"strategy": "mats only"}, 'log: found strategy "mats only" beside a log, allowed either a log, or'),
        ({"done": 0.5}, "log: found done 0.5 beside a log"),
        (
            {"since": "2025-12-01"},
            "since: found 2025-12-01, allowed a date of the map that begins with the same winter",
        ),
    ],
)
def test_a_log_and_something_else_is_refused(more, told):
    with pytest.raises(InputError) as caught:
        spreadsim.learn(experiment(), survey(), log=log(), replicates=20, **more)
    assert told in str(caught.value)
