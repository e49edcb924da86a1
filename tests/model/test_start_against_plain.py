"""A run that begins from a learned state, against the plain simulator's."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from plain.start import run_from

import spreadsim
from spreadsim.inputs import Start, Strategy, Task

from .plain_cases import Case, cases, few, numbered_case
from .test_against_plain import WORK, differences

FLOWS = ("seeds_produced", "seeds_exported", "new_patches", *WORK)


def renamed(tasks: list[Task], choose: np.random.Generator) -> list[Task]:
    """Give half of the tasks one of two names, so that tasks of different kinds share some."""
    names = [None, "one", "two"]
    return [replace(task, name=names[choose.integers(3)]) if choose.random() < 0.5 else task for task in tasks]


def begun(case: Case, choose: np.random.Generator) -> tuple[Start, dict[str, Any]]:
    """A start of the case after some years of other tasks, as the engine takes it and as the plain simulator does."""
    years = int(choose.integers(1, case.years))
    tasks = renamed([case.strategy.tasks[k] for k in choose.permutation(len(case.strategy.tasks))], choose)
    done = Strategy("done", tasks=tasks[: choose.integers(0, len(tasks) + 1)])
    free = np.flatnonzero(case.site.plantable.ravel() > 0)
    cells = choose.choice(free, choose.integers(0, len(free) + 1), replace=False)
    hosts = choose.choice(len(case.site.hosts), choose.integers(0, len(case.site.hosts) + 1), replace=False)
    covers = choose.choice([0.0, 0.01, 0.3, 0.6, 0.95, 1.0], len(cells))
    states = choose.integers(0, 3, len(hosts))
    known = [choose.random(len(rows)) < 0.6 for rows in (cells, hosts)]
    start = Start(
        years, case.seed, np.array([case.replicate]), {}, done, case.crews, case.site.identity,
        cell_world=np.zeros(len(cells), int), cell=cells, cell_cover=covers, cell_known=known[0],
        host_world=np.zeros(len(hosts), int), host=hosts, host_state=states, host_known=known[1],
    )  # fmt: skip
    seen = {
        "cells": {int(c): (float(m), bool(k)) for c, m, k in zip(cells, covers, known[0], strict=True)},
        "hosts": {int(j): (int(s), bool(k)) for j, s, k in zip(hosts, states, known[1], strict=True)},
    }
    return start, seen


def assert_equal(case: Case, choose: np.random.Generator) -> None:
    """The engine gives what the plain simulator gives, from the start on."""
    strategy = case.strategy
    tasks = renamed(list(strategy.tasks), choose)
    case = replace(case, strategy=Strategy("then", tasks=tasks, reserve_follow_up=strategy.reserve_follow_up))
    start, seen = begun(case, choose)
    copy, seed = int(choose.integers(0, 3)), int(choose.choice([case.seed, 12345]))
    data = spreadsim.simulate(
        case.site,
        case.vine,
        case.strategy,
        crews=case.crews,
        years=case.years,
        replicates=[copy],
        seed=seed,
        fixed_parameters=case.fixed_parameters,
        maps="replicate",
        treatments=case.treatments,
        weather=case.weather,
        funds=case.funds,
        events=case.events,
        start=start,
    ).isel(replicate=0)
    expected = run_from(
        case.site,
        case.vine,
        case.treatments_by_name(),
        start.strategy,
        case.strategy,
        case.crews,
        case.weather,
        case.years,
        (case.seed, case.replicate),
        start.years,
        seed=seed,
        copy=copy,
        fixed_parameters=case.fixed_parameters,
        funds=case.funds,
        events=case.events,
        **seen,
    )
    expected = {name: np.array(values[start.years :]) for name, values in expected.items()}
    for name in FLOWS:
        expected[name] = expected[name].astype(float)
        expected[name][0] = np.nan
    expected["parameters"] = {name: data[name].item() for name in data.data_vars if "." in str(name)}
    found = differences(data, expected)
    assert not found, "\n".join(
        ["", *found, f"{start.years} years of {start.strategy}", f"copy {copy}, seed {seed}", repr(case)]
    )


@given(case=cases())
@few(8)
def test_the_engine_goes_on_as_the_plain_simulator(case: Case) -> None:
    assert_equal(case, np.random.default_rng(case.seed + case.replicate))


@pytest.mark.slow
@pytest.mark.parametrize("number", range(40))
def test_more_of_them(number: int) -> None:
    assert_equal(numbered_case(number), np.random.default_rng(number))
