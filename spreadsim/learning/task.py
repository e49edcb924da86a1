"""What is to be learned from: everything checked, read and put together before a world is run."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from spreadsim import errors
from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import NO_ACTION, Experiment, Site, Strategy, Survey, read_survey
from spreadsim.inputs.checks import Check
from spreadsim.inputs.seasons import first_season
from spreadsim.inputs.survey_grounds import Grounds
from spreadsim.inputs.survey_places import grounds_of
from spreadsim.learning.findings import Findings, findings_of
from spreadsim.learning.logged import hosts_of_log, logged_sentences
from spreadsim.learning.looked import Looked, look
from spreadsim.learning.measure import Measure
from spreadsim.learning.overlooked import Overlooked, given_or_assumed, mapped_patches
from spreadsim.learning.seasons import Between, between
from spreadsim.learning.spent import idle_hours
from spreadsim.learning.zones import Zones
from spreadsim.log import Log, as_worked
from spreadsim.runs.simulate import replicate_numbers

LEAST_REPLICATES = 20


class Said(NamedTuple):
    """What a caller says besides experiment and survey; see `learn`."""

    strategy: str | None
    done: float
    since: object
    on: object
    everywhere: bool
    only_new: bool
    hours_per_hectare: float | None
    overlooked_patches: object
    overlooked_hosts: object
    model_error: float
    log: Log | None = None


class Task(NamedTuple):
    """What is to be learned from."""

    experiment: Experiment
    strategy: Strategy
    done: float
    between: Between
    numbers: list[int]
    looked: Looked
    findings: Findings
    measure: Measure
    only_new: bool
    remarks: tuple[str, ...]
    logged: Mapping[int, str]  # what the log says of hosts, see `hosts_of_log`


def task_of(
    experiment: Experiment, survey: Survey | str | Path, said: Said, replicates: int | Iterable[int], seed: int | None
) -> Task:
    """Check all that is given, and put it together.

    Raises
    ------
    InputError
        Everything that is wrong, as far as it can be told at once.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {show(experiment)}, allowed an Experiment, as read_experiment gives it")
    experiment = dataclasses.replace(experiment, start=None)  # what was learned before is learned again, from the map
    numbers = replicate_numbers(replicates)
    records = survey if isinstance(survey, Survey) else read_survey(survey)
    check = Check(records.path)
    for remark in records.remarks:
        check.remark("", remark)
    if len(numbers) < LEAST_REPLICATES:
        check.add("replicates", len(numbers), f"at least {LEAST_REPLICATES}")
    asked, done = experiment, check.number("done", said.done, 0.0, 2.0)
    if said.hours_per_hectare is not None:
        check.number("hours_per_hectare", said.hours_per_hectare, 0.0, 1000.0, above=True)
    if seed is not None:
        experiment = Experiment.from_dict(experiment.to_dict() | {"seed": seed}, experiment.site)
    error = check.number("model_error", said.model_error, 0.0, 2.0)
    strategy = experiment.strategies[0] if said.log is not None else strategy_done(experiment, said.strategy, check)
    site = experiment.site
    since = said.since
    if since is None and said.log is not None and site.survey is None:
        since = said.log.mapped
    time = between(site.survey, since, records, said.on, check)
    if said.log is not None:
        experiment, strategy = _logged(experiment, said, said.log, time, check)
    lacked = (
        given_or_assumed(said.overlooked_patches, "overlooked_patches", mapped_patches(site), check),
        given_or_assumed(said.overlooked_hosts, "overlooked_hosts", int((site.hosts.state > 0).sum()), check),
    )
    grounds = _placed(records, site, check)
    looked = look(
        records,
        site,
        grounds,
        time.on,
        check,
        everywhere=said.everywhere,
        hours_per_hectare=said.hours_per_hectare,
    )
    zones = Zones(site)
    findings = findings_of(site, zones, grounds, looked, said.only_new, check)
    check.done()
    overlooked = Overlooked(site, zones, looked.effort, *lacked, experiment.seed, time.seasons / 4)
    on_places = (findings.counted, findings.outlined, findings.hosts)
    measure = Measure(site, zones, looked.effort, overlooked, said.only_new, error, *on_places)
    idle = "" if said.log is None else idle_hours(experiment, strategy, time.seasons, numbers)
    if idle:
        check.remark("log", idle)
    logged = {} if said.log is None else hosts_of_log(asked, said.log, 4 * time.years, findings.hosts)
    for sentence in logged_sentences(logged):
        check.remark("log", sentence.removesuffix("."))
    remarks = tuple(": ".join(part for part in remark[1:] if part) for remark in check.problems.remarks)
    return Task(experiment, strategy, done, time, numbers, looked, findings, measure, said.only_new, remarks, logged)


def _placed(records: Survey, site: Site, check: Check) -> Grounds:
    """Give the places of all records; nothing more can be told where one can't be placed."""
    try:
        grounds = grounds_of(records, site, None)
    except InputError as error:
        check.problems.absorb(error)
        raise check.problems.error() from None
    placed = [record for record in records.records if record.xy or record.position or record.footprint]
    if placed and all(grounds.of_record(record) is None for record in placed):
        check.add("", errors.Said("no place that lies on the site"), "a survey of this site")
    return grounds


def _logged(experiment: Experiment, said: Said, log: Log, time: Between, check: Check) -> tuple[Experiment, Strategy]:
    """Give the experiment with the work of the log in place of its own, and the strategy that stands for it."""
    if said.strategy is not None or said.done != 1.0:
        found = f"strategy {show(said.strategy)}" if said.strategy is not None else f"done {said.done:g}"
        check.add("log", errors.Said(f"{found} beside a log"), "either a log, or a strategy and the share done")
    if log.mapped is not None and first_season(log.mapped) != first_season(time.since):
        allowed = f"a date of the map that begins with the same winter as the log's, {log.mapped}"
        check.add("since", errors.Said(str(time.since)), allowed)
        return experiment, experiment.strategies[0]
    try:
        worked, remarks = as_worked(experiment, log)
    except InputError as error:
        check.problems.absorb(error)
        return experiment, experiment.strategies[0]
    for remark in remarks:
        check.remark("log", remark)
    days = [(entry.date, entry.hours or 0.0) for entry in log.counting if entry.date is not None]
    late = sum(hours for day, hours in days if log.season_of(day) >= time.seasons)
    if late:
        check.remark("log", f"{late:,.3g} h of the season of the survey or later: the worlds end before that season")
    return worked, worked.strategies[-1]


def strategy_done(experiment: Experiment, name: str | None, check: Check) -> Strategy:
    """Give the strategy that stands for the work."""
    by_name = {strategy.name: strategy for strategy in experiment.strategies}
    working = [strategy for strategy in experiment.strategies if strategy.tasks]
    if name is None and len(working) <= 1:
        return working[0] if working else by_name[NO_ACTION]
    if name not in by_name:
        allowed = f"{one_of(by_name)}: the one that stands for the work that was done"
        check.add("strategy", errors.Said("nothing") if name is None else name, allowed)
        return experiment.strategies[0]
    return by_name[name]
