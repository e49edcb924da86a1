"""Hosts that the log names by number, in the worlds that a survey leaves: as logged, unless the survey has a record."""

import dataclasses
from datetime import date
from functools import cache

import numpy as np
import pytest

import spreadsim
from spreadsim import Experiment, FollowUp, Start, Strategy, Survey, Task
from spreadsim.inputs.survey import Event as Visit
from spreadsim.inputs.survey import Record
from spreadsim.learning.again import Learned
from spreadsim.learning.logged import DONE, NO_VINE, NOT_DONE, hosts_of, hosts_of_log
from spreadsim.log import Entry, Log

from . import small
from .inventing import DAY
from .small import MAPPED, YEARS, site

COUNT = 20
FRUITING = np.flatnonzero(site().hosts.state == 2).tolist()
NOTHING = Survey("none.csv", ())


@cache
def experiment() -> Experiment:
    tasks = (Task("cut", name="stems", order="fruiting first", follow_up=FollowUp(1, 2)),)
    strategies = (Strategy("no action"), Strategy("stems first", tasks=tasks))
    return dataclasses.replace(small.experiment(), strategies=strategies, years=YEARS + 1)


def line(k: int, **said) -> Entry:
    common = {"date": date(2026, 1, 20), "crew": "staff", "task": "stems", "treatment": "cut"}
    return Entry(line=f"2026-1:{k}", **(common | said))


def log_of(*lines: Entry) -> Log:
    """Hours in plenty in both units, so that all known hosts are cut in the worlds; and some lines."""
    hours = [line(k, unit=unit, hours=60.0, done="yes") for k, unit in enumerate(site().unit_names, 900)]
    return Log((*hours, *lines), date.fromisoformat(MAPPED), {})


def begun(log: Log, survey: Survey = NOTHING) -> Learned:
    said = {
        "since": MAPPED, "on": str(DAY), "log": log, "overlooked_patches": (0.0, 0.0), "overlooked_hosts": (0.0, 0.0),
    }  # fmt: skip
    found = spreadsim.learn(experiment(), survey, replicates=COUNT, **said)
    return Learned(spreadsim.start_of(experiment(), survey, found, replicates=COUNT, **said), found)


def amended(start: Start, host: int) -> list[int]:
    return start.host_state[start.host == host].tolist()


def logged(done: str, **more) -> Log:
    return log_of(*(line(k, host=j, place=f"H{j}", unit="west <b>", done=done, **more) for k, j in enumerate(FRUITING)))


def now(learned: Learned) -> tuple[np.ndarray, np.ndarray]:
    """Fruiting hosts now, and had nobody worked, in each world."""
    found = spreadsim.plan_again(experiment(), learned)
    value = found.ahead["value"].sel(measure="fruiting_hosts")
    story = " ".join(found.story())
    assert "hosts that it names by number" in story
    return value.sel(when="now").to_numpy(), value.sel(when="untreated").to_numpy()


def test_hosts_that_nobody_worked_stand_as_mapped():
    learned = begun(logged("no"))
    known = [host for host in FRUITING if site().hosts.known[host]]
    assert all(amended(learned.start, host).count(2) > COUNT / 2 for host in known)  # they were cut in the worlds
    assert all(set(amended(learned.start, host)) <= {2} for host in FRUITING)
    assert learned.start.host_known[np.isin(learned.start.host, FRUITING)].all()
    fruiting, untreated = now(learned)
    assert (fruiting >= len(FRUITING)).all() and (untreated >= fruiting).all()
    others = begun(log_of())
    fewer, same = now(others)
    assert fruiting.mean() - fewer.mean() > len(known) - 0.5  # further trees bear by then
    assert (untreated == same).sum() >= COUNT - 1  # does not hang on the log; a tree that fell in one world is raised


def test_hosts_that_were_done_do_not_stand_as_mapped():
    lines = [dataclasses.replace(one, hours=0.01) for one in logged("yes").entries]
    learned = begun(Log(tuple(lines), date.fromisoformat(MAPPED), {}))  # hardly any hours, so that none is cut
    assert all(set(amended(learned.start, host)) == {0} for host in FRUITING)
    assert np.isin(learned.start.host, FRUITING).sum() >= COUNT * len(FRUITING) - 1  # one tree falls in one world
    assert not learned.start.host_known[np.isin(learned.start.host, FRUITING)].any()
    fruiting, untreated = now(learned)
    assert (untreated - fruiting >= len(FRUITING) - 1).all()


def test_something_else_is_taken_off_and_nobody_comes_back():
    host = FRUITING[0]
    learned = begun(log_of(line(1, host=host, unit="west <b>", done="no", something_else=1)))
    assert amended(learned.start, host) == [0] * COUNT and learned.start.host_known[learned.start.host == host].all()
    assert f"H{host} was logged as something else: taken off" in learned.dataset.attrs["remarks"]


def test_a_record_of_the_survey_goes_before_the_log():
    one, two = FRUITING[:2]
    records = (
        Record("line 1", "made", False, (DAY, DAY), host=f"H{one}", state="bare"),
        Record("line 2", "made", True, (DAY, DAY), host=f"H{two}", state="climbing"),
    )
    learned = begun(logged("no"), Survey("made.csv", (Visit("made", 2.0, None, "", records),)))
    assert set(hosts_of(learned.dataset)) == set(FRUITING) - {one, two}
    assert set(amended(learned.start, one)) <= {0} and set(amended(learned.start, two)) == {1}


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ([{"done": "no"}, {"done": "no", "hours": 0.0}], NOT_DONE),
        ([{"done": "no"}, {"done": "part"}], None),
        ([{"done": "no"}, {"done": "yes"}], DONE),
        ([{"done": "no", "hours": 0.4}], None),
        ([{"done": "no", "something_else": 1}], NO_VINE),
        ([{"done": "yes", "hours": 0.2, "something_else": 1}], NO_VINE),
        ([{"done": "yes", "something_else": 1}, {"done": "yes"}], DONE),
        ([{"done": "yes", "treatment": "pull"}], None),
        ([{"done": "no"}, {"done": "yes", "date": date(2027, 3, 1)}], NOT_DONE),
        ([{"done": "yes"}, {"done": "no", "corrects": "2026-1:0"}], NOT_DONE),
        ([{}], None),
    ],
)
def test_what_lines_say_of_a_host(lines, said):
    own = [line(k, **({"host": 5, "treatment": "cut"} | one)) for k, one in enumerate(lines)]
    own = [dataclasses.replace(one, date=None) if lines[k] == {} else one for k, one in enumerate(own)]
    found = hosts_of_log(experiment(), log_of(*own), 4 * YEARS)
    assert found == ({} if said is None else {5: said})
    assert hosts_of_log(experiment(), log_of(*own), 4 * YEARS, recorded={5}) == {}
